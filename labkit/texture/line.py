"""A map of compositions that lie on one line, or of a single one."""

from collections.abc import Sequence
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from labkit.texture.frame import plain
from labkit.texture.sheets import STILL, Sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes

NINE_IN_TEN = 1.6448536  # sd either way that hold 90 % of a normal distribution

_LETTERS_AN_INCH = 14


def draw_line(
    ax: "Axes", sheet: Sheet, percent: float, told: pd.DataFrame, what: str, words: Sequence[str]
) -> None:
    """Draw hardness, with its band, or the chance of a word against the part that varies most.

    Parameters
    ----------
    ax : Axes
    sheet : Sheet
        A line, or a point.
    percent : float
        % of the finished product that a share of 1 is.
    told : DataFrame
        What the model tells at the points of the sheet's mesh.
    what : "hardness", or a word of the ladder for its chance
    words : sequence of str
        The ladder, softest first.
    """
    x = percent * sheet.mesh[0][:, sheet.parts.index(sheet.leading)]
    ax.plot(x, told[what], "o-" if len(x) == 1 else "-", color="black", zorder=3)
    if what == "hardness":
        reach = NINE_IN_TEN * told["sd"]
        low, high = told["hardness"] - reach, told["hardness"] + reach
        label = "the average stick of a composition: 9 in 10 inside"
        if len(x) == 1:
            ax.vlines(x, low, high, color="0.6", lw=6, label=label)
        else:
            ax.fill_between(x, low, high, color="0.75", lw=0, label=label, zorder=1)
        ax.set_yticks(range(len(words)), [plain(fill(word, 12)) for word in words])
        ax.set_ylim(-0.7, len(words) + 0.3)
        ax.legend(loc="upper left", fontsize=8.5, framealpha=0.8)
    else:
        tenths = np.linspace(0, 1, 6)
        ax.set_yticks(tenths, [f"{round(10 * each)} in 10" for each in tenths])
        ax.set_ylim(-0.03, 1.03)
    line_axis(ax, sheet, percent)


def line_axis(ax: "Axes", sheet: Sheet, percent: float) -> None:
    """Name the axis along a line, and say what the other parts do meanwhile."""
    start, end = percent * sheet.corners[[0, -1]]
    column = sheet.parts.index(sheet.leading)
    others = [
        f"{part} stays at {a:.0f} %" if abs(a - b) < 100 * STILL else f"{part} goes from {a:.0f} to {b:.0f} %"
        for part, a, b in zip(sheet.parts, start, end, strict=True)
        if part != sheet.leading
    ]
    if start[column] == end[column]:
        ax.set_xlim(start[column] - 5, start[column] + 5)
    wide = int(_LETTERS_AN_INCH * ax.get_window_extent().width / ax.figure.get_dpi())
    name = f"{sheet.leading}, % of the finished product"
    ax.set_xlabel(plain(f"{fill(name, wide)}\n{fill('; '.join(others), wide)}"), size=9)
