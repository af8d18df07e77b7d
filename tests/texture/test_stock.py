"""Stock melts: what they reach, what to pour of each, and what the scale's error does, by drawing it."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import LabError
from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel
from labkit.texture.region import Region
from labkit.texture.stock import MOST_STOCKS, REACHED, Stock, choose_stocks, stock_grams, stocks_region
from labkit.texture.stock_error import (
    composition_error,
    error_words,
    rung_error,
    slope_at,
    weighing_sd,
)

PARTS = ("butter", "oil", "wax")
SOFT = Stock("soft", {"butter": 40.0, "oil": 50.0, "wax": 10.0})
HARD = Stock("hard", {"butter": 30.0, "oil": 40.0, "wax": 30.0})
RICH = Stock("rich", {"butter": 65.0, "oil": 20.0, "wax": 15.0})
REGION = Region({"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)})


def bases(stocks, parts=PARTS):
    return np.array([stock.shares(parts) for stock in stocks])


def drawn(stocks, parts, count, seed=0):
    """Compositions that ratios of the stocks give, drawn evenly."""
    return np.random.default_rng(seed).dirichlet(np.ones(len(stocks)), count) @ bases(stocks, parts)


# ---- what can be reached ---------------------------------------------------------

FOUR = [Stock(f"s{at}", dict(zip(PARTS, row, strict=True))) for at, row in
        enumerate([(50, 40, 10), (30, 60, 10), (20, 50, 30), (50, 20, 30)])]  # fmt: skip
MANY = ("a part", "b", "c", "d", "e", "f")
WIDE = [Stock(f"w{at}", dict(zip(MANY, row, strict=True))) for at, row in
        enumerate([(5, 1, 1, 1, 1, 1), (1, 5, 1, 2, 1, 0), (1, 1, 6, 1, 0, 1), (2, 2, 0, 4, 1, 1)])
        ]  # fmt: skip
SETS = {
    "two": ([SOFT, HARD], PARTS), "three": ([SOFT, HARD, RICH], PARTS), "four in a plane": (FOUR, PARTS),
    "two of six parts": (WIDE[:2], MANY), "four of six parts": (WIDE, MANY),
    "a part in none": ([SOFT, HARD], (*PARTS, "stearate")),
}  # fmt: skip


@pytest.mark.parametrize(("stocks", "parts"), SETS.values(), ids=SETS)
def test_the_region_is_the_hull(stocks, parts):
    """All that ratios give lies inside; its corners are stocks; a step out of the hull lies outside."""
    region = stocks_region(stocks, parts)
    inside = drawn(stocks, parts, 200)
    assert region.contains(inside).all()
    corners, own = region.corners().to_numpy(), bases(stocks, parts)
    assert all(np.abs(own - corner).max(axis=1).min() < 1e-7 for corner in corners)
    assert all(np.abs(corners - each).max(axis=1).min() < 1e-7 for each in own)
    centre = own.mean(axis=0)
    assert not region.contains(own + 0.001 * (own - centre)).any()


def test_the_region_is_flat_where_the_stocks_are():
    """Two stocks of three parts reach a line, so a step beside it is out of reach."""
    region = stocks_region([SOFT, HARD], PARTS)
    middle = bases([SOFT, HARD]).mean(axis=0)
    assert region.contains(middle)[0]
    assert not region.contains(middle + np.array([0.001, -0.001, 0.0]))[0]


def test_a_stock_inside_the_others_adds_nothing():
    middle = Stock("middle", dict(zip(PARTS, 100 * bases([SOFT, HARD, RICH]).mean(axis=0), strict=True)))
    region = stocks_region([SOFT, HARD, RICH, middle])
    assert len(region.corners()) == 3


def test_advice_can_be_asked_within_what_stocks_reach():
    shares = pd.DataFrame(bases([SOFT, HARD, RICH]), columns=PARTS)
    model = HardnessModel(["soft", "right", "hard"]).fit(shares, ["soft", "hard", "right"])
    for stocks in ([SOFT, HARD], [SOFT, HARD, RICH]):
        region = stocks_region(stocks, PARTS)
        told = next_pour(model, region, "right", start=dict(zip(PARTS, (0.4, 0.4, 0.2), strict=True)))
        assert region.contains(told[list(PARTS)]).all()


# ---- grams -----------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(["two", "three", "four in a plane"]))
def test_grams_give_back_the_composition(seed, which):
    """To the scale's step: each of m stocks is at most a step off, so a share is by less than m steps."""
    stocks, parts = SETS[which]
    wanted = dict(zip(parts, drawn(stocks, parts, 1, seed)[0], strict=True))
    mix = stock_grams(wanted, stocks, 25.0, 0.1)
    grams = np.array(list(mix.grams.values()))
    assert grams.sum() == pytest.approx(25.0)
    assert np.allclose(grams / 0.1, np.round(grams / 0.1), atol=1e-6)
    given_shares = grams @ bases(stocks, parts) / 25.0
    np.testing.assert_allclose(list(mix.shares.values()), given_shares, atol=1e-8)
    assert mix.off == pytest.approx(np.abs(given_shares - list(wanted.values())).max(), abs=1e-8)
    assert mix.off <= len(stocks) * 0.1 / 25.0


