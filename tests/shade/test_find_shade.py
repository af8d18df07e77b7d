"""The blend for a wanted colour: against grids and another optimiser, and what it must not do."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from labkit.colour.cie import delta_e00
from labkit.errors import LabError
from labkit.shade import find_shade, predict, predict_many
from labkit.shade.medium import Medium
from labkit.shade.pigments import default_pigments
from labkit.shade.verdict import verdict
from tests.bench.shade_search import MOST, NAMES, evolve, forecast, wanted_colours

RED, YELLOW, BLACK, WHITE = NAMES[:4]


def loads_of(found, names=NAMES):
    return found[list(names)].to_numpy()


@pytest.fixture(scope="module")
def found():
    return find_shade([40, 32, 18], NAMES, MOST)


# ---- the best there is ---------------------------------------------------------------


@pytest.mark.parametrize("names", [[RED, WHITE], [BLACK, "ultramarine"], [YELLOW, WHITE, "carmine"]])
@pytest.mark.parametrize("film_um", [4.0, 10.0, np.inf])
def test_it_is_as_good_as_the_best_of_a_grid(names, film_um):
    """Every blend in steps of 0.1 %, or of 0.5 % for three pigments."""
    step = 0.1 if len(names) == 2 else 0.5
    grid = np.stack(np.meshgrid(*[np.arange(0, 12 + step / 2, step)] * len(names)), -1).reshape(
        -1, len(names)
    )
    grid = grid[grid.sum(1) <= 12 + 1e-9]
    lab = predict_many(grid, names, film_um)
    for wanted in np.random.default_rng(4).uniform([20, -10, -20], [80, 50, 40], (4, 3)):
        best = delta_e00(lab, np.broadcast_to(wanted, lab.shape)).min()
        ours = find_shade(wanted, names, 12, film_um)["delta_e00"].iloc[0]
        assert ours <= best + 0.03
        assert ours >= best - (3.0 if len(names) == 3 else 1.0)


@pytest.mark.parametrize("wanted", wanted_colours(8, seed=3), ids=lambda lab: str(lab.round()))
def test_it_is_as_good_as_differential_evolution(wanted):
    """SciPy's, in its vectorised form, with a quarter of its usual generations."""
    theirs = evolve(wanted, vectorized=True, maxiter=250).fun
    assert find_shade(wanted, NAMES, MOST)["delta_e00"].iloc[0] <= theirs + 0.05


@pytest.mark.parametrize("lab", [(67.3, 34.7, 11.7), (58.5, 58.6, -27.1)])
def test_it_copes_where_the_colour_difference_jumps(lab):
    """ΔE00 jumps across the line opposite the wanted hue; the best blend of these may lie beside it."""
    names = ["titanium dioxide", "yellow 5 lake", "blue 1 lake", "zinc oxide", "red 7 lake", "ultramarine"]
    best = [find_shade(lab, names, 8, seed=seed)["delta_e00"].iloc[0] for seed in range(3)]
    random = np.random.default_rng(0).dirichlet(np.full(7, 0.5), 20_000)[:, :6] * 8
    found = predict_many(random, names)
    assert max(best) - min(best) < 0.05
    assert max(best) <= delta_e00(found, np.broadcast_to(lab, found.shape)).min() + 0.01


@pytest.mark.parametrize("blend", [{RED: 6.0, WHITE: 2.0}, {BLACK: 0.05, "carmine": 5.0}, {YELLOW: 14.9}])
def test_the_colour_of_a_blend_is_found_again(blend):
    found = find_shade(predict(blend).lab, NAMES, MOST)
    assert found["delta_e00"].iloc[0] == pytest.approx(0, abs=0.011)
    assert found["says"].iloc[0] == "match"
    of_the_same = find_shade(predict(blend).lab, list(blend), MOST).iloc[0]
    assert [of_the_same[name] for name in blend] == pytest.approx(list(blend.values()), rel=0.02, abs=0.01)


def test_a_pigment_that_brings_next_to_nothing_is_left_out():
    found = find_shade(predict({RED: 5.0}).lab, NAMES, MOST)
    assert loads_of(found)[0] == pytest.approx([5, 0, 0, 0, 0, 0], abs=1e-3)
    used = loads_of(found) > 0
    assert not any((used[i] >= used[0]).all() for i in range(1, len(used)))


def test_a_trace_that_matters_stays():
    blend = {WHITE: 8.0, BLACK: 0.02}
    found = find_shade(predict(blend).lab, [WHITE, BLACK], MOST)
    assert found[BLACK].iloc[0] == pytest.approx(0.02, rel=0.05)
    assert delta_e00(predict({WHITE: 8.0}).lab, predict(blend).lab) > 0.1


def test_the_bare_backing_needs_no_pigment():
    found = find_shade([52, 21, 13], NAMES, MOST, backing=[52, 21, 13], n=1)
    assert loads_of(found).tolist() == [[0.0] * 6]
    assert found["rests_on"].iloc[0] == "the backing alone"


