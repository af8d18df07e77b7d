"""Ordered words as intervals of a hidden hardness: the ordered-probit likelihood."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr

from labkit.texture.touch import Touch, one, put

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
class NoteRows:
    """Notes as a likelihood of unknowns: threshold k−1 < what is felt + noise ≤ threshold k.

    Attributes
    ----------
    felt : Touch
        What each note feels: its cast, and what hours and the hand add to it.
    rung : int ndarray, shape (notes,)
        Which word it was (0 the softest).
    first_edge, words : int
        Which unknown is the lowest threshold, the last but words − 2 of them all; how many words there are.
    sd : ndarray, shape (priors,)
        Noise of one note under each set of priors [rungs].
    weight : ndarray, shape (notes,) or (1,)
        How much each note counts; 1 for one's own.
    """

    felt: Touch
    rung: NDArray[np.int_]
    first_edge: int
    words: int
    sd: Floats
    weight: Floats = field(default_factory=lambda: np.ones(1))

    def ends(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """Return both ends in standard deviations, shape (priors, notes), for unknowns (priors, unknowns)."""
        open_end = np.full((len(unknowns), 1), np.inf)
        edges = np.concatenate([-open_end, unknowns[:, self.first_edge :], open_end], axis=1)
        felt, sd = self.felt.felt(unknowns), self.sd[:, None]
        return (edges[:, self.rung] - felt) / sd, (edges[:, self.rung + 1] - felt) / sd

    def value(self, unknowns: Floats) -> Floats:
        """Return the log-likelihood under each set of priors, shape (priors,)."""
        return (self.weight * log_interval(*self.ends(unknowns))).sum(axis=-1)

    def slopes(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """Return the gradient (priors, unknowns) and minus the Hessian (priors, unknowns, unknowns)."""
        _, first, second = interval_slopes(*self.ends(unknowns))
        by_one, by_two = slopes_by_heads(first * self.weight, second * self.weight, self.sd[:, None])
        lower = self.first_edge + self.rung  # a column for each open end, dropped below
        size = self.first_edge + self.words + 1
        gradient, hessian = put(size, [self.felt, one(lower), one(lower + 1)], by_one, by_two)
        shut = np.delete(np.arange(size), [self.first_edge, size - 1])
        return gradient[:, shut], -hessian[:, shut[:, None], shut]


def slopes_by_heads(first: Floats, second: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """Return slopes by what is felt, the lower and the upper threshold from those by the ends.

    Parameters
    ----------
    first, second : ndarray
        As `interval_slopes`.
    sd : ndarray, shape (priors, 1)
        An end is (threshold − felt)/sd.

    Returns
    -------
    ndarray, shape (3, priors, notes), and ndarray, shape (3, 3, priors, notes)
    """
    turns = np.array([[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]])
    low_low, low_high, high_high = second
    both = np.array([[low_low, low_high], [low_high, high_high]])
    by_one = np.tensordot(turns, first, 1) / sd
    by_two = np.einsum("ae,efpn,bf->abpn", turns, both, turns) / sd**2
    return by_one, by_two
