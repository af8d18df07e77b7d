"""Top against bottom: a difference is real where repeats alone do not give it."""

import numpy as np
import pytest

from labkit.colour.cie import delta_e00
from labkit.errors import LabError
from labkit.streak import top_bottom
from labkit.streak.stick import _metric

TOP = np.array([42.0, 40.0, 22.0])


def test_delta_e_is_that_of_the_published_pair():
    """Pair 1 of Sharma, Wu and Dalal, Color Res. Appl. 30 (2005) 21: 2.0425."""
    found = top_bottom((50, 2.6772, -79.7751), (50, 0, -82.7485), sd=0.3)
    assert found.delta_e00 == pytest.approx(2.0425, abs=1e-4)
    assert found.real
    assert found.direction == pytest.approx((0, -2.6772, -2.9734))


def test_alike_sticks_are_called_different_one_time_in_twenty():
    rng = np.random.default_rng(2)
    real = [top_bottom(*(TOP + rng.normal(0, 0.6, (2, 2, 3))), sd=0.6).real for _ in range(1500)]
    assert np.mean(real) == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / 1500))


def test_the_interval_holds_the_true_difference_nine_times_in_ten():
    rng = np.random.default_rng(3)
    bottom = TOP + np.array([-1.5, 2.0, 1.0])
    truth = top_bottom(TOP, bottom, sd=1).delta_e00
    held = 0
    for _ in range(600):
        found = top_bottom(TOP + rng.normal(0, 0.4, (3, 3)), bottom + rng.normal(0, 0.4, (3, 3)), sd=0.4)
        held += found.low <= truth <= found.high
    assert 0.86 < held / 600 < 0.94


@pytest.mark.parametrize("away", [(2, 0, 0), (0, 2, 0), (-1, 1, 2), (0.5, -2, 1)])
def test_the_linear_difference_is_that_of_colour_science(away):
    bottom = TOP + np.array(away)
    linear = np.linalg.norm(_metric((TOP + bottom) / 2) @ away)
    assert linear == pytest.approx(delta_e00(TOP, bottom), rel=0.02)


def test_more_readings_find_a_smaller_difference():
    bottom = TOP + 0.8
    one = top_bottom(TOP, bottom, sd=0.5)
    many = top_bottom(np.tile(TOP, (8, 1)), np.tile(bottom, (8, 1)), sd=0.5)
    assert not one.real
    assert many.real
    assert many.high - many.low < one.high - one.low
    assert "no difference is shown" in one.words
    assert "differ by" in many.words


def test_each_coordinate_may_scatter_by_itself():
    bottom = TOP + np.array([2.0, 0, 0])
    assert not top_bottom(TOP, bottom, sd=(2.0, 0.1, 0.1)).real
    assert top_bottom(TOP, bottom, sd=(0.1, 2.0, 2.0)).real


def test_the_same_colour_is_no_difference():
    found = top_bottom(TOP, TOP, sd=0.5)
    assert (found.delta_e00, found.low, found.real) == (0, 0, False)
    assert 0.3 < found.high < 3


@pytest.mark.parametrize(
    ("top", "bottom", "sd", "said"),
    [
        ((1, 2), TOP, 1, "top is not L"),
        (TOP, "red", 1, "bottom is not L"),
        (TOP, (50, np.nan, 0), 1, "bottom is not L"),
        ((120, 0, 0), TOP, 1, "between 0 and 100"),
        (TOP, TOP, 0, "above 0"),
        (TOP, TOP, (1, 2), "above 0"),
    ],
)
def test_what_is_no_colour_is_refused(top, bottom, sd, said):
    with pytest.raises(LabError, match=said):
        top_bottom(top, bottom, sd)
