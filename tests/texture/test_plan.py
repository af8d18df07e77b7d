import re
import subprocess
import sys
from itertools import combinations, combinations_with_replacement

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from labkit.errors import LabError
from labkit.texture.blends import Blends, scheffe
from labkit.texture.days import day_information, level_cost, split_days
from labkit.texture.exchange import Search, average_variance
from labkit.texture.plan import plan_pours
from labkit.texture.region import Region
from labkit.texture.rounding import all_mixes, whole_steps

LINE = Region({"oil": (0.6, 0.9), "wax": (0.1, 0.4)})
USUAL = Region(
    {"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)},
    ["wax <= 0.5*butter", "0.8*butter + wax >= 0.4"],
)
FOUR = Region({"a": (0.1, 0.5), "b": (0.1, 0.5), "c": (0.1, 0.4), "d": (0.05, 0.2)}, ["d <= 0.5*c"])
SIX = Region(dict.fromkeys("abcdef", (0.05, 0.4)), ["a <= b", "c + d <= 0.5", "e >= 0.5*f"])
POINT = Region({"oil": (0.7, 0.9), "wax": (0.3, 0.3)})


def shares_of(plan, region):
    return plan[list(region.parts)].to_numpy()


def distinct(shares):
    return len(np.unique(shares.round(9), axis=0))


def average_on_lattice(region, rows, known=0.0, steps=400):
    """Average prediction variance in Scheffé's own terms, on a fine lattice (three parts)."""
    first, second = np.meshgrid(np.arange(steps + 1), np.arange(steps + 1), indexing="ij")
    lattice = np.stack([first, second, steps - first - second], axis=-1).reshape(-1, 3) / steps
    at = scheffe(lattice[region.contains(lattice)])
    terms = scheffe(rows)
    return float(np.einsum("ij,jk,ik->i", at, np.linalg.inv(terms.T @ terms + known), at).mean())


# ---------------------------------------------------------------- as good as can be


@pytest.fixture(scope="module")
def nine():
    """Two parts, nine evenly spaced candidates, and the exact average by Simpson's rule."""
    wax = np.linspace(0.1, 0.4, 9)
    candidates = np.column_stack([1 - wax, wax])
    ends = np.array([[0.9, 0.1], [0.825, 0.175], [0.75, 0.25], [0.675, 0.325], [0.6, 0.4]])
    weights = np.array([7, 32, 12, 32, 7]) / 90  # Boole's rule: exact to degree 5
    return candidates, scheffe(ends), weights


def brute_force(candidates, at, weights, choices):
    terms = scheffe(candidates)
    best = np.inf
    for chosen in choices:
        information = terms[list(chosen)].T @ terms[list(chosen)]
        if np.linalg.matrix_rank(information) == len(information):
            variance = weights @ np.einsum("ij,jk,ik->i", at, np.linalg.inv(information), at)
            best = min(best, variance)
    return best


@pytest.mark.parametrize("pours", [3, 4, 5, 6])
@pytest.mark.parametrize("apart", [True, False])
def test_search_against_every_choice_of_nine_candidates(nine, pours, apart):
    candidates, at, weights = nine
    every = (combinations if apart else combinations_with_replacement)(range(9), pours)
    search = Search(Blends.over(LINE).terms(candidates), np.zeros((3, 3)))
    found = search.best(np.ones(pours), apart, np.random.default_rng(0), 10, [])
    assert not apart or len(set(found)) == pours
    assert search.variance(found, np.ones(pours)) == pytest.approx(
        brute_force(candidates, at, weights, every)
    )


@pytest.mark.parametrize("pours", [4, 5])
def test_plan_on_a_coarse_scale_against_every_choice(nine, pours):
    """With 3 g in steps of 0.1 g the line holds ten mixes: all choices are tried."""
    _, at, weights = nine
    mixes = all_mixes(LINE, 30) / 30
    assert len(mixes) == 10
    plan = plan_pours(LINE, pours, batch_g=3, step_g=0.1)
    expected = brute_force(mixes, at, weights, combinations(range(10), pours))
    assert plan.attrs["average_variance"] == pytest.approx(expected)


@pytest.mark.parametrize("repeats", [1, 2, 3])
def test_repeats_against_every_choice(nine, repeats):
    candidates, at, weights = nine
    choices = [
        (*chosen, *again)
        for chosen in combinations(range(9), 6 - repeats)
        for again in combinations(chosen, repeats)
    ]
    search = Search(Blends.over(LINE).terms(candidates), np.zeros((3, 3)))
    times = np.array([2.0] * repeats + [1.0] * (6 - 2 * repeats))
    found = search.best(times, True, np.random.default_rng(0), 10, [])
    assert search.variance(found, times) == pytest.approx(brute_force(candidates, at, weights, choices))


@pytest.mark.parametrize(
    ("region", "pours"), [(LINE, 7), (USUAL, 9), (FOUR, 13)], ids=["two", "three", "four"]
)
def test_best_found_against_continuous_refinement(region, pours):
    """scipy's SLSQP, free to move every pour anywhere, finds less than 1.5 % better."""
    model = Blends.over(region)
    plan = plan_pours(region, pours)
    rows = np.array([limit.row for limit in region.limits])
    most = np.array([limit.most for limit in region.limits])
    slopes, room = rows @ model.flat.axes.T, most - rows @ model.flat.centre

    def variance(flat):
        terms = model.terms(model.flat.outside(flat.reshape(pours, -1)))
        return average_variance(terms.T @ terms)

    def inside(flat):
        return (room - flat.reshape(pours, -1) @ slopes.T).ravel()

    start = model.flat.inside(shares_of(plan, region)).ravel()
    found = minimize(variance, start, constraints={"type": "ineq", "fun": inside}, method="SLSQP")
    assert inside(found.x).min() > -1e-6
    assert plan.attrs["best_average_variance"] < 1.015 * found.fun


@pytest.mark.parametrize("region", [LINE, USUAL, FOUR])
def test_insisting_on_different_pours_costs_little(region):
    """With no repeats asked for, no two rows are alike; that costs less than 2 % up to 20 pours."""
    for pours in (12, 20):
        plan = plan_pours(region, pours)
        assert distinct(shares_of(plan, region)) == pours
        assert 0.98 < plan.attrs["efficiency"] <= 1


def test_variance_is_that_of_scheffes_terms_on_a_lattice():
    plan = plan_pours(USUAL, 10, repeats=2)
    told = plan.attrs["average_variance"]
    assert average_on_lattice(USUAL, shares_of(plan, USUAL)) == pytest.approx(told, rel=0.02)
    assert plan.attrs["efficiency"] == pytest.approx(plan.attrs["best_average_variance"] / told)


def test_beats_random_pours():
    plan = plan_pours(USUAL, 8)
    rng = np.random.default_rng(0)
    inside = USUAL.grid(600)
    random = [average_on_lattice(USUAL, rng.choice(inside, 8, replace=False)) for _ in range(30)]
    assert min(random) > plan.attrs["average_variance"]


# ---------------------------------------------------------------- orthonormal terms and the prior


@pytest.mark.parametrize("region", [LINE, USUAL, FOUR, SIX])
def test_terms_are_orthonormal_and_span_scheffes(region):
    model = Blends.over(region)
    parts = len(region.parts)
    assert (model.count, model.straight) == (parts * (parts + 1) / 2, parts)
    points = region.grid(300)
    raw, mine = scheffe(points), model.terms(points)
    both = np.linalg.lstsq(mine, raw, rcond=None)[0]
    np.testing.assert_allclose(mine @ both, raw, atol=1e-9)
    assert average_variance(np.eye(model.count)) == model.count


def test_average_of_a_straight_and_a_bent_term_is_zero():
    model = Blends.over(LINE)
    wax = np.linspace(0.1, 0.4, 3001)
    terms = model.terms(np.column_stack([1 - wax, wax]))
    moments = np.trapezoid(terms[:, :, None] * terms[:, None, :], wax, axis=0) / 0.3
    np.testing.assert_allclose(moments, np.eye(3), atol=1e-5)


def test_fixed_part_takes_no_coefficients():
    fixed = Region({"a": (0.2, 0.6), "b": (0.2, 0.6), "c": (0.2, 0.2)})
    assert Blends.over(fixed).count == 3
    plan = plan_pours(fixed, 5)
    assert (plan["c"] == 0.2).all()
    assert np.isfinite(plan.attrs["average_variance"])


def test_fewer_pours_than_coefficients_lend_curvature_a_prior():
    """Four pours, six coefficients: straight terms stay estimable, nothing is singular."""
    plan = plan_pours(USUAL, 4)
    shares = shares_of(plan, USUAL)
    assert distinct(shares) == 4
    assert np.linalg.matrix_rank(shares, tol=1e-3) == 3
    model = Blends.over(USUAL)
    prior = model.prior(4, np.empty((0, 6)))
    np.testing.assert_array_equal(prior, np.diag([0, 0, 0, 1, 1, 1]))
    terms = model.terms(shares)
    assert plan.attrs["average_variance"] == pytest.approx(np.trace(np.linalg.inv(terms.T @ terms + prior)))
    assert average_variance(terms.T @ terms) == np.inf
    assert not model.prior(6, np.empty((0, 6))).any()
    assert not model.prior(2, model.terms(USUAL.corners().to_numpy()[:4])).any()


def test_one_and_two_pours_are_planned_too():
    one, two = plan_pours(USUAL, 1), plan_pours(USUAL, 2)
    assert np.isfinite([one.attrs["average_variance"], two.attrs["average_variance"]]).all()
    assert two.attrs["average_variance"] < one.attrs["average_variance"]
    assert two.attrs["average_variance"] == pytest.approx(best_pair(USUAL), rel=0.01)


def best_pair(region):
    """Least average variance of all pairs of an even grid, under the prior for two pours."""
    model = Blends.over(region)
    terms, prior = model.terms(region.grid(100)), model.prior(2, np.empty((0, model.count)))
    first, second = np.triu_indices(len(terms))
    information = np.einsum("ni,nj->nij", terms, terms)
    both = prior + information[first] + information[second]
    return np.trace(np.linalg.inv(both), axis1=1, axis2=2).min()


# ---------------------------------------------------------------- repeats


@pytest.mark.parametrize(("pours", "repeats"), [(6, 1), (9, 3), (8, 5), (7, 6)])
def test_so_many_rows_repeat_another(pours, repeats):
    plan = plan_pours(USUAL, pours, repeats)
    _, times = np.unique(shares_of(plan, USUAL).round(9), axis=0, return_counts=True)
    assert len(plan) == pours
    assert len(times) == pours - repeats
    assert times.max() - times.min() <= 1


# ---------------------------------------------------------------- around what was poured


def test_given_pours_are_not_poured_again_and_make_the_rest_better():
    first = plan_pours(USUAL, 6)
    given = first[list(USUAL.parts)]
    plan = plan_pours(USUAL, 5, given=given)
    gaps = np.abs(shares_of(plan, USUAL)[:, None] - given.to_numpy()[None]).max(axis=2)
    assert gaps.min() > 1e-6
    both = np.vstack([given, shares_of(plan, USUAL)])
    assert average_on_lattice(USUAL, both) == pytest.approx(plan.attrs["average_variance"], rel=0.02)
    alone = np.vstack([given, shares_of(plan_pours(USUAL, 5, seed=1), USUAL)])
    assert average_on_lattice(USUAL, both) < average_on_lattice(USUAL, alone)


def test_given_may_be_a_plan_an_array_or_a_little_outside():
    first = plan_pours(USUAL, 4, days=2)
    corner, centre = USUAL.corners().iloc[0], USUAL.centre()
    outside = (corner + 0.2 * (corner - centre)).to_numpy()
    assert not USUAL.contains(outside)
    as_plan = plan_pours(USUAL, 4, given=first)
    as_array = plan_pours(USUAL, 4, given=shares_of(first, USUAL))
    pd.testing.assert_frame_equal(as_plan, as_array)
    plan = plan_pours(USUAL, 5, given=[outside.tolist()])
    assert plan.attrs["left_out"] == 0
    assert USUAL.contains(shares_of(plan, USUAL)).all()
    nothing = plan_pours(USUAL, 5, given=pd.DataFrame(columns=list(USUAL.parts)))
    pd.testing.assert_frame_equal(nothing, plan_pours(USUAL, 5))


def test_given_pours_far_outside_are_left_out_and_counted():
    far = pd.DataFrame([{"butter": 0.0, "oil": 0.0, "wax": 1.0}])
    plan = plan_pours(USUAL, 6, given=far)
    assert plan.attrs["left_out"] == 1
    pd.testing.assert_frame_equal(plan, plan_pours(USUAL, 6))


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        (pd.DataFrame({"butter": [0.5], "oil": [0.5]}), "“wax” is missing"),
        (pd.DataFrame({"butter": [0.5], "oil": [0.3], "wax": [0.1]}), "0.9, 0.1 short of 1"),
        ([[50, 30, 20]], "looks like percent"),
        ([[0.5, 0.5]], "a row of 3 shares"),
        ([[0.5, 0.3, np.nan]], "wax is missing"),
    ],
)
def test_given_pours_that_cannot_be(wrong, told):
    with pytest.raises(LabError, match=told):
        plan_pours(USUAL, 5, given=wrong)


