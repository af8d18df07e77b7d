"""Spread between and within groups: intervals from few of them, and what is refused."""

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from scipy.special import chdtri, fdtri

from labkit.errors import LabError
from labkit.few_groups import MISS, below, combined_limits, weighted_scatter
from labkit.variation import groups_for, read_groups, real_difference, spread
from tests.bench.spread_coverage import NAMES, readings, run_cell

DAYS = pd.DataFrame(
    {"day": ["Mon", "Mon", "Tue", "Tue", "Tue", "Wed", "Wed"], "rung": [2.0, 2.3, 3.1, 2.8, 3.3, 2.2, 2.6]}
)
ALIKE = pd.DataFrame({"day": [1, 1, 2, 2], "rung": [3.0, 3.0, 3.0, 3.0]})
EVEN = pd.DataFrame({"day": [1, 1, 2, 2, 3, 3], "rung": [2.0, 4.0, 3.5, 2.5, 1.0, 5.0]})
UNEVEN = EVEN.assign(day=[1, 1, 2, 2, 2, 3])


@pytest.mark.parametrize(
    "cell",
    [(3, "2", 0.0), (3, "2", 1.0), (4, "2 and 3 in turn", 0.5), (6, "3", 5.0)],
    ids=lambda cell: f"{cell[0]} groups of {cell[1]}, ratio {cell[2]:g}",
)
def test_intervals_hold_the_truth(cell):
    """85 to 95 % in 300 trials, give or take two standard errors; all cells stand in tests/bench."""
    found = run_cell(cell, 300)
    for name in NAMES:
        assert 0.85 - 0.035 <= found[name] <= 0.95 + 0.025


@pytest.mark.parametrize("frame", [DAYS, UNEVEN], ids=["days differ", "days alike"])
def test_the_quadrature_is_what_drawing_gives(frame):
    """The generalised chance of σ_b² ≤ t and σ_b² + σ_r² ≤ t, drawn and solved one by one."""
    groups = read_groups(frame, "rung", "day")
    rng = np.random.default_rng(2)
    draws = 20_000
    repeat = groups.within / rng.chisquare(groups.spare, draws)
    wanted = rng.chisquare(groups.groups - 1, draws)
    low, high = -(1.0 - 1e-9) * repeat / groups.size.max(), np.full(draws, 1e6)
    for _ in range(60):
        middle = (low + high) / 2.0
        above = weighted_scatter(groups, middle, repeat) > wanted
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    for total in np.array([0.5, 1.0, 2.0, 8.0]) * groups.repeat_variance:
        assert below(groups, total, 0.0) == pytest.approx((low <= total).mean(), abs=0.011)
        assert below(groups, total, 1.0) == pytest.approx((low + repeat <= total).mean(), abs=0.011)


def test_weighted_scatter_term_by_term():
    groups = read_groups(DAYS, "rung", "day")
    means, sizes = np.array([2.15, 9.2 / 3, 2.4]), np.array([2, 3, 2])
    weight = 1.0 / (0.4 + 0.1 / sizes)
    centre = (weight * means).sum() / weight.sum()
    expected = (weight * (means - centre) ** 2).sum()
    assert weighted_scatter(groups, np.array([0.4]), np.array([0.1])) == pytest.approx(expected)


def test_between_variance_is_unbiased_for_unequal_groups():
    """The typical size is what the mean square between groups expects: tr(MZZᵀ)/(k − 1)."""
    sizes = [1, 2, 9]
    day = np.repeat([0, 1, 2], sizes)
    member = (day[:, None] == np.arange(3)).astype(float)
    between = member / sizes @ member.T - 1.0 / 12
    typical = np.trace(between @ member @ member.T) / 2.0
    rung = np.random.default_rng(9).normal(size=12) + 3.0 * day
    groups = read_groups(pd.DataFrame({"day": day, "rung": rung}), "rung", "day")
    square = rung @ between @ rung / 2.0
    assert groups.between_variance == pytest.approx((square - groups.repeat_variance) / typical)


