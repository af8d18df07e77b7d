"""Pigment load, days, testers, hours past two days: against brute force, and what they say."""

import numpy as np
import pandas as pd
import pytest

from labkit.errors import LabError
from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel
from labkit.texture.region import Region
from labkit.texture.setting import Late, Pace, late
from labkit.texture.terms import Sites
from tests.bench.makers import WORDS
from tests.texture import brute

USUAL = pd.DataFrame([brute.ROWS[1]], columns=brute.PARTS)


def fit(notes=brute.WORDS, priors=None, **given):
    return HardnessModel(brute.WORDS, priors=priors).fit(
        brute.shares(), notes, brute.HOURS, brute.POURS, **given
    )


# ---- against brute force ---------------------------------------------------------


@pytest.mark.parametrize("hours", [0.5, 20.0, 700.0])
def test_hours_against_draws_from_the_prior(hours):
    """A pace for each cast, and the slow change: one was felt at 5 hours, one at 300."""
    brute.check(fit(priors=brute.two_sets()), brute.two_sets(), [0, 1, 2], hours=hours)


def test_days_against_draws_from_the_prior():
    """Two casts of one day, one of another; the fresh pour is of a third.

    Days that differ by up to 5 rungs leave hardness so vague that Laplace errs by 0.04 rungs.
    """
    fitted = fit(priors=brute.two_sets(), day=["Mon", "Mon", "Tue"])
    places, within = [{"day": 1}, {"day": 1}, {"day": 2}], (0.004, 0.05, 0.012)
    brute.check(fitted, brute.two_sets().with_days(), [0, 1, 2], places=places, within=within)


def test_testers_against_draws_from_the_prior():
    """Three hands about their own mean, one of them without a name."""
    fitted = fit(priors=brute.two_sets(), tester=["Ann", "Bo", None])
    brute.check(fitted, brute.two_sets(), [0, 1, 2], testers=[0, 1, 2])


def test_loads_against_draws_from_the_prior():
    fitted = fit(priors=brute.two_sets(), load=[0.0, 0.1, 0.2])
    places = [{"load": 0.0}, {"load": 0.1}, {"load": 0.2}]
    brute.check(
        fitted, brute.two_sets(), [0, 1, 2], places=places, sizes={"load_centre": 0.1}, loads=[0.05, 0.1]
    )


def test_covariances_are_those_of_drawn_effects():
    """Pace and late by drawing d and s and adding them up: variance, covariance and that with d itself."""
    rng, hours = np.random.default_rng(0), np.array([2.0, 10.0, 200.0])
    at = Sites(np.full((3, 2), 0.5), hours, np.array([0, 0, 1]))
    d, s = rng.normal(0.0, 0.3, (200_000, 2)), rng.normal(0.0, 0.25, 200_000)
    drawn = d[:, at.pour] * np.exp(-0.1 * hours) + s[:, None] * np.maximum(np.log(hours / 48.0), 0.0)
    pace, slow = Pace(0.3, np.array([0.1])), Late(0.25)
    np.testing.assert_allclose(
        (pace.covariance(at, at) + slow.covariance(at, at))[0], np.cov(drawn.T), atol=2e-3
    )
    np.testing.assert_allclose((pace.variance(at) + slow.variance(at))[0], drawn.var(axis=0), atol=2e-3)
    own = pace.with_own(at, np.array([1, 0]))[0]
    expected = [[np.mean(drawn[:, k] * d[:, cast]) for cast in (1, 0)] for k in range(3)]
    np.testing.assert_allclose(own, expected, atol=2e-3)
    np.testing.assert_allclose(slow.with_own(at)[0, :, 0], (drawn * s[:, None]).mean(axis=0), atol=2e-3)


# ---- load ------------------------------------------------------------------------


def test_pigment_stiffens_and_says_how_unsure_that_is():
    """A map made without pigment, asked at 10 %: a rung harder as the prior has it, and less sure."""
    fitted = HardnessModel(WORDS).fit(pd.concat([USUAL] * 6), ["right"] * 6)
    none, some, more = (fitted.predict(USUAL, load=each) for each in (None, 0.1, 0.2))
    assert some["hardness"][0] - none["hardness"][0] == pytest.approx(1.0)
    assert some["sd"][0] ** 2 - none["sd"][0] ** 2 == pytest.approx(0.8**2)
    assert more["sd"][0] > some["sd"][0]
    pd.testing.assert_frame_equal(fitted.predict(USUAL, load=0.0), none)


def test_notes_at_several_loads_narrow_it_and_may_overrule_it():
    loads = np.tile([0.0, 0.05, 0.1], 6)
    notes = np.tile(["firm", "right", "softish"], 6)
    fitted = HardnessModel(WORDS).fit(pd.concat([USUAL] * 18), notes, load=loads)
    told = fitted.predict(pd.concat([USUAL] * 3), load=[0.0, 0.05, 0.1])
    assert (np.diff(told["hardness"]) < -0.4).all()
    unloaded = HardnessModel(WORDS).fit(pd.concat([USUAL] * 18), notes)
    assert told["sd"].iloc[2] < unloaded.predict(USUAL, load=0.1)["sd"][0]
    pd.testing.assert_series_equal(
        fitted.predict(USUAL).iloc[0], fitted.predict(USUAL, load=0.05).iloc[0]
    )  # the mean of the fit


