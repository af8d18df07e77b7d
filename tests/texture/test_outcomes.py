"""How outcomes vary, source by source: against published figures, simulation, and what cannot be known."""

import os
import subprocess
import sys
import time
from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pytest
from scipy.special import chdtri
from scipy.stats import ttest_rel
from statsmodels.stats.meta_analysis import combine_effects

from labkit.errors import LabError
from labkit.few_groups import combined_limits
from labkit.texture.hardness import HardnessModel
from labkit.texture.outcome_sources import MOST_NEEDED, contrast, needed
from labkit.texture.outcomes import difference_words, outcomes, outcomes_words, rung_residuals
from labkit.texture.source import pinned, reach_words, size_words
from labkit.texture.strata import Strata, members, split
from labkit.texture.trials_apart import spread_of_known, trials_apart, trials_words
from labkit.variation import spread

LADDER = ("smears", "soft", "just right", "firm", "draggy")
PARTS = ["oil", "wax"]

# Strength of a paste, 10 batches, 3 casks of each, 2 tests of each: Davies and Goldsmith (1972),
# Statistical Methods in Research and Production, table 6.5; data set Pastes of the R package lme4.
# Data from memory: they give the published estimates to every digit.
PASTE = np.array(
    [62.8, 62.6, 60.1, 62.3, 62.7, 63.1, 60.0, 61.4, 57.5, 56.9, 61.1, 58.9, 58.7, 57.5, 63.9, 63.1,
     65.4, 63.7, 57.1, 56.4, 56.9, 58.6, 64.7, 64.5, 55.1, 55.1, 54.7, 54.2, 58.8, 57.5, 63.4, 64.9,
     59.3, 58.1, 60.5, 60.0, 62.5, 62.6, 61.0, 58.7, 56.9, 57.7, 59.2, 59.4, 65.2, 66.0, 64.8, 64.1,
     54.8, 54.8, 64.0, 64.0, 57.7, 56.8, 58.3, 59.3, 59.2, 59.2, 58.9, 56.6]
)  # fmt: skip


def notes(days=3, pours=2, felt=2, sd=(0.5, 0.5, 0.7), rng=0, rounded=False, recipes=1):
    """Notes of a simulated maker: `sd` of days, pours and notes; recipes in turn within a day."""
    rng = np.random.default_rng(rng)
    day, pour = np.repeat(np.arange(days), pours * felt), np.repeat(np.arange(days * pours), felt)
    recipe = pour % recipes
    value = 2.0 + 0.8 * recipe + rng.normal(0, sd[0], days)[day] + rng.normal(0, sd[1], days * pours)[pour]
    value = value + rng.normal(0, sd[2], len(day))
    oil = 0.7 - 0.1 * recipe
    return pd.DataFrame({"cast": pour, "day": day, "oil": oil, "wax": 1 - oil,
                         "rung": np.round(value) if rounded else value})  # fmt: skip


def told(frame, ladder=None, modelled=False, value="rung"):
    return outcomes(frame, frame[value], PARTS, ladder, modelled)


def limits(source):
    return source.low, source.high


# ------------------------------------------------------------ the sums of squares


def test_three_storeys_give_the_published_estimates():
    """Pastes: lme4 publishes variances 1.657 (batch), 8.434 (cask), 0.678 (residual); balanced, so ANOVA."""
    batch, cask = np.repeat(np.arange(10), 6), np.repeat(np.arange(30), 2)
    found = told(pd.DataFrame({"cast": cask, "day": batch, "oil": 0.7, "wax": 0.3, "rung": PASTE}))
    variances = [found.source(name).sd ** 2 for name in ("days", "pours", "notes")]
    assert variances == pytest.approx([1.657, 8.434, 0.678], abs=6e-4)