@pytest.mark.parametrize("off", [-0.02, 0.02])
def test_groups_differ_where_an_f_test_says_so(off):
    """At 10 %, groups of one size: F just below and just above its point."""
    residual, level = np.array([0.5, -0.5, -0.3, 0.3, 0.1, -0.1]), np.repeat([-1.0, 0.0, 1.0], 2)
    square = residual @ residual / 3.0
    level *= np.sqrt((fdtri(2, 3, 0.9) + off) * square / 2.0)
    found = spread(pd.DataFrame({"day": level, "rung": level + residual}), "rung", "day")
    assert found.groups_differ == (off > 0.0)


def test_repeatability_by_chi_square():
    found = spread(DAYS, "rung", "day")
    within = 4 * found.repeatability_sd**2
    assert found.intervals["repeatability_sd"] == pytest.approx(
        (np.sqrt(within / chdtri(4, MISS / 2)), np.sqrt(within / chdtri(4, 1 - MISS / 2)))
    )


def test_many_groups_find_the_truth():
    """40 groups of 5 with spreads 1 and 2: limits close in on both sides."""
    rng = np.random.default_rng(3)
    day = np.repeat(np.arange(400), 5)
    frame = pd.DataFrame({"day": day, "rung": rng.normal(0.0, 2.0, 400)[day] + rng.normal(size=2000)})
    found = spread(frame, "rung", "day")
    for name, truth in zip(NAMES, (1.0, 2.0, np.sqrt(5.0)), strict=True):
        low, high = found.intervals[name]
        assert 0.9 * truth < low < truth < high < 1.1 * truth


def test_a_zero_estimate_never_says_that_nothing_varies():
    """Upper limits stay up even where the groups are nearer to one another than chance makes them."""
    rng = np.random.default_rng(4)
    for _ in range(200):
        found = spread(readings(4, "3", 0.0, rng), "rung", "day")
        assert found.intervals["between_sd"][1] > 0.3 * found.repeatability_sd
    assert spread(EVEN, "rung", "day").between_sd == 0.0
    assert (
        spread(EVEN, "rung", "day").intervals["between_sd"][1]
        > 0.3 * spread(EVEN, "rung", "day").repeatability_sd
    )


def test_wider_gaps_between_groups_raise_both_limits():
    limits = []
    for gap in (0.0, 0.5, 1.0, 2.0, 4.0, 8.0):
        shifted = DAYS.assign(rung=DAYS["rung"] + gap * DAYS["day"].map({"Mon": -1, "Tue": 1, "Wed": 0}))
        limits.append(spread(shifted, "rung", "day").intervals["between_sd"])
    assert all(one[0] <= two[0] and one[1] < two[1] for one, two in pairwise(limits))
    assert limits[0][0] >= 0.0
    assert limits[-1][0] > 1.0


def test_unit_and_origin_change_nothing():
    found = spread(DAYS, "rung", "day")
    moved = spread(DAYS.assign(rung=1000.0 * DAYS["rung"] + 5e4), "rung", "day")
    for name in NAMES:
        assert getattr(moved, name) == pytest.approx(1000.0 * getattr(found, name), rel=1e-6)
        assert moved.intervals[name] == pytest.approx(
            tuple(1000.0 * x for x in found.intervals[name]), rel=1e-6
        )


def test_order_of_rows_changes_nothing():
    turned = DAYS.iloc[[6, 2, 0, 4, 1, 5, 3]]
    assert spread(turned, "rung", "day").intervals["between_sd"] == pytest.approx(
        spread(DAYS, "rung", "day").intervals["between_sd"], rel=1e-6
    )


def test_one_group_says_nothing_about_others():
    found = spread(DAYS[DAYS["day"] == "Tue"], "rung", "day")
    assert found.repeatability_sd == pytest.approx(np.std([3.1, 2.8, 3.3], ddof=1))
    assert np.isnan(found.between_sd)
    assert found.intervals["between_sd"] == (0.0, np.inf)
    assert found.intervals["reproducibility_sd"] == (found.intervals["repeatability_sd"][0], np.inf)
    assert not found.groups_differ