# ---------------------------------------------------------------- days


def test_day_information_is_generalised_least_squares():
    rng = np.random.default_rng(3)
    terms, labels = rng.normal(size=(9, 4)), np.array([0, 0, 0, 1, 1, 2, 2, 2, 2])
    member = np.eye(3)[labels]
    covariance = np.eye(9) + member @ member.T
    expected = terms.T @ np.linalg.inv(covariance) @ terms
    np.testing.assert_allclose(day_information(terms, labels), expected, atol=1e-12)
    ones = np.ones(9)
    level = 1 / (ones @ np.linalg.inv(covariance) @ ones)
    assert level_cost([labels]) == pytest.approx(level - 1 / 9)


def test_split_over_days_against_every_split():
    plan = plan_pours(USUAL, 8)
    terms = Blends.over(USUAL).terms(shares_of(plan, USUAL))
    every = []
    for first in combinations(range(8), 4):
        labels = np.ones(8, dtype=int)
        labels[list(first)] = 0
        every.append(average_variance(day_information(terms, labels)))
    found = split_days(terms, np.zeros((6, 6)), 2, np.random.default_rng(0))
    assert average_variance(day_information(terms, found)) == pytest.approx(min(every))
    assert min(every) < np.median(every)


@pytest.mark.parametrize(("pours", "days"), [(9, 3), (10, 3), (7, 7), (5, 1)])
def test_days_are_even_and_in_order(pours, days):
    plan = plan_pours(USUAL, pours, days=days)
    assert plan["day"].dtype.kind == "i"
    assert plan["day"].is_monotonic_increasing
    sizes = plan["day"].value_counts()
    assert sorted(sizes.index) == list(range(1, days + 1))
    assert sizes.max() - sizes.min() <= 1
    assert 0 < plan.attrs["efficiency"] <= 1


