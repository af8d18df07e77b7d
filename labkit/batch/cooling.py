"""The cooling curve of a pot: how fast it cools, where it sets, and how long it takes to a temperature."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from labkit.batch.asked import Floats, read_array, read_celsius
from labkit.batch.course import Course, Leg, Path, When, held, limits, resumed, straight
from labkit.batch.newton import DRAWS, Pace
from labkit.batch.pieces import Fitted, fit_pieces
from labkit.batch.stretches import slips
from labkit.errors import LabError

WARMEST_ROOM_C = 45.0
HOLD_LOG_SD = 0.35
"""A plateau lasts as long as the one before it, or half, or twice as long (a judgement, no source)."""

_NORMAL_95 = 1.959964


@dataclass(frozen=True, eq=False)
class CoolingFit:
    """A fitted cooling curve.

    Attributes
    ----------
    tau_min : float [min]
        Time constant of Newton's law: after one τ the pot is 37 % as far above the room as before.
    room_c : float [°C]
        As given, or estimated.
    plateau_c : float or None [°C]
        Level of the latest crystallisation plateau; None where none was seen.
    stderr : dict
        By the names tau_min, room_c and start_c: ±1.96 of it holds the truth 95 times in 100,
        so it allows for few readings, for neighbours that err alike, and for a room that nobody
        read. 0 for a room that was given.
    limits : dict of (low, high)
        95 % limits by those names; uneven about the estimate where the readings say little.
    start_c : float [°C]
        Where the latest cooling starts.
    reading_sd : float [°C]
        Scatter of a reading about the curve.
    left_out : tuple of int
        Readings (from 0) that no law of cooling rests on: slips, reheats, plateaus, outliers.
    notes : tuple of str
        What was seen and left out, in words.
    """

    tau_min: float
    room_c: float
    plateau_c: float | None
    stderr: dict[str, float]
    limits: dict[str, tuple[float, float]]
    start_c: float
    reading_sd: float
    left_out: tuple[int, ...]
    notes: tuple[str, ...]
    course: Course = field(repr=False)

    @property
    def since_min(self) -> float:
        """Minutes at which the latest cooling begins."""
        return self.course.since_min

    @property
    def last_min(self) -> float:
        """Minutes at the latest reading."""
        return self.course.last_min

    def celsius_at(self, minutes: ArrayLike) -> Any:
        """Return °C at minutes on the clock of the readings: a number, or an array of the same shape.

        From the latest cooling on the fitted curve; before it the readings, joined by straight lines.
        """
        asked = _asked_minutes(minutes)
        found = self.course.celsius(np.atleast_1d(asked).ravel())
        return float(found[0]) if asked.ndim == 0 else found.reshape(asked.shape)

    def limits_at(self, minutes: ArrayLike) -> tuple[Floats, Floats]:
        """Return the 95 % limits of the curve (not of a reading) from the latest cooling on."""
        drawn = self.course.draws.celsius(np.atleast_1d(_asked_minutes(minutes)))
        low, high = np.quantile(drawn, [0.025, 0.975], axis=0)
        return low, high

    def minutes_until(self, celsius: float) -> When:
        """Return when the pot comes down to a temperature: minutes on the clock of the readings.

        A number with `.low` and `.high` (95 %), `.left` (minutes after the latest reading, never below
        0) and `.why`. inf where it never gets there; the start of the latest cooling where it stood
        below already.

        Raises
        ------
        LabError
            For no number, or a temperature that no melt has.
        """
        return self.course.until(float(read_celsius([celsius], "the temperature asked for")[0]))


def fit_cooling(minutes: ArrayLike, celsius: ArrayLike, room_c: float | None = None) -> CoolingFit:
    """Fit Newton's law of cooling to readings of a pot, plateaus and reheats left out.

    T = room + (start − room)·exp(−t/τ). A rise beyond 2 °C is a reheat and begins a new stretch; all
    stretches share τ and the room. While fat sets it gives off heat and the temperature stands still:
    that plateau is found and left out, and what cools after it counts only where it cools at the same
    pace (F test). Chances come from the profile likelihood of τ; a room that nobody read counts as
    21 ± 7 °C beside what the readings say.

    Parameters
    ----------
    minutes : array_like [min], shape (n,)
        On any clock that does not go back.
    celsius : array_like [°C], shape (n,)
    room_c : float [°C], optional
        The room, read beside the pot and out of its warmth: the best way to a narrow band.

    Raises
    ------
    LabError
        Fewer than three readings (two with a given room), a clock that goes back, figures that may be
        in °F, a pot that does not cool, or a room as warm as the pot.

    Examples
    --------
    >>> clock = np.arange(0.0, 16.0, 2.0)
    >>> fit = fit_cooling(clock, 22.0 + 53.0 * np.exp(-clock / 12.0), room_c=22.0)
    >>> round(fit.tau_min, 3), round(fit.minutes_until(60.0), 2)
    (12.0, 3.99)
    """
    clock, readings = _read(minutes, celsius)
    room = _read_room(room_c, readings)
    slipped = slips(readings)
    kept = np.flatnonzero(~slipped)
    fitted = fit_pieces(clock[kept], readings[kept], room)
    course = _course(fitted, clock[kept], readings[kept])
    left_out = set(range(len(clock))) - {int(kept[row]) for row in fitted.rows()}
    notes = _notes(fitted, int(slipped.sum()), clock[kept])
    return _result(fitted, course, room, tuple(sorted(left_out)), notes)


# ---- what was given --------------------------------------------------------------


def _asked_minutes(minutes: ArrayLike) -> Floats:
    asked = np.asarray(minutes, dtype=float)
    if not np.isfinite(asked).all():
        raise LabError("The curve is asked for at minutes that are no number. Give minutes, such as 12.5.")
    return asked


def _read(minutes: ArrayLike, celsius: ArrayLike) -> tuple[Floats, Floats]:
    clock, readings = read_array(minutes, "minutes"), read_celsius(celsius)
    if len(clock) != len(readings):
        raise LabError(f"There are {len(clock)} times and {len(readings)} temperatures. Give one for each.")
    if not len(clock):
        raise LabError("There are no readings yet. Give times and temperatures.")
    back = np.flatnonzero(np.diff(clock) < 0)
    if len(back):
        row = int(back[0]) + 1
        raise LabError(
            f"The clock goes back at reading {row + 1}: {clock[row]:g} min after {clock[row - 1]:g} min. "
            "Put the readings in order, or mend the time."
        )
    return clock, readings


def _read_room(room_c: float | None, readings: Floats) -> float | None:
    if room_c is None:
        return None
    room = float(read_celsius([room_c], "the room")[0])
    if room > WARMEST_ROOM_C:
        raise LabError(
            f"the room: {room:g} °C is too warm for a room. If that is °F, give {(room - 32) / 1.8:.0f} °C."
        )
    if readings.max() <= room + 1.0:
        raise LabError(
            f"The pot, at most {readings.max():g} °C, is no warmer than the room of {room:g} °C. "
            "Look at both again."
        )
    return room


# ---- what follows ----------------------------------------------------------------


def _course(fitted: Fitted, minutes: Floats, celsius: Floats) -> Course:
    latest = len(fitted.spans) - 1
    number = next(n for n, piece in enumerate(fitted.pieces) if piece.span == latest and not piece.after)
    before = _legs(fitted.pace, number, minutes[fitted.pieces[number].rows[0]])
    point, draws = (_path(fitted, leg, minutes, celsius) for leg in before)
    return Course(minutes, celsius, float(before[0].since[0]), float(minutes[-1]), point, draws)


def _legs(pace: Pace, number: int, since: float) -> tuple[Leg, Leg]:
    """Return the estimate and the draws of one piece."""
    tau, room, start = pace.draws
    at = np.full(DRAWS, since)
    one = Leg(at[:1], np.array([pace.tau]), np.array([pace.room]), pace.start[number : number + 1])
    return one, Leg(at, tau, room, start[:, number])


def _path(fitted: Fitted, leg: Leg, minutes: Floats, celsius: Floats) -> Path:
    """Return the path of the latest cooling, for the estimate or for the draws."""
    latest, one = fitted.spans[-1], len(leg.tau) == 1
    seen = [span.plateau for span in fitted.spans if span.plateau]
    if not seen:
        return straight(leg)
    first, last = seen[-1]
    level = float(celsius[first : last + 1].mean())
    if latest.plateau is None:
        if celsius[-1] <= level:
            return straight(leg)
        return held(leg, level, (minutes[last] - minutes[first]) * _factors(len(leg.tau)))
    if last == latest.stop - 1:
        return held(leg, level, np.full(len(leg.tau), np.inf))
    found = _seen_after(fitted, minutes)
    if found is None:
        ends = np.full(len(leg.tau), minutes[last])
        return Path(leg, level, ends, leg.from_level(level, ends))
    return resumed(leg, level, found[0] if one else found[1])


def _factors(count: int) -> Floats:
    """Return by how much a plateau lasts longer than the one before it."""
    if count == 1:
        return np.ones(1)
    return np.exp(HOLD_LOG_SD * np.random.default_rng(2).standard_normal(count))


def _seen_after(fitted: Fitted, minutes: Floats) -> tuple[Leg, Leg] | None:
    """Return how it cools after the latest plateau, where there are readings enough."""
    if fitted.own:
        piece, pace = fitted.own
        return _legs(pace, 0, minutes[piece.rows[0]])
    for number, piece in enumerate(fitted.pieces):
        if piece.after and piece.span == len(fitted.spans) - 1:
            return _legs(fitted.pace, number, minutes[piece.rows[0]])
    return None


def _result(
    fitted: Fitted, course: Course, room: float | None, left_out: tuple[int, ...], notes: tuple[str, ...]
) -> CoolingFit:
    pace, leg = fitted.pace, course.draws.before
    drawn = {"tau_min": leg.tau, "room_c": leg.room, "start_c": leg.room + leg.start}
    spread = {name: limits(each) for name, each in drawn.items()}
    stderr = {name: (high - low) / (2.0 * _NORMAL_95) for name, (low, high) in spread.items()}
    level = _plateau_level(fitted, course.readings)
    start = float(course.point.before.room[0] + course.point.before.start[0])
    return CoolingFit(pace.tau, pace.room, level, stderr, spread, start, pace.sd, left_out, notes, course)


def _plateau_level(fitted: Fitted, readings: Floats) -> float | None:
    seen = [span.plateau for span in fitted.spans if span.plateau]
    return float(readings[seen[-1][0] : seen[-1][1] + 1].mean()) if seen else None


def _notes(fitted: Fitted, slipped: int, minutes: Floats) -> tuple[str, ...]:
    found = []
    if slipped:
        found.append(f"{slipped} reading{'s' * (slipped > 1)} far off both neighbours left out.")
    if len(fitted.spans) > 1:
        found.append(f"It was reheated: {len(fitted.spans)} coolings were read at one pace.")
    for span in fitted.spans:
        if span.plateau:
            first, last = (minutes[each] for each in span.plateau)
            found.append(f"It stood still from {first:.0f} to {last:.0f} min while it set; that is left out.")
    if fitted.own:
        found.append("After it stood still it cools at another pace than before: heat was still given off.")
    return tuple(found)
