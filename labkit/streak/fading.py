"""How streaks fade: a hidden amount that falls by the round, and grades that read it with scatter.

The hidden amount, in steps of a grade, is z(t) = start − rate·t, t rounds after the first. As a
grade's steps are steps of a ratio of what is seen, that is an exponential decay of streaks. A
look reads z with normal scatter: grade ≥ k has the chance Φ((z − k + ½)/scatter), an ordinal
(cumulative) probit: McCullagh (1980), J. R. Statist. Soc. B 42, 109.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from labkit.streak.rounds import MOST, Course

Floats = NDArray[np.float64]

START = (3.0, 1.0)
"""Mean and standard deviation of what a pigment's usual start is, in grades."""
START_SPREAD = (0.4, 0.8, 1.4)
"""Standard deviations of the start from one trial to the next, taken as equally likely."""
RATE = (np.log(0.6), 0.7)
"""The same for the natural logarithm of the rate, in grades a round."""
RATE_SPREAD = (0.15, 0.35, 0.7)
SCATTER = (np.log(0.5), 0.4)
"""The same for the natural logarithm of the scatter of a look, in grades."""

_REACH = 3.0  # standard deviations
_STARTS, _RATES, _SCATTERS, _USUAL = 41, 41, 7, 9


@dataclass(frozen=True, eq=False)
class Grid:
    """Points of the quadrature: evenly spaced, so that a sum over them is the trapezoidal rule.

    ``by_start`` and ``by_rate`` hold normal densities over the points for each usual value and
    spread, rows adding to 1; ``prior`` their joint weight, and ``scatter_weight`` that of the scatters.
    """

    start: Floats
    log_rate: Floats
    scatter: Floats
    by_start: Floats
    by_rate: Floats
    prior: Floats
    scatter_weight: Floats


@cache
def grid() -> Grid:
    """Return the quadrature's points and prior weights."""
    start = _line(START, START_SPREAD[-1], _STARTS)
    log_rate = _line(RATE, RATE_SPREAD[-1], _RATES)
    log_scatter = np.linspace(-2.2, 2.2, _SCATTERS) * SCATTER[1] + SCATTER[0]
    by_start, start_weight = _densities(start, START, START_SPREAD)
    by_rate, rate_weight = _densities(log_rate, RATE, RATE_SPREAD)
    return Grid(
        start, log_rate, np.exp(log_scatter), by_start, by_rate,
        np.outer(start_weight, rate_weight), _weights(log_scatter, SCATTER[0], SCATTER[1]),
    )  # fmt: skip


def _line(usual: tuple[float, float], spread: float, count: int) -> Floats:
    wide = _REACH * float(np.hypot(usual[1], spread))
    return np.linspace(usual[0] - wide, usual[0] + wide, count)


def _weights(points: Floats, mean: float, sd: float) -> Floats:
    density = np.exp(-0.5 * ((points - mean) / sd) ** 2)
    return np.asarray(density / density.sum())


def _densities(points: Floats, usual: tuple[float, float], spreads: Sequence[float]) -> tuple[Floats, Floats]:
    means = np.linspace(-2.5, 2.5, _USUAL) * usual[1] + usual[0]
    rows = [_weights(points, mean, spread) for mean in means for spread in spreads]
    weight = np.repeat(_weights(means, *usual), len(spreads)) / len(spreads)
    return np.stack(rows), weight


def chance_seen(amount: Floats, scatter: Floats | float, grade: int = 1) -> Floats:
    """Return the chance that a look gives this grade or more: Φ((amount − grade + ½)/scatter)."""
    from scipy.special import ndtr

    return np.asarray(ndtr((amount - grade + 0.5) / scatter))


def amount_after(rounds: float) -> Floats:
    """Return start − rate·rounds at the points, shape (1, starts, rates)."""
    points = grid()
    return points.start[:, None] - rounds * np.exp(points.log_rate)[None, :]


@cache
def log_chance(after: int, grade: int) -> Floats:
    """Return the log-chance of a grade at the points, shape (scatters, starts, rates)."""
    amount, scatter = amount_after(after)[None], grid().scatter[:, None, None]
    above = chance_seen(amount, scatter, grade) if grade > 0 else np.ones(())
    higher = chance_seen(amount, scatter, grade + 1) if grade < MOST else np.zeros(())
    return np.asarray(np.log(np.maximum(above - higher, 1e-300)))


def likelihood(course: Course) -> Floats:
    """Return the likelihood of a course at the points, up to a factor, shape (scatters, starts, rates)."""
    points = grid()
    log = np.zeros((len(points.scatter), len(points.start), len(points.log_rate)))
    for after, grade in zip(course.rounds.tolist(), course.grades.tolist(), strict=True):
        log += log_chance(after, grade)
    return np.asarray(np.exp(log - log.max()))


def prior_of(earlier: Sequence[Course]) -> Floats:
    """Return what earlier courses of a pigment say of its next, shape (scatters, starts, rates), sum 1.

    A trial's start and log-rate scatter about the pigment's usual ones. The usual values,
    the spreads and the scatter of a look are all summed over (no estimate is put in for them).
    """
    points = grid()
    log = np.log(points.scatter_weight)[:, None, None] + np.log(points.prior)[None]
    for course in earlier:
        told = points.by_start @ likelihood(course) @ points.by_rate.T
        log = log + np.log(np.maximum(told, 1e-300))
    weight = np.exp(log - log.max())
    return np.asarray(points.by_start.T @ (weight / weight.sum()) @ points.by_rate)


@dataclass(frozen=True, eq=False)
class Outlook:
    """What is to be expected of a pigment: weights at the points, shape (scatters, starts, rates), sum 1."""

    weight: Floats
    last: int

    def chance(self, more: int = 0) -> float:
        """Return the chance that another look, so many rounds on, would still show a streak."""
        return float((self.weight * self._chances(more)).sum())

    def limits(self, level: float = 0.9) -> tuple[float, float]:
        """Return the equal-tailed interval of that chance after the last round."""
        chances = self._chances(0).ravel()
        order = np.argsort(chances)
        below = np.cumsum(self.weight.ravel()[order])
        at = np.searchsorted(below / below[-1], [(1 - level) / 2, (1 + level) / 2])
        low, high = chances[order[np.minimum(at, len(order) - 1)]].tolist()
        return low, high

    def rounds_to_go(self, limit: float, most: int) -> float:
        """Return the fewest rounds after which the chance is under the limit; inf for more than `most`."""
        if self.chance(most) >= limit:
            return float("inf")
        low, high = -1, most
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if self.chance(middle) < limit else (middle, high)
        return float(high)

    def _chances(self, more: int) -> Floats:
        return chance_seen(amount_after(self.last + more)[None], grid().scatter[:, None, None])


def outlook(course: Course, earlier: Sequence[Course] = ()) -> Outlook:
    """Return what a course and earlier ones tell of a pigment."""
    weight = prior_of(earlier) * likelihood(course)
    return Outlook(weight / weight.sum(), course.last)
