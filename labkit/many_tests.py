"""Several tests at once: p-values that allow for how many were asked."""

import numpy as np
from numpy.typing import NDArray


def holm(p: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return p-values for as many questions as have one; NaN stays. Holm (1979), Scand. J. Statist. 6, 65.

    >>> holm(np.array([0.01, np.nan, 0.04, 0.03])).round(2).tolist()
    [0.03, nan, 0.06, 0.06]
    """
    out, known = np.full(len(p), np.nan), np.flatnonzero(np.isfinite(p))
    order = known[np.argsort(p[known], kind="stable")]
    if len(order):
        out[order] = np.minimum(1.0, np.maximum.accumulate(np.arange(len(order), 0, -1) * p[order]))
    return out
