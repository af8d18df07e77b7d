"""Two recipes side by side, and what a filled tube costs."""

from typing import ClassVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import LabError
from labkit.recipe import Lot, Recipe, compare, cost_of, likely_causes

FIRST = Recipe.from_percent(
    "first", {"castor oil": 60, "shea butter": 20, "beeswax": 14, "red iron oxide": 5, "titanium dioxide": 1},
    process={"pour_c": 68.0, "cooling": "on the bench"},
)  # fmt: skip
SOFTER = Recipe.from_percent(
    "softer", {"castor oil": 65, "shea butter": 20, "beeswax": 9, "red iron oxide": 5, "titanium dioxide": 1},
    process={"pour_c": 69.0, "cooling": "in the cold"},
)  # fmt: skip


def test_the_likeliest_cause_of_softer_comes_first():
    table = compare(FIRST, SOFTER)
    assert table["what"].iloc[0] == "wax to oil"
    assert table["likely effect"].iloc[0].startswith("softer")
    assert "general trade knowledge" in table["likely effect"].iloc[0]
    rows = table.set_index("what")
    assert rows.loc["beeswax, %", "change"] == pytest.approx(-5)
    assert rows.loc["pour temperature, °C", "change"] == 1.0
    assert "cooling, min" not in rows.index
    assert any(each.startswith("cooling: on the bench against in the cold") for each in rows.index)


def test_alike_recipes_do_not_differ_whatever_they_are_called():
    names = ("Ricinus Communis Seed Oil", "shea butter", "Cera Alba", "CI 77491", "titanium dioxide")
    percent = dict(zip(names, (60, 20, 14, 5, 1), strict=True))
    other = Recipe.from_percent("other", percent, process=FIRST.process)
    assert compare(FIRST, other).empty


def test_the_makers_own_models_stand_in_front():
    models = {
        "hardness": lambda shares: (20 * shares.get("beeswax", 0.0), 0.2),
        "colour": lambda loads: (40.0 - loads["red iron oxide"], 30.0, 20.0),
    }
    table = compare(FIRST, SOFTER, models)
    assert table["what"].tolist()[:2] == ["hardness, words", "colour, ΔE00"]
    assert table["change"].iloc[0] == pytest.approx(-1.0)
    assert "1.0 words softer ± 0.3 by your own map" in table["likely effect"].iloc[0]
    assert table["change"].iloc[1] == 0.0
    unknown = compare(FIRST, SOFTER, {"hardness": lambda shares: None})
    assert "does not reach" in unknown["likely effect"].iloc[0]
    with pytest.raises(LabError, match="Did you mean “hardness”"):
        compare(FIRST, SOFTER, {"hardnes": lambda shares: None})


def test_a_shade_that_leans_is_told():
    percent = FIRST.percent() | {"red iron oxide": 4.0, "titanium dioxide": 2.0}
    pinker = Recipe.from_percent("pinker", percent, process=FIRST.process)
    rows = compare(FIRST, pinker).set_index("what")
    assert "leans to titanium dioxide" in rows.loc["titanium dioxide among the pigments", "likely effect"]
    assert "load of pigment, %" not in rows.index


def test_a_wax_in_place_of_another_is_one_change_told_by_the_table():
    """Candelilla melts higher than beeswax: 68 to 73 °C (USP, seen) against 61 to 66 °C (Ph. Eur., seen)."""
    percent = {"candelilla wax" if name == "beeswax" else name: x for name, x in FIRST.percent().items()}
    other = Recipe.from_percent("other", percent, process=FIRST.process)
    table = compare(FIRST, other)
    assert table["what"].tolist() == ["candelilla wax in place of beeswax, %"]
    assert table["change"].iloc[0] == 0.0
    assert table["likely effect"].iloc[0].startswith("harder, and it melts later")
    assert "materials table" in table["likely effect"].iloc[0]
    back = compare(other, FIRST)
    assert back["likely effect"].iloc[0].startswith("softer, and it melts sooner")


