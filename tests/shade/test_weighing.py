"""What a scale or a spoon does to the colour of a batch."""

import numpy as np
import pytest

from labkit.colour.cie import delta_e00
from labkit.errors import LabError
from labkit.shade import predict, weighing_effect

BLEND = {"titanium dioxide": 4.0, "red iron oxide": 2.0, "black iron oxide": 0.1}


@pytest.fixture(scope="module")
def told():
    return weighing_effect(BLEND, 15)


def test_a_coarser_scale_strays_farther(told):
    assert told["way"].tolist() == ["a scale of 0.1 g", "a scale of 0.01 g", "a spoon"]
    coarse, fine, _ = told["delta_e00_median"]
    assert coarse > 3 * fine
    assert (told["delta_e00_90"] > told["delta_e00_median"]).all()


def test_a_larger_batch_strays_less_on_a_scale_and_as_much_with_a_spoon(told):
    large = weighing_effect(BLEND, 150)
    ratio = large["delta_e00_90"] / told["delta_e00_90"]
    assert (ratio[:2] < 0.25).all()
    assert ratio[2] == pytest.approx(1)


def test_the_trace_of_black_matters_most(told):
    """0.015 g of black: a step of 0.1 g is far more than all of it."""
    assert told["matters_most"].iloc[0] == "black iron oxide"
    assert (told["matters_90"] <= told["delta_e00_90"] * 1.2).all()


def test_one_pigment_against_plain_draws():
    """8 % of 20 g on a 0.1 g scale: standard deviation 0.1·√(1/12 + 1) g, one blend at a time."""
    blend, rng = {"red iron oxide": 8.0}, np.random.default_rng(5)
    row = weighing_effect(blend, 20).iloc[0]
    wanted = predict(blend).lab
    far = []
    for _ in range(400):
        grams = 1.6 + 0.1 * (rng.uniform(-0.5, 0.5) + rng.normal())
        far.append(float(delta_e00(predict({"red iron oxide": 100 * grams / (grams + 18.4)}).lab, wanted)))
    assert row["delta_e00_median"] == pytest.approx(np.median(far), rel=0.2)
    assert row["delta_e00_90"] == pytest.approx(np.percentile(far, 90), rel=0.2)
    assert row["matters_90"] == row["delta_e00_90"]


def test_a_spoon_that_was_weighed_strays_less(told):
    weighed = weighing_effect(BLEND, 15, spoon_sd=0.1)
    assert weighed["delta_e00_90"].iloc[-1] < 0.5 * told["delta_e00_90"].iloc[-1]


def test_the_makers_own_scale_stands_beside_the_usual_ones():
    own = weighing_effect(BLEND, 15, step_g=0.001)
    assert own["step_g"].tolist()[:3] == [0.1, 0.01, 0.001]
    assert np.isnan(own["step_g"].iloc[-1])


def test_a_film_of_no_thickness_shows_no_error():
    assert (weighing_effect(BLEND, 15, film_um=0)["delta_e00_90"] < 1e-6).all()


def test_the_same_seed_gives_the_same(told):
    assert weighing_effect(BLEND, 15).equals(told)
    assert not weighing_effect(BLEND, 15, seed=1).equals(told)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"blend": {}}, "no pigment"),
        ({"blend": {"red iron oxide": 0}}, "no pigment"),
        ({"blend": {"red iron oxid": 1}}, "red iron oxide"),
        ({"batch_g": 0}, "the batch"),
        ({"batch_g": "one"}, "the batch"),
        ({"step_g": 0}, "scale's step"),
        ({"step_g": 11}, "scale's step"),
        ({"spoon_sd": -1}, "spoon"),
        ({"spoon_sd": 3}, "spoon"),
    ],
)
def test_what_cannot_be_is_refused(change, says):
    with pytest.raises(LabError, match=says):
        weighing_effect(**{"blend": BLEND, "batch_g": 15} | change)
