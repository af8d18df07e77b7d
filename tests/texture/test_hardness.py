"""The hardness model against brute force, its mirror images, and what a maker may get wrong."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from labkit.errors import LabError
from labkit.texture.effects import builder
from labkit.texture.hardness import HardnessModel
from labkit.texture.priors import Priors, grid_of_priors
from labkit.texture.terms import Sites, prior_covariance, prior_mean
from tests.texture.literal import by_sampling, covariance
from tests.texture.made import note_rows

LADDER = ["soft", "softish", "right", "firm", "hard"]
PARTS = ["butter", "oil", "wax"]


def table(*rows):
    return pd.DataFrame(rows, columns=PARTS)


USUAL, WAXY, OILY = (0.4, 0.45, 0.15), (0.35, 0.4, 0.25), (0.3, 0.6, 0.1)


@pytest.fixture
def trial():
    """Six pours, two notes each, one of them early."""
    rng = np.random.default_rng(3)
    shares = rng.dirichlet([8.0, 8.0, 4.0], 6)
    rung = np.clip(np.round(2 + 18 * (shares[:, 2] - 0.2)), 0, 4).astype(int)
    notes = [LADDER[each] for each in np.repeat(rung, 2)]
    hours = np.tile([3.0, 48.0], 6)
    return pd.DataFrame(np.repeat(shares, 2, axis=0), columns=PARTS), notes, hours, np.repeat(np.arange(6), 2)


@pytest.fixture
def fitted(trial):
    return HardnessModel(LADDER).fit(*trial)


# ---- against brute force ---------------------------------------------------------


NOTES = {"rising": (0, 1, 2), "all hard": (2, 2, 2), "separated": (0, 0, 2)}
HOURS = [5.0, np.inf, np.inf]
ASKED = [(0.33, 0.45, 0.22), USUAL]


def two_sets(note_sd, half=np.inf):
    """Two sets of sizes that differ in all of them; notes as vague as said, the second wax with a half."""
    sizes = [[note_sd, 0.3, 4.0, 0.5, 0.2, 0.1], [2.0 * note_sd, 0.6, 9.0, 0.9, 0.15, 0.3]]
    return Priors(*np.array(sizes).T, half=np.array([np.inf, half]))


def by_brute_force(notes, priors, pours=(None, None)):
    shares = table(OILY, USUAL, WAXY)
    fixed = {"level": 1.0, "level_sd": 1.0, "gain": 2.0, "gain_sd": 1.5}
    fixed |= {"centre": shares.mean().tolist(), "lean": [0.0, 0.0, 14.0], "lean_sd": [0.0, 0.0, 7.0]}
    fixed |= {"pace_sd": 0.3, "late_sd": 0.25}
    names = ("note_sd", "cast_sd", "slope_sd", "bend_sd", "length", "half")
    sizes = [
        {name: getattr(priors, name)[each] for name in names} | {"rate": priors.rate_per_h[each]} | fixed
        for each in range(2)
    ]
    rows = shares.to_numpy()
    places = [{"shares": rows[at], "hours": HOURS[at], "pour": at} for at in range(3)]
    asked = [{"shares": row, "hours": 20.0, "pour": pour} for row, pour in zip(ASKED, pours, strict=True)]
    rng = np.random.default_rng(0)
    return by_sampling(places, list(notes), asked, 3, sizes, edge_sd=0.25, draws=200_000, rng=rng)


SHARP = {"rising": (0.03, 0.12, 0.06), "all hard": (0.07, 0.32, 0.06), "separated": (0.03, 0.13, 0.06)}


@pytest.mark.parametrize("vague", [True, False], ids=["vague", "sharp"])
@pytest.mark.parametrize("kind", NOTES)
def test_against_draws_from_the_prior(kind, vague):
    """Chances, hardness and sd, averaged over two sets of sizes, against weighted draws from the prior.

    The reference knows no Newton and no Laplace; its own error is below 0.002 in a chance.
    Vague notes (sd 3 and 6 rungs) leave Laplace next to nothing to get wrong: every term,
    threshold and weight must be right. Three sharp notes are its worst case: its mode lies
    nearer the middle than the mean does, by 0.06 in a chance where all notes are the
    hardest word (found here; on the side of caution).
    """
    notes, note_sd = NOTES[kind], 3.0 if vague else 0.6
    chance, rungs, ratio = (0.003, 0.02, 0.01) if vague else SHARP[kind]
    words, priors = LADDER[1:4], two_sets(note_sd, 0.05 if vague else np.inf)
    model = HardnessModel(words, priors=priors)
    model.fit(table(OILY, USUAL, WAXY), [words[each] for each in notes], HOURS)
    found = model.predict(table(*ASKED), hours=20.0)
    chances, hardness, sd = by_brute_force(notes, priors)
    np.testing.assert_allclose(found[words], chances, rtol=0, atol=chance)
    np.testing.assert_allclose(found["hardness"], hardness, rtol=0, atol=rungs)
    np.testing.assert_allclose(found["sd"], sd, rtol=ratio)


@pytest.mark.parametrize("kind", NOTES)
def test_one_more_note_of_a_cast_against_draws_from_the_prior(kind):
    """The cast's own notes count, and only the scatter of notes is left; a row without label is fresh."""
    priors, words = two_sets(3.0, 0.05), LADDER[1:4]
    model = HardnessModel(words, priors=priors)
    model.fit(table(OILY, USUAL, WAXY), [words[each] for each in NOTES[kind]], HOURS, ["a", "b", "c"])
    found = model.predict(table(*ASKED), 20.0, [None, "b"])
    chances, hardness, sd = by_brute_force(NOTES[kind], priors, (None, 1))
    np.testing.assert_allclose(found[words], chances, rtol=0, atol=0.003)
    np.testing.assert_allclose(found["hardness"], hardness, rtol=0, atol=0.02)
    np.testing.assert_allclose(found["sd"], sd, rtol=0.01)


