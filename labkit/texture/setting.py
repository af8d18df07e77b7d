"""The set curve: how a poured stick hardens (or softens) with the hours, and each one at its own pace."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from labkit.texture.terms import Floats, Ints, Sites, alike

SET_BY_H = 48.0  # by then most sticks have set (common practice, no source)


def left_to_set(hours: ArrayLike, rate_per_h: ArrayLike) -> Floats:
    """Return the share of the change that is still to come: exp(−rate·hours).

    Parameters
    ----------
    hours : array_like [h]
        Since the pour; inf for a set stick.
    rate_per_h : array_like [1/h]
        Above 0; broadcast against `hours`.

    Examples
    --------
    >>> left_to_set([0.0, np.inf], 0.2).tolist()
    [1.0, 0.0]
    """
    return np.exp(-np.asarray(rate_per_h, float) * np.asarray(hours, float))


def late(hours: ArrayLike) -> Floats:
    """Return how late it is: ln(hours/48) after 48 hours, else 0; 0 too for a set stick (inf).

    Examples
    --------
    >>> late([3.0, 48.0, 672.0, np.inf]).round(2).tolist()
    [0.0, 0.0, 2.64, 0.0]
    """
    at = np.asarray(hours, float)
    return np.log(np.clip(np.where(np.isfinite(at), at, 0.0) / SET_BY_H, 1.0, None))


@dataclass(frozen=True)
class SetCurve:
    """A change shared by the trial: −D·exp(−rate·hours), D ~ N(change, sd²) in rungs.

    D may come out negative, so a stick that softens with the hours is not ruled out.

    Attributes
    ----------
    change, sd : float
        How many rungs a stick gains from pouring to set, and how unsure that is
        beforehand.
    rate_per_h : ndarray, shape (priors,)
    """

    change: float
    sd: float
    rate_per_h: Floats

    def _left(self, at: Sites) -> Floats:
        return left_to_set(at.hours, self.rate_per_h[:, None])

    def mean(self, at: Sites) -> Floats:
        """Return −change·exp(−rate·hours), shape (priors, sites)."""
        return -self.change * self._left(at)

    def covariance(self, a: Sites, b: Sites) -> Floats:
        """Return sd²·exp(−rate·(hours + hours)), shape (priors, sites of a, sites of b)."""
        return self.sd**2 * self._left(a)[:, :, None] * self._left(b)[:, None, :]

    def with_start(self, at: Sites) -> Floats:
        """Return the covariance with the start, −D, the value at 0 hours; shape (priors, sites, 1)."""
        return self.sd**2 * self._left(at)[..., None]

    def variance(self, at: Sites) -> Floats:
        """Return sd²·exp(−2·rate·hours), shape (priors, sites)."""
        return self.sd**2 * self._left(at) ** 2


@dataclass(frozen=True)
class Late:
    """A slow change shared by the trial once sticks have set: s·ln(hours/48) after 48 hours, s ~ N(0, sd²).

    It goes either way: fats that are rich in oil may soften again with the weeks.

    Attributes
    ----------
    sd : float
        In rungs for every 2.7-fold time.
    """

    sd: float

    def mean(self, at: Sites) -> Floats:
        """Return 0, shape (1, sites)."""
        return np.zeros((1, len(at)))

    def covariance(self, a: Sites, b: Sites) -> Floats:
        """Return sd²·late·late, shape (1, sites of a, sites of b)."""
        return (self.sd**2 * np.outer(late(a.hours), late(b.hours)))[None]

    def with_own(self, at: Sites) -> Floats:
        """Return the covariance with s, shape (1, sites, 1)."""
        return (self.sd**2 * late(at.hours))[None, :, None]

    def variance(self, at: Sites) -> Floats:
        """Return sd²·late², shape (1, sites)."""
        return (self.sd**2 * late(at.hours) ** 2)[None]


@dataclass(frozen=True)
class Pace:
    """What a cast's change differs by from the trial's: d·exp(−rate·hours), d ~ N(0, sd²) for each cast.

    Attributes
    ----------
    sd : float
        In rungs.
    rate_per_h : ndarray, shape (priors,)
    """

    sd: float
    rate_per_h: Floats

    def _left(self, at: Sites) -> Floats:
        return left_to_set(at.hours, self.rate_per_h[:, None])

    def mean(self, at: Sites) -> Floats:
        """Return 0, shape (1, sites)."""
        return np.zeros((1, len(at)))

    def covariance(self, a: Sites, b: Sites) -> Floats:
        """Return it between sites of one cast, shape (priors, sites of a, sites of b)."""
        return self.sd**2 * self._left(a)[:, :, None] * self._left(b)[:, None, :] * alike(a.pour, b.pour)

    def with_own(self, at: Sites, casts: Ints) -> Floats:
        """Return the covariance with d of each of the casts, shape (priors, sites, casts)."""
        return self.sd**2 * self._left(at)[:, :, None] * alike(at.pour, casts)

    def variance(self, at: Sites) -> Floats:
        """Return sd²·exp(−2·rate·hours), shape (priors, sites)."""
        return self.sd**2 * self._left(at) ** 2
