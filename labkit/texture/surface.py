"""The fitted hidden surface: Gaussian under each set of priors, averaged by their weights."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from labkit.texture.laplace import Posterior, join, laplace
from labkit.texture.layout import Layout
from labkit.texture.priors import Priors
from labkit.texture.readings import scale_prior
from labkit.texture.seen import Seen
from labkit.texture.setting import Late, Pace, SetCurve
from labkit.texture.terms import Sites, Term, prior_covariance, prior_mean, prior_variance

Floats = NDArray[np.float64]
Build = Callable[[Priors], "Terms"]

_NEGLIGIBLE = 0.003  # of the weight of the heaviest set of priors
_MANY = 100  # sets of priors; of more, those that are hopeless are left out after a rough look
_ROUGHLY, _SETTLED = 0.03, 1e-10  # largest move of an unknown, in rungs
_HOPELESS = 1e-4  # of the weight of the heaviest
_AT_ONCE = 4_000_000  # numbers in the covariances of the sets of priors that are fitted together


@dataclass(frozen=True)
class Terms:
    """What hardness is made of.

    Attributes
    ----------
    set : sequence of Term
        The surface of set sticks: the same at all hours.
    curve : SetCurve
        What a stick differs by until it has set.
    slow : Late
        What it differs by once it has long been set.
    casual : sequence of Term
        What a fresh pour does not share: there their variance joins the noise of a note.
    pace : Pace
        The same for the change until it has set; counted among the casual.
    tester_sd : ndarray, shape (priors,)
        Scatter of testers about their mean [rungs].
    stick_sd : float
        Prior sd of a reference stick about the middle of the ladder [rungs].
    """

    set: Sequence[Term]
    curve: SetCurve
    slow: Late
    casual: Sequence[Term]
    pace: Pace
    tester_sd: Floats
    stick_sd: float

    @property
    def surface(self) -> Sequence[Term]:
        """The terms of the surface at any hours."""
        return [*self.set, self.curve, self.slow]


@dataclass(frozen=True)
class Gaps:
    """Jointly Gaussian distances from the middle of the wanted rung, averaged over the priors.

    Attributes
    ----------
    mean : ndarray, shape (sites,)
        Hardness minus the middle of the wanted rung (or its one threshold) [rungs].
    covariance : ndarray, shape (sites, sites)
    low, high : float
        The wanted rung's ends seen from there; −inf or inf where it has none.
    noise : float
        Variance of one note of a fresh cast about its site.
    """

    mean: Floats
    covariance: Floats
    low: float
    high: float
    noise: float


@dataclass(frozen=True)
class Reading:
    """What is expected at sites, averaged over the priors.

    Attributes
    ----------
    cumulative : ndarray, shape (sites, words − 1)
        P(word ≤ k) for one note of a fresh cast.
    mean, sd : ndarray, shape (sites,)
        Of the surface itself [rungs].
    """

    cumulative: Floats
    mean: Floats
    sd: Floats


@dataclass(frozen=True)
class Surface:
    """Posterior of hardness and thresholds.

    Hardness of a cast at any hours is that of the set cast plus what is left of one start that
    all share (and of what the cast adds to it), plus the slow change, so the unknowns are few
    however many hours were felt.

    Attributes
    ----------
    build : callable
        From sets of priors to the terms.
    terms : Terms
        Of `priors`.
    at : Sites
        The casts that were felt, set.
    layout : Layout
    edge_sd : float
        Prior sd of each threshold about k + ½ [rungs].
    priors : Priors
    posterior : Posterior
        Unknowns in the order of the layout.
    weight : ndarray, shape (priors,)
    """

    build: Build
    terms: Terms
    at: Sites
    layout: Layout
    edge_sd: float
    priors: Priors
    posterior: Posterior
    weight: Floats

    @property
    def edges(self) -> Floats:
        """The thresholds, shape (priors, words − 1)."""
        return self.posterior.mode[:, self.layout.first_edge :]

    @property
    def words(self) -> int:
        """How many words the ladder has."""
        return self.layout.words

    @property
    def _known(self) -> int:
        """How many of the unknowns a hardness depends on."""
        return self.layout.hidden

    def _cross(self, to: Sites) -> tuple[Floats, Floats]:
        """Return the prior cross-covariance with what is hidden, and the mean under each set of priors."""
        terms = self.terms
        with_casts = prior_covariance([*terms.set, *terms.casual], to, self.at)
        late = np.broadcast_to(terms.slow.with_own(to), (len(with_casts), len(to), 1))
        paces = terms.pace.with_own(to, self.layout.paced)
        cross = np.concatenate([with_casts, terms.curve.with_start(to), late, paces], axis=2)
        pull = self.posterior.pull[:, : self._known, None]
        return cross, prior_mean(self.terms.surface, to) + (cross @ pull)[..., 0]

    def _variance(self, to: Sites, cross: Floats) -> Floats:
        known = self._known
        lost = np.einsum("snm,snm->sn", cross @ self.posterior.core[:, :known, :known], cross)
        own = prior_variance(self.terms.casual, to) * (to.pour >= 0)
        return np.maximum(prior_variance(self.terms.surface, to) + own - lost, 0.0)

    def _edge_covariance(self, cross: Floats) -> Floats:
        """Return the posterior covariance of sites and thresholds, shape (priors, sites, words − 1)."""
        known, edge = self._known, self.layout.first_edge
        return -(self.edge_sd**2) * (cross @ self.posterior.core[:, :known, edge:])

    def _edges_covariance(self) -> Floats:
        edge, square = self.layout.first_edge, self.edge_sd**2
        return square * np.eye(self.words - 1) - square**2 * self.posterior.core[:, edge:, edge:]

    def note_noise(self, to: Sites) -> Floats:
        """Return the variance of one note about the surface (a cast's own), shape (priors, sites)."""
        fresh = prior_variance(self.terms.casual, to) * (to.pour < 0)
        return self.priors.note_sd[:, None] ** 2 + fresh

    def read(self, to: Sites) -> Reading:
        """Return what is expected at sites.

        P(word ≤ k) = Φ((c_k − f)/√(note² + cast² + var(c_k − f))) under each set of priors,
        averaged; the sd by the law of total variance. At a cast that was felt, f has its
        cast's effect in it, and no cast² is added.
        """
        cross, mean = self._cross(to)
        variance = self._variance(to, cross)
        middle = self.weight @ mean
        sd = np.sqrt(self.weight @ (variance + (mean - middle) ** 2))
        below = self._below(to, cross, mean, variance)
        return Reading(np.einsum("s,snk->nk", self.weight, below), middle, sd)

    def cumulative(self, to: Sites) -> Floats:
        """Return P(word ≤ k) under each set of priors, shape (priors, sites, words − 1); see `read`."""
        cross, mean = self._cross(to)
        return self._below(to, cross, mean, self._variance(to, cross))

    def _below(self, to: Sites, cross: Floats, mean: Floats, variance: Floats) -> Floats:
        noisy = (variance + self.note_noise(to))[..., None]
        edges = np.diagonal(self._edges_covariance(), axis1=1, axis2=2)[:, None]
        spread = noisy + edges - 2.0 * self._edge_covariance(cross)
        return ndtr((self.edges[:, None] - mean[..., None]) / np.sqrt(spread))

    def note_band(self, to: Sites, chance: float) -> tuple[Floats, Floats]:
        """Return the ends between which hardness as one note feels it lies with that chance, both (sites,).

        Quantiles of the mixture over the sets of priors of normals with variance
        var(f) + note² + cast² (no cast² at a cast that was felt), by bisection.
        """
        cross, mean = self._cross(to)
        sd = np.sqrt(self._variance(to, cross) + self.note_noise(to))
        tail = 0.5 * (1.0 - chance)
        return _mixture_quantile(self.weight, mean, sd, tail), _mixture_quantile(
            self.weight, mean, sd, 1.0 - tail
        )

    def known(self, to: Sites) -> Floats:
        """Return 1 − var after the notes/var before, averaged over the sets of priors, shape (sites,)."""
        cross, _ = self._cross(to)
        return self.weight @ (1.0 - self._variance(to, cross) / prior_variance(self.terms.surface, to))

    def possible(self, rung: int) -> Floats:
        """Return the chance of a word at a fresh pour known to lie amid its rung, shape (priors,).

        Amid is half a rung inside at an end of the ladder.
        """
        fresh = Sites(self.at.shares[:1], np.array([np.inf]), np.array([-1]))
        sd = np.sqrt(self.note_noise(fresh)[:, 0])
        if rung in (0, self.words - 1):
            return ndtr(0.5 / sd)
        half = 0.5 * (self.edges[:, rung] - self.edges[:, rung - 1])
        return ndtr(half / sd) - ndtr(-half / sd)

    def _covariance(self, to: Sites, cross: Floats) -> Floats:
        """Return the posterior covariance of sites, averaged over the priors, shape (sites, sites)."""
        firsts, which = self.priors.of_surface()
        weight = np.bincount(which, self.weight)
        prior = prior_covariance(self.build(self.priors.take(firsts)).surface, to, to)
        lost = self.weight[:, None, None] * (cross @ self.posterior.core[:, : self._known, : self._known])
        return np.tensordot(weight, prior, 1) - np.tensordot(lost, cross, ((0, 2), (0, 2)))

    def gaps(self, to: Sites, rung: int) -> Gaps:
        """Return the joint distances of sites from the middle of a rung."""
        ends = [k for k in (rung - 1, rung) if 0 <= k < self.words - 1]
        share = np.zeros(self.words - 1)
        share[ends] = 1.0 / len(ends)
        cross, mean = self._cross(to)
        with_middle = self.weight @ (self._edge_covariance(cross) @ share)
        middles = self.weight @ (self._edges_covariance() @ share @ share)
        covariance = self._covariance(to, cross) - with_middle[:, None] - with_middle + middles
        mean = mean - (self.edges @ share)[:, None]
        middle = self.weight @ mean
        off = np.sqrt(self.weight)[:, None] * (mean - middle)
        joint = covariance + off.T @ off
        half = 0.5 * float(self.weight @ (self.edges[:, ends[-1]] - self.edges[:, ends[0]]))
        low, high = (-half if rung > 0 else -np.inf), (half if rung < self.words - 1 else np.inf)
        return Gaps(middle, joint, low, high, float(self.weight @ self.note_noise(to)[:, 0]))


def _mixture_quantile(weight: Floats, mean: Floats, sd: Floats, chance: float) -> Floats:
    """Return where a mixture of normals, weighted over the first axis, reaches a chance, shape (sites,)."""
    low, high = (mean - 9.0 * sd).min(axis=0), (mean + 9.0 * sd).max(axis=0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        short = weight @ ndtr((middle - mean) / sd) < chance
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return 0.5 * (low + high)


def _unknowns(terms: Terms, at: Sites, layout: Layout, edge_sd: float) -> tuple[Floats, Floats]:
    """Return prior mean and covariance of the unknowns, in the order of the layout."""
    of_casts = prior_covariance([*terms.set, *terms.casual], at, at)
    priors, casts, steps = len(of_casts), layout.casts, layout.words - 1
    mean, sd = np.zeros((priors, layout.size)), np.zeros((priors, layout.size))
    mean[:, :casts] = prior_mean(terms.set, at)
    mean[:, layout.start], sd[:, layout.start] = -terms.curve.change, terms.curve.sd
    sd[:, layout.start + 1], sd[:, layout.first_pace : layout.hidden] = terms.slow.sd, terms.pace.sd
    mean[:, layout.first_stick : layout.scale] = 0.5 * steps
    sd[:, layout.first_stick : layout.scale] = terms.stick_sd
    if layout.scaled:
        scale = slice(layout.scale, layout.first_edge)
        mean[:, scale], sd[:, scale] = scale_prior(layout.words)
    mean[:, layout.first_edge :], sd[:, layout.first_edge :] = np.arange(steps) + 0.5, edge_sd
    covariance = sd[:, :, None] ** 2 * np.eye(layout.size)
    covariance[:, :casts, :casts] = of_casts
    hands = slice(layout.hidden, layout.first_stick)
    covariance[:, hands, hands] = terms.tester_sd[:, None, None] ** 2 * about_their_mean(layout.testers)
    return mean, covariance


def about_their_mean(count: int) -> Floats:
    """Return the covariance of so many values of sd 1 about their own mean: I − 1/n.

    Examples
    --------
    >>> about_their_mean(2).tolist()
    [[0.5, -0.5], [-0.5, 0.5]]
    """
    return np.eye(count) - 1.0 / max(count, 1)


def fit_surface(build: Build, priors: Priors, at: Sites, seen: Seen, words: int, edge_sd: float) -> Surface:
    """Return the posterior given what was seen.

    Parameters
    ----------
    build : callable
        From sets of priors to the terms.
    priors : Priors
        Sets of negligible weight are dropped.
    at : Sites
        The casts, set.
    seen : Seen
    words : int
    edge_sd : float
        Prior sd of each threshold [rungs].
    """
    layout = seen.layout(words)

    def fitted(sets: Priors, settled: float) -> Posterior:
        block = max(1, _AT_ONCE // layout.size**2)
        found = []
        for start in range(0, len(sets), block):
            some = sets.take(np.arange(len(sets))[start : start + block])
            mean, covariance = _unknowns(build(some), at, layout, edge_sd)
            found.append(laplace(mean, covariance, seen.rows(layout, some), settled))
        return join(found)

    if len(priors) > _MANY:
        priors = priors.take(np.flatnonzero(_weight(fitted(priors, _ROUGHLY)) >= _HOPELESS))
    posterior = fitted(priors, _SETTLED)
    weight = _weight(posterior)
    keep = np.flatnonzero(weight >= _NEGLIGIBLE)
    weight = weight[keep] / weight[keep].sum()
    kept = priors.take(keep)
    return Surface(build, build(kept), at, layout, edge_sd, kept, posterior.take(keep), weight)


def _weight(posterior: Posterior) -> Floats:
    """Return the weight of every set of priors over that of the heaviest, shape (priors,)."""
    return np.exp(posterior.log_evidence - posterior.log_evidence.max())
