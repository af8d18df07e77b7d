"""The invented trials that labkit ships, in a book of their own: they never feed a maker's own fit."""

import atexit
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from labkit.book.book import TrialBook


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
