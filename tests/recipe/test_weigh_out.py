"""What weighing does to a recipe: against a Monte Carlo of the same weighing, and by its own logic."""

import numpy as np
import pytest

from labkit.colour.cie import delta_e00
from labkit.errors import LabError
from labkit.recipe import (
    Dispersion,
    Recipe,
    Scale,
    Spoon,
    dispersion_for,
    in_parts,
    smallest_batch,
    taken_apart,
    weigh_out,
    weighing_error,
)
from labkit.recipe.spoon import POWDER_SD, SIZES, TEASPOON_ML

RECIPE = Recipe.from_percent(
    "invented",
    {"castor oil": 52.0, "shea butter": 22.0, "beeswax": 16.0, "red iron oxide": 7.0, "titanium dioxide": 2.5,
     "ultramarine": 0.5},
)  # fmt: skip
MIX = Dispersion("blue in castor", {"ultramarine": 1.0, "castor oil": 4.0})
PIGMENTS = ("red iron oxide", "titanium dioxide", "ultramarine")
DRAWS = 40_000


def colour(loads):
    """An invented colour that is smooth in the loads."""
    red, white, blue = (
        loads.get(name, 0.0) for name in ("red iron oxide", "titanium dioxide", "ultramarine")
    )
    return 40.0 + 4.0 * white - 1.5 * red - 6.0 * blue, 20.0 + 2.0 * red, 15.0 + 1.0 * red - 12.0 * blue


def drawn(batch_g, step_g, repeat_sd_g=0.0, mix=None):
    """Weigh a batch many times: an empty and a full reading a line, each even over the step, and noise."""
    rng = np.random.default_rng(3)
    grams = RECIPE.grams(batch_g)
    lines = dict(grams)
    if mix:
        taken = grams["ultramarine"] / mix.shares["ultramarine"]
        lines["castor oil"] -= taken * mix.shares["castor oil"]
        lines[mix.name] = taken
        del lines["ultramarine"]
    weighed = {}
    for name, each in lines.items():
        even = rng.uniform(-step_g / 2, step_g / 2, (2, DRAWS))
        noise = rng.normal(0.0, repeat_sd_g, (2, DRAWS))
        weighed[name] = each + (even + noise)[0] - (even + noise)[1]
    if mix:
        weighed["castor oil"] = weighed["castor oil"] + weighed[mix.name] * mix.shares["castor oil"]
        weighed["ultramarine"] = weighed.pop(mix.name) * mix.shares["ultramarine"]
    return weighed


@pytest.mark.parametrize(("batch_g", "step_g", "repeat_sd_g"), [(50.0, 0.1, 0.0), (30.0, 0.01, 0.02)])
@pytest.mark.parametrize("mix", [None, MIX])
def test_errors_agree_with_weighing_it_many_times(batch_g, step_g, repeat_sd_g, mix):
    dispersions = {"ultramarine": mix} if mix else None
    found = weighing_error(
        RECIPE, batch_g, step_g, colour=colour, repeat_sd_g=repeat_sd_g, dispersions=dispersions
    )
    weighed = drawn(batch_g, step_g, repeat_sd_g, mix)
    total = sum(weighed.values())
    percents = {name: 100 * each / total for name, each in weighed.items()}
    for name, each in percents.items():
        assert found.percent_sd[name] == pytest.approx(each.std(), rel=0.05)
    base = weighed["castor oil"] + weighed["shea butter"] + weighed["beeswax"]
    assert found.wax_share_sd == pytest.approx((weighed["beeswax"] / base).std(), rel=0.05)
    pigments = [weighed[name] for name in PIGMENTS]
    assert found.load_sd == pytest.approx((100 * sum(pigments) / total).std(), rel=0.05)
    for name, (part, sd) in found.blend.items():
        parts = weighed[name] / sum(pigments)
        assert part == pytest.approx(parts.mean(), rel=0.01)
        assert sd == pytest.approx(parts.std(), rel=0.05)
    lab = np.stack(colour(percents), axis=-1)
    centre = np.asarray(colour(RECIPE.percent()))
    away = delta_e00(lab, np.broadcast_to(centre, lab.shape))
    assert found.delta_e00 == pytest.approx(np.sqrt(np.mean(away**2)), rel=0.05)


def test_each_line_tells_its_grams_and_its_error():
    table = weigh_out(RECIPE, 50.0, 0.1, colour=colour).set_index("material")
    assert table.loc["titanium dioxide", "grams"] == pytest.approx(1.2, abs=0.11)
    assert table["sd_g"].unique() == pytest.approx([0.1 / 6**0.5])
    assert table["relative_sd_percent"].idxmax() == "ultramarine"
    assert table["delta_e00"].idxmax() == "ultramarine"
    assert weighing_error(RECIPE, 50.0, 0.1, colour=colour).worst == "ultramarine"


