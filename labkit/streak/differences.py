"""How far each point of the blended area is from its middle colour, and what noise alone gives."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.colour.cie import delta_e00, lab_of_xyz
from labkit.streak.area import xyz_of_linear
from labkit.streak.picture import Mask

Floats = NDArray[np.float32]

BLURS = (1.0, 1.6, 2.5, 4.0)
"""Standard deviations [pixels of the reduced photo] that are tried, until noise is low enough."""
COLOUR_PX = 3.0
"""The least blur in pixels of the photo: a JPEG keeps colour more coarsely than lightness, so that ridges
would seem to change colour."""
QUIET = 0.35  # ΔE00
SURE = 3.0
"""A colour is off where it differs by so many times what noise gives."""
_LEAST = 0.5  # ΔE00 by colour alone, before lightness counts
_STEP = 0.25  # of Lab, in the table of differences
_MOST_STEPS = 250
_BLOCK = 16  # pixels of the photo whose colour a JPEG codes together
_TURNS = np.radians(np.arange(0, 180, 22.5))
_MEDIAN = np.log(2.0)  # median ÷ mean of the square of noise on two axes
_FEW = 50
_ENOUGH = 20_000
_EVERY = 3
_INSIDE = 3.0  # pixels along which lightness and colour of a streak are averaged


@dataclass(frozen=True, eq=False)
class Differences:
    """What is known of each point.

    Attributes
    ----------
    total : ndarray, shape (height, width)
        ΔE00 from the middle colour at equal luminance, and with the lightness of the streak where
        its colour is off beyond noise; 0 outside `seen`.
    edged : ndarray, shape (height, width)
        The same, 0 beyond the edges of streaks.
    plane : ndarray, shape (height, width, 2)
        a* and b* from the middle at equal luminance, in units of ΔE00.
    lab : ndarray, shape (height, width, 3)
        CIELAB without the light's slow change.
    own : ndarray, shape (3,)
        The median of `lab` in the area.
    seen : bool ndarray
        The area without glare.
    noise : float
        ΔE00 that noise alone gives, root mean square.
    blur : float
        The standard deviation [pixels of the reduced photo] at which this is known.
    """

    total: Floats
    edged: Floats
    plane: Floats
    lab: Floats
    own: NDArray[np.float64]
    seen: Mask
    noise: float
    blur: float

    @property
    def sure(self) -> float:
        """The least ΔE00 that is told from noise."""
        return SURE * self.noise


def find_differences(flat: Floats, seen: Mask, factor: int) -> Differences:
    """Compare each point of the area with the area's median colour.

    Ridges and shading change luminance alone, so colours are compared at the median's
    luminance; the lightness of a point counts only where its colour is off too.

    Parameters
    ----------
    flat : ndarray, shape (height, width, 3)
        Linear sRGB without the light's slow change.
    seen : bool ndarray
    factor : int
        Pixels of the photo that became one.
    """
    for blur in (max(each, COLOUR_PX / factor) for each in BLURS):
        xyz = np.maximum(xyz_of_linear(_blurred(flat, seen, blur)), 1e-5)
        lab = lab_of_xyz(xyz).astype(np.float32)
        own = np.median(_some(lab, seen), axis=0)
        level = _at_equal_luminance(lab, own[0])
        middle = np.median(_some(level, seen), axis=0).astype(float)
        plane = (level[..., 1:] - middle[1:].astype(np.float32)) @ _metric(middle).astype(np.float32)
        noise = noise_of(plane, seen, max(3.0, 4 * blur, _BLOCK / factor))
        if noise < QUIET:
            break
    colour = np.where(seen, difference_from(level, middle, seen), np.float32(0))
    off = inside_edges(colour, blur, factor) > max(_LEAST, SURE * noise)
    total = _with_lightness(colour, lab[..., 0] - own[0], level, middle, off)
    edged = inside_edges(total, blur, factor)
    return Differences(total, edged, plane, lab, own.astype(float), seen, noise, blur)


def _some(lab: Floats, seen: Mask) -> Floats:
    """Return colours of the area, as many as a median needs."""
    every = max(1, int(np.sqrt(seen.sum() / _ENOUGH)))
    points = lab[::every, ::every][seen[::every, ::every]]
    return points if len(points) else lab[seen]


def _at_equal_luminance(lab: Floats, lightness: float) -> Floats:
    """Return CIELAB of the same chromaticities at one lightness.

    X, Y and Z times s multiply L* + 16, a* and b* by ∛s (above L* 8, where CIELAB is a cube root).
    """
    level = np.empty_like(lab)
    level[..., 0] = lightness
    level[..., 1:] = lab[..., 1:] * ((lightness + 16) / (lab[..., 0] + 16))[..., None]
    return level


def _blurred(flat: Floats, seen: Mask, blur: float) -> Floats:
    """Return a Gaussian mean over the points that are seen (normalised convolution)."""
    weight = seen.astype(np.float32)
    mass = np.maximum(_gauss(weight, blur), 1e-3)
    out = np.empty_like(flat)
    for channel in range(flat.shape[2]):
        out[..., channel] = _gauss(flat[..., channel] * weight, blur) / mass
    return out


def _gauss(plane: Floats, blur: float) -> Floats:
    from scipy import ndimage

    return np.asarray(ndimage.gaussian_filter(plane, blur, truncate=3.0))


def _metric(middle: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return M with |M'·(Δa*, Δb*)| = ΔE00 for small differences from a colour."""
    step = 0.2

    def square(a: float, b: float) -> float:
        return float(delta_e00(middle, middle + np.array([0.0, a, b]))) ** 2 / step**2

    aa, bb = square(step, 0), square(0, step)
    ab = (square(step, step) - aa - bb) / 2
    values, vectors = np.linalg.eigh([[aa, ab], [ab, bb]])
    return np.asarray(vectors * np.sqrt(np.maximum(values, 1e-6)))


