"""The set curve of one pour and the search for its rate: the rest is linear and solved at each rate."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, minimize_scalar

Floats = NDArray[np.float64]

SAME = 1e-9  # of the range: differences that only rounding makes


def set_curve(hours: ArrayLike, start: float, final: float, rate_per_h: float) -> Floats:
    """Return start + (final − start)·(1 − exp(−rate·hours)).

    Examples
    --------
    >>> set_curve([0.0, 1e9], 1.0, 4.0, 0.1).tolist()
    [1.0, 4.0]
    """
    return start - (final - start) * np.expm1(-rate_per_h * np.asarray(hours, float))


def later_curve(hours: ArrayLike, rate_per_h: float) -> Floats:
    """Return (1 − exp(−rate·hours))/rate, a later change of slope 1 at first; rate 0 is hours itself.

    Examples
    --------
    >>> later_curve([0.0, 2.0], 0.0).tolist()
    [0.0, 2.0]
    """
    at = np.asarray(hours, float)
    return at if rate_per_h == 0.0 else -np.expm1(-rate_per_h * at) / rate_per_h


@dataclass(frozen=True)
class Later:
    """A slower change that goes the other way: per_h·(1 − exp(−rate·hours))/rate.

    Attributes
    ----------
    per_h : float [hardness/h]
        Its slope at first; below 0 where the stick softens later.
    rate_per_h : float [1/h]
        How fast it dies down; 0 where a straight drift is all that can be told.
    """

    per_h: float
    rate_per_h: float

    @property
    def change(self) -> float:
        """What it adds in the end [hardness]; infinite for a straight drift."""
        return self.per_h / self.rate_per_h if self.rate_per_h else float(np.copysign(np.inf, self.per_h))

    def at(self, hours: ArrayLike) -> Floats:
        """Return what it adds at these hours."""
        return self.per_h * later_curve(hours, self.rate_per_h)


@dataclass(frozen=True)
class Seen:
    """The readings, and the hardness at the pour where it is given."""

    hours: Floats
    hardness: Floats
    start: float | None

    @property
    def nothing(self) -> float:
        """A residual sum of squares that rounding alone makes."""
        known = self.hardness if self.start is None else np.append(self.hardness, self.start)
        return float(len(self.hours) * (SAME * np.ptp(known)) ** 2)

    @property
    def first_known(self) -> float:
        """Hours at which hardness is first known: 0 for a given start, else the first reading."""
        return float(self.hours.min()) if self.start is None else 0.0

    @property
    def first_gap(self) -> float:
        """Hours from there to the next reading."""
        return float(self.hours[self.hours > self.first_known].min() - self.first_known)


@dataclass(frozen=True)
class Found:
    """Rates and, given these, the best [start, final, slope of the later change]."""

    rates: Floats
    drift: bool
    linear: Floats
    rss: float

    @property
    def later(self) -> Later | None:
        """The later change, where one is part of the fit."""
        if len(self.linear) < 3:
            return None
        return Later(float(self.linear[2]), 0.0 if self.drift else float(self.rates[1]))

    def values(self, seen: Seen) -> int:
        """How many values were fitted."""
        return len(self.linear) + len(self.rates) - (seen.start is not None)


def basis(hours: Floats, rates: Floats, drift: bool) -> Floats:
    """Return what start, final and the later slope are multiplied by, shape (readings, 2 or 3)."""
    left = np.exp(-rates[0] * hours)
    columns = [left, -np.expm1(-rates[0] * hours)]
    if drift or len(rates) == 2:
        columns.append(later_curve(hours, 0.0 if drift else rates[1]))
    return np.stack(columns, axis=1)


def solve(seen: Seen, rates: Floats, drift: bool = False) -> Found:
    """Return the best fit at these rates: linear least squares on scaled columns."""
    columns, wanted = basis(seen.hours, rates, drift), seen.hardness
    if seen.start is not None:
        wanted = wanted - seen.start * columns[:, 0]
        columns = columns[:, 1:]
    scale = np.linalg.norm(columns, axis=0)
    scale[scale == 0.0] = 1.0
    linear = np.linalg.lstsq(columns / scale, wanted, rcond=1e-14)[0] / scale
    off = wanted - columns @ linear
    if seen.start is not None:
        linear = np.append(seen.start, linear)
    return Found(rates, drift, linear, float(off @ off))


def derivatives(seen: Seen, found: Found) -> Floats:
    """Return the derivatives by the fitted values: start, final, later slope, then the log rates."""
    hours, rates = seen.hours, found.rates
    columns = basis(hours, rates, found.drift)
    rise = found.linear[1] - found.linear[0]
    bends = [rise * rates[0] * hours * np.exp(-rates[0] * hours)]
    if len(rates) == 2:
        gone = later_curve(hours, rates[1])
        bends.append(found.linear[2] * (hours * np.exp(-rates[1] * hours) - gone))
    return np.column_stack([columns[:, seen.start is not None :], *bends])


def rate_range(seen: Seen, points: int) -> Floats:
    """Return log rates from 0.1 % of the change in all the hours to all of it in the first gap."""
    return np.linspace(np.log(1e-3 / seen.hours.max()), np.log(40.0 / seen.first_gap), points)


def best_rate(seen: Seen) -> float:
    """Return the rate of the plain curve with the least squares, over all of `rate_range`."""
    grid = rate_range(seen, 160)

    def rss(log_rate: float) -> float:
        return solve(seen, np.exp([log_rate])).rss

    best = int(np.argmin([rss(each) for each in grid]))
    around = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
    return float(np.exp(minimize_scalar(rss, bounds=around, method="bounded").x))


def polish(seen: Seen, rates: Floats, drift: bool = False) -> Found:
    """Take Gauss–Newton steps in the log rates, the rest solved anew, until nothing moves."""
    found = solve(seen, rates, drift)
    for _ in range(100):
        jacobian = derivatives(seen, found)
        scale = np.linalg.norm(jacobian, axis=0)
        if not scale.all():
            return found
        off = seen.hardness - basis(seen.hours, found.rates, drift) @ found.linear
        step = (np.linalg.lstsq(jacobian / scale, off, rcond=1e-14)[0] / scale)[-len(rates) :]
        better = _shorten(seen, found, np.clip(step, -1.0, 1.0))
        if better is None or np.abs(step).max() < 1e-13:
            return found
        found = better
    return found


def _shorten(seen: Seen, found: Found, step: Floats) -> Found | None:
    """Halve the step until it does no harm; None where no step does good."""
    for halvings in range(12):
        tried = solve(seen, found.rates * np.exp(step / 2.0**halvings), found.drift)
        if tried.rss <= found.rss * (1.0 + 1e-13):
            return tried
    return None


def standard_errors(seen: Seen, found: Found, dof: int) -> list[float]:
    """Return √(rss/dof·diag((JᵀJ)⁻¹)) in the order of `derivatives`, by rate and not by its logarithm."""
    jacobian = derivatives(seen, found)
    if not dof:
        return [np.inf] * jacobian.shape[1]
    jacobian[:, -len(found.rates) :] /= found.rates
    scale = np.linalg.norm(jacobian, axis=0)
    inverse = np.linalg.pinv(jacobian / scale)
    return (np.sqrt(found.rss / dof * (inverse**2).sum(axis=1)) / scale).tolist()


def rate_limits(seen: Seen, rate: float, limit: float) -> tuple[float, float]:
    """Return where the profile passes the limit either side of the best rate: 0 or inf if it never does."""

    def over(log_rate: float) -> float:
        return solve(seen, np.exp([log_rate])).rss - limit

    least, most = rate_range(seen, 2)
    best = float(np.log(rate))
    low = 0.0 if over(least) <= 0.0 else float(np.exp(brentq(over, least, best, xtol=1e-12)))
    high = np.inf if over(most) <= 0.0 else float(np.exp(brentq(over, best, most, xtol=1e-12)))
    return low, high
