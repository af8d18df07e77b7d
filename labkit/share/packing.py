"""Writing a bundle: one file of chosen trials that a stranger can read, check and run again."""

import hashlib
import os
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from labkit.book.bundle_names import (
    CRATE,
    ENTRIES,
    PACKAGE,
    READ_ME,
    SUMS,
    VERSIONS,
    in_notebooks,
    in_photos,
    in_table,
)
from labkit.book.canonical import canonical
from labkit.book.entry import Entry, now_text
from labkit.book.files import new_whole, plainly
from labkit.book.given import given_path
from labkit.errors import LabError
from labkit.share.cards import cards_of
from labkit.share.chosen import Chosen, choose
from labkit.share.crate import FORMAT, crate, package, read_me
from labkit.share.notebook import code_cells, handed_on, read_notebook
from labkit.share.personal import Personal
from labkit.share.software import versions_here
from labkit.share.tables import tables_of

if TYPE_CHECKING:
    from labkit.book import TrialBook

Progress = Callable[[int, int], None]
Pieces = Callable[[], Iterable[bytes]]

_PIECE = 1 << 20
_PLAIN_FILE = 0o100644 << 16
SHOWN = 12


@dataclass(frozen=True)
class Bundled:
    """What is in a bundle.

    Attributes
    ----------
    path : Path or None
        Where it was written; None where it was only looked at.
    sha256 : str
        Of the whole file, to be told to whoever gets it by another way than the file; empty where it
        was only looked at.
    size : int
        Bytes: of the file, or an upper bound of it where it was only looked at.
    trials, also : tuple of str
        The chosen trials, and those of which something came along because the chosen ones rest on it.
    kinds : dict
        How many entries of each kind; corrections and withdrawals count too.
    photos, notebooks : tuple of str
    personal : tuple of str
        What is personal in it, a sentence each. Look at these before you hand it on.
    left_out : tuple of str
        What was left out, a sentence each.
    remarks : tuple of str
        What else to know.
    """

    path: Path | None
    sha256: str
    size: int
    trials: tuple[str, ...]
    also: tuple[str, ...]
    kinds: dict[str, int]
    photos: tuple[str, ...] = field(repr=False)
    notebooks: tuple[str, ...]
    personal: tuple[str, ...]
    left_out: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def entries(self) -> int:
        """How many entries are in it."""
        return sum(self.kinds.values())

    def __str__(self) -> str:
        size = f"{'' if self.path else 'at most '}{_megabytes(self.size)}"
        lines = [
            f"Trials: {'; '.join(self.trials)}",
            *([f"They rest on parts of: {'; '.join(self.also)}"] if self.also else []),
            f"{_count(self.entries, 'entry')}, {_count(len(self.photos), 'photo')}, "
            f"{_count(len(self.notebooks), 'notebook')}, {size}",
            *self.left_out,
            *_some(self.personal),
            *self.remarks,
        ]
        if self.path:
            lines += [f"Written to {self.path}", f"SHA-256 {self.sha256}"]
        return "\n".join(lines)


@dataclass(frozen=True)
class _Part:
    """One file of a bundle: its content in pieces, and whether it is packed."""

    pieces: Pieces
    size: int
    packed: bool = True


def bundle(
    book: "TrialBook",
    trials: Any,
    notebooks: Iterable[str | os.PathLike[str]] = (),
    to: str | os.PathLike[str] | None = "trials.zip",
    keep_personal: bool = False,
    *,
    alone: bool = False,
    progress: Progress | None = None,
) -> Bundled:
    """Write chosen trials into one file, and return what is in it.

    In it are the entries that the trials rest on (corrections, withdrawals, what they refer to and learn
    from), the same as tables, their photos, notebooks with their results, the versions of what computed
    them, and a SHA-256 of each. The file is there whole or not at all, and none is written over.

    Parameters
    ----------
    book : TrialBook
    trials : str or sequence of str
        By name, or by the id of their question.
    notebooks : iterable of paths
        Saved with their results.
    to : path or None
        The file to make; None writes nothing and returns what would be in it (see `contents`).
    keep_personal : bool
        Keep people's names, and the names of folders in the notebooks.
    alone : bool
        Leave out the other trials that the chosen ones learn from: their numbers may not come out again.
    progress : callable, optional
        Called with how many files are written and of how many; what it raises stops the writing
        without harm.

    Raises
    ------
    LabError
        Where there is no such trial, a notebook is none, a photo was altered, a file of that name is
        there, or the disk is full.
    """
    return _bundle(book, choose(book, trials, alone), notebooks, to, keep_personal, progress)