def test_a_labelled_cast_keeps_its_load():
    fitted = fit(load=[0.0, 0.1, 0.2])
    shares = brute.shares()
    told = fitted.predict(shares, pour=brute.POURS)
    np.testing.assert_allclose(told, fitted.predict(shares, pour=brute.POURS, load=[0.0, 0.1, 0.2]))


def test_what_is_poured_next_depends_on_the_load():
    region = Region({"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)})
    rows = [(0.4, 0.5, 0.1), (0.4, 0.4, 0.2), (0.4, 0.3, 0.3)] * 4
    fitted = HardnessModel(WORDS).fit(pd.DataFrame(rows, columns=brute.PARTS), ["soft", "right", "hard"] * 4)
    none, much = (next_pour(fitted, region, "right", explore=False, load=each) for each in (None, 0.15))
    assert much["wax"][0] < none["wax"][0] - 0.02
    assert much["chance"][0] < none["chance"][0]


# ---- days and testers ------------------------------------------------------------


def test_one_day_tells_nothing_about_days():
    """Wider for a fresh day, never narrower; and it says so."""
    shares, notes = pd.concat([USUAL] * 8), ["right", "firm"] * 4
    without = HardnessModel(WORDS).fit(shares, notes)
    one = HardnessModel(WORDS).fit(shares, notes, day=["Mon"] * 8)
    several = HardnessModel(WORDS).fit(shares, notes, day=list("abcdefgh"))
    sd = [each.predict(USUAL)["sd"][0] for each in (without, one, several)]
    spread = [
        np.ptp(each.surface.note_band(each._sites(USUAL, 48.0)[0], 0.9)) for each in (without, one, several)
    ]
    assert sd[1] > sd[0]
    assert spread[1] > max(spread[0], spread[2])
    assert "poured on one day" in one.cautions[0]
    assert not without.cautions
    nameless = HardnessModel(WORDS).fit(shares, notes, day=[None] * 8).predict(USUAL)
    pd.testing.assert_frame_equal(nameless, without.predict(USUAL))


def test_days_that_differ_are_told_from_casts():
    """All hard on one day and soft on the other: a fresh day may be either, a cast of Monday is hard."""
    shares, day = pd.concat([USUAL] * 12, ignore_index=True), ["Mon"] * 6 + ["Tue"] * 6
    fitted = HardnessModel(WORDS).fit(shares, ["firm"] * 6 + ["softish"] * 6, pour=range(12), day=day)
    told = fitted.predict(shares[:3], pour=[0, 6, None])
    assert told["firm"][0] > told["firm"][2] > told["firm"][1]
    calm = HardnessModel(WORDS).fit(shares, ["firm", "softish"] * 6, pour=range(12), day=day)
    ratio = [
        each.surface.weight @ (each.surface.priors.day_sd / each.surface.priors.note_sd)
        for each in (fitted, calm)
    ]
    assert ratio[0] > ratio[1]


def test_a_harsh_hand_is_taken_out():
    """One feels all a rung harder than the other; with only one the name changes nothing."""
    shares = pd.concat([brute.shares()] * 8, ignore_index=True)
    words = ["softish", "right", "firm"] * 4 + ["right", "firm", "hard"] * 4
    who, pours = ["Ann"] * 12 + ["Bo"] * 12, [*range(12)] * 2
    known = HardnessModel(WORDS).fit(shares, words, pour=pours, tester=who)
    blind = HardnessModel(WORDS).fit(shares, words, pour=pours)
    scatter = [each.surface.weight @ each.surface.priors.note_sd for each in (known, blind)]
    assert scatter[0] < scatter[1]
    alone = HardnessModel(WORDS).fit(shares, words, pour=pours, tester=["Ann"] * 24)
    np.testing.assert_allclose(alone.predict(USUAL), blind.predict(USUAL))


# ---- hours past two days ---------------------------------------------------------


def test_late_is_nil_until_two_days_and_for_a_set_stick():
    assert late([0.0, 47.9, 48.0, np.inf]).tolist() == [0.0] * 4
    assert late(48.0 * np.e) == pytest.approx(1.0)


@pytest.mark.parametrize(("word", "sign"), [("softish", -1.0), ("firm", 1.0)])
def test_weeks_may_soften_or_harden(word, sign):
    """Right at two days, another word at four weeks: the curve follows, and at 48 hours it stays right."""
    shares, pours = pd.concat([USUAL] * 12), np.repeat(np.arange(6), 2)
    fitted = HardnessModel(WORDS).fit(shares, ["right", word] * 6, [48.0, 672.0] * 6, pours)
    curve = fitted.set_curve(USUAL, [24.0, 48.0, 672.0])
    assert sign * (curve["hardness"][2] - curve["hardness"][1]) > 0.35
    assert abs(fitted.predict(USUAL)["hardness"][0] - 2.0) < 0.3


def test_nothing_felt_late_leaves_weeks_open():
    fitted = HardnessModel(WORDS).fit(pd.concat([USUAL] * 6), ["right"] * 6, [48.0] * 6)
    curve = fitted.set_curve(USUAL, [48.0, 168.0, 672.0])
    assert (np.diff(curve["high"] - curve["low"]) > 0.05).all()
    assert curve["hardness"][2] == pytest.approx(curve["hardness"][1], abs=0.1)


def test_a_cast_that_set_at_its_own_pace_is_followed():
    """Softer than others at two hours and like them when set: its own forecast at two hours is softer."""
    shares = pd.concat([USUAL] * 16, ignore_index=True)
    pours, hours = np.repeat(np.arange(4), 4), [2.0, 2.0, 48.0, 48.0] * 4
    words = ["softish", "softish", "right", "right"] * 3 + ["soft", "soft", "right", "right"]
    told = HardnessModel(WORDS).fit(shares, words, hours, pours)
    early, later = (
        told.predict(USUAL, when, 3)["hardness"][0] - told.predict(USUAL, when, 0)["hardness"][0]
        for when in (2.0, 48.0)
    )
    assert early < later - 0.03


# ---- what cannot be --------------------------------------------------------------

BAD = {
    "a load in percent": (
        {"load": [0.0, 10.0, 0.1]},
        "Row 2: a pigment load of 10 cannot be.*write 0.1 for 10 %",
    ),
    "a load below 0": ({"load": [0.0, -0.1, 0.1]}, "Row 2: a pigment load of -0.1 cannot be"),
    "a load missing": ({"load": [0.0, None, 0.1]}, "Row 2: the pigment load is missing. Write 0 for none"),
    "a load in words": ({"load": "much"}, "“much” is no pigment load"),
    "too few loads": ({"load": [0.1]}, "3 rows of shares but 1 load;"),
    "too few days": ({"day": ["Mon"]}, "3 rows of shares but 1 day;"),
    "one day as a text": ({"day": "Mon"}, "One day per row is needed; “Mon” is a single one"),
    "a day that is a list": ({"day": [["Mon"], "Mon", "Tue"]}, "Row 1: .* is no day"),
    "too few testers": ({"tester": ["Ann", "Bo"]}, "3 rows of shares but 2 testers"),
}


@pytest.mark.parametrize(("given", "said"), BAD.values(), ids=BAD)
def test_what_cannot_be(given, said):
    with pytest.raises(LabError, match=said):
        fit(**given)


@pytest.mark.parametrize(("name", "values"), [("day", ["Mon", "Tue"]), ("load", [0.0, 0.1])])
def test_one_pour_has_one_day_and_one_load(name, values):
    shares = pd.concat([USUAL] * 2)
    with pytest.raises(LabError, match=r"Row 2 gives pour “a” another .*than row 1"):
        HardnessModel(WORDS).fit(shares, ["right", "right"], pour=["a", "a"], **{name: values})


def test_a_day_named_once_holds_for_the_whole_pour():
    shares = pd.concat([USUAL] * 3)
    given = {"shares": shares, "notes": ["right"] * 3, "pour": ["a", "a", "b"]}
    models = [
        HardnessModel(WORDS).fit(**given, day=day) for day in (["Mon", None, "Tue"], ["Mon", "Mon", "Tue"])
    ]
    np.testing.assert_allclose(models[0].predict(USUAL), models[1].predict(USUAL))


def test_a_doubled_index_and_an_empty_column():
    doubled = brute.shares().set_axis([0, 0, 1])
    told = HardnessModel(WORDS).fit(doubled, pd.Series(["soft", "right", "hard"], [5, 5, 5])).predict(doubled)
    assert told.index.tolist() == [0, 0, 1]
    with pytest.raises(LabError, match="Row 1: wax is missing or no number"):
        HardnessModel(WORDS).fit(brute.shares().assign(wax=np.nan), ["soft", "right", "hard"])


# ---- many sets of sizes ----------------------------------------------------------


def test_hopeless_sets_left_out_early_change_nothing(monkeypatch):
    """Days and readings make 720 sets: a rough look drops most, and the answer is that of all of them."""
    rng = np.random.default_rng(1)
    shares = pd.DataFrame(rng.dirichlet([8, 8, 4], 12), columns=brute.PARTS)
    words = [WORDS[each] for each in rng.integers(0, 5, 12)]
    given = {"hours": [3.0, 50.0] * 6, "day": list("aabbccddeeff"), "penetration": rng.uniform(30, 90, 12)}
    quick = HardnessModel(WORDS).fit(shares, words, **given).predict(shares)
    monkeypatch.setattr("labkit.texture.surface._MANY", 10**9)
    whole = HardnessModel(WORDS).fit(shares, words, **given).predict(shares)
    np.testing.assert_allclose(quick, whole, rtol=0, atol=1e-9)
