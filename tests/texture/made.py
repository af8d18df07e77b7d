"""Likelihood rows made by hand for tests: casts, then one start that all share, then thresholds."""

import numpy as np

from labkit.texture.ordered import NoteRows
from labkit.texture.touch import Touch


def note_rows(cast, rung, left, casts, words, sd, weight=None):
    """Rows that say threshold k−1 < cast + left·start + noise ≤ threshold k."""
    felt = Touch([cast, np.full_like(cast, casts)], [np.ones((1, len(cast))), left])
    weights = np.ones(1) if weight is None else weight
    return NoteRows(felt, rung, casts + 1, words, sd, weights)
