"""Choosing pours: exchange of points until the average prediction variance falls no further."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_RIDGE = 1e-6  # keeps a start that is singular from stopping the search
_GAIN = 1e-7  # of a note's variance; less is no improvement
_ROUNDS = 50


@dataclass(frozen=True)
class Search:
    """What a plan is chosen from and what is known already.

    Parameters
    ----------
    terms : array of shape (candidates, coefficients)
        Orthonormal terms of each candidate.
    known : array of shape (coefficients, coefficients)
        Information of what has been poured, with any prior precision.
    """

    terms: Floats
    known: Floats

    def information(self, chosen: Indices, weights: Floats) -> Floats:
        """Return the information of what is chosen, each poured `weights` times, and of what is known."""
        rows = self.terms[chosen]
        return self.known + (rows * weights[:, None]).T @ rows

    def variance(self, chosen: Indices, weights: Floats) -> float:
        """Return the average prediction variance, in units of a note's variance."""
        return average_variance(self.information(chosen, weights))

    def exchange(self, start: Indices, weights: Floats, distinct: bool) -> Indices:
        """Return the choice after exchanges, one slot at a time for its best candidate (Fedorov 1972).

        With C the inverse of the information without the slot, candidate f poured w
        times lowers the trace of C by ``w·|C f|² / (1 + w·fᵀ C f)``.
        """
        chosen = start.copy()
        ridge = _RIDGE * np.eye(self.terms.shape[1])
        for _ in range(_ROUNDS):
            before = chosen.copy()
            for slot, weight in enumerate(weights):
                others = np.delete(np.arange(len(chosen)), slot)
                covariance = np.linalg.inv(self.information(chosen[others], weights[others]) + ridge)
                spread = self.terms @ covariance
                leverage = np.einsum("ij,ij->i", spread, self.terms)
                gain = weight * np.einsum("ij,ij->i", spread, spread) / (1 + weight * leverage)
                if distinct:
                    gain[chosen[others]] = -np.inf
                best = int(np.argmax(gain > gain.max() - _GAIN))
                if gain[best] > gain[chosen[slot]] + _GAIN:
                    chosen[slot] = best
            if (chosen == before).all():
                break
        return chosen

    def spread_repeats(self, chosen: Indices, weights: Floats) -> Indices:
        """Swap slots that are poured more often with others for as long as that helps."""
        chosen, best = chosen.copy(), self.variance(chosen, weights)
        heavy, light = np.flatnonzero(weights > weights.min()), np.flatnonzero(weights == weights.min())
        for first in heavy:
            for second in light:
                swapped = chosen.copy()
                swapped[[first, second]] = chosen[[second, first]]
                variance = self.variance(swapped, weights)
                if variance < best - _GAIN:
                    chosen, best = swapped, variance
        return chosen

    def improve(self, start: Indices, weights: Floats, distinct: bool) -> Indices:
        """Exchange and spread the repeats in turn until neither helps."""
        chosen = self.exchange(start, weights, distinct)
        for _ in range(_ROUNDS):
            swapped = self.spread_repeats(chosen, weights)
            if (swapped == chosen).all():
                break
            chosen = self.exchange(swapped, weights, distinct)
        return chosen

    def best(
        self, weights: Floats, distinct: bool, rng: np.random.Generator, starts: int, first: list[Indices]
    ) -> Indices:
        """Return the best choice of several starts: those given first, then random ones."""
        count = len(self.terms)
        drawn = [rng.choice(count, len(weights), replace=len(weights) > count) for _ in range(starts)]
        found = [self.improve(start, weights, distinct) for start in [*first, *drawn]]
        variances = np.array([self.variance(chosen, weights) for chosen in found])
        return found[int(np.argmax(variances < variances.min() + _GAIN))]


def average_variance(information: Floats) -> float:
    """Return the trace of the inverse information; infinite where something is not pinned down at all."""
    eigenvalues = np.linalg.eigvalsh(information)
    return float((1 / eigenvalues).sum()) if eigenvalues[0] > 1e-10 * eigenvalues[-1] else float("inf")