def test_one_reading_a_group_bounds_each_by_the_whole():
    found = spread(DAYS.drop_duplicates("day"), "rung", "day")
    assert np.isnan(found.repeatability_sd)
    assert np.isnan(found.between_sd)
    assert found.reproducibility_sd == pytest.approx(np.std([2.0, 3.1, 2.2], ddof=1))
    low, high = found.intervals["reproducibility_sd"]
    assert 0.0 < low < found.reproducibility_sd < high
    assert found.intervals["between_sd"] == found.intervals["repeatability_sd"] == (0.0, high)


def test_readings_all_alike_are_not_known_yet():
    found = spread(ALIKE, "rung", "day")
    assert (found.repeatability_sd, found.between_sd) == (0.0, 0.0)
    assert set(found.intervals.values()) == {(0.0, np.inf)}


def test_repeats_all_alike_leave_repeatability_open():
    found = spread(ALIKE.assign(rung=[0.1 + 0.2, 0.3, 0.9, 0.9]), "rung", "day")
    assert found.repeatability_sd == 0.0
    assert found.intervals["repeatability_sd"] == (0.0, np.inf)
    low, high = found.intervals["between_sd"]
    assert 0.0 < low < np.std([0.3, 0.9], ddof=1) < high < np.inf
    assert found.intervals["reproducibility_sd"] == (low, np.inf)


def test_text_is_read_as_elsewhere():
    typed = DAYS.assign(rung=[f"{value:.1f}".replace(".", ",") for value in DAYS["rung"]])
    assert spread(typed, "rung", "day") == spread(DAYS, "rung", "day")


def test_a_million_rows():
    rng = np.random.default_rng(6)
    day = rng.integers(0, 1000, 1_000_000)
    found = spread(pd.DataFrame({"day": day, "rung": day % 7 + rng.normal(size=len(day))}), "rung", "day")
    assert found.rows == 1_000_000
    assert found.between_sd == pytest.approx(2.0, rel=0.02)


@pytest.mark.parametrize(
    ("frame", "value", "group", "said"),
    [
        (DAYS, "rungs", "day", "no column “rungs”. Did you mean “rung”"),
        (DAYS, "rung", "tester", "no column “tester”"),
        (DAYS, "rung", "rung", "cannot be both"),
        (DAYS, "rung", ["day", "lot"], "one at a time"),
        (DAYS[:1], "rung", "day", "1 reading of rung"),
        (DAYS[:0], "rung", "day", "0 reading"),
        (DAYS.assign(rung=[1.0, np.nan, 1, 1, 1, 1, 2]), "rung", "day", "Row 2 has no rung"),
        (DAYS.assign(rung=[1.0, 1, np.inf, 1, 1, 1, 2]), "rung", "day", "Row 3 has no rung"),
        (DAYS.assign(rung=["1", None, "2", "2", "2", "2", "2"]), "rung", "day", "Row 2 has no rung"),
        (DAYS.assign(rung=["firm"] * 7), "rung", "day", "rung, row 1: “firm” is no number"),
        (DAYS.assign(rung=[True] * 7), "rung", "day", "“True” is no number"),
        (DAYS.assign(day=["Mon", None] + ["Tue"] * 5), "rung", "day", "Row 2 has no day"),
    ],
)
def test_bad_input_is_told(frame, value, group, said):
    with pytest.raises(LabError, match=said):
        spread(frame, value, group)


def test_a_list_of_one_grouping_is_that_grouping():
    assert spread(DAYS, "rung", ["day"]).between_sd == spread(DAYS, "rung", "day").between_sd