def test_even_split_costs_little_and_never_nothing_less():
    whole, split = plan_pours(USUAL, 12), plan_pours(USUAL, 12, days=3)
    assert split.attrs["average_variance"] >= whole.attrs["average_variance"]
    assert split.attrs["efficiency"] > 0.9


# ---------------------------------------------------------------- the scale


def test_shares_are_whole_steps_that_add_up():
    plan = plan_pours(USUAL, 9, repeats=2, days=2, batch_g=25, step_g=0.1)
    shares = shares_of(plan, USUAL)
    steps = shares * 250
    np.testing.assert_allclose(steps, steps.round(), atol=1e-9)
    assert (steps.round().sum(axis=1) == 250).all()
    assert USUAL.contains(shares).all()
    assert distinct(shares) == 7
    assert plan.attrs["efficiency"] > 0.9


def test_scale_of_grams_is_coarse_but_stays_inside():
    plan = plan_pours(USUAL, 6, batch_g=20, step_g=1)
    assert USUAL.contains(shares_of(plan, USUAL)).all()
    assert distinct(shares_of(plan, USUAL)) == 6
    fine = plan_pours(USUAL, 6, batch_g=20, step_g=0.01)
    assert plan.attrs["efficiency"] < fine.attrs["efficiency"]


def test_scale_that_leaves_a_part_hardly_varied_still_tells_what_it_costs():
    """On steps of 0.5 g of 12 g the part d has one value only, and its effect stays unknown."""
    region = Region({"a": (0.0, 0.05), "b": (0.0, 0.4), "c": (0.0, 0.6), "d": (0.05, 0.1)})
    plan = plan_pours(region, 4, batch_g=12, step_g=0.5)
    assert plan["d"].nunique() == 1
    assert 0 < plan.attrs["efficiency"] < 0.8
    assert plan.attrs["average_variance"] > 10


