"""Where the blended area is in a photo: the largest region of one colour, and the white card beside it."""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from labkit.colour.cie import colour_science, lab_of_xyz
from labkit.colour.sample import linear_levels
from labkit.errors import LabError
from labkit.streak.picture import TOP, Mask, Picture, least, most

Floats = NDArray[np.float64]

LEAST_SHARE = 0.03
"""A blended area is at least this share of the picture."""
_THUMB = 120  # pixels along the longer side
_BIN = 5.0  # ΔE*ab
_REACH = 11.0  # ΔE*ab from the region's own colour
_LIGHTNESS = 3.0  # a step of lightness counts for a third: light falls off over a picture
_PEAKS = 4
_CLOSE = 0.1  # of the square root of the region's area: streaks so wide are closed over
_HOLE = 0.2  # of the region's area; a larger hole is no streak but another thing
_RIM = 0.03  # of the same: left out along the edge
_CARD_SHARE = 0.004
_CARD_LIGHT = 0.45
_CARD_COLOUR = 0.15  # (max − min)/max of linear sRGB
_CARD_EVEN = 0.06  # sd of log luminance
CARD_REFLECTANCE = 0.9
"""What a white card or plain paper reflects; common practice, no source."""


def xyz_of_linear(linear: Any) -> Any:
    """Return X, Y, Z of linear sRGB, shape (..., 3). Source: IEC 61966-2-1, as colour-science has it."""
    matrix = colour_science().RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ
    return linear @ np.asarray(matrix).T.astype(linear.dtype)


def find_area(picture: Picture) -> Mask:
    """Return the blended area: the largest region of one colour, its edge left out.

    The middle of the picture counts more than its rim, colour more than grey. Streaks and
    glare inside are part of it.

    Raises
    ------
    LabError
        Where there is no such region.
    """
    from scipy import ndimage

    step = _step(picture)
    small = _thumbnail(picture, step)
    lab = lab_of_xyz(xyz_of_linear(small))
    centre = _centre_weight(small.shape[:2])
    regions = [_region(lab, colour) for colour in _colours(lab, centre)]
    vivid = np.hypot(lab[..., 1], lab[..., 2])
    scores = [float((centre * each * (0.3 + np.clip(vivid / 15, 0, 1))).sum()) for each in regions]
    best = regions[int(np.argmax(scores))]
    if best.mean() < LEAST_SHARE:
        raise LabError(
            "No blended area was found: no part of this photo is of one colour. Take it from nearer, or give "
            "a mask."
        )
    rim = max(1, round(_RIM * np.sqrt(best.sum())))
    inner = ndimage.binary_erosion(best, iterations=rim, border_value=1)
    return _enlarged(inner, step, picture.size)


def _step(picture: Picture) -> int:
    return max(1, max(picture.size) // _THUMB)


def _thumbnail(picture: Picture, step: int) -> Floats:
    return linear_levels()[np.asarray(Image.fromarray(picture.pixels).reduce(step))]


def _enlarged(mask: Mask, step: int, size: tuple[int, int]) -> Mask:
    rows = np.minimum(np.arange(size[0]) // step, mask.shape[0] - 1)
    columns = np.minimum(np.arange(size[1]) // step, mask.shape[1] - 1)
    return np.asarray(mask[rows][:, columns])


def _centre_weight(size: tuple[int, ...]) -> Floats:
    y, x = (np.linspace(-1, 1, side) for side in size)
    return np.asarray(np.exp(-(y[:, None] ** 2 + x**2)))


def _spread_out(lab: Floats) -> Floats:
    return lab / np.array([_LIGHTNESS, 1.0, 1.0])


def _colours(lab: Floats, weight: Floats) -> list[Floats]:
    """Return the colours that much of the picture has, commonest first."""
    from scipy import ndimage

    points = _spread_out(lab).reshape(-1, 3)
    low, high = points.min(axis=0) - _BIN, points.max(axis=0) + _BIN
    bins = np.ceil((high - low) / _BIN).astype(int)
    counts, edges = np.histogramdd(
        points, bins=bins, range=list(zip(low, high, strict=True)), weights=weight.ravel()
    )
    smooth = ndimage.gaussian_filter(counts, 1.0, mode="constant")
    peaks = smooth == ndimage.maximum_filter(smooth, 3)
    order = np.argsort(np.where(peaks, smooth, 0), axis=None)[::-1][:_PEAKS]
    middles = [(edge[1:] + edge[:-1]) / 2 for edge in edges]
    at = np.unravel_index(order, smooth.shape)
    found = np.stack([middle[each] for middle, each in zip(middles, at, strict=True)], axis=1)
    return list(found)


def _region(lab: Floats, colour: Floats) -> Mask:
    from scipy import ndimage

    points = _spread_out(lab)
    alike = np.linalg.norm(points - colour, axis=2) < _REACH
    if not alike.any():
        return alike
    again = np.linalg.norm(points - np.median(points[alike], axis=0), axis=2) < _REACH
    width = max(1, round(_CLOSE * np.sqrt(again.sum())))
    closed = ndimage.binary_closing(np.pad(again, width, mode="edge"), iterations=width)
    filled = _without_holes(closed[width:-width, width:-width])
    parts, count = ndimage.label(ndimage.binary_opening(filled, iterations=2, border_value=0))
    if not count:
        return np.zeros_like(alike)
    return np.asarray(parts == 1 + np.argmax(np.bincount(parts.ravel())[1:]))


def _without_holes(region: Mask) -> Mask:
    from scipy import ndimage

    holes, count = ndimage.label(ndimage.binary_fill_holes(region) & ~region)
    small = np.bincount(holes.ravel(), minlength=count + 1) < _HOLE * region.sum()
    small[0] = False
    return np.asarray(region | small[holes])


def find_card(picture: Picture, area: Mask) -> Floats | None:
    """Return linear sRGB of a white card or paper beside the blended area; None where there is none.

    It is light, without colour, even, not clipped, and at least 0.4 % of the picture.
    """
    from scipy import ndimage

    small, beside = _thumbnail(picture, _step(picture)), ~area[:: _step(picture), :: _step(picture)]
    high, low = most(small), least(small)
    top = linear_levels()[TOP]
    white = beside & (low > _CARD_LIGHT) & (high < top) & (high - low < _CARD_COLOUR * high)
    parts, count = ndimage.label(ndimage.binary_erosion(white, iterations=1))
    best = None
    for part in range(1, count + 1):
        inside = parts == part
        even = np.log(small[inside].mean(axis=1)).std() < _CARD_EVEN
        if even and inside.sum() >= _CARD_SHARE * inside.size:
            colour = np.median(small[inside], axis=0)
            best = colour if best is None or colour.sum() > best.sum() else best
    return best