@pytest.mark.parametrize("sizes", [(2, 2, 2), (1, 3, 2, 2), (5, 1, 1, 2, 2)])
def test_groups_that_do_not_cross_are_one_way_analysis_of_variance(sizes):
    day = np.repeat(np.arange(len(sizes)), sizes)
    rng = np.random.default_rng(len(sizes))
    value = rng.normal(size=len(day)) + 1.5 * rng.normal(size=len(sizes))[day]
    found = split(value, np.ones((len(day), 1)), day)
    known = spread(pd.DataFrame({"day": day, "value": value}), "value", "day")
    assert np.sqrt(found.between_variance) == pytest.approx(known.between_sd)
    assert np.sqrt(found.repeat_variance) == pytest.approx(known.repeatability_sd)
    assert combined_limits(found, 0.0) == pytest.approx(known.intervals["between_sd"], rel=1e-5)


def test_sums_are_those_of_two_least_squares_fits():
    """Σtᵢ² is what the residual sum of squares falls by when groups are let in, E[…] by its trace."""
    rng = np.random.default_rng(7)
    recipe, day = rng.integers(0, 3, 14), rng.integers(0, 5, 14)
    value, fixed, member = rng.normal(size=14), members(recipe), members(day)
    both = np.hstack([fixed, member])

    def rest(columns):
        return value - columns @ np.linalg.lstsq(columns, value, rcond=None)[0]

    found = split(value, fixed, day)
    small, large = rest(fixed) @ rest(fixed), rest(both) @ rest(both)
    assert found.within == pytest.approx(large)
    assert found.size @ found.scatter == pytest.approx(small - large)
    outside = np.eye(14) - fixed @ np.linalg.pinv(fixed)
    assert found.size.sum() == pytest.approx(np.trace(member.T @ outside @ member))
    assert found.within_df == 14 - np.linalg.matrix_rank(both)


def test_a_step_on_the_same_days_is_the_paired_t_test():
    rng = np.random.default_rng(3)
    cold, bench = rng.normal(3.0, 0.5, 6), rng.normal(0.0, 0.5, 6)
    day = np.tile(np.arange(6), 2)
    step, low, high = contrast(np.append(cold, bench), members(day), np.arange(12) < 6)
    wanted = ttest_rel(cold, bench).confidence_interval(0.90)
    assert step == pytest.approx((cold - bench).mean())
    assert (low, high) == pytest.approx((wanted.low, wanted.high))


# ------------------------------------------------------------ what the intervals hold


@pytest.mark.parametrize(
    ("days", "pours", "sd", "recipes", "rounded"),
    [
        (3, 2, (1.0, 0.5, 0.7), 1, False),
        (6, 2, (0.5, 0.3, 0.7), 1, False),
        (4, 4, (0.5, 0.5, 0.7), 2, False),
        (4, 2, (0.5, 0.5, 0.7), 1, True),
    ],
    ids=["3 days", "6 days", "4 days of two recipes", "4 days, in words"],
)
def test_intervals_hold_the_truth(days, pours, sd, recipes, rounded):
    """85 to 95 % in 120 makers, give or take two standard errors.

    In words the notes hold their rounding too, and intervals may be wider than they need be.
    """
    rng, held = np.random.default_rng(11), np.zeros(3)
    truth = (sd[0], sd[1], np.hypot(sd[2], np.sqrt(1 / 12) if rounded else 0.0))
    for _ in range(120):
        found = told(notes(days, pours, 2, sd, rng, rounded, recipes), LADDER if rounded else None)
        for at, (name, one) in enumerate(zip(("days", "pours", "notes"), truth, strict=True)):
            source = found.source(name)
            held[at] += source.low <= one <= source.high
    assert (held / 120 >= 0.85 - 0.065).all()
    assert (held / 120 <= (1.0 if rounded else 0.95 + 0.04)).all()


