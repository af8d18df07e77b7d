"""Names beside the points of a picture, each where it hides the least."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from labkit.batch.asked import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Box = tuple[float, float, float, float]
"""Left, foot, right, top."""

_LETTERS = 14
_SIZE = 7.0
_WIDE, _TALL = 0.6, 1.15  # of the size, for a letter
_PLACES = [(side, up) for up in (4.0, -11.0, 12.0, -19.0, 20.0, -27.0) for side in (5.0, -5.0)]
"""Where a name may stand beside its point, in points; beyond `_NEAR` a line leads to it."""
_NEAR = 11.0


def name_points(ax: "Axes", points: Floats, names: Sequence[str]) -> None:
    """Write a name beside each point, shape (n, 2) in data units; the picture is laid out before."""
    scale = ax.figure.dpi / 72.0
    spots = ax.transData.transform(points) / scale
    inside = tuple(each / scale for each in ax.bbox.extents)
    taken: list[Box] = [(x - 5.0, y - 5.0, x + 5.0, y + 5.0) for x, y in spots.tolist()]
    for point, spot, name in zip(points.tolist(), spots.tolist(), map(short_name, names), strict=True):
        boxes = [_box(spot, place, name) for place in _PLACES]
        best = int(np.argmin([_hidden(box, taken, inside) for box in boxes]))  # type: ignore[arg-type]
        taken.append(boxes[best])
        side = "left" if _PLACES[best][0] > 0 else "right"
        line = {"arrowstyle": "-", "lw": 0.5, "color": "0.6", "shrinkA": 0.0, "shrinkB": 2.0}
        ax.annotate(
            name.replace("$", r"\$"), point, _PLACES[best], textcoords="offset points", ha=side, size=_SIZE,
            color="0.15", arrowprops=line if abs(_PLACES[best][1]) > _NEAR else None,
        )  # fmt: skip


def short_name(name: str) -> str:
    """Return a name that fits beside a point: its last words, which mostly tell it apart.

    >>> short_name("Batch of 27 Nov 2026"), short_name("Rosewood")
    ('…27 Nov 2026', 'Rosewood')
    """
    if len(name) <= _LETTERS:
        return name
    end = name[-(_LETTERS - 1) :]
    return f"…{end[end.find(' ') + 1 :]}" if " " in end[:-1] else f"…{end}"


def _box(spot: Sequence[float], place: tuple[float, float], name: str) -> Box:
    wide = _WIDE * _SIZE * len(name)
    left = spot[0] + place[0] - (wide if place[0] < 0 else 0.0)
    return left, spot[1] + place[1], left + wide, spot[1] + place[1] + _TALL * _SIZE


def _hidden(box: Box, taken: Sequence[Box], inside: Box) -> float:
    """Return how much a box covers of others, and far more of a cost where it leaves the axes."""
    area = (box[2] - box[0]) * (box[3] - box[1])
    return sum(_common(box, each) for each in taken) + 10.0 * (area - _common(box, inside))


def _common(one: Box, other: Box) -> float:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    tall = min(one[3], other[3]) - max(one[1], other[1])
    return max(wide, 0.0) * max(tall, 0.0)
