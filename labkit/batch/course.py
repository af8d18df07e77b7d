"""The course of a cooling pot: down to a plateau, along it, and on; and when it comes to a temperature."""

from dataclasses import dataclass
from typing import Self

import numpy as np

from labkit.batch.asked import Floats

LEVEL = (0.025, 0.975)


class When(float):
    """Minutes on the clock of the readings, with what they may be.

    Attributes
    ----------
    low, high : float [min]
        95 % limits.
    left, left_low, left_high : float [min]
        The same after the latest reading, never below 0.
    why : str
        What it rests on, where that is not the curve alone.

    Examples
    --------
    >>> when = When(12.0, 10.0, 15.0, last=4.0)
    >>> when + 0.0, when.low, when.left_high
    (12.0, 10.0, 11.0)
    """

    low: float
    high: float
    left: float
    left_low: float
    left_high: float
    why: str

    def __new__(cls, value: float, low: float, high: float, last: float = 0.0, why: str = "") -> Self:
        """Make it from a time, its limits, and the time of the latest reading."""
        made = super().__new__(cls, value)
        made.low, made.high, made.why = low, high, why
        made.left, made.left_low, made.left_high = (max(each - last, 0.0) for each in (value, low, high))
        return made


@dataclass(frozen=True, eq=False)
class Leg:
    """Newton's law from a time on; each of shape (courses,). `start` is °C above the room at `since`."""

    since: Floats
    tau: Floats
    room: Floats
    start: Floats

    def celsius(self, minutes: Floats) -> Floats:
        """Return °C, shape (courses, minutes); minutes are the same for all courses, or a row for each."""
        with np.errstate(over="ignore"):
            fallen = np.exp(-(minutes - self.since[:, None]) / self.tau[:, None])
            found: Floats = self.room[:, None] + self.start[:, None] * fallen
        return found

    def some(self, count: int) -> "Leg":
        """Return about so many of them, evenly chosen."""
        step = max(len(self.tau) // count, 1)
        return Leg(self.since[::step], self.tau[::step], self.room[::step], self.start[::step])

    def crosses(self, celsius: float) -> Floats:
        """Return when it comes, or came, down to a temperature, shape (courses,): inf for never."""
        above = celsius - self.room
        with np.errstate(divide="ignore", invalid="ignore"):
            taken = np.nan_to_num(self.tau * np.log(self.start / above))
        return np.where(above > 0.0, self.since + taken, np.inf)

    def until(self, celsius: float) -> Floats:
        """Return the same from `since` on: what it stood below already is its start."""
        return np.maximum(self.crosses(celsius), self.since)

    def from_level(self, level: float, since: Floats) -> "Leg":
        """Return the same pace and room from a temperature on."""
        return Leg(since, self.tau, self.room, level - self.room)


@dataclass(frozen=True, eq=False)
class Path:
    """One or many courses: before the plateau, its level and end, and after it; no plateau has level −inf."""

    before: Leg
    level: float
    ends: Floats
    after: Leg

    def celsius(self, minutes: Floats) -> Floats:
        """Return °C, shape (courses, minutes)."""
        cooled = np.maximum(self.before.celsius(minutes), self.level)
        return np.where(minutes > self.ends[:, None], self.after.celsius(minutes), cooled)

    def some(self, count: int) -> "Path":
        """Return about so many of them, evenly chosen."""
        step = max(len(self.ends) // count, 1)
        return Path(self.before.some(count), self.level, self.ends[::step], self.after.some(count))

    def until(self, celsius: float) -> Floats:
        """Return when it comes down to a temperature, shape (courses,)."""
        if celsius >= self.level:
            return self.before.until(celsius)
        return np.where(np.isfinite(self.ends), np.maximum(self.after.crosses(celsius), self.ends), np.inf)


def straight(leg: Leg) -> Path:
    """Return a path without a plateau."""
    return Path(leg, -np.inf, np.full(len(leg.tau), np.inf), leg)


def held(before: Leg, level: float, lasts: Floats) -> Path:
    """Return a path that stands at a level as long as was told, and goes on at the same pace."""
    ends = before.until(level) + lasts
    return Path(before, level, ends, before.from_level(level, ends))


def resumed(before: Leg, level: float, after: Leg) -> Path:
    """Return a path that stands at a level until a leg that was seen comes down from it."""
    return Path(before, level, np.maximum(after.crosses(level), before.until(level)), after)


@dataclass(frozen=True, eq=False)
class Course:
    """How the pot went and will go.

    Attributes
    ----------
    minutes, readings : ndarray
    since_min, last_min : float
        When the latest cooling begins, and the latest reading.
    point, draws : Path
        The estimate, and what it may be.
    """

    minutes: Floats
    readings: Floats
    since_min: float
    last_min: float
    point: Path
    draws: Path

    def celsius(self, minutes: Floats) -> Floats:
        """Return °C: the readings, joined, before the latest cooling; the curve from there on."""
        joined = np.interp(minutes, self.minutes, self.readings)
        return np.where(minutes < self.since_min, joined, self.point.celsius(minutes)[0])

    def until(self, celsius: float) -> When:
        """Return when the pot comes down to a temperature."""
        value = float(self.point.until(celsius)[0])
        low, high = limits(self.draws.until(celsius))
        if celsius < self.point.level and np.isinf(self.point.ends[0]):
            leg = self.draws.before
            at_once = leg.from_level(self.point.level, np.full(len(leg.tau), self.last_min))
            low = limits(at_once.until(celsius))[0]
        return When(value, low, high, self.last_min, self._why(celsius, value))

    def _why(self, celsius: float, value: float) -> str:
        room = float(self.point.before.room[0])
        if celsius <= room:
            return f"It never gets to {celsius:g} °C: the room is at {room:.0f} °C."
        if np.isinf(value):
            return (
                f"It stands at about {self.point.level:.0f} °C while it sets. How long that lasts "
                "cannot be told from these readings; the earliest time is if it ended now."
            )
        if celsius < self.point.level and self.point.ends[0] > self.last_min:
            return (
                f"It will stand at about {self.point.level:.0f} °C while it sets, counted as long as "
                "the last time; that may be half or twice as long."
            )
        if value <= self.since_min:
            return f"It stood at or below {celsius:g} °C when its latest cooling began."
        return ""


def limits(draws: Floats) -> tuple[float, float]:
    """Return the 95 % limits of draws, some of which may be inf."""
    low, high = np.quantile(draws, LEVEL, method="inverted_cdf")
    return float(low), float(high)
