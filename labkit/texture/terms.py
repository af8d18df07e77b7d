"""Gaussian terms whose sum is the hidden hardness in rungs.

A term gives a prior mean and a covariance between sites; every effect of the model
is one. Sizes may be arrays over sets of priors: results have those as first axis.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]


def _not_given() -> NDArray:
    return np.empty(0)


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
    load : ndarray, shape (sites,)
        Pigment, mass fraction of the finished product; 0 where it is not given.
    day : int ndarray, shape (sites,)
        Which day it was poured; −1, and where it is not given, for a fresh one.
    trial : int ndarray, shape (sites,)
        Which earlier trial; −1, and where it is not given, for one's own.
    """

    shares: Floats
    hours: Floats
    pour: Ints
    load: Floats = field(default_factory=_not_given)
    day: Ints = field(default_factory=_not_given)
    trial: Ints = field(default_factory=_not_given)

    def __post_init__(self) -> None:
        for name, usual in (("load", 0.0), ("day", -1), ("trial", -1)):
            if not len(getattr(self, name)):
                object.__setattr__(self, name, np.full(len(self.shares), usual))

    def __len__(self) -> int:
        return len(self.shares)

    def take(self, rows: slice | Ints) -> "Sites":
        """Return some of the sites."""
        return Sites(*(getattr(self, each)[rows] for each in self.__dataclass_fields__))


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
    """The effect of each part: (x(share) − x(centre))·β, β ~ N(lean, sd² + extra²).

    x(share) = share, straight; or, of a part that saturates under a finite half,
    (usual + half)²/half · share/(share + half): a rectangular hyperbola that at the usual share
    is as steep as the straight effect, below it steeper and above it flatter.

    Attributes
    ----------
    centre : ndarray, shape (parts,)
        Shares at which the effect is nil.
    lean : ndarray, shape (parts,)
        Prior mean of β [rungs per unit of share].
    sd : ndarray, shape (priors,)
    extra : ndarray, shape (parts,)
        Further sd of β for parts that are known to matter more.
    saturates : bool ndarray, shape (parts,)
    half : ndarray, shape (priors,)
        Share by which half of what a part can ever do is done; inf for a straight effect.
    usual : float
        Share at which β is the steepness.
    """

    centre: Floats
    lean: Floats
    sd: Floats
    extra: Floats
    saturates: NDArray[np.bool_]
    half: Floats
    usual: float

    def _moved(self, at: Sites) -> tuple[Floats, NDArray[np.intp]]:
        """Return x(share) − x(centre) for each half, (halves, sites, parts), and which half a set has."""
        halves, which = np.unique(self.half, return_inverse=True)
        steeper = [np.where(self.saturates, self._steeper(at, half), 1.0) for half in halves]
        return (at.shares - self.centre) * np.stack(steeper), which

    def _steeper(self, at: Sites, half: float) -> Floats:
        """Return how much steeper than straight the effect is on average from the centre to each share."""
        if np.isinf(half):
            return np.ones_like(at.shares)
        return (self.usual + half) ** 2 / ((at.shares + half) * (self.centre + half))

    def mean(self, at: Sites) -> Floats:
        """Return (x(share) − x(centre))·lean, shape (priors, sites)."""
        moved, which = self._moved(at)
        return (moved @ self.lean)[which]

    def covariance(self, a: Sites, b: Sites) -> Floats:
        """Return Σ (sd² + extra²)·moved of a·moved of b, shape (priors, sites of a, sites of b)."""
        (from_a, which), (from_b, _) = self._moved(a), self._moved(b)
        across = np.swapaxes(from_b, 1, 2)
        alike, more = from_a @ across, (from_a * self.extra**2) @ across
        return self.sd[:, None, None] ** 2 * alike[which] + more[which]

    def variance(self, at: Sites) -> Floats:
        """Return Σ (sd² + extra²)·moved², shape (priors, sites)."""
        moved, which = self._moved(at)
        squares = moved**2
        return self.sd[:, None] ** 2 * squares.sum(axis=2)[which] + (squares @ self.extra**2)[which]


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
        """Return sd² between sites that share it, shape (priors, sites of a, sites of b)."""
        return self.sd[:, None, None] ** 2 * alike(self.shared(a), self.shared(b))

    def shared(self, at: Sites) -> NDArray[np.int_]:
        """Return which cast each site is of, shape (sites,)."""
        return at.pour

    def variance(self, at: Sites) -> Floats:
        """Return sd², shape (priors, sites)."""
        return np.repeat(self.sd[:, None] ** 2, len(at), axis=1)


