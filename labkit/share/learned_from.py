"""From which other trials of the book a trial learns: without them its numbers would not come out again."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from labkit.errors import LabError

if TYPE_CHECKING:
    from labkit.book import Entry, TrialBook

TEXTURE, SHADE, BATCH = "texture.question", "shade.question", "batch.question"
RECIPE = "recipe.recipe"


def learned_from(book: "TrialBook", entries: "Iterable[Entry]") -> set[str]:
    """Return the first versions of what some entries' trials learn from beyond themselves.

    A texture trial counts earlier trials of the same parts, a shade trial every swatch of its maker, a
    day at the stove its maker's other batches; a recipe tells of those that it was changed from.
    """
    kinds = (TEXTURE, SHADE, BATCH, RECIPE)
    questions = {kind: {each.id for each in entries if each.kind == kind} for kind in kinds}
    found = _earlier_trials(book, questions[TEXTURE]) | _changed_from(book, questions[RECIPE])
    found |= _same_maker(book, questions[SHADE], SHADE, "shade.swatch")
    return found | _same_maker(book, questions[BATCH], BATCH, BATCH)


def _earlier_trials(book: "TrialBook", chosen: set[str]) -> set[str]:
    from labkit.texture.old_trials import old_trials
    from labkit.texture.standing import Standing

    found: set[str] = set()
    for row in book.rows(TEXTURE) if chosen else ():
        if row.entry in chosen:
            try:
                found |= {old.entry for old in old_trials(Standing(book, row.entry)) if old.counts}
            except LabError:  # a trial that cannot be read learns nothing
                continue
    return found


def _changed_from(book: "TrialBook", chosen: set[str]) -> set[str]:
    from labkit.recipe.written import WrittenRecipe

    found: set[str] = set()
    for row in book.rows(RECIPE) if chosen else ():
        if row.entry in chosen:
            found |= {each.entry for each in WrittenRecipe(book, row.entry).descent()}
    return found - chosen


def _same_maker(book: "TrialBook", chosen: set[str], question: str, kind: str) -> set[str]:
    if not chosen:
        return set()
    makers = {row.first.maker for row in book.rows(question) if row.entry in chosen}
    return {row.entry for row in book.rows(kind) if row.first.maker in makers}
