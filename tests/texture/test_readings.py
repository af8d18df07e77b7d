"""Readings with an instrument: against brute force, in simulation, and what cannot be."""

import numpy as np
import pandas as pd
import pytest

from labkit.errors import LabError
from labkit.texture.hardness import HardnessModel
from labkit.texture.penetration import Instrument
from labkit.texture.readings import ReadingRows, read_penetration
from labkit.texture.touch import Touch
from tests.bench.makers import NOTES, WORDS, excess, make_maker
from tests.texture import brute

DEPTHS = [120.0, 70.0, 30.0]
ROD = Instrument("rod", rod_mm=4.0)


def model():
    return HardnessModel(brute.WORDS, priors=brute.two_sets())


# ---- against brute force ---------------------------------------------------------


@pytest.mark.parametrize("words", [(0, 1, 2), (None, None, None), (0, None, 2)])
def test_against_draws_from_the_prior(words):
    """Words and readings, readings alone, some of each; α and β drawn from their prior.

    Three readings leave β wide, where Laplace errs by 0.006 in a chance and 0.05 rungs (found here).
    """
    notes = [None if each is None else brute.WORDS[each] for each in words]
    fitted = model().fit(brute.shares(), notes, brute.HOURS, brute.POURS, DEPTHS)
    seen = {"readings": list(-np.log(DEPTHS)), "draws": 600_000, "within": (0.009, 0.06, 0.015)}
    brute.check(fitted, brute.two_sets().with_readings(), list(words), **seen)


def rows(sd=0.4):
    touch = Touch([np.array([0, 1, 1])], [np.ones((1, 3))])
    return ReadingRows(touch, np.array([-0.5, 0.1, 0.4]), 2, 4, np.array([sd, 2 * sd]))


def test_value_is_the_density_of_a_straight_line():
    """Reading = a + b·hardness + noise with b = 1/β, a = −α/β, noise sd/β: the usual density."""
    from scipy.stats import norm

    alpha, beta = 1.5, 2.5
    at = np.tile([1.0, 2.2, alpha, beta], (2, 1))
    hardness = np.array([1.0, 2.2, 2.2])
    for each, sd in enumerate((0.4, 0.8)):
        expected = norm.logpdf([-0.5, 0.1, 0.4], (hardness - alpha) / beta, sd / beta).sum()
        assert rows().value(at)[each] == pytest.approx(expected, rel=1e-12)
    assert rows().value(np.tile([1.0, 2.2, alpha, -beta], (2, 1))).tolist() == [-np.inf, -np.inf]


def test_slopes_by_differences():
    at, step = np.array([[1.0, 2.2, 1.5, 2.5], [0.3, 2.0, 1.0, 0.7]]), 1e-5
    gradient, curvature = rows().slopes(at)
    for each in range(4):
        off = step * np.eye(4)[each]
        by_value = (rows().value(at + off) - rows().value(at - off)) / (2 * step)
        np.testing.assert_allclose(gradient[:, each], by_value, rtol=1e-6, atol=1e-8)
        by_slope = (rows().slopes(at + off)[0] - rows().slopes(at - off)[0]) / (2 * step)
        np.testing.assert_allclose(-curvature[:, each], by_slope, rtol=1e-6, atol=1e-7)


# ---- what they are worth ---------------------------------------------------------


@pytest.fixture(scope="module")
def told():
    """Excess score of 40 invented makers at 8 pours without and with readings; stated and true chances.

    One word and one reading a pour; readings scatter by a tenth.
    """
    scores, stated, true = [], [], []
    for seed in range(40):
        maker, rng = make_maker(seed), np.random.default_rng([seed, 11])
        at = maker.region.grid(120)
        shares = at[rng.choice(len(at), 8, replace=False)]
        cast, notes = maker.pour_felt(shares, rng)
        depth = np.exp(4.2 - 0.4 * cast + rng.normal(0.0, 0.1, 8))
        table, asked = (pd.DataFrame(each, columns=list(maker.region.parts)) for each in (shares, at))
        models = [HardnessModel(WORDS).fit(table, notes[::NOTES], penetration=each) for each in (None, depth)]
        chances = [model.predict(asked, hours=None)[list(WORDS)].to_numpy() for model in models]
        scores.append([excess(each, maker.chances(at)) for each in chances])
        stated.append(chances[1].ravel())
        true.append(maker.chances(at).ravel())
    return np.array(scores), np.concatenate(stated), np.concatenate(true)


def test_readings_beside_words_make_a_better_map(told):
    """Paired by maker: the gain lies more than two standard errors above 0."""
    gain = told[0][:, 0] - told[0][:, 1]
    assert gain.mean() > 2.0 * gain.std() / np.sqrt(len(gain))


