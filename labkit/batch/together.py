"""Whether two things go together over batches: Kendall's τ within recipes, with a permutation p-value.

Pairs of batches are compared only where both are of one recipe, so that a change of recipe cannot pass
for a change of process.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations
from math import factorial, prod
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.batch.asked import Floats

MOST_EXACT = 50_000
DRAWS = 5_000
_NORMAL_95 = 1.959964
_AT_ONCE = 500


@dataclass(frozen=True)
class Together:
    """How two things go together.

    Attributes
    ----------
    tau : float
        −1 to 1: concordant less discordant pairs, as a share of those not tied (τ_b over the pairs within
        groups); nan where one of them does not vary.
    low, high : float
        About 95 % limits; nan where too few batches allow none.
    p : float
        Chance of a τ at least so far from 0, were there nothing to it: all orders within groups, or
        `DRAWS` of them.
    least_p : float
        The least p that so few batches could give.
    count : int
        Batches that were compared.
    """

    tau: float
    low: float
    high: float
    p: float
    least_p: float
    count: int


def together(x: ArrayLike, y: ArrayLike, group: Sequence[Any] | None = None, seed: int = 0) -> Together:
    """Return how x and y go together within groups; rows without one of them are left out.

    τ_b of Kendall (1945), Biometrika 33, 239, its sums taken over the groups. Limits by Fisher's z of τ
    with variance 0.437/(n − 4), Fieller, Hartley and Pearson (1957), Biometrika 44, 470 (both from memory);
    each further group takes one degree of freedom more.

    Parameters
    ----------
    x, y : array_like, shape (n,)
    group : sequence of n labels, optional
        By default all are of one.

    Examples
    --------
    >>> found = together([1, 2, 3, 4, 5, 6], [2, 1, 3, 4, 6, 5])
    >>> round(found.tau, 3), round(found.p, 4), found.count
    (0.733, 0.0556, 6)
    """
    blocks = list(_blocks(np.asarray(x, float), np.asarray(y, float), group))
    count, ways = sum(len(one) for one, _ in blocks), _orders(blocks)
    signs = [(_signs(one), _signs(other)) for one, other in blocks]
    untied = np.sqrt(prod(float(sum(np.abs(pair[side]).sum() for pair in signs)) for side in (0, 1)))
    if not untied:
        return Together(np.nan, np.nan, np.nan, np.nan, np.nan, count)
    tau = float(sum((one * other).sum() for one, other in signs) / untied)
    low, high = _limits(tau, count, len(blocks))
    p, least = _chance(signs, tau * untied, ways, seed)
    return Together(tau, low, high, p, least, count)


def _blocks(x: Floats, y: Floats, group: Sequence[Any] | None) -> Iterator[tuple[Floats, Floats]]:
    """Return what is known of both in each group of two or more."""
    known = np.isfinite(x) & np.isfinite(y)
    labels = np.array(["all"] * len(x) if group is None else [str(each) for each in group], dtype=object)
    for label in dict.fromkeys(labels[known]):
        here = known & (labels == label)
        if here.sum() > 1:
            yield x[here], y[here]


def _signs(values: Floats) -> Floats:
    """Return the sign of each difference, shape (n, n)."""
    return np.sign(values[:, None] - values[None, :])


def _orders(blocks: Sequence[tuple[Floats, Floats]]) -> int:
    return prod(factorial(min(len(one), 12)) for one, _ in blocks)


def _limits(tau: float, count: int, groups: int) -> tuple[float, float]:
    if (spare := count - groups - 3) < 1:
        return np.nan, np.nan
    most = 1.0 - 2.0 / (count * (count - 1))
    middle, reach = np.arctanh(np.clip(tau, -most, most)), _NORMAL_95 * np.sqrt(0.437 / spare)
    return float(np.tanh(middle - reach)), float(np.tanh(middle + reach))


def _chance(
    signs: Sequence[tuple[Floats, Floats]], score: float, ways: int, seed: int
) -> tuple[float, float]:
    exact = ways <= MOST_EXACT
    scores = np.abs(_all_scores(signs) if exact else _some_scores(signs, seed))
    as_far = scores >= abs(score) - 1e-9
    if exact:
        return float(as_far.mean()), float((scores >= scores.max() - 1e-9).mean())
    return float((1 + as_far.sum()) / (1 + DRAWS)), 1.0 / (1 + DRAWS)


def _all_scores(signs: Sequence[tuple[Floats, Floats]]) -> Floats:
    """Return the score of every order within the groups."""
    scores = np.zeros(1)
    for one, other in signs:
        orders = np.array(list(permutations(range(len(one)))))
        scores = (scores[:, None] + _scores(one, other, orders)[None, :]).ravel()
    return scores


def _some_scores(signs: Sequence[tuple[Floats, Floats]], seed: int) -> Floats:
    rng, scores = np.random.default_rng(seed), np.zeros(DRAWS)
    for one, other in signs:
        orders = rng.permuted(np.tile(np.arange(len(one)), (DRAWS, 1)), axis=1)
        scores += _scores(one, other, orders)
    return scores


def _scores(one: Floats, other: Floats, orders: NDArray[np.int_]) -> Floats:
    found = [
        np.einsum("ij,kij->k", one, other[some[:, :, None], some[:, None, :]])
        for some in (orders[at : at + _AT_ONCE] for at in range(0, len(orders), _AT_ONCE))
    ]
    return np.concatenate(found)