def test_real_difference_within_and_across():
    found = spread(DAYS, "rung", "day")
    one, four = real_difference(found), real_difference(found, repeats=4)
    assert four.limit == pytest.approx(one.limit / 2)
    assert one.low < one.limit < one.high
    across = real_difference(found, repeats=4, same_group=False)
    assert across.limit == pytest.approx(
        1.959963985 * np.sqrt(2.0 * (found.between_sd**2 + found.repeatability_sd**2 / 4))
    )
    assert across.low < across.limit < across.high
    single = real_difference(found, same_group=False)
    assert single.limit == pytest.approx(1.959963985 * np.sqrt(2.0) * found.reproducibility_sd)
    assert across.limit < single.limit
    with pytest.raises(LabError, match="at least once"):
        real_difference(found, repeats=0)


def test_a_real_difference_is_seldom_passed_by_chance():
    """Two pours alike, each the mean of 3, on two of many days: 5 % differ by more."""
    rng = np.random.default_rng(7)
    day = np.repeat(np.arange(20_000), 3)
    level = rng.normal(0.0, 0.7, 20_000)[day]
    frame = pd.DataFrame({"day": day, "rung": level + rng.normal(size=len(day))})
    limit = real_difference(spread(frame, "rung", "day"), repeats=3, same_group=False).limit
    means = frame.groupby("day")["rung"].mean().to_numpy().reshape(-1, 2)
    assert (np.abs(means[:, 0] - means[:, 1]) > limit).mean() == pytest.approx(0.05, abs=0.007)


def test_limits_of_the_sum_lie_between_those_of_its_parts():
    groups = read_groups(DAYS, "rung", "day")
    lows, highs = zip(*(combined_limits(groups, share) for share in (0.25, 0.5, 1.0)), strict=True)
    assert list(lows) == sorted(lows)
    assert list(highs) == sorted(highs)


def test_the_groups_asked_for_do_it():
    """At the stated number the limits of a simulated trial are within the factor in about half of them."""
    rng = np.random.default_rng(8)
    count = groups_for(2.0, repeats=2, factor=3.0)
    ratios = []
    for _ in range(100):
        low, high = spread(readings(count, "2", 2.0, rng), "rung", "day").intervals["between_sd"]
        ratios.append(high / low if low else np.inf)
    assert np.median(ratios) == pytest.approx(3.0, abs=0.6)


def test_more_is_known_with_more_groups():
    assert groups_for(1.0, factor=2.0) > groups_for(1.0, factor=3.0) > groups_for(1.0, repeats=5, factor=3.0)
    found = spread(DAYS, "rung", "day")
    assert found.groups_for() == groups_for(found.between_sd / found.repeatability_sd, 2, 3.0)
    assert spread(EVEN, "rung", "day").groups_for() == groups_for(0.5, 2, 3.0)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"ratio": 0.0}, "ratio above 0"),
        ({"ratio": np.nan}, "ratio above 0"),
        ({"ratio": 1.0, "repeats": 1}, "two or more repeats"),
        ({"ratio": 1.0, "factor": 1.0}, "factor above 1"),
        ({"ratio": 0.05}, "more than 2000 groups"),
    ],
)
def test_groups_that_cannot_be_had(asked, said):
    with pytest.raises(LabError, match=said):
        groups_for(**asked)


def test_readings_all_alike_in_groups_of_unequal_sizes_tell_nothing():
    """Rounding of the means once gave limits of 1e-17."""
    found = spread(pd.DataFrame({"v": [0.1] * 8, "g": [1, 1, 1, 2, 2, 3, 3, 3]}), "v", "g")
    assert found.intervals["between_sd"] == (0.0, np.inf)


@pytest.mark.parametrize(
    ("frame", "message"),
    [
        ({"v": [1.0, 2.0], "g": [1, 2]}, "DataFrame"),
        (pd.DataFrame({"v": [1.0, 2.0], "g": [[1], [2]]}), "one label"),
        (pd.DataFrame({"v": [1.0, 1e200], "g": [1, 2]}), "too large"),
    ],
)
def test_what_is_no_table_of_readings_is_said_in_words(frame, message):
    with pytest.raises(LabError, match=message):
        spread(frame, "v", "g")
