"""The recipe cards of a bundle: one page for each recipe, in Markdown, to be read without any program."""

from collections.abc import Iterable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from labkit.book.bundle_names import in_cards
from labkit.book.entry import Entry
from labkit.errors import LabError
from labkit.share.tables import current_rows

if TYPE_CHECKING:
    from labkit.book import TrialBook

KIND = "recipe.recipe"


def cards_of(entries: Sequence[Entry]) -> dict[str, bytes]:
    """Return the card of each recipe among some entries, by its place in a bundle.

    A card says no more than these entries do, so that it comes out again wherever they are read.
    """
    rows = current_rows(entries).get(KIND, [])
    if not rows:
        return {}
    from labkit.book import TrialBook

    folder = TemporaryDirectory(prefix="labkit-cards-", ignore_cleanup_errors=True)
    with folder as home, TrialBook(Path(home) / "cards.db") as book:
        book.keep(_resting(entries))
        made = [(row.head.trial, _card(book, row.entry)) for row in rows]
    found: dict[str, bytes] = {}
    for name, text in made:
        place, number = in_cards(name), 1
        while place in found:
            number += 1
            place = in_cards(f"{name[:90]} {number}")
        if text:
            found[place] = text.encode("utf-8")
    return found


def _resting(entries: Iterable[Entry]) -> list[Entry]:
    """Return the entries that recipes rest on: their own versions, and what withdrew some."""
    return [each for each in entries if each.kind in (KIND, "book.withdrawal")]


def _card(book: "TrialBook", entry: str) -> str:
    from labkit.recipe.card import card_of, markdown
    from labkit.recipe.written import WrittenRecipe

    try:
        return markdown(card_of(WrittenRecipe(book, entry)))
    except LabError:  # a recipe that has no card: its entry is in the bundle all the same
        return ""
