"""What the light does to a streak photo: its slow change over the picture, and glare."""

import numpy as np
from numpy.typing import NDArray

from labkit.streak.picture import Mask, least

Floats = NDArray[np.float32]

_POINTS = 3000
_ROUNDS = 8
_TUKEY = 4.685
_BRIGHT = 0.35  # of the natural logarithm of luminance, above the slow change
_REACH = 40  # pixels from the core of a highlight
_VEIL = 1.06  # a highlight's edge raises the least channel of the melt beside the greatest by this
_SOFT = 1.5  # pixels


def slow_light(luminance: Floats, area: Mask) -> Floats:
    """Return the light's slow change over the picture, with a median of 1 in the area.

    exp of a quadratic in x and y, fitted to log luminance by bisquare weights (Beaton and
    Tukey 1974, Technometrics 16, 147; the constant 4.685 from memory): light multiplies
    X, Y and Z, and streaks and highlights have no say in it.
    """
    rows, columns = np.nonzero(area)
    every = max(1, len(rows) // _POINTS)
    rows, columns = rows[::every], columns[::every]
    high, wide = luminance.shape
    target = np.log(np.maximum(luminance[rows, columns], 1e-4)).astype(float)
    terms = _terms(2 * rows / high - 1, 2 * columns / wide - 1)
    weight, found = np.ones(len(target)), terms[0]
    for _ in range(_ROUNDS):
        found = np.linalg.lstsq(terms * weight[:, None], target * weight, rcond=None)[0]
        off = target - terms @ found
        scale = max(1.4826 * float(np.median(np.abs(off))), 1e-3)
        weight = np.clip(1 - (off / (_TUKEY * scale)) ** 2, 0, None)
    found = found - np.eye(6)[0] * np.median(terms @ found)
    return _surface(found, high, wide)


def _terms(y: NDArray[np.float64], x: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)


def _surface(found: NDArray[np.float64], high: int, wide: int) -> Floats:
    y, x = np.linspace(-1, 1, high)[:, None], np.linspace(-1, 1, wide)
    one, by_x, by_y, by_xx, by_xy, by_yy = found
    log = (one + by_y * y + by_yy * y * y) + (by_x * x + by_xx * x * x) + by_xy * y * x
    return np.exp(log.astype(np.float32))


def find_glare(flat: Floats, clipped: Mask, area: Mask) -> Mask:
    """Return where highlights lie: clipped and far too light, and the veil around that.

    A highlight adds the lamp's own white to every channel; the veil is followed from its
    core as long as the melt's least channel stays raised beside its greatest.

    Parameters
    ----------
    flat : ndarray, shape (height, width, 3)
        Linear sRGB without the light's slow change.
    """
    from scipy import ndimage

    middle = np.median(flat[area][::7], axis=0)
    light = flat @ np.full(3, 1 / 3, np.float32)
    core = area & (light > middle.mean() * np.exp(_BRIGHT)) & clipped & (least(flat) > _weak(middle))
    core = ndimage.binary_opening(core, np.ones((2, 2)))
    if not core.any():
        return np.zeros_like(area)
    low, high = (
        ndimage.gaussian_filter(flat[..., at], _SOFT) for at in (np.argmin(middle), np.argmax(middle))
    )
    veil = low * middle.max() > _VEIL * middle.min() * high
    near = ndimage.binary_dilation(core, iterations=2)
    reached = ndimage.binary_dilation(near, iterations=_REACH, mask=veil | near)
    return np.asarray(ndimage.binary_dilation(reached, iterations=2) & area)


def _weak(middle: Floats) -> float:
    return float(min(0.5, middle.min() + 0.25))
