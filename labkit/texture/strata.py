"""How much one source of variation adds, with others taken away first: for groups that cross, of any size."""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.few_groups import Groups

Floats = NDArray[np.float64]

_NOTHING = 1e-9


@dataclass(frozen=True)
class Strata(Groups):
    """Sums of squares of one random source, the fixed ones taken away; read by `labkit.few_groups`.

    With y = X·β + Z·u + e, u of variance σ_b² and e of σ_r², what is left of y along the
    i-th direction that Z has outside X is normal with variance λᵢ·σ_b² + σ_r², and each is
    independent of the others and of the residual sum of squares. So λᵢ stands where the
    size of a group stands in one-way layouts, and all its limits hold as they are.
    Wald (1947), Annals of Mathematical Statistics 18, 586; Seely and El-Bassiouni (1983),
    Annals of Statistics 11, 197 (both from memory).

    Attributes
    ----------
    size : ndarray, shape (directions,)
        λᵢ; n for all where there are n readings a group.
    count, centre : ndarray, shape (directions,)
        Ones and zeros.
    scatter : ndarray, shape (directions,)
        Square of what is left along a direction, over λᵢ.
    within : float
        Residual sum of squares.
    between_df, within_df : int
        Degrees of freedom of the two.
    """

    between_df: int = 0
    within_df: int = 0

    @property
    def groups(self) -> int:
        """Degrees of freedom between, and one."""
        return self.between_df + 1

    @property
    def spare(self) -> int:
        """Degrees of freedom of the residual."""
        return self.within_df

    @property
    def between_variance(self) -> float:
        """(Σtᵢ² − q·MS_residual)/Σλᵢ, at least 0: what its expectation gives (Henderson's third method)."""
        if not self.between_df or not self.within_df:
            return np.nan
        squares, size = float(self.size @ self.scatter), self._mean_size
        return max(0.0, (squares / self.between_df - self.repeat_variance) / size)

    @property
    def mean_square(self) -> float:
        """Mean square between, a group counted as one reading."""
        return float(self.scatter.sum()) / max(self.between_df, 1)

    @property
    def usual_size(self) -> float:
        """Harmonic mean of the readings a group."""
        return float(len(self.size) / (1.0 / self.size).sum())

    @property
    def _mean_size(self) -> float:
        return float(self.size.mean()) if len(self.size) else np.nan


def split(values: Floats, fixed: Floats, group: Iterable[Hashable]) -> Strata:
    """Return the sums of squares of a random grouping once the columns of `fixed` are taken away.

    Parameters
    ----------
    values : ndarray, shape (n,)
    fixed : ndarray, shape (n, columns)
        Such as one column a recipe. It may be short of full rank.
    group : n labels

    Examples
    --------
    Two recipes on three days, each day a step of 1 harder:

    >>> found = split(np.array([0.0, 5, 1, 6, 2, 7]), members("ababab"), [1, 1, 2, 2, 3, 3])
    >>> found.size.round(6).tolist(), found.within_df, round(found.between_variance, 6)
    ([2.0, 2.0], 2, 1.0)
    """
    fixed_part = span(fixed)[0]
    left = without(values, fixed_part)
    directions, sizes = span(without(members(group), fixed_part))
    along = directions.T @ left
    rest = left - directions @ along
    rest[np.abs(rest) < _NOTHING * max(1.0, np.abs(values).max(initial=0.0))] = 0.0
    q = len(sizes)
    spare = len(values) - fixed_part.shape[1] - q
    return Strata(sizes, np.ones(q), np.zeros(q), along**2 / sizes, float(rest @ rest), q, spare)


def above(repeats: Strata, size: float, squares: float, df: int) -> Strata:
    """Return the source one storey up: means of `size` readings each, whose own scatter `repeats` holds.

    Parameters
    ----------
    squares : float
        Sum of squares of the means, of mean square σ_b² + σ_r²/size.
    """
    one = np.ones(min(df, 1))
    return Strata(size * one, one, 0.0 * one, squares * one, repeats.within, df, repeats.within_df)


def members(labels: Iterable[Hashable]) -> Floats:
    """Return one column a label, 1 where a row has it, shape (n, labels)."""
    listed = list(labels)
    place = {label: at for at, label in enumerate(dict.fromkeys(listed))}
    found = np.zeros((len(listed), len(place)))
    found[np.arange(len(listed)), [place[label] for label in listed]] = 1.0
    return found


def span(columns: Floats) -> tuple[Floats, Floats]:
    """Return an orthonormal basis of the columns, and the squared length along each of its vectors."""
    if not columns.size:
        return np.zeros((len(columns), 0)), np.zeros(0)
    basis, length, _ = np.linalg.svd(columns, full_matrices=False)
    kept = length > 1e-7 * max(1.0, length.max(initial=0.0))
    return basis[:, kept], length[kept] ** 2


def without(values: Floats, basis: Floats) -> Floats:
    """Return what of the values no vector of an orthonormal basis reaches."""
    return values - basis @ (basis.T @ values)
