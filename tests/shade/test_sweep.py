from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from labkit.colour.cie import delta_e00
from labkit.errors import LabError
from labkit.shade import contrast_ratio, default_pigments, predict, sweep
from labkit.shade.load_sweep import enough, enough_load

BLEND = {"red iron oxide": 3.0, "titanium dioxide": 1.0}
CARDS = ["black card", "white card"]


@pytest.fixture(scope="module")
def told():
    return sweep(BLEND, [1, 4, 8, 16], [5, 10, 20], [*CARDS, "lip", [40, 12, 10]])


def test_there_is_a_row_for_each_load_film_and_backing_in_that_order(told):
    assert len(told) == 4 * 3 * 4
    assert told["load"].is_monotonic_increasing
    first = told[told["load"] == told["load"].iloc[0]]
    assert first["film_um"].tolist() == [5.0] * 4 + [10.0] * 4 + [20.0] * 4
    assert first["backing"].tolist()[:4] == [*CARDS, "lip", "backing 4"]


def test_a_row_is_what_predict_says_of_it(told):
    for _, row in told.iloc[::7].iterrows():
        backing = [40, 12, 10] if row["backing"] == "backing 4" else row["backing"]
        blend = {name: row["load"] * parts / 4 for name, parts in BLEND.items()}
        forecast = predict(blend, row["film_um"], backing)
        np.testing.assert_allclose(row[["L", "a", "b"]].astype(float), forecast.lab, atol=1e-9)
        np.testing.assert_allclose(row[["L_sd", "a_sd", "b_sd"]].astype(float), forecast.lab_sd, atol=1e-9)
        assert row["hex"] == forecast.hex


def test_the_contrast_ratio_is_that_of_the_two_cards_whatever_is_shown(told):
    row = told[(told["load"] == 8) & (told["film_um"] == 10)].iloc[0]
    blend = {"red iron oxide": 6, "titanium dioxide": 2}
    assert row["contrast_ratio"] == pytest.approx(contrast_ratio(blend))
    alone = sweep(BLEND, [8], [10], ["lip"]).iloc[0]
    assert alone["contrast_ratio"] == pytest.approx(row["contrast_ratio"])
    assert alone[["contrast_low", "contrast_high"]].tolist() == pytest.approx(
        row[["contrast_low", "contrast_high"]].tolist()
    )


def test_coverage_grows_with_load_and_film_and_its_band_holds_it(told):
    once = told.drop_duplicates(["load", "film_um"])
    for _, rows in once.groupby("film_um"):
        assert rows["contrast_ratio"].is_monotonic_increasing
    for _, rows in once.groupby("load"):
        assert rows["contrast_ratio"].is_monotonic_increasing
    assert (told["contrast_low"] < told["contrast_ratio"]).all()
    assert (told["contrast_ratio"] < told["contrast_high"]).all()
    assert told["contrast_high"].max() <= 1


def test_what_shows_through_is_the_difference_of_the_lightest_and_the_darkest_backing(told):
    rows = told[(told["load"] == 4) & (told["film_um"] == 5)].set_index("backing")
    black, white = (rows.loc[card, ["L", "a", "b"]].to_numpy(float) for card in CARDS)
    assert rows["show_through"].iloc[0] == pytest.approx(float(delta_e00(black, white)))
    assert sweep(BLEND, [4], [5], ["lip"])["show_through"].isna().all()


def test_only_the_ratio_of_the_blend_counts():
    less = {name: parts / 7 for name, parts in BLEND.items()}
    parts, percent = (sweep(blend, [6], [10], CARDS) for blend in (BLEND, less))
    pd.testing.assert_frame_equal(parts, percent)


@pytest.mark.parametrize(
    ("gains", "load"),
    [([0.3, 0.1, 0.005, 0.001], 2.0), ([0.3, 0.2, 0.1, 0.05], np.inf), ([0.005] * 4, 0.0)],
)
def test_enough_is_where_a_further_percent_gains_less_than_a_hundredth(gains, load):
    ratios = np.concatenate([[0.1], 0.1 + np.cumsum(gains)])
    assert enough(np.arange(5.0), ratios) == load
    assert enough(np.arange(5.0), np.stack([ratios, ratios])).tolist() == [load, load]


def test_the_band_of_enough_is_that_of_the_draws_of_the_pigments():
    loads = np.linspace(1, 30, 59)
    found = enough_load(BLEND, loads, 20.0)
    own = default_pigments().only(list(BLEND))
    each = []
    for k, s in zip(*own.draws(200), strict=True):
        drawn = replace(own, log_ks=np.log(np.stack([k, s], axis=1)), modes=own.modes[:0])
        told = sweep(BLEND, loads, [20.0], ["lip"], drawn)
        each.append(float(enough(loads, told["contrast_ratio"].to_numpy())))
    low, high = np.percentile(each, (5, 95), method="nearest")
    assert (found.low, found.high) == pytest.approx((low, high))
    assert found.low < found.load < found.high


def test_what_shows_through_has_a_band(told):
    assert (told["show_low"] < told["show_through"]).all()
    assert (told["show_through"] < told["show_high"]).all()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"blend": {"red iron oxide": 0}}, "no pigment in the blend"),
        ({"blend": {"red iron oxid": 1}}, "Did you mean “red iron oxide”"),
        ({"loads": []}, "no load"),
        ({"loads": ["two"]}, "are no numbers"),
        ({"loads": [120]}, "120 % of the product"),
        ({"loads": [-1]}, "cannot be"),
        ({"films_um": [-3]}, "film"),
        ({"films_um": []}, "no film"),
        ({"backings": "lip"}, "a list of backings"),
        ({"backings": ["lips"]}, "Did you mean “lip”"),
    ],
)
def test_what_cannot_be_swept_is_said(change, said):
    asked = {"blend": BLEND, "loads": [5], "films_um": [10], "backings": CARDS} | change
    with pytest.raises(LabError, match=said):
        sweep(**asked)


def test_only_the_ratio_of_a_blend_matters():
    grams = {"red iron oxide": 150, "titanium dioxide": 50}
    percent = {"red iron oxide": 3, "titanium dioxide": 1}
    ours, theirs = (sweep(blend, [2, 8], [10], CARDS)[["L", "a", "b"]] for blend in (grams, percent))
    assert ours.to_numpy() == pytest.approx(theirs.to_numpy())
