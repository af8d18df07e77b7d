"""Are swatches so alike that they are one fact?"""

import numpy as np

from labkit.errors import LabError
from labkit.shade.swatch_optics import SwatchOptics

_FEW = 3
_SAME_BLEND = 0.05
"""Difference in a pigment's share of all pigment up to which blends are one."""
_BY_CHANCE = 0.01
"""Chance with which errors of reading and weighing set swatches farther apart than they count as alike."""


def check_they_differ(optics: SwatchOptics) -> None:
    """Raise `LabError` where three or more swatches are one fact.

    They are where all are of one blend, and their forecasts differ by no more than errors of reading and of
    weighing a film explain: whatever they read, they say the same of the pigments.
    """
    count = len(optics.swatches)
    if count < _FEW or not _one_blend(optics) or not _one_colour(optics):
        return
    raise LabError(
        f"these {count} swatches are one fact: all of one blend, and by load, film and backing they should "
        "look alike. However often it is repeated, it cannot tell absorption from scattering. Keep one of "
        "them, which is used as far as it goes, or add one that differs: a film so thin that its backing "
        "shows, another backing (black card and white card), another load, or a tint with white."
    )


def _one_blend(optics: SwatchOptics) -> bool:
    fractions = optics.fractions
    total = fractions.sum(1, keepdims=True)
    shares = np.divide(fractions, total, out=np.zeros_like(fractions), where=total > 0)
    return bool(np.ptp(shares, axis=0).max() <= _SAME_BLEND)


def _one_colour(optics: SwatchOptics) -> bool:
    from scipy.special import chdtri

    films = np.zeros(len(optics.swatches))
    lab = optics.forecast(films)
    by_film = optics.forecast(films + 0.5) - optics.forecast(films - 0.5)
    covariance = by_film[:, :, None] * by_film[:, None] + optics.lab_sd[:, :, None] ** 2 * np.eye(3)
    apart = lab - lab[0]
    squared = (apart * np.linalg.solve(covariance + covariance[0], apart[:, :, None])[:, :, 0]).sum(1)
    return bool(squared.max() <= chdtri(3, _BY_CHANCE))
