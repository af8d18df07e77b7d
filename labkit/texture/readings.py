"""Readings with an instrument as a likelihood of the same hidden hardness that words tell."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError
from labkit.texture.notes import listed
from labkit.texture.penetration import Instrument, log_hardness
from labkit.texture.touch import Touch, one, put

Floats = NDArray[np.float64]

# A plain depth: up to 620 [0.1 mm], as a cone goes (ASTM D217, from memory).
_PLAIN = Instrument("cone", load_g=150.0, angle_deg=90.0)
# Judgement without a source: over the ladder's length in rungs, mean and sd of β. The mean is
# 5-fold in depth from end to end.
_STRETCH = (0.6, 0.5)
_LEVEL = 1.0  # sd of α over the ladder's length, at least 2 rungs


def read_penetration(penetration: object, instrument: Instrument | None, rows: int) -> Floats:
    """Return readings on the log scale on which more is harder, nan where there is none, shape (rows,).

    Parameters
    ----------
    penetration : None or one reading or None per row [0.1 mm, or grams for a rod]
    instrument : Instrument, optional
        By default a plain depth.

    Raises
    ------
    LabError
        As `labkit.texture.penetration.check_readings`, and for another number of rows.

    Examples
    --------
    >>> read_penetration([np.e, None], None, 2).tolist()
    [-1.0, nan]
    """
    if instrument is not None and not isinstance(instrument, Instrument):
        raise LabError(f"The instrument is {instrument!r}: make one with Instrument(“cone”, load_g=…).")
    if penetration is None:
        return np.full(rows, np.nan)
    cells = [None if _is_none(cell) else cell for cell in listed(penetration, "reading", rows)]
    return log_hardness(np.array(cells, object), _PLAIN if instrument is None else instrument)


def _is_none(cell: object) -> bool:
    return cell is None or cell is pd.NA or cell is pd.NaT


@dataclass(frozen=True)
class Readings:
    """Readings of casts.

    Attributes
    ----------
    cast : int ndarray, shape (readings,)
    read : ndarray, shape (readings,)
        On the log scale on which more is harder, less its mean.
    hours : ndarray, shape (readings,)
        Since the pour [h]; inf for a set stick.
    """

    cast: NDArray[np.int_]
    read: Floats
    hours: Floats

    def __len__(self) -> int:
        return len(self.cast)


def scale_prior(words: int) -> tuple[Floats, Floats]:
    """Return mean and sd of (α, β) of `ReadingRows` for a ladder of so many words."""
    length = words - 1
    mean = np.array([0.5 * length, _STRETCH[0] * length])
    return mean, np.array([max(2.0, _LEVEL * length), _STRETCH[1] * length])


@dataclass(frozen=True)
class ReadingRows:
    """Readings as a likelihood: α + β·read = what is felt + noise, noise ~ N(0, sd²), β > 0.

    Turned round it says read = a + b·hardness + noise with b = 1/β: written so, both unknowns
    enter straight, and the log-likelihood Σ [ln β − ln sd − ½ ln 2π − (α + β·read − felt)²/(2·sd²)],
    ln β from the change of variable, is concave in α, β and hardness together; with hardness
    summed out, what is left of β is exact but for the words.

    Attributes
    ----------
    felt : Touch
        What each reading is of, in rungs.
    read : ndarray, shape (readings,)
        On the log scale.
    scale : int
        Which unknown is α; β follows it.
    size : int
        How many unknowns there are.
    sd : ndarray, shape (priors,)
        Noise of one reading in rungs.
    """

    felt: Touch
    read: Floats
    scale: int
    size: int
    sd: Floats

    def _off(self) -> Touch:
        """Return what α + β·read − felt touches."""
        alpha = np.full(len(self.read), self.scale)
        return Touch([alpha, alpha + 1], [np.ones((1, len(alpha))), self.read[None]]) - self.felt

    def value(self, unknowns: Floats) -> Floats:
        """Return the log-likelihood under each set of priors, shape (priors,); −inf where β ≤ 0."""
        off, beta = self._off().felt(unknowns) / self.sd[:, None], unknowns[:, self.scale + 1]
        with np.errstate(divide="ignore", invalid="ignore"):
            stretch = np.where(beta > 0.0, np.log(beta), -np.inf)
        each = stretch - np.log(self.sd) - 0.5 * np.log(2.0 * np.pi)
        return len(self.read) * each - 0.5 * (off**2).sum(axis=-1)

    def slopes(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """Return the gradient (priors, unknowns) and minus the Hessian (priors, unknowns, unknowns)."""
        off, square = self._off(), self.sd[:, None] ** 2
        beta = np.broadcast_to(unknowns[:, [self.scale + 1]], (len(unknowns), len(self.read)))
        first = np.stack([-off.felt(unknowns) / square, 1.0 / beta])
        second = np.zeros((2, *first.shape))
        second[0, 0], second[1, 1] = -1.0 / square, -1.0 / beta**2
        heads = [off, one(np.full(len(self.read), self.scale + 1))]
        gradient, hessian = put(self.size, heads, first, second)
        return gradient, -hessian
