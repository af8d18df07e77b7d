"""The set curve: how a poured stick hardens (or softens) with the hours."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.texture.terms import Sites

Floats = NDArray[np.float64]


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
