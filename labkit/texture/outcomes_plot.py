"""The picture of how outcomes vary: a row for each source, and below it the repeats themselves."""

from collections.abc import Sequence
from datetime import date
from textwrap import fill, shorten
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.texture.frame import plain
from labkit.texture.outcomes import Outcomes
from labkit.texture.source import Source, reach_words, size_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

WIDE = 5.6
"""Width of the picture in inches, so that it can still be read on half a screen."""
SIZE = 11.5
"""Points of the smallest text."""
KNOWN, OPEN, MARK = "#0072b2", "0.62", "#d55e00"
"""Okabe and Ito's blue and vermilion, which differ to colour-blind eyes; grey for what is open."""
MARKERS = "os^Dv"
_COLOURS = (KNOWN, MARK, "#009e73", "#cc79a7", "0.2")
_BETWEEN_DAYS = 0.7

TITLE_WIDE = 47
_FOOT = "Dot: best guess. Bar: 9 in 10 sure. Arrow: may be more. Grey: cannot be told yet."
LEFT, _LEFT_BELOW, RIGHT, ROW = 2.15, 1.1, 0.25, 0.62  # inches
_LINE, _REPEATS, _BETWEEN = 0.205, 2.3, 1.05
_PERCENT = {each: float(np.log1p(each / 100)) for each in (10, 25, 50, 100, 200, 500)}
_MOST_DAYS = 7  # with a label each


def outcomes_figure(found: Outcomes) -> "Figure":
    """Draw how outcomes vary: the message above, a row for each source, the repeats below.

    Dot: the estimate; bar: 90 % interval, with an arrow where it has no upper limit or goes on
    beyond the picture; grey: cannot be told yet.
    """
    from matplotlib import pyplot

    title, foot = fill(found.title, TITLE_WIDE), fill(_FOOT, 62)
    several = found.dots["tester"].nunique() > 1
    head, rows = title_high(title) + 0.25, ROW * len(found.sources)
    low = 0.2 + _LINE * (foot.count("\n") + 1) + 0.5 + (0.3 if several else 0.0)
    tall = head + rows + _BETWEEN + _REPEATS + low
    figure = pyplot.figure(figsize=(WIDE, tall))
    write_title(figure, title)
    figure.text(0.15 / WIDE, 0.1 / tall, foot, size=SIZE, color="0.25", va="bottom")
    plot_sources(found, inches(figure, (LEFT, low + _REPEATS + _BETWEEN, WIDE - LEFT - RIGHT, rows)))
    plot_repeats(found, inches(figure, (_LEFT_BELOW, low, WIDE - _LEFT_BELOW - RIGHT, _REPEATS)))
    return figure


def title_high(title: str) -> float:
    """Return how high a title is that was broken into lines, in inches."""
    return 0.3 + 0.21 * (title.count("\n") + 1)


def write_title(figure: "Figure", title: str) -> None:
    """Write the message above a picture."""
    wide, tall = figure.get_size_inches()
    figure.text(0.15 / wide, 1 - 0.15 / tall, plain(title), size=13, weight="bold", va="top")


def inches(figure: "Figure", box: tuple[float, float, float, float]) -> "Axes":
    """Return axes at a place given in inches: left, bottom, width, height."""
    wide, tall = figure.get_size_inches()
    return figure.add_axes((box[0] / wide, box[1] / tall, box[2] / wide, box[3] / tall))


def plot_sources(found: Outcomes, ax: "Axes") -> "Axes":
    """Draw a row for each source of variation, and return the Axes."""
    count = len(found.ladder) if found.ladder else None
    most = _reach(found.sources, count)
    for row, source in enumerate(found.sources):
        _draw_row(ax, row, source, most)
    if count:
        ax.axvline(1.0, color=MARK, lw=1.4, ls="--", zorder=1)
        ax.text(1.0, -0.52, " one word", color=MARK, size=SIZE, va="bottom", ha="center")
    ax.set(xlim=(-0.02 * most, most), ylim=(len(found.sources) - 0.5, -0.5))
    ax.set_yticks([])
    ax.spines[["left", "right", "top"]].set_visible(False)
    ticks = _ticks(most, count)
    ax.set_xticks(list(ticks.values()), list(ticks), size=SIZE)
    ax.set_xlabel("by how many words they differ" if count else "by how much readings differ", size=SIZE)
    return ax