def test_estimates_are_unbiased_and_words_add_their_rounding_to_the_notes_alone():
    """Means of the variances over 300 makers: of words 1/12 more for notes, the same for the others."""
    rng, sums = np.random.default_rng(5), np.zeros((2, 3))
    for _ in range(300):
        frame = notes(5, 3, 2, (0.6, 0.4, 0.7), rng)
        for at, value in enumerate([frame["rung"], frame["rung"].round()]):
            rest = split(value.to_numpy(), members(frame["cast"]), np.zeros(len(frame)))
            means = value.groupby(frame["cast"]).mean().to_numpy()
            days = split(means, np.ones((15, 1)), np.repeat(np.arange(5), 3))
            pours = days.repeat_variance - rest.repeat_variance / 2
            square = (days.size @ days.scatter / days.between_df - days.repeat_variance) / 3
            sums[at] += np.array([square, pours, rest.repeat_variance]) / 300
    assert sums[0] == pytest.approx([0.36, 0.16, 0.49], abs=0.05)
    assert sums[1] - sums[0] == pytest.approx([0.0, 0.0, 1 / 12], abs=0.03)


def test_no_composition_in_days_and_pours():
    frame = notes(4, 4, 2, recipes=2, rng=1)
    moved = frame.assign(rung=frame["rung"] + 5.0 * (frame["wax"] > 0.35))
    for name in ("notes", "pours", "days"):
        assert limits(told(moved).source(name)) == pytest.approx(limits(told(frame).source(name)))


def test_shares_within_half_a_percent_are_one_recipe():
    frame = notes(2, 2, 2)
    near = frame.assign(oil=0.7 + 0.001 * frame["cast"], wax=0.3 - 0.001 * frame["cast"])
    assert told(near).source("pours").groups == 4
    far = frame.assign(oil=0.7 + 0.006 * frame["cast"], wax=0.3 - 0.006 * frame["cast"])
    assert told(far).source("pours").groups == 0


def test_a_day_moves_the_days_alone_and_a_pour_not_the_notes():
    frame = notes(4, 2, 2, rng=2)
    by_day = frame.assign(rung=frame["rung"] + np.array([0.0, 4.0, -3.0, 1.0])[frame["day"]])
    assert limits(told(by_day).source("pours")) == pytest.approx(limits(told(frame).source("pours")))
    assert told(by_day).source("days").low > told(frame).source("days").low
    by_pour = frame.assign(rung=frame["rung"] + 3.0 * (frame["cast"] % 2))
    assert limits(told(by_pour).source("notes")) == pytest.approx(limits(told(frame).source("notes")))


def test_scatter_of_notes_is_taken_out_of_the_pours():
    """Pours that do not differ at all: their means scatter by σ/√2, and the mean estimate stays near 0."""
    rng = np.random.default_rng(4)
    found = [told(notes(4, 3, 2, (0.0, 0.0, 1.0), rng)).source("pours") for _ in range(60)]
    assert np.mean([each.low == 0.0 for each in found]) > 0.85
    assert np.mean([each.sd**2 for each in found]) < 0.25


# ------------------------------------------------------------ what cannot be told


def test_two_days_are_never_no_difference():
    found = told(notes(2, 2, 2, (0.0, 0.4, 0.5), rounded=True, rng=3), LADDER)
    days = found.source("days")
    assert not days.told
    assert days.high > 0.5
    assert days.sentence.startswith("How much days differ cannot be told yet from 2 days: anything from 0 to")
    assert "days with two pours each would tell." in days.sentence
    assert "days cannot be told from 2 yet" in found.title


def test_upper_limits_are_never_nothing():
    rng = np.random.default_rng(6)
    for trial in range(60):
        found = told(notes(2 + trial % 3, 2, 2, (0.0, 0.0, 0.4), rng, trial % 2 == 0), LADDER)
        assert all(each.high > 0.15 and each.high > each.low for each in found.sources)


def test_words_that_all_agree_may_still_differ_by_what_a_word_hides():
    frame = notes(4, 2, 2).assign(rung=2.0)
    found = told(frame, LADDER)
    for name in ("notes", "pours", "days"):
        assert found.source(name).sd == 0.0
        assert found.source(name).low == 0.0
        assert found.source(name).high > np.sqrt(1 / 12)
    assert found.recipes_differ[1].high >= 1.0