def test_a_cast_is_told_from_a_fresh_pour_of_its_composition():
    """Nine hard notes of one cast among right ones: the next note of that very cast is hard."""
    shares, notes = table(*[USUAL] * 27), ["right"] * 9 + ["hard"] * 9 + ["right"] * 9
    model = HardnessModel(LADDER).fit(shares, notes, pour=np.repeat([7, 8, 9], 9))
    told = model.predict(table(USUAL, USUAL, USUAL), pour=[7, 8, np.nan])
    assert told["hard"][1] > told["hard"][2] + 0.1 > told["hard"][0] + 0.1
    alone = model.predict(table(USUAL), pour=8)
    pd.testing.assert_series_equal(alone.iloc[0], told.iloc[1], check_names=False)
    pd.testing.assert_frame_equal(model.predict(table(USUAL)), model.predict(table(USUAL), pour=[None]))


def test_the_words_of_a_cast_fall_into_the_band_of_one_note(fitted):
    """The chance of hardness plus scatter below each end, by predict's own mixture: 5 and 95 in 100."""
    hours = [1.0, 12.0, 48.0]
    shares = fitted.poured.iloc[[2]]
    for pour in (None, 2):
        curve = fitted.set_curve(shares, hours, pour)
        at, _ = fitted._sites(pd.concat([shares] * 3), hours, pour)
        surface = fitted.surface
        cross, mean = surface._cross(at)
        sd = np.sqrt(surface._variance(at, cross) + surface.note_noise(at))
        for end, chance in (("note_low", 0.05), ("note_high", 0.95)):
            below = surface.weight @ norm.cdf((curve[end].to_numpy() - mean) / sd)
            np.testing.assert_allclose(below, chance, rtol=0, atol=1e-9)
        assert (curve["note_low"] < curve["low"]).all()
        assert (curve["note_high"] > curve["high"]).all()
        told = fitted.predict(pd.concat([shares] * 3), hours, pour)
        np.testing.assert_allclose(curve["hardness"], told["hardness"])
    fresh, own = (fitted.set_curve(shares, [48.0], pour) for pour in (None, 2))
    assert (own["note_high"] - own["note_low"])[0] < (fresh["note_high"] - fresh["note_low"])[0]


