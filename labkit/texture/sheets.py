"""The flat pieces of a region that fit on paper: a point, a line, a polygon, or slices."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from labkit.texture.polytope import Flat, find_corners
from labkit.texture.region import Region
from labkit.texture.usual import hardener

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

STILL = 1e-7  # a share that spreads less than this does not vary
_LEVELS = (0.15, 0.5, 0.85)  # of the way from the least to the most of the stepped part
_POINTS = 400  # of a polygon


@dataclass(frozen=True, eq=False)
class Sheet:
    """A piece of a region: what varies on it, and what is the same all over it.

    Attributes
    ----------
    parts : tuple of str
    corners : ndarray, shape (corners, parts)
        In shares of the base, going round; from little to much of `leading` on a line.
    free : tuple of str
        The three parts of a polygon; none on a line or a point.
    fixed : mapping of part to share
    """

    parts: tuple[str, ...]
    corners: Floats
    free: tuple[str, ...] = ()
    fixed: Mapping[str, float] = field(default_factory=dict)

    @cached_property
    def mesh(self) -> tuple[Floats, Ints]:
        """Points of shape (points, parts), and triangles of them, shape (triangles, 3); none on a line."""
        if self.free:
            return _fan(self.corners, max(2, round((2 * _POINTS / len(self.corners)) ** 0.5)))
        along = np.linspace(0, 1, 101 if len(self.corners) > 1 else 1)[:, None]
        return self.corners[0] + along * (self.corners[-1] - self.corners[0]), np.empty((0, 3), np.intp)

    @cached_property
    def leading(self) -> str:
        """The part that varies most from end to end of a line: the last of those that vary alike."""
        spread = np.abs(self.corners[-1] - self.corners[0])
        return self.parts[int(np.flatnonzero(spread >= spread.max() - STILL)[-1])]

    def columns(self, names: Sequence[str]) -> list[int]:
        """Return where these parts stand among all."""
        return [self.parts.index(name) for name in names]


@lru_cache(maxsize=16)
def sheets_of(region: Region) -> tuple[Sheet, ...]:
    """Return what is drawn of a region.

    A point or a line as it is; a polygon where three parts vary; else slices of the part
    that hardens and the two others that vary most, with the next at three levels. Where no
    slice has an area, the line between the two corners that lie furthest apart.

    >>> (sheet,) = sheets_of(Region({"oil": (0.6, 0.9), "butter": (0.1, 0.1), "wax": (0.1, 0.3)}))
    >>> sheet.free, sheet.leading, len(sheet.corners)
    ((), 'wax', 2)
    """
    corners = region.corners().to_numpy()
    if len(region.flat.axes) < 2:
        return (_line(region.parts, corners),)
    free, others = _chosen(region.parts, np.ptp(corners, axis=0))
    centres = _centres(corners, others[-1]) if others else [corners.mean(axis=0)]
    found = [sheet for centre in centres if (sheet := _slice(region, centre, free)) is not None]
    return tuple(found) or (_line(region.parts, corners),)


def _chosen(parts: tuple[str, ...], spread: Floats) -> tuple[list[int], list[int]]:
    """Return the three parts of a triangle, and the other parts that vary, the widest last."""
    order = [int(each) for each in np.argsort(spread, kind="stable") if spread[each] > STILL]
    hardens = parts.index(hardener([parts[each] for each in sorted(order)]))
    order = [*(each for each in order if each != hardens), hardens]
    return sorted(order[-3:]), order[:-3]


def _centres(corners: Floats, stepped: int) -> list[Floats]:
    """Return a point inside for each level of a part, on the way from the centre to its least and most."""
    centre, along = corners.mean(axis=0), corners[:, stepped]
    low, high = along.min(), along.max()
    points = []
    for level in low + np.array(_LEVELS) * (high - low):
        end = low if level < centre[stepped] else high
        goal = corners[np.abs(along - end) < STILL].mean(axis=0)
        points.append(centre + (level - centre[stepped]) / (end - centre[stepped]) * (goal - centre))
    return points


def _slice(region: Region, centre: Floats, free: list[int]) -> Sheet | None:
    """Return the polygon through a point in which three parts vary; None where it has no area."""
    rest = [each for each in range(len(region.parts)) if each not in free]
    total = centre[free].sum()
    rows = np.array([limit.row[free] * total for limit in region.limits])
    most = np.array([limit.most - limit.row[rest] @ centre[rest] for limit in region.limits])
    size = np.abs(rows).max(axis=1)
    met = size > STILL
    found = find_corners(rows[met] / size[met, None], most[met] / size[met])
    if len(found) < 3 or len((flat := Flat.through(found)).axes) < 2:
        return None
    across = flat.inside(found)
    corners = np.tile(centre, (len(found), 1))
    corners[:, free] = total * found
    names = tuple(region.parts[each] for each in free)
    fixed = {region.parts[each]: float(centre[each]) for each in rest}
    return Sheet(region.parts, corners[np.argsort(np.arctan2(across[:, 1], across[:, 0]))], names, fixed)


def _line(parts: tuple[str, ...], corners: Floats) -> Sheet:
    """Return the line between the two corners that lie furthest apart; a point where there is but one."""
    apart = np.linalg.norm(corners[:, None] - corners[None], axis=-1)
    ends = corners[list(np.unravel_index(apart.argmax(), apart.shape))][: len(corners)]
    leading = parts.index(Sheet(parts, ends).leading)
    return Sheet(parts, ends[np.argsort(ends[:, leading])])


def _fan(corners: Floats, steps: int) -> tuple[Floats, Ints]:
    """Return an even mesh of each triangle from the centre to two neighbouring corners."""
    weights, local = _wedge(steps)
    after = np.roll(corners, -1, axis=0)
    middle = np.broadcast_to(corners.mean(axis=0), corners.shape)
    points = np.einsum("mw,wkp->kmp", weights, np.stack([middle, corners, after]))
    flat, place = np.unique(points.reshape(-1, corners.shape[1]).round(12), axis=0, return_inverse=True)
    every = local[None] + len(weights) * np.arange(len(corners))[:, None, None]
    return flat, place.reshape(-1)[every.reshape(-1, 3)]


def _wedge(steps: int) -> tuple[Floats, Ints]:
    """Return weights of the three ends, shape (points, 3), and the triangles between them."""
    first, second = (each.ravel() for each in np.indices((steps + 1, steps + 1)))
    first, second = first[keep := first + second <= steps], second[keep]
    where = {pair: index for index, pair in enumerate(zip(first.tolist(), second.tolist(), strict=True))}
    up = [(where[i, j], where[i + 1, j], where[i, j + 1]) for i, j in where if i + j < steps]
    down = [(where[i + 1, j], where[i + 1, j + 1], where[i, j + 1]) for i, j in where if i + j < steps - 1]
    return np.stack([steps - first - second, first, second], axis=1) / steps, np.array(up + down)
