"""All that was seen of a trial's casts, by number, as likelihood rows of the unknowns."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.texture.comparisons import NOISE, Compared, ComparisonRows
from labkit.texture.laplace import Rows
from labkit.texture.layout import Layout, find_paced
from labkit.texture.ordered import NoteRows
from labkit.texture.priors import Priors
from labkit.texture.readings import ReadingRows, Readings
from labkit.texture.touch import Touch

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]


@dataclass(frozen=True)
class Notes:
    """Notes about casts.

    Attributes
    ----------
    cast, rung : int ndarray, shape (notes,)
        Which cast, and which word (0 the softest).
    hours : ndarray, shape (notes,)
        Since the pour [h]; inf for a set stick.
    tester : int ndarray, shape (notes,)
        Who felt it; −1 for nobody in particular.
    weight : ndarray, shape (notes,)
        How much it counts; below 1 in earlier trials.
    """

    cast: Ints
    rung: Ints
    hours: Floats
    tester: Ints
    weight: Floats


@dataclass(frozen=True)
class Seen:
    """What was seen.

    Attributes
    ----------
    notes : Notes
    readings : Readings
    compared : Compared
    casts, testers : int
        How many there are; testers 0 unless they are at least two.
    """

    notes: Notes
    readings: Readings
    compared: Compared
    casts: int
    testers: int = 0

    def layout(self, words: int) -> Layout:
        """Return the order of the unknowns for a ladder of so many words."""
        cast = np.concatenate([self.notes.cast, self.readings.cast, *self._pair()])
        hours = np.concatenate([self.notes.hours, self.readings.hours, *[self.compared.hours] * 2])
        sticks, scaled = len(self.compared.sticks), len(self.readings) > 0
        paced = find_paced(cast[cast >= 0], hours[cast >= 0])
        return Layout(self.casts, words, paced, self.testers, sticks, scaled)

    def _pair(self) -> tuple[Ints, Ints]:
        return self.compared.cast, self.compared.than

    def rows(self, layout: Layout, priors: Priors) -> list[Rows]:
        """Return the likelihood rows, of each kind that was seen."""
        found: list[Rows] = []
        if len(self.notes.cast):
            notes = self.notes
            felt = layout.felt(notes.cast, notes.hours, priors.rate_per_h, notes.tester)
            edge, words = layout.first_edge, layout.words
            found.append(NoteRows(felt, notes.rung, edge, words, priors.note_sd, notes.weight))
        if len(self.readings):
            read = self.readings
            felt = layout.felt(read.cast, read.hours, priors.rate_per_h)
            found.append(ReadingRows(felt, read.read, layout.scale, layout.size, priors.reading_sd))
        if len(self.compared):
            apart, noise = self._apart(layout, priors), NOISE * priors.note_sd
            found.append(ComparisonRows(apart, self.compared.relation, layout.size, noise))
        return found

    def _apart(self, layout: Layout, priors: Priors) -> Touch:
        """Return how much harder the first of each comparison is than the second."""
        cast, than = self._pair()
        pour, hours = than >= 0, self.compared.hours
        first = layout.felt(cast, hours, priors.rate_per_h)
        second = layout.felt(np.where(pour, than, 0), hours, priors.rate_per_h)
        second = Touch(second.columns, [factor * pour for factor in second.factors])
        return first - second - layout.stick(-1 - than, ~pour)
