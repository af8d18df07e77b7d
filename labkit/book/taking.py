"""Taking in whatever holds entries: another book, a bundle, a written-out book."""

import os
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from labkit.book.engine import is_book
from labkit.book.entry import Entry, entry_from_text
from labkit.book.exchange import Refused, Report, take_in_lines, take_in_named
from labkit.book.files import plainly
from labkit.book.given import given_path
from labkit.errors import LabError

if TYPE_CHECKING:
    from labkit.book.book import TrialBook


def take_in_other(
    book: "TrialBook",
    other: "TrialBook | str | os.PathLike[str]",
    progress: Callable[[int], None] | None = None,
) -> Report:
    """Take the entries and photos of another book, a bundle or a file of lines into a book.

    See `TrialBook.take_in`.
    """
    from labkit.book.book import TrialBook
    from labkit.book.bundle_file import BundleFile, is_zip

    if isinstance(other, TrialBook):
        return _from_book(book, other, progress)
    path = given_path(other, "the book or bundle to take in")
    if "://" in str(other):
        with TrialBook(str(other)) as opened:
            return _from_book(book, opened, progress)
    with plainly(path, "read"):
        path.stat()
        if path.is_dir():
            raise LabError(f"“{path}” is a folder. Name the bundle or book in it.")
        own = is_book(path)
    if own:
        with TrialBook(path) as opened:
            return _from_book(book, opened, progress)
    if not is_zip(path):
        return take_in_lines(book, path)
    with BundleFile(path) as bundle:
        return take_in_named(book, bundle.entries(), bundle.photo, progress)


def _from_book(book: "TrialBook", other: "TrialBook", progress: Callable[[int], None] | None) -> Report:
    def photo(name: str) -> bytes:
        path = other.photo_path(name)
        with plainly(path, "read"):
            return path.read_bytes()

    return take_in_named(book, _whole_rows(other), photo, progress)


def _whole_rows(other: "TrialBook") -> Iterator[tuple[str, Entry | Refused]]:
    """Yield what another book holds, row by row: one that was altered is refused, and hides no other."""
    for row in other._store.rows():
        name, texts = str(row["id"])[:80], (row["text"], row["hash"])
        try:
            if not all(isinstance(each, str) for each in texts):
                raise LabError("This is nothing that labkit wrote.")
            yield name, entry_from_text(*texts)
        except LabError as error:
            yield name, Refused(name, str(error))