def test_a_line_smaller_than_a_step_says_what_would_do():
    with pytest.raises(LabError, match=r"ultramarine: 0.05 g is less than one step .* Make 20 g or more"):
        weigh_out(RECIPE, 10.0, 0.1)
    assert len(weigh_out(RECIPE, 20.0, 0.1)) == 6


def test_a_premix_that_brings_more_oil_than_there_is_is_refused():
    weak = Dispersion("weak", {"ultramarine": 0.001, "castor oil": 0.999})
    with pytest.raises(LabError, match="Mix it with less castor oil"):
        weigh_out(RECIPE, 50.0, 0.1, dispersions={"ultramarine": weak})


def test_the_smallest_batch_just_repeats():
    found = smallest_batch(RECIPE, 0.1, delta_e=1.0, colour=colour)
    assert weighing_error(RECIPE, 1.01 * found.batch_g, 0.1, colour=colour).delta_e00 < 1.0
    assert weighing_error(RECIPE, 0.97 * found.batch_g, 0.1, colour=colour).delta_e00 > 1.0
    assert found.worst == "ultramarine"
    finer = smallest_batch(RECIPE, 0.01, delta_e=1.0, colour=colour)
    assert finer.batch_g == pytest.approx(found.batch_g / 10, rel=0.02)


def test_both_wishes_count_for_the_smallest_batch():
    wax = smallest_batch(RECIPE, 0.1, wax_share=0.001)
    both = smallest_batch(RECIPE, 0.1, wax_share=0.001, delta_e=1.0, colour=colour)
    shade = smallest_batch(RECIPE, 0.1, delta_e=1.0, colour=colour)
    assert both.batch_g == pytest.approx(max(wax.batch_g, shade.batch_g))
    with pytest.raises(LabError, match="what shall repeat"):
        smallest_batch(RECIPE, 0.1)
    with pytest.raises(LabError, match="needs its forecast"):
        smallest_batch(RECIPE, 0.1, delta_e=1.0)


def test_spoons_are_worse_than_a_scale_and_say_how_many():
    spooned = weigh_out(RECIPE, 50.0, 0.1, ["red iron oxide"]).set_index("material")
    weighed = weigh_out(RECIPE, 50.0, 0.1).set_index("material")
    assert "spoon" in spooned.loc["red iron oxide", "how"]
    assert spooned.loc["red iron oxide", "sd_g"] > 3 * weighed.loc["red iron oxide", "sd_g"]
    assert spooned.loc["beeswax", "sd_g"] == weighed.loc["beeswax", "sd_g"]


def test_ten_level_spoons_that_were_weighed_count_before_the_table():
    weighed = [2.1, 2.2, 2.0, 2.15, 2.05, 2.1, 2.25, 1.95, 2.1, 2.1]
    spoon = Spoon("red iron oxide", weighed_g=weighed)
    mean, of_mean, each = spoon.one_g()
    assert mean == pytest.approx(2.1)
    assert each == pytest.approx(np.std(weighed, ddof=1))
    assert of_mean == pytest.approx(each / 10**0.5)
    count, sd, grams, how = spoon.measured(4.2)
    assert (count, how) == (2, "2 level spoons")
    assert grams == pytest.approx(4.2)
    assert sd == pytest.approx(np.hypot(2 * of_mean, 2**0.5 * each))


def test_a_spoon_of_what_has_no_bulk_density_is_asked_to_be_weighed():
    with pytest.raises(LabError, match="Weigh ten level spoons"):
        weigh_out(RECIPE, 50.0, 0.1, ["beeswax"])
    with pytest.raises(LabError, match="no line to measure"):
        weigh_out(RECIPE, 50.0, 0.1, ["carmine"])


def test_a_teaspoon_is_that_of_the_handbook():
    """NIST Handbook 44, appendix C: 1 teaspoon is 4.928 92 mL, a sixth of a fluid ounce (29.573 53 mL)."""

    assert round(TEASPOON_ML, 5) == 4.92892
    assert pytest.approx(29.57353, abs=1e-5) == TEASPOON_ML * 6


def test_a_scale_that_cannot_be_is_refused():
    with pytest.raises(LabError, match="smallest change"):
        Scale(0.0)


