"""Whole files or none: writing beside, then moving into place."""

import errno
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO
from uuid import uuid4

from labkit.errors import LabError

_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
_FORBIDDEN = (errno.EACCES, errno.EPERM, errno.EROFS)


@contextmanager
def plainly(path: Path, doing: str = "written") -> Iterator[None]:
    """Turn an error of the file system into a `LabError` that says what to do.

    `doing` is what could not be done to the file: “written” or “read”.
    """
    try:
        yield
    except OSError as error:
        raise LabError(_in_words(error, path, doing)) from error


def write_whole(path: Path, pieces: Iterable[bytes]) -> None:
    """Write a file so that it is there whole, on disk, or not at all.

    Raises `LabError` where the disk is full, or the folder missing or read-only.
    """
    with plainly(path):
        beside = path.with_name(f".{path.name}.{uuid4().hex}.part")
        try:
            with beside.open("xb") as file:
                file.writelines(pieces)
                file.flush()
                os.fsync(file.fileno())
            beside.replace(path)
        finally:
            beside.unlink(missing_ok=True)
        keep_folder(path.parent)


@contextmanager
def new_whole(path: Path) -> Iterator[BinaryIO]:
    """Give a file to write in, which is at `path` whole and on disk when the block ends, else not at all.

    Raises `LabError` where something is at `path` already, which stays, the disk is
    full, or the folder missing or read-only.
    """
    taken = f"“{path}” is there already and is left as it is. Choose another name."
    if os.path.lexists(path):
        raise LabError(taken)
    beside = path.with_name(f".{path.name[:100]}.{uuid4().hex}.part")
    with plainly(path):
        try:
            with beside.open("xb") as file:
                yield file
                file.flush()
                os.fsync(file.fileno())
            if not place_new(beside, path):
                raise LabError(taken)
        finally:
            beside.unlink(missing_ok=True)


def place_new(made: Path, path: Path) -> bool:
    """Move a finished file to `path` unless something is there already; return whether it moved."""
    try:
        os.link(made, path)
    except FileExistsError:
        return False
    except OSError:  # a file system without hard links
        if path.exists():
            return False
        made.rename(path)
    keep_folder(path.parent)
    return True


def keep_folder(folder: Path) -> None:
    """Bring the names in a folder to the disk, where the system has a way to."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _in_words(error: OSError, path: Path, doing: str) -> str:
    if error.errno in _FULL:
        return f"The disk is full: “{path.name}” could not be written. Make room, then try again."
    if error.errno in _FORBIDDEN and doing == "read":
        return f"“{path}” cannot be read: it belongs to somebody else. Ask for a copy of it."
    if error.errno in _FORBIDDEN:
        return (
            f"“{path}” cannot be written: the folder or the file is read-only. Choose a folder of your own."
        )
    if error.errno in (errno.ENOENT, errno.ENOTDIR):
        return f"“{path}” cannot be found: check the name and the folder."
    if error.errno == errno.EISDIR:
        return f"“{path}” is a folder, and a file is needed here."
    return f"“{path}” cannot be {doing}: {error.strerror or error}."
