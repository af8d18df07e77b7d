"""Which pour on which day, so that a day's own effect hides as little as possible."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from labkit.texture.exchange import average_variance

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]

_DAY = 1.0  # variance of a day's effect, per variance of a note
_STARTS = 6
_SWAPS = 120  # pours times starts at most, but for one start
_ROUNDS = 20
_WORTH = 1e-3  # a round that gains less than this share is the last
_RIDGE = 1e-6


def split_days(terms: Floats, known: Floats, days: int, rng: np.random.Generator) -> Labels:
    """Return a day from 0 for each pour: sizes differ by one at most, swapped while that helps.

    Generalised least squares with a random day effect as large as a note's scatter:
    a day of m pours takes ``s sᵀ / (1 + m)`` from the information, s the sum of its terms.

    Parameters
    ----------
    terms : array of shape (pours, coefficients)
    known : array of shape (coefficients, coefficients)
        Information of earlier pours and of any prior.
    """
    even = np.sort(np.arange(len(terms)) % days)
    if days == 1:
        return even
    starts = min(_STARTS, max(1, _SWAPS // len(terms)))
    found = [_swap(terms, known, rng.permutation(even)) for _ in range(starts)]
    variances = np.array([average_variance(known + day_information(terms, labels)) for labels in found])
    return found[int(np.argmax(variances < variances.min() + 1e-9))]


def day_information(terms: Floats, labels: Labels) -> Floats:
    """Return the information of pours on labelled days, with the day effect averaged out."""
    sums = _sums(terms, labels)
    return terms.T @ terms - (sums * _taken(labels)[:, None]).T @ sums


def level_cost(days: Sequence[Labels]) -> float:
    """Return what the days add to the variance of a mere level, however the pours are split.

    Parameters
    ----------
    days
        Labels of groups of pours that share no day.
    """
    sizes = np.concatenate([np.bincount(labels) for labels in days if len(labels)]).astype(float)
    return float(1 / (sizes / (1 + _DAY * sizes)).sum() - 1 / sizes.sum())


def _sums(terms: Floats, labels: Labels) -> Floats:
    sums = np.zeros((labels.max() + 1 if len(labels) else 0, terms.shape[1]))
    np.add.at(sums, labels, terms)
    return sums


def _taken(labels: Labels) -> Floats:
    return np.asarray(_DAY / (1 + _DAY * np.bincount(labels)), float)


def _swap(terms: Floats, known: Floats, labels: Labels) -> Labels:
    """Swap each pour with the best partner of another day until no swap helps."""
    plain = known + terms.T @ terms + _RIDGE * np.eye(terms.shape[1])
    taken = _taken(labels)
    best = _traces(plain, _sums(terms, labels)[None], taken)[0]
    for _ in range(_ROUNDS):
        before = best
        for pour in range(len(terms)):
            partners = np.flatnonzero(labels != labels[pour])
            sums = np.repeat(_sums(terms, labels)[None], len(partners), axis=0)
            move = terms[partners] - terms[pour]
            sums[:, labels[pour]] += move
            sums[np.arange(len(partners)), labels[partners]] -= move
            traces = _traces(plain, sums, taken)
            if traces.min() < best - 1e-9:
                partner, best = partners[traces.argmin()], traces.min()
                labels[[pour, partner]] = labels[[partner, pour]]
        if before - best <= _WORTH * best:
            break
    return labels


def _traces(plain: Floats, sums: Floats, taken: Floats) -> Floats:
    weighted = sums * taken[:, None]
    return np.trace(np.linalg.inv(plain - weighted.transpose(0, 2, 1) @ sums), axis1=1, axis2=2)
