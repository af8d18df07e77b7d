"""Earlier trials as knowledge: against brute force, in simulation, and what cannot be."""

import numpy as np
import pandas as pd
import pytest

from labkit.errors import LabError
from labkit.texture.earlier import Earlier, alikeness
from labkit.texture.hardness import HardnessModel
from tests.bench.makers import NOTES, PARTS, WORDS, excess, make_maker
from tests.texture import brute

OLD = brute.ROWS[::-1]


def fit(earlier, priors=None):
    model = HardnessModel(brute.WORDS, priors=priors)
    return model.fit(brute.shares(), brute.WORDS, brute.HOURS, brute.POURS, earlier=earlier)


# ---- against brute force ---------------------------------------------------------


@pytest.mark.parametrize("alike", [1.0, 0.5])
def test_against_draws_from_the_prior(alike):
    """Level and straight effect of its own, and each of its notes to the power `alike`."""
    fitted = fit([Earlier(brute.shares(OLD), ["softish", "right", "right"], alike=alike)], brute.two_sets())
    sizes = {"offset_level_sd": 0.3 + 1.2 * (1 - alike), "offset_slope_sd": 1.0 + 8.0 * (1 - alike)}
    past = [
        {"shares": row, "hours": np.inf, "pour": at, "trial": 0, "weight": alike}
        for at, row in enumerate(OLD)
    ]
    brute.check(fitted, brute.two_sets(), [0, 1, 2, 0, 1, 1], places=[{}, {}, {}, *past], sizes=sizes)


def test_what_is_not_alike_changes_nothing():
    """Exactly at 0, and the less the smaller it is: here 30 notes that contradict one's own."""
    priors = brute.two_sets(0.65)
    asked, without = brute.shares(), fit(None, priors).predict(brute.shares())
    past, likenesses = (brute.shares(OLD * 10), ["firm"] * 30), (0.0, 1e-4, 1e-2, 0.3, 1.0)
    told = [fit([Earlier(*past, alike=each)], priors).predict(asked) for each in likenesses]
    np.testing.assert_allclose(told[0], without, rtol=0, atol=1e-12)
    off = [np.abs(each[brute.WORDS] - without[brute.WORDS]).max(axis=None) for each in told]
    assert off == sorted(off)
    assert off[1] < 0.001


def test_earlier_pours_are_not_ones_own():
    fitted = fit([Earlier(brute.shares(OLD), ["softish"] * 3, pour=["a", "b", "c"])])
    assert fitted.pours == 3
    pd.testing.assert_frame_equal(fitted.poured, brute.shares())


def test_order_and_names_of_earlier_trials_do_not_matter():
    one, two = (
        Earlier(brute.shares(), ["firm"] * 3, alike=0.7),
        Earlier(brute.shares(OLD), ["right"] * 3, alike=0.4),
    )
    turned = Earlier(brute.shares(OLD)[["wax", "oil", "butter"]], ["right"] * 3, alike=0.4, name="old")
    np.testing.assert_allclose(
        fit([one, two]).predict(brute.shares()), fit([turned, one]).predict(brute.shares())
    )


# ---- what they are worth ---------------------------------------------------------


def scores(alike, other):
    """Excess score of 30 makers at 4 pours without and with 12 earlier ones, theirs or of another truth."""
    found = []
    for seed in range(30):
        maker, rng = make_maker(seed), np.random.default_rng([seed, 12])
        at = maker.region.grid(100)
        mine, past = (at[rng.choice(len(at), count, replace=False)] for count in (4, 12))
        table, old = (pd.DataFrame(np.repeat(each, NOTES, axis=0), columns=PARTS) for each in (mine, past))
        notes, pour = maker.pour(mine, rng), np.repeat(np.arange(4), NOTES)
        earlier = Earlier(
            old,
            make_maker(seed + 500 * other).pour(past, rng),
            pour=np.repeat(np.arange(12), NOTES),
            alike=alike,
        )
        models = [
            HardnessModel(WORDS).fit(table, notes, pour=pour, earlier=each) for each in (None, [earlier])
        ]
        told = [each.predict(pd.DataFrame(at, columns=PARTS), hours=None)[list(WORDS)] for each in models]
        found.append([excess(each.to_numpy(), maker.chances(at)) for each in told])
    return np.array(found)


