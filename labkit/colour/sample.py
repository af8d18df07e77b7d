"""The colours in the middle of patches, and how well the pixels tell them."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from labkit.colour.cie import colour_science
from labkit.colour.photo import Photo
from labkit.colour.place import SQUARE, homography, project
from labkit.errors import LabError

Floats = NDArray[np.float64]

MIDDLE = 0.5
"""The share of a patch, along each side, that is read."""
_MARGIN = (1 - MIDDLE) / 2
SMALLEST = 10.0
"""A patch narrower than this [pixels of the reduced photo] cannot be read."""
_BLOCK = 16  # pixels along a side whose colour a JPEG codes together
_BLOCKS = (2, 4)  # blocks along a side of a patch, fewest and most
_POINTS = 96  # most points along a side of a patch
_TRIM = 0.1  # from each end
_TOP = 252  # of 255: a pixel that is as light as the photo can hold
_BOTTOM = 1
_GLARE = 0.25  # lighter than the middle pixel by this share


@dataclass(frozen=True, eq=False)
class Samples:
    """What the pixels say of n patches.

    Attributes
    ----------
    linear : ndarray, shape (n, 3)
        Linear sRGB from 0 to 1, trimmed mean.
    blocks : ndarray, shape (n, blocks, 3)
        Means of blocks, where the patch allows as large as a JPEG codes together: neighbouring
        pixels go together, so that only blocks may count as repeats.
    clipped, bottomed, glare : ndarray, shape (n,)
        Share of pixels as light as the photo can hold, with a channel at its bottom, and
        with a bright tail that has no dark one beside it.
    """

    linear: Floats
    blocks: Floats
    clipped: Floats
    bottomed: Floats
    glare: Floats


@cache
def linear_levels() -> Floats:
    """Return linear sRGB of the levels 0 to 255, shape (256,). Source: IEC 61966-2-1, by colour-science."""
    colour = colour_science()
    return np.asarray(colour.cctf_decoding(np.arange(256) / 255, function="sRGB"))


def sample(
    photo: Photo, corners: Floats, rows: int = 1, columns: int = 1, points: int | None = None
) -> Samples:
    """Read the middle of each patch of a grid.

    Parameters
    ----------
    photo : Photo
    corners : ndarray, shape (4, 2)
        Of the grid, in pixels of the whole photo, in the order of `labkit.colour.place.CORNERS`.
    rows, columns : int
    points : int, optional
        Along a side of a patch; by default as many as there are pixels, up to 96.

    Raises
    ------
    LabError
        Where the patches are too small to read.
    """
    width = patch_width(photo, corners, rows, columns)
    if width < SMALLEST:
        raise LabError(
            f"A patch is only {width:.0f} pixels wide, and it takes {SMALLEST:.0f}. "
            "Take the photo from nearer."
        )
    blocks = int(np.clip(MIDDLE * width // _BLOCK, *_BLOCKS))
    side = points or int(np.clip(MIDDLE * width, 4 * blocks, _POINTS))
    side -= side % blocks
    levels = _levels(photo, middle_points(photo, corners, rows, columns, side))
    linear = linear_levels()[levels]
    return Samples(
        _trimmed_mean(linear),
        _block_means(linear, side, blocks),
        (levels >= _TOP).any(axis=-1).mean(axis=-1),
        (levels <= _BOTTOM).any(axis=-1).mean(axis=-1),
        _bright_tail(linear),
    )


def patch_width(photo: Photo, corners: Floats, rows: int, columns: int) -> float:
    """Return the width of the narrowest patch [pixels of the reduced photo]."""
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1) / photo.factor
    return float((sides / np.array([columns, rows, columns, rows])).min())


def middle_points(photo: Photo, corners: Floats, rows: int, columns: int, side: int) -> Floats:
    """Return points of the reduced photo in the middle of each patch, shape (patches, side², 2)."""
    steps = _MARGIN + MIDDLE * (np.arange(side) + 0.5) / side
    x = (np.arange(columns)[:, None] + steps) / columns
    y = (np.arange(rows)[:, None] + steps) / rows
    grid = np.empty((rows, columns, side, side, 2))
    grid[..., 0] = x[None, :, None, :]
    grid[..., 1] = y[:, None, :, None]
    return project(homography(SQUARE, corners / photo.factor), grid.reshape(rows * columns, side**2, 2))


def _levels(photo: Photo, points: Floats) -> NDArray[np.uint8]:
    high, wide = photo.pixels.shape[:2]
    x = np.clip(points[..., 0].astype(np.intp), 0, wide - 1)
    y = np.clip(points[..., 1].astype(np.intp), 0, high - 1)
    return photo.pixels[y, x]


def _trimmed_mean(linear: Floats) -> Floats:
    cut = int(_TRIM * linear.shape[1])
    return np.asarray(np.sort(linear, axis=1)[:, cut : linear.shape[1] - cut].mean(axis=1))


def _block_means(linear: Floats, side: int, blocks: int) -> Floats:
    size = side // blocks
    squares = linear.reshape(-1, blocks, size, blocks, size, 3).mean(axis=(2, 4))
    return squares.reshape(len(linear), blocks**2, 3)


def _bright_tail(linear: Floats) -> Floats:
    light = linear.mean(axis=-1)
    middle = np.median(light, axis=1, keepdims=True)
    noise = 1.4826 * np.median(np.abs(light - middle), axis=1, keepdims=True)
    far = np.maximum(_GLARE * middle, 4 * noise)
    bright, dark = (light > middle + far).mean(axis=1), (light < middle - far).mean(axis=1)
    return np.asarray(np.clip(bright - dark, 0, None))
