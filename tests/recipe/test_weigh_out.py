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
    smallest_batch,
    weigh_out,
    weighing_error,
)
from labkit.recipe.weighing import TEASPOON_ML

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


def test_a_premix_mends_the_smallest_line():
    mix = dispersion_for(RECIPE, "ultramarine", "castor oil", 50.0, 0.1)
    assert mix.shares["ultramarine"] == pytest.approx(0.25 / 5.0)
    before = weighing_error(RECIPE, 50.0, 0.1, colour=colour)
    after = weighing_error(RECIPE, 50.0, 0.1, colour=colour, dispersions={"ultramarine": mix})
    assert after.blend["ultramarine"][1] < before.blend["ultramarine"][1] / 5
    assert after.delta_e00 < before.delta_e00


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
    count, sd = spoon.measured(4.2)
    assert count == 2.0
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
