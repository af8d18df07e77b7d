"""Pictures of streak tests: the marked photo, grades by the round, how fast ways of stirring come clean."""

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from labkit.streak.evenness import Unevenness
from labkit.streak.marking import marked
from labkit.streak.rounds import MOST, WORDS, read_rounds
from labkit.streak.survival import CleanRounds

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARKERS = "osD^vP"
STYLES = ("-", "--", ":", "-.")
_INK = "0.15"
_APART = 0.07  # of a grade, so that pigments with the same grade are both seen


def _axes(ax: "Axes | None", size: tuple[float, float]) -> "Axes":
    if ax is not None:
        return ax
    from matplotlib import pyplot

    return pyplot.subplots(figsize=size, layout="constrained")[1]


def marked_figure(image: Any, result: Unevenness) -> "Figure":
    """Draw the photo with its streaks marked, what they are like beside it, and how even it is above."""
    from matplotlib import pyplot

    figure, (photo, bars) = pyplot.subplots(
        1, 2, figsize=(9.6, 4.6), width_ratios=(2.4, 1), layout="constrained"
    )
    plot_marked(image, result, photo)
    _plot_pigments(result, bars)
    return figure


def plot_marked(image: Any, result: Unevenness, ax: "Axes | None" = None) -> "Axes":
    """Draw the photo: area outlined, streaks hatched, glare dotted; and return the Axes."""
    ax = _axes(ax, (6.4, 4.8))
    ax.imshow(np.asarray(marked(image, result)), interpolation="nearest")
    ax.set_axis_off()
    ax.set_title(
        f"Unevenness ΔE00 {result.index:.1f}; off by over 2 in {100 * result.share_over_2:.1f} % of the area",
        size=11, loc="left",
    )  # fmt: skip
    return ax


def _plot_pigments(result: Unevenness, ax: "Axes") -> None:
    names = [name for name, share in result.by_pigment.items() if np.isfinite(share)]
    shares = [100 * result.by_pigment[name] for name in names]
    ax.barh(range(len(names)), shares, color="0.6", edgecolor=_INK)
    ax.set_yticks(range(len(names)), names)
    for row, share in enumerate(shares):
        ax.annotate(f"{share:.0f} %", (share, row), (4, 0), textcoords="offset points", va="center", size=9)
    ax.set(xlim=(0, 118), xlabel="% of the streaks")
    run = f" (they run at {result.angle_deg:.0f}°)" if np.isfinite(result.angle_deg) else ""
    ax.set_title(f"Most like{run}" if names else "No streaks to tell apart", size=11, loc="left")


def grades_figure(rounds: pd.DataFrame, told: pd.DataFrame, limit: float = 0.05) -> "Figure":
    """Draw the grades against the round, and beside them the chance of a streak with its interval.

    ``told`` is what `labkit.streak.stirring` returned.
    """
    from matplotlib import pyplot

    figure, (left, right) = pyplot.subplots(
        1, 2, figsize=(9.6, 3.9), width_ratios=(1.5, 1), layout="constrained"
    )
    plot_grades(rounds, left)
    plot_chances(told, limit, right)
    return figure


def plot_grades(rounds: pd.DataFrame, ax: "Axes | None" = None) -> "Axes":
    """Draw the grades of each pigment against the round, and return the Axes."""
    ax = _axes(ax, (6.4, 3.9))
    first = int(rounds["round"].min())
    for at, course in enumerate(read_rounds(rounds)):
        began = int(rounds.loc[rounds["pigment"].str.strip() == course.pigment, "round"].min())
        raised = course.grades + _APART * at
        ax.plot(
            course.rounds + began, raised, STYLES[at % len(STYLES)], marker=MARKERS[at % len(MARKERS)],
            color=_INK, markerfacecolor="white" if at % 2 else "0.5", label=course.pigment,
        )  # fmt: skip
    ax.set_yticks(range(MOST + 1), [f"{grade} {word}" for grade, word in enumerate(WORDS)])
    ax.set(ylim=(-0.3, MOST + 0.5), xlabel="round")
    ax.set_xticks(range(first, int(rounds["round"].max()) + 1))
    ax.legend(fontsize=9)
    ax.set_title("Streaks seen", size=11, loc="left")
    return ax


def plot_chances(told: pd.DataFrame, limit: float = 0.05, ax: "Axes | None" = None) -> "Axes":
    """Draw the chance that another look would show a streak, with its 90 % interval, and return the Axes."""
    ax = _axes(ax, (4.8, 3.9))
    rows = np.arange(len(told))[::-1]
    ax.hlines(rows, 100 * told["low"], 100 * told["high"], color="0.6", lw=3)
    ax.plot(100 * told["chance_of_streak"], rows, "o", color=_INK)
    ax.axvline(100 * limit, color=_INK, ls="--", lw=1)
    ax.annotate(" your limit", (100 * limit, 1), xycoords=("data", "axes fraction"), va="top", size=8)
    names = [f"{row.pigment}\n{_to_go(row.rounds_to_go)}" for row in told.itertuples()]
    ax.set_yticks(rows, names)
    ax.set(xlim=(-3, 103), ylim=(-0.6, len(told) - 0.3), xlabel="chance that a look still shows a streak, %")
    ax.set_title("After the last round (bar: 9 in 10 sure)", size=11, loc="left")
    return ax


def _to_go(rounds: Any) -> str:
    if rounds == 0:
        return "can stop"
    return "change the way" if np.isinf(rounds) else f"about {rounds:.0f} to go"


def clean_figure(found: CleanRounds) -> "Figure":
    """Draw the share of runs that is not clean yet, by rounds or minutes."""
    from matplotlib import pyplot

    figure, ax = pyplot.subplots(figsize=(6.4, 4.2), layout="constrained")
    plot_clean(found, ax)
    return figure


def plot_clean(found: CleanRounds, ax: "Axes | None" = None) -> "Axes":
    """Draw the share of runs that is not clean yet, with 90 % bands, and return the Axes.

    A tick is a run that was stopped before it was clean.
    """
    ax = _axes(ax, (6.4, 4.2))
    for at, (name, rows) in enumerate(found.curves.groupby("method", sort=False)):
        style = STYLES[at % len(STYLES)]
        shade = str(0.15 + 0.3 * (at % 3))
        ax.step(rows["at"], 100 * rows["not_clean"], style, where="post", color=shade, label=str(name))
        band = 100 * rows[["low", "high"]].ffill()
        ax.fill_between(rows["at"], band["low"], band["high"], step="post", color=shade, alpha=0.12, lw=0)
        counts, clean = found.waits[str(name)]
        stopped = counts[clean == 0]
        here = np.searchsorted(rows["at"].to_numpy(), stopped, side="right") - 1
        ax.plot(stopped, 100 * rows["not_clean"].to_numpy()[here], "|", color=shade, ms=9)
    ax.set(ylim=(0, 104), xlim=(0, None), xlabel=found.unit, ylabel="not clean yet, % of runs")
    ax.legend(fontsize=9)
    ax.set_title("How long until no streak is seen (shade: 9 in 10 sure)", size=11, loc="left")
    return ax
