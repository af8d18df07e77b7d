"""A triangle of three parts on plain axes: its frame, its scale in %, its corners' names."""

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

TALL = 3**0.5 / 2
LIMITS = ((-0.15, 1.15), (-0.29, 1.0))
"""What the axes show, in sides of the triangle: left and right, bottom and top."""

_BESIDE = (((0.15, 0.49), 60), ((0.5, -0.115), 0), ((0.85, 0.49), -60))  # left, bottom, right side
_FEW_TICKS = 5
_LONG = 36  # letters that fit along a side


def plain(text: str) -> str:
    """Return a maker's words so that they are drawn as they stand, and never as a formula.

    >>> print(plain("5$ wax"))
    5\\$ wax
    """
    return text.replace("$", r"\$")


@dataclass(frozen=True)
class Triangle:
    """Three parts, in % of the finished product: left corner, right corner, top.

    Attributes
    ----------
    names : three str
    low : three float
        What each part is on the side facing its corner [%].
    total : float
        What the three are together [%].
    """

    names: Sequence[str]
    low: Sequence[float]
    total: float

    @classmethod
    def about(cls, names: Sequence[str], percent: Floats) -> "Triangle":
        """Return the smallest triangle that holds rows of three parts [%], with a little room."""
        total = float(percent[0].sum())
        least = (total * percent / percent.sum(axis=1, keepdims=True)).min(axis=0)
        return cls(names, np.maximum(least - 0.03 * (total - least.sum()), 0), total)

    @property
    def span(self) -> float:
        """% from a side to the corner facing it."""
        return float(self.total - np.sum(self.low))

    def xy(self, percent: ArrayLike) -> Floats:
        """Return places on the axes for rows of three parts; rows of another sum are scaled to it."""
        rows = np.atleast_2d(np.asarray(percent, float))
        rows = self.total * rows / rows.sum(axis=1, keepdims=True)
        _, right, top = ((rows - np.asarray(self.low)) / self.span).T
        return np.stack([right + top / 2, TALL * top], axis=1)

    def frame(self, ax: "Axes") -> None:
        """Draw the sides, a scale for each part, and the names at the corners."""
        ax.set(xlim=LIMITS[0], ylim=LIMITS[1], aspect="equal")
        ax.set_axis_off()
        ax.fill([0, 1, 0.5], [0, 0, TALL], fill=False, ec="0.25", lw=1.0, zorder=2)
        for index in range(3):
            self._scale(ax, index)
        size: dict[str, Any] = {"size": 10, "weight": "bold", "linespacing": 1.05}
        left, right = (plain(fill(f"more {name}", 22)) for name in self.names[:2])
        ax.text(LIMITS[0][0], -0.145, left, ha="left", va="top", **size)
        ax.text(LIMITS[0][1], -0.145, right, ha="right", va="top", **size)
        ax.text(0.5, TALL + 0.03, plain(fill(f"more {self.names[2]}", 34)), ha="center", va="bottom", **size)

    def _scale(self, ax: "Axes", index: int) -> None:
        """Draw lines of equal share of one part, its numbers beside a side, and its name along that side."""
        levels = self._levels(index)
        ends = np.zeros((2, len(levels), 3))
        ends[:, :, index] = (levels - self.low[index]) / self.span
        ends[0, :, index - 2] = ends[1, :, index - 1] = 1 - ends[0, :, index]
        start, end = (np.stack([each[:, 1] + each[:, 2] / 2, TALL * each[:, 2]], axis=1) for each in ends)
        out = (end - start) / np.linalg.norm(end - start, axis=1, keepdims=True)
        gaps = np.full_like(start, np.nan)
        lines = np.stack([start, end + 0.02 * out, gaps], axis=1).reshape(-1, 2)
        ax.plot(*lines.T, color="0.35", lw=0.6, alpha=0.6, zorder=1.8)
        for level, (x, y) in zip(levels, end + 0.055 * out, strict=True):
            ax.text(x, y, f"{level:g}", size=9, ha="center", va="center", color="0.2")
        (x, y), turned = _BESIDE[index]
        name = f"{self.names[index]}, %"
        style: dict[str, Any] = {"rotation": turned, "size": 9 * min(1.0, _LONG / len(name)), "color": "0.2"}
        ax.text(x, y, plain(name), ha="center", va="center", **style)

    def _levels(self, index: int) -> Floats:
        from matplotlib.ticker import MaxNLocator

        low = float(self.low[index])
        levels = np.asarray(MaxNLocator(_FEW_TICKS).tick_values(low, low + self.span), float)
        return levels[(levels > low + 0.06 * self.span) & (levels < low + 0.94 * self.span)]
