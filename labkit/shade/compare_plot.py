"""Pictures that set colours beside each other: forecast and read, wanted and found."""

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from labkit.colour.cie import delta_e00, hex_of_lab
from labkit.shade.learned import lab_read

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_CLOSE = 2.0


def told_figure(told: pd.DataFrame) -> "Figure":
    """Draw each swatch's colour beside its forecast, and how far apart they were.

    ``told`` is what `labkit.shade.learned.told_before` returned.
    """
    from matplotlib import pyplot

    wide = max(5.0, 1.6 + 0.62 * len(told))
    figure, (top, bottom) = pyplot.subplots(
        2, 1, figsize=(wide, 4.6), sharex=True, layout="constrained", height_ratios=(1, 1.6)
    )
    _draw_pairs(top, told)
    draw_differences(bottom, told)
    return figure


def _draw_pairs(ax: "Axes", told: pd.DataFrame) -> None:
    for row, names in enumerate((("L", "a", "b"), ("forecast_L", "forecast_a", "forecast_b"))):
        colours = hex_of_lab(told[list(names)].to_numpy())
        ax.bar(np.arange(1, len(told) + 1), 1, 0.94, bottom=1 - row, color=list(colours))
    ax.set_yticks([0.5, 1.5], ["forecast before", "read"])
    ax.set(ylim=(0, 2))
    ax.set_title("Each swatch, and its forecast", size=11, loc="left")
    for side in ax.spines.values():
        side.set_visible(False)


def draw_differences(ax: "Axes", told: pd.DataFrame) -> "Axes":
    """Draw ΔE00 between forecast and swatch: from the swatches before it, and from the estimates alone."""
    at = np.arange(1, len(told) + 1)
    ax.axhspan(0, _CLOSE, color="0.92", lw=0)
    ax.plot(
        at, told["estimate_delta_e00"], "s", mfc="white", mec="0.3", ms=7, label="labkit's estimate alone"
    )
    ax.plot(at, told["delta_e00"], "o-", color="0.15", ms=7, label="with your swatches until then")
    ax.set(
        xlabel="swatch",
        ylabel="difference, ΔE00",
        ylim=(0, 1.6 * told[["delta_e00", "estimate_delta_e00"]].max().max()),
    )
    ax.set_xticks(at)
    ax.legend(fontsize=9, loc="upper left", ncols=2 if len(told) > 6 else 1)
    return ax


def repeats_figure(sets: list[pd.DataFrame]) -> "Figure":
    """Draw how far repeat swatches lie from the mean of their blend, batch by batch.

    Parameters
    ----------
    sets
        The repeats of each blend, film and backing, as `labkit.shade.repeats.sets_of` returns them.
    """
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(
        1, len(sets), figsize=(1.6 + 2.6 * len(sets), 3.4), sharey=True, squeeze=False, layout="constrained"
    )
    for number, (ax, group) in enumerate(zip(axes[0], sets, strict=True), 1):
        draw_repeats(ax, group)
        ax.set_title(f"blend {number}", size=10, loc="left")
    axes[0, 0].set_ylabel("from the mean of all, ΔE00")
    return figure


def draw_repeats(ax: "Axes", group: pd.DataFrame) -> "Axes":
    """Draw the swatches of one blend, film and backing by batch; a bar is the batch's mean."""
    labs = np.stack([lab_read(row) for _, row in group.iterrows()])
    middle = labs.mean(0)
    batches = group["batch"].replace("", "no batch named")
    names = list(dict.fromkeys(batches))
    at = np.array([names.index(each) for each in batches], float)
    for place in range(len(names)):
        own = at == place
        mean = float(delta_e00(labs[own].mean(0), middle))
        ax.hlines(mean, place - 0.3, place + 0.3, color="0.3", lw=2)
        at[own] += np.linspace(-0.18, 0.18, int(own.sum())) if own.sum() > 1 else 0.0
    far = np.asarray(delta_e00(labs, np.broadcast_to(middle, labs.shape)))
    ax.scatter(at, far, c=list(hex_of_lab(labs)), s=90, edgecolors="0.3", zorder=3)
    ax.set_xticks(range(len(names)), names, size=9)
    ax.set(ylim=(0, max(2.0, 1.2 * far.max())), xlim=(-0.6, len(names) - 0.4))
    return ax


def wanted_figure(strips: list[tuple[str, np.ndarray]], wanted: np.ndarray, films_um: np.ndarray) -> "Figure":
    """Draw a strip for each blend, the film getting thicker to the right, with the wanted colour at its end.

    Parameters
    ----------
    strips
        For each blend what it is called, and CIELAB along the films, shape (films, 3).
    wanted
        The wanted CIELAB colour, shape (3,).
    films_um
        Thicknesses [µm], evenly spaced.
    """
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(
        len(strips), 1, figsize=(8.0, 0.7 + 0.85 * len(strips)), sharex=True, squeeze=False,
        layout="constrained",
    )  # fmt: skip
    half = (films_um[1] - films_um[0]) / 2
    end = films_um[-1] + half
    for ax, (name, lab) in zip(axes[:, 0], strips, strict=True):
        for film, colour in zip(films_um, hex_of_lab(lab), strict=True):
            ax.axvspan(film - half, film + half, color=colour, lw=0)
        ax.axvspan(end, end + 8 * half, color=hex_of_lab(wanted), lw=0)
        ax.axvline(end, color="white", lw=3)
        ax.set(xlim=(films_um[0] - half, end + 8 * half), yticks=[])
        ax.set_ylabel(name, rotation=0, ha="right", va="center", size=10)
        for side in ax.spines.values():
            side.set_visible(False)
    axes[0, 0].text(end + 4 * half, 1.04, "wanted", ha="center", va="bottom", size=9,
                    transform=axes[0, 0].get_xaxis_transform())  # fmt: skip
    ticks = axes[-1, 0].get_xticks()
    axes[-1, 0].set_xticks(ticks[(ticks >= films_um[0]) & (ticks <= films_um[-1])])
    axes[-1, 0].set_xlabel("film, µm: from sheer to built up")
    return figure
