"""The quadratic blending model, and how well a set of pours pins it down over a region."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.texture.polytope import Flat, averaging_nodes
from labkit.texture.region import Region

Floats = NDArray[np.float64]

_CURVATURE = 1.0  # prior precision, per variance of a note
_SLOPE = 0.1


def scheffe(shares: Floats) -> Floats:
    """Return the terms of Scheffé's quadratic for blends: x1 … xq, then x1·x2, x1·x3, …

    Scheffé (1958), J. R. Stat. Soc. B 20, 344–360. On shares that sum to 1 they span
    the full quadratic, constant and squares included.

    Parameters
    ----------
    shares : array of shape (points, parts)

    Returns
    -------
    array of shape (points, parts * (parts + 1) / 2)

    >>> scheffe(np.array([[0.5, 0.25, 0.25]]))
    array([[0.5   , 0.25  , 0.25  , 0.125 , 0.125 , 0.0625]])
    """
    first, second = np.triu_indices(shares.shape[1], k=1)
    return np.hstack([shares, shares[:, first] * shares[:, second]])


@dataclass(frozen=True)
class Blends:
    """Scheffé's quadratic over one region, in terms that are orthonormal over it.

    The average over the region of the product of two terms is 1 for a term with
    itself, else 0. Hence the average prediction variance over the region, in units of
    a note's variance, is the trace of the inverse information of the pours.
    """

    flat: Flat
    mixing: Floats
    straight: int
    """How many terms are straight; the others are what is bent in the surface."""
    level: Floats
    """Coefficients of the constant 1 in the straight terms."""

    @classmethod
    def over(cls, region: Region) -> "Blends":
        """Return the model for a region; averages are exact (see `averaging_nodes`)."""
        nodes, weights = averaging_nodes(region.simplices)
        raw = scheffe(_scaled(nodes, region.flat))
        moments = (raw * weights[:, None]).T @ raw
        mixing = np.linalg.inv(np.linalg.cholesky(moments)).T
        straight = len(region.flat.axes) + 1
        return cls(region.flat, mixing, straight, (weights @ raw @ mixing)[:straight])

    @property
    def count(self) -> int:
        """How many coefficients the surface has."""
        return len(self.mixing)

    def terms(self, shares: Floats) -> Floats:
        """Return the orthonormal terms at points of shape (points, parts)."""
        return scheffe(_scaled(self.flat.inside(shares), self.flat)) @ self.mixing

    def prior(self, new: int, given: Floats) -> Floats:
        """Return the precision that is lent where distinct pours are fewer than coefficients, else zeros.

        As DuMouchel and Jones (1994, Technometrics 36, 37–47) lend it to terms that are
        possible but not certain: curvature of one note's scatter (root mean square over
        the region) for each bent term; and for fewer pours than straight terms, slopes
        of about three.

        Parameters
        ----------
        new
            How many distinct compositions the plan will add.
        given : array of shape (pours, coefficients)
            Terms of what has been poured.
        """
        precision = np.zeros((self.count, self.count))
        if new + _rank(given) < self.count:
            bent = np.arange(self.straight, self.count)
            precision[bent, bent] = _CURVATURE
        if new + _rank(given[:, : self.straight]) < self.straight:
            slopes = np.eye(self.straight) - np.outer(self.level, self.level)
            precision[: self.straight, : self.straight] = _SLOPE * slopes
        return precision


def _scaled(coordinates: Floats, flat: Flat) -> Floats:
    """Return coordinates in a flat as d + 1 pseudo-parts that sum to 1 and reach alike in all directions."""
    parts = len(flat.axes) + 1
    centring = np.eye(parts) - 1 / parts
    directions = np.linalg.qr(centring[:, : parts - 1])[0]
    return 1 / parts + (coordinates / flat.reach) @ directions.T


def _rank(terms: Floats) -> int:
    return int(np.linalg.matrix_rank(terms, tol=1e-3)) if len(terms) else 0
