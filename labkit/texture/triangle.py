"""The region of a trial as a picture: a triangle before any pour."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.texture.frame import Triangle, plain
from labkit.texture.line import line_axis
from labkit.texture.paper import SIDES, corner_names, footnote, levels, on_sheet, paper
from labkit.texture.region import Region
from labkit.texture.sheets import Sheet, sheets_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

_WIDE = 4.2  # inches
_SKIN, _EDGE = "#9ecae1", "#08306b"


def region_figure(
    region: Region, usual: Mapping[str, float] | None = None, held_fraction: float = 0.0
) -> "Figure":
    """Draw the compositions that a trial may pour, before any was poured.

    Parameters
    ----------
    region : Region
    usual : mapping of part to share of the base, optional
        Marked with a diamond.
    held_fraction : float
        Mass fraction of the finished product that is not varied.
    """
    figure, axes = paper(region, 1, _WIDE, 0.1)
    percent, sheets = 100 * (1 - held_fraction), sheets_of(region)
    here = pd.DataFrame([] if usual is None else [dict(usual)], columns=list(region.parts), dtype=float)
    for index, (sheet, ax) in enumerate(zip(sheets, axes[:, 0], strict=True)):
        usual_here = percent * here[on_sheet(sheets, here, index)]
        if sheet.free:
            _region_triangle(ax, sheet, percent * sheet.corners, usual_here)
        else:
            _region_line(ax, sheet, percent, usual_here)
        title = "What you may pour" if index == 0 else ""
        ax.set_title(plain("\n".join(filter(None, [title, levels(sheet, percent)]))), size=12, y=1.0)
    marked = "Squares: the corners." + (" Diamond: your usual recipe." if len(here) else "")
    footnote(figure, "\n".join([SIDES] * bool(sheets[0].free) + [marked]))
    return figure


def _region_triangle(ax: "Axes", sheet: Sheet, corners: Floats, usual: pd.DataFrame) -> None:
    names = corner_names(sheet)
    rows = corners[:, sheet.columns(names)]
    triangle = Triangle.about(names, np.vstack([rows, usual[list(names)].to_numpy()]))
    triangle.frame(ax)
    ax.fill(*triangle.xy(rows).T, fc=_SKIN, ec=_EDGE, lw=2, alpha=0.8, zorder=1.5)
    ax.plot(*triangle.xy(rows).T, "s", ms=8, color=_EDGE, zorder=3)
    _mark_usual(ax, triangle.xy(usual[list(names)].to_numpy()))


def _region_line(ax: "Axes", sheet: Sheet, percent: float, usual: pd.DataFrame) -> None:
    ends = percent * sheet.corners[:, sheet.parts.index(sheet.leading)]
    ax.plot(ends, np.zeros(len(ends)), "s-", ms=9, lw=10, color=_SKIN, mfc=_EDGE, mec=_EDGE)
    _mark_usual(ax, np.column_stack([usual[sheet.leading], np.zeros(len(usual))]))
    ax.set(yticks=[], ylim=(-1, 1))
    line_axis(ax, sheet, percent)


def _mark_usual(ax: "Axes", places: Floats) -> None:
    ax.plot(*places.T, "D", ms=15, mfc="none", mec="white", mew=4, zorder=4)
    ax.plot(*places.T, "D", ms=15, mfc="none", mec="black", mew=2, zorder=4)
