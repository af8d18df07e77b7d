"""The order of heating, and what a bath cannot melt as such."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.batch import Ingredient, order_of_heating, water_bath_ceiling
from labkit.errors import LabError

RECIPE = [
    Ingredient("vanilla oil", "scent", limit_c=50.0),
    Ingredient("tocopherol", "oil", limit_c=60.0),
    Ingredient("shea butter", "butter", (35.0, 40.0)),
    Ingredient("carnauba", "wax", (80.0, 86.0)),
    Ingredient("magnesium stearate", "powder", (117.0, 150.0)),
    Ingredient("red oxide", "powder"),
    Ingredient("castor oil", "oil"),
    Ingredient("beeswax", "wax", (61.0, 66.0)),
]


def names(found):
    return found.rows["ingredient"].tolist()


def test_the_order_of_a_whole_recipe():
    found = order_of_heating(RECIPE, water_bath_ceiling(0))
    assert names(found) == [
        "castor oil", "carnauba", "beeswax", "shea butter",
        "tocopherol", "magnesium stearate", "red oxide", "vanilla oil",
    ]  # fmt: skip
    assert found.clear_c == 91.0
    assert found.rows["why"].str.len().min() > 20


def test_what_must_stay_cool_waits():
    when = order_of_heating(RECIPE).rows.set_index("ingredient")["when"]
    assert "below 60 °C" in when["tocopherol"]
    assert "below 50 °C" in when["vanilla oil"]
    assert "up to 91 °C" in when["carnauba"]


def test_a_limit_above_the_melt_needs_no_waiting():
    found = order_of_heating([Ingredient("castor oil", "oil", limit_c=100.0), RECIPE[-1]])
    assert names(found) == ["castor oil", "beeswax"]
    assert "from the start" in found.rows["when"][0]


def test_a_powder_that_melts_high_does_not_raise_the_heat():
    assert order_of_heating([RECIPE[4], RECIPE[-1]]).clear_c == 71.0


def test_a_bath_at_sea_level_melts_carnauba_and_high_up_not_as_such():
    assert not any("carnauba" in each for each in order_of_heating(RECIPE, water_bath_ceiling(0)).remarks)
    high = [each for each in order_of_heating(RECIPE, water_bath_ceiling(3000)).remarks if "carnauba" in each]
    assert "as such" in high[0]
    assert "dissolves below its own melting point" in high[0]


def test_a_stearate_sends_nobody_to_an_open_flame():
    said = next(
        each for each in order_of_heating(RECIPE, water_bath_ceiling(0)).remarks if "stearate" in each
    )
    assert "disperse it as a powder" in said
    assert "no reason for an open flame" in said


@given(st.permutations(RECIPE))
def test_the_order_does_not_hang_on_how_it_was_typed(recipe):
    waxes = ("carnauba", "beeswax", "shea butter", "tocopherol", "vanilla oil")
    assert [each for each in names(order_of_heating(recipe)) if each in waxes] == list(waxes)


def test_oil_alone_needs_little_heat():
    assert order_of_heating([Ingredient("castor oil", "oil")]).clear_c == 40.0


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: Ingredient("clay", "mud"), "no kind"),
        (lambda: Ingredient("wax", "wax", (70.0, 60.0)), "lower first"),
        (lambda: Ingredient("wax", "wax", (70.0, 400.0)), "melting"),
        (lambda: Ingredient("wax", "wax", limit_c=-5.0), "heat limit"),
        (lambda: order_of_heating([]), "nothing to heat"),
        (lambda: order_of_heating([RECIPE[0], RECIPE[0]]), "twice"),
        (lambda: order_of_heating([Ingredient("wax", "wax", (60.0, 66.0), 62.0)]), "its own limit"),
        (lambda: order_of_heating(RECIPE, 212.0), "°F"),
    ],
)
def test_what_cannot_be_is_refused(ask, words):
    with pytest.raises(LabError, match=words):
        ask()
