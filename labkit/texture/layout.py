"""Which unknown stands where: casts, what hours and hands add, sticks, the scale of readings, thresholds."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from labkit.texture.setting import SET_BY_H, late, left_to_set
from labkit.texture.touch import Touch

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]

_MOST_PACED = 100  # casts; of more, none gets a pace of its own


@dataclass(frozen=True)
class Layout:
    """The order of the unknowns.

    Hardness of each set cast; the start (how much a fresh stick differs); the slow change; what
    single casts add to the start; testers; reference sticks; α and β of readings; thresholds.

    Attributes
    ----------
    casts, words : int
    paced : int ndarray
        Casts with a pace of their own: those felt before they had set.
    testers, sticks : int
    scaled : bool
        Whether there are readings.
    """

    casts: int
    words: int
    paced: Ints = field(default_factory=lambda: np.empty(0, int))
    testers: int = 0
    sticks: int = 0
    scaled: bool = False

    @property
    def start(self) -> int:
        """Where the start stands; the slow change follows it."""
        return self.casts

    @property
    def first_pace(self) -> int:
        """Where paces begin."""
        return self.casts + 2

    @property
    def hidden(self) -> int:
        """How many unknowns any hardness depends on: all before the testers."""
        return self.first_pace + len(self.paced)

    @property
    def first_stick(self) -> int:
        """Where sticks begin, after the testers."""
        return self.hidden + self.testers

    @property
    def scale(self) -> int:
        """Where α stands; β follows it."""
        return self.first_stick + self.sticks

    @property
    def first_edge(self) -> int:
        """Where thresholds begin."""
        return self.scale + (2 if self.scaled else 0)

    @property
    def size(self) -> int:
        """How many unknowns there are."""
        return self.first_edge + self.words - 1

    def felt(self, cast: Ints, hours: Floats, rate_per_h: Floats, tester: Ints | None = None) -> Touch:
        """Return what rows feel of casts at hours by testers' hands.

        Parameters
        ----------
        cast : int ndarray, shape (rows,)
        hours : ndarray, shape (rows,) [h]
        rate_per_h : ndarray, shape (priors,)
        tester : int ndarray, shape (rows,), optional
            −1 for nobody in particular.
        """
        columns, factors = [cast], [np.ones((1, len(cast)))]

        def add(column: Ints, factor: Floats) -> None:
            if factor.any():
                columns.append(column)
                factors.append(factor)

        left, at = left_to_set(hours, rate_per_h[:, None]), np.zeros_like(cast)
        add(at + self.start, left)
        add(at + self.start + 1, late(hours)[None])
        place, own = self._paces()
        add(place[cast], left * own[cast])
        if tester is not None and self.testers:
            add(np.maximum(self.hidden + tester, 0), (tester >= 0).astype(float)[None])
        return Touch(columns, factors)

    def _paces(self) -> tuple[Ints, Floats]:
        """Return where each cast's pace stands, and 1 where it has one, both (casts,)."""
        place, own = np.zeros(self.casts, int), np.zeros(self.casts)
        place[self.paced] = self.first_pace + np.arange(len(self.paced))
        own[self.paced] = 1.0
        return place, own

    def stick(self, number: Ints, chosen: NDArray[np.bool_]) -> Touch:
        """Return what rows feel of sticks where they are chosen."""
        return Touch([np.maximum(self.first_stick + number, 0)], [chosen.astype(float)[None]])


def find_paced(cast: Ints, hours: Floats) -> Ints:
    """Return the casts that were felt before they had set, or none where those are very many.

    After 48 hours paces have died away: at most 0.06 of them are left.
    """
    early = np.unique(cast[hours < SET_BY_H])
    return early if len(early) <= _MOST_PACED else early[:0]