def test_out_of_reach_names_the_nearest():
    """The nearest by a general-purpose minimiser (scipy, SLSQP) is the one that is named."""
    from scipy.optimize import minimize

    wanted = np.array([0.3, 0.3, 0.4])
    own = bases([SOFT, HARD, RICH])
    found = minimize(
        lambda ratio: np.sum((ratio @ own - wanted) ** 2), np.full(3, 1 / 3), method="SLSQP",
        bounds=[(0, 1)] * 3, constraints={"type": "eq", "fun": lambda ratio: ratio.sum() - 1},
        options={"ftol": 1e-14},
    )  # fmt: skip
    nearest = ", ".join(f"{100 * x:.1f} % {part}" for x, part in zip(found.x @ own, PARTS, strict=True))
    with pytest.raises(LabError, match="they hold less wax") as caught:
        stock_grams(dict(zip(PARTS, wanted, strict=True)), [SOFT, HARD, RICH], 25.0, 0.1)
    assert nearest in str(caught.value)


def test_just_within_reach_is_poured_and_just_beyond_is_not():
    line = bases([SOFT, HARD]).mean(axis=0)
    aside = np.array([1.0, -1.0, 0.0])
    stock_grams(dict(zip(PARTS, line + 0.9 * REACHED * aside, strict=True)), [SOFT, HARD], 25.0, 0.1)
    with pytest.raises(LabError, match="cannot give it"):
        stock_grams(dict(zip(PARTS, line + 2.5 * REACHED * aside, strict=True)), [SOFT, HARD], 25.0, 0.1)


@pytest.mark.parametrize(
    ("make", "said"),
    {
        "no name": (lambda: Stock(" ", {"oil": 1.0}), "needs a name"),
        "below nothing": (lambda: Stock("a", {"oil": -1.0}), "-1.0 g of oil cannot be"),
        "nothing": (lambda: Stock("a", {"oil": 0.0}), "nothing in it"),
        "no weighing": (lambda: Stock("a", {"oil": 1.0}, {"oil": 0}), "weighings of oil is 0"),
        "one stock": (lambda: stocks_region([SOFT]), f"2 to {MOST_STOCKS} stocks; here are 1"),
        "twice": (lambda: stocks_region([SOFT, SOFT]), "Two stocks are called “soft”"),
        "alike": (lambda: stocks_region([SOFT, Stock("b", dict(SOFT.weighed_g))]), "all alike"),
        "unknown part": (lambda: stocks_region([SOFT, HARD], ("butter", "oils", "wax")), "mean “oils”"),
        "more than melted": (
            lambda: stock_grams({"butter": 0.4, "oil": 0.5, "wax": 0.1}, [SOFT, HARD], 120.0, 0.1),
            "100 g were melted",
        ),
        "step": (lambda: stock_grams({"butter": 0.4, "oil": 0.5, "wax": 0.1}, [SOFT, HARD], 20.05, 0.1),
                 "no whole number of steps"),
        "one number": (lambda: composition_error([[1.0]], [SOFT, HARD], 0.1), "here are 1"),
        "missing column": (
            lambda: composition_error(pd.DataFrame({"soft": [1.0]}), [SOFT, HARD], 0.1), "“hard” were poured"
        ),
        "nothing poured": (lambda: composition_error([[0.0, 0.0]], [SOFT, HARD], 0.1), "something of one"),
        "no step": (lambda: composition_error([[1.0, 1.0]], [SOFT, HARD], 0.0), "scale's step"),
        "five": (lambda: choose_stocks(REGION, 5), "Melt 2 to 4"),
    }.values(),
)  # fmt: skip
def test_what_cannot_be_is_said(make, said):
    with pytest.raises(LabError, match=said):
        make()