def test_an_estimate_never_lies_outside_its_interval():
    """Notes nearer to one another than their rounding had a lower limit above the estimate."""
    rng = np.random.default_rng(15)
    for sd in (0.1, 0.3, 0.8):
        for each in told(notes(4, 2, 3, (sd, sd, sd), rng), LADDER).sources:
            assert each.low <= each.sd <= each.high


def test_pours_of_one_a_day_are_not_told_from_days():
    found = told(notes(4, 1, 2), LADDER)
    for name in ("pours", "days"):
        assert not found.source(name).told
        assert "cannot be told apart" in found.source(name).sentence
        assert np.isfinite(found.source(name).high)
    assert np.isnan(found.source("days").sd)
    assert found.recipes_differ == {}
    assert "until one is poured twice" in difference_words(found)[-1]


@pytest.mark.parametrize("rows", [0, 1, 2])
def test_hardly_any_notes(rows):
    found = told(notes().head(rows), LADDER)
    assert found.title.startswith("Pour your usual again, on two days")
    assert not found.repeats_used
    assert not any(each.told for each in found.sources)
    assert len(found.dots) == (2 if rows == 2 else 0)
    assert all(said.endswith(".") for said in outcomes_words(found))


def test_by_the_map_alone_nothing_of_pours_and_days_is_told():
    frame = notes(4, 2, 2, rounded=True)
    frame = frame.assign(oil=0.5 + 0.03 * frame["cast"], wax=0.5 - 0.03 * frame["cast"])
    found = told(frame, LADDER, modelled=True)
    assert not found.repeats_used
    assert found.source("notes").told
    for name in ("pours", "days"):
        assert np.isfinite(found.source(name).sd)
        assert limits(found.source(name)) == (0.0, np.inf)
        assert "misses of the map" in found.source(name).sentence
    assert told(frame, LADDER).source("pours").rows == 0
    assert found.recipes_differ == {}
    assert set(found.dots["recipe"]) == set(range(1, 9))


def test_one_repeat_is_preferred_to_the_map():
    frame = notes(4, 2, 2)
    frame["oil"] = np.where(frame["cast"] < 2, 0.7, 0.4 + 0.03 * frame["cast"])
    found = told(frame.assign(wax=1 - frame["oil"]), LADDER, modelled=True)
    assert found.repeats_used
    assert found.source("pours").groups == 2
    assert found.source("notes").groups == 8


@pytest.mark.parametrize("between", [0.0, 1.0])
def test_as_many_groups_as_are_said_to_be_needed_do_tell(between):
    """At the sums to be expected of σ_r = 1 and two readings a group; one fewer does not."""

    def sums(count):
        one = np.ones(1)
        return Strata(
            2 * one, one, 0 * one, (count - 1) * (between**2 + 0.5) * one, 1.0 * count, count - 1, count
        )

    def enough(count):
        low, high = combined_limits(sums(count), 0.0)
        return high <= 0.5 or pinned(low, high)

    count = needed(sums(12), 0.5)
    assert 3 <= count <= MOST_NEEDED
    assert enough(count)
    assert not enough(count - 1)


# ------------------------------------------------------------ testers, lots, ways of making


def test_testers_are_compared_on_the_same_pours_and_taken_off_them():
    frame = notes(4, 2, 4, (0.5, 0.3, 0.3), rng=8)
    frame["tester"] = np.tile(["Ana", "Ben"], 16)
    apart = frame.assign(rung=frame["rung"] + 1.2 * (frame["tester"] == "Ana"))
    one, two = told(frame, LADDER), told(apart, LADDER)
    for name in ("notes", "pours", "days"):
        assert limits(two.source(name)) == pytest.approx(limits(one.source(name)))
    assert two.source("testers").low > 0.0
    assert "Ana finds the same pours harder than Ben" in two.source("testers").sentence


def test_testers_of_different_pours_cannot_be_compared():
    frame = notes(4, 2, 2)
    found = told(frame.assign(tester=np.where(frame["cast"] % 2, "Ana", None)), LADDER)
    assert limits(found.source("testers")) == (0.0, np.inf)
    assert "No pour was felt by two testers" in found.source("testers").sentence