def test_fixed_part_that_the_scale_can_weigh():
    region = Region({"a": (0.2, 0.6), "b": (0.2, 0.6), "c": (0.05, 0.05)})
    plan = plan_pours(region, 4, batch_g=30, step_g=0.1)
    np.testing.assert_allclose(plan["c"] * 30, 1.5)


def test_all_mixes_against_counting():
    expected = {
        (a, b, 20 - a - b)
        for a in range(21)
        for b in range(21 - a)
        if USUAL.contains([a / 20, b / 20, (20 - a - b) / 20])
    }
    assert {tuple(mix) for mix in all_mixes(USUAL, 20).tolist()} == expected
    assert all_mixes(SIX, 3000) is None


@pytest.mark.parametrize(
    ("batch", "step", "told"),
    [
        (25.05, 0.1, "25.05 g is no whole number of steps of 0.1 g: weigh 25 or 25.1 g"),
        (0.05, 0.1, "weigh 0.1 g"),
        (20, None, "The batch alone does not say what can be weighed. Give step_g too"),
        (None, 0.1, "The step alone does not say what can be weighed. Give batch_g too"),
        (20, 0, "scale's step of 0 g cannot be"),
        (-20, 0.1, "batch of -20 g cannot be"),
        (float("nan"), 0.1, "batch of nan g cannot be"),
    ],
)
def test_batch_and_step_that_cannot_be(batch, step, told):
    with pytest.raises(LabError, match=re.escape(told)):
        plan_pours(USUAL, 5, batch_g=batch, step_g=step)