# ---- which stocks ----------------------------------------------------------------


def test_a_triangle_is_covered_by_its_corners():
    found = choose_stocks(Region({"butter": (0.2, 1.0), "oil": (0.2, 1.0), "wax": (0.1, 1.0)}), 3)
    assert found.covered == 1.0
    assert found.farthest < 1e-9


def test_more_stocks_cover_no_less_and_a_plane_of_four_corners_is_covered_by_four():
    region = Region({"butter": (0.2, 0.6), "oil": (0.1, 0.7), "wax": (0.1, 0.3)})
    covers = [choose_stocks(region, count).covered for count in (2, 3, 4)]
    assert len(region.corners()) == 4
    assert covers[0] < covers[1] < covers[2] == 1.0


def test_beyond_the_region_three_stocks_reach_all_of_it():
    found = choose_stocks(REGION, 3, beyond=True)
    assert found.covered == 1.0
    np.testing.assert_allclose(found.stocks.min(), REGION.corners().min())
    region = stocks_region([Stock(f"s{at}", row) for at, row in enumerate(found.stocks.to_dict("records"))])
    assert region.contains(REGION.grid(200)).all()


def test_the_choice_is_the_best_of_all_corners():
    """By least squares with ratios kept at 0 or more (scipy's nnls), corner pair by corner pair."""
    from itertools import combinations

    from scipy.optimize import nnls

    corners, points = REGION.corners().to_numpy(), REGION.grid(250)

    def gap(pair):
        rows = np.vstack([corners[list(pair)].T, 1e4 * np.ones(2)])
        ratios = np.array([nnls(rows, np.append(point, 1e4))[0] for point in points])
        return np.sqrt(np.mean(np.abs(ratios @ corners[list(pair)] - points).max(axis=1) ** 2))

    pairs = list(combinations(range(len(corners)), 2))
    best = min(pairs, key=gap)
    np.testing.assert_allclose(choose_stocks(REGION, 2).stocks, corners[list(best)])


# ---- the scale's error -----------------------------------------------------------

POURS = np.array([[10.0, 5.0, 5.0], [2.0, 16.0, 2.0], [20.0, 0.0, 0.0], [6.0, 6.0, 8.0]])


def draw_compositions(grams, stocks, step, repeat, draws, seed=0):
    """Propagate distributions as JCGM 101:2008 does: draw every weighing, compute every composition."""
    rng = np.random.default_rng(seed)

    def off(shape):
        return rng.uniform(-step / 2, step / 2, shape) + rng.normal(0.0, repeat, shape)

    melted = np.array([[stock.weighed_g.get(part, 0.0) for part in PARTS] for stock in stocks])
    melted = melted + np.where(melted > 0, off((draws, *melted.shape)), 0.0)
    shares = melted / melted.sum(axis=2, keepdims=True)
    poured = grams + np.where(grams > 0, off((draws, *grams.shape)), 0.0)
    return np.einsum("dps,dsj->dpj", poured / poured.sum(axis=2, keepdims=True), shares)


@pytest.mark.parametrize("repeat", [0.0, 0.05], ids="repeatability {} g".format)
def test_the_covariance_is_that_of_drawn_errors(repeat):
    """Within five standard errors of each drawn covariance, √((1 + r²)/draws)·sd·sd of normal values."""
    stocks, draws = [SOFT, HARD, RICH], 100_000
    told = composition_error(POURS, stocks, 0.1, repeat or None, PARTS)
    found = np.cov(draw_compositions(POURS, stocks, 0.1, repeat, draws).reshape(draws, -1).T)
    sd = np.sqrt(np.diagonal(found))
    error = np.sqrt((1.0 + (found / np.outer(sd, sd)) ** 2) / draws) * np.outer(sd, sd)
    assert (np.abs(told.covariance - found) <= 5.0 * error + 1e-12).all()
    np.testing.assert_allclose(told.sd().to_numpy().ravel(), sd, rtol=0.02)
    assert np.abs(told.shared).max() > 0.02 * np.abs(told.own).max()