def test_what_is_in_no_table_is_not_known():
    one = Recipe.from_grams("a", {"my oil one": 60, "beeswax": 20})
    other = Recipe.from_grams("b", {"her oil two": 60, "beeswax": 20})
    table = compare(one, other)
    assert table["what"].tolist() == ["her oil two in place of my oil one, %"]
    assert "in no table" in table["likely effect"].iloc[0]


def test_each_line_is_told_by_the_models_that_know_it():
    """A straight model: oil from 60 to 65 % alone leaves 14·35/40 % of beeswax: 50·1.75/100 words."""
    models = {
        "hardness": lambda shares: (50 * shares["beeswax"], 0.1),
        "colour": lambda loads: ([40.0 + loads["titanium dioxide"], 30.0, 20.0], [1, 1, 1]),
    }
    rows = compare(FIRST, SOFTER, models).set_index("what")["likely effect"]
    assert rows["castor oil, %"] == "0.9 words softer, alone, by your own models"
    assert rows["beeswax, %"] == "2.5 words softer, alone, by your own models"
    whiter = FIRST.changed(percent={"titanium dioxide": 4}, rest="castor oil")
    rows = compare(FIRST, whiter, models).set_index("what")["likely effect"]
    assert "lighter, ΔE00" in rows["titanium dioxide, %"]
    assert "lighter" not in rows["castor oil, %"]


def test_a_model_that_does_not_know_leaves_general_knowledge():
    models = {"hardness": lambda shares: None, "colour": lambda loads: None}
    table = compare(FIRST, SOFTER, models)
    assert table["what"].tolist()[:2] == ["hardness", "colour"]
    assert "general trade knowledge" in table.set_index("what")["likely effect"]["beeswax, %"]
    assert len(compare(FIRST, SOFTER, {"hardness": None})) == len(compare(FIRST, SOFTER))


def test_a_remake_that_is_no_recipe_is_compared():
    class Remake:
        name = "hers"
        process: ClassVar = {"pour_c": 60.0}

        def percent(self):
            return {name: each / 2 for name, each in FIRST.percent().items()}

    rows = compare(FIRST, Remake()).set_index("what")
    assert list(rows.index) == [
        "pour temperature, °C", "cooling: on the bench against not said",
    ]  # fmt: skip
    with pytest.raises(LabError, match="Compare two recipes"):
        compare(FIRST, {"castor oil": 1})


@pytest.mark.parametrize(
    ("seen", "first"),
    [("softer", "wax to oil"), ("different shade", "red iron oxide among the pigments"),
     ("streaky", "pour temperature, °C"), ("grainy", "cooling, min"),
     ("harder", "waiting before judging, h")],
)  # fmt: skip
def test_likely_causes_of_what_is_seen_stand_in_order(seen, first):
    made = {"pour_c": 62.0, "cooling_min": 30.0, "waiting_h": 60.0, "rounds": 9.0}
    before = FIRST.changed(process={"pour_c": 68.0, "cooling_min": 10.0, "waiting_h": 24.0, "rounds": 5.0})
    after = SOFTER.changed(percent={"titanium dioxide": 2}, rest="castor oil", process=made)
    causes = likely_causes(before, after, seen)
    assert causes["what"].iloc[0] == first
    assert "rounds of stirring" not in set(causes["what"])  # stirred more: not why it is streaky


def test_causes_of_something_unheard_of_are_refused():
    with pytest.raises(LabError, match="Did you mean “softer”"):
        likely_causes(FIRST, SOFTER, "soft")


