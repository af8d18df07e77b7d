"""Photos beside the book, by the hash of what is left once nothing personal is in them."""

import hashlib
import io
import os
import re
from collections.abc import Callable
from pathlib import Path

from PIL import ImageOps

from labkit.book.files import plainly, write_whole
from labkit.errors import LabError
from labkit.photo_file import load_photo, open_photo

NAME = re.compile(r"[0-9a-f]{64}\.(jpg|png)", re.ASCII)
"""How a photo is named in a payload: SHA-256 of its content, and its format."""
LARGEST_PIXELS = 120_000_000
_FORMATS = {".jpg": "JPEG", ".png": "PNG"}
QUALITY = 95
"""Of the JPEG written once location and camera are gone; colour is kept at full resolution."""


class Photos:
    """The folder of a book's photos; it is made with the first one."""

    def __init__(self, folder: str | os.PathLike[str]) -> None:
        self.folder = Path(folder)

    def add(self, photo: bytes | str | os.PathLike[str]) -> str:
        """Keep a photo, bytes or a file, and return its name: the hash of the cleaned content.

        Raises `LabError` where it is no photo, is cut short, or cannot be written.
        """
        content, ending = cleaned(photo if isinstance(photo, bytes) else _content(Path(photo)))
        name = f"{hashlib.sha256(content).hexdigest()}.{ending}"
        path = self.path(name)
        if not path.exists():
            self._write(path, content)
        return name

    def keep(self, name: str, content: Callable[[], bytes]) -> bool:
        """Keep a cleaned photo under the name it has already; return whether it was not here yet.

        Raises `LabError` where the content is not the one that the name stands for, or is no photo.
        """
        path = self.path(name)
        if path.exists():
            return False
        found = content()
        if hashlib.sha256(found).hexdigest() != path.stem:
            raise LabError("This photo was altered: it is not the one that the entry names.")
        if open_photo(found, LARGEST_PIXELS).format != _FORMATS[path.suffix]:
            raise LabError(f"This photo is not of the form that its name says ({path.suffix}).")
        self._write(path, found)
        return True

    def path(self, name: str) -> Path:
        """Return where the photo of this name lies, whether it is there or not."""
        if not NAME.fullmatch(name):
            raise LabError(f"“{name[:80]}” is not the name of a photo in a trial book.")
        return self.folder / name[:2] / name

    def _write(self, path: Path, content: bytes) -> None:
        with plainly(path):
            path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, [content])

    def problem(self, name: str) -> str:
        """Return what is wrong with a photo: missing, altered, or nothing (an empty text)."""
        path = self.path(name)
        if not path.is_file():
            return "is missing"
        with path.open("rb") as file:
            same = hashlib.file_digest(file, "sha256").hexdigest() == path.stem
        return "" if same else "was altered"


def cleaned(content: bytes) -> tuple[bytes, str]:
    """Return the photo upright, without location, serial number and every other note in it.

    The colour profile stays: colour is read from photos. JPEG is written again
    at `QUALITY` without colour subsampling; everything else becomes PNG.

    Returns
    -------
    content : bytes of the file
    ending : “jpg” or “png”
    """
    photo = open_photo(content, LARGEST_PIXELS)
    load_photo(photo)
    upright = ImageOps.exif_transpose(photo)
    if "transparency" in photo.info:
        upright = upright.convert("RGBA")
    profile = photo.info.get("icc_profile")
    upright.info = {}
    out = io.BytesIO()
    if photo.format in ("JPEG", "MPO"):
        upright.save(out, "JPEG", quality=QUALITY, subsampling=0, icc_profile=profile)
        return out.getvalue(), "jpg"
    upright.save(out, "PNG", icc_profile=profile)
    return out.getvalue(), "png"


def names_in(value: object) -> set[str]:
    """Return the names of photos anywhere in a payload.

    >>> names_in({"photos": ["a" * 64 + ".jpg"], "remark": "x.jpg"}) == {"a" * 64 + ".jpg"}
    True
    """
    if isinstance(value, str):
        return {value} if NAME.fullmatch(value) else set()
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return set().union(*(names_in(each) for each in inner))


def _content(path: Path) -> bytes:
    with plainly(path, "read"):
        return path.read_bytes()
