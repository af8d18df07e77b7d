"""The cooling curve: exact where the readings are, plateaus and reheats left out, bad readings refused."""

import numpy as np
import pytest
from batch.pots import newton, reheated, with_plateau
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.batch import fit_cooling
from labkit.errors import LabError

MINUTES = np.arange(0.0, 20.0)


# ---- Newton's law, exactly -------------------------------------------------------


@pytest.mark.parametrize("room", [22.0, None])
def test_exact_readings_give_the_exact_law(room):
    fit = fit_cooling(MINUTES, newton(MINUTES), room_c=room)
    assert fit.tau_min == pytest.approx(12.0, rel=1e-4)
    assert fit.room_c == pytest.approx(22.0, abs=1e-2)
    assert fit.start_c == pytest.approx(75.0, abs=1e-2)
    assert fit.plateau_c is None
    assert fit.left_out == ()


@pytest.mark.parametrize(("celsius", "taus"), [(60.0, 0.333), (50.0, 0.638)])
def test_the_share_of_tau_that_cooling_takes(celsius, taus):
    """75 °C in a room of 22 °C: ln(53/38) and ln(53/28)."""
    fit = fit_cooling(MINUTES, newton(MINUTES, tau=10.0), room_c=22.0)
    assert fit.minutes_until(celsius) / fit.tau_min == pytest.approx(taus, abs=5e-4)


@given(st.floats(4.0, 40.0), st.floats(10.0, 32.0), st.floats(65.0, 95.0), st.floats(0.0, 500.0))
@settings(max_examples=25, deadline=None)
def test_any_law_is_found_on_any_clock(tau, room, start, began):
    minutes = np.linspace(0.0, 1.5 * tau, 16)
    fit = fit_cooling(began + minutes, newton(minutes, start, tau, room), room_c=room)
    assert fit.tau_min == pytest.approx(tau, rel=1e-3)
    asked = room + 0.5 * (start - room)
    assert fit.minutes_until(asked) == pytest.approx(began + tau * np.log(2.0), abs=0.01 * tau)


@given(st.floats(23.5, 74.0))
@settings(max_examples=25, deadline=None)
def test_minutes_until_undoes_celsius_at(celsius):
    fit = fit_cooling(MINUTES, newton(MINUTES), room_c=22.0)
    assert fit.celsius_at(fit.minutes_until(celsius)) == pytest.approx(celsius, abs=1e-6)


def test_least_squares_is_that_of_a_general_fitter():
    from scipy.optimize import curve_fit

    readings = newton(MINUTES) + 0.3 * np.random.default_rng(4).standard_normal(20)
    fit = fit_cooling(MINUTES, readings, room_c=22.0)
    (start, tau), covariance = curve_fit(
        lambda t, T0, tau: newton(t, T0, tau), MINUTES, readings, p0=(70.0, 9.0)
    )
    assert fit.tau_min == pytest.approx(tau, rel=1e-5)
    assert fit.start_c == pytest.approx(start, abs=1e-4)
    assert fit.stderr["tau_min"] == pytest.approx(np.sqrt(covariance[1, 1]), rel=0.2)
    assert fit.stderr["room_c"] == 0.0


def test_a_number_gives_a_number_and_an_array_its_shape():
    fit = fit_cooling(MINUTES, newton(MINUTES), room_c=22.0)
    assert isinstance(fit.celsius_at(3), float)
    assert fit.celsius_at([[1.0, 2.0], [3.0, 4.0]]).shape == (2, 2)
    low, high = fit.limits_at([0.0, 30.0])
    assert (low <= fit.celsius_at([0.0, 30.0])).all()
    assert (fit.celsius_at([0.0, 30.0]) <= high).all()


# ---- the band --------------------------------------------------------------------


def test_the_band_narrows_as_readings_come():
    readings = newton(np.arange(30.0)) + 0.3 * np.random.default_rng(1).standard_normal(30)
    widths = []
    for count in (4, 8, 16, 30):
        when = fit_cooling(np.arange(float(count)), readings[:count]).minutes_until(40.0)
        assert when.low < when < when.high
        widths.append(when.high - when.low)
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < widths[0] / 10


def test_a_room_that_was_read_narrows_the_band():
    readings = newton(np.arange(6.0)) + 0.2 * np.random.default_rng(2).standard_normal(6)
    without, given_room = (fit_cooling(np.arange(6.0), readings, room_c=room) for room in (None, 22.0))
    assert given_room.stderr["tau_min"] < without.stderr["tau_min"] / 3


def test_what_is_left_counts_from_the_latest_reading():
    when = fit_cooling(MINUTES[:6], newton(MINUTES[:6]), room_c=22.0).minutes_until(50.0)
    assert when.left == pytest.approx(when - 5.0)
    assert when.left_low <= when.left <= when.left_high
    past = fit_cooling(MINUTES, newton(MINUTES), room_c=22.0).minutes_until(60.0)
    assert past.left == 0.0