def dense(model, hours, rung, asked):
    """Mode and covariance of (readings, thresholds, asked) under each set of priors, the long way round.

    Every reading has a hardness of its own here, where the model has one for each cast and
    one start: its mode must solve these equations too.
    """
    surface, at = model.surface, model._sites(asked, 48.0)[0]
    cast, known, words, new = np.repeat(np.arange(6), 2), len(rung), len(model.scale), len(asked)
    felt = Sites(surface.at.shares[cast], hours, cast)
    for each in range(len(surface.weight)):
        sizes = surface.priors.take(np.array([each]))
        terms = builder(model.gathered, None, words)(sizes)
        everywhere = known + words - 1 + new
        prior, mean = np.zeros((everywhere, everywhere)), np.zeros(everywhere)
        mean[known : known + words - 1] = np.arange(words - 1) + 0.5
        prior[known : known + words - 1, known : known + words - 1] = 0.25**2 * np.eye(words - 1)
        places = {"felt": (slice(0, known), felt), "new": (slice(known + words - 1, None), at)}
        for a, here in places.values():
            mean[a] = prior_mean(terms.surface, here)[0]
            for b, there in places.values():
                prior[a, b] = prior_covariance([*terms.surface, *terms.casual], here, there)[0]
        found = surface.posterior.mode[each]
        edges = found[surface.layout.first_edge :]
        hardness = found[cast] + np.exp(-sizes.rate_per_h * hours) * (found[6] + found[8:14][cast])
        rows = note_rows(np.arange(known), rung, np.zeros((1, known)), known, words, sizes.note_sd)
        gradient, curvature = rows.slopes(np.concatenate([hardness, [0.0], edges])[None])
        here = np.delete(np.arange(known + words), known)
        wide = np.zeros((everywhere, everywhere))
        wide[: known + words - 1, : known + words - 1] = curvature[0][np.ix_(here, here)]
        mode = mean + prior @ np.append(gradient[0][here], np.zeros(new))
        np.testing.assert_allclose(mode[: known + words - 1], [*hardness, *edges], atol=1e-7)
        yield sizes, mode, prior @ np.linalg.inv(np.eye(everywhere) + wide @ prior)


def test_chances_and_gaps_from_one_dense_covariance(trial):
    """Every covariance between surface and thresholds, none left out, to rounding."""
    model = HardnessModel(LADDER).fit(*trial)
    rung = np.array([LADDER.index(word) for word in trial[1]])
    asked, wanted = table(USUAL, WAXY, (0.5, 0.3, 0.2)), 2
    known, chances, gaps = len(rung), np.zeros((3, 4)), []
    for weight, (sizes, mode, spread) in zip(
        model.surface.weight, dense(model, trial[2], rung, asked), strict=True
    ):
        pace = (0.3 * np.exp(-48.0 * sizes.rate_per_h[0])) ** 2
        noise = sizes.note_sd[0] ** 2 + sizes.cast_sd[0] ** 2 + pace
        for row in range(3):
            for k in range(4):
                off = np.zeros(len(mode))
                off[known + k], off[known + 4 + row] = 1.0, -1.0
                chances[row, k] += weight * norm.cdf(off @ mode / np.sqrt(off @ spread @ off + noise))
        turn = np.zeros((3, len(mode)))
        turn[:, known + 4 :] = np.eye(3)
        turn[:, known + wanted - 1 : known + wanted + 1] = -0.5
        gaps.append((weight, turn @ mode, turn @ spread @ turn.T, noise))
    told = model.predict(asked)
    np.testing.assert_allclose(np.cumsum(told[LADDER], axis=1).to_numpy()[:, :4], chances, rtol=0, atol=1e-7)
    middle = sum(weight * mean for weight, mean, _, _ in gaps)
    joint = sum(w * (cov + np.outer(m - middle, m - middle)) for w, m, cov, _ in gaps)
    found = model.gaps(asked, LADDER[wanted])
    np.testing.assert_allclose(found.mean, middle, atol=1e-7)
    np.testing.assert_allclose(found.covariance, joint, atol=1e-7)
    assert found.noise == pytest.approx(sum(weight * noise for weight, _, _, noise in gaps))


# ---- mirror images and orders ----------------------------------------------------


def test_order_of_rows_does_not_matter(trial, fitted):
    shares, notes, hours, pour = trial
    order = np.random.default_rng(0).permutation(len(notes))
    shuffled = HardnessModel(LADDER).fit(
        shares.iloc[order], [notes[at] for at in order], hours[order], pour[order]
    )
    at = table(USUAL, WAXY, OILY)
    np.testing.assert_allclose(shuffled.predict(at), fitted.predict(at), rtol=0, atol=1e-8)


