"""Laplace's approximation where the answer is known, and its Newton steps where they could fail."""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from labkit.texture.laplace import find_mode, laplace
from tests.texture.made import note_rows


@dataclass(frozen=True)
class Readings:
    """Readings of some unknowns with normal noise: a further likelihood, as simple as can be."""

    value_read: np.ndarray
    sd: float
    unknowns: int

    def value(self, unknowns):
        off = (self.value_read - unknowns[:, : len(self.value_read)]) / self.sd
        return np.sum(-0.5 * off**2 - np.log(self.sd) - 0.5 * np.log(2 * np.pi), axis=1)

    def slopes(self, unknowns):
        count = len(self.value_read)
        gradient = np.zeros_like(unknowns)
        gradient[:, :count] = (self.value_read - unknowns[:, :count]) / self.sd**2
        curvature = np.zeros((self.unknowns, self.unknowns))
        curvature[np.arange(count), np.arange(count)] = 1.0 / self.sd**2
        return gradient, np.broadcast_to(curvature, (len(unknowns), *curvature.shape))


@pytest.fixture
def prior():
    x = np.array([0.0, 0.3, 0.7, 1.5])
    covariance = np.stack([size * np.exp(-0.5 * (x[:, None] - x) ** 2 / 0.4) for size in (1.0, 3.0)])
    return np.array([[1.0, 1.0, 1.0, 1.0], [0.0, 0.5, 1.0, 1.5]]), covariance


def test_exact_for_normal_readings(prior):
    """With normal noise the posterior and the evidence are those of Gaussian regression, in closed form."""
    mean, covariance = prior
    read, sd = np.array([0.2, 1.4, 2.0]), 0.4
    found = laplace(mean, covariance, [Readings(read, sd, 4)])
    for each in range(2):
        seen = covariance[each][:3, :3] + sd**2 * np.eye(3)
        gain = covariance[each][:, :3] @ np.linalg.inv(seen)
        np.testing.assert_allclose(found.mode[each], mean[each] + gain @ (read - mean[each, :3]), rtol=1e-9)
        lost = covariance[each] @ found.core[each] @ covariance[each]
        np.testing.assert_allclose(lost, gain @ covariance[each][:3], atol=1e-9)
        expected = multivariate_normal(mean[each, :3], seen).logpdf(read)
        assert found.log_evidence[each] == pytest.approx(expected, rel=1e-9)


def test_several_likelihoods_add(prior):
    mean, covariance = prior
    together = laplace(mean, covariance, [Readings(np.array([0.2, 1.4]), 0.4, 4)] * 2)
    once = laplace(mean, covariance, [Readings(np.array([0.2, 1.4]), 0.4 / np.sqrt(2.0), 4)])
    np.testing.assert_allclose(together.mode, once.mode, rtol=1e-9)


def test_mode_is_where_the_slope_vanishes():
    mean = np.array([[1.0, 1.0, -2.0, 0.5, 1.5]])
    covariance = np.diag([4.0, 4.0, 2.0, 0.1, 0.1])[None] + np.pad(
        np.full((1, 2, 2), 1.0), ((0, 0), (0, 3), (0, 3))
    )
    left = np.array([[0.7, 0.0, 0.2]])
    rows = note_rows(np.array([0, 0, 1]), np.array([0, 2, 2]), left, 2, 3, np.array([0.6]))
    mode, pull = find_mode(mean, covariance, [rows])
    gradient, _ = rows.slopes(mode)
    np.testing.assert_allclose(pull, gradient, atol=1e-8)
    np.testing.assert_allclose(mode - mean, (covariance @ pull[..., None])[..., 0], atol=1e-12)


def test_a_full_step_that_overshoots_is_halved():
    """Contradicting notes: the first full Newton step would put the thresholds in the wrong order."""
    mean = np.array([[2.0, 0.0, 0.5, 1.5, 2.5]])
    covariance = np.diag([1.5, 1.0, 4.0, 4.0, 4.0])[None]
    rows = note_rows(np.zeros(5, int), np.array([0, 0, 1, 3, 2]), np.zeros((1, 5)), 1, 4, np.array([0.1]))
    gradient, curvature = rows.slopes(mean)
    full = covariance[0] @ np.linalg.solve(np.eye(5) + curvature[0] @ covariance[0], gradient[0])
    assert rows.value(mean + full)[0] == -np.inf
    mode, pull = find_mode(mean, covariance, [rows])
    np.testing.assert_allclose(pull, rows.slopes(mode)[0], atol=1e-6)
    assert (np.diff(mode[0, 2:]) > 0).all()


def test_far_start_and_singular_covariance_converge():
    """Two unknowns that are one: no inverse exists; and notes that a full Newton step overshoots."""
    mean = np.array([[-30.0, -30.0, 0.0, 0.5, 1.5]])
    covariance = np.zeros((1, 5, 5))
    covariance[:, :2, :2] = 400.0
    covariance[:, 3:, 3:] = 0.05 * np.eye(2)
    rows = note_rows(np.array([0, 1, 1]), np.array([2, 2, 1]), np.zeros((1, 3)), 2, 3, np.array([0.3]))
    mode, pull = find_mode(mean, covariance, [rows])
    np.testing.assert_allclose(mode[0, 0], mode[0, 1], atol=1e-9)
    np.testing.assert_allclose(pull, rows.slopes(mode)[0], atol=1e-7)
