"""The set curve of one pour: what it finds, when it says that it does not know, and what it refuses."""

import numpy as np
import pytest

from labkit.errors import LabError
from labkit.texture.set_fit import NotKnownYetError, fit_setting
from labkit.texture.set_search import later_curve, set_curve

HOURS = np.array([1.0, 3.0, 8.0, 24.0, 48.0, 96.0])


def noisy(hours, seed, sd=0.1, start=1.0, final=4.0, rate=0.1, drift=0.0):
    rng = np.random.default_rng(seed)
    return set_curve(hours, start, final, rate) + drift * hours + rng.normal(0.0, sd, len(hours))


@pytest.mark.parametrize(("start", "final"), [(1.0, 4.0), (4.0, 1.0), (-2.0, 3.0)])
@pytest.mark.parametrize("rate", [0.02, 0.1, 1.0])
def test_exact_readings_give_the_curve_back(start, final, rate):
    """Rising, and falling too: nothing is forced upwards."""
    fit = fit_setting(HOURS, set_curve(HOURS, start, final, rate))
    assert (fit.start, fit.final, fit.rate_per_h) == pytest.approx((start, final, rate), rel=1e-7)
    np.testing.assert_allclose(fit.at([[0.0, 5.0]]), set_curve([[0.0, 5.0]], start, final, rate), rtol=1e-7)
    assert fit.later is None


def test_fair_after_is_95_percent_of_the_change():
    fit = fit_setting(HOURS, noisy(HOURS, 1), start=1.0)
    done = (fit.at(fit.fair_after_h) - fit.start) / (fit.final - fit.start)
    assert done == pytest.approx(0.95, rel=1e-12)


def test_a_given_start_is_kept():
    fit = fit_setting(HOURS, noisy(HOURS, 2), start=0.5)
    assert (fit.start, fit.stderr["start"], float(fit.at(0.0))) == (0.5, 0.0, 0.5)
    assert fit.dof == 4


def test_agrees_with_a_general_least_squares_from_a_good_guess():
    """Values and standard errors, beside scipy's curve_fit started at the truth."""
    from scipy.optimize import curve_fit

    felt = noisy(HOURS, 3)
    fit = fit_setting(HOURS, felt)
    values, covariance = curve_fit(set_curve, HOURS, felt, p0=(1.0, 4.0, 0.1), xtol=1e-14, ftol=1e-14)
    names = ("start", "final", "rate_per_h")
    assert [getattr(fit, name) for name in names] == pytest.approx(list(values), rel=1e-6)
    assert [fit.stderr[name] for name in names] == pytest.approx(list(np.sqrt(np.diag(covariance))), rel=1e-4)


def test_order_and_repeats_change_nothing():
    felt = noisy(HOURS, 4)
    fit, turned = fit_setting(HOURS, felt), fit_setting(HOURS[::-1], felt[::-1])
    assert turned.rate_per_h == pytest.approx(fit.rate_per_h, rel=1e-9)
    twice = fit_setting(np.tile(HOURS, 2), np.tile(felt, 2))
    assert twice.rate_per_h == pytest.approx(fit.rate_per_h, rel=1e-9)
    assert twice.dof == 9


def test_a_later_softening_is_found():
    """Sets by 3 in a few hours, then softens by 0.02 an hour."""
    hours = np.array([0.5, 1, 2, 4, 8, 16, 24, 36, 48, 72, 96])
    fit = fit_setting(hours, noisy(hours, 5, rate=0.4, drift=-0.02, sd=0.05))
    assert fit.later is not None
    assert fit.later.per_h == pytest.approx(-0.02, abs=0.01)
    assert fit.rate_per_h == pytest.approx(0.4, abs=0.1)
    assert fit.stderr["later_per_h"] > 0.0
    assert fit.at(96.0) < fit.at(16.0) - 1.0
    low, high = fit.interval("rate_per_h")
    assert low < fit.rate_per_h < high


def test_a_softening_is_seldom_seen_where_there_is_none():
    """At most 3 of 80 plain curves with ten noisy readings."""
    hours = np.array([0.5, 1, 2, 4, 8, 16, 24, 48, 72, 96])
    fits = [fit_setting(hours, noisy(hours, seed, sd=0.2, rate=0.3)) for seed in range(80)]
    assert sum(fit.later is not None for fit in fits) <= 3


def test_a_drift_the_same_way_is_no_later_change():
    """A slow further hardening does not turn the curve: one rate is told, and the scatter grows."""
    hours = np.array([0.5, 1, 2, 4, 8, 16, 24, 36, 48, 72, 96])
    assert fit_setting(hours, noisy(hours, 6, rate=0.4, drift=0.01, sd=0.02)).later is None


def test_later_curve_without_end_is_the_limit_of_one_that_dies_down():
    np.testing.assert_allclose(later_curve(HOURS, 1e-9), later_curve(HOURS, 0.0), rtol=1e-6)
    np.testing.assert_allclose(later_curve([1e9], 0.5), [2.0])


@pytest.mark.parametrize("start", [None, 1.0], ids=["start fitted", "start given"])
def test_profile_intervals_hold_the_truth(start):
    """90 % limits from six readings, 120 trials: 85 to 95 %, give or take two standard errors."""
    truth = {"final": 4.0, "rate_per_h": 0.1} | ({"start": 1.0} if start is None else {})
    held = dict.fromkeys(truth, 0)
    for seed in range(120):
        fit = fit_setting(HOURS, noisy(HOURS, seed, sd=0.2), start=start)
        for name, value in truth.items():
            low, high = fit.interval(name)
            held[name] += low <= value <= high
    assert all(0.85 - 0.055 <= count / 120 <= 0.95 + 0.04 for count in held.values()), held


