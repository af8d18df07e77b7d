"""The ordered-probit likelihood against published fits, statsmodels and plain sums."""

import math

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize

from labkit.texture.ordered import interval_slopes, log_interval, ordered_loglik, word_chances
from tests.texture.literal import note_chance
from tests.texture.made import note_rows

# Bitterness of wine: how many of 18 tastings of each treatment got each rating 1 to 5.
# Randall, J. (1989). The analysis of sensory data by generalised linear model. Biometrical
# Journal 31, 781-793; the table as carried by the R packages ordinal and VGAM.
WINE = {
    (0, 0): (4, 9, 5, 0, 0),
    (0, 1): (1, 7, 8, 2, 0),
    (1, 0): (0, 5, 8, 3, 2),
    (1, 1): (0, 1, 5, 7, 5),
}


def wine():
    rows = [
        (*kind, rung)
        for kind, counts in WINE.items()
        for rung, count in enumerate(counts)
        for _ in range(count)
    ]
    return np.array(rows)


def fit_by_maximum_likelihood(x, rung, words):
    def split(theta):
        return theta[: words - 1], theta[words - 1 :]

    def lost(theta):
        edges, beta = split(theta)
        return -ordered_loglik(x @ beta, edges, rung) if (np.diff(edges) > 0).all() else np.inf

    start = np.concatenate([np.linspace(-1.5, 1.5, words - 1), np.zeros(x.shape[1])])
    options = {"xatol": 1e-9, "fatol": 1e-12, "maxiter": 20_000, "maxfev": 20_000, "adaptive": True}
    found = minimize(lost, start, method="Nelder-Mead", options=options)
    return split(found.x)[1], -found.fun


def test_wine_bitterness_as_published():
    """Probit: temperature 1.499375, contact 0.867744, log-likelihood -85.76115 (R package ordinal)."""
    data = wine()
    assert len(data) == 72
    beta, loglik = fit_by_maximum_likelihood(data[:, :2], data[:, 2], 5)
    np.testing.assert_allclose(beta, [1.499375, 0.867744], atol=1e-6)
    assert loglik == pytest.approx(-85.76115, abs=1e-5)


def test_statsmodels_finds_the_same_maximum():
    from statsmodels.miscmodels.ordinal_model import OrderedModel

    rng = np.random.default_rng(5)
    x = rng.normal(size=(80, 2))
    rung = np.digitize(x @ [1.0, -0.5] + rng.normal(size=80), [-1.0, 0.3, 1.2])
    theirs = OrderedModel(pd.Series(pd.Categorical(rung, ordered=True)), x, distr="probit")
    theirs = theirs.fit(method="bfgs", disp=False, gtol=1e-8)
    beta, loglik = fit_by_maximum_likelihood(x, rung, 4)
    np.testing.assert_allclose(beta, theirs.params[:2], atol=2e-6)
    assert loglik == pytest.approx(theirs.llf, abs=1e-8)


@pytest.mark.parametrize(
    ("lower", "upper"), [(0.5, 1.5), (-0.2, 0.9), (8.0, 9.0), (20.0, 20.5), (-3.0, 25.0)]
)
def test_interval_against_the_error_function(lower, upper):
    """Exact in the upper tail with erfc, where a difference of two cumulative chances is lost."""
    root = math.sqrt(2.0)
    expected = math.log(0.5 * (math.erfc(lower / root) - math.erfc(upper / root)))
    assert log_interval(lower, upper) == pytest.approx(expected, rel=1e-12, abs=1e-14)
    assert log_interval(-upper, -lower) == pytest.approx(expected, rel=1e-12, abs=1e-14)


def test_interval_at_its_ends():
    assert log_interval(-np.inf, np.inf) == 0.0
    assert log_interval(1.0, 1.0) == -np.inf
    assert log_interval(1.0, 0.5) == -np.inf
    assert np.isfinite(log_interval(-np.inf, -37.0))


