"""A bundle, read without trust: nothing of it is run, nothing is unpacked beside what is asked for."""

import hashlib
import io
import re
import stat
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self
from unicodedata import normalize
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from labkit.book.bundle_names import ENTRIES, NEEDED, SUMS, in_photos, sort_of
from labkit.book.entry import Entry
from labkit.book.exchange import Refused, bounded, numbered
from labkit.book.files import plainly
from labkit.errors import LabError

MOST_FILES = 100_000
LARGEST_LIST = 32_000_000
"""Bytes of the list of files at the end of a bundle."""
LARGEST_TEXT = 4_000_000_000
"""Bytes of all that is packed, once it is unpacked; photos are not packed."""
LARGEST_PHOTO = 200_000_000
LARGEST_DOCUMENT = 200_000_000
SQUEEZED, FROM = 150, 20_000_000
"""No text of a lab of this size shrinks to less than one part in so many."""

_PIECE = 1 << 20
_END, _END_64, _FIRST = b"PK\x05\x06", b"PK\x06\x07", b"PK\x03\x04"
_SUM = re.compile(r"([0-9a-f]{64})  ([^\x00-\x1f]+)", re.ASCII)


class BundleFile:
    """The files of a bundle.

    Raises `LabError` where the file is no bundle, or holds what has no place in
    one: another name, a link, the same name twice, something that unpacks to no end.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        with plainly(path, "read"):
            self._file: BinaryIO = path.open("rb")
        try:
            with self._whole(), plainly(path, "read"):
                _refuse_odd_ends(self._file)
                self._zip = ZipFile(self._file)
                self._infos = _checked(self._zip.infolist(), self._zip.start_dir)
            if missing := [name for name in NEEDED if name not in self._infos]:
                raise _UnfitError(f"“{missing[0]}” is missing in it")
        except _UnfitError as error:
            self._file.close()
            raise LabError(f"“{path.name}” is no whole bundle: {error}. Nothing of it was used.") from error
        except LabError:
            self._file.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._zip.close()
        self._file.close()

    def names(self, sort: str = "") -> list[str]:
        """Return the names of its files, sorted; of one sort (see `sort_of`) or of all."""
        return sorted(name for name in self._infos if not sort or sort_of(name) == sort)

    def size(self, name: str) -> int:
        """Return how many bytes a file has once it is unpacked."""
        return self._infos[name].file_size

    def read(self, name: str, most: int = LARGEST_DOCUMENT) -> bytes:
        """Return the content of a file; raise `LabError` where it is too large or damaged."""
        if name not in self._infos:
            raise LabError(f"“{name[:80]}” is not in “{self.path.name}”.")
        if self.size(name) > most:
            raise LabError(f"“{name[:80]}” has {self.size(name)} bytes; at most {most} can be.")
        with self._opened(name) as file:
            return file.read()

    def digest(self, name: str) -> str:
        """Return the SHA-256 of a file."""
        found = hashlib.sha256()
        with self._opened(name) as file:
            while piece := file.read(_PIECE):
                found.update(piece)
        return found.hexdigest()

    def lines(self, name: str) -> Iterator[bytes]:
        """Yield the lines of a file; of one without an end, its first few million bytes at a time."""
        with self._opened(name) as file:
            yield from bounded(io.BufferedReader(file, _PIECE))  # type: ignore[type-var]

    def entries(self) -> Iterator[tuple[str, Entry | Refused]]:
        """Yield where each entry stands (“line 3”), and the entry, or why it is refused."""
        yield from numbered(self.lines(ENTRIES))

    def photo(self, name: str) -> bytes:
        """Return the content of a photo by the name that entries know."""
        if in_photos(name) not in self._infos:
            raise LabError("This photo is not in the bundle.")
        return self.read(in_photos(name), LARGEST_PHOTO)

    def sums(self) -> dict[str, str]:
        """Return the SHA-256 that the bundle gives for each of its files, by name."""
        found: dict[str, str] = {}
        for number, line in enumerate(self.read(SUMS).decode("utf-8", "replace").splitlines(), start=1):
            match = _SUM.fullmatch(line)
            if not match or match[2] in found:
                raise LabError(f"Line {number} of “{SUMS}” is no checksum of a further file.")
            found[match[2]] = match[1]
        return found

    @contextmanager
    def _opened(self, name: str) -> Iterator[BinaryIO]:
        try:
            with self._whole(), plainly(self.path, "read"), self._zip.open(self._infos[name]) as file:
                yield file  # type: ignore[misc]
        except _UnfitError as error:
            raise LabError(f"“{name[:80]}” in “{self.path.name}” is damaged: {error}.") from error

    @contextmanager
    def _whole(self) -> Iterator[None]:
        try:
            yield
        except (BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, UnicodeError) as error:
            raise _UnfitError(_plain(str(error)) or "it ends too early") from error


class _UnfitError(Exception):
    """What is wrong with the file, for a message."""


def is_zip(path: Path) -> bool:
    """Return whether a file begins as a bundle does."""
    with plainly(path, "read"), path.open("rb") as file:
        return file.read(4) in (_FIRST, _END)


def _refuse_odd_ends(file: BinaryIO) -> None:
    """Refuse what lies before or behind the zip, and a list of files that no lab has."""
    head = file.read(4)
    end = file.seek(0, io.SEEK_END)
    if head != _FIRST or end < 98:
        raise _UnfitError("it is no zip file, or is cut short at its head")
    file.seek(end - 98)
    tail = file.read(98)
    if tail[76:80] != _END or tail[96:98] != b"\0\0":
        raise _UnfitError("it is cut short, or something was put behind it")
    large = tail[56:60] == _END_64
    list_size = int.from_bytes(tail[40:48], "little") if large else int.from_bytes(tail[88:92], "little")
    if list_size > LARGEST_LIST:
        raise _UnfitError("it names more files than a lab has")
    file.seek(0)


def _checked(infos: list[ZipInfo], end: int) -> dict[str, ZipInfo]:
    if len(infos) > MOST_FILES:
        raise _UnfitError(f"it holds {len(infos)} files; at most {MOST_FILES} can be")
    found: dict[str, ZipInfo] = {}
    folded: set[str] = set()
    for info in infos:
        _refuse_odd(info)
        alike = normalize("NFKC", info.filename).casefold()
        if alike in folded:
            raise _UnfitError(f"“{_plain(info.filename)}” stands there twice")
        folded.add(alike)
        found[info.filename] = info
    _refuse_bombs(infos, end)
    return found


def _refuse_odd(info: ZipInfo) -> None:
    name = _plain(info.orig_filename)
    if not sort_of(info.orig_filename) or info.filename != info.orig_filename:
        raise _UnfitError(f"“{name}” has no place in a bundle")
    mode = info.external_attr >> 16
    if stat.S_IFMT(mode) not in (0, stat.S_IFREG):
        raise _UnfitError(f"“{name}” is no plain file but a link or a device")
    if info.flag_bits & 0x41:
        raise _UnfitError(f"“{name}” is locked with a password")
    if info.compress_type not in (ZIP_STORED, ZIP_DEFLATED):
        raise _UnfitError(f"“{name}” is packed in a way that is not used here")
    if info.compress_type == ZIP_STORED and info.compress_size != info.file_size:
        raise _UnfitError(f"the size of “{name}” cannot be")


def _refuse_bombs(infos: list[ZipInfo], end: int) -> None:
    packed = [info for info in infos if info.compress_type == ZIP_DEFLATED]
    if sum(info.file_size for info in packed) > LARGEST_TEXT:
        raise _UnfitError("it would unpack to more text than a lab has")
    for info in packed:
        if info.file_size > FROM and info.file_size > SQUEEZED * max(1, info.compress_size):
            raise _UnfitError(f"“{_plain(info.filename)}” would unpack to no end")
    ordered = sorted(infos, key=lambda info: info.header_offset)
    starts = [*(info.header_offset for info in ordered[1:]), end]
    for info, start in zip(ordered, starts, strict=True):
        if info.header_offset + 30 + info.compress_size > start:
            raise _UnfitError(f"“{_plain(info.filename)}” lies on top of another file")


def _plain(text: str) -> str:
    return "".join(each if each.isprintable() else "�" for each in text[:80])
