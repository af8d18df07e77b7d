"""Where likelihood rows touch the unknowns: each row at a few, so slopes are put in place, not multiplied."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]


@dataclass(frozen=True)
class Touch:
    """One linear thing that every row feels: Σ factor·unknown.

    Attributes
    ----------
    columns : sequence of int ndarray, each of shape (rows,)
        Which unknown.
    factors : sequence of ndarray, each of shape (priors or 1, rows)
        How much of it.
    """

    columns: Sequence[Ints]
    factors: Sequence[Floats]

    def felt(self, unknowns: Floats) -> Floats:
        """Return the sums, shape (priors, rows), for unknowns (priors, unknowns)."""
        pairs = zip(self.columns, self.factors, strict=True)
        return sum((factor * unknowns[:, column] for column, factor in pairs), np.zeros((1, 1)))

    def __sub__(self, other: "Touch") -> "Touch":
        return Touch([*self.columns, *other.columns], [*self.factors, *(-each for each in other.factors)])

    def times(self, factor: float) -> "Touch":
        """Return it with every factor multiplied."""
        return Touch(self.columns, [factor * each for each in self.factors])


def one(column: Ints) -> Touch:
    """Return what feels a single unknown, as it is."""
    return Touch([column], [np.ones((1, len(column)))])


def put(size: int, heads: Sequence[Touch], first: Floats, second: Floats) -> tuple[Floats, Floats]:
    """Return gradient (priors, size) and Hessian (priors, size, size) from slopes by what rows feel.

    Parameters
    ----------
    size : int
        How many unknowns there are.
    heads : sequence of Touch
    first : ndarray, shape (heads, priors, rows)
    second : ndarray, shape (heads, heads, priors, rows)
    """
    priors = first.shape[1]
    gradient, hessian = np.zeros((priors, size)), np.zeros((priors, size, size))
    spread = [
        (head, column, factor)
        for head, touch in enumerate(heads)
        for column, factor in zip(touch.columns, touch.factors, strict=True)
    ]
    for a, row, by_a in spread:
        np.add.at(gradient, (slice(None), row), by_a * first[a])  # type: ignore[arg-type]
        for b, column, by_b in spread:
            np.add.at(hessian, (slice(None), row, column), by_a * by_b * second[a, b])  # type: ignore[arg-type]
    return gradient, hessian
