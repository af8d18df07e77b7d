"""Compositions that a plan may choose from."""

import numpy as np
from numpy.typing import NDArray

from labkit.texture.polytope import find_edges, find_faces
from labkit.texture.region import Region

Floats = NDArray[np.float64]


def candidate_pours(region: Region, spread: int) -> Floats:
    """Return corners, middles and thirds of edges, centroids, and points between and inside.

    Parameters
    ----------
    spread
        How many points of the even grid to add.

    Returns
    -------
    array of shape (candidates, parts), no two alike
    """
    corners = region.corners().to_numpy()
    centre = corners.mean(axis=0, keepdims=True)
    edges = corners[find_edges(region.touch)] if len(corners) > 1 else np.empty((0, 2, corners.shape[1]))
    middles = edges.mean(axis=1)
    faces = [corners[face].mean(axis=0) for face in find_faces(region.touch)]
    rim = np.vstack([corners, middles, *faces])
    between = np.vstack([centre, (rim + centre) / 2])
    return unlike(np.vstack([rim, between, region.grid(spread)]))


def unlike(points: Floats, apart: float = 1e-6) -> Floats:
    """Return the points without those that lie within `apart` of an earlier one, in shares."""
    gaps = np.abs(points[:, None] - points[None]).max(axis=2)
    repeats = (np.tril(gaps <= apart, k=-1)).any(axis=1)
    return points[~repeats]


def not_near(points: Floats, others: Floats, apart: float = 1e-6) -> Floats:
    """Return the points that lie further than `apart` from every one of the others."""
    if not len(others):
        return points
    return points[np.abs(points[:, None] - others[None]).max(axis=2).min(axis=1) > apart]
