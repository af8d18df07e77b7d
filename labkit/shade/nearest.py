"""The additions that come nearest to a wanted colour, over everything that can be mixed."""

from itertools import combinations

import numpy as np

from labkit.shade.descent import Colour, descend
from labkit.shade.reach import Reach
from labkit.shade.wish import Wish

_TOGETHER = 4
"""A colour has three numbers: three additions reach it, or four where a bound is met."""
_CLOUD = 48
_CLOUD_IN_ALL = 60_000
_STARTS = 3
_STARTS_IN_ALL = 400
_SPARSE = 0.6
"""Dirichlet parameter of the cloud: below 1 it is densest where one addition prevails."""
_INSIDE = 0.97
_TRACE = 0.01
"""Mass %; less of an addition is tried without."""
WORTH = 0.01
"""ΔE00 that one more pigment has to bring."""


def nearest(reach: Reach, colour: Colour, wish: Wish, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return additions, shape (n, q), and their ΔE00, shape (n,), from the nearest colour on.

    Every set of up to four additions, and all together, gets a random cloud of compositions; the nearest
    ones of each go down to the nearest colour around them (`descend`). An addition that brings less than
    `WORTH` is left out.
    """
    used, x = _starts(reach, colour, wish, np.random.default_rng(seed))
    x = descend(x, used, reach, colour, wish)
    x, apart = _without_traces(np.vstack([x, np.zeros(x.shape[1])]), reach, colour, wish)
    order = np.argsort(apart, kind="stable")
    x, apart = x[order], apart[order]
    kept = _is_worth_it(x > 0, apart)
    return x[kept], apart[kept]


def _starts(
    reach: Reach, colour: Colour, wish: Wish, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Return the sets of additions that starts use, and the starts, shapes (n, q)."""
    sets = _sets(len(reach.added))
    count = max(min(_CLOUD, _CLOUD_IN_ALL // len(sets)), _STARTS)
    x = _cloud(sets, count, reach, rng)
    apart = wish.distance(colour(x.reshape(-1, x.shape[-1]))).reshape(x.shape[:2])
    apart = np.where(x.sum(-1) > 0, apart, np.inf)
    best = np.argsort(apart, 1)[:, :_STARTS]
    which = np.argsort(np.take_along_axis(apart, best, 1), None)[:_STARTS_IN_ALL]
    rows, columns = which // _STARTS, best.ravel()[which]
    found = np.isfinite(apart[rows, columns])
    return sets[rows[found]], x[rows[found], columns[found]]


def _sets(q: int) -> np.ndarray:
    """Return every set of one to four of q additions, and three times all of them, shape (sets, q)."""
    chosen = [each for size in range(1, min(q, _TOGETHER) + 1) for each in combinations(range(q), size)]
    sets = np.zeros((len(chosen) + 3, q), bool)
    for row, each in zip(sets, chosen, strict=False):
        row[list(each)] = True
    sets[-3:] = True
    return sets


def _cloud(sets: np.ndarray, count: int, reach: Reach, rng: np.random.Generator) -> np.ndarray:
    """Return random additions within the bounds, shape (sets, count, q); 0 where there is no room."""
    weights = (
        rng.standard_gamma(_SPARSE, (len(sets), count, sets.shape[1])) * sets[:, None]
        + 1e-300 * sets[:, None]
    )
    ratio = _INSIDE * weights / weights.sum(-1, keepdims=True)
    ratio += (1 - _INSIDE) * (sets / sets.sum(1, keepdims=True))[:, None]
    used_up = (ratio @ reach.rows.T) / np.maximum(reach.most, 1e-300)
    amount = _INSIDE * rng.uniform(size=(len(sets), count)) ** 1.5 / used_up.max(-1)
    return ratio * np.where(amount > 1e-6, amount, 0)[..., None]


def _without_traces(x: np.ndarray, reach: Reach, colour: Colour, wish: Wish) -> tuple[np.ndarray, np.ndarray]:
    """Return additions without traces that bring nothing, and their ΔE00."""
    plain = np.where(x < _TRACE, 0, x)
    apart, plainly = wish.distance(colour(x)), wish.distance(colour(plain))
    saved = (x > 0).sum(1) - (plain > 0).sum(1)
    better = reach.holds(plain) & (plainly <= apart + WORTH * saved)
    return np.where(better[:, None], plain, x), np.where(better, plainly, apart)


def _is_worth_it(used: np.ndarray, apart: np.ndarray) -> np.ndarray:
    """Return which rows are not matched by a row with some of their additions only."""
    counts = used.sum(1)
    within = ~(used[:, None] & ~used[None]).any(-1) & (counts[:, None] < counts)
    cost = apart + WORTH * counts
    return ~(within & (cost[:, None] <= cost)).any(0)