def test_no_film_shows_the_backing_whatever_is_in_it():
    found = find_shade([30, 40, 20], NAMES, MOST, film_um=0)
    assert found["L"].iloc[0] == pytest.approx(52, abs=0.01)
    assert found["load"].iloc[0] == 0


@pytest.mark.parametrize("film_um", [0.0, 1e-3, 10.0, np.inf])
@pytest.mark.parametrize("lab", [(50, -21, -13), (50, -42, -26), (0, 0, 0), (100, 0, 0), (52, 21, 13)])
def test_odd_colours_and_films_are_answered(lab, film_um):
    """Among them the hue that lies exactly opposite the backing's; a warning would be an error."""
    found = find_shade(lab, [RED, WHITE, BLACK], 100, film_um, backing=[52, 21, 13])
    bare = float(delta_e00([52.0, 21, 13], np.array(lab, float)))
    assert np.isfinite(found[["L", "a", "b", "delta_e00"]].to_numpy()).all()
    assert found["delta_e00"].iloc[0] <= bare + 1e-6


# ---- the table -----------------------------------------------------------------------


def test_the_table_says_what_predict_says(found):
    for _, row in found.iterrows():
        told = predict({name: row[name] for name in NAMES})
        assert row[["L", "a", "b"]].tolist() == pytest.approx(told.lab, abs=1e-8)
        assert row[["L_sd", "a_sd", "b_sd"]].tolist() == pytest.approx(told.lab_sd, rel=0.3)
        assert row["hex"] == told.hex
        assert row["delta_e00"] == pytest.approx(float(delta_e00(told.lab, [40.0, 32, 18])), abs=1e-6)
        assert row["says"] == verdict(row["delta_e00"])
        assert row["load"] == pytest.approx(row[NAMES].sum())


def test_best_comes_first_and_recipes_differ(found):
    assert len(found) == 5
    assert (np.diff(found["delta_e00"]) > -1e-6).all()
    for i, j in np.argwhere(np.triu(np.ones((5, 5)), 1)):
        a, b = loads_of(found)[[i, j]]
        assert ((a > 0) != (b > 0)).any() or np.abs(a - b).max() > 0.2


def test_of_equal_colours_the_simplest_comes_first():
    found = find_shade(forecast(np.array([[1.0, 1, 0.2, 1, 1, 1]]))[0], NAMES, MOST, n=8)
    equal = found[found["delta_e00"] < 1e-6]
    counts = (loads_of(equal) > 0).sum(1)
    assert len(equal) > 2
    assert (np.diff(counts) >= 0).all()


def test_the_band_is_that_of_pigments_drawn_one_at_a_time():
    """The same forecast, pigment by pigment drawn, in a plain loop."""
    names = [RED, WHITE]
    row = find_shade([45, 30, 22], names, MOST, n=1).iloc[0]
    own = default_pigments().only(names)
    k, s = own.draws(400, seed=8)
    far = []
    for one_k, one_s in zip(k, s, strict=True):
        drawn = replace(own, log_ks=np.log(np.stack([one_k, one_s], axis=1)))
        lab = predict_many([row[names].tolist()], names, pigments=drawn)[0]
        far.append(float(delta_e00(lab, [45.0, 30, 22])))
    low, median, high = np.percentile(far, [5, 50, 95])
    assert row["delta_e00_median"] == pytest.approx(median, rel=0.2)
    assert row["delta_e00_high"] == pytest.approx(high, rel=0.2)
    assert row["delta_e00_low"] == pytest.approx(low, rel=0.5, abs=0.3)


def test_it_rests_on_swatches_only_where_every_pigment_does():
    own = default_pigments().only([RED, WHITE])
    for basis, said in [
        (("your swatches",) * 2, "your swatches"),
        (("your swatches", "estimate"), "estimate, your swatches"),
    ]:
        found = find_shade([45, 30, 22], own.names, MOST, pigments=replace(own, basis=basis))
        both = found[(loads_of(found, own.names) > 0).all(1)]
        assert both["rests_on"].unique().tolist() == [said]


def test_an_unsure_forecast_is_said_to_be_one(found):
    assert found["delta_e00_high"].iloc[0] > 3
    assert any("log a swatch" in each for each in found.attrs["remarks"])
    sure = default_pigments().only(NAMES)
    sure = replace(sure, modes=sure.modes[:0])
    told = find_shade([40, 32, 18], NAMES, MOST, pigments=sure)
    assert told.attrs["remarks"] == []
    assert told["delta_e00_high"].iloc[0] == pytest.approx(told["delta_e00"].iloc[0], abs=1e-6)


def test_the_same_seed_gives_the_same_and_another_the_same_best(found):
    again = find_shade([40, 32, 18], NAMES, MOST)
    pd.testing.assert_frame_equal(found, again)
    other = find_shade([40, 32, 18], NAMES, MOST, seed=12)
    assert other["delta_e00"].iloc[0] == pytest.approx(found["delta_e00"].iloc[0], abs=0.01)


def test_a_screen_code_is_its_colour():
    """Independent: colour-science's own sRGB to CIELAB."""
    import colour

    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    lab = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.array([0x8B, 0x23, 0x32]) / 255), white)
    by_code, by_lab = (find_shade(each, NAMES, MOST, n=1).iloc[0] for each in ("#8B2332", lab))
    assert by_code["delta_e00"] == pytest.approx(by_lab["delta_e00"], abs=0.02)


