"""What is set upon a map: pours by their numbers, the star, words on their bands, the scale beside it."""

from collections.abc import Iterable, Sequence
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.texture.frame import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

_NEAR = 0.045  # of the picture: pours nearer than this share one mark
_STAR, _STAR_MORE, _STAR_MOST = 30, 9, 66  # points across, more for each pour that lies on it
_ROOM, _MARK = 0.024, 0.025  # half as tall as a word, as a mark


def groups(places: Floats, numbers: Iterable[object]) -> list[tuple[Floats, list[str]]]:
    """Return places with the numbers that are marked there: those too near to the first of a group join it.

    >>> [numbers for _, numbers in groups(np.array([[0, 0], [0.5, 0], [0.01, 0]]), [1, 2, 3])]
    [['1', '3'], ['2']]
    """
    found: list[tuple[Floats, list[str]]] = []
    for place, number in zip(places, numbers, strict=True):
        near = [group for at, group in found if np.hypot(*(at - place)) < _NEAR]
        if near:
            near[0].append(str(number))
        else:
            found.append((place, [str(number)]))
    return found


def mark_pours(ax: "Axes", places: Floats, numbers: Iterable[object], size: ArrayLike = (1.0, 1.0)) -> None:
    """Write each pour's number in a white circle; pours of one place share it. ``size`` is the picture's."""
    for place, group in groups(places / np.asarray(size), numbers):
        box = {"boxstyle": "circle,pad=0.25" if len(group) == 1 else "round,pad=0.25", "fc": "white"}
        (x, y), said = place * np.asarray(size), plain(fill(", ".join(group), 8))
        ax.text(x, y, said, size=8, weight="bold", ha="center", va="center",
                zorder=5, bbox={**box, "ec": "black", "lw": 1.1})  # fmt: skip


def mark_star(ax: "Axes", places: Floats, pours: Floats, size: ArrayLike = (1.0, 1.0)) -> None:
    """Draw a star where to pour next, so large that it shows around the pours that lie there."""
    for place in places:
        there = (np.linalg.norm((pours - place) / np.asarray(size), axis=1) < _NEAR).sum()
        ms = np.clip(_STAR + _STAR_MORE * (there - 1), _STAR, _STAR_MOST)
        ax.plot(*place[:, None], "*", ms=ms, mfc="white", mec="black", mew=1.3, zorder=4, clip_on=False)


def name_bands(
    ax: "Axes", places: Floats, rungs: Floats, words: Sequence[str], edge: Floats, taken: Floats
) -> None:
    """Write each word of the ladder in its band where there is room: off the edge, and off what is marked."""
    from matplotlib import patheffects

    nearest = np.clip(np.round(rungs), 0, len(words) - 1)
    for rung, word in enumerate(words):
        mine = places[nearest == rung]
        off = np.minimum(_away(mine, places[nearest != rung]), _away(mine, edge))
        room = np.minimum(off, _away(mine, taken) - _MARK)
        if len(mine) and room.max() > _ROOM:
            x, y = mine[room.argmax()]
            label = ax.text(x, y, plain(fill(word, 14)), size=9.5, color="white", zorder=3)
            label.set(ha="center", va="center", weight="bold")
            label.set_path_effects([patheffects.withStroke(linewidth=2.5, foreground="0.15")])


def _away(places: Floats, others: Floats) -> Floats:
    """Return the distance to the nearest other; words are wide, so that sideways counts a third."""
    if not len(others):
        return np.full(len(places), 0.5)
    apart = (places[:, None] - others[None]) * np.array([1 / 3, 1.0])
    return np.asarray(np.hypot(apart[..., 0], apart[..., 1]).min(axis=1))


def scale_beside(ax: "Axes", filled: Any, ticks: ArrayLike, words: Sequence[str]) -> None:
    """Draw the scale of colours in the right-hand margin of the axes."""
    beside = ax.inset_axes((1.0, 0.3, 0.03, 0.6))
    bar = ax.figure.colorbar(filled, cax=beside, ticks=ticks)
    bar.ax.set_yticklabels([plain(fill(word, 11)) for word in words], size=9)
    bar.ax.tick_params(length=2)


def hatch(ax: "Axes", triangulation: Any, sd: Floats, over: float) -> None:
    """Hatch where the surface is more unsure than this, in rungs."""
    if (sd > over).any():
        unknown = ax.tricontourf(triangulation, sd, levels=[over, 1e9], colors="none", hatches=["///"])
        unknown.set(edgecolor="0.75", linewidth=0)
