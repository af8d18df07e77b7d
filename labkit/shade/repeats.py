"""How repeat swatches vary, within a batch and between batches."""

import numpy as np
import pandas as pd

from labkit.colour.cie import delta_e00
from labkit.shade.learned import lab_read

SAME = ("film_um", "backing")
_FEW = 2


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


def sets_of(swatches: pd.DataFrame, pigments: tuple[str, ...]) -> list[pd.DataFrame]:
    """Return the swatches of each blend, film and backing that was swatched more than once."""
    if swatches.empty:
        return []
    same = [*(name for name in pigments if name in swatches), *SAME]
    keys = swatches[same].astype(str).agg("|".join, axis=1)
    return [group for _, group in swatches.groupby(keys, sort=False) if len(group) >= _FEW]


def _mean(group: pd.DataFrame) -> np.ndarray:
    return np.mean([lab_read(row) for _, row in group.iterrows()], axis=0)
