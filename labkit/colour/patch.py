"""The colour of a swatch in a photo, by the chart that lies beside it."""

import os
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.colour.charts import Chart, find_chart
from labkit.colour.cie import hex_of_lab, lab_of_xyz
from labkit.colour.correct import Correction, fit_correction
from labkit.colour.doubts import chart_doubts, swatch_doubts
from labkit.colour.light import LightSlope, light_slope
from labkit.colour.photo import Photo, read_photo
from labkit.colour.place import CORNERS, ORDERS, read_corners
from labkit.colour.sample import Samples, sample
from labkit.errors import LabError

Floats = NDArray[np.float64]

_COARSE = 16  # points along a side of a patch while the order of the corners is looked for
_NO_CHART_DE00 = 15.0  # a chart in any light read so far stays below 11 (tests/colour/cameras.py)
_BETTER = 1.5  # times, and by this many ΔE00 more, before corners are turned
_BETTER_BY = 2.0


@dataclass(frozen=True, eq=False)
class Placed:
    """A chart as found in a photo: its corners the right way round, its patches, the correction."""

    corners: Floats
    samples: Samples
    correction: Correction
    slope: LightSlope
    warnings: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class PatchReading:
    """The colour of one swatch.

    Attributes
    ----------
    lab : ndarray, shape (3,)
        CIELAB, D65, 2° observer.
    lab_se : ndarray, shape (3,)
        Standard error: of the swatch's own pixels, of the correction for a colour like this,
        and of the light between chart and swatch.
    hex : str
        For the screen.
    corrected_by : str
        The chart and the method.
    residual_de00 : float
        Mean ΔE00 of the chart's patches, each read from all the others; nan for a grey card.
    warnings : tuple of str
        Plain sentences on what the photo does not allow.
    reduced : str
        What was reduced before reading; empty if nothing was.
    """

    lab: Floats
    lab_se: Floats
    hex: str
    corrected_by: str
    residual_de00: float
    warnings: tuple[str, ...]
    reduced: str


def read_patch(
    photo: bytes | str | os.PathLike[str] | Photo,
    chart: str | Chart,
    chart_corners: Any,
    patch_corners: Any,
    reference: Any = None,
    illuminant: str = "D65",
) -> PatchReading:
    """Read the colour of a swatch in a photo.

    Parameters
    ----------
    photo : bytes, file or Photo
    chart : str or Chart
        “24-patch chart”, “6-patch card” or “grey card”.
    chart_corners : array-like, shape (4, 2)
        Outer corners of the four corner patches, top left, top right, bottom right, bottom
        left as the chart is read: fractions of the upright photo, or its pixels.
    patch_corners : array-like, shape (4, 2) or (2, 2)
        Four corners of the swatch, or two opposite ones of a rectangle. Its middle half is read.
    reference, illuminant
        The maker's own reference values, see `labkit.colour.charts.find_chart`.

    Raises
    ------
    LabError
        Where the photo, the corners or the reference cannot be read, or nothing there looks
        like the chart.
    """
    photo = photo if isinstance(photo, Photo) else read_photo(photo)
    placed = place_chart(photo, find_chart(chart, reference, illuminant), chart_corners)
    corners = read_corners(patch_corners, photo.full_size, "patch")
    swatch = sample(photo, corners)
    correction = placed.correction
    lab = lab_of_xyz(correction.xyz(swatch.linear[0]))
    return PatchReading(
        lab,
        standard_error(swatch, correction, placed.slope.sd_at(corners.mean(axis=0))),
        hex_of_lab(lab),
        f"{correction.chart.name}, {correction.method}",
        correction.residual_de00,
        placed.warnings + swatch_doubts(swatch, placed.slope, corners),
        photo.reduced,
    )


def place_chart(photo: Photo, chart: Chart, chart_corners: Any) -> Placed:
    """Find a chart by its corners, whichever way round they were given, and fit the correction.

    Raises
    ------
    LabError
        As `read_patch`.
    """
    given = read_corners(chart_corners, photo.full_size, "chart")
    corners, turned = right_way_round(photo, chart, given)
    samples = sample(photo, corners, chart.rows, chart.columns)
    correction = fit_correction(samples, chart)
    if correction.residual_de00 > _NO_CHART_DE00:
        raise LabError(
            f"What lies between these corners does not look like the {chart.name}: the patches are "
            f"off by ΔE00 {correction.residual_de00:.0f} on average. Check the corners, which chart it "
            "is, and its values."
        )
    slope = light_slope(correction, corners)
    said = photo.remarks + turned + correction.warnings
    return Placed(
        corners,
        samples,
        correction,
        slope,
        said + chart_doubts(photo, corners, samples, correction, slope),
    )


def right_way_round(photo: Photo, chart: Chart, given: Floats) -> tuple[Floats, tuple[str, ...]]:
    """Try every order of the corners, and keep the given one unless another fits far better.

    Returns
    -------
    corners : ndarray, shape (4, 2)
    said : tuple of str
        A sentence if they were turned.
    """
    if len(chart) == 1:
        return given, ()
    errors = np.array([_error_of(photo, chart, given[list(order)]) for order in ORDERS])
    best = int(np.argmin(errors))
    if best == 0 or errors[0] <= max(_BETTER * errors[best], errors[best] + _BETTER_BY):
        return given, ()
    first = CORNERS[ORDERS[best][0]]
    how = "mirrored" if best >= len(CORNERS) else f"turned by {90 * best} degrees"
    return given[list(ORDERS[best])], (
        f"The chart's corners were given {how}: its first patch ({chart.patches[0]}) lies at the "
        f"corner given as {first}. They were put right; so the colours fit within ΔE00 {errors[best]:.1f}.",
    )


def _error_of(photo: Photo, chart: Chart, corners: Floats) -> float:
    try:
        samples = sample(photo, corners, chart.rows, chart.columns, _COARSE)
        return fit_correction(samples, chart, exponents=(1.0,)).residual_de00
    except LabError:
        return float("inf")


def standard_error(swatch: Samples, correction: Correction, light_sd: float) -> Floats:
    """Return the standard error of the first patch's L*, a*, b*, shape (3,).

    Of its own pixels (by blocks), of the correction, and of ln(light) between chart and patch.
    """
    blocks = lab_of_xyz(correction.xyz(swatch.blocks[0]))
    pixels = blocks.std(axis=0, ddof=1) / np.sqrt(len(blocks))
    xyz = correction.xyz(swatch.linear[0])
    light = (lab_of_xyz(xyz * np.exp(light_sd)) - lab_of_xyz(xyz * np.exp(-light_sd))) / 2
    return np.asarray(np.sqrt(pixels**2 + correction.lab_sd(swatch.linear[0]) ** 2 + light**2))