def test_ways_of_making_within_days_and_not_across_them():
    frame = notes(4, 2, 2, (0.5, 0.1, 0.3), rounded=False, rng=9)
    within = frame.assign(
        set_where=np.where(frame["cast"] % 2, "in the cold", "on the bench"),
        rung=frame["rung"] + 1.5 * (frame["cast"] % 2),
    )
    found = told(within, LADDER).source("setting")
    assert found.low > 0.5
    assert found.low < 1.5 < found.high
    assert found.sentence.endswith("Those set in the cold came out harder.")
    across = told(frame.assign(reheats=1 * (frame["day"] > 1)), LADDER).source("melting")
    assert np.isnan(across.sd)
    assert "changed only together with days or recipes" in across.sentence


def test_lots_within_days_and_not_across_them():
    frame = notes(5, 4, 2, (0.5, 0.1, 0.3), rng=10)
    lots = np.array(["wax 1", "wax 2"])[frame["cast"] % 2]
    found = told(frame.assign(lots=lots, rung=frame["rung"] + 2.0 * (lots == "wax 2")), LADDER)
    assert found.source("lots").low > 0.3
    across = told(frame.assign(lots=np.where(frame["day"] > 1, "wax 2", "wax 1")), LADDER)
    assert limits(across.source("lots")) == (0.0, np.inf)
    with pytest.raises(LabError, match="no source of variation here"):
        told(frame.assign(lots="wax 1")).source("lots")


# ------------------------------------------------------------ what difference is real


def test_two_recipes_must_differ_by_more_than_two_pours():
    rng = np.random.default_rng(12)
    for _ in range(30):
        found = told(notes(3, 2, 2, rng=rng, rounded=True), LADDER)
        for often in (1, 3):
            pours, recipes = found.pours_differ[often], found.recipes_differ[often]
            assert pours.limit <= recipes.limit
            assert pours.low <= recipes.low
            assert pours.high <= recipes.high


def test_the_difference_that_is_real_is_said_in_whole_words():
    found = told(notes(6, 3, 2, (0.3, 0.2, 0.5), rounded=True, rng=13), LADDER)
    sd = found.source("notes").sd
    assert found.pours_differ[1].limit == pytest.approx(1.96 * np.sqrt(2) * sd, rel=1e-4)
    assert found.pours_differ[3].limit == pytest.approx(found.pours_differ[1].limit / np.sqrt(3))
    said = difference_words(found)[0]
    whole = int(np.ceil(2.7718 * sd))
    assert said.startswith(f"Two pours felt once each must differ by {whole} word")


def test_the_ends_of_the_ladder_are_said():
    frame = notes(3, 2, 2, rounded=True).assign(word="smears")
    assert any(
        "12 of 12 notes are “smears” or “draggy”" in said for said in outcomes_words(told(frame, LADDER))
    )
    middle = frame.assign(word="soft")
    assert not any("ends of your ladder" in said for said in outcomes_words(told(middle, LADDER)))


# ------------------------------------------------------------ reading


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda frame: frame.drop(columns="cast"), "There is no column “cast”"),
        (lambda frame: frame.drop(columns="day"), "There is no column “poured”"),
        (lambda frame: frame.rename(columns={"wax": "Wax"}), "no column “wax”. Did you mean “Wax”"),
        (lambda frame: frame.assign(rung=[np.nan, *frame["rung"][1:]]), "Note 1 has no outcome"),
    ],
)
def test_what_is_missing_is_said(change, message):
    with pytest.raises(LabError, match=message):
        told(change(notes()))


def test_one_outcome_a_note():
    with pytest.raises(LabError, match="12 notes and 3 outcomes"):
        outcomes(notes(), [1.0, 2.0, 3.0], PARTS)


