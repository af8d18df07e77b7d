"""A book as lines of text, and the union of two books.

One entry is one line: its RFC 8785 text with the hash in it. A merge is the
union of two sets of entries, so it may be done in any order and again.
"""

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from labkit.book.entry import LONGEST, Entry, entry_from_line, entry_from_text
from labkit.book.files import plainly, write_whole
from labkit.book.record import read_record
from labkit.errors import LabError

if TYPE_CHECKING:
    from labkit.book.book import TrialBook

BATCH = 2_000
"""Entries that are taken in together: all of them or none."""
LONGEST_LINE = 4 * LONGEST
"""Bytes; a character takes at most four."""


@dataclass(frozen=True)
class Refused:
    """One entry that was not taken in.

    Attributes
    ----------
    name : where it stood (“line 3”), or its id
    why : what is wrong with it, in the maker's words
    """

    name: str
    why: str


@dataclass(frozen=True)
class Report:
    """What came of taking entries in: how many were new, how many here already, and who was refused."""

    new: int
    already: int
    refused: tuple[Refused, ...]

    def __str__(self) -> str:
        lines = [f"{self.new} new, {self.already} already here, {len(self.refused)} refused"]
        return "\n".join([*lines, *(f"{each.name}: {each.why}" for each in self.refused)])


def write_lines(book: "TrialBook", path: str | os.PathLike[str]) -> int:
    """Write every entry of a book, one a line, sorted by id; return how many.

    The file is there whole or not at all. Names of people are not in it.
    """
    entries = list(book.all_entries())
    write_whole(Path(path), ((entry.line + "\n").encode("utf-8") for entry in entries))
    return len(entries)


def read_lines(path: str | os.PathLike[str]) -> Iterator[Entry | Refused]:
    """Yield the entries of a file of lines, each checked; in place of a bad one a `Refused` with its line.

    Raises `LabError` where the file cannot be opened.
    """
    with plainly(Path(path)), Path(path).open("rb") as file:
        for number, line in enumerate(_bounded(file), start=1):
            try:
                yield _entry_of(line)
            except LabError as error:
                yield Refused(f"line {number}", str(error))


def take_in_lines(book: "TrialBook", path: str | os.PathLike[str]) -> Report:
    """Take the entries of a file of lines into a book; see `take_in`."""
    return take_in(book, read_lines(path))


def take_in(book: "TrialBook", entries: Iterable[Entry | Refused]) -> Report:
    """Take entries into a book: a union, which never changes what is there.

    Refused by name: an entry that was altered, one whose id is here with other
    content, one of a newer schema than this labkit reads, and one that does not
    fit the form of its kind. An entry of an unknown kind is kept.
    """
    new = already = 0
    refused: list[Refused] = []
    for batch in _batches(entries):
        good = [each for each in batch if isinstance(each, Entry)]
        refused += [each for each in batch if isinstance(each, Refused)]
        added, clashes = book.keep(good)
        refused += [Refused(id, "an entry with this id but other content is here already") for id in clashes]
        new += added
        already += len(good) - added - len(clashes)
    return Report(new, already, tuple(refused))


def _batches(entries: Iterable[Entry | Refused]) -> Iterator[list[Entry | Refused]]:
    batch: list[Entry | Refused] = []
    for each in entries:
        batch.append(_admitted(each) if isinstance(each, Entry) else each)
        if len(batch) == BATCH:
            yield batch
            batch = []
    yield batch


def _admitted(entry: Entry) -> Entry | Refused:
    try:
        checked = entry_from_text(entry.text, entry.hash)
        read_record(checked)
    except LabError as error:
        return Refused(entry.id, str(error))
    return checked


def _bounded(file: BinaryIO) -> Iterator[bytes]:
    while line := file.readline(LONGEST_LINE):
        yield line


def _entry_of(line: bytes) -> Entry:
    try:
        return entry_from_line(line.decode("utf-8").removesuffix("\n"))
    except UnicodeDecodeError as error:
        raise LabError("This line is not written in UTF-8.") from error