def noise_of(plane: Floats, seen: Mask, lag: float) -> float:
    """Return the ΔE00 of noise, root mean square: differences at a lag, in the direction of the least.

    Along a streak only noise is left. Points that are off by more than noise can give, by a
    first estimate from the median absolute difference, have no say.
    """
    ways = [np.rint(lag * np.array([np.sin(turn), np.cos(turn)])).astype(int) for turn in _TURNS]
    first = min((_scatter(plane, seen, way, np.median) for way in ways), default=0.0)
    limit = max(1.0, SURE * first / np.sqrt(_MEDIAN))
    quiet = seen & (plane[..., 0] ** 2 + plane[..., 1] ** 2 < limit**2)
    return float(min(_scatter(plane, quiet, way, np.mean) for way in ways))


def _scatter(plane: Floats, seen: Mask, way: NDArray[np.int_], middle: Callable[..., Any]) -> float:
    """Return √(middle |difference|²/2) of points so far apart; 0 where too few are seen."""
    first, second = _shifted(way[0], way[1]), _shifted(-way[0], -way[1])
    both = (seen[first] & seen[second])[::_EVERY, ::_EVERY]
    step = (plane[first][::_EVERY, ::_EVERY] - plane[second][::_EVERY, ::_EVERY])[both]
    return float(np.sqrt(middle(step[:, 0] ** 2 + step[:, 1] ** 2) / 2)) if len(step) > _FEW else 0.0


def _shifted(down: int, across: int) -> tuple[slice, slice]:
    def along(by: int) -> slice:
        return slice(by, None) if by > 0 else slice(None, by or None)

    return along(down), along(across)


def difference_from(lab: Floats, middle: NDArray[np.float64], seen: Mask) -> Floats:
    """Return ΔE00 from one colour, shape (height, width), with Lab in steps of 0.25 or a little more.

    Only the steps that occur are computed: a photo has many points and few colours.
    """
    channels = [lab[..., at][seen] for at in range(3)]
    low = np.array([each.min() for each in channels])
    step = np.maximum(_STEP, (np.array([each.max() for each in channels]) - low) / _MOST_STEPS)
    at = [
        ((each - start) * (1 / by) + 0.5).astype(np.int32)
        for each, start, by in zip(channels, low, step, strict=True)
    ]
    size = tuple(int(each.max()) + 1 for each in at)
    code = (at[0] * size[1] + at[1]) * size[2] + at[2]
    occurs = np.zeros(int(np.prod(size)), dtype=bool)
    occurs[code] = True
    codes = np.flatnonzero(occurs)
    colours = np.stack(np.unravel_index(codes, size), axis=1) * step + low
    table = np.zeros(len(occurs), np.float32)
    table[codes] = delta_e00(colours, middle)
    out = np.zeros(seen.shape, np.float32)
    out[seen] = table[code]
    return out


def _with_lightness(
    colour: Floats, lightness: Floats, level: Floats, middle: NDArray[np.float64], off: Mask
) -> Floats:
    """Return ΔE00 with the lightness where the colour is off, averaged over the streak and not across it."""
    if not off.any():
        return colour
    weight = off.astype(np.float32)
    raised = level.copy()
    raised[..., 0] += _gauss(lightness * weight, _INSIDE) / np.maximum(_gauss(weight, _INSIDE), 1e-6)
    return np.where(off, np.maximum(difference_from(raised, middle, off), colour), colour)


def inside_edges(total: Floats, blur: float, factor: int) -> Floats:
    """Return the difference with edges laid where it is half of what it is inside; 0 beyond them.

    So that the blur of lens, reduction and denoising does not widen narrow streaks. What is
    under an eighth of what is near is a JPEG's ringing.
    """
    from scipy import ndimage

    inside = ndimage.maximum_filter(total, size=2 * int(np.ceil(1.8 * blur)) + 1)
    near = ndimage.maximum_filter(inside, size=2 * (_BLOCK // factor) + 1)
    return np.where(total >= np.maximum(inside / 2, near / 8), total, np.float32(0))