@pytest.mark.parametrize("max_load", [0.5, 3.0, 100.0])
def test_loads_keep_the_highest_load(max_load):
    found = find_shade([30, 45, 25], NAMES, max_load)
    assert (loads_of(found) >= 0).all()
    assert (found["load"] <= max_load + 1e-6).all()


def test_backing_film_and_base_count():
    wanted = [40, 32, 18]
    asked = {"film_um": 5.0, "backing": "skin dark", "medium": Medium(0.9, 1.5)}
    row = find_shade(wanted, NAMES, MOST, n=1, **asked).iloc[0]
    told = predict({name: row[name] for name in NAMES}, 5.0, "skin dark", medium=Medium(0.9, 1.5))
    assert row[["L", "a", "b"]].tolist() == pytest.approx(told.lab, abs=1e-8)


def test_all_pigments_at_once_are_no_worse_than_six(found):
    everything = find_shade([40, 32, 18], list(default_pigments()), MOST, n=3)
    assert everything["delta_e00"].iloc[0] <= found["delta_e00"].iloc[0] + 0.05


def test_one_pigment_by_its_number():
    found = find_shade([38, 30, 20], "CI 77491", MOST)
    assert found.columns[0] == RED
    assert found["load"].iloc[0] == found[RED].iloc[0] > 0


# ---- the market ----------------------------------------------------------------------


def test_what_the_market_does_not_allow_is_left_out_and_said():
    found = find_shade([40, 10, -20], [RED, "ultramarine", "manganese violet"], MOST, market="US")
    assert "ultramarine" not in found
    assert any("ultramarine" in each and "left out" in each for each in found.attrs["remarks"])
    assert "ultramarine" in find_shade([40, 10, -20], [RED, "ultramarine"], MOST, market="EU")


def test_nothing_left_is_refused():
    with pytest.raises(LabError, match="None of these pigments is left"):
        find_shade([40, 10, -20], ["ultramarine"], MOST, market="US")


def test_an_unknown_market_is_refused():
    with pytest.raises(LabError, match="market"):
        find_shade([40, 10, -20], [RED], MOST, market="Atlantis")


def test_a_limit_is_kept():
    """D&C Red No. 36: at most 3 % of the product on lips (21 CFR 74.2336); its optics here are invented."""
    own = default_pigments().only(["red 7 lake", WHITE])
    own = replace(own, names=("D&C Red No. 36", WHITE))
    wanted = predict_many([[6.0, 4.0]], own.names, pigments=own)[0]
    free = find_shade(wanted, own.names, MOST, pigments=own)
    kept = find_shade(wanted, own.names, MOST, pigments=own, market="US")
    assert free["D&C Red No. 36"].iloc[0] == pytest.approx(6, rel=0.01)
    assert kept["D&C Red No. 36"].max() <= 3 + 1e-6
    assert kept["delta_e00"].iloc[0] > free["delta_e00"].iloc[0]
    assert any("kept to 3 %" in each for each in kept.attrs["remarks"])


def test_a_pigment_whose_rules_are_not_recorded_is_left_out():
    own = replace(default_pigments().only([RED, WHITE]), names=("a red of my own", WHITE))
    found = find_shade([60, 20, 10], own.names, MOST, pigments=own, market="US")
    assert "a red of my own" not in found
    assert any("a red of my own" in each for each in found.attrs["remarks"])


# ---- what cannot be asked ------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"lab": [40, 30]}, "wanted colour"),
        ({"lab": [140, 30, 10]}, "no colour"),
        ({"lab": [40, np.nan, 10]}, "no colour"),
        ({"lab": [40, 300, 10]}, "no colour"),
        ({"lab": "red"}, "no colour's code"),
        ({"lab": "#12345"}, "no colour's code"),
        ({"lab": "#12 34 5"}, "no colour's code"),
        ({"lab": None}, "wanted colour"),
        ({"among": []}, "Among which pigments"),
        ({"among": ["base"]}, "Among which pigments"),
        ({"among": ["red iron oxid"]}, "red iron oxide"),
        ({"among": [RED, RED]}, "twice"),
        ({"among": ["interference mica"]}, "not forecast"),
        ({"max_load": 0}, "highest load"),
        ({"max_load": 101}, "highest load"),
        ({"max_load": np.nan}, "highest load"),
        ({"max_load": "much"}, "highest load"),
        ({"film_um": -1}, "film"),
        ({"film_um": [5, 10]}, "more than one thickness"),
        ({"backing": "moon"}, "backing"),
        ({"n": 0}, "number of blends"),
        ({"n": 2.5}, "number of blends"),
        ({"seed": -1}, "seed"),
        ({"seed": True}, "seed"),
    ],
)
def test_what_cannot_be_is_refused_in_words(change, says):
    asked = {"lab": [40, 30, 20], "among": NAMES, "max_load": MOST} | change
    with pytest.raises(LabError, match=says):
        find_shade(**asked)
