"""A photo with what is read of it drawn in, to look at before a reading is believed."""

import io
import os
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from labkit.colour.charts import Chart, find_chart
from labkit.colour.patch import right_way_round
from labkit.colour.photo import Photo, read_photo
from labkit.colour.place import SQUARE, homography, project, read_corners
from labkit.colour.sample import MIDDLE

Floats = NDArray[np.float64]

_LARGEST = 1400  # pixels along the longer side
_QUALITY = 85
_DARK, _LIGHT = (0, 0, 0), (255, 255, 255)


def preview(
    photo: bytes | str | os.PathLike[str] | Photo,
    chart: str | Chart | None = None,
    chart_corners: Any = None,
    patch_corners: Any = None,
) -> bytes:
    """Return the upright photo as a JPEG, with what is read of chart and swatch outlined.

    Chart and swatch may be missing: the photo alone is what corners are clicked on. The
    corners of the chart are numbered in the order given, and its patches are outlined as they are read.

    Raises
    ------
    LabError
        Where the photo or the corners cannot be read.
    """
    photo = photo if isinstance(photo, Photo) else read_photo(photo)
    shown = Image.fromarray(photo.pixels)
    shown.thumbnail((_LARGEST, _LARGEST))
    scale = shown.width / photo.full_size[0]
    draw = ImageDraw.Draw(shown)
    if chart is not None and chart_corners is not None:
        known = find_chart(chart)
        given = read_corners(chart_corners, photo.full_size, "chart")
        corners, _ = right_way_round(photo, known, given)
        _outline(draw, corners * scale, known.rows, known.columns)
        for number, corner in enumerate(given * scale, 1):
            _number(draw, corner, number)
    if patch_corners is not None:
        _outline(draw, read_corners(patch_corners, photo.full_size, "patch") * scale, 1, 1)
    out = io.BytesIO()
    shown.save(out, "JPEG", quality=_QUALITY, subsampling=0)
    return out.getvalue()


def _outline(draw: ImageDraw.ImageDraw, corners: Floats, rows: int, columns: int) -> None:
    """Draw the sides, and the part of each patch that is read, dark beside light to be seen on any colour."""
    _ring(draw, corners)
    perspective = homography(SQUARE, corners)
    for row in range(rows):
        for column in range(columns):
            middle = (np.array([column, row]) + 0.5 + MIDDLE * (SQUARE - 0.5)) / [columns, rows]
            _ring(draw, project(perspective, middle))


def _ring(draw: ImageDraw.ImageDraw, corners: Floats) -> None:
    closed = [tuple(point) for point in (*corners, corners[0])]
    draw.line(closed, fill=_DARK, width=4)
    draw.line(closed, fill=_LIGHT, width=2)


def _number(draw: ImageDraw.ImageDraw, corner: Floats, number: int) -> None:
    draw.text(
        tuple(corner), str(number), fill=_LIGHT, stroke_fill=_DARK, stroke_width=3, anchor="mm", font_size=26
    )
