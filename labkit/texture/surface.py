"""The fitted hidden surface: Gaussian under each set of priors, averaged by their weights."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from labkit.texture.laplace import Posterior, laplace
from labkit.texture.ordered import note_rows
from labkit.texture.priors import Priors
from labkit.texture.terms import Sites, Term, prior_covariance, prior_mean, prior_variance

Floats = NDArray[np.float64]
Notes = tuple[NDArray[np.int_], NDArray[np.int_]]
Build = Callable[[Priors], tuple[Sequence[Term], Sequence[Term]]]

_NEGLIGIBLE = 0.003  # of the weight of the heaviest set of priors


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

    Attributes
    ----------
    terms : sequence of Term
        What makes the surface.
    casual : sequence of Term
        What the next pour does not share: their variance joins the noise of a note.
    at : Sites
        Where notes were felt.
    words : int
    edge_sd : float
        Prior sd of each threshold about k + ½ [rungs].
    priors : Priors
    posterior : Posterior
        Unknowns: hardness at each site, then the thresholds.
    weight : ndarray, shape (priors,)
    """

    terms: Sequence[Term]
    casual: Sequence[Term]
    at: Sites
    words: int
    edge_sd: float
    priors: Priors
    posterior: Posterior
    weight: Floats

    @property
    def edges(self) -> Floats:
        """The thresholds, shape (priors, words − 1)."""
        return self.posterior.mode[:, len(self.at) :]

    def _cross(self, to: Sites) -> tuple[Floats, Floats]:
        """Return the prior cross-covariance with the sites, and the mean under each set of priors."""
        cross = prior_covariance(self.terms, to, self.at)
        pull = self.posterior.pull[:, : len(self.at), None]
        return cross, prior_mean(self.terms, to) + (cross @ pull)[..., 0]

    def _variance(self, to: Sites, cross: Floats) -> Floats:
        known = len(self.at)
        lost = np.einsum("snm,snm->sn", cross @ self.posterior.core[:, :known, :known], cross)
        return np.maximum(prior_variance(self.terms, to) - lost, 0.0)

    def _edge_covariance(self, cross: Floats) -> Floats:
        """Return the posterior covariance of sites and thresholds, shape (priors, sites, words − 1)."""
        known = len(self.at)
        return -(self.edge_sd**2) * (cross @ self.posterior.core[:, :known, known:])

    def _edges_covariance(self) -> Floats:
        known, square = len(self.at), self.edge_sd**2
        return square * np.eye(self.words - 1) - square**2 * self.posterior.core[:, known:, known:]

    def note_noise(self, to: Sites) -> Floats:
        """Return the variance of one note of a fresh cast about the surface, shape (priors, sites)."""
        return self.priors.note_sd[:, None] ** 2 + prior_variance(self.casual, to)

    def read(self, to: Sites) -> Reading:
        """Return what is expected at sites.

        P(word ≤ k) = Φ((c_k − f)/√(note² + cast² + var(c_k − f))) under each set of priors,
        averaged; the sd by the law of total variance.
        """
        cross, mean = self._cross(to)
        variance = self._variance(to, cross)
        noisy = (variance + self.note_noise(to))[..., None]
        edges = np.diagonal(self._edges_covariance(), axis1=1, axis2=2)[:, None]
        spread = noisy + edges - 2.0 * self._edge_covariance(cross)
        chance = ndtr((self.edges[:, None] - mean[..., None]) / np.sqrt(spread))
        middle = self.weight @ mean
        sd = np.sqrt(self.weight @ (variance + (mean - middle) ** 2))
        return Reading(np.einsum("s,snk->nk", self.weight, chance), middle, sd)

    def gaps(self, to: Sites, rung: int) -> Gaps:
        """Return the joint distances of sites from the middle of a rung."""
        ends = [k for k in (rung - 1, rung) if 0 <= k < self.words - 1]
        share = np.zeros(self.words - 1)
        share[ends] = 1.0 / len(ends)
        cross, mean = self._cross(to)
        known = len(self.at)
        covariance = prior_covariance(self.terms, to, to)
        covariance = covariance - cross @ self.posterior.core[:, :known, :known] @ np.swapaxes(cross, 1, 2)
        with_middle = self._edge_covariance(cross) @ share
        covariance = covariance - with_middle[:, :, None] - with_middle[:, None, :]
        covariance = covariance + (share @ self._edges_covariance() @ share)[:, None, None]
        mean = mean - (self.edges @ share)[:, None]
        middle = self.weight @ mean
        off = np.sqrt(self.weight)[:, None] * (mean - middle)
        joint = np.einsum("s,snm->nm", self.weight, covariance) + off.T @ off
        half = 0.5 * float(self.weight @ (self.edges[:, ends[-1]] - self.edges[:, ends[0]]))
        low, high = (-half if rung > 0 else -np.inf), (half if rung < self.words - 1 else np.inf)
        return Gaps(middle, joint, low, high, float(self.weight @ self.note_noise(to)[:, 0]))


def _unknowns(terms: Sequence[Term], at: Sites, words: int, edge_sd: float) -> tuple[Floats, Floats]:
    """Return prior mean and covariance of hardness at the sites and of the thresholds."""
    known, priors = len(at), prior_variance(terms, at).shape[0]
    mean = np.empty((priors, known + words - 1))
    mean[:, :known] = prior_mean(terms, at)
    mean[:, known:] = np.arange(words - 1) + 0.5
    covariance = np.zeros((*mean.shape, mean.shape[1]))
    covariance[:, :known, :known] = prior_covariance(terms, at, at)
    covariance[:, known:, known:] = edge_sd**2 * np.eye(words - 1)
    return mean, covariance


def fit_surface(build: Build, priors: Priors, at: Sites, notes: Notes, words: int, edge_sd: float) -> Surface:
    """Return the posterior given notes.

    Parameters
    ----------
    build : callable
        From sets of priors to the terms of the surface and the casual ones.
    priors : Priors
        Sets of negligible weight are dropped.
    at : Sites
        Distinct (cast, hours).
    notes : pair of int ndarray, shape (notes,)
        Site of each note, and its word (0 the softest).
    words : int
    edge_sd : float
        Prior sd of each threshold [rungs].
    """
    terms, casual = build(priors)
    mean, covariance = _unknowns([*terms, *casual], at, words, edge_sd)
    posterior = laplace(mean, covariance, [note_rows(*notes, len(at), words, priors.note_sd)])
    weight = np.exp(posterior.log_evidence - posterior.log_evidence.max())
    keep = np.flatnonzero(weight >= _NEGLIGIBLE)
    weight = weight[keep] / weight[keep].sum()
    kept = priors.take(keep)
    return Surface(*build(kept), at, words, edge_sd, kept, posterior.take(keep), weight)
