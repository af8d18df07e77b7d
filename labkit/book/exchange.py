"""A book as lines of text, and the union of two books.

One entry is one line: its RFC 8785 text with the hash in it. A merge is the
union of two sets of entries, so it may be done in any order and again.
"""

import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from labkit.book.engine import is_book
from labkit.book.entry import LONGEST, Entry, entry_from_line, entry_from_text
from labkit.book.files import plainly, write_whole
from labkit.book.given import given_path
from labkit.book.record import read_record
from labkit.errors import LabError

if TYPE_CHECKING:
    from labkit.book.book import TrialBook

BATCH = 2_000
"""Entries that are taken in together: all of them or none."""
LONGEST_LINE = 4 * LONGEST
"""Bytes; a character takes at most four."""

_BLANK = b" \t\r\n\xef\xbb\xbf"  # around a line: what mail programs and editors put there
_AGAIN = "Write the book out again where it comes from."
_START = b'{"hash":"'  # keys are sorted, so every line starts so


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
    """What came of taking entries in: how many were new, how many here already, and who was refused.

    `photos` is how many photos were not here before.
    """

    new: int
    already: int
    refused: tuple[Refused, ...]
    photos: int = 0

    def __str__(self) -> str:
        photos = f", {self.photos} photo{'s' * (self.photos != 1)} kept" if self.photos else ""
        lines = [f"{self.new} new, {self.already} already here, {len(self.refused)} refused{photos}"]
        return "\n".join([*lines, *(f"{each.name}: {each.why}" for each in self.refused)])


def write_lines(book: "TrialBook", path: str | os.PathLike[str]) -> int:
    """Write every entry of a book, one a line, sorted by id; return how many.

    The file is there whole or not at all. Names of people are not in it.
    Raises `LabError` where it cannot be written, or is a trial book itself.
    """
    target = given_path(path, "the file to write")
    _refuse_book(target, "It is left as it is: choose another name.")
    entries = list(book.all_entries())
    write_whole(target, ((entry.line + "\n").encode("utf-8") for entry in entries))
    return len(entries)


def read_lines(path: str | os.PathLike[str]) -> Iterator[Entry | Refused]:
    """Yield the entries of a file of lines, each checked; in place of a bad one a `Refused` with its line.

    Empty lines, and ends of lines as other systems write them, are no fault.
    Raises `LabError` where the file cannot be read, or is no written-out book.
    """
    for _, each in _numbered(given_path(path, "the file to read")):
        yield each


def take_in_lines(book: "TrialBook", path: str | os.PathLike[str]) -> Report:
    """Take the entries of a file of lines into a book; what is refused is named by its line.

    See `take_in`. Raises `LabError` where the file cannot be read, or is no written-out book.
    """
    return take_in_named(book, _numbered(given_path(path, "the file to read")))


def take_in(book: "TrialBook", entries: Iterable[Entry | Refused]) -> Report:
    """Take entries into a book: a union, which never changes what is there.

    Refused by name: an entry that was altered, one whose id is here with other
    content, one of a newer schema than this labkit reads, and one that does not
    fit the form of its kind. An entry of an unknown kind is kept.
    """
    named = ((each.id, _whole(each)) if isinstance(each, Entry) else (each.name, each) for each in entries)
    return take_in_named(book, named)


def take_in_named(
    book: "TrialBook",
    named: Iterable[tuple[str, Entry | Refused]],
    photo: Callable[[str], bytes] | None = None,
    progress: Callable[[int], None] | None = None,
) -> Report:
    """Take entries that fit their hash in as `take_in` does, each with the name by which a refusal tells it.

    ``photo`` gives the content of the photo of a name that an entry knows; photos
    are kept before the entries that name them. ``progress`` is told after each
    batch how many entries were looked at; what it raises stops the taking in
    between two batches.
    """
    new = already = 0
    refused: list[Refused] = []
    photos: dict[str, bool] = {}
    for batch in _batches(named):
        good = [(name, each) for name, each in batch if isinstance(each, Entry)]
        refused += [each for _, each in batch if isinstance(each, Refused)]
        if photo:
            refused += _keep_photos(book, [each for _, each in good], photo, photos)
        added, clashes = book.keep([each for _, each in good])
        refused += _clashing(good, clashes)
        new += added
        already += len(good) - added - len(clashes)
        if progress:
            progress(new + already + len(refused))
    return Report(new, already, tuple(refused), sum(photos.values()))


