"""Which readings of a cooling log follow Newton's law: slips, reheats and crystallisation are found here."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.batch.newton import ROOM_SD_C, SENSOR_SD_C, USUAL_ROOM_C, squares

Floats = NDArray[np.float64]

RISE_C = 2.0
"""A rise beyond this is a reheat; less may be the melt's own warmth as it sets (a judgement, no source)."""
SLIP_C, SURE_C = 2.5, 6.0
"""A single reading this far off both its neighbours may be a slip, and is one; a rise beyond the second is
a reheat however the readings scatter (a judgement, no source)."""
FLAT = 0.4
"""On a plateau it cools at less than this share of its usual pace (a judgement, no source)."""
MISSED_C = 2.0
"""A plateau keeps the pot this much warmer than its usual pace would have it (a judgement, no source)."""
MOST_READINGS = 150

_EVIDENCE = 12.0  # BIC; beyond 10 is "very strong" (Kass and Raftery 1995); so few even curves are cut
_SD_FLOOR_C = 0.05
_SHORTEST = 3  # readings on a plateau, before it and after it
_TAUS = 40


@dataclass(frozen=True)
class Span:
    """Readings `first` to `stop` (not with it) that cool, and those of them that stand on a plateau."""

    first: int
    stop: int
    plateau: tuple[int, int] | None = None


def scatter(celsius: Floats) -> float:
    """Return how readings scatter [°C], told from second differences, which a smooth curve hardly has.

    >>> round(scatter(np.array([70.0, 68.0, 66.0, 64.0, 62.0])), 6)
    0.0
    """
    if len(celsius) < 4:
        return 0.0
    bends = np.diff(celsius, 2)
    return float(1.4826 * np.median(np.abs(bends)) / np.sqrt(6.0))


def slips(celsius: Floats) -> NDArray[np.bool_]:
    """Return which readings lie far off both neighbours while these agree, such as a probe lifted out.

    The peak of a reheat is none: it lies on the line of the two readings after it.

    >>> slips(np.array([70.0, 69.0, 40.0, 67.0, 66.0])).tolist()
    [False, False, True, False, False]
    >>> slips(np.array([60.0, 70.0, 74.0, 70.0, 66.0])).any()
    np.False_
    """
    found = np.zeros(len(celsius), dtype=bool)
    if len(celsius) < 3:
        return found
    before, here, after = celsius[:-2], celsius[1:-1], celsius[2:]
    limit = min(max(SLIP_C, 8.0 * scatter(celsius)), SURE_C)
    off = np.minimum(np.abs(here - before), np.abs(here - after))
    outside = (here - before) * (here - after) > 0
    found[1:-1] = outside & (off > limit) & (np.abs(after - before) < off)
    onward = 2.0 * celsius[1:-1] - celsius[2:]
    found[:-2] &= np.abs(celsius[:-2] - onward) > limit
    found[2:] &= np.abs(celsius[2:] - (2.0 * celsius[1:-1] - celsius[:-2])) > limit
    return found


def thinned(minutes: Floats, celsius: Floats) -> tuple[Floats, Floats]:
    """Return at most `MOST_READINGS` readings: a dense log is averaged over short times."""
    if len(minutes) <= MOST_READINGS:
        return minutes, celsius
    edges = np.linspace(minutes[0], minutes[-1], MOST_READINGS + 1)
    block = np.clip(np.searchsorted(edges, minutes, side="right") - 1, 0, MOST_READINGS - 1)
    _, block, count = np.unique(block, return_inverse=True, return_counts=True)
    return np.bincount(block, minutes) / count, np.bincount(block, celsius) / count


def cooling_spans(celsius: Floats) -> list[Span]:
    """Return the stretches in which it cools: each begins at a peak and ends where a reheat begins.

    >>> cooling_spans(np.array([70.0, 65.0, 60.0, 66.0, 71.0, 67.0, 62.0]))
    [Span(first=0, stop=3, plateau=None), Span(first=4, stop=7, plateau=None)]
    """
    rise = min(max(RISE_C, 8.0 * scatter(celsius)), SURE_C)
    found, peak, low, falling, warmed = list[Span](), 0, 0, False, False
    for here, reading in enumerate(celsius):
        if falling:
            low = here if reading <= celsius[low] else low
            if reading > celsius[low] + rise:
                found.append(Span(peak, low + 1))
                peak, falling, warmed = here, False, True
        elif reading > celsius[peak] + (0.0 if warmed else rise):
            peak, warmed = here, True
        elif reading < celsius[peak] - rise / 2:
            low, falling = here, True
    return [*found, Span(peak, len(celsius))]


