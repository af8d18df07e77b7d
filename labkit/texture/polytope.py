"""Corners, edges, volume and averages of a region cut from the simplex by straight limits."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, combinations, islice
from math import factorial

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

TOLERANCE = 1e-9  # in shares
_SAME = 1e-8  # corners nearer than this are one
_PARALLEL = 1e-7  # volume of unit normals below which they do not meet in one point
_AT_ONCE = 50_000  # systems solved together


def in_plane(rows: Floats) -> tuple[Floats, Floats]:
    """Return the rows without their mean, and the means: what a limit says where shares sum to 1."""
    means = rows.mean(axis=1)
    return rows - means[:, None], means


def _batches(count: int, size: int) -> Iterator[NDArray[np.intp]]:
    sets = combinations(range(count), size)
    while batch := list(islice(sets, _AT_ONCE)):
        flat = np.fromiter(chain.from_iterable(batch), dtype=np.intp)
        yield flat.reshape(len(batch), size)


def find_corners(rows: Floats, limits: Floats) -> Floats:
    """Return the corners of ``{x : rows @ x <= limits, sum(x) = 1}``.

    Each set of as many limits as there are free directions is solved as equations; a
    solution that keeps all limits is a corner. Sets of parallel limits are passed over.

    Parameters
    ----------
    rows : array of shape (limits, parts)
    limits : array of shape (limits,)

    Returns
    -------
    array of shape (corners, parts), sorted by the first part, then the second, …; no
    rows where the region is empty.

    >>> find_corners(np.array([[-1.0, 0.0], [0.0, -1.0]]), np.array([-0.25, -0.25]))
    array([[0.25, 0.75],
           [0.75, 0.25]])
    """
    parts = rows.shape[1]
    slopes, means = in_plane(rows)
    lengths = np.linalg.norm(slopes, axis=1)
    sloping = lengths > 1e-12
    unit = slopes[sloping] / lengths[sloping, None]
    heights = (limits - means)[sloping] / lengths[sloping]
    total = np.full((1, parts), parts**-0.5)
    found = [np.empty((0, parts))]
    for chosen in _batches(len(unit), parts - 1):
        systems = np.concatenate([unit[chosen], np.broadcast_to(total, (len(chosen), 1, parts))], axis=1)
        targets = np.concatenate([heights[chosen], np.full((len(chosen), 1), parts**-0.5)], axis=1)
        meeting = np.abs(np.linalg.det(systems)) > _PARALLEL
        points = np.linalg.solve(systems[meeting], targets[meeting][..., None])[..., 0]
        found.append(points[(points @ rows.T <= limits + TOLERANCE).all(axis=1)])
    return _distinct(np.concatenate(found))


def _distinct(points: Floats) -> Floats:
    points = np.unique(points.round(12) + 0.0, axis=0)
    kept: list[Floats] = []
    for point in points:
        if not kept or np.abs(np.array(kept) - point).max(axis=1).min() > _SAME:
            kept.append(point)
    corners = np.array(kept).reshape(-1, points.shape[1])
    return corners[np.lexsort(corners.round(9).T[::-1])]


@dataclass(frozen=True)
class Flat:
    """Coordinates inside the flat piece of space that a region fills.

    ``shares = centre + z @ axes`` with orthonormal `axes` of shape (dimensions, parts).
    """

    centre: Floats
    axes: Floats
    reach: Floats
    """Spread of the corners along each axis, in shares; shape (dimensions,)."""

    @classmethod
    def through(cls, corners: Floats) -> "Flat":
        """Return the flat piece of space through the corners."""
        centre = corners.mean(axis=0)
        _, spread, axes = np.linalg.svd(corners - centre, full_matrices=False)
        wide = spread > 1e-7
        return cls(centre, axes[wide], spread[wide] / np.sqrt(len(corners)))

    def inside(self, points: Floats) -> Floats:
        """Return coordinates z, shape (points, dimensions), in shares."""
        return (points - self.centre) @ self.axes.T

    def outside(self, coordinates: Floats) -> Floats:
        """Return the points of shape (points, parts) at coordinates z."""
        return self.centre + coordinates @ self.axes


def touching(corners: Floats, rows: Floats, limits: Floats) -> Bools:
    """Return which corner lies on which limit, shape (corners, limits)."""
    return np.abs(corners @ rows.T - limits) <= 10 * _SAME


def find_edges(touch: Bools) -> NDArray[np.intp]:
    """Return pairs of corners that an edge joins, shape (edges, 2).

    Two corners are joined where no third lies on all the limits that they share.
    """
    first, second = np.triu_indices(len(touch), k=1)
    shared = touch[first] & touch[second]
    on_all = (shared.astype(float) @ (~touch).T.astype(float)) == 0
    return np.column_stack([first, second])[on_all.sum(axis=1) == 2]


def find_faces(touch: Bools) -> list[NDArray[np.intp]]:
    """Return the corners of each face that one limit cuts, faces of three corners or more."""
    faces = {tuple(np.flatnonzero(on)) for on in touch.T if 3 <= on.sum() < len(touch)}
    return [np.array(face) for face in sorted(faces)]


def triangulate(coordinates: Floats) -> Floats:
    """Cut a region into simplices, shape (simplices, dimensions + 1, dimensions).

    Parameters
    ----------
    coordinates : array of shape (corners, dimensions)
        Corners, in coordinates that the region fills.
    """
    dimensions = coordinates.shape[1]
    if dimensions == 0:
        return np.zeros((1, 1, 0))
    if dimensions == 1:
        return np.sort(coordinates, axis=0)[None, [0, -1]]
    from scipy.spatial import Delaunay

    return coordinates[Delaunay(coordinates).simplices]


def volumes(simplices: Floats) -> Floats:
    """Return the volume of each simplex, shape (simplices,)."""
    edges = simplices[:, 1:] - simplices[:, :1]
    return np.abs(np.linalg.det(edges)) / factorial(edges.shape[-1])


def averaging_nodes(simplices: Floats) -> tuple[Floats, Floats]:
    """Return points and weights whose weighted sum is an exact average of any polynomial to degree 5.

    Rule of Grundmann and Möller (1978, SIAM J. Numer. Anal. 15, 282–290,
    doi:10.1137/0715019) with s = 2; some weights are negative, all sum to 1.

    Returns
    -------
    points of shape (nodes, dimensions) and weights of shape (nodes,)
    """
    dimensions = simplices.shape[-1]
    if dimensions == 0:
        return np.zeros((1, 0)), np.ones(1)
    barycentric, weights = _grundmann_moeller(dimensions, s=2)
    points = np.einsum("nb,sbd->snd", barycentric, simplices).reshape(-1, dimensions)
    size = volumes(simplices)
    return points, np.outer(size / size.sum(), weights).ravel()


def _grundmann_moeller(dimensions: int, s: int) -> tuple[Floats, Floats]:
    degree = 2 * s + 1
    points, weights = [], []
    for i in range(s + 1):
        width = dimensions + degree - 2 * i
        weight = (-1) ** i * 4.0**-s * width**degree / (factorial(i) * factorial(dimensions + degree - i))
        beta = _compositions(s - i, dimensions + 1)
        points.append((2 * beta + 1) / width)
        weights.append(np.full(len(beta), weight * factorial(dimensions)))
    return np.concatenate(points), np.concatenate(weights)


def _compositions(total: int, cells: int) -> NDArray[np.intp]:
    """Return every way to spread a whole number over cells, shape (ways, cells)."""
    bars = np.array(list(combinations(range(total + cells - 1), cells - 1)), dtype=np.intp)
    walls = np.pad(bars, ((0, 0), (1, 1)), constant_values=((0, 0), (-1, total + cells - 1)))
    return np.diff(walls, axis=1) - 1