def test_a_tube_costs_what_is_in_it_its_container_and_what_stays_in_the_pan():
    prices = {
        "castor oil": 8.0,
        "shea butter": 12.0,
        "beeswax": 15.0,
        "CI 77491": 40.0,
        "titanium dioxide": 30.0,
    }
    found = cost_of(FIRST, prices, containers=20, fill_g=4.5, container_price=0.6, loss=0.1)
    kilo = 0.60 * 8 + 0.20 * 12 + 0.14 * 15 + 0.05 * 40 + 0.01 * 30
    assert found.total == pytest.approx(0.1 * kilo + 12.0)
    assert found.each == pytest.approx(found.total / 20)
    assert found.lost == pytest.approx(0.01 * kilo)
    assert found.table["cost"].sum() == pytest.approx(found.total)
    assert found.why.startswith("container is 9")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"beeswax": float("nan")}, "no number"),
        ({"beeswax": -1.0}, "cannot be"),
        ({"beeswax": None}, "no price"),
    ],
)
def test_a_price_that_is_missing_or_cannot_be_is_named(change, said):
    prices = {"castor oil": 8.0, "shea butter": 12.0, "red iron oxide": 40.0, "titanium dioxide": 30.0}
    prices |= {name: each for name, each in change.items() if each is not None}
    with pytest.raises(LabError, match=f"beeswax.*{said}"):
        cost_of(FIRST, prices, containers=20, fill_g=4.5)


PRICES = {"castor oil": 8.0, "shea butter": 12.0, "beeswax": 15.0, "CI 77491": 40.0, "titanium dioxide": 30.0}


def test_lots_count_by_their_grams():
    """500 g for 5 and 1,000 g for 7 make 12 for 1.5 kg: 8 a kg."""
    lots = PRICES | {"castor oil": [Lot(5.0, 500.0), Lot(7.0, 1000.0)], "beeswax": "15,0"}
    found = cost_of(FIRST, lots, containers=20, fill_g=4.5)
    assert found.total == pytest.approx(cost_of(FIRST, PRICES, containers=20, fill_g=4.5).total)


def test_a_loss_that_varies_makes_the_cost_vary():
    from labkit.batch import usual_loss

    loss = usual_loss([100.0, 100.0, 120.0], [91.0, 90.0, 110.4])
    found = cost_of(FIRST, PRICES, containers=20, fill_g=4.5, loss=loss, container_price=0.6)
    low, high = found.each_limits
    assert low < found.each < high
    at_high = cost_of(FIRST, PRICES, containers=20, fill_g=4.5, loss=loss.high, container_price=0.6)
    assert high == pytest.approx(at_high.each)
    assert at_high.each_limits == pytest.approx((at_high.each, at_high.each))
    once = usual_loss([100.0], [91.0])
    assert cost_of(FIRST, PRICES, containers=20, fill_g=4.5, loss=once).each_limits[1] == float("inf")


@given(st.integers(1, 300), st.floats(0.0, 30.0), st.floats(0.0, 0.6))
def test_a_larger_batch_shares_what_each_batch_costs(containers, batch_price, loss):
    small, large = (
        cost_of(FIRST, PRICES, containers=n, fill_g=4.5, batch_price=batch_price, loss=loss)
        for n in (containers, 2 * containers)
    )
    assert small.each - large.each == pytest.approx(batch_price / containers / 2, abs=1e-9)
    dearer = {name: 1.1 * each for name, each in PRICES.items()}
    more = cost_of(FIRST, dearer, containers=containers, fill_g=4.5, batch_price=batch_price, loss=loss)
    named = small.table[small.table["what"] != "batch"]
    assert more.each - small.each == pytest.approx(named["if_10_percent_dearer"].sum())


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (
            {"price_kg": {"castor oil": 8.0}},
            "shea butter, beeswax, red iron oxide, titanium dioxide: no",
        ),
        ({"price_kg": PRICES | {"beeswax": "dear"}}, "is no number"),
        ({"price_kg": PRICES | {"beeswax": []}}, "give lots"),
        ({"price_kg": PRICES | {"beeswax": Lot(5, 0)}}, "more than 0"),
        ({"loss": 1.2}, "the loss"),
        ({"container_price": -1}, "0 or more"),
        ({"batch_price": float("nan")}, "is no number"),
    ],
)
def test_what_cannot_be_costed_is_said(more, said):
    with pytest.raises(LabError, match=said):
        cost_of(FIRST, **({"price_kg": PRICES, "containers": 20, "fill_g": 4.5} | more))
