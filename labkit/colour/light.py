"""What the light and the focus of a photo do not allow: uneven light, too dark, blurred."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.colour.correct import Correction
from labkit.colour.photo import Photo
from labkit.colour.place import SQUARE, homography, project
from labkit.colour.sample import MIDDLE, Samples, linear_levels

Floats = NDArray[np.float64]

_USUAL_SLOPE = 0.10  # judgement, no source: sd of ln(light) over the length of a chart, before one looks
_UNEVEN = 0.08  # over the length of the chart; about ΔE00 1 at mid lightness
_SURE = 2.0  # times its own error
_DARK = 0.2  # of the light at which white is as light as the photo can hold
_SHARP = 0.2  # share of an edge that lies within a twentieth of a patch
_CONTRAST = 0.03  # of the light that the photo can hold; a weaker edge tells nothing


@dataclass(frozen=True, eq=False)
class LightSlope:
    """How ln(light) changes across the photo, per length of the chart.

    Attributes
    ----------
    slope : ndarray, shape (2,)
        Across and down.
    covariance : ndarray, shape (2, 2)
    centre : ndarray, shape (2,)
        Of the chart [pixels of the whole photo].
    length : float
        Of the chart's longer side [pixels of the whole photo].
    """

    slope: Floats
    covariance: Floats
    centre: Floats
    length: float

    def away(self, points: Floats) -> Floats:
        """Return how far points lie from the chart's centre, in lengths of the chart, shape (..., 2)."""
        return (points - self.centre) / self.length

    def sd_at(self, point: Floats) -> float:
        """Return how far ln(light) at a point may differ from that on the chart [sd]."""
        away = self.away(point)
        return float(np.sqrt((self.slope @ away) ** 2 + away @ self.covariance @ away))

    @property
    def uneven(self) -> bool:
        """Whether the light changes over the chart by more than it can, and surely."""
        size = float(np.linalg.norm(self.slope))
        along = self.slope / max(size, 1e-12)
        return size > _UNEVEN and size > _SURE * float(np.sqrt(along @ self.covariance @ along))


def light_slope(correction: Correction, corners: Floats) -> LightSlope:
    """Return the slope of the light from what the patches, each read from the others, are off by.

    A straight line of ln(Y read / Y true) over the patches' places, by least squares with a
    prior of mean 0 and sd 0.10 per length of the chart; with a grey card the prior is all.
    """
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    found = LightSlope(np.zeros(2), np.eye(2) * _USUAL_SLOPE**2, _centre(corners), float(sides.max()))
    y = correction.chart.xyz[correction.used, 1]
    if len(correction.residual_xyz) == 0:
        return found
    off = np.log(np.clip(1 + correction.residual_xyz[:, 1] / y, 0.2, 5.0))
    chart = correction.chart
    places = found.away(patch_centres(corners, chart.rows, chart.columns)[correction.used])
    places, off = places - places.mean(axis=0), off - off.mean()
    slope, covariance = np.zeros(2), found.covariance
    for _ in range(3):  # the scatter about the line and the line depend on one another
        left = off - places @ slope
        scatter = max(float(left @ left) / max(len(off) - 3, 1), 1e-6)
        covariance = np.linalg.inv(places.T @ places / scatter + np.eye(2) / _USUAL_SLOPE**2)
        slope = covariance @ places.T @ off / scatter
    return LightSlope(slope, covariance, found.centre, found.length)


def patch_centres(corners: Floats, rows: int, columns: int) -> Floats:
    """Return the middle of each patch of a grid, row by row, shape (rows·columns, 2)."""
    x, y = np.meshgrid((np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows)
    return project(homography(SQUARE, corners), np.column_stack([x.ravel(), y.ravel()]))


def _centre(corners: Floats) -> Floats:
    return project(homography(SQUARE, corners), np.array([0.5, 0.5]))


def too_dark(samples: Samples, correction: Correction) -> bool:
    """Return whether the photo holds a white thing at less than a fifth of what it could."""
    light = samples.linear[correction.used].mean(axis=1) / correction.chart.xyz[correction.used, 1]
    return float(np.median(light)) < _DARK


def blurred(photo: Photo, corners: Floats, rows: int, columns: int) -> bool:
    """Return whether edges between patches are so wide that neighbours reach what is read of a patch.

    From the middle of each patch to that of the next, the largest change within a twentieth
    of the way is compared with the whole range; a fifth is where a Gaussian blur reaches the
    middle half of a patch.
    """
    if columns < 2:
        return False
    profiles = _profiles(photo, corners, rows, columns)
    extent = np.ptp(profiles, axis=-1)
    steps = np.abs(profiles[..., 2:] - profiles[..., :-2]).max(axis=-1)
    clear = extent > _CONTRAST
    return bool(clear.any() and np.median(steps[clear] / extent[clear]) < _SHARP)


def _profiles(photo: Photo, corners: Floats, rows: int, columns: int) -> Floats:
    """Return the light along the lines between neighbours' middles, shape (rows, columns − 1, 41)."""
    along = np.arange(41) / 40
    across = 0.5 + MIDDLE * (np.arange(9) / 8 - 0.5)
    points = np.empty((rows, columns - 1, 9, 41, 2))
    points[..., 0] = ((np.arange(columns - 1)[:, None] + 0.5 + along) / columns)[None, :, None, :]
    points[..., 1] = ((np.arange(rows)[:, None] + across) / rows)[:, None, :, None]
    at = project(homography(SQUARE, corners / photo.factor), points).astype(np.intp)
    high, wide = photo.pixels.shape[:2]
    levels = photo.pixels[np.clip(at[..., 1], 0, high - 1), np.clip(at[..., 0], 0, wide - 1)]
    return np.asarray(linear_levels()[levels].mean(axis=(2, 4)))
