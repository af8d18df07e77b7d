"""Slips, reheats and plateaus in a log."""

import numpy as np
import pytest
from batch.pots import newton, reheated, with_plateau

from labkit.batch.stretches import Span, cooling_spans, find_plateau, scatter, slips, thinned


def test_scatter_is_that_of_the_noise_and_not_of_the_curve():
    rng = np.random.default_rng(1)
    curve = newton(np.arange(0.0, 40.0, 0.2))
    assert scatter(curve) < 0.01
    assert scatter(curve + 0.4 * rng.standard_normal(len(curve))) == pytest.approx(0.4, rel=0.25)


def test_a_slip_is_told_from_a_peak_and_from_a_turn():
    """Once the peak of a reheat counted as a slip, and the second cooling began a reading too early."""
    assert not slips(reheated()[1]).any()
    readings = newton(np.arange(20.0))
    for place in (3, 10, 18):
        slipped = readings.copy()
        slipped[place] -= 20.0
        assert np.flatnonzero(slips(slipped)).tolist() == [place]


def test_spans_end_at_a_reheat_and_begin_at_its_peak():
    spans = cooling_spans(reheated()[1])
    assert [(span.first, span.stop) for span in spans] == [(0, 9), (12, 21)]


def test_noise_is_no_reheat():
    rng = np.random.default_rng(2)
    for _ in range(100):
        readings = with_plateau(np.arange(60.0), 50.0, 30.0) + 0.4 * rng.standard_normal(60)
        assert len(cooling_spans(readings)) == 1


def test_a_small_rise_on_setting_is_no_reheat():
    """A melt that was cooled below its setting point warms by its own heat."""
    readings = np.r_[newton(np.arange(9.0)), 50.0, 50.5, 50.6, 50.5, 50.4, 50.0, 48.0, 46.0]
    assert cooling_spans(readings) == [Span(0, 17)]


@pytest.mark.parametrize("lasts", [4.0, 8.0, 20.0])
def test_a_plateau_is_found_where_it_is(lasts):
    rng, minutes = np.random.default_rng(3), np.arange(0.0, 45.0, 0.5)
    begins = 12.0 * np.log(56.0 / 30.0)
    first, last = find_plateau(
        minutes, with_plateau(minutes, 52.0, lasts) + 0.2 * rng.standard_normal(90), 22.0
    )
    assert minutes[first] == pytest.approx(begins, abs=1.0)
    assert minutes[last] == pytest.approx(begins + lasts, abs=1.0)


def test_the_tail_towards_the_room_is_no_plateau():
    rng, minutes = np.random.default_rng(4), np.arange(0.0, 90.0, 1.0)
    for room in (22.0, None):
        assert all(
            find_plateau(minutes, newton(minutes) + 0.2 * rng.standard_normal(90), room) is None
            for _ in range(40)
        )


def test_too_few_readings_show_no_plateau():
    assert find_plateau(np.arange(5.0), np.array([70.0, 60.0, 52.0, 52.0, 52.0]), 22.0) is None


def test_thinning_keeps_the_means():
    minutes = np.linspace(0.0, 30.0, 3001)
    times, readings = thinned(minutes, newton(minutes))
    assert len(times) <= 150
    assert readings == pytest.approx(newton(times), abs=0.01)
    assert thinned(minutes[:100], minutes[:100])[0] is not None
