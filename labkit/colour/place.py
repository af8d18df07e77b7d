"""Where a chart or a swatch lies in a photo: corners as they were given, and perspective."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.errors import LabError

Floats = NDArray[np.float64]

CORNERS = ("top left", "top right", "bottom right", "bottom left")
SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
"""The unit square in the order of `CORNERS`: x to the right, y downwards."""

_FRACTIONS = 1.5  # corners all below this are fractions: as pixels they would lie in one pixel
_FLAT = 1e-4  # of the photo's area; a smaller shape is no shape


def homography(source: Floats, target: Floats) -> Floats:
    """Return the perspective map that takes four points to four points, shape (3, 3).

    Direct linear transformation with h33 = 1 (Hartley and Zisserman 2004, Multiple View
    Geometry, 4.1; from memory).

    Parameters
    ----------
    source, target : ndarray, shape (4, 2)
        No three on one line.

    >>> half = homography(SQUARE, SQUARE / 2)
    >>> project(half, np.array([[0.5, 1.0]])).round(6).tolist()
    [[0.25, 0.5]]
    """
    (x, y), (u, v) = source.T, target.T
    none, one = np.zeros(4), np.ones(4)
    across = np.column_stack([x, y, one, none, none, none, -u * x, -u * y])
    down = np.column_stack([none, none, none, x, y, one, -v * x, -v * y])
    solved = np.linalg.solve(np.vstack([across, down]), np.concatenate([u, v]))
    return np.append(solved, 1.0).reshape(3, 3)


def project(perspective: Floats, points: Floats) -> Floats:
    """Return where points go, shape (..., 2), by a map of shape (3, 3)."""
    lifted = points @ perspective[:, :2].T + perspective[:, 2]
    return lifted[..., :2] / lifted[..., 2:]


def read_corners(corners: Any, full_size: tuple[int, int], what: str) -> Floats:
    """Read four corners, or two opposite ones of an upright rectangle, as pixels of the whole photo.

    Parameters
    ----------
    corners : array-like, shape (4, 2) or (2, 2)
        x from the left, y from the top: fractions of the upright photo, 0 to 1, or its
        pixels. Four go in the order of `CORNERS`, as the thing itself is read.
    full_size : (width, height)
    what : str
        Whose corners, for the message: “chart” or “patch”.

    Raises
    ------
    LabError
        Where a corner is missing, outside the photo or turned in, or the sides cross.

    >>> read_corners([(0.1, 0.1), (0.5, 0.3)], (200, 100), "patch").tolist()
    [[20.0, 10.0], [100.0, 10.0], [100.0, 30.0], [20.0, 30.0]]
    """
    points = _points(corners, what)
    size = np.array(full_size, float)
    limit = np.ones(2) if points.max() <= _FRACTIONS else size
    _refuse_outside(points, limit, what)
    pixels = points / limit * size
    if len(pixels) == 2:
        pixels = pixels.min(axis=0) + SQUARE * np.ptp(pixels, axis=0)
    _refuse_bent(pixels, size, what)
    return pixels


def _points(corners: Any, what: str) -> Floats:
    try:
        points = np.array([[float(x), float(y)] for x, y in corners])
    except (TypeError, ValueError) as error:
        raise LabError(f"Each corner of the {what} is two numbers: across and down.") from error
    if len(points) not in (2, 4):
        raise LabError(f"The {what} needs four corners ({', '.join(CORNERS)}); {len(points)} were given.")
    if not np.isfinite(points).all():
        raise LabError(f"A corner of the {what} is no number. Click the corners again.")
    return points


def _refuse_outside(points: Floats, limit: Floats, what: str) -> None:
    outside = ((points < 0) | (points > limit)).any(axis=1)
    if outside.any():
        at = int(np.flatnonzero(outside)[0])
        name = CORNERS[at] if len(points) == 4 else ("first", "second")[at]
        x, y = points[at]
        raise LabError(
            f"The {name} corner of the {what} ({x:g}, {y:g}) lies outside the photo. Click a point inside it."
        )


def _refuse_bent(pixels: Floats, size: Floats, what: str) -> None:
    """Refuse a shape that is not convex: its sides cross, or a corner is turned in."""
    turns = _turns(pixels)
    if np.abs(turns).min() / 2 < _FLAT**2 * size.prod() or abs(turns.sum()) / 4 < _FLAT * size.prod():
        raise LabError(f"The corners of the {what} lie on one line or too close together. Click them again.")
    if (turns > 0).sum() in (0, 4):
        return
    if (turns > 0).sum() == 2:
        first, second = _swapped(pixels)
        raise LabError(
            f"The sides of the {what} cross: {first} and {second} seem to be swapped. "
            f"Click the corners in the order {', '.join(CORNERS)}."
        )
    odd = int(np.argmin(turns * np.sign(turns.sum())))
    raise LabError(f"The {CORNERS[odd]} corner of the {what} is turned inwards. Click that corner again.")


def _turns(pixels: Floats) -> Floats:
    """Return twice the area that each corner spans with its neighbours, signed by the turn there."""
    before, after = pixels - np.roll(pixels, 1, axis=0), np.roll(pixels, -1, axis=0) - pixels
    return before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]


def _swapped(pixels: Floats) -> tuple[str, str]:
    """Return which neighbours to swap so that no sides cross; of two ways, the one that reads clockwise."""
    best = 1
    for at in range(4):
        order = list(range(4))
        order[at], order[(at + 1) % 4] = order[(at + 1) % 4], order[at]
        if (_turns(pixels[order]) > 0).all():
            best = at
    return CORNERS[best], CORNERS[(best + 1) % 4]


ORDERS = tuple(tuple((start + step * way) % 4 for step in range(4)) for way in (1, -1) for start in range(4))
"""Every way in which somebody may go round four corners: which given corner is the chart's
top left, top right, bottom right, bottom left. The first is the one asked for."""
