"""Points spread evenly over a region, and the point of it that is nearest to another."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from labkit.texture.polytope import Flat, find_edges, volumes

if TYPE_CHECKING:
    from labkit.texture.region import Region

Floats = NDArray[np.float64]

_PRIMES = (2, 3, 5, 7, 11, 13)
"""One for each dimension, and one for the simplex: regions have six parts at most."""


def even_points(region: "Region", count: int) -> Floats:
    """Return corners, points along the edges, and points inside, about `count` in all; see `Region.grid`."""
    corners = region.corners().to_numpy()
    flat, dimensions, count = region.flat, len(region.flat.axes), max(count, 1)
    if dimensions == 0:
        return corners
    if dimensions == 1:
        along = np.linspace(0, 1, max(count, 2))[:, None]
        line = corners[0] + along * (corners[-1] - corners[0])
        return np.vstack([line[[0, -1]], line[1:-1]])
    edges = corners[find_edges(region.touch)]
    apart = _spacing(region, edges, count)
    rim = np.vstack([corners, _along(edges, apart)])
    if dimensions == 2:
        inside = _hexagonal(region, apart)
    else:
        inside = flat.outside(_scattered(region.simplices, max(count - len(rim), count // 2)))
    return np.vstack([rim, inside])


def _spacing(region: "Region", edges: Floats, count: int) -> float:
    """Return the distance between neighbours, in shares, that gives about `count` points."""
    dimensions = len(region.flat.axes)
    length = np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1).sum()
    if dimensions > 2:
        return float(max((volumes(region.simplices).sum() / count) ** (1 / dimensions), 2 * length / count))
    area = volumes(region.simplices).sum() * 2 / 3**0.5
    wanted = max(count - len(edges), 1)
    return float((length / 2 + np.sqrt(length**2 / 4 + 4 * wanted * area)) / (2 * wanted))


def _along(edges: Floats, apart: float) -> Floats:
    points = [np.empty((0, edges.shape[-1]))]
    for start, end in edges:
        pieces = max(round(float(np.linalg.norm(end - start)) / apart), 1)
        points.append(start + np.arange(1, pieces)[:, None] / pieces * (end - start))
    return np.vstack(points)


def _hexagonal(region: "Region", apart: float) -> Floats:
    """Return the points of a hexagonal lattice that lie inside, not right beside the boundary."""
    reach = np.abs(region.flat.inside(region.corners().to_numpy())).max(axis=0)
    rows = np.arange(-np.ceil(reach[1] / apart * 2), np.ceil(reach[1] / apart * 2) + 1)
    places = np.arange(-np.ceil(reach[0] / apart) - 1, np.ceil(reach[0] / apart) + 2)
    row, place = np.meshgrid(rows, places, indexing="ij")
    lattice = np.stack([place + row % 2 / 2, row * 3**0.5 / 2], axis=-1).reshape(-1, 2) * apart
    points = region.flat.outside(lattice)
    return points[_room(region, points) > apart / 3]


def _room(region: "Region", points: Floats) -> Floats:
    """Return the distance from each point to the nearest limit, in shares; below 0 outside."""
    rows = np.array([limit.row for limit in region.limits])
    most = np.array([limit.most for limit in region.limits])
    lengths = np.linalg.norm(rows @ region.flat.axes.T, axis=1)
    sloping = lengths > 1e-9
    return ((most - points @ rows.T)[:, sloping] / lengths[sloping]).min(axis=1)


def _scattered(simplices: Floats, count: int) -> Floats:
    """Return quasi-random points, equally dense everywhere: Halton (1960), Numer. Math. 2, 84."""
    bases = _PRIMES[: simplices.shape[-1] + 1]
    unit = np.stack([_radical_inverse(count, base) for base in bases], axis=1)
    size = volumes(simplices)
    which = np.searchsorted(np.cumsum(size) / size.sum(), unit[:, 0]).clip(max=len(size) - 1)
    cuts = np.pad(np.sort(unit[:, 1:], axis=1), ((0, 0), (1, 1)), constant_values=((0, 0), (0, 1)))
    return np.einsum("nb,nbd->nd", np.diff(cuts, axis=1), simplices[which])


def _radical_inverse(count: int, base: int) -> Floats:
    """Return 1, 2, … mirrored at the point in a base, shape (count,).

    >>> _radical_inverse(4, 2).tolist()
    [0.5, 0.25, 0.75, 0.125]
    """
    left, found, weight = np.arange(1, count + 1), np.zeros(count), 1.0 / base
    while left.any():
        found += weight * (left % base)
        left, weight = left // base, weight / base
    return found


def project(point: Floats, flat: Flat, rows: Floats, most: Floats) -> Floats:
    """Return the point of ``{x : rows @ x <= most}`` on the flat that is nearest to a point.

    Least-distance programming by non-negative least squares (Lawson and Hanson 1974,
    Solving Least Squares Problems, chapter 23), in units of the largest violation.
    """
    from scipy.optimize import nnls

    start = flat.inside(point[None])[0]
    base = flat.outside(start[None])[0]
    slopes = rows @ flat.axes.T
    lengths = np.linalg.norm(slopes, axis=1)
    sloping = lengths > 1e-9
    over = ((rows @ base - most)[sloping]) / lengths[sloping]
    unit = float(over.max()) if len(over) else 0.0
    if unit <= 0:
        return base
    system = np.vstack([-(slopes[sloping] / lengths[sloping, None]).T, over / unit])
    weights, _ = nnls(system, np.append(np.zeros(len(start)), 1.0))
    residual = system @ weights - np.append(np.zeros(len(start)), 1.0)
    return flat.outside((start - residual[:-1] / residual[-1] * unit)[None])[0]