def test_profile_interval_by_refitting():
    """At its ends the best fit with the rate held is just as bad as the limit allows."""
    from scipy.optimize import least_squares
    from scipy.special import fdtri

    felt = noisy(HOURS, 7, sd=0.2)
    fit = fit_setting(HOURS, felt)
    limit = fit.rss * (1.0 + fdtri(1, fit.dof, 0.9) / fit.dof)
    for rate in fit.interval("rate_per_h"):
        held = least_squares(
            lambda v, rate=rate: set_curve(HOURS, v[0], v[1], rate) - felt, (1.0, 4.0), xtol=1e-12
        )
        assert 2.0 * held.cost == pytest.approx(limit, rel=1e-6)
    for final in fit.interval("final"):
        held = least_squares(
            lambda v, final=final: set_curve(HOURS, v[0], final, np.exp(v[1])) - felt, (1.0, -2.3), xtol=1e-12
        )
        assert 2.0 * held.cost == pytest.approx(limit, rel=1e-3)


def test_as_many_readings_as_values_leave_no_error_to_tell():
    fit = fit_setting([1.0, 8.0, 48.0], [1.3, 2.7, 4.0])
    assert fit.dof == 0
    assert set(fit.stderr.values()) == {np.inf}
    assert np.isnan(fit.residual_sd)
    assert fit.interval("rate_per_h") == (0.0, np.inf)
    np.testing.assert_allclose(fit.at([1.0, 8.0, 48.0]), [1.3, 2.7, 4.0])


def test_not_known_yet_while_it_still_rises_in_a_line():
    with pytest.raises(NotKnownYetError, match=r"not known yet: up to 4 h .* again at about 8 h") as told:
        fit_setting([1.0, 2.0, 3.0, 4.0], [1.0, 2.1, 2.9, 4.05])
    assert told.value.measure_next_h == 8.0
    with pytest.raises(NotKnownYetError, match="again at about 8 h"):
        fit_setting([1.0, 2.0, 4.0], [1.0, 2.0, 3.99])
    with pytest.raises(NotKnownYetError, match="straight line"):
        fit_setting(HOURS, [3.0, 3.1, 2.9, 3.05, 2.95, 3.0])


def test_not_known_where_it_had_set_before_the_first_reading():
    with pytest.raises(NotKnownYetError, match=r"had set by the reading at 8 h.*at about 2 h") as told:
        fit_setting([8.0, 24.0, 48.0, 96.0], [4.0, 3.95, 4.05, 4.0], start=0.0)
    assert told.value.measure_next_h == 2.0
    with pytest.raises(NotKnownYetError, match=r"had set by the reading at 24 h.*at about 6\.8 h"):
        fit_setting([1.0, 24.0, 48.0, 96.0, 120.0], [2.0, 4.0, 3.9, 4.1, 4.0])


@pytest.mark.parametrize(
    ("hours", "hardness", "start", "said"),
    [
        ([1, 2], [1, 2], None, "3 different hours or more; here are 2"),
        ([1], [1], 0.0, "2 different hours or more; here are 1"),
        ([], [], None, "here are 0"),
        ([5, 5, 5, 5], [1, 2, 3, 4], None, "here are 1"),
        ([0, 5, 5], [1, 2, 3], 0.0, "here are 1"),
        ([1, 2, 3], [1, 2], None, "3 hours and 2 hardness"),
        ([1, -2, 3], [1, 2, 3], None, "Reading 2 is at -2 h, before the pour"),
        ([1, np.nan, 3], [1, 2, 3], None, "Reading 2 has no hours"),
        ([1, np.inf, 3], [1, 2, 3], None, "Reading 2 has no hours"),
        ([1, 2, 3], [1, 2, np.nan], None, "Reading 3 has no hardness"),
        ([1, 2, 3], [1, 2, None], None, "Reading 3 has no hardness"),
        ([1, 2, 3], ["firm", "firm", "hard"], None, "hardness are not all numbers"),
        ([[1, 2], [3, 4]], [1, 2], None, "hours are a table"),
        ([1, 2, 3], [2, 2, 2], None, "All readings are 2"),
        ([1, 2, 3], [2, 2, 2], 2.0, "All readings are 2"),
        ([1, 2, 3], [1, 2, 3], np.nan, "start is nan"),
        (np.arange(20_001), np.arange(20_001), None, "too many: 10000 at most"),
    ],
)
def test_bad_input_is_told(hours, hardness, start, said):
    with pytest.raises(LabError, match=said):
        fit_setting(hours, hardness, start)


def test_only_what_was_fitted_has_limits():
    fit = fit_setting(HOURS, noisy(HOURS, 8), start=1.0)
    for name in ("start", "speed"):
        with pytest.raises(LabError, match=f"“{name}” was not fitted. Fitted: final, rate_per_h"):
            fit.interval(name)


def test_limits_open_where_the_readings_do_not_close_them():
    """At 99 % a straight line is still possible here: no upper limit of the final hardness."""
    fit = fit_setting([1.0, 3.0, 8.0, 24.0], [1.2, 1.8, 2.9, 4.1], start=1.0)
    low, high = fit.interval("rate_per_h", 0.9999)
    assert low == 0.0
    assert fit.interval("final", 0.9999)[1] == np.inf
    assert fit.interval("final", 0.9)[1] < np.inf
    assert high > fit.rate_per_h


def test_a_start_or_hours_that_are_no_numbers_are_said_in_words():
    hours, felt = [1.0, 4.0, 10.0, 24.0, 48.0], [1.0, 2.2, 3.1, 3.6, 3.7]
    with pytest.raises(LabError, match="no number"):
        fit_setting(hours, felt, start="0")
    with pytest.raises(LabError, match="no number of hours"):
        fit_setting(hours, felt).at("a")