def test_order_of_columns_does_not_matter(trial, fitted):
    shares, notes, hours, pour = trial
    turned = HardnessModel(LADDER).fit(shares[["wax", "butter", "oil"]], notes, hours, pour)
    at = table(USUAL, WAXY, OILY)
    for asked in (at, at[["oil", "wax", "butter"]]):
        np.testing.assert_allclose(turned.predict(asked), fitted.predict(at), rtol=0, atol=1e-8)


def test_names_of_pours_do_not_matter(trial, fitted):
    shares, notes, hours, pour = trial
    named = HardnessModel(LADDER).fit(
        shares, pd.Series(notes), pd.Series(hours), [f"<b>“{p}”</b>" for p in pour]
    )
    np.testing.assert_allclose(named.predict(table(WAXY)), fitted.predict(table(WAXY)), rtol=0, atol=1e-12)


def test_a_ladder_turned_round_gives_the_mirror_image(trial):
    shares, notes, _, pour = trial
    up = HardnessModel(LADDER, hardens=()).fit(shares, notes, pour=pour)
    down = HardnessModel(LADDER[::-1], hardens=()).fit(shares, notes, pour=pour)
    at = table(USUAL, WAXY, OILY)
    one, other = up.predict(at, hours=None), down.predict(at, hours=None)
    np.testing.assert_allclose(one[LADDER], other[LADDER], rtol=0, atol=1e-8)
    np.testing.assert_allclose(one["hardness"], 4.0 - other["hardness"], rtol=0, atol=1e-8)
    np.testing.assert_allclose(one["sd"], other["sd"], rtol=1e-8)


def test_the_same_every_time(trial, fitted):
    again = HardnessModel(LADDER).fit(*trial).predict(table(USUAL, OILY))
    pd.testing.assert_frame_equal(again, fitted.predict(table(USUAL, OILY)), check_exact=True)


# ---- what is told ----------------------------------------------------------------


def test_predict_gives_the_words_in_order_then_hardness_and_sd(fitted):
    at = table(USUAL, WAXY).set_axis(["a", "b"])
    told = fitted.predict(at)
    assert list(told.columns) == [*LADDER, "hardness", "sd"]
    assert list(told.index) == ["a", "b"]
    assert (told[LADDER] >= 0).all().all()
    np.testing.assert_allclose(told[LADDER].sum(axis=1), 1.0, rtol=0, atol=1e-12)
    assert told["hardness"]["b"] > told["hardness"]["a"]


def test_many_points_are_told_as_one_by_one(fitted):
    at = pd.DataFrame(np.random.default_rng(1).dirichlet([5, 5, 2], 2300), columns=PARTS)
    told = fitted.predict(at)
    for row in (0, 999, 1000, 2299):
        np.testing.assert_allclose(fitted.predict(at.iloc[[row]]).iloc[0], told.iloc[row], rtol=1e-9)
    assert fitted.predict(at.iloc[:0]).shape == (0, 7)


def test_no_hours_is_set_alone_and_among_others():
    shares = table(USUAL, WAXY)
    models = [
        HardnessModel(LADDER).fit(shares, ["right", "hard"], hours)
        for hours in (None, [None, None], np.array([np.nan, np.nan]), pd.Series([None, pd.NA]))
    ]
    for model in models[1:]:
        pd.testing.assert_frame_equal(model.predict(shares), models[0].predict(shares))
    told = models[0].predict(table(USUAL, USUAL), hours=[None, 2.0])
    pd.testing.assert_series_equal(
        told.iloc[0], models[0].predict(table(USUAL), hours=None).iloc[0], check_names=False
    )
    assert told["hardness"][1] < told["hardness"][0]


def test_an_early_soft_note_does_not_say_soft_when_set():
    """Soft at two hours leaves far more room for a firm set stick than soft when set."""
    early = HardnessModel(LADDER).fit(table(USUAL), ["soft"], [2.0]).predict(table(USUAL))
    late = HardnessModel(LADDER).fit(table(USUAL), ["soft"], [48.0]).predict(table(USUAL))
    assert early["hardness"][0] > late["hardness"][0] + 0.5
    assert early["sd"][0] > late["sd"][0]