def contents(
    book: "TrialBook",
    trials: Any,
    notebooks: Iterable[str | os.PathLike[str]] = (),
    keep_personal: bool = False,
    *,
    alone: bool = False,
) -> Bundled:
    """Return what a bundle would hold, what is personal in it, and how large it can get; write nothing.

    See `bundle`.
    """
    return bundle(book, trials, notebooks, None, keep_personal, alone=alone)


def _bundle(
    book: "TrialBook",
    chosen: Chosen,
    notebooks: Iterable[str | os.PathLike[str]],
    to: str | os.PathLike[str] | None,
    keep_personal: bool,
    progress: Progress | None,
) -> Bundled:
    target = None if to is None else _target(to)
    people = book.people()
    folders = [path.parent.absolute() for path in (book.path,) if path]
    personal = Personal(people, folders)
    photos, missing = _photos(book, chosen.entries)
    texts, stripped, remarks = _notebooks(notebooks, None if keep_personal else personal)
    lines = [(each.line + "\n").encode("utf-8") for each in chosen.entries]
    parts = {
        ENTRIES: _Part(lambda: lines, sum(map(len, lines))),
        **{in_notebooks(name): _of(text) for name, text in texts.items()},
        **{in_photos(name): _of_file(path) for name, path in photos.items()},
    }
    told = Bundled(
        None,
        "",
        0,
        chosen.trials,
        chosen.also,
        dict(sorted(Counter(each.kind for each in chosen.entries).items())),
        tuple(photos),
        tuple(texts),
        tuple(personal.in_entries(chosen.entries)),
        tuple(_left_out(people, stripped, keep_personal)),
        (*remarks, *_not_here(missing)),
    )
    makers = _makers(chosen.entries, people if keep_personal else {})
    return _written(parts, told, chosen, makers, book.maker, keep_personal, target, progress)


def _written(
    parts: dict[str, _Part],
    told: Bundled,
    chosen: Chosen,
    makers: dict[str, str],
    maker: str,
    keep_personal: bool,
    target: Path | None,
    progress: Progress | None,
) -> Bundled:
    made, tables = now_text(), tables_of(chosen.entries)
    parts |= {place: _of(content) for place, content in cards_of(chosen.entries).items()}
    parts |= {in_table(each.kind): _of(each.content) for each in tables}
    versions = versions_here()
    listed = {
        "format": FORMAT,
        "made": made,
        "maker": maker,
        "trials": list(chosen.trials),
        "also": list(chosen.also),
        "entries": len(chosen.entries),
        "versions": versions,
    }
    parts[VERSIONS] = _of(_json(listed))
    parts[READ_ME] = _of(read_me(chosen.trials, made, keep_personal).encode("utf-8"))

    def last(sums: dict[str, str], sizes: dict[str, int]) -> Iterator[tuple[str, _Part]]:
        yield PACKAGE, _of(_json(package(tables, sums, sizes, made)))
        sizes = {**sizes, CRATE: 0}
        described = {name: size for name, size in sizes.items() if name != CRATE}
        yield CRATE, _of(_json(crate(described, made, chosen.trials, makers, versions)))
        yield SUMS, _of("".join(f"{sums[name]}  {name}\n" for name in sorted(sums)).encode("utf-8"))

    if target is None:
        text = sum(part.size for part in parts.values())
        return replace(told, size=text + 2_000 * (len(parts) + 4))
    with new_whole(target) as file:
        _write(file, parts, last, progress)
    with plainly(target, "read"), target.open("rb") as file:
        whole = hashlib.file_digest(file, "sha256").hexdigest()
    return replace(told, path=target, sha256=whole, size=target.stat().st_size)


def _write(file: BinaryIO, parts: dict[str, _Part], last: Any, progress: Progress | None) -> None:
    sums: dict[str, str] = {}
    sizes: dict[str, int] = {}
    total = len(parts) + 3
    with ZipFile(file, "w") as zip:
        for name, part in chain(sorted(parts.items()), last(sums, sizes)):
            sums[name], sizes[name] = _add(zip, name, part)
            if progress:
                progress(len(sums), total)


