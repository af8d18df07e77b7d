"""Pictures of batches side by side: how each was made against how it came out."""

from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from labkit.batch.batches_apart import FEWEST, OUTCOMES, PROCESSES, BatchesApart, shown_p, signed
from labkit.batch.names_beside import name_points

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARKERS = "osD^vPX*"
FILLS = ("0.25", "white", "0.65")
_INK = "0.15"
_COLUMNS = 3
_WIDE, _TALL = 3.7, 3.0  # inches of one panel


def apart_figure(found: BatchesApart, outcome: str) -> "Figure | None":
    """Draw an outcome against each process that is known beside it; None where there is none."""
    from matplotlib import pyplot

    known = [each for each in PROCESSES if len(_points(found.batches, each, outcome))]
    if not known:
        return None
    columns = min(_COLUMNS, len(known))
    rows = -(-len(known) // columns)
    size = (_WIDE * columns + 0.4, _TALL * rows + 0.9)
    figure, axes = pyplot.subplots(rows, columns, figsize=size, layout="constrained", squeeze=False)
    for ax, process in zip(axes.flat, known, strict=False):
        plot_apart(found, process, outcome, ax, named=False)
    for ax in list(axes.flat)[len(known) :]:
        ax.set_axis_off()
    _legend(figure, found.batches, outcome)
    title = f"{OUTCOMES[outcome][0].capitalize()}, batch by batch (p allows for all questions asked)"
    figure.suptitle(title, size=11, x=0.01, ha="left")
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    for ax, process in zip(axes.flat, known, strict=False):
        _name(ax, found, process, outcome)
    return figure


def plot_apart(
    found: BatchesApart, process: str, outcome: str, ax: "Axes | None" = None, named: bool = True
) -> "Axes":
    """Draw an outcome against a process, a mark and a name for each batch, and return the Axes.

    Marks differ by recipe. Bars on sink holes are 95 % limits. With ``named`` the picture is laid out now,
    and names stand where they then hide the least.
    """
    if ax is None:
        from matplotlib import pyplot

        ax = pyplot.subplots(figsize=(_WIDE, _TALL), layout="constrained")[1]
    table = _points(found.batches, process, outcome)
    letters = _letters(found.batches)
    if outcome == "sink_share":
        ax.vlines(table[process], table["sink_low"], table["sink_high"], color="0.75", lw=1.5, zorder=1)
    for recipe, rows in table.groupby("recipe", sort=False):
        at = letters.index(str(recipe))
        ax.plot(rows[process], rows[outcome], MARKERS[at % len(MARKERS)], color=_INK, ms=7,
                markerfacecolor=FILLS[at % len(FILLS)], zorder=3)  # fmt: skip
    _labels(ax, process, outcome, table)
    _limits(ax, table, process, outcome)
    ax.set_title(fill(_message(found.of(process, outcome)), 44), size=9, loc="left")
    if named:
        ax.figure.draw_without_rendering()  # type: ignore[union-attr]
        _name(ax, found, process, outcome)
    return ax


def _name(ax: "Axes", found: BatchesApart, process: str, outcome: str) -> None:
    table = _points(found.batches, process, outcome)
    name_points(ax, table[[process, outcome]].to_numpy(float), [str(each) for each in table["batch"]])


def _points(table: pd.DataFrame, process: str, outcome: str) -> pd.DataFrame:
    return table[table[process].notna() & table[outcome].notna()]


def _letters(table: pd.DataFrame) -> list[str]:
    return list(dict.fromkeys(map(str, table["recipe"])))


def _message(row: "pd.Series[Any]") -> str:
    """Return what may be said, short: it stands on the picture itself."""
    if row["count"] < FEWEST:
        return f"{row['count']} of one recipe, too few to say anything ({FEWEST - row['count']} more)"
    if np.isnan(row["tau"]):
        return "one of them did not vary"
    if np.isnan(row["p_holm"]):
        return "too few differ for a link to show"
    verdict = "a link is shown" if row["shown"] else "no link is shown"
    return f"{verdict}: τ {signed(row['tau'])}, {row['count']} batches, p {shown_p(row['p_holm'])}"


def _labels(ax: "Axes", process: str, outcome: str, table: pd.DataFrame) -> None:
    name, _, unit = PROCESSES[process]
    ax.set_xlabel(f"{name}, {unit}" if unit else name, size=9)
    ax.tick_params(labelsize=8)
    if process == "reheats":
        ax.set_xticks(sorted({int(each) for each in table[process]}))
    if outcome == "hardness":
        words = list(table["ladder"].iloc[-1])
        ax.set_yticks(range(len(words)), [fill(each.replace("$", r"\$"), 12) for each in words], size=8)
    elif outcome == "streaks":
        ax.set_yticks(range(5), ["0 none", "1", "2", "3", "4 all over"], size=8)
    else:
        from matplotlib.ticker import PercentFormatter

        ax.yaxis.set_major_formatter(PercentFormatter(1.0))


def _limits(ax: "Axes", table: pd.DataFrame, process: str, outcome: str) -> None:
    low, high = float(table[process].min()), float(table[process].max())
    room = 0.22 * (high - low) or 1.0
    ax.set_xlim(low - room, high + room)
    if outcome in ("hardness", "streaks"):
        top = len(table["ladder"].iloc[-1]) if outcome == "hardness" else 5
        ax.set_ylim(-0.6, top - 0.4)
    else:
        ends = ("sink_low", "sink_high") if outcome == "sink_share" else (outcome, outcome)
        least, most = float(table[ends[0]].min()), float(table[ends[1]].max())
        room = 0.25 * (most - least) or 0.05
        ax.set_ylim(least - room, most + room)


def _legend(figure: "Figure", table: pd.DataFrame, outcome: str) -> None:
    from matplotlib.lines import Line2D

    shown = _letters(table[table[outcome].notna()])
    marks = [
        Line2D(
            [], [], ls="", marker=MARKERS[at % len(MARKERS)], color=_INK,
            markerfacecolor=FILLS[at % len(FILLS)], label=f"recipe {letter}",
        )
        for at, letter in enumerate(_letters(table)) if letter in shown
    ]  # fmt: skip
    if len(marks) > 1:
        figure.legend(handles=marks, loc="outside lower left", ncols=min(len(marks), 6), fontsize=8)