def test_a_trial_that_softens_is_believed():
    """The curve is never forced to rise: hard at two hours and soft when set, five times over."""
    rng = np.random.default_rng(2)
    shares = rng.dirichlet([8, 8, 4], 5)
    model = HardnessModel(LADDER).fit(
        pd.DataFrame(np.repeat(shares, 2, axis=0), columns=PARTS),
        ["firm", "softish"] * 5,
        np.tile([1.0, 72.0], 5),
        np.repeat(np.arange(5), 2),
    )
    curve = model.set_curve(pd.DataFrame(shares[:1], columns=PARTS), [1.0, 72.0])
    assert curve["hardness"][0] > curve["hardness"][1] + 0.5


def test_set_curve(fitted):
    hours = [0.0, 2.0, 8.0, 24.0, 48.0]
    curve = fitted.set_curve(table(USUAL), hours)
    assert list(curve.columns) == ["hours", "hardness", "low", "high", "note_low", "note_high"]
    told = fitted.predict(table(*[USUAL] * 5), hours=hours)
    np.testing.assert_allclose(curve["hardness"], told["hardness"])
    np.testing.assert_allclose((curve["high"] - curve["low"]) / 2, 1.6448536 * told["sd"])
    with pytest.raises(LabError, match="one composition; 2"):
        fitted.set_curve(table(USUAL, WAXY), hours)


def test_two_casts_tell_more_than_two_notes_of_one():
    shares = table(USUAL, USUAL)
    one = HardnessModel(LADDER).fit(shares, ["right", "right"], pour=["a", "a"])
    two = HardnessModel(LADDER).fit(shares, ["right", "right"], pour=["a", "b"])
    assert (one.pours, two.pours) == (1, 2)
    assert two.predict(shares)["sd"][0] < one.predict(shares)["sd"][0]
    pd.testing.assert_frame_equal(
        HardnessModel(LADDER).fit(shares, ["right", "right"]).predict(shares), two.predict(shares)
    )


def test_known_grows_with_pours_and_falls_with_distance(trial):
    shares, notes, hours, pour = trial
    few, many = (HardnessModel(LADDER).fit(shares[:n], notes[:n], hours[:n], pour[:n]) for n in (2, 12))
    centre = shares.mean().to_frame().T
    assert 0 <= few.known(centre)[0] < many.known(centre)[0] <= 1
    assert many.known(table((0.0, 0.2, 0.8)))[0] < many.known(centre)[0]


@pytest.mark.parametrize("words", [2, 3, 12])
def test_known_is_the_share_of_the_doubt_that_is_gone(words):
    """Against the prior variance term by term; long and short ladders count alike."""
    priors = Priors(*np.array([[0.65, 0.3, 4.0, 0.5, 0.2, 0.1]]).T)
    ladder = [f"word {each}" for each in range(words)]
    shares = table(*[USUAL, WAXY, OILY] * 6)
    rung = np.round(np.interp(shares["wax"], [0.1, 0.25], [0, words - 1])).astype(int)
    model = HardnessModel(ladder, priors=priors).fit(shares, [ladder[each] for each in rung])
    sizes = {"slope_sd": 4.0, "bend_sd": 0.5, "length": 0.2, "rate": 0.1, "cast_sd": 0.3, "gain_sd": 1.5}
    sizes |= {"level_sd": max(1.0, 0.33 * (words - 1)), "centre": shares.mean().tolist()}
    sizes |= {"lean_sd": [0.0, 0.0, 7.0]}
    asked = table(USUAL, (0.0, 0.2, 0.8))
    before = [
        covariance(place, place, sizes)
        for place in ({"shares": row, "hours": 48.0, "pour": None} for row in asked.to_numpy())
    ]
    known = model.known(asked)
    np.testing.assert_allclose(known, 1.0 - model.predict(asked)["sd"] ** 2 / before, atol=1e-9)
    assert 0.6 < known[0] <= 1.0
    assert known[1] < known[0]


def test_hours_cost_little(trial):
    """Start and slow change beside the casts, and a pace for each cast that was felt before it had set."""
    shares, notes, _, pour = trial
    for hours, paced in ((None, 0), (np.linspace(0.5, 100.0, 12), 3), (np.linspace(48.0, 100.0, 12), 0)):
        model = HardnessModel(LADDER).fit(shares, notes, hours, pour)
        assert model.surface.posterior.mode.shape[1] == 6 + 2 + paced + 4