def _add(zip: ZipFile, name: str, part: _Part) -> tuple[str, int]:
    info = ZipInfo(name)
    info.compress_type = ZIP_DEFLATED if part.packed else ZIP_STORED
    info.external_attr = _PLAIN_FILE
    found, size = hashlib.sha256(), 0
    with zip.open(info, "w", force_zip64=part.size > 1_000_000_000) as out:
        for piece in part.pieces():
            found.update(piece)
            size += len(piece)
            out.write(piece)
    if not part.packed and found.hexdigest() != Path(name).stem:
        raise LabError("A photo of these trials was altered. Find out which one: labkit check")
    return found.hexdigest(), size


def _of(content: bytes) -> _Part:
    return _Part(lambda: (content,), len(content))


def _of_file(path: Path) -> _Part:
    def pieces() -> Iterator[bytes]:
        with plainly(path, "read"), path.open("rb") as file:
            while piece := file.read(_PIECE):
                yield piece

    return _Part(pieces, path.stat().st_size, packed=False)


def _json(value: dict[str, Any]) -> bytes:
    return canonical(value).encode("utf-8") + b"\n"


def _target(to: str | os.PathLike[str]) -> Path:
    target = given_path(to, "the file to make").expanduser().absolute()
    if target.is_dir():
        raise LabError(f"“{target}” is a folder. Name the file to make in it, such as “trials.zip”.")
    if not target.parent.is_dir():
        raise LabError(f"There is no folder “{target.parent}”. Make it first, or check its name.")
    return target


def _photos(book: "TrialBook", entries: Iterable[Entry]) -> tuple[dict[str, Path], int]:
    """Return where the photos lie that entries name, and how many of them are not there."""
    from labkit.book.photos import names_in

    found: dict[str, Path] = {}
    missing = 0
    for name in sorted(set().union(*(names_in(each.payload) for each in entries))):
        try:
            found[name] = book.photo_path(name)
        except LabError:
            missing += 1
    return found, missing


def _notebooks(
    notebooks: Iterable[str | os.PathLike[str]], personal: Personal | None
) -> tuple[dict[str, bytes], list[str], list[str]]:
    texts: dict[str, bytes] = {}
    stripped: list[str] = []
    remarks: list[str] = []
    for given in [notebooks] if isinstance(notebooks, str | os.PathLike) else notebooks:
        path = given_path(given, "the notebook")
        read = read_notebook(path)
        if in_notebooks(path.stem) in map(in_notebooks, texts):
            raise LabError(f"Two notebooks are called “{path.stem}”. Give one another name.")
        texts[path.stem], left_out = handed_on(read, personal)
        stripped += [path.stem] if left_out else []
        cells = [cell for _, cell in code_cells(read)]
        if not any(cell.get("outputs") for cell in cells):
            remarks.append(
                f"The notebook “{path.stem}” has no results in it: run all of it and save it first."
            )
    if texts:
        remarks.append("Pictures in notebooks are kept as they are: look whether a name stands on one.")
    return texts, stripped, remarks


def _not_here(missing: int) -> list[str]:
    verb = "is" if missing == 1 else "are"
    said = f"{_count(missing, 'photo')} that entries name {verb} not beside this book, so not in it."
    return [said] if missing else []


def _left_out(people: dict[str, str], stripped: Sequence[str], keep_personal: bool) -> Iterator[str]:
    if keep_personal:
        yield "Names of people are in it, as you asked."
        return
    if people:
        yield "Left out: the names of people. Entries know makers by a random id alone."
    if stripped:
        yield f"Left out: names and folders in the notebooks {', '.join(stripped)}."


def _makers(entries: Iterable[Entry], people: dict[str, str]) -> dict[str, str]:
    return {maker: people.get(maker, "") for maker in sorted({each.maker for each in entries})}


def _some(lines: Sequence[str]) -> list[str]:
    more = len(lines) - SHOWN
    told = [f"Personal, and held fast by the hash: {each}" for each in lines[:SHOWN]]
    return told + ([f"Personal: {more} more entries."] if more > 0 else [])


def _count(number: int, thing: str) -> str:
    """Return a number of things in words.

    >>> _count(1, "entry"), _count(2, "entry"), _count(0, "photo")
    ('1 entry', '2 entries', '0 photos')
    """
    several = f"{thing[:-1]}ies" if thing.endswith("y") else f"{thing}s"
    return f"{number} {thing if number == 1 else several}"


def _megabytes(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 100_000 else f"{max(1, round(size / 1000))} kB"