@pytest.mark.parametrize(("region", "pours"), [(USUAL, 8), (Region({"a": (0.2, 0.6), "b": (0.35, 0.8)}), 3)])
def test_step_too_coarse_tells_the_smallest_batch_that_would_do(region, pours):
    with pytest.raises(LabError, match="Weigh at least") as error:
        plan_pours(region, pours, batch_g=3, step_g=1)
    enough = int(re.search(r"Weigh at least (\d+) g", str(error.value))[1])
    assert enough > 3
    assert distinct(shares_of(plan_pours(region, pours, batch_g=enough, step_g=1), region)) == pours
    with pytest.raises(LabError, match="Weigh at least"):
        plan_pours(region, pours, batch_g=enough - 1, step_g=1)


def test_share_that_no_batch_can_weigh():
    region = Region({"a": (0.2, 0.6), "b": (0.2, 0.8), "c": (0.0512345, 0.0512345)})
    with pytest.raises(LabError, match=r"allows no mix here.*finer step"):
        plan_pours(region, 4, batch_g=30, step_g=0.1)


def test_whole_steps_survive_binary_fractions():
    assert whole_steps(0.3, 0.1) == 3
    assert whole_steps(1000.1, 0.1) == 10001


# ---------------------------------------------------------------- order, seeds, odd regions


def test_same_seed_same_plan_other_seed_other_order():
    first = plan_pours(USUAL, 9, 2, 3, seed=5)
    pd.testing.assert_frame_equal(first, plan_pours(USUAL, 9, 2, 3, seed=5))
    assert first.attrs == plan_pours(USUAL, 9, 2, 3, seed=5).attrs
    orders = {tuple(plan_pours(LINE, 6, seed=seed)["wax"]) for seed in range(8)}
    assert len(orders) > 4


def test_run_order_is_no_walk_through_the_region():
    """Over many seeds the least wax, the next, … comes first about as often as another."""
    first = [plan_pours(LINE, 4, seed=seed)["wax"].argsort().argsort()[0] for seed in range(60)]
    assert np.bincount(first, minlength=4).min() > 4


def test_columns_and_index():
    plan = plan_pours(USUAL, 4)
    assert list(plan.columns) == ["butter", "oil", "wax", "day"]
    assert list(plan.index) == [0, 1, 2, 3]
    assert set(plan.attrs) == {"efficiency", "average_variance", "best_average_variance", "left_out"}


