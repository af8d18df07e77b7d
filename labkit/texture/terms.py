"""Gaussian terms whose sum is the hidden hardness in rungs.

A term gives a prior mean and a covariance between sites; every effect of the model
is one. Sizes may be arrays over sets of priors: results have those as first axis.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Sites:
    """Where hardness is asked for.

    Attributes
    ----------
    shares : ndarray, shape (sites, parts)
        Mass fractions summing to 1.
    hours : ndarray, shape (sites,)
        Hours since the pour; inf for a set stick.
    pour : int ndarray, shape (sites,)
        Which cast; −1 for one that is still to be poured.
    """

    shares: Floats
    hours: Floats
    pour: NDArray[np.int_]

    def __len__(self) -> int:
        return len(self.shares)


class Term(Protocol):
    """One Gaussian effect on hardness [rungs]."""

    def mean(self, at: Sites) -> Floats:
        """Return the prior mean, shape (priors or 1, sites)."""

    def covariance(self, a: Sites, b: Sites) -> Floats:
        """Return the prior covariance, shape (priors or 1, sites of a, sites of b)."""

    def variance(self, at: Sites) -> Floats:
        """Return the diagonal of the covariance, shape (priors or 1, sites)."""


@dataclass(frozen=True)
class Level:
    """The hardness in the middle of what was poured: mean and sd in rungs."""

    middle: float
    sd: float

    def mean(self, at: Sites) -> Floats:
        """Return the same mean everywhere, shape (1, sites)."""
        return np.full((1, len(at)), self.middle)

    def covariance(self, a: Sites, b: Sites) -> Floats:
        """Return sd² everywhere, shape (1, sites of a, sites of b)."""
        return np.full((1, len(a), len(b)), self.sd**2)

    def variance(self, at: Sites) -> Floats:
        """Return sd² everywhere, shape (1, sites)."""
        return np.full((1, len(at)), self.sd**2)


@dataclass(frozen=True)
class Slope:
    """A straight effect of each part: (shares − centre)·β, β ~ N(lean, sd² + extra²).

    Attributes
    ----------
    centre : ndarray, shape (parts,)
        Shares at which the effect is nil.
    lean : ndarray, shape (parts,)
        Prior mean of β [rungs per unit of share].
    sd : ndarray, shape (priors,)
    extra : ndarray, shape (parts,)
        Further sd of β for parts that are known to matter more.
    """

    centre: Floats
    lean: Floats
    sd: Floats
    extra: Floats

    def mean(self, at: Sites) -> Floats:
        """Return (shares − centre)·lean, shape (1, sites)."""
        return ((at.shares - self.centre) @ self.lean)[None]

    def covariance(self, a: Sites, b: Sites) -> Floats:
        """Return Σ (sd² + extra²)·(a − centre)·(b − centre), shape (priors, sites of a, sites of b)."""
        from_a, from_b = a.shares - self.centre, b.shares - self.centre
        return self.sd[:, None, None] ** 2 * (from_a @ from_b.T) + (from_a * self.extra**2) @ from_b.T

    def variance(self, at: Sites) -> Floats:
        """Return Σ (sd² + extra²)·(shares − centre)², shape (priors, sites)."""
        squares = (at.shares - self.centre) ** 2
        return self.sd[:, None] ** 2 * squares.sum(axis=1) + squares @ self.extra**2


@dataclass(frozen=True)
class Bend:
    """What is not straight: a Gaussian process, sd²·exp(−distance²/(2·length²)) on the shares.

    Attributes
    ----------
    sd : ndarray, shape (priors,)
        Size in rungs.
    length : ndarray, shape (priors,)
        Distance over which it turns [share].
    """

    sd: Floats
    length: Floats

    def mean(self, at: Sites) -> Floats:
        """Return 0, shape (1, sites)."""
        return np.zeros((1, len(at)))

    def covariance(self, a: Sites, b: Sites) -> Floats:
        """Return the squared exponential, shape (priors, sites of a, sites of b)."""
        square = (a.shares**2).sum(axis=1)[:, None] + (b.shares**2).sum(axis=1) - 2.0 * a.shares @ b.shares.T
        lengths, which = np.unique(self.length, return_inverse=True)
        shape = np.exp(-0.5 * np.maximum(square, 0.0) / lengths[:, None, None] ** 2)
        return self.sd[:, None, None] ** 2 * shape[which]

    def variance(self, at: Sites) -> Floats:
        """Return sd², shape (priors, sites)."""
        return np.repeat(self.sd[:, None] ** 2, len(at), axis=1)


@dataclass(frozen=True)
class Cast:
    """What all pieces of one cast share and the next cast of the same parts does not.

    Attributes
    ----------
    sd : ndarray, shape (priors,)
        In rungs.
    """

    sd: Floats

    def mean(self, at: Sites) -> Floats:
        """Return 0, shape (1, sites)."""
        return np.zeros((1, len(at)))

    def covariance(self, a: Sites, b: Sites) -> Floats:
        """Return sd² between sites of one cast, shape (priors, sites of a, sites of b)."""
        same = (a.pour[:, None] == b.pour) & (a.pour[:, None] >= 0)
        return self.sd[:, None, None] ** 2 * same

    def variance(self, at: Sites) -> Floats:
        """Return sd², shape (priors, sites)."""
        return np.repeat(self.sd[:, None] ** 2, len(at), axis=1)


def prior_mean(terms: Sequence[Term], at: Sites) -> Floats:
    """Return the summed prior mean, shape (priors or 1, sites)."""
    return sum((term.mean(at) for term in terms), np.zeros((1, len(at))))


def prior_covariance(terms: Sequence[Term], a: Sites, b: Sites) -> Floats:
    """Return the summed prior covariance, shape (priors or 1, sites of a, sites of b)."""
    return sum((term.covariance(a, b) for term in terms), np.zeros((1, len(a), len(b))))


def prior_variance(terms: Sequence[Term], at: Sites) -> Floats:
    """Return the summed prior variance, shape (priors or 1, sites)."""
    return sum((term.variance(at) for term in terms), np.zeros((1, len(at))))
