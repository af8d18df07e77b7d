"""Laplace's approximation to a Gaussian prior seen through log-concave rows."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_STEPS = 100
_HALVINGS = 40
_SETTLED = 1e-10  # largest move of an unknown, in rungs
_FIELDS = ("mode", "pull", "core", "log_evidence")


class Rows(Protocol):
    """A log-concave likelihood on the unknowns, for every set of priors at once."""

    def value(self, unknowns: Floats) -> Floats:
        """Return the log-likelihood, shape (priors,), for unknowns of shape (priors, unknowns)."""

    def slopes(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """Return the gradient (priors, unknowns) and minus the Hessian (priors, unknowns, unknowns)."""


@dataclass(frozen=True)
class Posterior:
    """The Gaussian that stands for the posterior, one for each set of priors.

    Attributes
    ----------
    mode : ndarray, shape (priors, unknowns)
    pull : ndarray, shape (priors, unknowns)
        K⁻¹(mode − prior mean): a cross-covariance times `pull` moves a prior mean.
    core : ndarray, shape (priors, unknowns, unknowns)
        (K + W⁻¹)⁻¹: what a cross-covariance loses is k·core·kᵀ.
    log_evidence : ndarray, shape (priors,)
        Log of the marginal likelihood.
    """

    mode: Floats
    pull: Floats
    core: Floats
    log_evidence: Floats

    def take(self, keep: NDArray[np.int_]) -> "Posterior":
        """Return the posterior of the sets of priors numbered in `keep`."""
        return Posterior(self.mode[keep], self.pull[keep], self.core[keep], self.log_evidence[keep])


def join(pieces: Sequence[Posterior]) -> Posterior:
    """Return posteriors of several sets of priors as one."""
    return Posterior(*(np.concatenate([getattr(each, field) for each in pieces]) for field in _FIELDS))


def _times(matrix: Floats, vector: Floats) -> Floats:
    return (matrix @ vector[..., None])[..., 0]


def _value(rows: Sequence[Rows], unknowns: Floats) -> Floats:
    return np.sum([each.value(unknowns) for each in rows], axis=0)


def _slopes(rows: Sequence[Rows], unknowns: Floats) -> tuple[Floats, Floats]:
    pairs = [each.slopes(unknowns) for each in rows]
    return np.sum([pair[0] for pair in pairs], axis=0), np.sum([pair[1] for pair in pairs], axis=0)


def _tempered(covariance: Floats, curvature: Floats) -> Floats:
    """Return I + W·K, which needs no inverse of a covariance that may be singular."""
    return np.eye(covariance.shape[-1]) + curvature @ covariance


def find_mode(
    mean: Floats, covariance: Floats, rows: Sequence[Rows], settled: float = _SETTLED
) -> tuple[Floats, Floats]:
    """Return the posterior mode and its pull by Newton's method with halved steps.

    The objective is concave, so a step that does not climb is halved until it does.
    Mode = mean + K·pull; the step solves (I + W·K) pull = W·K·pull + gradient
    (Rasmussen and Williams 2006, section 3.4, for W that is not diagonal).

    Parameters
    ----------
    mean : ndarray, shape (priors, unknowns)
        Must have a finite likelihood.
    covariance : ndarray, shape (priors, unknowns, unknowns)
    rows : sequence of Rows
    settled : float
        Largest move of an unknown after which to stop.
    """

    def climb(pull: Floats) -> tuple[Floats, Floats]:
        moved = _times(covariance, pull)
        return mean + moved, _value(rows, mean + moved) - 0.5 * np.sum(pull * moved, axis=-1)

    pull = np.zeros_like(mean)
    mode, height = climb(pull)
    for _ in range(_STEPS):
        gradient, curvature = _slopes(rows, mode)
        right = _times(curvature, mode - mean) + gradient
        towards = np.linalg.solve(_tempered(covariance, curvature), right[..., None])[..., 0] - pull
        share = np.ones(len(mean))
        for _ in range(_HALVINGS):
            tried, reached = climb(pull + share[:, None] * towards)
            short = ~(reached >= height - 1e-9 * (1.0 + abs(height)))
            if not short.any():
                break
            share = np.where(short, 0.5 * share, share)
        move = np.abs(tried - mode).max()
        pull, mode, height = pull + share[:, None] * towards, tried, reached
        if move < settled:
            break
    return mode, pull


def laplace(mean: Floats, covariance: Floats, rows: Sequence[Rows], settled: float = _SETTLED) -> Posterior:
    """Return the Gaussian approximation at the posterior mode.

    log evidence = log-likelihood(mode) − ½ pullᵀ·K·pull − ½ log det(I + W·K)
    (Rasmussen and Williams 2006, equation 3.32).

    Parameters
    ----------
    mean : ndarray, shape (priors, unknowns)
    covariance : ndarray, shape (priors, unknowns, unknowns)
    rows : sequence of Rows
        Their log-likelihoods are added.
    settled : float
        As in `find_mode`; more for a rough answer.
    """
    mode, pull = find_mode(mean, covariance, rows, settled)
    _, curvature = _slopes(rows, mode)
    tempered = _tempered(covariance, curvature)
    core = np.linalg.solve(tempered, curvature)
    size = np.linalg.slogdet(tempered)[1]
    evidence = _value(rows, mode) - 0.5 * np.sum(pull * (mode - mean), axis=-1) - 0.5 * size
    symmetric = np.asarray(0.5 * (core + np.swapaxes(core, -1, -2)), np.float64)
    return Posterior(mode, pull, symmetric, evidence)
