"""The pot as it really is, and the smallest additions that put it right."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.batch import Pot, smallest_additions
from labkit.errors import LabError

POT = {"castor oil": 60.0, "shea butter": 20.0, "beeswax": 15.0, "red oxide": 5.0}


def hardness(shares):
    """Wax hardens twenty times as much as butter does; oil softens."""
    return 2.0 + 20.0 * shares.get("beeswax", 0.0) + shares["shea butter"] - 2.0 * shares["castor oil"], 0.2


@given(st.floats(0.1, 90.0), st.floats(0.1, 20.0))
def test_the_pot_keeps_its_grams(out, more):
    pot = Pot(POT).take(out).add("beeswax", more)
    assert pot.total_g == pytest.approx(100.0 - out + more)
    assert sum(pot.percent.values()) == pytest.approx(100.0)
    assert pot.take(1.0).percent["red oxide"] == pytest.approx(pot.percent["red oxide"])


@pytest.mark.parametrize("change", [-0.4, 0.4])
def test_additions_reach_what_is_wanted_by_the_least_amount(change):
    found = smallest_additions(POT, hardness, change, step_g=0.01)
    before = hardness(Pot(POT).shares)[0]
    assert len(found.rows)
    for row in found.rows.itertuples():
        assert hardness(Pot(POT).add(row.add, row.grams).shares)[0] - before == pytest.approx(
            change, abs=0.01
        )
        less = hardness(Pot(POT).add(row.add, row.grams * 0.9).shares)[0] - before
        assert abs(less) < abs(change)
    assert found.rows["grams"].is_monotonic_increasing


def test_which_way_an_addition_moves_it():
    softer, harder = (
        smallest_additions(POT, hardness, change).rows["add"].tolist() for change in (-0.4, 0.4)
    )
    assert "castor oil" in softer
    assert "beeswax" not in softer
    assert harder == ["beeswax"]


def test_it_says_what_else_changes():
    row = smallest_additions(POT, hardness, -0.4, may_add=["castor oil"]).rows.iloc[0]
    after = Pot(POT).add("castor oil", row["grams"]).percent
    assert f"red oxide 5.0 → {after['red oxide']:.1f} %" in row["what_else"]
    assert row["what_else"].startswith("castor oil 60.0 →")


def test_something_that_is_not_in_the_pot_may_be_added():
    found = smallest_additions(POT, hardness, -0.2, may_add=["jojoba oil"])
    assert found.rows["add"].tolist() == ["jojoba oil"]
    assert "jojoba oil 0.0 →" in found.rows["what_else"][0]


def test_grams_are_on_the_scales_step():
    found = smallest_additions(POT, hardness, 0.4, step_g=0.5)
    assert (found.rows["grams"] % 0.5 == 0).all()


@pytest.mark.parametrize("model", [None, lambda shares: None])
def test_where_nothing_is_known_it_says_so(model):
    found = smallest_additions(POT, model, -0.5)
    assert found.rows.empty
    assert "Nothing is known" in found.why


def test_a_model_that_knows_only_some_pots():
    found = smallest_additions(
        POT, lambda shares: hardness(shares) if shares["castor oil"] < 0.62 else None, -0.4
    )
    assert "castor oil" not in found.rows["add"].tolist()


def test_too_much_to_ask_of_one_addition():
    found = smallest_additions(POT, hardness, -5.0)
    assert found.rows.empty
    assert "No single addition of up to 30 g makes it softer by 5" in found.why


def test_a_map_less_sure_than_the_change_is_said():
    assert "add half" in smallest_additions(POT, lambda shares: (hardness(shares)[0], 1.5), -0.4).why
    assert "add half" not in smallest_additions(POT, hardness, -0.4).why


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: Pot({}), "grams by name"),
        (lambda: Pot({"wax": 0.0}), "empty"),
        (lambda: Pot({"wax": -1.0}), "wax"),
        (lambda: Pot(POT).add("wax", 0.0), "wax, added"),
        (lambda: Pot(POT).take(100.0), "cannot be taken"),
        (lambda: Pot(POT).take(-1.0), "taken out"),
        (lambda: smallest_additions(POT, hardness, 0.0), "no change"),
        (lambda: smallest_additions(POT, hardness, "softer"), "wanted change"),
        (lambda: smallest_additions(POT, hardness, 1.0, step_g=0.0), "step"),
        (lambda: smallest_additions(POT, hardness, 1.0, most_share=2.0), "largest addition"),
    ],
)
def test_what_cannot_be_is_refused(ask, words):
    with pytest.raises(LabError, match=words):
        ask()


def test_a_pigment_is_not_offered_to_change_hardness():
    def stiff(shares):
        return 20.0 * shares["beeswax"] + 30.0 * shares["red iron oxide"], 0.2

    pot = {"castor oil": 60.0, "beeswax": 30.0, "red iron oxide": 10.0}
    assert smallest_additions(pot, stiff, 0.4).rows["add"].tolist() == ["beeswax"]
    asked = smallest_additions(pot, stiff, 0.4, may_add=["red iron oxide"])
    assert asked.rows["add"].tolist() == ["red iron oxide"]