def test_spoons_agree_with_spooning_it_many_times():
    """A factor of 0.4 is too large for a straight line: that would be 7 % off here."""
    rng, spread = np.random.default_rng(8), np.log1p(POWDER_SD**2)
    grams = {name: np.full(DRAWS, each) for name, each in RECIPE.grams(50.0).items()}
    for name in PIGMENTS:
        grams[name] = grams[name] * np.exp(np.sqrt(spread) * rng.standard_normal(DRAWS) - spread / 2)
    found = weighing_error(RECIPE, 50.0, 0.001, PIGMENTS, colour)
    pigments, total = sum(grams[name] for name in PIGMENTS), sum(grams.values())
    assert found.load_sd == pytest.approx((100 * pigments / total).std(), rel=0.05)
    for name in PIGMENTS:
        assert found.blend[name][1] == pytest.approx((grams[name] / pigments).std(), rel=0.05)
    lab = np.stack(colour({name: 100 * each / total for name, each in grams.items()}), axis=-1)
    away = delta_e00(lab, np.broadcast_to(np.asarray(colour(RECIPE.percent())), lab.shape))
    assert found.delta_e00 == pytest.approx(np.sqrt(np.mean(away**2)), rel=0.05)
    assert found.delta_e00_90 == pytest.approx(np.percentile(away, 90), rel=0.05)


def test_small_errors_agree_with_the_law_of_propagation():
    """JCGM 100:2008, 5.1.2, by hand: a share x_i of m lines in total T has variance Σ (δ_ij − x_i)² u²/T²."""
    found = weighing_error(RECIPE, 100.0, 0.01)
    u = 0.01 / 6**0.5
    for name, percent in RECIPE.percent().items():
        x = percent / 100
        by_hand = 100 * np.sqrt((1 - x) ** 2 + (len(RECIPE.percent()) - 1) * x**2) * u / 100.0
        assert found.percent_sd[name] == pytest.approx(by_hand, rel=0.001)


def test_the_forecast_of_the_shade_room_strays_as_if_asked_every_time():
    """Few forecasts and curves between them, against a forecast for every weighing."""
    from labkit.shade import predict_many

    names = list(PIGMENTS)

    def forecast(loads):
        return predict_many([[loads[name] for name in names]], names)[0], np.ones(3)

    step = 0.1
    found = weighing_error(RECIPE, 30.0, step, colour=forecast)
    weighed = {name: each[:3000] for name, each in drawn(30.0, step).items()}
    total = sum(weighed.values())
    loads = np.stack([100 * weighed[name] / total for name in names], axis=-1)
    lab = predict_many(np.maximum(loads, 0), names)
    wanted = predict_many([[RECIPE.percent()[name] for name in names]], names)
    away = delta_e00(lab, np.broadcast_to(wanted, lab.shape))
    assert found.delta_e00 == pytest.approx(np.sqrt(np.mean(away**2)), rel=0.05)


def test_what_the_scale_can_show_is_told_apart_from_its_error():
    table = weigh_out(RECIPE, 50.0, 0.1).set_index("material")
    assert table.loc["ultramarine", "shown_percent"] == pytest.approx(-20.0)
    found = weighing_error(RECIPE, 50.0, 0.1, colour=colour)
    shown = {**RECIPE.grams(50.0), "ultramarine": 0.2, "titanium dioxide": 1.2}
    total = sum(shown.values())
    lab = colour({name: 100 * each / total for name, each in shown.items()})
    by_hand = delta_e00(np.asarray(lab), np.asarray(colour(RECIPE.percent())))
    assert found.shown_delta_e00 == pytest.approx(float(by_hand), rel=0.05)


def test_the_oil_of_a_paste_counts_as_oil():
    paste = Dispersion("red paste", {"CI 77491": 40, "Ricinus Communis Seed Oil": 60})
    recipe = Recipe.from_grams("x", {"beeswax": 20.0, "castor oil": 70.0, "red paste": 10.0})
    whole = in_parts(recipe, [paste])
    assert whole.shares() == pytest.approx({"butter": 0.0, "oil": 76 / 96, "wax": 20 / 96})
    assert whole.loads() == pytest.approx({"CI 77491": 4.0})
    found = weighing_error(recipe, 100.0, 0.1, dispersions={"red paste": paste})
    assert found.wax_share == pytest.approx(20 / 96)
    assert found.load_percent == pytest.approx(4.0)
    assert found.blend == {"CI 77491": (1.0, 0.0)}
    assert weigh_out(recipe, 100, 0.1, dispersions={"paste": paste})["material"].tolist()[-1] == "red paste"
    assert weighing_error(recipe, 100.0, 0.1).not_counted == ("red paste",)