def test_each_weighed_line_has_an_error_of_its_own():
    """A stock whose butter is two ingredients, by drawing both: their sum has twice the variance."""
    draws, rng, sd = 200_000, np.random.default_rng(3), weighing_sd(0.1)
    melted = np.array([[25.0, 15.0, 50.0, 10.0]]) + rng.normal(0.0, sd, (draws, 4))
    shares = np.column_stack([melted[:, 0] + melted[:, 1], melted[:, 2:]]) / melted.sum(axis=1)[:, None]
    soft = Stock("soft", SOFT.weighed_g, {"butter": 2})
    told = composition_error([[20.0, 0.0]], [soft, HARD], 0.1, parts=PARTS).shared[0, :, 0]
    once = composition_error([[20.0, 0.0]], [SOFT, HARD], 0.1, parts=PARTS).shared[0, :, 0]
    np.testing.assert_allclose(np.diag(told), shares.var(axis=0), rtol=0.02)
    assert told[0, 0] > 1.4 * once[0, 0]


def test_shares_sum_to_one_so_their_errors_sum_to_nothing():
    told = composition_error(POURS, [SOFT, HARD, RICH], 0.1, parts=PARTS)
    np.testing.assert_allclose(told.shared.sum(axis=1), 0.0, atol=1e-15)
    np.testing.assert_allclose(told.own.sum(axis=3), 0.0, atol=1e-15)


def test_stocks_of_one_part_each_share_nothing():
    """Pouring from pure parts is weighing afresh: all error is each pour's own."""
    pure = [Stock(part, {part: 100.0}) for part in PARTS]
    told = composition_error(POURS, pure, 0.1, parts=PARTS)
    assert np.abs(told.shared).max() == 0.0
    assert np.abs(told.own).max() > 0.0


def test_a_reading_is_uniform_within_a_step():
    """JCGM 100:2008, F.2.2.1: u = 0.29 δx."""
    assert weighing_sd(1.0) == pytest.approx(0.29, abs=0.002)
    assert weighing_sd(0.1, 0.03) == pytest.approx(np.hypot(0.1 / np.sqrt(12), 0.03))


def test_rungs_are_those_of_drawn_errors():
    """The map's move, and the blur of differences, against drawn weighings."""
    slope, stocks, draws = {"butter": -5.0, "oil": -8.0, "wax": 20.0}, [SOFT, HARD, RICH], 40_000
    told = rung_error(composition_error(POURS, stocks, 0.1, parts=PARTS), slope)
    rungs = draw_compositions(POURS, stocks, 0.1, 0.0, draws) @ np.array(list(slope.values()))
    pairs = np.triu_indices(len(POURS), 1)
    differences = (rungs[:, :, None] - rungs[:, None])[:, *pairs]
    assert np.sqrt(differences.var(axis=0).mean()) == pytest.approx(np.hypot(told.apart, told.own), rel=0.02)
    own = np.array(
        [composition_error(POURS, stocks, 0.1, parts=PARTS).own[p, :, p] for p in range(len(POURS))]
    )
    alone = np.einsum("i,pij,j->p", list(slope.values()), own, list(slope.values())).mean() / len(POURS)
    assert rungs.mean(axis=1).var() == pytest.approx(told.together**2 + alone, rel=0.03)


def test_the_slope_is_that_of_the_map():
    """A small change of shares costs what the slope says, whichever parts give way."""
    shares = pd.DataFrame(REGION.corners())
    model = HardnessModel(["soft", "right", "hard"]).fit(
        shares, ["hard", "right", "soft", "hard", "right", "soft"]
    )
    here = np.array([0.4, 0.4, 0.2])
    slope = slope_at(model, dict(zip(PARTS, here, strict=True)))
    assert slope["wax"] > slope["oil"]
    for move in ([-0.002, 0.0, 0.002], [0.002, -0.002, 0.0]):
        at = pd.DataFrame([here, here + move], columns=PARTS)
        change = np.diff(model.predict(at)["hardness"])[0]
        assert change == pytest.approx(np.dot(list(slope.values()), move), rel=0.05, abs=2e-4)


def test_the_sentence_says_which_error_blurs():
    """One stock ratio for all pours: the stocks move all alike. Pours of single stocks: they blur."""
    slope = dict(zip(PARTS, (-5.0, -8.0, 20.0), strict=True))
    alike = np.array([[10.0, 10.0], [10.1, 9.9], [9.9, 10.1]])
    said = error_words(rung_error(composition_error(alike, [SOFT, HARD], 0.1, parts=PARTS), slope))
    assert "does not blur" in said
    small = [Stock("a", {"oil": 4.0, "wax": 1.0}), Stock("b", {"oil": 3.0, "wax": 2.0})]
    told = composition_error([[200.0, 0.0], [0.0, 200.0]], small, 0.1)
    said = error_words(rung_error(told, {"oil": 0.0, "wax": 20.0}))
    assert "moves the whole map" in said
    assert "and blurs the differences" in said
