"""The mass balance, the usual loss, and fill weights."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from labkit.batch import fill_spread, mass_balance, usual_loss
from labkit.errors import LabError

RECIPE = {"castor oil": 60.0, "beeswax": 40.0}


@given(
    st.lists(st.floats(3.0, 5.0), min_size=1, max_size=18), st.floats(0, 5), st.floats(0, 3), st.floats(0, 2)
)
def test_everything_adds_up(filled, pan, tools, taken):
    found = mass_balance(RECIPE, filled, pan, tools, taken)
    assert sum(filled) + pan + tools + taken + found.unexplained_g == pytest.approx(100.0, abs=1e-5)
    assert found.loss_share == pytest.approx(1 - sum(filled) / 100.0)


def test_a_scale_of_coarse_steps_explains_more():
    fine, coarse = (mass_balance(RECIPE, [4.5] * 20, 6.0, 3.5, step_g=step) for step in (0.01, 1.0))
    assert fine.unexplained_g == coarse.unexplained_g == 0.5
    assert "nothing weighed" in fine.why
    assert "accounted for" in coarse.why


def test_the_limits_are_those_of_simulated_rounding():
    rng, step, off = np.random.default_rng(3), 0.1, []
    weighings = 2 + 2 * 20 + 2 * 2
    for _ in range(4000):
        off.append(rng.uniform(-step / 2, step / 2, weighings).sum())
    low, high = mass_balance(RECIPE, [4.5] * 20, 6.0, 4.0, step_g=step).unexplained_limits
    assert np.mean((np.array(off) > low) & (np.array(off) < high)) == pytest.approx(0.95, abs=0.02)


def test_more_out_than_in_by_a_little_is_said_and_by_much_refused():
    assert "came out than went in" in mass_balance(RECIPE, [4.5] * 20, pan_g=11.0).why
    with pytest.raises(LabError, match="weighed with its tube"):
        mass_balance(RECIPE, [8.0] * 20)


@pytest.mark.parametrize("count", [2, 3, 6])
def test_the_next_loss_falls_into_the_interval_nine_times_in_ten(count):
    rng, hits = np.random.default_rng(5), 0
    for _ in range(1500):
        losses = rng.normal(0.10, 0.01, count + 1)
        found = usual_loss(np.full(count, 100.0), 100.0 * (1 - losses[:-1]))
        hits += found.low <= losses[-1] <= found.high
    assert hits / 1500 == pytest.approx(0.90, abs=0.025)


def test_one_batch_says_nothing_of_the_next():
    found = usual_loss([100.0], [90.0])
    assert (found.low, found.high, found.batches) == (0.0, 1.0, 1)
    assert found.to_weigh_g(90.0) == (pytest.approx(100.0), np.inf)


def test_a_batch_scaled_for_its_loss_fills_what_is_wanted():
    found = usual_loss([100.0, 110.0, 95.0], [90.0, 98.0, 86.0])
    usual, sure = found.to_weigh_g(85.0)
    assert usual * (1 - found.share) == pytest.approx(85.0)
    assert sure > usual


def test_fill_weights_beside_scipy():
    filled = np.array([4.31, 4.20, 4.28, 4.35, 4.22])
    found = fill_spread(filled, 4.25)
    assert found.sd_g == pytest.approx(filled.std(ddof=1))
    assert found.mean_limits == pytest.approx(stats.t.interval(0.95, 4, filled.mean(), stats.sem(filled)))
    chi = np.sqrt(4 * filled.var(ddof=1) / stats.chi2.ppf([0.95, 0.05], 4))
    assert found.sd_limits == pytest.approx(chi, rel=1e-6)
    assert (found.short, found.far_short, found.least_g, found.most_g) == (2, 0, 4.20, 4.35)


def test_what_fill_weights_mean_is_said():
    assert "fill a little more" in fill_spread([4.1, 4.15, 4.2], 4.25).why
    assert "short by more" in fill_spread([3.5, 4.4, 4.4], 4.25).why
    assert "for certain" in fill_spread([4.0, 4.6], 4.25).why
    assert fill_spread([4.40, 4.41, 4.39], 4.25).why == "On average they hold what is named."
    assert np.isnan(fill_spread([4.3], 4.25).sd_g)


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: mass_balance({}, [4.5]), "weighed in"),
        (lambda: mass_balance({"wax": -1.0}, [4.5]), "weighed in, wax"),
        (lambda: mass_balance({"wax": 0.0}, [0.0]), "Nothing was weighed in"),
        (lambda: mass_balance(RECIPE, []), "No container"),
        (lambda: mass_balance(RECIPE, [-4.5]), "fill weights"),
        (lambda: mass_balance(RECIPE, [4.5], pan_g=-1.0), "left in the pan"),
        (lambda: mass_balance(RECIPE, [4.5], step_g=0.0), "step"),
        (lambda: usual_loss([100.0], [101.0]), "Batch 1 filled"),
        (lambda: usual_loss([100.0], [90.0, 91.0]), "1 batches made and 2"),
        (lambda: usual_loss([0.0], [0.0]), "made"),
        (lambda: fill_spread([], 4.25), "No container"),
        (lambda: fill_spread([4.2], 0.0), "nominal content"),
        (lambda: fill_spread(["full"], 4.25), "fill weights"),
    ],
)
def test_what_cannot_be_is_refused(ask, words):
    with pytest.raises(LabError, match=words):
        ask()