def test_the_weighing_of_the_premix_itself_counts_once():
    """Its pigment is weighed with a relative sd of u/g, and that is what is left in a large batch."""
    mix = Dispersion("blue in castor", {"ultramarine": 1.0, "castor oil": 4.0}, made_g=10.0)
    exact = Dispersion("blue in castor", {"ultramarine": 1.0, "castor oil": 4.0})
    total, without = (
        weighing_error(RECIPE, 1000.0, 0.1, dispersions={"ultramarine": each}).percent_sd["ultramarine"]
        for each in (mix, exact)
    )
    u = 0.1 / 6**0.5
    once = 0.5 * np.hypot(0.8 * u / 2.0, 0.2 * u / 2.0)  # (1 − s)·u and s·u over 2 g of pigment in 10 g
    assert np.sqrt(total**2 - without**2) == pytest.approx(once, rel=0.02)


def test_a_premix_is_offered_where_it_mends_and_only_there():
    found = dispersion_for(RECIPE, 30.0, 0.01, wanted_sd=0.02, colour=colour)
    assert found.lines == ("ultramarine",)
    assert found.mends
    assert found.after.percent_sd["ultramarine"] <= 1.02 * 0.02 * 0.5
    assert found.after.delta_e00 < found.before.delta_e00
    assert found.dose_g * found.mix.shares["ultramarine"] == pytest.approx(0.15)
    assert sum(found.mix_g.values()) == pytest.approx(found.batches * found.dose_g)
    assert "dust mask" in found.why
    large = dispersion_for(RECIPE, 3000.0, 0.01, wanted_sd=0.02)
    assert (large.mends, large.mix, large.lines) == (True, None, ())
    tiny = dispersion_for(RECIPE, 10.0, 0.1, wanted_sd=0.05)
    assert tiny.before is None
    assert set(tiny.lines) == {"red iron oxide", "titanium dioxide", "ultramarine"}
    with pytest.raises(LabError, match="no pigment"):
        dispersion_for(Recipe.from_grams("x", {"castor oil": 1, "beeswax": 1}), 10.0, 0.1)
    with pytest.raises(LabError, match="is not in this recipe"):
        dispersion_for(RECIPE, 30.0, 0.01, oil="jojoba oil")


def test_a_premix_needs_oil_to_be_stirred_into():
    dry = Recipe.from_percent("dry", {"beeswax": 50.0, "red iron oxide": 46.0, "castor oil": 4.0})
    found = dispersion_for(dry, 1.0, 0.1)
    assert not found.mends
    assert "too little castor oil" in found.why


def test_a_premix_is_taken_apart_under_any_spelling():
    mix = Dispersion("blue", {"CI 77007": 1.0, "Ricinus Communis Seed Oil": 4.0})
    grams = {"castor oil": 40.0, "ultramarine": 0.5}
    table = weigh_out(Recipe.from_grams("x", grams), 40.5, 0.01, dispersions={"CI 77007": mix})
    lines = dict(zip(table["material"], table["wanted_g"], strict=True))
    assert lines == pytest.approx({"castor oil": 38.0, "blue": 2.5})
    assert taken_apart(lines, [mix]) == pytest.approx({"castor oil": 40.0, "CI 77007": 0.5})


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: weigh_out(RECIPE, "50", "0,1", repeat_sd_g="much"), "is no number"),
        (lambda: weigh_out(RECIPE, 0, 0.1), "the batch: 0 g cannot be"),
        (lambda: weigh_out(RECIPE, 50, 0.1, colour=lambda loads: None), "is not forecast"),
        (lambda: weigh_out(RECIPE, 50, 0.1, colour=lambda loads: (1, 2)), "gives no L"),
        (lambda: weigh_out(RECIPE, 50, 0.1, colour=lambda loads: "red"), "gives no L"),
        (lambda: weigh_out(RECIPE, 50, 0.1, dispersions={"carmine": MIX}), "not both in the recipe"),
        (lambda: weigh_out(RECIPE, 10, 0.1, [Spoon("ultramarine", ml=5)]), "less than half of the smallest"),
        (lambda: Spoon("ultramarine", ml=-1), "more than 0"),
        (lambda: Spoon("ultramarine", weighed_g=[0.5]), "Weigh ten"),
        (lambda: Spoon("ultramarine", weighed_g=[0.5, -0.5]), "more than 0"),
        (lambda: Spoon("ultramarine", weighed_g=0.5), "grams of each spoon"),
        (lambda: Dispersion("x", {"castor oil": 1, "Ricinus Communis Seed Oil": 1}), "two parts"),
        (lambda: Dispersion("x", {"castor oil": 1, "carmine": float("nan")}), "is no number"),
        (lambda: smallest_batch(RECIPE, 0.1, words=0.2), "needs its forecast"),
        (lambda: smallest_batch(RECIPE, 0.1, words=0.2, hardness=lambda shares: None), "does not reach"),
        (lambda: smallest_batch(RECIPE, 0.1, delta_e=1, colour=lambda loads: None), "is not forecast"),
        (lambda: smallest_batch(RECIPE, 0.1, delta_e=-1, colour=colour), "more than 0"),
        (lambda: smallest_batch(RECIPE, 0.1, wax_share=0.01, spoons=["carmine"]), "no line to measure"),
        (
            lambda: smallest_batch(Recipe.from_grams("x", {"carmine": 1}), 0.1, wax_share=0.01),
            "no share of wax",
        ),
    ],
)
def test_what_cannot_be_weighed_is_said(call, said):
    with pytest.raises(LabError, match=said):
        call()


