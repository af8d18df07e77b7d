"""Newton's law of cooling fitted to stretches of readings that share one pace and one room.

T = room + A·exp(−(t − t₀)/τ), each stretch with its own A. For one τ the room and every A follow
by linear least squares (variable projection), so all that is searched is τ.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

Floats = NDArray[np.float64]
Stretch = tuple[Floats, Floats]
"""Minutes and °C of the readings of one stretch."""

USUAL_ROOM_C, ROOM_SD_C = 21.0, 7.0
"""What a room may be where nobody read it (a judgement, no source)."""
SENSOR_SD_C = 0.3
"""How a kitchen thermometer repeats, counted as one reading's worth (a judgement, no source)."""
DRAWS = 1000

_STEPS = 200
_ZOOMS = 4
_DROPPED = 25.0  # log of a chance beyond which a pace is not looked at


@dataclass(frozen=True, eq=False)
class Sums:
    """What the readings of one stretch say for each τ, shape (taus,); temperatures above the guessed room.

    With E = exp(−(t − t₀)/τ): `te` Σ TE, `e` Σ E, `ee` Σ E²; after A is left out, `room_sum`/`room_weight`
    is the room and `rss` the squares left at the guessed room.
    """

    te: Floats
    e: Floats
    ee: Floats
    room_sum: Floats
    room_weight: Floats
    rss: Floats


def sums(minutes: Floats, above: Floats, tau: Floats) -> Sums:
    """Return the sums of one stretch for each of several τ."""
    E = np.exp(-(minutes - minutes[0]) / tau[:, None])
    te, e, ee = E @ above, E.sum(axis=1), (E * E).sum(axis=1)
    room_sum = above.sum() - e * te / ee
    room_weight = np.maximum(len(minutes) - e**2 / ee, 0.0)
    return Sums(te, e, ee, room_sum, room_weight, above @ above - te**2 / ee)


def squares(rss: Floats, room_sum: Floats, room_weight: Floats, held: float) -> Floats:
    """Return the sum of squares with the room at its best; `held` is the weight of the guessed room."""
    weight = np.maximum(room_weight + held, 1e-300)
    return np.maximum(rss - room_sum**2 / weight, 0.0)


@dataclass(frozen=True, eq=False)
class Pace:
    """The fitted law, and draws of what it may be.

    Attributes
    ----------
    tau, room : float
    start : ndarray, shape (stretches,)
        °C above the room at each stretch's first reading.
    draws : tuple of ndarray
        τ (draws,), room (draws,), start (draws, stretches).
    sd : float
        Scatter of a reading [°C].
    since : ndarray, shape (stretches,)
        Minutes at each stretch's first reading.
    """

    tau: float
    room: float
    start: Floats
    draws: tuple[Floats, Floats, Floats]
    sd: float
    since: Floats

    def celsius(self, number: int, minutes: Floats) -> Floats:
        """Return °C on the curve of one stretch."""
        found: Floats = self.room + self.start[number] * np.exp(-(minutes - self.since[number]) / self.tau)
        return found