def _keep_photos(
    book: "TrialBook", entries: list[Entry], photo: Callable[[str], bytes], seen: dict[str, bool]
) -> Iterator[Refused]:
    from labkit.book.photos import names_in

    for entry in entries:
        for name in sorted(names_in(entry.payload)):
            if name in seen:
                continue
            seen[name] = False
            try:
                seen[name] = book.keep_photo(name, lambda name=name: photo(name))  # type: ignore[misc]
            except LabError as error:
                yield Refused(f"the photo of the {entry.called}", str(error))


def _clashing(good: list[tuple[str, Entry]], clashes: list[str]) -> Iterator[Refused]:
    names = {each.id: (name, each.called) for name, each in good}
    for id in clashes:
        name, called = names[id]
        yield Refused(name, f"The {called} is here already with other content, which stays.")


def _batches(named: Iterable[tuple[str, Entry | Refused]]) -> Iterator[list[tuple[str, Entry | Refused]]]:
    batch: list[tuple[str, Entry | Refused]] = []
    for name, each in named:
        batch.append((name, _admitted(name, each) if isinstance(each, Entry) else each))
        if len(batch) == BATCH:
            yield batch
            batch = []
    yield batch


def _admitted(name: str, entry: Entry) -> Entry | Refused:
    try:
        read_record(entry)
    except LabError as error:
        return Refused(name, str(error))
    return entry


def _whole(entry: Entry) -> Entry | Refused:
    """Return an entry that fits its hash, or why it is refused."""
    try:
        return entry_from_text(entry.text, entry.hash)
    except LabError as error:
        return Refused(entry.id, str(error))


def _numbered(path: Path) -> Iterator[tuple[str, Entry | Refused]]:
    refuse_other_files(path)
    with plainly(path, "read"), path.open("rb") as file:
        yield from numbered(bounded(file))


def numbered(lines: Iterable[bytes]) -> Iterator[tuple[str, Entry | Refused]]:
    """Yield the number of each line and its entry, or why it is refused; empty lines are passed over."""
    for number, line in enumerate(lines, start=1):
        if not line.strip(_BLANK):
            continue
        name = f"line {number}"
        try:
            yield name, _entry_of(line)
        except LabError as error:
            yield name, Refused(name, str(error))


def refuse_other_files(path: Path) -> None:
    """Raise `LabError` where no line of a file is one of a written-out book, whole or damaged."""
    _refuse_book(path, "Write it out first with “labkit write-out”, and take in the file that this makes.")
    with plainly(path, "read"), path.open("rb") as file:
        if not any(line.lstrip(_BLANK).startswith(_START) for line in bounded(file)):
            wrong = "is no trial book that was written out" if path.stat().st_size else "is empty"
            raise LabError(f"“{path}” {wrong}: nothing was in it. Name a file that “labkit write-out” made.")


def _refuse_book(path: Path, cure: str) -> None:
    with plainly(path, "read"):
        if path.is_file() and is_book(path):
            raise LabError(f"“{path}” is itself the file of a trial book. {cure}")


def bounded(file: BinaryIO) -> Iterator[bytes]:
    """Yield the lines of a file; one that is too long for an entry comes in pieces."""
    while line := file.readline(LONGEST_LINE):
        yield line


def _entry_of(line: bytes) -> Entry:
    try:
        return entry_from_line(line.strip(_BLANK).decode("utf-8"))
    except UnicodeDecodeError as error:
        raise LabError(f"It holds letters that labkit did not write. {_AGAIN}") from error
    except LabError as error:
        whole = line.endswith(b"\n") or line.rstrip().endswith(b"}")
        said = str(error) if whole else "It is cut short: the file was not copied whole."
        raise LabError(f"{said} {_AGAIN}") from error