def find_plateau(minutes: Floats, celsius: Floats, room_c: float | None) -> tuple[int, int] | None:
    """Return the first and last reading of a crystallisation plateau; None where there is none.

    Every run of three or more readings is tried as a straight line of its own that cools at less than
    0.4 of the usual pace, with Newton's law before and after; the best is taken where it explains the
    readings clearly better (Bayesian information criterion) than the law alone.
    """
    count = len(minutes)
    if count < 2 * _SHORTEST:
        return None
    guess = USUAL_ROOM_C if room_c is None else room_c
    held = np.inf if room_c is not None else (SENSOR_SD_C / ROOM_SD_C) ** 2
    above, clock = celsius - guess, minutes - minutes[0]
    tau, fine = (clock[-1] * np.geomspace(1 / 15, 30.0, steps) for steps in (_TAUS, 20 * _TAUS))
    first, last = np.triu_indices(count, _SHORTEST - 1)
    used = (first >= _SHORTEST) & ((last == count - 1) | (last < count - _SHORTEST))
    first, last = first[used], last[used]
    law, pace, room = _law_around(clock, above, tau, first, last, held)
    level, slope, line = _lines(clock, above, first, last)
    lasts = clock[last] - clock[first]
    whole = _law_around(clock, above, fine, np.array([count]), np.array([count - 1]), held)[0][0]
    sd = np.sqrt((law + line) / count + _SD_FLOOR_C**2)
    missed = (level - room) * -np.expm1(-lasts / pace)
    stands = (
        (slope > -FLAT * (level - room) / pace) & (missed > np.maximum(MISSED_C, 5.0 * sd)) & (level > room)
    )
    values = 3.0 + np.where(last == count - 1, 4.0, 7.0)
    score = _score(law + line, count) + values * np.log(count)
    score[~stands] = np.inf
    best = int(np.argmin(score))
    if not score[best] + _EVIDENCE < _score(whole, count) + 3.0 * np.log(count):
        return None
    return int(first[best]), int(last[best])


def _score(rss: Floats, count: int) -> Floats:
    found: Floats = count * np.log(rss / count + _SD_FLOOR_C**2)
    return found


def _law_around(
    clock: Floats, above: Floats, tau: Floats, first: NDArray[np.intp], last: NDArray[np.intp], held: float
) -> tuple[Floats, Floats, Floats]:
    """Return squares, τ and room of the law fitted to what lies before `first` and after `last`."""
    E = np.exp(-clock / tau[:, None])
    rows = [np.ones_like(E), E, E * E, above * np.ones_like(E), above * E, above**2 * np.ones_like(E)]
    grown = np.pad(np.cumsum(rows, axis=2), ((0, 0), (0, 0), (1, 0)))
    before, after = grown[:, :, first], grown[:, :, -1:] - grown[:, :, last + 1]
    parts = zip(_without_start(*before), _without_start(*after), strict=True)
    rss, room_sum, room_weight = (one + other for one, other in parts)
    left = squares(rss, room_sum, room_weight, held)
    best = left.argmin(axis=0)
    room = room_sum / np.maximum(room_weight + held, 1e-300)
    each = np.arange(len(first))
    return left[best, each], tau[best], room[best, each]


def _without_start(
    n: Floats, e: Floats, ee: Floats, t: Floats, te: Floats, tt: Floats
) -> tuple[Floats, Floats, Floats]:
    safe = np.where(ee > 1e-200, ee, 1.0)
    return tt - te**2 / safe, t - e * te / safe, np.maximum(n - e**2 / safe, 0.0)


def _lines(
    clock: Floats, above: Floats, first: NDArray[np.intp], last: NDArray[np.intp]
) -> tuple[Floats, Floats, Floats]:
    """Return level, slope and squares of a straight line through each run of readings."""
    rows = [np.ones_like(clock), clock, clock**2, above, above * clock, above**2]
    grown = np.pad(np.cumsum(rows, axis=1), ((0, 0), (1, 0)))
    n, x, xx, y, xy, yy = grown[:, last + 1] - grown[:, first]
    spread = np.maximum(xx - x**2 / n, 1e-12)
    slope = (xy - x * y / n) / spread
    return y / n, slope, np.maximum(yy - y**2 / n - slope**2 * spread, 0.0)
