"""A streak photo made small enough to work on: a file, bytes, a PIL image or an array of sRGB."""

import math
import os
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

from labkit.colour.photo import LARGEST_PIXELS, read_photo
from labkit.colour.sample import linear_levels
from labkit.errors import LabError

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]

WORKED_ON = 130_000
"""A photo with more pixels than this is made smaller by a whole number before streaks are looked for."""
_DECODED = 6 * WORKED_ON
SMALLEST = 48
"""A photo with fewer pixels along a side is refused."""
TOP = 252  # of 255: as light as a photo can hold
BOTTOM = 8
_GREY_MODES = ("1", "L", "LA", "I", "I;16", "F")


@dataclass(frozen=True, eq=False)
class Picture:
    """A photo to work on, upright.

    Attributes
    ----------
    pixels : uint8 ndarray, shape (height, width, 3)
        sRGB, reduced.
    full_size : (width, height)
        Upright, before anything was reduced.
    factor : int
        How many pixels of the photo, along a side, became one.
    remarks : tuple of str
    """

    pixels: NDArray[np.uint8]
    full_size: tuple[int, int]
    factor: int
    remarks: tuple[str, ...] = field(default=())

    @cached_property
    def linear(self) -> Floats:
        """Linear sRGB from 0 to 1, shape (height, width, 3)."""
        return linear_levels().astype(np.float32)[self.pixels]

    @cached_property
    def clipped(self) -> Mask:
        """Where a channel is as light as the photo can hold."""
        return np.asarray(most(self.pixels) >= TOP)

    @property
    def size(self) -> tuple[int, int]:
        """Height and width, reduced."""
        return self.pixels.shape[0], self.pixels.shape[1]

    def part(self, part: tuple[slice, slice]) -> "Picture":
        """Return some rows and columns of it."""
        return replace(self, pixels=self.pixels[part])


def most(channels: NDArray[Any]) -> NDArray[Any]:
    """Return the largest channel, shape (..., 3) to (...); numpy is slow along so short an axis."""
    return np.asarray(np.maximum(np.maximum(channels[..., 0], channels[..., 1]), channels[..., 2]))


def least(channels: NDArray[Any]) -> NDArray[Any]:
    """Return the smallest channel, shape (..., 3) to (...)."""
    return np.asarray(np.minimum(np.minimum(channels[..., 0], channels[..., 1]), channels[..., 2]))


def read_picture(image: Any) -> Picture:
    """Read a photo: a path, bytes, a PIL image, or sRGB of shape (h, w, 3), uint8 or float from 0 to 1.

    Raises
    ------
    LabError
        Where it is no photo, grey, too small, or an array of another kind.
    """
    if isinstance(image, bytes | str | os.PathLike):
        photo = read_photo(image, _DECODED)
        return _reduced(Image.fromarray(photo.pixels), photo.full_size, photo.factor, photo.remarks)
    upright = _upright(image) if isinstance(image, Image.Image) else Image.fromarray(_levels(image))
    return _reduced(upright, upright.size, 1, ())


def _upright(image: Image.Image) -> Image.Image:
    if image.mode in _GREY_MODES:
        raise LabError("This picture is grey: it holds no colour. Give the colour photo.")
    _check_size(image.size)
    return ImageOps.exif_transpose(image).convert("RGB")


def _levels(image: Any) -> NDArray[np.uint8]:
    array = np.asarray(image)
    if array.ndim != 3 or array.shape[2] != 3:
        raise LabError(
            f"This is no picture: its shape is {array.shape}. Give a photo's file, its bytes, a PIL image, "
            "or an array of shape (height, width, 3)."
        )
    _check_size((array.shape[1], array.shape[0]))
    if array.dtype == np.uint8:
        return array
    if not np.issubdtype(array.dtype, np.floating):
        raise LabError(f"The numbers of this picture are {array.dtype}. Give uint8, or floats from 0 to 1.")
    if not np.isfinite(array).all() or array.min() < -1e-6 or array.max() > 1 + 1e-6:
        raise LabError("The numbers of a float picture are sRGB from 0 to 1. Divide levels by 255 first.")
    return np.rint(255 * np.clip(array, 0, 1)).astype(np.uint8)


def _check_size(size: tuple[int, int]) -> None:
    if min(size) < SMALLEST:
        raise LabError(
            f"This picture is {size[0]} × {size[1]} pixels, too few to find a streak in. "
            f"It takes {SMALLEST} or more each way."
        )
    if size[0] * size[1] > LARGEST_PIXELS:
        raise LabError(
            f"This picture has more than {LARGEST_PIXELS // 10**6} million pixels. Make it smaller."
        )


def _reduced(
    image: Image.Image, full_size: tuple[int, int], factor: int, remarks: tuple[str, ...]
) -> Picture:
    _check_size(image.size)
    more = math.ceil(math.sqrt(image.width * image.height / WORKED_ON))
    return Picture(np.asarray(image.reduce(more)), full_size, factor * more, remarks)


def mask_of(mask: Any, picture: Picture) -> Mask:
    """Return a mask at the size of the working picture.

    Raises
    ------
    LabError
        Where its sides are in another ratio than the photo's, or it holds nothing.
    """
    array = np.asarray(mask)
    wide, high = picture.full_size
    if array.ndim != 2 or min(array.shape) < 1:
        raise LabError(f"The mask's shape is {array.shape}; it takes one value a pixel, ({high}, {wide}).")
    if abs(array.shape[1] / array.shape[0] / (wide / high) - 1) > 0.02:
        raise LabError(
            f"The mask is {array.shape[1]} × {array.shape[0]} and the upright photo {wide} × {high}: "
            "they do not cover each other."
        )
    rows = np.minimum(
        (np.arange(picture.size[0]) + 0.5) * array.shape[0] / picture.size[0], array.shape[0] - 1
    )
    columns = np.minimum(
        (np.arange(picture.size[1]) + 0.5) * array.shape[1] / picture.size[1], array.shape[1] - 1
    )
    found = array.astype(bool)[rows.astype(int)][:, columns.astype(int)]
    if not found.any():
        raise LabError("The mask marks nothing. It is True where the blended area is.")
    return np.asarray(found)
