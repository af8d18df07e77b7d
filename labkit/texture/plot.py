"""Pictures of a texture trial: maps over the composition, and words against hours."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from labkit.texture.hardness import HardnessModel
from labkit.texture.region import Region

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HARDNESS_COLOURS = "viridis"
CHANCE_COLOURS = "magma"
MARKERS = "os^Dvphd*X"


@dataclass(frozen=True)
class Map:
    """What a map is drawn from.

    ``pours`` has the part columns, "pour" (its number) and "word" (the last word
    felt, or ""); ``suggestion`` the part columns, where to pour next; ``held``
    is the mass fraction of the finished product that is not varied, so that the
    axes show % of the finished product; ``hours`` is the age of the stick, None
    once it has set; ``stamp`` is written across.
    """

    model: HardnessModel
    region: Region
    wanted: str
    pours: pd.DataFrame = field(default_factory=pd.DataFrame)
    suggestion: pd.DataFrame = field(default_factory=pd.DataFrame)
    held: float = 0.0
    hours: float | None = None
    unknown_below: float = 0.3
    stamp: str = ""

    @property
    def percent(self) -> float:
        """% of the finished product that a share of 1 is."""
        return 100 * (1 - self.held)


def map_figure(shown: Map, what: Sequence[str] = ("hardness", "chance")) -> "Figure":
    """Draw hardness and the chance of the wanted word, side by side.

    Two parts are a line, three a triangle; more are triangles of the three parts
    that vary most, a row each for the others at their least, middle and most.
    """
    import mpltern  # noqa: F401  (registers the ternary projection)
    from matplotlib import pyplot

    slices: list[Mapping[str, float]] = [{}] if len(shown.region.parts) <= 3 else _slices(shown.region)
    rows, columns = len(slices), len(what)
    figure = pyplot.figure(figsize=(5.6 * columns, 5.0 * rows), layout="constrained")
    for place in range(rows * columns):
        fixed, kind = slices[place // columns], what[place % columns]
        ax = figure.add_subplot(rows, columns, place + 1, **_projection(shown, fixed))
        (plot_hardness if kind == "hardness" else plot_chance)(_in_slice(shown, slices, fixed), ax, fixed)
    if len(shown.region.parts) > 2:
        figure.supxlabel("% of the finished product, read along the ticks of each corner's part", size=9)
    if shown.stamp:
        size = 26 if columns == 1 else 46
        style: Any = {"rotation": 20, "alpha": 0.25, "ha": "center", "va": "center", "weight": "bold"}
        figure.text(0.5, 0.45, shown.stamp, size=size, **style)
    return figure


def _in_slice(shown: Map, slices: Sequence[Mapping[str, float]], fixed: Mapping[str, float]) -> Map:
    """Keep the pours and suggestions that lie nearest to this slice."""

    def here(rows: pd.DataFrame) -> pd.DataFrame:
        if rows.empty or not fixed:
            return rows
        away = [(rows[list(each)] - pd.Series(each)).abs().sum(axis=1).to_numpy() for each in slices]
        return rows[np.stack(away).argmin(axis=0) == slices.index(fixed)]

    return replace(shown, pours=here(shown.pours), suggestion=here(shown.suggestion))


def _projection(shown: Map, fixed: Mapping[str, float]) -> dict[str, Any]:
    if len(shown.region.parts) == 2:
        return {}
    return {"projection": "ternary", "ternary_sum": shown.percent * (1 - sum(fixed.values()))}


def plot_hardness(shown: Map, ax: Any = None, fixed: Mapping[str, float] | None = None) -> "Axes":
    """Draw the expected hardness, in the words of the ladder, and return the Axes."""
    words = shown.model.scale
    ax = ax or _axes(shown)
    ax.set_title("How hard it sets" if shown.hours is None else f"How hard it is at {shown.hours:g} h")
    if len(shown.region.parts) == 2:
        return _line(shown, ax, "hardness")
    points, told = _told(shown, fixed or {})
    levels = np.arange(-0.5, len(words) + 0.01, 0.5)
    filled = ax.tricontourf(*points.T, told["hardness"], levels=levels, cmap=HARDNESS_COLOURS, extend="both")
    between = ax.tricontour(
        *points.T, told["hardness"], levels=np.arange(0.5, len(words) - 1), colors="white"
    )
    between.set_linewidth(1.2)
    bar = ax.figure.colorbar(filled, ax=ax, shrink=0.75, ticks=range(len(words)))
    bar.ax.set_yticklabels(words)
    return _dress(shown, ax, points, told, fixed or {})


def plot_chance(shown: Map, ax: Any = None, fixed: Mapping[str, float] | None = None) -> "Axes":
    """Draw the chance of the wanted word, and return the Axes."""
    ax = ax or _axes(shown)
    ax.set_title(f"Chance of “{shown.wanted}”")
    if len(shown.region.parts) == 2:
        return _line(shown, ax, shown.wanted)
    points, told = _told(shown, fixed or {})
    filled = ax.tricontourf(*points.T, told[shown.wanted], levels=np.linspace(0, 1, 11), cmap=CHANCE_COLOURS)
    bar = ax.figure.colorbar(filled, ax=ax, shrink=0.75, ticks=[0, 0.2, 0.4, 0.6, 0.8, 1])
    bar.ax.set_yticklabels(["never", "2 in 10", "4 in 10", "6 in 10", "8 in 10", "always"])
    return _dress(shown, ax, points, told, fixed or {})


def plot_words(
    notes: pd.DataFrame,
    ladder: Sequence[str],
    wanted: str,
    curves: Mapping[int, pd.DataFrame],
    ax: "Axes | None" = None,
) -> "Axes":
    """Draw each pour's words against hours since it was poured, and return the Axes.

    ``notes`` has "pour", "hours" and "word"; ``curves`` a frame per pour with
    "hours", "hardness", "low" and "high": the forecast, drawn with its band.
    """
    from matplotlib import pyplot

    ax = ax or pyplot.subplots(figsize=(10.5, 3.8), layout="constrained")[1]
    shades = pyplot.get_cmap("cividis")(np.linspace(0, 0.85, max(1, notes["pour"].nunique())))
    ax.axhspan(ladder.index(wanted) - 0.5, ladder.index(wanted) + 0.5, color="0.92", zorder=0)
    for index, pour in enumerate(sorted(notes["pour"].unique())):
        felt = notes[notes["pour"] == pour]
        colour, rungs = shades[index], [ladder.index(word) for word in felt["word"]]
        nudge = 1.05 ** (index - len(shades) / 2)
        ax.plot(
            nudge * felt["hours"].clip(lower=0.25),
            rungs,
            MARKERS[index % len(MARKERS)],
            color=colour,
            label=f"pour {pour}",
        )
        if pour in curves:
            curve = curves[pour]
            ax.plot(curve["hours"], curve["hardness"], color=colour, lw=1.2)
            ax.fill_between(curve["hours"], curve["low"], curve["high"], color=colour, alpha=0.10, lw=0)
    ax.set(
        xscale="log", xlabel="hours since the pour", yticks=range(len(ladder)), ylim=(-0.6, len(ladder) - 0.4)
    )
    ax.set_yticklabels(ladder)
    ax.set_xticks(
        [0.25, 0.5, 1, 2, 4, 8, 24, 48, 168], ["¼", "½", "1", "2", "4", "8", "a day", "2 days", "a week"]
    )
    ax.minorticks_off()
    ax.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False, ncols=1 + len(shades) // 11)
    return ax


def _band(told: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    return told["hardness"] - 1.2816 * told["sd"], told["hardness"] + 1.2816 * told["sd"]


def _axes(shown: Map) -> Any:
    import mpltern  # noqa: F401
    from matplotlib import pyplot

    return pyplot.figure(layout="constrained").add_subplot(**_projection(shown, {}))


def _line(shown: Map, ax: "Axes", what: str) -> "Axes":
    points = pd.DataFrame(shown.region.grid(200), columns=list(shown.region.parts))
    points = points.sort_values(shown.region.parts[-1], ignore_index=True)
    told = shown.model.predict(points, hours=shown.hours)
    part, scale = shown.region.parts[-1], shown.percent
    x = scale * points[part]
    ax.plot(x, told[what], color="black")
    ax.set_xlabel(f"{part}, % of the finished product (the rest of the base is {shown.region.parts[0]})")
    if what == "hardness":
        ax.fill_between(x, *_band(told), alpha=0.2, color="black", lw=0)
        ax.set_yticks(range(len(shown.model.scale)), shown.model.scale)
        for _, pour in shown.pours.iterrows():
            rung = shown.model.scale.index(pour["word"]) if pour["word"] in shown.model.scale else np.nan
            ax.plot(scale * pour[part], rung, "o", color="black")
            ax.annotate(
                str(pour["pour"]), (scale * pour[part], rung), xytext=(4, 4), textcoords="offset points"
            )
    else:
        ax.set_ylim(0, 1)
    for _, row in shown.suggestion.iterrows():
        ax.axvline(scale * row[part], ls="--", color="0.3", label="pour here next")
        ax.legend()
    return ax


def _slices(region: Region) -> list[Mapping[str, float]]:
    corners = region.corners()
    spread = (corners.max() - corners.min()).sort_values()
    others = list(spread.index[:-3])
    centre = region.centre()
    stepped = others[-1]
    return [
        {**{part: float(centre[part]) for part in others}, stepped: float(level)}
        for level in np.quantile(corners[stepped], [0.15, 0.5, 0.85])
    ]


def _told(shown: Map, fixed: Mapping[str, float]) -> tuple[np.ndarray, pd.DataFrame]:
    """Points of the triangle in % of the finished product (n, 3), and what the model tells there."""
    region, free = shown.region, _free(shown.region, fixed)
    if fixed:
        points = _triangle_grid(region, fixed, free)
    else:
        points = pd.DataFrame(region.grid(1000), columns=list(region.parts))
    told = shown.model.predict(points, hours=shown.hours)
    told["known"] = shown.model.known(points)
    return shown.percent * points[free].to_numpy(), told


def _free(region: Region, fixed: Mapping[str, float]) -> list[str]:
    return [part for part in region.parts if part not in fixed]


def _triangle_grid(
    region: Region, fixed: Mapping[str, float], free: Sequence[str], steps: int = 60
) -> pd.DataFrame:
    first, second = np.divmod(np.arange((steps + 1) ** 2), steps + 1)
    inside = first + second <= steps
    grid = np.stack([first, second, steps - first - second], axis=1)[inside] / steps
    points = pd.DataFrame(grid * (1 - sum(fixed.values())), columns=list(free)).assign(**fixed)[
        list(region.parts)
    ]
    return points[region.contains(points)].reset_index(drop=True)


def _dress(shown: Map, ax: Any, points: np.ndarray, told: pd.DataFrame, fixed: Mapping[str, float]) -> "Axes":
    free = _free(shown.region, fixed)
    _limits(ax, points)
    _name_axes(ax, free)
    if (told["known"] < shown.unknown_below).any():
        levels = [-1, shown.unknown_below]
        unknown = ax.tricontourf(*points.T, told["known"], levels=levels, colors="none", hatches=["///"])
        unknown.set(edgecolor="0.6", linewidth=0)
    for _, pour in shown.pours.iterrows():
        _mark(ax, shown.percent * pour[free].to_numpy(float), str(pour["pour"]), pour["word"])
    for _, row in shown.suggestion.iterrows():
        ax.plot(
            *(shown.percent * row[free].to_numpy(float))[:, None],
            "*",
            ms=27,
            mfc="white",
            mec="black",
            mew=1.2,
            zorder=2.5,
            clip_on=False,
        )
    if fixed:
        told_levels = ", ".join(f"{part} {shown.percent * level:.0f} %" for part, level in fixed.items())
        ax.set_title(f"{ax.get_title()}, at {told_levels}")
    return ax


def _limits(ax: Any, points: np.ndarray) -> None:
    low = points.min(axis=0)
    slack = 0.02 * (points.sum(axis=1)[0] - low.sum())
    ax.set_ternary_min(*(np.maximum(low - slack, 0)))


def _name_axes(ax: Any, names: Sequence[str]) -> None:
    for axis, label, name in zip(
        (ax.taxis, ax.laxis, ax.raxis), (ax.set_tlabel, ax.set_llabel, ax.set_rlabel), names, strict=True
    ):
        axis.set_label_position("corner")
        axis.set_ticks_position("tick2")
        label(f"more\n{name}")
    ax.grid(alpha=0.35, lw=0.6)


def _mark(ax: Any, point: np.ndarray, number: str, word: str) -> None:
    ax.plot(*point[:, None], "o", ms=13, mfc="white", mec="black", mew=1.2, clip_on=False)
    ax.text(*point, number, ha="center", va="center", size=8, weight="bold", color="black")
