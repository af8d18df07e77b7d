"""Pictures of a texture trial: maps over the composition, words against hours."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.quantities import in_ten
from labkit.texture import marks
from labkit.texture.frame import Triangle, plain
from labkit.texture.hardness import JUDGED_AT_H, HardnessModel
from labkit.texture.line import draw_line
from labkit.texture.paper import SIDES, corner_names, footnote, levels, on_sheet, paper
from labkit.texture.region import Region
from labkit.texture.sheets import Sheet, sheets_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

HARDNESS_COLOURS = "viridis"
CHANCE_COLOURS = "magma"
MARKERS = "os^Dvphd"

_WIDE, _BESIDE = 5.6, 1.0  # inches of a picture, and of the scale of colours in it


@dataclass(frozen=True, eq=False)
class Map:
    """What a map is drawn from.

    ``pours`` has the part columns, "pour" (its number) and "word" (the last word
    felt, or ""); ``suggestion`` the part columns, where to pour next; ``held``
    is the mass fraction of the finished product that is not varied, so that the
    axes show % of the finished product; ``hours`` is the age of the stick, None
    once it has set; where the sd of the surface is over ``unsure_over`` rungs it is
    hatched; ``what`` heads the map of the surface; ``stamp`` is written across. The
    model is asked once for all pictures of the same map.
    """

    model: HardnessModel
    region: Region
    wanted: str
    pours: pd.DataFrame = field(default_factory=pd.DataFrame)
    suggestion: pd.DataFrame = field(default_factory=pd.DataFrame)
    held: float = 0.0
    hours: float | None = JUDGED_AT_H
    unsure_over: float = 1.0
    stamp: str = ""
    what: str = "How hard it is"

    @property
    def percent(self) -> float:
        """% of the finished product that a share of 1 is."""
        return 100 * (1 - self.held)

    @property
    def at_age(self) -> str:
        """The age of the stick in words: "at 2 days", or "once set"."""
        if self.hours is None:
            return "once set"
        return f"at {self.hours:g} h" if self.hours < 36 else f"at {self.hours / 24:g} days"

    @cached_property
    def told(self) -> list[pd.DataFrame]:
        """What the model tells at the points of each sheet."""
        points = [sheet.mesh[0] for sheet in sheets_of(self.region)]
        table = pd.DataFrame(np.concatenate(points), columns=list(self.region.parts))
        told = self.model.predict(table, hours=self.hours)
        ends = np.cumsum([len(each) for each in points])
        return [told.iloc[end - len(each) : end] for each, end in zip(points, ends, strict=True)]


def map_figure(shown: Map, what: Sequence[str] = ("hardness", "chance")) -> "Figure":
    """Draw hardness and the chance of the wanted word, side by side.

    A single composition or a line of them is drawn along the part that varies, three
    parts as a triangle; more are triangles of the three parts that vary most, a row each
    for little, middle and much of the fourth.
    """
    figure, axes = paper(shown.region, len(what), _WIDE, _BESIDE)
    for column, kind in enumerate(what):
        for index, ax in enumerate(axes[:, column]):
            (plot_hardness if kind == "hardness" else plot_chance)(shown, ax, index)
    footnote(figure, _caption(shown))
    if shown.stamp:
        style: Any = {"rotation": 20, "alpha": 0.25, "ha": "center", "va": "center", "weight": "bold"}
        figure.text(0.5, 0.5, plain(shown.stamp), size=26 if len(what) == 1 else 46, **style)
    return figure


def plot_hardness(shown: Map, ax: "Axes | None" = None, index: int = 0) -> "Axes":
    """Draw the expected hardness of one sheet, in the words of the ladder, and return the Axes."""
    ax = ax or _one_axes(shown.region)
    title, words = f"{shown.what} {shown.at_age}", shown.model.scale
    sheet, told = sheets_of(shown.region)[index], shown.told[index]
    if not sheet.free:
        return _line(shown, ax, title, sheet, told, "hardness")
    triangle, mesh = _triangle(shown, index)
    halves = np.arange(-0.5, len(words) - 0.4, 0.5)
    filled = ax.tricontourf(mesh, told["hardness"], levels=halves, cmap=HARDNESS_COLOURS, extend="both")
    ax.tricontour(mesh, told["hardness"], levels=np.arange(0.5, len(words) - 1), colors="white")
    if index == 0:
        marks.scale_beside(ax, filled, range(len(words)), words)
    taken = _dress(shown, ax, triangle, mesh, index)
    places, edge = np.stack([mesh.x, mesh.y], axis=1), triangle.xy(shown.percent * _edge(sheet, triangle))
    marks.name_bands(ax, places, told["hardness"].to_numpy(), words, edge, taken)
    return _title(shown, ax, title, index)


def plot_chance(shown: Map, ax: "Axes | None" = None, index: int = 0) -> "Axes":
    """Draw the chance of the wanted word on one sheet, and return the Axes."""
    ax = ax or _one_axes(shown.region)
    sheet, told = sheets_of(shown.region)[index], shown.told[index]
    most = max(float(each[shown.wanted].max()) for each in shown.told)
    title = f"Chance of “{shown.wanted}” {shown.at_age}: at best {in_ten(most)}"
    if not sheet.free:
        return _line(shown, ax, title, sheet, told, shown.wanted)
    triangle, mesh = _triangle(shown, index)
    tenths = np.linspace(0, 1, 11)
    filled = ax.tricontourf(mesh, told[shown.wanted], levels=tenths, cmap=CHANCE_COLOURS)
    lines = ax.tricontour(mesh, told[shown.wanted], levels=tenths[1:-1], colors="white")
    lines.set(linewidth=0.7)
    if index == 0:
        marks.scale_beside(ax, filled, tenths[::2], [f"{round(10 * each)} in 10" for each in tenths[::2]])
    _dress(shown, ax, triangle, mesh, index)
    return _title(shown, ax, title, index)


def plot_words(
    notes: pd.DataFrame,
    ladder: Sequence[str],
    wanted: str,
    curves: Mapping[Any, pd.DataFrame],
    ax: "Axes | None" = None,
) -> "Axes":
    """Draw each pour's words against hours since it was poured, and return the Axes.

    ``notes`` has "pour", "hours" and "word"; ``curves`` a frame per pour with "hours",
    "hardness", "note_low" and "note_high": the forecast of each, and for the last of
    them the band into which 9 in 10 of its notes fall. Of more than eight pours, those
    without a curve are drawn alike.
    """
    from matplotlib import pyplot

    ax = ax or pyplot.figure(figsize=(8.8, 3.7)).add_axes((0.11, 0.15, 0.66, 0.74))
    pours = list(notes["pour"].unique())
    named = pours if len(pours) <= len(MARKERS) else [pour for pour in pours if pour in curves]
    rung, label = ladder.index(wanted), plain(fill(f"wanted: “{wanted}”", 20))
    ax.axhspan(rung - 0.5, rung + 0.5, color="0.92", zorder=0, label=label)
    earlier = notes[~notes["pour"].isin(named)]
    if len(earlier):
        _dots(ax, earlier, ladder, marker="o", color="none", mec="0.6", label="earlier pours", zorder=1.5)
    shades = pyplot.get_cmap("cividis")(np.linspace(0, 0.8, len(named)))
    for index, (pour, shade) in enumerate(zip(named, shades, strict=True)):
        style = {"marker": MARKERS[index], "color": shade, "label": plain(f"pour {pour}")}
        _dots(ax, notes[notes["pour"] == pour], ladder, nudge=1.08 ** (index - len(named) / 2), **style)
        if pour in curves:
            ax.plot(curves[pour]["hours"], _on_ladder(curves[pour]["hardness"], ladder), color=shade, lw=1.6)
    if curves:
        last, curve = list(curves.items())[-1]
        low, high = (_on_ladder(curve[end], ladder) for end in ("note_low", "note_high"))
        label = plain(f"9 in 10 words of\npour {last} fall here")
        ax.fill_between(curve["hours"], low, high, color="0.5", alpha=0.25, lw=0, label=label)
    _words_axes(ax, ladder)
    return ax


def _dots(ax: "Axes", notes: pd.DataFrame, ladder: Sequence[str], nudge: float = 1.0, **style: Any) -> None:
    rungs = [ladder.index(word) for word in notes["word"]]
    ax.plot(nudge * notes["hours"].clip(lower=0.25), rungs, **{"ls": "none", "ms": 7, "zorder": 3, **style})


def _on_ladder(rungs: "pd.Series[float]", ladder: Sequence[str]) -> "pd.Series[float]":
    """Return hardness no further out than its softest and its hardest word reach on the picture."""
    return rungs.clip(-0.45, len(ladder) - 0.55)


def _words_axes(ax: "Axes", ladder: Sequence[str]) -> None:
    ax.set(xscale="log", xlabel="since the pour", ylim=(-0.6, len(ladder) - 0.4))
    ax.set_yticks(range(len(ladder)), [plain(fill(word, 14)) for word in ladder])
    ticks = {0.25: "¼ h", 0.5: "½ h", 1: "1 h", 2: "2 h", 4: "4 h", 8: "8 h", 24: "a day", 48: "2 days"}
    ax.set_xticks([*ticks, 168], [*ticks.values(), "a week"])
    ax.minorticks_off()
    ax.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False, fontsize=9.5)


def _one_axes(region: Region) -> "Axes":
    axes: Axes = paper(region, 1, _WIDE, _BESIDE)[1][0, 0]
    return axes


def _caption(shown: Map) -> str:
    (sheet, *_), said = sheets_of(shown.region), []
    drawn = bool(sheet.free)
    if not drawn and len(shown.region.flat.axes) > 1:
        said.append(f"One line through what you may pour; others stand at their {sheet.leading}.")
    if drawn and any((told["sd"] > shown.unsure_over).any() for told in shown.told):
        said.append("Hatched: your notes say little there, it may be off by a word or more.")
    said += ["Number: a pour."] if len(shown.pours) else []
    said += ["Star: pour here next."] if len(shown.suggestion) else []
    return "\n".join([SIDES] * drawn + [plain(fill(" ".join(said), 78))])


def _title(shown: Map, ax: "Axes", title: str, index: int) -> "Axes":
    lines = [fill(title, 56)] if index == 0 else []
    said = levels(sheets_of(shown.region)[index], shown.percent)
    ax.set_title(plain("\n".join([*lines, *([said] if said else [])])), size=11, y=1.0)
    return ax


def _edge(sheet: Sheet, triangle: Triangle) -> Floats:
    """Return points all along the edge of a polygon, in shares of its three parts."""
    rows = sheet.corners[:, sheet.columns(triangle.names)]
    along = np.linspace(0, 1, 20)[:, None, None]
    return np.asarray((rows + along * (np.roll(rows, -1, axis=0) - rows)).reshape(-1, 3))


def _marked(shown: Map, names: Sequence[str], rows: pd.DataFrame, index: int) -> Floats:
    """Return the three parts of the rows that are marked on a sheet, in % of the finished product."""
    kept = rows.reindex(columns=list(shown.region.parts))[on_sheet(sheets_of(shown.region), rows, index)]
    return shown.percent * kept[list(names)].to_numpy(float)


def _triangle(shown: Map, index: int) -> tuple[Triangle, Any]:
    """Return the frame of a sheet with all that is marked on it, and the mesh on it."""
    from matplotlib.tri import Triangulation

    sheet = sheets_of(shown.region)[index]
    names, (points, triangles) = corner_names(sheet), sheet.mesh
    rows = shown.percent * points[:, sheet.columns(names)]
    marked = [_marked(shown, names, each, index) for each in (shown.pours, shown.suggestion)]
    triangle = Triangle.about(names, np.vstack([rows, *marked]))
    x, y = triangle.xy(rows).T
    return triangle, Triangulation(x, y, triangles)


def _dress(shown: Map, ax: "Axes", triangle: Triangle, mesh: Any, index: int) -> Floats:
    """Draw what stands upon the colours, and return the places that are marked."""
    marks.hatch(ax, mesh, shown.told[index]["sd"].to_numpy(), shown.unsure_over)
    triangle.frame(ax)
    here = on_sheet(sheets_of(shown.region), shown.pours, index)
    pours, stars = (
        triangle.xy(_marked(shown, triangle.names, each, index)) for each in (shown.pours, shown.suggestion)
    )
    marks.mark_pours(ax, pours, shown.pours["pour"][here] if len(pours) else [])
    marks.mark_star(ax, stars, pours)
    return np.vstack([pours, stars])


def _line(shown: Map, ax: "Axes", title: str, sheet: Sheet, told: pd.DataFrame, what: str) -> "Axes":
    """Draw hardness or a chance along a line of compositions."""
    words, rung = shown.model.scale, shown.model.scale.index(shown.wanted)
    if what == "hardness":
        ax.axhspan(rung - 0.5, rung + 0.5, color="0.9", zorder=0, label=plain(f"wanted: “{shown.wanted}”"))
    draw_line(ax, sheet, shown.percent, told, what, words)
    size, places = np.ptp([ax.get_xlim(), ax.get_ylim()], axis=1), np.empty((0, 2))
    if what == "hardness" and len(shown.pours):
        felt = shown.pours[shown.pours["word"].isin(words)]
        rungs = [words.index(word) for word in felt["word"]]
        places = np.column_stack([shown.percent * felt[sheet.leading], rungs])
        marks.mark_pours(ax, places, felt["pour"], size)
    along = shown.percent * sheet.mesh[0][:, sheet.parts.index(sheet.leading)]
    for x in shown.percent * shown.suggestion.get(sheet.leading, pd.Series(dtype=float)):
        ax.axvline(x, ls="--", color="0.3", lw=1)
        marks.mark_star(ax, np.array([[x, np.interp(x, along, told[what])]]), places, size)
    ax.set_title(plain(fill(title, 56)), size=11, y=1.0)
    return ax
