"""Which swatch does not fit the others?"""

from typing import TYPE_CHECKING

import numpy as np

from labkit.colour.cie import delta_e00
from labkit.shade.calibration import swatch_optics
from labkit.shade.fit_swatches import fit
from labkit.shade.medium import USUAL, Medium
from labkit.shade.pigments import Pigments, default_pigments

if TYPE_CHECKING:
    import pandas as pd


def swatch_check(
    swatches: "pd.DataFrame", pigments: Pigments | None = None, medium: Medium | None = None
) -> "pd.DataFrame":
    """Tell how well each swatch fits all others and the start.

    Parameters
    ----------
    swatches, pigments, medium
        As `calibrate` takes them.

    Returns
    -------
    DataFrame
        A row for each swatch, under the index of the table: ΔE00 of the reading from the forecast by the
        start ("before") and by the corrected pigments ("after"); how far it is "believed", 0 to 1; whether
        it "fits": a swatch that is right fails in one of a thousand; a "sentence".

    Raises
    ------
    LabError
        Where the table cannot be read.
    """
    import pandas as pd

    optics = swatch_optics(swatches, pigments or default_pigments(), medium or USUAL)
    found = fit(optics)
    films = np.zeros(len(optics.swatches))
    seen = optics.lab_read
    table = pd.DataFrame(
        {
            "before": delta_e00(optics.forecast(films), seen),
            "after": delta_e00(optics.forecast(films, found.mean), seen),
            "believed": found.believed,
            "fits": found.off <= 1,
        },
        index=swatches.index,
    )
    table["sentence"] = [
        _sentence(*row)
        for row in zip(optics.swatches.labels, *(table[name] for name in table.columns), strict=True)
    ]
    return table


def _sentence(label: str, before: float, after: float, believed: float, fits: bool) -> str:
    said = f"{label}: the reading was ΔE00 {before:.1f} from the forecast, and is {after:.1f} now."
    if fits:
        return said
    return (
        f"{said} It does not fit the other swatches and what was known before, and counts for "
        f"{100 * believed:.0f} %: check its loads, its film, its backing and how it was read."
    )