def test_slopes_by_differences():
    rng = np.random.default_rng(0)
    lower = rng.normal(0.0, 2.0, 50)
    upper = lower + rng.uniform(0.2, 3.0, 50)
    step = 1e-5
    _, first, second = interval_slopes(lower, upper)
    by_lower = (log_interval(lower + step, upper) - log_interval(lower - step, upper)) / (2 * step)
    by_upper = (log_interval(lower, upper + step) - log_interval(lower, upper - step)) / (2 * step)
    np.testing.assert_allclose(first, [by_lower, by_upper], rtol=1e-6, atol=1e-8)
    up, down = interval_slopes(lower + step, upper)[1], interval_slopes(lower - step, upper)[1]
    np.testing.assert_allclose(second[:2], (up - down) / (2 * step), rtol=1e-6, atol=1e-7)
    up, down = interval_slopes(lower, upper + step)[1], interval_slopes(lower, upper - step)[1]
    np.testing.assert_allclose(second[1:], (up - down) / (2 * step), rtol=1e-6, atol=1e-7)


LEFT = np.array([[0.0, 0.8, 0.3, 0.0, 1.0], [0.0, 0.4, 0.1, 0.0, 1.0]])


@pytest.fixture
def rows():
    cast, rung = np.array([0, 0, 1, 2, 2]), np.array([0, 1, 3, 2, 1])
    return cast, rung, note_rows(cast, rung, LEFT, 3, 4, np.array([0.5, 1.3]))


def unknowns(seed=1):
    edges = np.array([0.4, 1.7, 2.4])
    hardness = np.random.default_rng(seed).normal(1.5, 1.0, (2, 4))
    return np.concatenate([hardness, np.stack([edges, edges + 0.1])], axis=1)


def test_rows_against_the_literal_sum(rows):
    cast, rung, made = rows
    at = unknowns()
    for each, sd in enumerate(made.sd):
        felt = at[each, cast] + LEFT[each] * at[each, 3]
        expected = sum(math.log(note_chance(f, at[each, 4:], r, sd)) for f, r in zip(felt, rung, strict=True))
        assert made.value(at)[each] == pytest.approx(expected, rel=1e-12)


def test_rows_slopes_by_differences(rows):
    *_, made = rows
    at, step = unknowns(), 1e-5
    gradient, curvature = made.slopes(at)
    for each in range(at.shape[1]):
        off = step * np.eye(at.shape[1])[each]
        by_value = (made.value(at + off) - made.value(at - off)) / (2 * step)
        np.testing.assert_allclose(gradient[:, each], by_value, rtol=1e-6, atol=1e-8)
        by_slope = (made.slopes(at + off)[0] - made.slopes(at - off)[0]) / (2 * step)
        np.testing.assert_allclose(-curvature[:, each], by_slope, rtol=1e-6, atol=1e-7)
    assert np.linalg.eigvalsh(curvature).min() > -1e-10


def test_a_weight_of_two_is_the_row_twice(rows):
    cast, rung, made = rows
    double = note_rows(cast, rung, LEFT, 3, 4, made.sd, np.array([1.0, 2.0, 1.0, 1.0, 0.0]))
    again = np.array([0, 1, 1, 2, 3])
    twice = note_rows(cast[again], rung[again], LEFT[:, again], 3, 4, made.sd)
    np.testing.assert_allclose(double.value(unknowns()), twice.value(unknowns()), rtol=1e-12)
    for one, other in zip(double.slopes(unknowns()), twice.slopes(unknowns()), strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-10, atol=1e-12)


def test_word_chances_never_negative_and_sum_to_one():
    crossed = word_chances(np.array([[0.6, 0.4, 0.9], [0.0, 1.0, 1.0]]))
    assert (crossed >= 0.0).all()
    np.testing.assert_allclose(crossed.sum(axis=1), 1.0, rtol=0, atol=1e-15)
    np.testing.assert_allclose(crossed[0], [0.6, 0.0, 0.3, 0.1])