class Law:
    """The law of cooling for given stretches; `room_c` None where nobody read it."""

    def __init__(self, stretches: Sequence[Stretch], room_c: float | None) -> None:
        self.guess = USUAL_ROOM_C if room_c is None else room_c
        self.given = room_c is not None
        self.stretches = [(minutes, celsius - self.guess) for minutes, celsius in stretches]
        self.count = sum(len(minutes) for minutes, _ in stretches)
        self.dof = max(self.count - len(stretches) - 1 - (not self.given), 0)
        self.held = np.inf if self.given else 1e-12

    def of(self, log_tau: Floats) -> list[Sums]:
        """Return the sums of each stretch."""
        return [sums(minutes, above, np.exp(log_tau)) for minutes, above in self.stretches]

    def left(self, log_tau: Floats) -> Floats:
        """Return the sum of squares for each ln τ."""
        return squares(*_added(self.of(log_tau)), held=self.held)

    def least(self) -> float:
        """Return the least sum of squares."""
        return float(self.left(np.array([self.best()]))[0])

    def least_apart(self, first: int) -> float:
        """Return the least sum of squares where the first stretches have one τ, and the rest another."""
        found = self.of(np.linspace(*self.range(), _STEPS))
        one, other = _added(found[:first]), _added(found[first:])
        both = [each[:, None] + beside for each, beside in zip(one, other, strict=True)]
        return float(squares(both[0], both[1], both[2], held=self.held).min())

    def range(self) -> tuple[float, float]:
        """Return the limits of ln τ: from a fraction of the readings' span to many times it."""
        span = max(float(minutes[-1] - minutes[0]) for minutes, _ in self.stretches)
        return float(np.log(span / 25.0)), float(np.log(span * 100.0))

    def best(self) -> float:
        """Return the ln τ of least squares."""
        low, high = self.range()
        grid = np.linspace(low, high, _STEPS)
        near = grid[int(np.argmin(self.left(grid)))]
        step = grid[1] - grid[0]
        found = minimize_scalar(
            lambda each: float(self.left(np.array([each]))[0]),
            bounds=(near - step, near + step),
            method="bounded",
            options={"xatol": 1e-10},
        )
        return float(found.x)

    def fit(self) -> Pace:
        """Return the law of least squares and what it may be."""
        best = self.best()
        if not self.given:
            left = float(self.left(np.array([best]))[0])
            scatter = left / self.dof if self.dof else SENSOR_SD_C**2
            self.held = max(scatter / ROOM_SD_C**2, 1e-12)
            best = self.best()
        return self._spread(best)

    def _spread(self, best: float) -> Pace:
        at = np.array([best])
        least = float(self.left(at)[0])
        room, start = self._rest(at)
        residuals = self._residuals(float(np.exp(best)), float(room[0]), start[0])
        likeness = _likeness(residuals, self.count)
        freedom = self.dof / likeness + 1.0
        variance = likeness * (least + SENSOR_SD_C**2) / (self.dof + 1.0)
        log_tau = self._draw_log_tau(least, variance, freedom)
        rng = np.random.default_rng(1)
        deviation = np.sqrt(variance * freedom / rng.chisquare(freedom, DRAWS))
        rooms, starts = self._rest(log_tau, rng, deviation)
        draws = (np.exp(log_tau), self.guess + rooms, starts)
        sd = float(np.sqrt(variance / likeness))
        return Pace(float(np.exp(best)), self.guess + float(room[0]), start[0], draws, sd, self._since())

    def _draw_log_tau(self, least: float, variance: float, freedom: float) -> Floats:
        """Return even draws of ln τ: the profile likelihood with the scatter left out (a t shape)."""
        low, high = self.range()
        for _ in range(_ZOOMS):
            grid = np.linspace(low, high, 2 * _STEPS)
            excess = np.maximum(self.left(grid) - least, 0.0)
            log_chance = -(freedom + 1.0) / 2.0 * np.log1p(excess / (freedom * variance))
            log_chance -= log_chance.max()
            kept = np.flatnonzero(log_chance > -_DROPPED)
            low = float(grid[max(kept[0] - 1, 0)])
            high = float(grid[min(kept[-1] + 1, len(grid) - 1)])
        grown = np.cumsum(np.exp(log_chance))
        drawn: Floats = np.interp((np.arange(DRAWS) + 0.5) / DRAWS, grown / grown[-1], grid)
        return drawn

    def _rest(
        self, log_tau: Floats, rng: np.random.Generator | None = None, deviation: Floats | float = 0.0
    ) -> tuple[Floats, Floats]:
        """Return the room above its guess and every start, at their best or drawn about it."""
        found = self.of(log_tau)
        _, room_sum, room_weight = _added(found)
        weight = room_weight + self.held
        room = room_sum / weight

        def off(weight: Floats) -> Floats | float:
            return 0.0 if rng is None else rng.standard_normal(len(log_tau)) * deviation / np.sqrt(weight)

        room = room + off(weight)
        start = [(each.te - room * each.e) / each.ee + off(each.ee) for each in found]
        return room, np.column_stack(start)

    def _since(self) -> Floats:
        return np.array([minutes[0] for minutes, _ in self.stretches])

    def _residuals(self, tau: float, room: float, start: Floats) -> list[Floats]:
        return [
            above - room - first * np.exp(-(minutes - minutes[0]) / tau)
            for (minutes, above), first in zip(self.stretches, start, strict=True)
        ]


def _added(found: list[Sums]) -> tuple[Floats, Floats, Floats]:
    """Return squares, room and its weight of several stretches together."""
    rss = np.sum([each.rss for each in found], axis=0)
    room_sum = np.sum([each.room_sum for each in found], axis=0)
    return rss, room_sum, np.sum([each.room_weight for each in found], axis=0)


def _likeness(residuals: list[Floats], count: int) -> float:
    """Return by how much neighbours that err alike widen the variance: (1 + ρ)/(1 − ρ), at least 1.

    ρ is the correlation of neighbours, mended for what the fit takes off it, (1 + 4ρ)/n (Marriott and Pope
    1954); one that chance alone may give (2/√n) counts as none.
    """
    along = sum(float(each[1:] @ each[:-1]) for each in residuals)
    total = sum(float(each @ each) for each in residuals)
    rho = along / total if total > 1e-12 * count else 0.0
    if rho < 2.0 / np.sqrt(count):
        return 1.0
    rho = min(rho + (1.0 + 4.0 * rho) / count, 0.97)
    return (1.0 + rho) / (1.0 - rho)
