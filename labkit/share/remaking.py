"""Logging a remake of a shared recipe."""

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from labkit.book.entry import is_id
from labkit.errors import LabError
from labkit.share.record import LADDER, Lab, Remake
from labkit.times import now, refuse_future

if TYPE_CHECKING:
    from labkit.book import Entry, TrialBook


def log_remake(
    book: "TrialBook",
    recipe: Any,
    words: Sequence[str] = (),
    labs: Sequence[Lab] = (),
    *,
    poured_at: datetime | None = None,
    id: str | None = None,
    **more: Any,
) -> "Entry":
    """Write a remake of a recipe that is in the book, and return its entry.

    It keeps which version of the recipe was followed, by its hash, and stands in the recipe's trial: so a
    bundle of that trial takes it along.

    Parameters
    ----------
    book : TrialBook
    recipe : Entry or str
        What was remade, or its id.
    words : sequence of str
        Hardness, a word of the recipe's ladder for each piece that was felt.
    labs : sequence of (L*, a*, b*)
        For each piece that was read.
    poured_at : datetime, optional
        With its zone; now where it is left out.
    id : str, optional
        Of the press that sends it.
    **more
        Further fields of `labkit.share.record.Remake`: changed, pour_c, hottest_c, hot_min, …

    Raises
    ------
    LabError
        Where the recipe is not in the book, or a field does not fit.
    """
    current = recipe_row(book, recipe)
    if current is None:
        raise LabError(
            "This recipe is not in your book. Take in the bundle that it came in, then log the remake."
        )
    fields = {
        "recipe": current.entry,
        "recipe_hash": current.head.hash,
        "poured_at": poured_at or now(),
        "ladder": ladder_of(book, current),
        "words": tuple(words),
        "labs": tuple(labs),
        **more,
    }
    made = Remake.of(fields)
    refuse_future(made.poured_at)
    return book.append(Remake.kind, made, trial=current.head.trial, id=id)


def recipe_row(book: "TrialBook", recipe: Any) -> Any:
    """Return the current version of a recipe with its first one; None where it is not in the book."""
    named = recipe_id(recipe)
    if not book.has(named):
        return None
    entry = book.get(named)
    first = book.history(entry)[0]
    rows = [row for row in book.rows(first.kind) if row.entry == first.id]
    return rows[-1] if rows else None


def recipe_id(recipe: Any) -> str:
    """Return the id of what names a recipe: an entry, something that was opened from one, or its id."""
    named = getattr(recipe, "entry", None) or getattr(recipe, "id", recipe)
    if not is_id(named):
        raise LabError(f"Name the recipe that was remade: its entry, or its id; found “{str(named)[:80]}”.")
    return str(named)


def ladder_of(book: "TrialBook", recipe: Any) -> tuple[str, ...]:
    """Return the hardness words of the trial that a recipe belongs to."""
    asked = recipe.head.payload.get("question")
    question = recipe_row(book, asked) if is_id(asked) else None
    payload = (question or recipe).head.payload
    return tuple(payload.get("ladder") or payload.get("words") or LADDER)