def test_the_room_is_never_passed_and_it_says_so():
    when = fit_cooling(MINUTES, newton(MINUTES), room_c=22.0).minutes_until(20.0)
    assert np.isinf(when)
    assert "never" in when.why


def test_what_it_stood_below_already_is_its_start():
    when = fit_cooling(MINUTES + 5.0, newton(MINUTES), room_c=22.0).minutes_until(90.0)
    assert when == 5.0
    assert "began" in when.why


# ---- plateaus --------------------------------------------------------------------


@pytest.mark.parametrize("room", [22.0, None])
def test_a_plateau_is_found_and_left_out(room):
    minutes = np.arange(0.0, 40.0)
    fit = fit_cooling(minutes, with_plateau(minutes, 52.0, 9.0), room_c=room)
    assert fit.plateau_c == pytest.approx(52.0, abs=0.3)
    assert fit.tau_min == pytest.approx(12.0, rel=0.01)
    assert set(range(9, 15)) <= set(fit.left_out)
    assert fit.minutes_until(40.0) == pytest.approx(12.0 * np.log(56.0 / 18.0) + 9.0, abs=0.3)
    assert any("stood still" in note for note in fit.notes)


def test_fitting_through_the_plateau_would_have_been_wrong():
    """What the plateau costs where it is not left out: τ half as long again."""
    minutes = np.arange(0.0, 25.0)
    readings = with_plateau(minutes, 52.0, 12.0)
    from scipy.optimize import curve_fit

    through = curve_fit(lambda t, T0, tau: newton(t, T0, tau), minutes, readings, p0=(70.0, 9.0))[0][1]
    assert through > 18.0
    assert fit_cooling(minutes, readings, room_c=22.0).tau_min == pytest.approx(12.0, rel=0.02)


def test_a_plateau_that_still_lasts_gives_the_earliest_time_only():
    minutes = np.arange(0.0, 14.0)
    fit = fit_cooling(minutes, with_plateau(minutes, 52.0, 30.0), room_c=22.0)
    when = fit.minutes_until(45.0)
    assert fit.plateau_c == pytest.approx(52.0, abs=0.3)
    assert np.isinf(when)
    assert when.low == pytest.approx(13.0 + 12.0 * np.log(30.0 / 23.0), abs=0.4)
    assert "cannot be told" in when.why
    assert fit.celsius_at(60.0) == pytest.approx(52.0, abs=0.3)


def test_another_pace_after_the_plateau_does_not_touch_tau():
    minutes = np.arange(0.0, 50.0, 0.5)
    readings = with_plateau(minutes, 52.0, 8.0, later_tau=18.0)
    noise = 0.1 * np.random.default_rng(3).standard_normal(len(minutes))
    fit = fit_cooling(minutes, readings + noise, room_c=22.0)
    assert fit.tau_min == pytest.approx(12.0, abs=3.0 * fit.stderr["tau_min"])
    assert any("another pace" in note for note in fit.notes)
    assert fit.celsius_at(70.0) == pytest.approx(with_plateau([70.0], 52.0, 8.0, later_tau=18.0)[0], abs=0.5)


def test_the_curve_is_continuous_over_the_plateau():
    minutes = np.arange(0.0, 40.0)
    fit = fit_cooling(minutes, with_plateau(minutes, 52.0, 9.0), room_c=22.0)
    fine = fit.celsius_at(np.linspace(0.0, 60.0, 6001))
    assert (np.diff(fine) <= 1e-9).all()
    assert np.abs(np.diff(fine)).max() < 0.06


def test_a_plateau_seen_before_a_reheat_is_expected_again():
    first, second = np.arange(22.0), np.arange(26.0, 32.0)
    minutes = np.r_[first, [22.0, 23.0, 24.0, 25.0], second]
    readings = np.r_[with_plateau(first, 52.0, 7.0), [50.0, 58.0, 67.0, 75.0], newton(second - 26.0, 77.0)]
    fit = fit_cooling(minutes, readings, room_c=22.0)
    when = fit.minutes_until(45.0)
    at_once = 26.0 + 12.0 * np.log(55.0 / 23.0)
    assert at_once < when.low < when < when.high
    assert when == pytest.approx(at_once + 7.0, abs=1.0)
    assert "as long as the last time" in when.why


# ---- reheats, slips --------------------------------------------------------------


@pytest.mark.parametrize("room", [22.0, None])
def test_a_reheat_begins_a_new_stretch(room):
    fit = fit_cooling(*reheated(), room_c=room)
    assert fit.since_min == 12.0
    assert fit.tau_min == pytest.approx(12.0, rel=0.01)
    assert {9, 10, 11} <= set(fit.left_out)
    assert fit.minutes_until(60.0) == pytest.approx(12.0 + 12.0 * np.log(52.0 / 38.0), abs=0.1)
    assert fit.celsius_at(10.5) == pytest.approx(65.0)


