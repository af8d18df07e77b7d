"""Limits of standard deviations from few groups: what the sums of squares alone can say.

One-way model: reading = mean + group + repeat, both normal, with standard deviations
σ_b (between groups) and σ_r (repeats within a group).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import chdtrc, chdtri, fdtri

Floats = NDArray[np.float64]
Limits = tuple[float, float]

LEVEL = 0.90
MISS = 1.0 - LEVEL
NOT_KNOWN: Limits = (0.0, np.inf)

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)


@dataclass(frozen=True)
class Groups:
    """What is needed of the readings: groups of one size are added up.

    Attributes
    ----------
    size, count : ndarray, shape (sizes,)
        Readings a group, and how many groups have so many.
    centre, scatter : ndarray, shape (sizes,)
        Mean of the group means, and sum of their squared deviations from it.
    within : float
        Sum of squares within groups.
    """

    size: Floats
    count: Floats
    centre: Floats
    scatter: Floats
    within: float

    @cached_property
    def groups(self) -> int:
        """How many groups there are."""
        return int(self.count.sum())

    @cached_property
    def rows(self) -> int:
        """How many readings there are."""
        return int((self.size * self.count).sum())

    @property
    def spare(self) -> int:
        """Degrees of freedom within groups."""
        return self.rows - self.groups

    @property
    def mean(self) -> float:
        """Mean of all readings."""
        weight = self.size * self.count
        return float(weight @ self.centre / weight.sum())

    @property
    def repeat_variance(self) -> float:
        """Mean square within groups; nan without repeats."""
        return self.within / self.spare if self.spare else np.nan

    @property
    def between_variance(self) -> float:
        """(MS_between − MS_within)/n̄, n̄ = (N − Σn²/N)/(k − 1), at least 0; nan where it cannot be told.

        ISO 5725-2, basic method (clause from memory).
        """
        if self.groups < 2 or not self.spare:
            return np.nan
        lean = float((self.size**2 * self.count).sum() / self.rows)
        typical = (self.rows - lean) / (self.groups - 1)
        square = _scatter(self, self.size, self.mean) / (self.groups - 1)
        return max(0.0, float(square - self.repeat_variance) / typical)

    @property
    def mean_square(self) -> float:
        """Variance of the group means, each counted once; for two groups or more."""
        unweighted = float(self.count @ self.centre / self.groups)
        return float(_scatter(self, np.ones_like(self.size), unweighted)) / (self.groups - 1)

    @property
    def usual_size(self) -> float:
        """Harmonic mean of the readings a group."""
        return float(self.groups / (self.count / self.size).sum())


def _scatter(groups: Groups, weight: Floats, centre: float | Floats) -> Floats:
    """Return Σ weight·(group mean − centre)², over the sizes on the last axis."""
    off = groups.centre - np.asarray(centre)[..., None]
    return (weight * (groups.scatter + groups.count * off**2)).sum(axis=-1)


def weighted_scatter(groups: Groups, between: Floats, repeat: Floats) -> Floats:
    """Return Σ wᵢ·(ȳᵢ − ȳ_w)², wᵢ = 1/(between + repeat/nᵢ): χ² on k − 1 at the true variances.

    Wald (1940), Annals of Mathematical Statistics 11, 96: exact for any group sizes.

    Parameters
    ----------
    between, repeat : ndarray, shape (n,)
        Variances to try.
    """
    weight = 1.0 / (between[:, None] + repeat[:, None] / groups.size)
    mass = weight * groups.count
    return _scatter(groups, weight, (mass * groups.centre).sum(axis=1) / mass.sum(axis=1))


def below(groups: Groups, total: float, share: float) -> float:
    """Return the generalised (fiducial) chance that σ_b² + share·σ_r² is below `total`.

    σ_r² is SS_within/χ², and σ_b² given σ_r² comes from Wald's χ²; the mean over σ_r² is
    taken by quadrature, so nothing is drawn. σ_b² is not cut off at 0 on the way, which
    would push the sum up. Weerahandi (1995), Exact Statistical Methods for Data Analysis;
    Park and Burdick (2003), Communications in Statistics B 32, 87 (both from memory).
    """
    if groups.within == 0.0:
        scatter = weighted_scatter(groups, np.array([total]), np.zeros(1))
        return float(chdtrc(groups.groups - 1, scatter)[0])
    repeat, weight = _repeat_variances(groups, total, share - 1.0 / groups.size.max() if share else 0.0)
    scatter = weighted_scatter(groups, total - share * repeat, repeat)
    return float(weight @ chdtrc(groups.groups - 1, scatter))


def _repeat_variances(groups: Groups, total: float, room: float) -> tuple[Floats, Floats]:
    """Return σ_r² at the chances of the quadrature, room·σ_r² below `total`, and quadrature weights."""
    if room <= 0.0:
        return groups.within / _chi_nodes(groups.spare), _WEIGHTS / 2.0
    reach = float(chdtrc(groups.spare, groups.within * room / total))
    return groups.within / chdtri(groups.spare, (_NODES + 1.0) / 2.0 * reach), _WEIGHTS / 2.0 * reach


@lru_cache(maxsize=64)
def _chi_nodes(df: int) -> Floats:
    return np.asarray(chdtri(df, (_NODES + 1.0) / 2.0))


@lru_cache(maxsize=64)
def _low_tails(between_df: int, within_df: int) -> tuple[Floats, Floats]:
    """Return log θ and the share of the 10 % that is left out at small F, θ = 1 + n·σ_b²/σ_r².

    F/θ follows F(between_df, within_df); the accepted 90 % are those with the best
    likelihood ratio against the likeliest θ ≥ 1. At θ = 1 nothing is left out at small F:
    so an interval is never empty, and where two-sided begins is not chosen by looking.
    Feldman and Cousins (1998), Physical Review D 57, 3873 (from memory).
    """
    chance = (np.arange(4000) + 0.5) / 4000
    over = fdtri(between_df, within_df, chance)
    log_theta = np.append(0.0, np.geomspace(1e-3, np.log(1e5), 79))

    def likely(ratio: Floats) -> Floats:
        half = (between_df + within_df) / 2.0
        return between_df / 2.0 * np.log(ratio) - half * np.log1p(between_df * ratio / within_df)

    best = np.minimum(1.0, over * np.exp(log_theta)[:, None])
    rejected = np.argsort(likely(best) - likely(over), axis=1, kind="stable")[:, int(LEVEL * len(over)) :]
    tail = MISS * (over[rejected] < 1.0).mean(axis=1)
    tail[0] = 0.0
    return log_theta, tail


def between_limits(groups: Groups) -> Limits:
    """Return limits of σ_b: the ratio's tails by likelihood ratio, laid on the generalised chance."""

    def low_tail(total: float) -> float:
        grid, tail = _low_tails(groups.groups - 1, max(groups.spare, 1))
        if groups.within == 0.0:
            return float(tail[-1])
        theta = 1.0 + groups.usual_size * total / groups.repeat_variance
        return float(np.interp(np.log(theta), grid, tail))

    low = _crossing(groups, lambda total: below(groups, total, 0.0) - (MISS - low_tail(total)))
    high = _crossing(groups, lambda total: below(groups, total, 0.0) - (1.0 - low_tail(total)) - 1e-12)
    return low, high


