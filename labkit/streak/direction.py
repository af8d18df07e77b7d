"""Which way streaks run, and which pigment they are most like."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from labkit.errors import LabError
from labkit.streak.differences import Differences
from labkit.streak.picture import Mask

Floats = NDArray[np.float32]

_ONE_WAY = 0.2  # coherence, 0 for no direction and 1 for one alone
_LIKE = 0.5  # cosine of 60°
_NEAR = 4.0  # ΔE*ab; a pigment so near to the melt has no direction of its own
_SOFT = 1.5  # pixels


def run_of(found: Differences, streaks: Mask) -> float:
    """Return the run of the streaks [°, 0 to 180], counter-clockwise from the horizontal; nan for none.

    The structure tensor of a* and b* at equal luminance, summed around the streaks; nan as well
    where streaks have no common direction. Bigün and Granlund (1987), Proc. ICCV, 433 (from memory).
    """
    from scipy import ndimage

    if not streaks.any():
        return float("nan")
    inner = ndimage.binary_erosion(found.seen, iterations=2 + int(np.ceil(2 * _SOFT)), border_value=1)
    near = ndimage.binary_dilation(streaks, iterations=3) & inner
    tensor = np.zeros(3)
    for channel in range(2):
        soft = ndimage.gaussian_filter(found.plane[..., channel], _SOFT, truncate=3.0)
        down, across = (each[near].astype(float) for each in np.gradient(soft))
        tensor += across @ across, across @ down, down @ down
    xx, xy, yy = tensor
    if not xx + yy > 0 or np.hypot(xx - yy, 2 * xy) < _ONE_WAY * (xx + yy):
        return float("nan")
    steepest = np.degrees(np.arctan2(2 * xy, xx - yy)) / 2
    return float((90 - steepest) % 180)


def read_pigments(lab_of_pigments: Mapping[str, object]) -> dict[str, NDArray[np.float64]]:
    """Read the pigments' colours: name to L*, a*, b*.

    Raises
    ------
    LabError
        Where a colour is not three numbers of CIELAB.
    """
    found = {}
    for name, lab in lab_of_pigments.items():
        try:
            colour = np.asarray(lab, dtype=float)
        except (TypeError, ValueError) as error:
            raise LabError(f"The colour of “{name}” is not three numbers L*, a*, b*.") from error
        if colour.shape != (3,) or not np.isfinite(colour).all():
            raise LabError(f"The colour of “{name}” is not three numbers L*, a*, b*.")
        if not (0 <= colour[0] <= 100 and np.abs(colour[1:]).max() <= 150):
            raise LabError(
                f"The colour of “{name}” is {colour.tolist()}; L* is 0 to 100, a* and b* within ±150."
            )
        found[str(name)] = colour
    return found


def likeness(
    found: Differences, streaks: Mask, pigments: Mapping[str, NDArray[np.float64]]
) -> dict[str, float]:
    """Return the share of streak area that is most like each pigment, by direction in Lab from the middle.

    What lies over 60° from every pigment is given to none, so the shares may add to less than 1.
    """
    if not pigments:
        return {}
    if not streaks.any():
        return dict.fromkeys(pigments, float("nan"))
    off = _within(found, streaks)
    ways = np.stack(list(pigments.values())) - found.own
    far = np.linalg.norm(ways, axis=1)
    with np.errstate(invalid="ignore"):
        cosines = (off @ ways.T) / (np.linalg.norm(off, axis=1)[:, None] * far)
    cosines[:, far < _NEAR] = -1.0
    best = np.where(np.nan_to_num(cosines.max(axis=1), nan=-1.0) >= _LIKE, cosines.argmax(axis=1), len(far))
    shares = np.bincount(best, minlength=len(far) + 1) / len(best)
    return dict(zip(pigments, shares.tolist(), strict=False))


def _within(found: Differences, streaks: Mask) -> Floats:
    """Return Lab off the middle at each point of the streaks, averaged over the streak."""
    from scipy import ndimage

    weight = streaks.astype(np.float32)
    mass = np.maximum(ndimage.gaussian_filter(weight, 2.0), 1e-6)[streaks]
    own = found.own
    channels = [
        ndimage.gaussian_filter(weight * (found.lab[..., at] - np.float32(own[at])), 2.0)[streaks] / mass
        for at in range(3)
    ]
    return np.stack(channels, axis=1)