def test_a_pot_that_is_warmed_first_counts_from_its_peak():
    minutes = np.arange(25.0)
    readings = np.r_[np.linspace(40.0, 76.0, 6), newton(np.arange(1.0, 20.0), 76.0)]
    fit = fit_cooling(minutes, readings, room_c=22.0)
    assert fit.since_min == 5.0
    assert fit.tau_min == pytest.approx(12.0, rel=1e-3)


def test_a_probe_lifted_out_is_left_out():
    readings = newton(MINUTES)
    readings[7] = 35.0
    fit = fit_cooling(MINUTES, readings, room_c=22.0)
    assert fit.left_out == (7,)
    assert fit.tau_min == pytest.approx(12.0, rel=1e-3)
    assert "1 reading far off" in fit.notes[0]


def test_an_outlier_short_of_a_slip_is_left_out():
    rng = np.random.default_rng(6)
    readings = newton(MINUTES) + 0.1 * rng.standard_normal(20)
    readings[10] += 2.0
    fit = fit_cooling(MINUTES, readings, room_c=22.0)
    assert 10 in fit.left_out
    assert fit.tau_min == pytest.approx(12.0, abs=3.0 * fit.stderr["tau_min"])


def test_a_dense_log_is_read_like_a_sparse_one():
    minutes = np.arange(0.0, 20.0, 1.0 / 60.0)
    readings = newton(minutes) + 0.3 * np.random.default_rng(7).standard_normal(len(minutes))
    fit = fit_cooling(minutes, readings, room_c=22.0)
    assert fit.tau_min == pytest.approx(12.0, abs=4.0 * fit.stderr["tau_min"])
    assert fit.stderr["tau_min"] < 0.03


# ---- what is refused -------------------------------------------------------------


@pytest.mark.parametrize(
    ("minutes", "celsius", "room", "words"),
    [
        ([0, 1, 2, 1.5], [70, 65, 61, 58], None, "goes back at reading 4"),
        ([0, 1, 2], [167, 158, 150], None, "°F"),
        ([0, 1, 2], [75, 70, 66], 72.0, "give 22 °C"),
        ([0, 1, 2], [21.5, 21.2, 21.0], 22.0, "no warmer than the room"),
        ([0, 1, 2], [70, 65], None, "3 times and 2"),
        ([0, 1], [70, 65], None, "it takes 3"),
        ([0], [70], 22.0, "it takes 2"),
        ([], [], None, "no readings"),
        ([0, 0, 0], [70, 65, 61], None, "minutes apart"),
        ([0, 1, 2, 3], [60, 60, 60, 60], 22.0, "does not cool"),
        ([0, 1, 2, 3], [50, 55, 60, 66], 22.0, "it takes 2"),
        ([0, 1, None], [70, 65, 61], None, "row 3"),
        ([0, 1, 2], [70, float("nan"), 61], None, "row 2"),
        ([0, 1, 2], ["hot", 65, 61], None, "give numbers"),
        ([[0, 1]], [[70, 65]], None, "one row"),
        ([0, 1, 2], [75, 70, -40], None, "kitchen"),
    ],
)
def test_readings_that_cannot_be_are_refused(minutes, celsius, room, words):
    with pytest.raises(LabError, match=words):
        fit_cooling(minutes, celsius, room_c=room)


def test_questions_that_cannot_be_are_refused():
    fit = fit_cooling(MINUTES, newton(MINUTES), room_c=22.0)
    with pytest.raises(LabError, match="no number"):
        fit.celsius_at(float("nan"))
    with pytest.raises(LabError, match="temperature asked for"):
        fit.minutes_until(float("nan"))
    with pytest.raises(LabError, match="°F"):
        fit.minutes_until(140.0)


@pytest.mark.parametrize("first", [3, 4, 6])
@pytest.mark.parametrize("since", [1, 2, 3])
def test_a_reheat_after_few_readings_is_told_from_scatter(first, since):
    before = np.arange(0.0, 2.0 * first, 2.0)
    after = np.arange(0.0, 2.0 * since, 2.0)
    minutes = np.concatenate([before, before[-1] + 5.0 + after])
    celsius = 22.0 + 58.0 * np.exp(-np.concatenate([before, after]) / 14.0)
    fit = fit_cooling(minutes, celsius.round(1), 22.0)
    assert fit.tau_min == pytest.approx(14.0, rel=0.05)
    again = before[-1] + 5.0 + 14.0 * np.log(58.0 / 38.0)
    assert fit.minutes_until(60.0) == pytest.approx(again, abs=0.3)