def _draw_row(ax: "Axes", row: int, source: Source, most: float) -> None:
    known = source.told or source.there
    colour, end = (KNOWN if known else OPEN), min(source.high, most)
    start = min(source.low, 0.98 * most)
    ax.plot([start, end], [row, row], color=colour, lw=7, solid_capstyle="butt", alpha=0.55, zorder=2)
    if source.high > most:
        ax.plot(most, row, ">", color=colour, ms=12, clip_on=False, zorder=3)
    if np.isfinite(source.sd) and not source.hindrance[0]:
        style: Any = {"ms": 10, "mfc": colour, "mec": "white", "mew": 1.2, "clip_on": False}
        ax.plot(min(source.sd, most), row, "o", zorder=4, **style)
    name_row(ax, row, source.label, short(source), "black" if known else "0.35")


def name_row(ax: "Axes", row: int, name: str, said: str, colour: str) -> None:
    """Write the name of a row, and what is known of it, to the left of the axes."""
    beside: Any = {
        "xy": (0, row), "xycoords": ax.get_yaxis_transform(), "annotation_clip": False,
        "xytext": (-LEFT * 72 + 11, 0), "textcoords": "offset points", "size": SIZE,
    }  # fmt: skip
    ax.annotate(plain(name), va="bottom", weight="bold", **beside)
    ax.annotate(plain(said), va="top", color=colour, **beside)


def short(source: Source) -> str:
    """Return what is known of a source, in a few words beside its row."""
    if source.hindrance[0] or (not source.there and source.high > _whole(source)):
        return "not known yet"
    if source.small:
        return f"under {size_words(source.high, source.ladder)}"
    if source.told:
        return f"about {size_words(source.sd, source.ladder)}"
    if source.there and source.high > _whole(source):
        return f"{size_words(source.low, source.ladder)} or more"
    return reach_words(source.low, source.high, source.ladder)


def _whole(source: Source) -> float:
    return source.ladder - 1.0 if source.ladder else float(np.log(100.0))


def _reach(sources: Sequence[Source], count: int | None) -> float:
    """Return how far the axis goes: all that is known, at most the ladder, or a hundred-fold."""
    whole, least = (count - 1.0, 1.5) if count else (float(np.log(6.0)), float(np.log(1.3)))
    ends = [end for each in sources for end in (each.high, 1.1 * each.sd, 1.2 * each.low) if end <= whole]
    return float(np.clip(1.05 * max(ends, default=0.0), least, max(whole, least)))


def _ticks(most: float, count: int | None) -> dict[str, float]:
    if count is None:
        return {"0": 0.0, **{f"{each} %": step for each, step in _PERCENT.items() if step <= most}}
    step = 0.5 if most <= 2.0 else 1.0
    return {f"{each:g}": float(each) for each in np.arange(0.0, most + 1e-9, step)}


# ------------------------------------------------------------ the repeats


def plot_repeats(found: Outcomes, ax: "Axes") -> "Axes":
    """Draw the repeats, by pour and day, each from the mean of its recipe, and return the Axes."""
    dots, count = found.dots, len(found.ladder) if found.ladder else None
    ax.spines[["right", "top"]].set_visible(False)
    if dots.empty:
        ax.set_axis_off()
        said = "Nothing was repeated yet. Pour your usual again, on two days, and feel two pieces of each."
        ax.text(0.5, 0.5, fill(said, 40), size=SIZE + 1, ha="center", va="center", transform=ax.transAxes)
        return ax
    places = _places(dots)
    _draw_days(ax, dots["day"], places)
    _draw_dots(ax, dots, places)
    reach = 1.2 * max(float(dots["off"].abs().max()), 1.0 if count else float(np.log(1.1)))
    ax.axhline(0.0, color="0.4", lw=1, zorder=1)
    ax.set(xlim=(places.min() - 0.8, places.max() + 0.8), ylim=(-reach, reach))
    ticks = _softer(reach, count)
    ax.set_yticks(list(ticks.values()), list(ticks), size=SIZE)
    what = "words" if count else "%"
    of = "recipe" if found.repeats_used else "pour"
    ax.set_title(f"Your repeats: {what} from the mean of their {of}", size=SIZE, loc="right", pad=6)
    return ax


