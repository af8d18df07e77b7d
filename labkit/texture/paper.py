"""The paper of a map: axes at fixed places, what stands above and below them."""

from collections.abc import Sequence
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.texture.frame import LIMITS
from labkit.texture.region import Region
from labkit.texture.sheets import Sheet, sheets_of
from labkit.texture.usual import hardener

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SIDES = "Along the sides: % of the finished product."

_HEAD, _FOOT, _FLAT = 0.5, 0.55, 3.6  # inches above, below, and of a line


def paper(region: Region, columns: int, wide: float, beside: float) -> tuple["Figure", NDArray[Any]]:
    """Return a figure with axes of shape (sheets, columns) at fixed places; sizes in inches."""
    from matplotlib import pyplot

    sheets = sheets_of(region)
    if sheets[0].free:
        left, low, across = 0.05, 0.0, wide - beside - 0.05
        high = across * float(np.ptp(LIMITS[1]) / np.ptp(LIMITS[0]))
        row_high = high + (0.45 if len(sheets) > 1 else 0.0)
    else:
        left, low, across, high, row_high = 0.95, 0.85, wide - 1.1, _FLAT - 0.85, _FLAT
    size = np.array([columns * wide, _HEAD + len(sheets) * row_high + _FOOT])
    figure = pyplot.figure(figsize=tuple(size))
    axes = np.empty((len(sheets), columns), dtype=object)
    for row, column in np.ndindex(*axes.shape):
        corner = np.array([column * wide + left, _FOOT + (len(sheets) - 1 - row) * row_high + low])
        axes[row, column] = figure.add_axes((*(corner / size), *(np.array([across, high]) / size)))
    return figure, axes


def footnote(figure: "Figure", said: str) -> None:
    """Write what the marks mean below a picture."""
    figure.text(0.5, 0.1 / figure.get_figheight(), said, size=9, ha="center", va="bottom", color="0.2")


def levels(sheet: Sheet, percent: float) -> str:
    """Return what the same share is all over a slice; nothing where that is so of the whole region."""
    said = [f"{part} {percent * share:.0f} %" for part, share in sheet.fixed.items()]
    return fill("with " + ", ".join(said), 60) if said else ""


def corner_names(sheet: Sheet) -> tuple[str, ...]:
    """Return the parts of the left and the right corner and of the top, where it sets hardest."""
    top = hardener(sheet.free)
    return (*(part for part in sheet.free if part != top), top)


def on_sheet(sheets: Sequence[Sheet], rows: pd.DataFrame, index: int) -> NDArray[np.bool_]:
    """Return which rows lie nearer to this sheet than to the others."""
    if len(sheets) == 1 or rows.empty:
        return np.ones(len(rows), bool)
    away = [(rows[list(each.fixed)] - pd.Series(each.fixed)).abs().sum(axis=1) for each in sheets]
    return np.asarray(np.stack(away).argmin(axis=0) == index)
