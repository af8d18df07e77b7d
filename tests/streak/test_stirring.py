"""When to stop: against brute-force sums, against simulation, and what is refused."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from labkit.errors import LabError
from labkit.streak import slowest, stirring, tell_stirring
from labkit.streak.fading import RATE, RATE_SPREAD, SCATTER, START, START_SPREAD
from tests.bench.streak_stops import MAKERS, USUAL, stops_of


def table(grades, pigment="red", **more):
    return pd.DataFrame({"round": range(1, len(grades) + 1), "pigment": pigment, "grade": grades}).assign(
        **more
    )


def chance(grades, earlier=None):
    return stirring(table(grades), earlier=earlier).iloc[0]


# ---- against brute force ---------------------------------------------------------------------


def grade_chance(grade, amount, scatter):
    upper = norm.cdf((grade + 0.5 - amount) / scatter) if grade < 4 else 1.0
    return upper - (norm.cdf((grade - 0.5 - amount) / scatter) if grade > 0 else 0.0)


def drawn(grades, earlier, draws, seed=1):
    """The chance by drawing usual values, spreads, scatter, starts and rates, weighted by all the grades."""
    rng = np.random.default_rng(seed)
    usual_start, usual_rate = rng.normal(*START, draws), rng.normal(*RATE, draws)
    start_sd, rate_sd = rng.choice(START_SPREAD, draws), rng.choice(RATE_SPREAD, draws)
    scatter = np.exp(rng.normal(*SCATTER, draws))
    weight = np.ones(draws)
    for course in (*earlier, grades):
        start, rate = rng.normal(usual_start, start_sd), np.exp(rng.normal(usual_rate, rate_sd))
        for after, grade in enumerate(course):
            weight *= grade_chance(grade, start - rate * after, scatter)
    seen = norm.cdf((start - rate * (len(grades) - 1) - 0.5) / scatter)
    found = weight @ seen / weight.sum()
    return found, np.sqrt((weight**2) @ (seen - found) ** 2) / weight.sum()


@pytest.mark.parametrize(
    ("grades", "earlier"),
    [
        ([3, 2, 1], []),
        ([3, 1, 0, 0], []),
        ([2, 2, 2, 1, 0], []),
        ([3, 2, 1], [[3, 2, 1, 0, 0]]),
        ([4, 3, 1], [[4, 2, 1, 0], [3, 2, 0, 0]]),
    ],
)
def test_the_sum_is_what_drawing_gives(grades, earlier):
    before = [table(each, trial=f"trial {at}") for at, each in enumerate(earlier)]
    found = chance(grades, pd.concat(before, ignore_index=True) if before else None)["chance_of_streak"]
    expected, error = drawn(grades, earlier, 600_000)
    assert found == pytest.approx(expected, abs=0.01 + 3 * error)


def test_one_grade_by_quadrature():
    """One look: the start is a normal mixture, the scatter lognormal; Gauss–Legendre on 400 × 60 points."""
    nodes, weights = np.polynomial.legendre.leggauss(400)
    start, of_start = 3 + 7 * nodes, weights
    density = sum(norm.pdf(start, START[0], np.hypot(START[1], sd)) for sd in START_SPREAD) * of_start
    nodes, weights = np.polynomial.legendre.leggauss(60)
    log_scatter = SCATTER[0] + 4 * SCATTER[1] * nodes
    both = density[:, None] * norm.pdf(log_scatter, *SCATTER) * weights
    amount, scatter = start[:, None], np.exp(log_scatter)
    told = both * grade_chance(1, amount, scatter)
    expected = (told * norm.cdf((amount - 0.5) / scatter)).sum() / told.sum()
    assert chance([1])["chance_of_streak"] == pytest.approx(expected, abs=0.01)


# ---- against simulation ----------------------------------------------------------------------


@pytest.mark.parametrize("earlier", [0, 3])
def test_of_the_runs_told_stop_as_many_show_a_streak_as_was_promised(earlier):
    """Within three standard errors of 150 runs; 1,000 stand in tests/bench/streak-stops-results.md."""
    for limit, (count, _, promised, left, error) in stops_of(USUAL, earlier, 150, seed=4).items():
        assert count > 120
        assert promised < limit
        assert abs(left - promised) < 3 * error


def test_clumps_that_never_go_break_the_promise():
    """What the model cannot know shows in the simulation, so the simulation can fail."""
    maker = MAKERS["clumps that never go (amount stays over 0)"]
    _, _, promised, left, error = stops_of(maker, 3, 150)[0.05]
    assert left > promised + 3 * error


# ---- what makes sense ------------------------------------------------------------------------


def test_clean_rounds_bring_the_chance_down_and_streaks_keep_it_up():
    falling = [chance([3, 1, *[0] * more])["chance_of_streak"] for more in range(6)]
    assert np.all(np.diff(falling) < 0)
    assert chance([2, 2, 2, 2])["chance_of_streak"] > 0.9


def test_three_rounds_are_told_with_a_wide_interval():
    three, more = chance([2, 1, 0]), chance([2, 1, 0, 0, 0, 0, 0])
    assert three["high"] - three["low"] > 0.5
    assert more["high"] - more["low"] < 0.1
    assert three["low"] <= three["chance_of_streak"] <= three["high"]


def test_after_the_rounds_to_go_the_chance_is_under_the_limit_and_not_before():
    """With looks that told nothing in between, the forecast is the same as the later chance."""
    told = chance([3, 2, 1])
    go = int(told["rounds_to_go"])
    assert go > 1
    later = [chance([3, 2, 1, *[None] * more])["chance_of_streak"] for more in (go - 1, go)]
    assert later[0] >= 0.05 > later[1]


def test_a_tighter_limit_takes_more_rounds():
    loose, tight = (stirring(table([3, 2, 1]), limit)["rounds_to_go"].iloc[0] for limit in (0.3, 0.01))
    assert tight > loose


def test_a_pigment_that_does_not_fall_has_no_end():
    told = stirring(table([4] * 12), earlier=pd.concat([table([4] * 12, trial=at) for at in "abcd"]))
    assert np.isinf(told["rounds_to_go"].iloc[0])
    assert "Change how it is stirred" in tell_stirring(told)[0]


def test_dont_know_is_no_clean_round():
    unknown, clean = chance([3, 2, None]), chance([3, 2, 0])
    assert unknown["chance_of_streak"] > clean["chance_of_streak"]
    only = stirring(table([None, None]))
    assert 0.5 < only["chance_of_streak"].iloc[0] < 1


@pytest.mark.parametrize("nothing", [None, np.nan, pd.NA])
def test_dont_know_may_be_written_in_any_way(nothing):
    assert chance([3, 2, nothing]).equals(chance([3, 2, None]))


def test_slow_earlier_trials_ask_for_more_rounds():
    slow = pd.concat([table([3, 3, 2, 2, 2, 1, 1, 1, 0], trial=at) for at in "abc"])
    fast = pd.concat([table([3, 0, 0], trial=at) for at in "abc"])
    told = [chance([3, 2], each) for each in (slow, None, fast)]
    assert told[0]["rounds_to_go"] > told[2]["rounds_to_go"]
    assert told[0]["chance_of_streak"] > told[1]["chance_of_streak"] > told[2]["chance_of_streak"]


def test_the_same_pigment_counts_before_others_and_the_same_way_before_others():
    slow = pd.concat([table([3, 3, 2, 2, 2, 1, 1, 1, 0], trial=at, method="dry") for at in "abc"])
    fast = pd.concat([table([3, 0, 0], "blue", trial=at, method="dry") for at in "abc"])
    sieved = pd.concat([table([3, 0, 0], trial=at, method="sieved") for at in "def"])

    def red(earlier, method="dry"):
        return stirring(table([3, 2], method=method), earlier=earlier)["chance_of_streak"].iloc[0]

    assert red(pd.concat([slow, fast])) == pytest.approx(red(slow))
    assert red(fast) != pytest.approx(red(None))
    assert red(pd.concat([slow, sieved]), "sieved") == pytest.approx(red(sieved, "sieved"))
    assert red(slow, "sieved") == pytest.approx(red(slow))


def test_the_running_trial_is_not_counted_twice():
    now = table([3, 2], trial="now")
    before = table([3, 1, 0], trial="before")
    both = pd.concat([before, now])
    assert stirring(now, earlier=both).equals(stirring(now, earlier=before))


def test_the_slow_pigment_is_named():
    two = pd.concat([table([3, 1, 0, 0]), table([4, 3, 3, 2], "black")]).sort_values("round", kind="stable")
    told = stirring(two)
    assert list(told["pigment"]) == ["red", "black"]
    assert slowest(told) == "black"
    said = " ".join(tell_stirring(told, looks=3))
    assert "The slow one is black." in said
    assert "With 3 rounds" in said


def test_a_clean_pot_may_stop():
    assert (
        tell_stirring(stirring(table([3, 1, 0, 0, 0])))[-1]
        == "Each is under your limit of 5 %: you can stop."
    )


def test_the_columns_are_fixed():
    assert list(stirring(table([1])).columns) == [
        "pigment",
        "chance_of_streak",
        "low",
        "high",
        "rounds_to_go",
    ]


# ---- what is refused -------------------------------------------------------------------------

GOOD = table([3, 2, 1])
TWO = pd.concat([table([3, 2, 1]), table([3, 2, 1], "black")]).sort_values(
    "round", kind="stable", ignore_index=True
)


@pytest.mark.parametrize(
    ("rounds", "said"),
    [
        (GOOD.assign(grade=[3, 7, 1]), "Row 2: “7” is no grade"),
        (GOOD.assign(grade=[3, -1, 1]), "“-1” is no grade"),
        (GOOD.assign(grade=[3, 1.5, 1]), "“1.5” is no grade"),
        (GOOD.assign(grade=[3, "many", 1]), "“many” is no grade"),
        (GOOD.assign(grade=[3, True, 1]), "“True” is no grade"),
        (GOOD.assign(round=[1, 3, 2]), "Row 3: round 2 comes after round 3"),
        (GOOD.assign(round=[1, 2, 2]), "graded twice in round 2"),
        (GOOD.assign(round=[1, 2, -3]), "is no round"),
        (GOOD.assign(round=[1, 2, 2.5]), "is no round"),
        (GOOD.assign(minutes=[1, 5, 4]), "the clock goes back, from 5 to 4"),
        (GOOD.assign(minutes=[1, "soon", 4]), "“soon” is no time"),
        (GOOD.assign(colour=1), "“colour” is not known"),
        (GOOD.drop(columns="grade"), "no column “grade”"),
        (GOOD.rename(columns={"grade": "grades"}), "Did you mean “grades”"),
        (GOOD.assign(pigment=["red", "", "red"]), "Row 2 names no pigment"),
        (GOOD.iloc[:0], "no round yet"),
        (GOOD.assign(trial=["a", "a", "b"]), "2 trials"),
        (TWO.assign(pigment=["red", "blak", "red", "blak", "red", "black"]), "“black” is named once only"),
        (TWO.assign(pigment=["red", "black", "red", "black", "red", "blak"]), "“blak” is named once only"),
        (TWO.assign(pigment=["red", "blue", "red", "black", "red", "black"]), "“blue” is named once only"),
        ([1, 2, 3], "table"),
    ],
)  # fmt: skip
def test_bad_rounds_are_refused_in_plain_words(rounds, said):
    with pytest.raises(LabError, match=said):
        stirring(rounds)


def test_a_pigment_that_came_last_may_have_one_grade():
    late = pd.concat([table([3, 2, 1]), pd.DataFrame({"round": [3], "pigment": ["blue"], "grade": [2]})])
    assert list(stirring(late)["pigment"]) == ["red", "blue"]


@pytest.mark.parametrize("limit", [0, 1, -0.1, 5, np.nan])
def test_a_limit_that_is_no_chance_is_refused(limit):
    with pytest.raises(LabError, match="between 0 and 1"):
        stirring(GOOD, limit)


def test_earlier_rounds_need_a_trial():
    with pytest.raises(LabError, match="column “trial”"):
        stirring(GOOD, earlier=GOOD)
