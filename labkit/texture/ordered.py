"""Ordered words as intervals of a hidden hardness: the ordered-probit likelihood."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr

Floats = NDArray[np.float64]

_FAR = 40.0  # standard deviations; the density is below 1e-300 there
_LOG_ROOT_2PI = 0.5 * np.log(2.0 * np.pi)


def log_interval(lower: ArrayLike, upper: ArrayLike) -> Floats:
    """Return log(Φ(upper) − Φ(lower)) without loss in the tails.

    Parameters
    ----------
    lower, upper : array_like, same shape
        Ends of the interval in standard deviations; ±inf allowed.

    Returns
    -------
    ndarray
        −inf where the interval is empty (upper ≤ lower).

    Examples
    --------
    >>> float(log_interval(-np.inf, 0.0).round(6))
    -0.693147
    """
    lower, upper = np.asarray(lower, float), np.asarray(upper, float)
    flip = upper > -lower
    low, high = np.where(flip, -upper, lower), np.where(flip, -lower, upper)
    top = log_ndtr(high)
    with np.errstate(divide="ignore", invalid="ignore"):
        inside = top + np.log1p(-np.exp(log_ndtr(low) - top))
    return np.where(upper > lower, inside, -np.inf)


def interval_slopes(lower: Floats, upper: Floats) -> tuple[Floats, Floats, Floats]:
    """Return `log_interval` with its first and second derivatives.

    With p = φ(end) / (Φ(upper) − Φ(lower)) the derivatives are −p_l and p_u,
    and l·p_l − p_l², p_l·p_u, −u·p_u − p_u².

    Returns
    -------
    value : ndarray, the shape of `lower`
    first : ndarray, shape (2, ...), by lower and by upper
    second : ndarray, shape (3, ...), by lower twice, by both, by upper twice
    """
    lower, upper = np.clip(lower, -_FAR, _FAR), np.clip(upper, -_FAR, _FAR)
    value = log_interval(lower, upper)
    safe = np.where(np.isfinite(value), value, 0.0)
    p_l = np.exp(-0.5 * lower**2 - _LOG_ROOT_2PI - safe)
    p_u = np.exp(-0.5 * upper**2 - _LOG_ROOT_2PI - safe)
    second = np.stack([lower * p_l - p_l**2, p_l * p_u, -upper * p_u - p_u**2])
    return value, np.stack([-p_l, p_u]), second


def ordered_loglik(location: ArrayLike, thresholds: ArrayLike, rung: ArrayLike, sd: float = 1.0) -> float:
    """Return the log-likelihood of ordered probit: Σ log P(c[k−1] < location + noise ≤ c[k]).

    Parameters
    ----------
    location : array_like, shape (rows,)
        Hidden hardness of each row, in the unit of the thresholds.
    thresholds : array_like, shape (words − 1,)
        Ascending.
    rung : array_like of int, shape (rows,)
        0 for the softest word.
    sd : float
        Standard deviation of the noise of one note.

    References
    ----------
    McCullagh, P. (1980). Regression models for ordinal data. J. R. Stat. Soc. B
    42, 109-142 (from memory).

    Examples
    --------
    >>> round(ordered_loglik([0.0, 0.0], [0.0], [0, 1]), 6)
    -1.386294
    """
    ends = np.concatenate([[-np.inf], np.asarray(thresholds, float), [np.inf]])
    at, rung = np.asarray(location, float), np.asarray(rung, int)
    return float(log_interval((ends[rung] - at) / sd, (ends[rung + 1] - at) / sd).sum())


def word_chances(cumulative: Floats) -> Floats:
    """Return the chance of each word from P(word ≤ k).

    Parameters
    ----------
    cumulative : ndarray, shape (..., words − 1)

    Returns
    -------
    ndarray, shape (..., words)
        Never negative, summing to 1: a step down in `cumulative` counts as none.

    Examples
    --------
    >>> word_chances(np.array([0.25, 0.75])).tolist()
    [0.25, 0.5, 0.25]
    """
    rising = np.maximum.accumulate(np.clip(cumulative, 0.0, 1.0), axis=-1)
    edge = rising[..., :1]
    return np.diff(np.concatenate([np.zeros_like(edge), rising, np.ones_like(edge)], axis=-1), axis=-1)


@dataclass(frozen=True)
class Intervals:
    """Rows that say: a weighted sum of the unknowns, plus noise, lay between two others.

    A note says that threshold k−1 < hardness + noise ≤ threshold k. Both ends are
    rows of weights on the unknowns, so a comparison of two pours has the same form.

    Attributes
    ----------
    lower, upper : ndarray, shape (rows, unknowns)
        Weights that give end − hardness.
    open_below, open_above : bool ndarray, shape (rows,)
        Rows without that end (the softest and the hardest word).
    sd : ndarray, shape (priors,)
        Standard deviation of the noise under each set of priors.
    """

    lower: Floats
    upper: Floats
    open_below: NDArray[np.bool_]
    open_above: NDArray[np.bool_]
    sd: Floats

    def ends(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """Return both ends in standard deviations, shape (priors, rows), for unknowns (priors, unknowns)."""
        sd = self.sd[:, None]
        lower = np.where(self.open_below, -np.inf, unknowns @ self.lower.T / sd)
        return lower, np.where(self.open_above, np.inf, unknowns @ self.upper.T / sd)

    def value(self, unknowns: Floats) -> Floats:
        """Return the log-likelihood under each set of priors, shape (priors,)."""
        return log_interval(*self.ends(unknowns)).sum(axis=-1)

    def slopes(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """Return the gradient (priors, unknowns) and minus the Hessian (priors, unknowns, unknowns)."""
        _, first, second = interval_slopes(*self.ends(unknowns))
        sd = self.sd[:, None]
        gradient = (first[0] @ self.lower + first[1] @ self.upper) / sd
        to_lower = second[0][..., None] * self.lower + second[1][..., None] * self.upper
        to_upper = second[1][..., None] * self.lower + second[2][..., None] * self.upper
        hessian = self.lower.T @ to_lower + self.upper.T @ to_upper
        return gradient, -hessian / sd[..., None] ** 2


def note_rows(
    site: NDArray[np.int_], rung: NDArray[np.int_], sites: int, words: int, sd: Floats
) -> Intervals:
    """Return the rows of ordered notes on unknowns (hardness at each site, then thresholds).

    Parameters
    ----------
    site, rung : int ndarray, shape (rows,)
        Where each note was felt and which word it was (0 the softest).
    sites, words : int
        How many sites and words there are.
    sd : ndarray, shape (priors,)
        Noise of one note in rungs.
    """
    row = np.arange(len(site))
    felt = np.zeros((len(site), sites + words - 1))
    felt[row, site] = -1.0
    lower, upper = felt.copy(), felt
    below, above = rung > 0, rung < words - 1
    lower[row[below], sites + rung[below] - 1] += 1.0
    upper[row[above], sites + rung[above]] += 1.0
    return Intervals(lower, upper, ~below, ~above, sd)
