"""Pictures of a day at the stove: the cooling pot with its pour window, and the fill weights."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from labkit.batch.cooling import CoolingFit
from labkit.batch.window import PourWindow

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_INK = "0.15"
_AHEAD = 0.6
"""How far ahead of the readings the curve is drawn, of the time that they took."""
_LEAST_MIN = 15.0
_POINTS = 300


def cooling_figure(
    table: pd.DataFrame,
    began: datetime,
    cooling: CoolingFit | None = None,
    window: PourWindow | None = None,
    pour_c: float | None = None,
    events: Mapping[str, float] | None = None,
) -> "Figure":
    """Draw the temperatures of a day against the clock; see `plot_cooling`."""
    from matplotlib import pyplot

    figure, ax = pyplot.subplots(figsize=(8.4, 4.6), layout="constrained")
    plot_cooling(table, began, cooling, window, pour_c, events, ax)
    return figure


def plot_cooling(
    table: pd.DataFrame,
    began: datetime,
    cooling: CoolingFit | None = None,
    window: PourWindow | None = None,
    pour_c: float | None = None,
    events: Mapping[str, float] | None = None,
    ax: "Axes | None" = None,
) -> "Axes":
    """Draw readings, the fitted curve with its 95 % band, the plateau, and the pour window; return the Axes.

    Parameters
    ----------
    table : DataFrame
        minutes (on the day's clock), celsius.
    began : datetime
        When the day's clock starts.
    cooling, window
        As fitted, or None where there is none.
    pour_c : float [°C]
        The wanted pour temperature.
    events : mapping of words to minutes
        What happened, marked along the top.
    """
    if ax is None:
        from matplotlib import pyplot

        ax = pyplot.subplots(figsize=(8.4, 4.6), layout="constrained")[1]
    end = float(table["minutes"].max())
    if cooling is not None:
        end = _curve(ax, cooling, window)
    if window is not None and window.is_open:
        _window(ax, window)
    ax.plot(table["minutes"], table["celsius"], "o", color=_INK, ms=4, label="read")
    if pour_c is not None:
        ax.axhline(pour_c, color=_INK, ls=":", lw=1)
        ax.annotate(f"pour at {pour_c:g} °C", (1, pour_c), xycoords=("axes fraction", "data"), ha="right",
                    va="bottom", size=9)  # fmt: skip
    _events(ax, events or {}, end)
    _clock(ax, began, float(table["minutes"].min()), end)
    ax.set(ylabel="pot, °C")
    ax.legend(loc="lower left", fontsize=9)
    return ax


def _curve(ax: "Axes", cooling: CoolingFit, window: PourWindow | None) -> float:
    since, last = cooling.since_min, cooling.last_min
    end = last + max(_AHEAD * (last - since), _LEAST_MIN)
    if window is not None and window.is_open:
        end = max(end, window.closes_min + 3.0)
    minutes = np.linspace(since, end, _POINTS)
    low, high = cooling.limits_at(minutes)
    ax.fill_between(minutes, low, high, color="0.75", lw=0, label="19 in 20 sure")
    ax.plot(minutes, cooling.celsius_at(minutes), color=_INK, lw=1.5, label="cooling")
    if cooling.plateau_c is not None:
        ax.axhline(cooling.plateau_c, color="0.5", ls="--", lw=1)
        ax.annotate("it sets here", (0, cooling.plateau_c), xycoords=("axes fraction", "data"), xytext=(4, 2),
                    textcoords="offset points", size=9)  # fmt: skip
    return end


def _window(ax: "Axes", window: PourWindow) -> None:
    ax.axvspan(window.opens_min, window.closes_min, facecolor="none", edgecolor="0.35", hatch="//", lw=1,
               label="pour window")  # fmt: skip
    for at in (*window.opens_limits, *window.closes_limits):
        ax.axvline(at, color="0.5", lw=0.8, ls=":")


def _events(ax: "Axes", events: Mapping[str, float], end: float) -> None:
    for row, (what, at) in enumerate(events.items()):
        if at <= end:
            ax.axvline(at, ymin=0.94, color=_INK, lw=1)
            ax.annotate(what, (at, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 2 + 10 * (row % 3)),
                        textcoords="offset points", size=8, ha="center")  # fmt: skip


def _clock(ax: "Axes", began: datetime, first: float, end: float) -> None:
    """Write the day's time under the axis."""
    step = next(
        each for each in (1, 2, 5, 10, 15, 30, 60, 120, 240) if (end - first) / each <= 9 or each == 240
    )
    start = began.astimezone()
    past = start.minute % step if step < 60 else start.minute
    ticks = np.arange(-past - start.second / 60, end + step, step)
    ticks = ticks[ticks >= first - 0.5]
    ax.set_xticks(ticks, [f"{start + timedelta(minutes=float(each)):%H:%M}" for each in ticks])
    ax.set(xlim=(first - 0.5, end), xlabel="time of day")


def fills_figure(fills_g: Sequence[float], nominal_g: float | None) -> "Figure":
    """Draw the fill weights one by one, beside the nominal content where there is one."""
    from matplotlib import pyplot

    figure, ax = pyplot.subplots(figsize=(6.4, 2.8), layout="constrained")
    ax.plot(range(1, len(fills_g) + 1), fills_g, "o", color=_INK)
    if nominal_g is not None:
        ax.axhline(nominal_g, color=_INK, ls="--", lw=1)
        ax.annotate(
            "nominal", (1, nominal_g), xycoords=("axes fraction", "data"), ha="right", va="bottom", size=9
        )
    ax.margins(y=0.25)
    ax.set(xlabel="in the order of filling", ylabel="g")
    ax.locator_params(axis="x", integer=True)
    return figure