def _sum_limits(groups: Groups, share: float) -> Limits:
    """Return equal-tailed limits of √(σ_b² + share·σ_r²)."""
    low = _crossing(groups, lambda total: below(groups, total, share) - MISS / 2.0)
    return low, _crossing(groups, lambda total: below(groups, total, share) - (1.0 - MISS / 2.0))


def _crossing(groups: Groups, gap: Callable[[float], float]) -> float:
    """Return the square root of where a rising gap passes 0; 0 where it starts above."""
    unit = groups.mean_square + (groups.repeat_variance if groups.spare else 0.0)
    least, most = 1e-12, 1e8
    if gap(least * unit) >= 0.0:
        return 0.0
    found = brentq(lambda log: gap(np.exp(log) * unit), np.log(least), np.log(most), xtol=1e-9)
    return float(np.sqrt(np.exp(found) * unit))


def chi_limits(squares: float, df: int) -> Limits:
    """Return equal-tailed χ² limits of a standard deviation."""
    if not df or squares == 0.0:
        return NOT_KNOWN
    low, high = (float(np.sqrt(squares / chdtri(df, tail))) for tail in (MISS / 2, 1 - MISS / 2))
    return low, high


def combined_limits(groups: Groups, share: float) -> Limits:
    """Return 90 % limits of √(σ_b² + share·σ_r²); share 0 is σ_b, 1 the reproducibility.

    Without repeats the two cannot be told apart: what the group means scatter in all
    is then an upper limit of each. An upper limit of inf says: not known yet.
    """
    repeat = chi_limits(groups.within, groups.spare)
    if groups.groups < 2:
        return np.sqrt(share) * repeat[0], np.inf
    if not groups.spare:
        df = groups.groups - 1
        low, high = chi_limits(groups.mean_square * df, df)
        return (low if share == 1.0 else 0.0), high
    if groups.within == 0.0:
        rounding = 1e-13 * np.abs(groups.centre).max()
        if groups.mean_square <= rounding**2:
            return NOT_KNOWN
        low, high = between_limits(groups)
        return low, (np.inf if share else high)
    return _sum_limits(groups, share) if share else between_limits(groups)
