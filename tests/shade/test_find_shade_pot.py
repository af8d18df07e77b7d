"""What to add to a pot for a wanted colour: nothing can be taken out."""

import re

import numpy as np
import pytest

from labkit.colour.cie import delta_e00
from labkit.errors import LabError
from labkit.shade import find_shade, predict, predict_many
from labkit.shade.pigments import default_pigments
from labkit.shade.pot import Pot, read_pot
from labkit.shade.reach import needed_base, reach_into, reach_of

RED, BLACK, WHITE = "red iron oxide", "black iron oxide", "titanium dioxide"
POT = {RED: 3.0, "castor oil": 60.0, "beeswax": 37.0}


def added(found, name):
    return found[f"add {name} (g)"].to_numpy()


@pytest.mark.parametrize("among", [[RED, WHITE, "carmine"], ["carmine", "base"], [WHITE]])
def test_the_table_is_the_pot_and_what_is_added(among):
    found = find_shade([38, 42, 16], among, 12, pot=POT)
    total = found["total_g"].to_numpy()
    extra = sum(added(found, name) for name in among)
    assert total == pytest.approx(100 + extra)
    for name in {RED, *among} - {"base"}:
        before = POT.get(name, 0.0)
        more = added(found, name) if name in among else 0.0
        assert (np.asarray(more) >= 0).all()
        assert found[name].to_numpy() == pytest.approx(100 * (before + more) / total, abs=1e-9)
    assert (found["load"] <= 12 + 1e-6).all()


def test_it_is_as_good_as_the_best_of_a_grid_of_additions():
    """Additions of two pigments in steps of 0.1 g, at most 12 % in all."""
    steps = np.arange(0, 12, 0.1)
    more = np.stack(np.meshgrid(steps, steps), -1).reshape(-1, 2)
    grams = np.column_stack([np.full(len(more), 3.0), more])
    loads = 100 * grams / (grams.sum(1, keepdims=True) + 97)
    loads = loads[loads.sum(1) <= 12]
    lab = predict_many(loads, [RED, WHITE, "carmine"])
    for wanted in ([38, 42, 16], [60, 25, 12], [20, 10, 5]):
        best = delta_e00(lab, np.broadcast_to(wanted, lab.shape)).min()
        ours = find_shade(wanted, [WHITE, "carmine"], 12, pot=POT)["delta_e00"].iloc[0]
        assert best - 0.5 <= ours <= best + 0.03


def test_what_the_pot_is_already_needs_nothing():
    found = find_shade(predict({RED: 3.0}).lab, [RED, WHITE], 12, pot=POT)
    assert added(found, RED)[0] == 0
    assert added(found, WHITE)[0] == 0
    assert found["total_g"].iloc[0] == 100


def test_nothing_is_taken_out():
    """The wanted colour has less red than the pot: it cannot be reached without base."""
    wanted = predict({RED: 1.5}).lab
    kept = find_shade(wanted, [RED, WHITE], 12, pot=POT)
    assert kept["delta_e00"].iloc[0] > 0.5
    assert (kept[RED] / (100 - kept["load"]) >= 3 / 97 - 1e-9).all()
    thinner = find_shade(wanted, [RED, WHITE, "base"], 12, pot=POT).iloc[0]
    assert thinner["delta_e00"] < 0.01
    assert thinner["add base (g)"] == pytest.approx(100, rel=0.01)


def test_base_that_would_help_is_spoken_of():
    pot = {RED: 6.0, BLACK: 1.0, "base": 93.0}
    found = find_shade(predict({RED: 3.0, BLACK: 0.5}).lab, [RED, WHITE], 15, pot=pot)
    said = [each for each in found.attrs["remarks"] if "base" in each]
    grams = float(re.search(r"With ([\d.]+) g", said[0])[1])
    assert found["delta_e00"].iloc[0] > 1
    assert grams == pytest.approx(100, rel=0.05)
    fine = find_shade(predict({RED: 6.0, BLACK: 1.0, WHITE: 1.0}).lab, [WHITE], 15, pot=pot)
    assert not [each for each in fine.attrs["remarks"] if "of base" in each]


