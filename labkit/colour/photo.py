"""A photo as it comes from a phone, made upright sRGB pixels, or refused in plain words."""

import io
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageCms, ImageOps

from labkit.errors import LabError
from labkit.photo_file import load_photo, open_photo

LARGEST_PIXELS = 100_000_000
WORKED_ON = 4_200_000
"""A photo with more pixels than this is made smaller by a whole number before colours are read."""

_GREY = "This photo is grey: it holds no colour. Send the colour photo."
_GREY_MODES = ("1", "L", "LA", "I", "I;16", "I;16B", "F")
_GREY_STEPS = 2  # of 255; noise of a JPEG saved from grey
_COLOURED = 0.001  # share of pixels


@dataclass(frozen=True, eq=False)
class Photo:
    """A photo, upright.

    Attributes
    ----------
    pixels : uint8 ndarray, shape (height, width, 3)
        sRGB.
    full_size : (width, height)
        Upright, before anything was reduced.
    factor : int
        How many pixels of the photo, along a side, became one; 1 if none.
    remarks : tuple of str
        What was done to it, in plain sentences.
    """

    pixels: NDArray[np.uint8]
    full_size: tuple[int, int]
    factor: int = 1
    remarks: tuple[str, ...] = ()

    @property
    def srgb(self) -> NDArray[np.float32]:
        """sRGB from 0 to 1, shape (height, width, 3)."""
        return self.pixels.astype(np.float32) / np.float32(255)

    @property
    def reduced(self) -> str:
        """What was reduced, as a sentence; empty if nothing was."""
        if self.factor == 1:
            return ""
        (wide, high), (height, width) = self.full_size, self.pixels.shape[:2]
        return f"The photo of {wide} × {high} pixels was read at {width} × {height}."


def read_photo(photo: bytes | str | os.PathLike[str], worked_on: int = WORKED_ON) -> Photo:
    """Read a JPEG, PNG or WebP photo, the bytes or a file.

    It is turned upright by its EXIF tag, made smaller where it has more than `worked_on`
    pixels (a JPEG already while it is decoded), and brought to sRGB from its own colour
    profile. Colours that sRGB cannot hold are clipped there.

    Raises
    ------
    LabError
        Where it is no photo, HEIC, cut short, grey, in printing colours, see-through, cut
        down to 256 colours, or over `LARGEST_PIXELS`.
    """
    content = photo if isinstance(photo, bytes) else _content(Path(photo))
    image = open_photo(content, LARGEST_PIXELS)
    mode, (wide, high), profile = image.mode, image.size, image.info.get("icc_profile")
    factor = _factor(image.size, worked_on)
    _decode(image, factor)
    _refuse_mode(mode, image)
    turned = image.getexif().get(ExifTags.Base.Orientation, 1) >= 5
    full_size = (high, wide) if turned else (wide, high)
    upright = ImageOps.exif_transpose(image).convert("RGB")
    rgb, remarks = _to_srgb(upright.reduce(_factor(upright.size, worked_on)), profile)
    pixels = np.asarray(rgb)
    _refuse_grey(pixels)
    return Photo(pixels, full_size, factor, remarks)


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise LabError(f"The photo “{path}” cannot be opened ({error.strerror}).") from error


def _factor(size: tuple[int, int], worked_on: int) -> int:
    """Return the smallest power of 2 (JPEG decodes by these) that leaves few enough pixels."""
    factor = 1
    while size[0] * size[1] / factor**2 > worked_on:
        factor *= 2
    return factor


def _decode(image: Image.Image, factor: int) -> None:
    if factor > 1:
        image.draft("RGB", (image.width // factor, image.height // factor))
    load_photo(image)


def _refuse_mode(mode: str, image: Image.Image) -> None:
    if mode in _GREY_MODES:
        raise LabError(_GREY)
    if mode == "CMYK":
        raise LabError("This photo is in printing colours (CMYK). Save it as an RGB JPEG, and send that.")
    if mode in ("P", "PA"):
        raise LabError(
            "This picture was cut down to 256 colours, too few to read one from. Send the photo itself."
        )
    if image.has_transparency_data and np.asarray(image.convert("RGBA"))[..., 3].min() < 255:
        raise LabError("Parts of this picture are see-through. Save it without transparency, as a JPEG.")


def _refuse_grey(pixels: NDArray[np.uint8]) -> None:
    red, green, blue = np.moveaxis(pixels, -1, 0)
    spread = np.maximum(np.maximum(red, green), blue) - np.minimum(np.minimum(red, green), blue)
    if np.mean(spread > _GREY_STEPS) < _COLOURED:
        raise LabError(_GREY)


def _to_srgb(image: Image.Image, profile: bytes | None) -> tuple[Image.Image, tuple[str, ...]]:
    if not profile:
        return image, ()
    try:
        own, screen = ImageCms.ImageCmsProfile(io.BytesIO(profile)), ImageCms.createProfile("sRGB")
        ImageCms.profileToProfile(image, own, screen, ImageCms.Intent.RELATIVE_COLORIMETRIC, inPlace=True)
    except (ImageCms.PyCMSError, OSError):
        return image, ("The photo's colour profile cannot be read; its colours were taken as sRGB.",)
    return image, ()
