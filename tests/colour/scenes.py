"""Photos of a chart and a swatch, drawn with known colours, camera, perspective and light."""

import io
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageFilter

from labkit.colour.charts import charts
from labkit.colour.cie import colour_science, xyz_of_lab
from labkit.colour.place import SQUARE, homography, project

SIZE = (1200, 900)
CHART_AT = np.array([[150.0, 130.0], [830.0, 90.0], [870.0, 560.0], [120.0, 540.0]])
STRIP_AT = np.array([[150.0, 330.0], [830.0, 300.0], [850.0, 430.0], [140.0, 450.0]])
SWATCH_AT = np.array([[920.0, 250.0], [1080.0, 260.0], [1070.0, 420.0], [910.0, 410.0]])
SWATCH = (42.0, 42.0, 24.0)
MIXING = np.array([[0.80, 0.15, 0.05], [0.08, 0.84, 0.08], [0.03, 0.17, 0.80]])
BALANCE = np.array([1.1, 1.0, 0.8])
BORDER_LAB = (25.0, 0.0, 0.0)
TABLE_LAB = (62.0, 2.0, 6.0)


def linear_srgb(lab):
    colour = colour_science()
    return xyz_of_lab(lab) @ np.asarray(colour.RGB_COLOURSPACES["sRGB"].matrix_XYZ_to_RGB).T


@dataclass(frozen=True, eq=False)
class Scene:
    """A picture by numbers: which colour each pixel has, shape (height, width), and Lab of the colours."""

    numbers: np.ndarray
    lab: np.ndarray


def scene(name="24-patch chart", swatch=SWATCH, at=None, swatch_at=SWATCH_AT, size=SIZE, gap=0.12):
    """A table (0) with a chart whose gaps are dark (1), and a swatch (2) beside it."""
    chart = charts()[name]
    at = at if at is not None else (CHART_AT if chart.rows > 1 else STRIP_AT)
    numbers = np.zeros(size[::-1], np.uint8)
    x, y = _inside(at, size)
    on = (x >= 0) & (x < 1) & (y >= 0) & (y < 1)
    column, row = x[on] * chart.columns, y[on] * chart.rows
    found = 3 + row.astype(int) * chart.columns + column.astype(int)
    found[np.maximum(np.abs(column % 1 - 0.5), np.abs(row % 1 - 0.5)) > 0.5 - gap / 2] = 1
    numbers[on] = found
    x, y = _inside(swatch_at, size)
    numbers[(x >= 0) & (x < 1) & (y >= 0) & (y < 1)] = 2
    return Scene(numbers, np.vstack([TABLE_LAB, BORDER_LAB, swatch, chart.lab]))


def _inside(corners, size):
    x, y = np.meshgrid(np.arange(size[0]) + 0.5, np.arange(size[1]) + 0.5)
    found = project(homography(corners, SQUARE), np.stack([x, y], axis=-1))
    return found[..., 0], found[..., 1]


def camera(seen, exposure=0.8, gamma=2.2, noise=0.01, seed=0, slope=(0.0, 0.0), blur=0.0, mixing=MIXING):
    """Take the photo: channels mixed, out of balance, exposed, with noise and a tone curve; uint8 pixels.

    `slope` is how ln(light) changes over the width and the height of the photo.
    """
    mixed = np.clip(linear_srgb(seen.lab), 0, None) @ mixing.T * BALANCE * exposure
    taken = mixed.astype(np.float32)[seen.numbers]
    high, wide = seen.numbers.shape
    across = np.exp(slope[0] * (np.arange(wide) / wide - 0.5))
    down = np.exp(slope[1] * (np.arange(high) / high - 0.5))
    taken *= np.outer(down, across).astype(np.float32)[..., None]
    taken *= 1 + noise * np.random.default_rng(seed).standard_normal(taken.shape, np.float32)
    pixels = np.rint(255 * np.clip(taken, 0, 1) ** np.float32(1 / gamma)).astype(np.uint8)
    return np.asarray(Image.fromarray(pixels).filter(ImageFilter.GaussianBlur(blur))) if blur else pixels


def jpeg(pixels, quality=90, **more):
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=quality, **more)
    return out.getvalue()


def png(pixels, **more):
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG", **more)
    return out.getvalue()


def fractions(corners, size=SIZE):
    return corners / np.array(size, float)