def test_a_day_is_one_of_the_lab_s_own_clock(monkeypatch):
    """22:30 and 23:30 UTC are one evening in Tokyo's morning, and two days in Berlin's summer night."""
    frame = notes(1, 2, 2).drop(columns="day")
    when = [datetime(2026, 6, 1, 21, 30, tzinfo=UTC), datetime(2026, 6, 1, 22, 30, tzinfo=UTC)]
    frame["poured"] = [when[cast] for cast in frame["cast"]]
    days = {}
    for zone in ("Asia/Tokyo", "Europe/Berlin"):
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        days[zone] = told(frame).dots["day"].nunique()
    monkeypatch.delenv("TZ")
    time.tzset()
    assert days == {"Asia/Tokyo": 1, "Europe/Berlin": 2}


def test_order_of_notes_changes_nothing():
    frame = notes(3, 2, 3)
    turned = told(frame.sample(frac=1.0, random_state=1))
    for name in ("notes", "pours", "days"):
        assert limits(turned.source(name)) == pytest.approx(limits(told(frame).source(name)))


def test_residuals_are_the_word_s_rung_less_the_one_to_be_expected():
    shares = pd.DataFrame({"oil": [0.8, 0.7, 0.6], "wax": [0.2, 0.3, 0.4]})
    words, hours = ["soft", "just right", "draggy"], [2.0, 48.0, 48.0]
    model = HardnessModel(LADDER).fit(shares, words, hours)
    found = rung_residuals(model, shares.assign(word=words, hours=hours))
    chance = model.predict(shares, hours=hours)
    expected = sum(rung * chance[word] for rung, word in enumerate(LADDER))
    assert found == pytest.approx(np.array([1, 2, 4]) - expected.to_numpy())


def test_a_trial_s_notes_are_told(felt):
    pours = felt.pours().drop_duplicates("entry", keep="last").set_index("entry")
    beside = ["poured", "set_where", "reheats", "lots"]
    readings = felt.readings().join(pours[beside], on="cast")
    parts, ladder = list(felt.question.parts), felt.question.ladder
    found = outcomes(readings, rung_residuals(felt.fitted(), readings), parts, ladder)
    assert found.repeats_used
    assert found.source("notes").rows == 8
    assert found.source("pours").groups == 2
    assert set(found.dots["pour"]) == {1, 2}


def test_computation_loads_no_picture_and_no_widget():
    code = "import sys, labkit.texture.outcomes, labkit.texture.trials_apart; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ
    )
    assert {"matplotlib", "ipywidgets", "sqlalchemy"}.isdisjoint(done.stdout.split())


# ------------------------------------------------------------ words


@pytest.mark.parametrize(
    ("low", "high", "ladder", "said"),
    [
        (0.0, 1.0, 5, "0 to 1 word"),
        (0.0, 2.94, 5, "0 to 2.9 words"),
        (0.5, np.inf, 5, "half a word to your whole ladder"),
        (0.0, np.inf, 5, "0 to your whole ladder"),
        (np.log(1.1), np.log(1.5), None, "10 to 50 %"),
        (np.log(1.1), np.log(2.5), None, "10 % to 2.5 times"),
        (0.0, np.inf, None, "0 to anything"),
    ],
)
def test_ranges_as_a_maker_says_them(low, high, ladder, said):
    assert reach_words(low, high, ladder) == said


@pytest.mark.parametrize(
    ("size", "said"), [(0.0, "0 words"), (1.0, "1 word"), (0.5, "half a word"), (9.0, "your whole ladder")]
)
def test_sizes_as_a_maker_says_them(size, said):
    assert size_words(size, 5) == said


# ------------------------------------------------------------ trials


def test_spread_between_trials_is_paule_and_mandel_s():
    """statsmodels' random-effects combination iterates the same equation."""
    values, sd = np.array([2.3, 1.1, 2.9, 1.8, 3.4]), np.array([0.3, 0.4, 0.35, 0.5, 0.3])
    found, (low, high) = spread_of_known(values, sd)
    wanted = combine_effects(values, sd**2, method_re="iterated", atol=1e-10, maxiter=200)
    assert found**2 == pytest.approx(wanted.tau2, rel=1e-5)
    for limit, tail in ((low, 0.05), (high, 0.95)):
        weight = 1.0 / (sd**2 + limit**2)
        assert weight @ (values - weight @ values / weight.sum()) ** 2 == pytest.approx(chdtri(4, tail))