def test_region_of_a_single_point_can_only_be_repeated():
    with pytest.raises(LabError, match="3 pours of it mean 2 repeats, not 0"):
        plan_pours(POINT, 3)
    plan = plan_pours(POINT, 3, repeats=2)
    np.testing.assert_allclose(shares_of(plan, POINT), [[0.7, 0.3]] * 3)
    assert plan.attrs["efficiency"] == 1
    again = plan_pours(POINT, 1, given=[[0.7, 0.3]])
    np.testing.assert_allclose(shares_of(again, POINT), [[0.7, 0.3]])


def test_part_called_day():
    with pytest.raises(LabError, match="cannot be called “day”"):
        plan_pours(Region({"day": (0.5, 0.9), "oil": (0.1, 0.5)}), 4)


@pytest.mark.parametrize(
    ("counts", "told"),
    [
        ({"pours": 0}, "number of pours is 0: it has to be 1 or more"),
        ({"pours": -3}, "number of pours is -3"),
        ({"pours": 4.5}, "number of pours is 4.5: give a whole number"),
        ({"pours": "9"}, "number of pours is '9': give a whole number"),
        ({"pours": None}, "give a whole number"),
        ({"pours": 1000}, "at most 200 pours; 1000 were asked for"),
        ({"pours": 4, "repeats": 4}, "4 repeats of 4 pours leave none to repeat: ask for 3 at most"),
        ({"pours": 4, "repeats": -1}, "number of repeats is -1"),
        ({"pours": 4, "days": 0}, "number of days is 0"),
        ({"pours": 4, "days": 5}, "4 pours cannot fill 5 days: ask for 4 days at most"),
    ],
)
def test_counts_that_cannot_be(counts, told):
    with pytest.raises(LabError, match=re.escape(told)):
        plan_pours(USUAL, **counts)


@st.composite
def requests(draw):
    parts = draw(st.integers(2, 4))
    names = "abcd"[:parts]
    lows = [draw(st.integers(0, 5)) / 20 for _ in names]
    bounds = {
        name: (low, min(low + draw(st.integers(1, 12)) / 20, 1.0))
        for name, low in zip(names, lows, strict=True)
    }
    rules = ["a <= 0.8*b + 0.2"] if draw(st.booleans()) else []
    pours = draw(st.integers(1, 12))
    counts = {"repeats": draw(st.integers(0, pours - 1)), "days": draw(st.integers(1, pours))}
    scale = draw(st.sampled_from([{}, {"batch_g": 20, "step_g": 0.1}, {"batch_g": 12, "step_g": 0.5}]))
    return bounds, rules, pours, counts, scale, draw(st.integers(0, 3))


@settings(max_examples=30, deadline=None)
@given(requests())
def test_every_plan_keeps_its_promises(request):
    bounds, rules, pours, counts, scale, seed = request
    try:
        region = Region(bounds, rules)
        plan = plan_pours(region, pours, **counts, **scale, seed=seed)
    except LabError as error:
        told = str(error)
        assume("add up to" not in told and "keeps" not in told)
        assert "Only 1 composition lies" in told or "and the plan needs" in told
        return
    shares = shares_of(plan, region)
    assert len(plan) == pours
    np.testing.assert_allclose(shares.sum(axis=1), 1, atol=1e-12)
    assert region.contains(shares).all()
    assert distinct(shares) == pours - counts["repeats"]
    assert sorted(set(plan["day"])) == list(range(1, counts["days"] + 1))
    assert 0 < plan.attrs["efficiency"] <= 1
    if scale:
        steps = shares * scale["batch_g"] / scale["step_g"]
        np.testing.assert_allclose(steps, steps.round(), atol=1e-9)


def test_planning_loads_neither_widgets_nor_pictures_nor_a_database():
    code = (
        "import sys; from labkit.texture.plan import plan_pours; from labkit.texture.region import Region; "
        "plan_pours(Region({'oil': (0.6, 0.9), 'wax': (0.1, 0.4)}), 4); "
        "print([m for m in ('ipywidgets', 'matplotlib', 'sqlalchemy') if m in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
