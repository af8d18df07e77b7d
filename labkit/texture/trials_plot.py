"""The picture of several trials side by side: how hard the usual recipe came out in each."""

from collections.abc import Sequence
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from labkit.texture.frame import plain
from labkit.texture.outcomes_plot import (
    KNOWN,
    LEFT,
    MARK,
    OPEN,
    RIGHT,
    ROW,
    SIZE,
    TITLE_WIDE,
    WIDE,
    inches,
    name_row,
    title_high,
    write_title,
)
from labkit.texture.source import size_words
from labkit.texture.trials_apart import NINE_IN_TEN, TrialsApart, trials_apart

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_TRIALS = 12
_WORD, _IN_ONE_ROW = 10, 3  # letters in a line, words in a row
_NAME = 22  # letters beside a row
_FOOT = "Dot: what a trial's own notes say of the usual. Bar: 9 in 10 sure. Rings: words felt."


def trials_figure(table: pd.DataFrame, ladder: Sequence[str]) -> "Figure":
    """Draw how hard the usual came out in each trial, the last one marked; see `trials_apart`."""
    from matplotlib import pyplot

    found = trials_apart(table, ladder)
    title, foot = fill(found.title, TITLE_WIDE), fill(_FOOT, 62)
    shown = min(len(found.names), MOST_TRIALS)
    lines = 1 + foot.count("\n") + sum(_lines(found.ladder))
    low, rows = 0.5 + 0.205 * lines, ROW * shown
    tall = title_high(title) + rows + low
    figure = pyplot.figure(figsize=(WIDE, tall))
    write_title(figure, title)
    figure.text(0.15 / WIDE, 0.1 / tall, foot, size=SIZE, color="0.25", va="bottom")
    plot_trials(found, inches(figure, (LEFT, low, WIDE - LEFT - RIGHT, rows)))
    return figure


def plot_trials(found: TrialsApart, ax: "Axes") -> "Axes":
    """Draw a row for each of the last trials, oldest above, and return the Axes."""
    last, steps = len(found.names) - 1, len(found.ladder) - 1
    first = max(0, len(found.names) - MOST_TRIALS)
    for row, at in enumerate(range(first, last + 1)):
        colour = OPEN if found.wordless[at] else MARK if at == last and last else KNOWN
        _draw_trial(ax, row, found, at, colour)
    for rung in range(steps + 1):
        ax.axvline(rung, color="0.88", lw=1, zorder=0)
    ax.set(xlim=(-0.45, steps + 0.45), ylim=(last - first + 0.5, -0.5))
    ax.set_yticks([])
    ax.spines[["left", "right", "top"]].set_visible(False)
    _name_rungs(ax, found.ladder)
    return ax


def _lines(ladder: Sequence[str]) -> tuple[int, int]:
    """Return how many lines the words below the picture take: the upper row, and the lower one."""
    tall = [1 + fill(word, _WORD).count("\n") for word in ladder]
    return (max(tall[::2]), max(tall[1::2])) if len(ladder) > _IN_ONE_ROW else (max(tall), 0)


def _name_rungs(ax: "Axes", ladder: Sequence[str]) -> None:
    """Write the words below the picture, every other one in a row further down where there are many."""
    words, rungs = [plain(fill(word, _WORD)) for word in ladder], range(len(ladder))
    every = 2 if len(ladder) > _IN_ONE_ROW else 1
    ax.set_xticks(rungs[::every], words[::every], size=SIZE)
    if every == 2:
        ax.set_xticks(rungs[1::2], words[1::2], minor=True, size=SIZE)
        ax.tick_params(axis="x", which="minor", pad=6 + 1.25 * SIZE * _lines(ladder)[0])


def _draw_trial(ax: "Axes", row: int, found: TrialsApart, at: int, colour: str) -> None:
    steps, name = len(found.ladder) - 1, found.names[at]
    ends = found.hardness[at] + NINE_IN_TEN * found.sd[at] * np.array([-1.0, 1.0])
    low, high = np.clip(ends, -0.45, steps + 0.45)
    ax.plot([low, high], [row, row], color=colour, lw=7, solid_capstyle="butt", alpha=0.55, zorder=2)
    if not found.wordless[at]:
        middle = float(np.clip(found.hardness[at], -0.45, steps + 0.45))
        marker = "o" if at < len(found.names) - 1 else "D"
        ax.plot(middle, row, marker, ms=10, mfc=colour, mec="white", zorder=4)
    felt = found.notes["rung"][found.notes["trial"].astype(str) == name].clip(-0.45, steps + 0.45)
    beside = 0.09 * felt.groupby(felt.round(1)).cumcount()
    ax.plot(felt + beside, np.full(len(felt), row + 0.27), "o", ms=6, mfc="none", mec="0.35")
    unsure = f"give or take {size_words(NINE_IN_TEN * float(found.sd[at]), len(found.ladder))}"
    said = "no word yet" if found.wordless[at] else unsure
    name_row(ax, row, short_name(name), said, "black")


def short_name(name: str) -> str:
    """Return a trial's name as it fits beside its row: its beginning and its end, which is often its date.

    >>> short_name("My usual is too soft, 2 Mar 2026")
    'My usual … 2 Mar 2026'
    """
    if len(name) <= _NAME:
        return name
    return f"{name[: _NAME // 2 - 3].rstrip()} … {name[-_NAME // 2 :].lstrip()}"
