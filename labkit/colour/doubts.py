"""What a photo does not allow to be said of a colour, in plain sentences."""

import numpy as np
from numpy.typing import NDArray

from labkit.colour.cie import delta_e00, lab_of_xyz
from labkit.colour.correct import Correction
from labkit.colour.light import LightSlope, blurred, too_dark
from labkit.colour.photo import Photo
from labkit.colour.sample import Samples, patch_width

Floats = NDArray[np.float64]

_POOR_DE00 = 4.0
_SMALL = 24.0  # pixels; a JPEG codes colour in squares of 16
_TAIL = 0.01  # share of pixels
_FAR = 1.5  # lengths of the chart from its centre
_DARK = 0.01  # of the light that the photo can hold; level 25 of 255
_ACROSS_EDGES = 0.25  # share of patches that are of several colours


def chart_doubts(
    photo: Photo, corners: Floats, samples: Samples, correction: Correction, slope: LightSlope
) -> tuple[str, ...]:
    """Return what is wrong with the chart in this photo."""
    chart, off = correction.chart, correction.residual_de00
    change = 100 * float(np.expm1(np.linalg.norm(slope.slope)))
    return _those_that_hold(
        (
            off > _POOR_DE00,
            f"The patches of the {chart.name} are off by ΔE00 {off:.1f} on average when each is read from "
            "the others: the light may be mixed, or the card faded.",
        ),
        (
            slope.uneven,
            f"The light changes by about {change:.0f} % over the length of the chart. Turn the table, or "
            "take the photo in the shade.",
        ),
        (
            too_dark(samples, correction),
            "The photo is dark, so its colours are known coarsely. Use more light or a longer exposure.",
        ),
        (
            blurred(photo, corners, chart.rows, chart.columns),
            "The photo is blurred: neighbouring patches run into one another.",
        ),
        (
            patch_width(photo, corners, chart.rows, chart.columns) < _SMALL,
            "The patches of the chart are small in this photo; from nearer they would be read better.",
        ),
        (
            bool((samples.glare > _TAIL).any()),
            "Something light lies on the chart, such as a reflection. Tilt it away from the lamp.",
        ),
        (
            _across_edges(samples, correction),
            "What is read of the patches seems to reach over their edges. Look at the preview, and click "
            "the corners again.",
        ),
    )


def swatch_doubts(swatch: Samples, slope: LightSlope, corners: Floats) -> tuple[str, ...]:
    """Return what is wrong with the swatch in this photo."""
    far = float(np.linalg.norm(slope.away(corners.mean(axis=0))))
    return _those_that_hold(
        (
            bool(swatch.clipped[0] > _TAIL),
            "Parts of the swatch are too light for the photo to hold (overexposed): its colour is not "
            "known there. Take it again with less exposure.",
        ),
        (
            bool(swatch.bottomed[0] > _TAIL),
            "A colour channel of the swatch is at the bottom of what the photo can hold: the swatch may "
            "be deeper or more vivid than read here.",
        ),
        (
            bool(swatch.glare[0] > _TAIL),
            "The swatch has bright spots, such as a reflection. They were left out as far as they can "
            "be; tilt it away from the lamp.",
        ),
        (
            bool(swatch.linear[0].max() < _DARK),
            "The swatch is very dark in this photo, so its colour is known coarsely.",
        ),
        (
            far > _FAR,
            f"The swatch lies {far:.1f} lengths of the chart away from it. Close beside it the light is "
            "more alike.",
        ),
    )


def _those_that_hold(*doubts: tuple[bool, str]) -> tuple[str, ...]:
    return tuple(sentence for holds, sentence in doubts if holds)


def _across_edges(samples: Samples, correction: Correction) -> bool:
    lab = lab_of_xyz(correction.xyz(samples.blocks))
    apart = delta_e00(lab, lab.mean(axis=1, keepdims=True)).max(axis=1)
    return bool((apart > _POOR_DE00).mean() > _ACROSS_EDGES)