def test_an_earlier_trial_of_the_same_truth_helps():
    """Paired by maker: the gain lies more than three standard errors above 0."""
    found = scores(1.0, other=False)
    gain = found[:, 0] - found[:, 1]
    assert gain.mean() > 3.0 * gain.std() / np.sqrt(len(gain))


def test_an_earlier_trial_of_another_truth_hurts_little_if_it_is_called_unlike():
    """Another maker's surface, called 0.3 alike: not worse than without it by more than 0.01 on average."""
    found = scores(0.3, other=True)
    assert (found[:, 1] - found[:, 0]).mean() < 0.01


# ---- how alike -------------------------------------------------------------------


def test_alikeness():
    """By hand: 0.2 + 0.8·overlap for each part, multiplied; then 1 − 3·what differs in what is held."""
    one = {"wax": {"beeswax": 3.0, "candelilla": 1.0}, "oil": {"castor": 1.0}}
    other = {"oil": {" CASTOR ": 5.0}, "wax": {"beeswax": 1.0, "carnauba": 1.0}}
    assert alikeness(one, other) == pytest.approx(0.2 + 0.8 * 0.5) == alikeness(other, one)
    assert alikeness(one, one) == 1.0
    assert alikeness(one, {"wax": {"carnauba": 1.0}, "oil": {"jojoba": 1.0}}) == pytest.approx(0.04)
    assert alikeness(one, one, {"red oxide": 0.1}, {}) == pytest.approx(0.7)
    assert alikeness(one, one, {"red oxide": 0.2}, {"mica": 0.2}) == 0.0


def test_parts_that_cannot_be_compared():
    with pytest.raises(LabError, match="other parts: wax; oil"):
        alikeness({"wax": {"a": 1.0}}, {"oil": {"a": 1.0}})
    with pytest.raises(LabError, match="“wax” needs ingredients"):
        alikeness({"wax": {"a": 1.0}}, {"wax": {}})


# ---- what cannot be --------------------------------------------------------------

GOOD = {"shares": brute.shares(), "notes": ["right"] * 3, "name": "spring"}
BAD = {
    "another ladder": (
        {"notes": ["right", "mushy", "rock"]},
        "“spring”: it was noted with other words .“mushy”, “rock”",
    ),
    "other parts": (
        {"shares": brute.shares().rename(columns={"wax": "cera"})},
        "“spring”: The part “wax” is missing",
    ),
    "shares off": ({"shares": brute.shares() * 0.9}, "“spring”: Row 1 adds up to 0.9"),
    "no word": ({"notes": ["right", None, "right"]}, "“spring”: Row 2: there is no word"),
    "too few notes": ({"notes": ["right"]}, "“spring”: There are 3 rows of shares but 1 note"),
    "more than alike": ({"alike": 1.5}, "“spring”: alike is 1.5, and it lies from 0 to 1"),
    "alike in words": ({"alike": "very"}, "“spring”: alike is 'very'"),
    "hours before the pour": ({"hours": -1.0}, "“spring”: .*before its pour"),
}


@pytest.mark.parametrize(("given", "said"), BAD.values(), ids=BAD)
def test_earlier_trials_that_cannot_be(given, said):
    with pytest.raises(LabError, match=said):
        fit([Earlier(**(GOOD | given))])


def test_what_is_no_earlier_trial():
    for given in (3, ["spring"], brute.shares()):
        with pytest.raises(LabError, match="a list of Earlier"):
            fit(given)


def test_too_many_earlier_pours():
    past = Earlier(pd.concat([brute.shares()] * 140), ["right"] * 420)
    with pytest.raises(LabError, match=r"at most 400 pours.*423"):
        fit([past])