@pytest.mark.parametrize("values", [[2.0, 2.0, 2.0], [2.0, 2.01, 1.99], [1.0, 1.0]])
def test_trials_that_agree_may_differ_by_more_than_nothing(values):
    found, (low, high) = spread_of_known(values, [0.3] * len(values))
    assert (found, low) == (0.0, 0.0)
    assert high > 0.3


def test_limits_between_trials_hold_the_truth():
    rng, sd = np.random.default_rng(14), np.array([0.3, 0.5, 0.4, 0.3])
    held = 0
    for _ in range(400):
        low, high = spread_of_known(rng.normal(0, 0.6, 4) + rng.normal(0, sd), sd)[1]
        held += low <= 0.6 <= high
    assert 0.85 - 0.03 <= held / 400 <= 0.95 + 0.02


def trials(*rows):
    return pd.DataFrame(rows, columns=["trial", "hardness", "sd"])


def test_the_last_trial_is_compared_with_the_one_before():
    softer = trials_apart(trials(("May", 3.0, 0.2), ("June", 2.5, 0.2), ("July", 1.5, 0.2)), LADDER)
    reach = 1.6448536 * np.hypot(0.2, 0.2)
    assert softer.step == pytest.approx((-1.0, -1.0 - reach, -1.0 + reach))
    assert softer.title.startswith("“July” came out softer than “June” by 1 word (0.5 to 1.5 words)")
    near = trials_apart(trials(("May", 2.0, 0.4), ("June", 2.3, 0.4)), LADDER)
    assert near.title == "“June” came out harder than “May” by 0.3 words, which may be chance."
    assert "0.6 words softer to 1.2 words harder" in trials_words(near)[1]
    assert len(trials_words(trials_apart(trials(("May", 2.0, 0.4)), LADDER))) == 1


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (trials(), "no trial to compare"),
        (trials(("May", np.nan, 0.2)), "“May” has no hardness"),
        (trials(("May", 2.0, 0.0)), "“May” has no hardness"),
        (trials(("May", 2.0, 0.2)).drop(columns="sd"), "no column “sd”"),
    ],
)
def test_trials_that_cannot_be_compared(table, message):
    with pytest.raises(LabError, match=message):
        trials_apart(table, LADDER)


def test_trials_that_are_alike_are_not_said_to_differ_by_nothing():
    table = pd.DataFrame(
        {"trial": ["May", "June"], "hardness": [2.0, 2.01], "sd": [0.3, 0.3], "rung": [2.0, 2.0]}
    )
    title = trials_apart(table, ["smears", "soft", "right", "firm"]).title
    assert title == "“June” came out as hard as “May”, as far as their notes can tell."
    said = trials_words(trials_apart(table, ["smears", "soft", "right", "firm"]))
    assert said[1].startswith("It may be anything from 0.7 words softer to 0.7 words harder")
    edge = trials_words(trials_apart(trials(("May", 2.0, 0.2), ("June", 2.45, 0.2)), LADDER))
    assert edge[1].startswith("It may be anything from as hard to 0.9 words harder")


def test_a_trial_without_a_word_is_not_compared_and_does_not_count_in_the_spread():
    table = trials(("April", 2.0, 0.2), ("May", 3.0, 0.2), ("June", 0.0, 1.4))
    found = trials_apart(table.assign(wordless=["", "", "2 readings"]), LADDER)
    said = trials_words(found)
    assert said[0] == (
        "“June” has 2 readings and no word yet: feel its usual, and it can be compared with “May”."
    )
    assert said[1].startswith("Over 2 trials the same recipe differs")
    both = trials_apart(table[:2], LADDER)
    assert (found.spread_sd, found.spread) == (both.spread_sd, both.spread)
    alone = trials_apart(table[1:].assign(wordless=["", "1 comparison"]), LADDER)
    assert len(trials_words(alone)) == 1