@pytest.mark.parametrize(
    ("rows", "said"), [(1_000_000, "at most 5,000 notes.*1,000,000"), (401, "at most 400 pours.*401")]
)
def test_more_than_a_map_can_learn_from(rows, said):
    shares = pd.DataFrame({"oil": np.full(rows, 0.7), "wax": np.full(rows, 0.3)})
    with pytest.raises(LabError, match=said):
        HardnessModel(LADDER).fit(shares, ["right"] * rows)


def test_wax_is_expected_to_harden_unless_told_otherwise():
    def slope(parts, **settings):
        shares = pd.DataFrame([[0.8, 0.2]], columns=parts)
        model = HardnessModel(LADDER, **settings).fit(shares, ["right"])
        told = model.predict(pd.DataFrame([[0.75, 0.25], [0.85, 0.15]], columns=parts))
        return told["hardness"][0] - told["hardness"][1]

    assert slope(["oil", "Rice Bran Wax"]) == pytest.approx(1.4, abs=0.05)
    assert slope(["oil", "Cera alba"]) == pytest.approx(1.4, abs=0.05)
    assert slope(["macerated oil", "butter"]) == pytest.approx(0.0, abs=1e-9)
    assert slope(["oil", "wax"], hardens=()) == pytest.approx(0.0, abs=1e-9)
    assert slope(["oil", "stearate"], hardens=["stearate"]) == pytest.approx(1.4, abs=0.05)


def test_wax_that_saturates_is_as_steep_as_straight_at_a_fifth():
    """Steeper below, flatter above, by the square of (share + half): the slope of share/(share + half)."""
    wax = np.array([0.05, 0.1, 0.2, 0.3])
    slopes = []
    for half in (np.inf, 0.05):
        build = builder(HardnessModel(LADDER).fit(table(USUAL), ["right"]).gathered, None, len(LADDER))
        term = build(Priors(*np.array([[0.65, 0.3, 4.0, 0.5, 0.2, 0.1]]).T, half=np.array([half]))).set[1]
        near = (wax - 1e-6, wax + 1e-6)
        below, above = (np.column_stack([0 * each, 1 - each, each]) for each in near)
        rise = [term.mean(Sites(at, np.full(4, np.inf), np.full(4, -1)))[0] for at in (below, above)]
        slopes.append((rise[1] - rise[0]) / 2e-6)
    np.testing.assert_allclose(slopes[0], 14.0, rtol=1e-6)
    np.testing.assert_allclose(slopes[1], 14.0 * (0.25 / (wax + 0.05)) ** 2, rtol=1e-6)


def test_notes_tell_whether_wax_saturates():
    """The same end points and steady notes, on a straight line and on one that has risen early."""
    wax = np.linspace(0.08, 0.32, 13).repeat(3)
    shares = table(*np.column_stack([0.4 + 0 * wax, 0.6 - wax, wax]))

    def straight(risen):
        notes = [LADDER[round(4 * each)] for each in risen]
        surface = HardnessModel(LADDER).fit(shares, notes).surface
        return surface.weight @ np.isinf(surface.priors.half)

    line = (wax - 0.08) / 0.24
    assert straight(line) > 0.6
    assert straight(-np.expm1(-4.0 * line) / -np.expm1(-4.0)) < 0.2


def test_notes_overrule_the_leaning():
    shares = pd.DataFrame({"oil": [0.9, 0.8, 0.7] * 3, "wax": [0.1, 0.2, 0.3] * 3})
    model = HardnessModel(LADDER).fit(shares, ["hard", "right", "soft"] * 3)
    told = model.predict(shares)["hardness"]
    assert told[0] > told[1] > told[2]


@pytest.mark.parametrize("word", LADDER)
def test_all_notes_the_same_stays_wide(word):
    """Maximum likelihood would be sure; eight equal notes leave room for other words."""
    shares = table(*[USUAL, WAXY] * 4)
    told = HardnessModel(LADDER).fit(shares, [word] * 8).predict(table((0.5, 0.4, 0.1)))
    assert np.isfinite(told.to_numpy()).all()
    assert told[LADDER].max(axis=1)[0] < 0.95
    assert told["sd"][0] > 0.4


