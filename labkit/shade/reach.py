"""What can be mixed: a new blend up to a load, or additions to what is in the pot now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from labkit.errors import LabError
from labkit.shade.pot import BASE, Pot

GROWTH = 3.0
"""A pot is not made more than so many times what it is (with the base that it needs)."""
_EXACT = 1e-9


@dataclass(frozen=True)
class Reach:
    """Every blend that q additions can make, as linear bounds.

    The pigments' mass % are ``start + x @ moves``, where x is what each addition is of the finished product
    [mass %]; x ≥ 0 and ``rows @ x`` ≤ ``most``; x = 0 is always within.

    Attributes
    ----------
    added
        Names of the q additions, pigments and perhaps "base".
    start
        Mass % of the p pigments before anything is added, shape (p,).
    moves
        What 1 mass % of an addition does to the mass % of the pigments, shape (q, p).
    rows, most
        Bounds, shapes (r, q) and (r,).
    """

    added: tuple[str, ...]
    start: np.ndarray
    moves: np.ndarray
    rows: np.ndarray
    most: np.ndarray

    def loads(self, x: np.ndarray) -> np.ndarray:
        """Return the mass % of the pigments, shape (..., p), of additions of shape (..., q)."""
        return np.maximum(self.start + x @ self.moves, 0)

    def holds(self, x: np.ndarray) -> np.ndarray:
        """Return whether additions, shape (n, q), keep the bounds."""
        return (x >= 0).all(-1) & (x @ self.rows.T <= self.most + _EXACT).all(-1)


def reach_of(
    names: Sequence[str], added: Sequence[str], max_load: float, limits: Mapping[str, float]
) -> Reach:
    """Return new blends of the pigments ``added``, up to a load and limits of single ones [mass %].

    >>> reach_of(["ultramarine"], ["ultramarine"], 20, {}).loads(np.array([5.0]))
    array([5.])
    """
    return _reach(names, added, np.zeros(len(names)), 100.0, max_load, limits)


def reach_into(
    pot: Pot, names: Sequence[str], added: Sequence[str], max_load: float, limits: Mapping[str, float]
) -> Reach:
    """Return what ``added`` can make of a pot, up to a load and limits of single pigments [mass %].

    >>> pot = Pot({"red iron oxide": 10.0}, 90.0)
    >>> into = reach_into(pot, ["ultramarine", "red iron oxide"], ["ultramarine"], 20, {})
    >>> into.loads(np.array([10.0]))
    array([10.,  9.])
    """
    start = np.array([pot.load_of(name) for name in names])
    return _reach(names, added, start, 100 * (1 - 1 / GROWTH), max_load, limits)


def _reach(
    names: Sequence[str],
    added: Sequence[str],
    start: np.ndarray,
    room: float,
    max_load: float,
    limits: Mapping[str, float],
) -> Reach:
    moves = np.array([[float(each == name) for name in names] for each in added]) - start / 100
    rows, most = [moves.sum(1), np.ones(len(added))], [max_load - start.sum(), room]
    for at, name in enumerate(names):
        if name in limits:
            rows.append(moves[:, at])
            most.append(limits[name] - start[at])
    return Reach(tuple(added), start, moves, np.array(rows), np.maximum(most, 0))


def thinned(pot: Pot, added: Sequence[str], max_load: float, limits: Mapping[str, float]) -> Pot:
    """Return the pot with the base that it needs to keep the bounds; itself where it keeps them.

    Raises
    ------
    LabError
        Where it needs base, and base is not among the additions.
    """
    grams = needed_base(pot, max_load, limits)
    if grams and BASE not in added:
        raise LabError(
            f"The pot holds {pot.load:.3g} % pigment: of all together or of one of them that is more than "
            f"may be, and nothing can be taken out. Add at least {grams:.4g} g of base first, or put "
            f"“{BASE}” among what may be added."
        )
    return Pot(pot.grams, pot.base + grams)


def needed_base(pot: Pot, max_load: float, limits: Mapping[str, float]) -> float:
    """Return the grams of base that bring a pot within a load and within the limits of single pigments.

    >>> needed_base(Pot({"ultramarine": 30.0}, 70.0), 20.0, {})
    50.0
    """
    wanted = [100 * pot.pigment / max_load]
    wanted += [100 * pot.grams.get(name, 0.0) / limit for name, limit in limits.items()]
    short = max(wanted) - pot.total
    return short if short > _EXACT * pot.total else 0.0