def test_a_pot_that_is_too_full_says_how_much_base_it_needs():
    pot = {RED: 20.0, "base": 60.0}
    with pytest.raises(LabError, match="Add at least 20 g of base first"):
        find_shade([38, 30, 20], [WHITE], 20, pot=pot)
    first = find_shade([38, 30, 20], [WHITE], 20, pot={RED: 20.0, "base": 80.0})
    assert first["load"].max() <= 20 + 1e-6
    helped = find_shade([38, 30, 20], [WHITE, "base"], 20, pot=pot)
    assert added(helped, "base").min() >= 20 - 1e-6
    assert helped["load"].max() <= 20 + 1e-6


def test_a_pigment_in_the_pot_that_the_market_refuses_stops_it():
    with pytest.raises(LabError, match="is in the pot, and nothing can be taken out"):
        find_shade([38, 30, 20], [RED], 20, pot={"ultramarine": 1, "base": 99}, market="US")
    found = find_shade([38, 30, 20], [RED], 20, pot={"ultramarine": 0, "base": 99}, market="US")
    assert "ultramarine" not in found


def test_a_pigment_in_the_pot_need_not_be_among_those_to_add():
    found = find_shade([38, 30, 20], [WHITE], 20, pot=POT)
    assert "add red iron oxide (g)" not in found
    assert (found[RED] > 0).all()


@pytest.mark.parametrize(
    ("pot", "says"),
    [
        ({"red iron oxid": 3, "base": 97}, "red iron oxide"),
        ({"interference mica": 3, "base": 97}, "not forecast"),
        ({RED: -1, "base": 97}, "cannot be"),
        ({RED: "much", "base": 97}, "no number"),
        ({RED: float("nan"), "base": 97}, "cannot be"),
        ({RED: 0, "base": 0}, "nothing in the pot"),
        ({RED: 1, "CI 77491": 1, "base": 97}, "twice"),
        ([3, 97], "the pot"),
    ],
)
def test_a_pot_that_cannot_be_is_refused(pot, says):
    with pytest.raises(LabError, match=says):
        find_shade([38, 30, 20], [RED], 20, pot=pot)


def test_everything_that_is_no_pigment_is_base():
    pot = read_pot({"CI 77491": 2, "Castor oil": 50, "Beeswax": 10, "Base": 5}, default_pigments())
    assert pot == Pot({RED: 2.0}, 65.0)
    assert pot.load == pytest.approx(100 * 2 / 67)


def test_a_limit_of_one_pigment_needs_base_too():
    assert needed_base(Pot({RED: 6.0}, 94.0), 20.0, {RED: 3.0}) == pytest.approx(100)
    assert needed_base(Pot({RED: 2.0}, 98.0), 20.0, {RED: 3.0}) == 0


def test_loads_are_those_of_the_grams():
    names, add = [RED, WHITE], [WHITE, "base"]
    into = reach_into(Pot({RED: 4.0}, 76.0), names, add, 20, {})
    x = np.array([[10.0, 0.0], [5.0, 25.0]])
    pot_share = 1 - x.sum(1) / 100
    assert into.loads(x) == pytest.approx(np.column_stack([5 * pot_share, x[:, 0]]))
    assert into.holds(x).tolist() == [True, True]
    assert into.holds(np.array([[19.0, 0], [-1, 0], [0, 90]])).tolist() == [False, False, False]


def test_a_new_blend_is_what_is_added():
    reach = reach_of([RED, WHITE], [RED, WHITE], 20, {WHITE: 4.0})
    x = np.array([[3.0, 4.0], [3.0, 5.0], [17.0, 4.0]])
    assert reach.loads(x) == pytest.approx(x)
    assert reach.holds(x).tolist() == [True, False, False]