def test_one_note_is_honest():
    told = HardnessModel(["soft", "hard"]).fit(table(USUAL), ["hard"]).predict(table(USUAL, (0.8, 0.1, 0.1)))
    assert 0.5 < told["hard"][0] < 0.9
    assert told["sd"][1] > told["sd"][0]


@pytest.mark.parametrize("parts", [2, 4, 6])
def test_other_numbers_of_parts(parts):
    names = [f"part <{at}>" for at in range(parts)]
    shares = pd.DataFrame(np.random.default_rng(parts).dirichlet(np.ones(parts), 8), columns=names)
    told = HardnessModel(LADDER[:3]).fit(shares, ["soft", "softish", "right", "right"] * 2).predict(shares)
    np.testing.assert_allclose(told[LADDER[:3]].sum(axis=1), 1.0)


def test_sizes_of_no_weight_are_left_out(fitted):
    assert fitted.surface.weight.sum() == pytest.approx(1.0)
    assert 0 < len(fitted.surface.weight) <= len(grid_of_priors())


# ---- bad input -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ladder", "said"),
    [
        (["soft"], "at least two words"),
        ([], "at least two words"),
        ("soft", "a list of words"),
        (["soft", "hard", "soft"], "“soft” stands on the ladder twice"),
        (["soft", " "], "needs a word"),
        (["soft", None], "needs a word"),
        (["soft", "sd"], "“sd” is the name of a column"),
    ],
)
def test_bad_ladders(ladder, said):
    with pytest.raises(LabError, match=said):
        HardnessModel(ladder)


BAD = {
    "a word that is not on the ladder": ({"notes": ["right", "sofft"]}, "Row 2: “sofft”.*“soft”"),
    "markup": ({"notes": ["right", "<b>\"x'</b>"]}, "Row 2: “<b>"),
    "no word": ({"notes": ["right", None]}, "Row 2: there is no word"),
    "NaN for a word": ({"notes": [np.nan, "right"]}, "Row 1: there is no word"),
    "one text": ({"notes": "right"}, "One note per row"),
    "too few notes": ({"notes": ["right"]}, "2 rows of shares but 1 note;"),
    "hours below 0": ({"hours": [2.0, -1.0]}, "Row 2: -1 hours is a note before its pour"),
    "hours in words": ({"hours": [2.0, "soon"]}, "Row 2: “soon” is no number of hours"),
    "too many hours": ({"hours": [1, 2, 3]}, "2 rows of shares but 3 times"),
    "too few pours": ({"pour": ["a"]}, "2 rows of shares but 1 pour;"),
    "no pour": ({"pour": ["a", None]}, "Row 2 does not say which pour"),
    "one pour, two compositions": ({"pour": ["a", "a"]}, "Row 2 gives pour “a” other shares than row 1"),
    "shares short of 1": (
        {"shares": table(USUAL, (0.4, 0.4, 0.15))},
        "2 adds up to 0.95, 0.05 short.*rescale",
    ),
    "NaN in shares": ({"shares": table(USUAL, (0.4, np.nan, 0.2))}, "oil is missing"),
    "no rows": ({"shares": table(USUAL).iloc[:0], "notes": []}, "no note to learn from"),
}


@pytest.mark.parametrize(("changed", "said"), BAD.values(), ids=BAD)
def test_bad_trials(changed, said):
    given = {"shares": table(USUAL, WAXY), "notes": ["right", "hard"]} | changed
    with pytest.raises(LabError, match=said):
        HardnessModel(LADDER).fit(**given)


def test_bad_questions(fitted):
    with pytest.raises(LabError, match="knows no notes yet"):
        HardnessModel(LADDER).predict(table(USUAL))
    with pytest.raises(LabError, match=r"“butter” is missing"):
        fitted.predict(table(USUAL).rename(columns={"butter": "shea"}))
    with pytest.raises(LabError, match="before its pour"):
        fitted.predict(table(USUAL), hours=-1)
    with pytest.raises(LabError, match=r"“wacks”.*“wax”"):
        HardnessModel(LADDER, hardens=["wacks"]).fit(table(USUAL), ["right"])


def test_a_refused_fit_leaves_the_last_one(fitted):
    before = fitted.predict(table(USUAL))
    with pytest.raises(LabError):
        fitted.fit(table(USUAL), ["nonsense"])
    pd.testing.assert_frame_equal(fitted.predict(table(USUAL)), before)