def test_chances_from_readings_are_honest(told):
    """Tenths with a twentieth of the statements; rarer ones from 0.5 up are too high by 4 to 12 points."""
    _, stated, true = told
    tenth = np.minimum((10 * stated).astype(int), 9)
    means = pd.DataFrame({"stated": stated, "true": true}).groupby(tenth).agg(["mean", "size"])
    gap = (means["stated"]["mean"] - means["true"]["mean"]).abs()
    often = means["stated"]["size"] >= 0.05 * len(stated)
    assert often.sum() >= 5
    assert gap[often].max() < 0.06
    assert gap.max() < 0.13


def test_readings_alone_order_pours_and_leave_words_open():
    """The ladder is tied to readings by the prior only: which is harder is told, what it is called is not."""
    rng, wax = np.random.default_rng(4), np.linspace(0.3, 0.1, 8)
    shares = pd.DataFrame({"oil": 1.0 - wax, "wax": wax})
    depth = np.exp(4.0 - 8.0 * (wax - 0.2) + rng.normal(0.0, 0.15, 8))
    fitted = HardnessModel(WORDS).fit(shares, None, penetration=depth)
    found = fitted.predict(shares)
    assert (np.diff(found["hardness"]) < 0).all()
    assert found[list(WORDS)].to_numpy()[2:6].max() < 0.5
    assert found["sd"].min() > 1.0
    assert "No stick has a word yet" in fitted.cautions[0]
    one = HardnessModel(WORDS).fit(shares, ["firm"] * 3 + [None] * 5, penetration=depth)
    assert one.predict(shares)["sd"].max() < found["sd"].min()
    assert not one.cautions


def test_a_rod_reads_the_other_way_and_units_do_not_matter():
    """ln(grams) rises with hardness as −ln(depth) does; a factor on all readings changes nothing."""
    shares, words = brute.shares(), list(brute.WORDS)
    plain = HardnessModel(words).fit(shares, words, penetration=DEPTHS)
    for readings, instrument in (
        (10.0 / np.array(DEPTHS), ROD),
        (np.array(DEPTHS) * 1.5, None),
        (DEPTHS, Instrument("needle", load_g=100.0)),
    ):
        same = HardnessModel(words).fit(shares, words, penetration=readings, instrument=instrument)
        np.testing.assert_allclose(same.predict(shares), plain.predict(shares), atol=1e-9)


def test_a_deeper_reading_is_a_softer_stick():
    shares = pd.DataFrame([brute.ROWS[1]] * 6, columns=brute.PARTS)
    words = ["softish", "softish", "firm", "firm", None, None]
    depth = [100.0, 95.0, 40.0, 42.0, 120.0, 30.0]
    fitted = HardnessModel(brute.WORDS).fit(shares, words, pour=list("abcdef"), penetration=depth)
    found = fitted.predict(shares.iloc[4:], pour=["e", "f"])
    assert found["hardness"].iloc[1] > found["hardness"].iloc[0] + 0.5


# ---- what cannot be --------------------------------------------------------------

BAD = {
    "nothing sank in": ({"penetration": [60, 0, 30]}, "Reading 2 is 0 × 0.1 mm"),
    "below 0": ({"penetration": [60, 20, -3]}, "Reading 3 is -3"),
    "deeper than the cone": ({"penetration": [60, 900, 30]}, "Reading 2 is 900 × 0.1 mm, beyond the 620"),
    "no number": ({"penetration": [60, "deep", 30]}, "not all numbers"),
    "too few": ({"penetration": [60, 20]}, "3 rows of shares but 2 readings"),
    "one number": ({"penetration": 60}, "One reading per row"),
    "neither word nor reading": (
        {"notes": ["right", None, "firm"], "penetration": [None, None, 30]},
        "Row 2: there is no word",
    ),
    "nothing at all": ({"notes": None, "penetration": None}, "One note per row is needed, and there is none"),
    "readings all NaN": ({"notes": None, "penetration": [np.nan] * 3}, "One note per row is needed"),
    "an instrument by name": (
        {"penetration": [60, 50, 30], "instrument": "cone"},
        "make one with Instrument",
    ),
    "beyond the needle": (
        {"penetration": [60, 300, 30], "instrument": Instrument("needle", load_g=100.0)},
        "Reading 2 is 300 × 0.1 mm, beyond the 250",
    ),
}


@pytest.mark.parametrize(("given", "said"), BAD.values(), ids=BAD)
def test_readings_that_cannot_be(given, said):
    with pytest.raises(LabError, match=said):
        HardnessModel(brute.WORDS).fit(**{"shares": brute.shares(), "notes": brute.WORDS} | given)


def test_missing_readings_in_any_form():
    for nothing in (None, np.nan, pd.NA, pd.NaT):
        assert np.isnan(read_penetration([50, nothing], None, 2)).tolist() == [False, True]
    assert np.isnan(read_penetration(pd.Series([50, None]), None, 2)).tolist() == [False, True]
