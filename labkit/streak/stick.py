"""Whether the top and the bottom of a stick differ in colour."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.colour.cie import delta_e00
from labkit.errors import LabError

Floats = NDArray[np.float64]

_WIDE = 1.6448536269514722  # standard deviations: 5 % above
_REAL = 0.95
_STEP = 0.2


@dataclass(frozen=True)
class TopBottom:
    """The colour difference between the top and the bottom of a stick.

    Attributes
    ----------
    delta_e00 : float
        Between the two, or their means.
    low, high : float
        90 % interval of the true difference.
    real_from : float
        ΔE00 from which a difference in this direction is real at 95 %.
    real : bool
        Whether this one is.
    direction : tuple of float
        ΔL*, Δa*, Δb*, bottom less top.
    words : str
        The same as a sentence.
    """

    delta_e00: float
    low: float
    high: float
    real_from: float
    real: bool
    direction: tuple[float, float, float]
    words: str


def top_bottom(top_lab: Any, bottom_lab: Any, sd: Any) -> TopBottom:
    """Compare the colours of a stick's top and bottom, beside how repeat readings scatter.

    D² = Σ (Δᵢ/sᵢ)² over L*, a*, b*, with sᵢ² = sdᵢ²(1/n_top + 1/n_bottom), follows χ² on 3 degrees
    of freedom where there is no difference: above its 95 % point the difference is real. The
    interval takes ΔE00 as a length of ΔLab, which it is for the small differences within a stick.

    Parameters
    ----------
    top_lab, bottom_lab : array_like, shape (3,) or (n, 3)
        CIELAB; several readings of each if there are any.
    sd : float or array_like of shape (3,)
        Standard deviation of one repeat reading of L*, a* and b* (the same for each, if one number).

    Raises
    ------
    LabError
        Where a colour is not L*, a*, b*, or the standard deviation is not above 0.

    Examples
    --------
    >>> found = top_bottom((42, 40, 22), (40, 44, 25), sd=0.5)
    >>> round(found.delta_e00, 1), found.real
    (2.4, True)
    >>> top_bottom((42, 40, 22), (42.3, 40.4, 22), sd=0.5).real
    False
    """
    from scipy.special import chdtri

    top, bottom = _readings(top_lab, "top"), _readings(bottom_lab, "bottom")
    spread = _spread(sd) * np.sqrt(1 / len(top) + 1 / len(bottom))
    first, second = top.mean(axis=0), bottom.mean(axis=0)
    away = second - first
    off = float(delta_e00(first, second))
    steps = float(np.sqrt(((away / spread) ** 2).sum()))
    least = float(np.sqrt(chdtri(3, 1 - _REAL)))
    metric = _metric((first + second) / 2)
    low, high = _interval(metric @ away, metric @ np.diag(spread**2) @ metric.T)
    usual = float(np.sqrt(np.mean((metric * spread) ** 2) * 3))
    real_from = least * (off / steps if steps > 0 else usual)
    words = _words(off, low, high, real_from, steps > least)
    return TopBottom(
        off, low, high, real_from, steps > least, (float(away[0]), float(away[1]), float(away[2])), words
    )


def _interval(away: Floats, cover: Floats) -> tuple[float, float]:
    """Return the 90 % interval of the length of a vector that is known with a covariance.

    Scatter lengthens a vector by what lies across it, which is taken off (in squares); what
    lies along it gives the width.
    """
    length = float(np.linalg.norm(away))
    along = float(away @ cover @ away) / length**2 if length > 0 else float(np.trace(cover)) / 3
    true = np.sqrt(max(0.0, length**2 - (float(np.trace(cover)) - along)))
    width = _WIDE * float(np.sqrt(along))
    return float(max(0.0, true - width)), float(true + width)


def _metric(lab: Floats) -> Floats:
    """Return M with |M·ΔLab| = ΔE00 for small differences from a colour, shape (3, 3)."""
    steps = _STEP * np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [1, 1, 0], [1, 0, 1], [0, 1, 1]])
    one, two, three, by12, by13, by23 = (delta_e00(lab - steps / 2, lab + steps / 2) / _STEP) ** 2
    square = np.diag([one, two, three])
    for (first, second), both in zip(((0, 1), (0, 2), (1, 2)), (by12, by13, by23), strict=True):
        square[first, second] = square[second, first] = (
            both - square[first, first] - square[second, second]
        ) / 2
    values, vectors = np.linalg.eigh(square)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0))).T)


def _readings(lab: Any, where: str) -> Floats:
    try:
        found = np.atleast_2d(np.asarray(lab, dtype=float))
    except (TypeError, ValueError) as error:
        raise LabError(
            f"The colour of the {where} is not L*, a*, b*: three numbers, or rows of three."
        ) from error
    if found.ndim != 2 or found.shape[1] != 3 or not len(found) or not np.isfinite(found).all():
        raise LabError(f"The colour of the {where} is not L*, a*, b*: three numbers, or rows of three.")
    if not ((found[:, 0] >= 0) & (found[:, 0] <= 100)).all():
        raise LabError(f"L* of the {where} lies between 0 and 100; here it is {found[:, 0].max():g}.")
    return found


def _spread(sd: Any) -> Floats:
    found = np.asarray(sd, dtype=float)
    if found.shape not in ((), (3,)) or not np.isfinite(found).all() or not (found > 0).all():
        raise LabError(
            "How repeat readings scatter is a number above 0, or one each for L*, a* and b*. Read one place "
            "several times to get it."
        )
    return np.broadcast_to(found, (3,))


def _words(off: float, low: float, high: float, least: float, real: bool) -> str:
    if real:
        return f"Top and bottom differ by ΔE00 {off:.1f} (9 in 10 sure: {low:.1f} to {high:.1f})."
    return (
        f"Top and bottom read ΔE00 {off:.1f} apart; repeat readings alone can give {least:.1f}, so no "
        f"difference is shown. It may be up to {high:.1f}."
    )
