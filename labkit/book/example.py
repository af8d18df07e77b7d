"""The invented trials that labkit ships, in a book of their own: they never feed a maker's own fit."""

import atexit
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from labkit.book.book import TrialBook
    from labkit.book.standing import Standing

AnyTrial = TypeVar("AnyTrial", bound="Standing")


@cache
def example_book() -> "TrialBook":
    """Return a book with the shipped demo trials; it is gone when Python ends."""
    from labkit.assets import assets
    from labkit.book import TrialBook, take_in_lines

    home = TemporaryDirectory(prefix="labkit-example-", ignore_cleanup_errors=True)
    book = TrialBook(Path(home.name) / "example.db")
    atexit.register(home.cleanup)
    atexit.register(book.close)
    for lines in assets().demo:
        take_in_lines(book, lines)
    return book


def open_or_example(room: type[AnyTrial], name: str | None, word: str) -> AnyTrial:
    """Return a trial of this lab's book, by default the newest, or the invented one where it has none.

    ``word`` is what the room calls a trial; that it is the example is said. Raises `LabError` where there is
    no trial of this name.
    """
    from labkit.book.here import book_here

    book = book_here()
    if name is None and not room.known(book):
        print(f"Your book has no {word} yet. What follows is the invented example.")
        return room(example_book())
    return room(book, name)