class Day(Cast):
    """What all that is poured on one day shares and the next day does not; as `Cast`."""

    def shared(self, at: Sites) -> NDArray[np.int_]:
        """Return which day each site was poured on, shape (sites,)."""
        return at.day


@dataclass(frozen=True)
class Load:
    """A straight effect of pigment: (load − centre)·γ, γ ~ N(lean, sd²).

    Attributes
    ----------
    centre : float
        Load at which the effect is nil [mass fraction of the finished product].
    lean, sd : float
        Of γ [rungs per unit of mass fraction].
    """

    centre: float
    lean: float
    sd: float

    def mean(self, at: Sites) -> Floats:
        """Return (load − centre)·lean, shape (1, sites)."""
        return ((at.load - self.centre) * self.lean)[None]

    def covariance(self, a: Sites, b: Sites) -> Floats:
        """Return sd²·(load − centre)·(load − centre), shape (1, sites of a, sites of b)."""
        return (self.sd**2 * np.outer(a.load - self.centre, b.load - self.centre))[None]

    def variance(self, at: Sites) -> Floats:
        """Return sd²·(load − centre)², shape (1, sites)."""
        return (self.sd**2 * (at.load - self.centre) ** 2)[None]


@dataclass(frozen=True)
class Offset:
    """What each earlier trial differs by from one's own: a level and a straight effect of the parts.

    level + (shares − centre)·β, level ~ N(0, level_sd²), β ~ N(0, slope_sd²) in every part,
    another for every trial and nil in one's own.

    Attributes
    ----------
    centre : ndarray, shape (parts,)
    level_sd : ndarray, shape (trials,)
        In rungs.
    slope_sd : ndarray, shape (trials,)
        In rungs per unit of share.
    """

    centre: Floats
    level_sd: Floats
    slope_sd: Floats

    def mean(self, at: Sites) -> Floats:
        """Return 0, shape (1, sites)."""
        return np.zeros((1, len(at)))

    def _sizes(self, at: Sites) -> tuple[Floats, Floats]:
        earlier = at.trial >= 0
        return self.level_sd[at.trial] * earlier, self.slope_sd[at.trial] * earlier

    def covariance(self, a: Sites, b: Sites) -> Floats:
        """Return it between sites of one earlier trial, shape (1, sites of a, sites of b)."""
        (level_a, slope_a), (level_b, slope_b) = self._sizes(a), self._sizes(b)
        straight = (a.shares - self.centre) @ (b.shares - self.centre).T
        return (
            (np.outer(level_a, level_b) + np.outer(slope_a, slope_b) * straight) * alike(a.trial, b.trial)
        )[None]

    def variance(self, at: Sites) -> Floats:
        """Return its diagonal, shape (1, sites)."""
        level, slope = self._sizes(at)
        return (level**2 + slope**2 * ((at.shares - self.centre) ** 2).sum(axis=1))[None]


def alike(a: Ints, b: Ints) -> NDArray[np.bool_]:
    """Return whether two sites are of one cast, day or trial, numbered from 0, shape (of a, of b)."""
    return (a[:, None] == b) & (a[:, None] >= 0)


def prior_mean(terms: Sequence[Term], at: Sites) -> Floats:
    """Return the summed prior mean, shape (priors or 1, sites)."""
    return sum((term.mean(at) for term in terms), np.zeros((1, len(at))))


def prior_covariance(terms: Sequence[Term], a: Sites, b: Sites) -> Floats:
    """Return the summed prior covariance, shape (priors or 1, sites of a, sites of b)."""
    return sum((term.covariance(a, b) for term in terms), np.zeros((1, len(a), len(b))))


def prior_variance(terms: Sequence[Term], at: Sites) -> Floats:
    """Return the summed prior variance, shape (priors or 1, sites)."""
    return sum((term.variance(at) for term in terms), np.zeros((1, len(at))))