def test_a_spoon_of_the_size_that_comes_nearest_is_taken():
    """Red iron oxide, 0.6 to 1.1 g/mL poured loose: a teaspoon of 4.929 mL holds 4.19 g of it."""
    spoon = Spoon("red iron oxide")
    teaspoon = 4.92892 * 0.85
    assert spoon.measured(teaspoon).how == "1 level spoon of 1 teaspoon"
    assert spoon.measured(0.375 * teaspoon).how == "3 level spoons of 1/8 teaspoon"
    assert spoon.measured(0.375 * teaspoon).grams == pytest.approx(0.375 * teaspoon, rel=1e-5)
    assert spoon.measured(20 * teaspoon).spoons == 20
    assert spoon.measured(teaspoon).sd_g == pytest.approx(POWDER_SD * teaspoon, rel=1e-5)
    assert Spoon("castor oil").measured(9.44).how == "2 level spoons of 1 teaspoon"
    assert min(SIZES.values()) == 1 / 32


def test_rooms_agree_on_a_spoon():
    from labkit.shade.weighing import SPOON_SD

    assert SPOON_SD == POWDER_SD


def test_no_batch_is_large_enough_for_a_spoon():
    found = smallest_batch(RECIPE, 0.1, delta_e=1.0, colour=colour, spoons=["ultramarine"])
    assert found.batch_g == float("inf")
    assert found.error is None
    assert found.worst == "ultramarine"
    assert "ultramarine errs too much" in found.why


def test_hardness_in_words_decides_where_it_is_asked():
    def hardness(shares):
        return 40.0 * shares["beeswax"] - 5.0 * shares["castor oil"], 0.3

    found = smallest_batch(RECIPE, 0.1, words=0.05, hardness=hardness)
    u, batch = 0.1 / 6**0.5, found.batch_g
    x = {name: each / 100 for name, each in RECIPE.percent().items()}
    h = 40.0 * x["beeswax"] - 5.0 * x["castor oil"]
    slopes = [{"beeswax": 40.0, "castor oil": -5.0}.get(name, 0.0) - h for name in x]
    assert u / batch * np.linalg.norm(slopes) == pytest.approx(0.05, rel=0.001)
    assert found.worst == "beeswax"


def test_a_batch_whose_lines_can_just_be_weighed_may_be_enough():
    found = smallest_batch(RECIPE, 0.1, wax_share=0.5)
    assert found.batch_g == pytest.approx(20.0)
    assert found.worst == "ultramarine"
    assert "too little to be measured" in found.why


def test_a_larger_batch_is_nearer_in_everything():
    small, large = (weighing_error(RECIPE, each, 0.1, colour=colour) for each in (30.0, 90.0))
    assert large.wax_share_sd == pytest.approx(small.wax_share_sd / 3, rel=0.01)
    assert large.load_sd == pytest.approx(small.load_sd / 3, rel=0.01)
    assert large.delta_e00 < 0.4 * small.delta_e00


@pytest.mark.parametrize("scale", [Scale(0.1), Scale(0.01, 0.02)])
def test_a_drawn_reading_errs_as_the_scale_says(scale):
    """Two even readings, and two that scatter: variance 2 (d²/12 + s²), without scatter at most d."""
    drawn = scale.sd_g * scale.errors(200_000, np.random.default_rng(4))
    by_hand = 2 * (scale.step_g**2 / 12 + scale.repeat_sd_g**2)
    assert drawn.var() == pytest.approx(by_hand, rel=0.02)
    if not scale.repeat_sd_g:
        assert np.abs(drawn).max() == pytest.approx(scale.step_g, rel=0.02)
