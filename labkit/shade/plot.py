"""Pictures of a pigment-load sweep: strips of colour, coverage against load, the path from sheer to full."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from labkit.colour.cie import srgb_of_lab
from labkit.shade.load_sweep import Enough

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARKERS = "osD^vP"
_STYLES = ("-", "--", ":", "-.")
_INK = "0.15"
_PATH_STEP = 3
"""Every third load of a sweep is a mark on the path."""


def strips_figure(told: pd.DataFrame) -> "Figure":
    """Draw a strip of forecast colour for each backing and film, load going to the right.

    ``told`` is what `labkit.shade.sweep` returned.
    """
    from matplotlib import pyplot

    backings = list(dict.fromkeys(told["backing"]))
    figure, axes = pyplot.subplots(
        len(backings), 1, figsize=(8.4, 0.9 + 1.05 * len(backings)), sharex=True, squeeze=False,
        layout="constrained",
    )  # fmt: skip
    for ax, backing in zip(axes[:, 0], backings, strict=True):
        draw_strips(ax, told[told["backing"] == backing])
        ax.set_ylabel(str(backing).replace(" ", "\n"), rotation=0, ha="right", va="center", size=10)
    axes[-1, 0].set_xlabel("load, % of the finished product")
    figure.suptitle("Forecast colour over each backing, by load and film", size=12, ha="left", x=0.02)
    return figure


def draw_strips(ax: "Axes", told: pd.DataFrame) -> "Axes":
    """Draw the strips of one backing, the thinnest film on top."""
    films, loads = np.sort(told["film_um"].unique()), np.sort(told["load"].unique())
    grid = told.sort_values(["film_um", "load"])[["L", "a", "b"]].to_numpy()
    colours = srgb_of_lab(grid.reshape(len(films), len(loads), 3))
    step = (loads[-1] - loads[0]) / max(1, len(loads) - 1) or 1.0
    extent = (loads[0] - step / 2, loads[-1] + step / 2, len(films) - 0.5, -0.5)
    ax.imshow(colours, aspect="auto", extent=extent, interpolation="nearest")
    ax.set_yticks(range(len(films)), [f"{film:g} µm" for film in films], size=9)
    ax.yaxis.tick_right()
    for side in ("top", "right", "left", "bottom"):
        ax.spines[side].set_visible(False)
    ax.hlines(np.arange(len(films) - 1) + 0.5, *ax.get_xlim(), color="white", lw=2)
    return ax


def coverage_figure(told: pd.DataFrame, film_um: float, enough: Enough) -> "Figure":
    """Draw coverage against load: the contrast ratio with its band, and what still shows through."""
    from matplotlib import pyplot

    figure, (top, bottom) = pyplot.subplots(2, 1, figsize=(6.4, 6.0), sharex=True, layout="constrained")
    draw_contrast(top, told, film_um)
    _mark_enough(top, told[told["film_um"] == film_um].drop_duplicates("load"), enough)
    draw_show_through(bottom, told, film_um)
    bottom.set_xlabel("load, % of the finished product")
    low, high = told["load"].min(), told["load"].max()
    bottom.set_xlim(low - 0.02 * (high - low), high + 0.02 * (high - low))
    return figure


def draw_contrast(ax: "Axes", told: pd.DataFrame, film_um: float) -> "Axes":
    """Draw the contrast ratio of each film, and the band of one."""
    for style, (film, rows) in zip(_STYLES, _by_film(told), strict=False):
        wide = 2.4 if film == film_um else 1.3
        ax.plot(rows["load"], rows["contrast_ratio"], style, color=_INK, lw=wide)
        if film == film_um:
            ax.fill_between(rows["load"], rows["contrast_low"], rows["contrast_high"], color="0.8", lw=0)
    ax.set(ylim=(0, 1.04), ylabel="contrast ratio, black over white")
    ax.set_title(f"Coverage (grey: 9 in 10 for {film_um:g} µm)", size=11, loc="left")
    return ax


def _mark_enough(ax: "Axes", rows: pd.DataFrame, enough: Enough) -> None:
    load = enough.load
    if not np.isfinite(load):
        return
    at = float(np.interp(load, rows["load"], rows["contrast_ratio"]))
    high = min(enough.high, rows["load"].max())
    ax.plot([enough.low, high], [0.02, 0.02], color=_INK, lw=3, solid_capstyle="butt")
    ax.plot([load], [at], "o", color=_INK, ms=8)
    ax.annotate(
        f"from {load:.0f} %, more pigment\nhardly covers more", (load, at), (load, 0.06), ha="center",
        size=9, arrowprops={"arrowstyle": "-", "color": _INK}, bbox={"fc": "white", "ec": "none", "pad": 1},
    )  # fmt: skip


def draw_show_through(ax: "Axes", told: pd.DataFrame, film_um: float) -> "Axes":
    """Draw the ΔE00 of each film between the lightest and the darkest backing, and the band of one."""
    for style, (film, rows) in zip(_STYLES, _by_film(told), strict=False):
        if film == film_um:
            ax.fill_between(rows["load"], rows["show_low"], rows["show_high"], color="0.8", lw=0)
        wide = 2.4 if film == film_um else 1.3
        ax.plot(rows["load"], rows["show_through"], style, color=_INK, lw=wide, label=f"{film:g} µm")
    ax.axhspan(0, 2, color="0.9", lw=0, label="hardly seen")
    ax.legend(fontsize=9, loc="upper right")
    ax.set(ylim=(0, None), ylabel="shows through, ΔE00")
    ax.set_title("Difference over the lightest and the darkest backing", size=11, loc="left")
    return ax


def _by_film(told: pd.DataFrame) -> list[tuple[float, pd.DataFrame]]:
    once = told.drop_duplicates(["load", "film_um"])
    films = np.sort(once["film_um"].unique())
    return [(float(film), once[once["film_um"] == film].sort_values("load")) for film in films]


def path_figure(told: pd.DataFrame, film_um: float) -> "Figure":
    """Draw the way of the colour from sheer to full in CIELAB, one line for each backing."""
    from matplotlib import pyplot

    figure, (top, bottom) = pyplot.subplots(2, 1, figsize=(6.4, 6.0), layout="constrained")
    rows = told[told["film_um"] == film_um]
    for at, (backing, along) in enumerate(rows.groupby("backing", sort=False)):
        along = along.sort_values("load").iloc[::_PATH_STEP]
        style: dict[str, Any] = {"marker": MARKERS[at % len(MARKERS)], "label": str(backing)}
        _draw_spread(top, along["a"], along["b"], along["a_sd"], along["b_sd"])
        colours = along["hex"].tolist()
        _draw_path(top, along["a"], along["b"], colours, style)
        _draw_path(bottom, np.hypot(along["a"], along["b"]), along["L"], colours, style)
    top.set(xlabel="a*  (green to red)", ylabel="b*  (blue to yellow)")
    bottom.set(xlabel="chroma C*  (grey to vivid)", ylabel="lightness L*", ylim=(0, 100))
    top.legend(fontsize=9, title="over")
    figure.suptitle(f"From sheer to full in a film of {film_um:g} µm", size=12, ha="left", x=0.02)
    top.set_title("bars: one standard deviation, sheer and full", size=9, loc="right")
    return figure


def _draw_spread(ax: "Axes", x: Any, y: Any, x_sd: Any, y_sd: Any) -> None:
    ends = [0, -1]
    x, y, x_sd, y_sd = (np.asarray(each)[ends] for each in (x, y, x_sd, y_sd))
    ax.errorbar(x, y, y_sd, x_sd, fmt="none", ecolor="0.75", elinewidth=1, zorder=0)


def _draw_path(ax: "Axes", x: Any, y: Any, colours: Sequence[str], style: dict[str, Any]) -> None:
    x, y = np.asarray(x), np.asarray(y)
    ax.plot(x, y, color="0.6", lw=1, zorder=1)
    ax.scatter(
        x, y, c=colours, s=52, edgecolors="0.3", linewidths=0.6, zorder=2, marker=style["marker"],
        label=style["label"],
    )  # fmt: skip
    ax.annotate("sheer", (x[0], y[0]), (5, 5), textcoords="offset points", size=8)
