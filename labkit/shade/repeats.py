"""How repeat swatches vary, within a batch and between batches."""

import numpy as np
import pandas as pd

from labkit.colour.cie import delta_e00
from labkit.shade.learned import lab_read

SAME = ("film_um", "backing")
_FEW = 2
_ONE_IN_TWENTY = 7.815
"""χ² with 3 degrees of freedom that is passed once in twenty."""


def repeats(swatches: pd.DataFrame, pigments: tuple[str, ...]) -> pd.DataFrame:
    """Return how much repeat swatches of one blend, film and backing differ.

    The mean colour difference from the mean, MCDM: F. W. Billmeyer and P. J. Alessi, Color Res. Appl. 6
    (1981) 195, with ΔE00 as the difference.

    Parameters
    ----------
    swatches
        The swatch table of a trial, with "batch".
    pigments
        Its columns of mass %.

    Returns
    -------
    DataFrame
        A row for each set of two or more repeats and each batch in it: set, batch, n, the means L, a, b,
        mcdm (ΔE00; NaN for one swatch), and shift, the ΔE00 of the batch's mean from the mean of the
        set's batches (NaN for one batch).
    """
    rows = []
    for number, group in enumerate(sets_of(swatches, pigments), 1):
        means = {batch: _mean(each) for batch, each in group.groupby("batch")}
        middle = np.mean(list(means.values()), axis=0)
        for batch, each in group.groupby("batch"):
            lab = np.stack([lab_read(row) for _, row in each.iterrows()])
            rows.append(
                {
                    "set": number,
                    "batch": batch,
                    "n": len(each),
                    **dict(zip("Lab", means[batch], strict=True)),
                    "mcdm": float(np.mean(delta_e00(lab, means[batch]))) if len(lab) >= _FEW else np.nan,
                    "shift": float(delta_e00(means[batch], middle)) if len(means) >= _FEW else np.nan,
                }
            )
    return pd.DataFrame(rows, columns=["set", "batch", "n", "L", "a", "b", "mcdm", "shift"])


def real_difference(found: pd.DataFrame) -> float:
    """Return the ΔE00 between two swatches of one batch that one pair in twenty passes by chance.

    Errors count as normal and alike in L*, a*, b*, each with a standard deviation σ. Of n swatches the mean
    distance from their own mean is σ√(8(n − 1)/(πn)); a pair lies farther apart than σ√(2·7.815) once in
    twenty (χ², 3 degrees of freedom).

    >>> round(real_difference(pd.DataFrame({"n": [2], "mcdm": [1.0]})), 1)
    3.5
    """
    told = found.dropna(subset="mcdm")
    one: pd.Series = told["mcdm"] / np.sqrt(8 * (told["n"] - 1) / (np.pi * told["n"]))
    return float(np.sqrt(2 * _ONE_IN_TWENTY) * np.average(one, weights=told["n"] - 1))


def sets_of(swatches: pd.DataFrame, pigments: tuple[str, ...]) -> list[pd.DataFrame]:
    """Return the swatches of each blend, film and backing that was swatched more than once."""
    if swatches.empty:
        return []
    same = [*(name for name in pigments if name in swatches), *SAME]
    keys = swatches[same].astype(str).agg("|".join, axis=1)
    return [group for _, group in swatches.groupby(keys, sort=False) if len(group) >= _FEW]


def _mean(group: pd.DataFrame) -> np.ndarray:
    return np.mean([lab_read(row) for _, row in group.iterrows()], axis=0)