def _places(dots: pd.DataFrame) -> Floats:
    """Return where each dot stands from left to right: a place a pour, room between days; shape (dots,)."""
    days = {day: at for at, day in enumerate(_in_order(dots["day"]))}
    pours = list(dict.fromkeys(zip(dots["day"].map(days), dots["pour"].astype(str), strict=True)))
    pours.sort(key=lambda pour: (pour[0], len(pour[1]), pour[1]))
    place = {pour: at + _BETWEEN_DAYS * pour[0] for at, pour in enumerate(pours)}
    own = list(zip(dots["day"].map(days), dots["pour"].astype(str), strict=True))
    return np.array([place[each] for each in own], float)


def _in_order(days: "pd.Series[Any]") -> list[Any]:
    found = list(dict.fromkeys(days))
    try:
        return sorted(found)
    except TypeError:
        return found


def _draw_days(ax: "Axes", days: "pd.Series[Any]", places: Floats) -> None:
    """Shade every other day, and name the days below."""
    order = _in_order(days)
    middles = []
    for at, day in enumerate(order):
        mine = places[(days == day).to_numpy()]
        middles.append((mine.min() + mine.max()) / 2)
        if at % 2 == 0:
            edge = (1.0 + _BETWEEN_DAYS) / 2
            ax.axvspan(mine.min() - edge, mine.max() + edge, color="0.94", lw=0, zorder=0)
    every = -(-len(order) // _MOST_DAYS)
    ax.set_xticks(middles[::every], [plain(day_words(day)) for day in order[::every]], size=SIZE)
    ax.tick_params(axis="x", length=0)


def day_words(day: object) -> str:
    """Return a day as it stands below the picture.

    >>> day_words(date(2026, 3, 2)), day_words("the first")
    ('Mon\\n2 Mar', 'the first')
    """
    return f"{day:%a}\n{day.day} {day:%b}" if isinstance(day, date) else fill(str(day), 9)


def _draw_dots(ax: "Axes", dots: pd.DataFrame, places: Floats) -> None:
    """Draw the notes, those of one pour on one line; a mark for each tester, where there are several."""
    for place in np.unique(places):
        off = dots["off"][places == place]
        ax.plot([place, place], [off.min(), off.max()], color="0.55", lw=2, zorder=2)
    aside = places + _aside(dots, places)
    testers = dots["tester"].value_counts().index.tolist()
    size = float(np.clip(190 / len(np.unique(places)), 4, 9))
    for at, tester in enumerate(testers):
        mine = (dots["tester"] == tester).to_numpy()
        style: dict[str, Any] = {"marker": MARKERS[at % len(MARKERS)], "color": _COLOURS[at % len(_COLOURS)]}
        label = plain(shorten(tester or "no name", 16, placeholder=" …"))
        style |= {"ls": "", "ms": size, "mec": "white", "mew": 0.6, "label": label, "zorder": 3}
        ax.plot(aside[mine], dots["off"][mine], **style)
    if len(testers) > 1:
        ax.legend(loc="upper center", bbox_to_anchor=(0.4, -0.2), ncols=3, fontsize=SIZE, frameon=False,
                  handletextpad=0.1, columnspacing=1.0)  # fmt: skip


def _aside(dots: pd.DataFrame, places: Floats) -> Floats:
    """Return a step aside for each dot: a row for each tester, and off another one on which it lies."""
    testers = dots["tester"].value_counts().index.tolist()
    row = dots["tester"].map({each: at for at, each in enumerate(testers)}).to_numpy(float)
    alike = pd.Series(list(zip(places, row, dots["off"].round(2), strict=True)))
    number, of = alike.groupby(alike).cumcount(), alike.map(alike.value_counts())
    within = 0.5 * (number - (of - 1) / 2) / of.clip(lower=2)
    return np.asarray(
        (within + row - (len(testers) - 1) / 2) / (len(testers) + 0.5 * (len(testers) > 1)), float
    )


def _softer(reach: float, count: int | None) -> dict[str, float]:
    """Return the ticks of what is harder and softer than the mean, two either way at most."""
    if count is None:
        within = {f"{each}": step for each, step in _PERCENT.items() if step <= reach}
        steps = dict(list(within.items())[-2:])
    else:
        every = -(-int(reach) // 2)
        steps = {f"{each}": float(each) for each in range(every, int(reach) + 1, every)}
    softer = {f"{said} softer": -step for said, step in steps.items()}
    return {**softer, "mean": 0.0, **{f"{said} harder": step for said, step in steps.items()}}
