"""What is held possible before a note is read: a few settings of the sizes, averaged over."""

from dataclasses import dataclass, field, fields, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def _not_given() -> Floats:
    return np.empty(0)


@dataclass(frozen=True)
class Priors:
    """Sets of prior sizes, one entry of each array per set; all of shape (priors,).

    Attributes
    ----------
    note_sd : ndarray
        Scatter of one note about the hardness of its cast [rungs].
    cast_sd : ndarray
        Scatter of casts of one composition [rungs].
    slope_sd : ndarray
        Straight effect of a part [rungs per unit of share].
    bend_sd : ndarray
        Size of what is not straight [rungs].
    length : ndarray
        Distance over which that turns [share].
    rate_per_h : ndarray
        Rate of the set curve [1/h].
    day_sd : ndarray
        Scatter of days [rungs]; 0 where it is not given.
    reading_sd : ndarray
        Noise of one reading with an instrument [rungs]; 0.3 where it is not given.
    half : ndarray
        Share by which a part that hardens has done half of what it ever can; inf, and where it
        is not given, for an effect that is straight.
    """

    note_sd: Floats
    cast_sd: Floats
    slope_sd: Floats
    bend_sd: Floats
    length: Floats
    rate_per_h: Floats
    day_sd: Floats = field(default_factory=_not_given)
    reading_sd: Floats = field(default_factory=_not_given)
    half: Floats = field(default_factory=_not_given)

    def __post_init__(self) -> None:
        for name, usual in (("day_sd", 0.0), ("reading_sd", 0.3), ("half", np.inf)):
            if not len(getattr(self, name)):
                object.__setattr__(self, name, np.full(len(self.note_sd), usual))

    def __len__(self) -> int:
        return len(self.note_sd)

    def take(self, keep: NDArray[np.int_]) -> "Priors":
        """Return the sets numbered in `keep`."""
        return Priors(**{each.name: getattr(self, each.name)[keep] for each in fields(self)})

    def of_surface(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return the first set of each surface, and which surface each set has; others differ in scatter."""
        sizes = (self.slope_sd, self.bend_sd, self.length, self.rate_per_h, self.half)
        _, firsts, which = np.unique(np.column_stack(sizes), axis=0, return_index=True, return_inverse=True)
        return firsts, which.ravel()

    def with_days(self, ratios: tuple[float, ...] = (0.25, 0.8)) -> "Priors":
        """Return every set with each scatter of days over that of notes (judgement without a source)."""
        sets = self._each(len(ratios))
        return replace(sets, day_sd=np.tile(ratios, len(self)) * sets.note_sd)

    def with_readings(self, sizes: tuple[float, ...] = (0.1, 0.17, 0.29, 0.5, 0.85)) -> "Priors":
        """Return every set with each noise of a reading [rungs].

        Judgement without a source. Near one another, for repeats tell the noise on the
        log scale, and with it how many rungs that is tells the scale.
        """
        return replace(self._each(len(sizes)), reading_sd=np.tile(sizes, len(self)))

    def _each(self, times: int) -> "Priors":
        return self.take(np.repeat(np.arange(len(self)), times))


def grid_of_priors(
    note_sd: tuple[float, ...] = (0.35, 0.65, 1.2, 2.0),
    cast_ratio: tuple[float, ...] = (0.5, 1.0),
    slope_sd: tuple[float, ...] = (2.5, 10.0),
    bend: tuple[tuple[float, float], ...] = ((0.3, 0.25), (0.3, 0.12)),
    rate_per_h: tuple[float, ...] = (0.06, 0.2, 0.6),
    half: tuple[float, ...] = (np.inf, 0.05),
) -> Priors:
    """Return every combination of the sizes given, all alike beforehand.

    The sizes are judgement without a source: wide enough that a ladder of three to seven
    words may span a region or a corner of it, and tried on simulated makers
    (tests/bench/makers.py), where none of them matters much by itself.

    Parameters
    ----------
    note_sd, slope_sd, rate_per_h, half : tuple of float
        As in `Priors`.
    cast_ratio : tuple of float
        Cast scatter over note scatter.
    bend : tuple of (sd, length)

    Examples
    --------
    >>> len(grid_of_priors(note_sd=(0.5, 1.0), rate_per_h=(0.2,)))
    32
    """
    sets = product(note_sd, cast_ratio, slope_sd, bend, rate_per_h, half)
    rows = [[note, ratio * note, slope, *bend, rate, most] for note, ratio, slope, bend, rate, most in sets]
    note, cast, slope, size, length, rate, most = np.array(rows).T
    return Priors(note, cast, slope, size, length, rate, half=most)
