"""An ingredient is found by INCI name, common name or a misspelling; two near answers are asked."""

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import LabError
from labkit.materials import colourants, find_material, is_spelled_so, known_ingredients

NAMES = [each.name for each in (*known_ingredients(), *colourants())]


def answer(text: str) -> str:
    """Return the name of what is found, else what is said instead."""
    try:
        return find_material(text).name
    except LabError as error:
        return str(error)


@pytest.mark.parametrize("name", NAMES)
def test_each_is_found_by_its_own_name(name):
    assert find_material(name).name == name


@pytest.mark.parametrize("each", known_ingredients(), ids=lambda each: each.name)
def test_an_inci_name_finds_it_or_asks(each):
    """High-oleic oils have the INCI name of the others: which it is has to be asked."""
    for inci in (each.inci, each.us_name):
        said = answer(inci)
        assert said == each.name or (f"“{each.name}”" in said and "Write which one" in said)


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("CERA ALBA", "beeswax"),
        ("Ricinus Communis (Castor) Seed Oil", "castor oil"),
        ("8001-79-4", "castor oil"),
        ("organic unrefined shea butter", "shea butter"),
        ("cupuaçu butter", "cupuacu butter"),
        ("Theobroma cacao", "cocoa butter"),
        ("coconut", "coconut oil"),  # the beginning of one name only
        ("carnuba wax", "carnauba wax"),
        ("beeswx", "beeswax"),
        ("sunflwer oil", "sunflower oil"),
        ("magnesium stearat", "magnesium stearate"),
        ("CI 77491", "red iron oxide"),
        ("77891", "titanium dioxide"),
        ("china clay", "kaolin"),
    ],
)
def test_found_however_it_is_typed(typed, name):
    assert find_material(typed).name == name


@pytest.mark.parametrize(
    ("typed", "could"),
    [
        ("shae butter", ["sal butter", "shea butter"]),
        ("rice bran", ["rice bran oil", "rice bran wax"]),
        ("castor", ["castor oil", "hydrogenated castor oil"]),
        ("Helianthus Annuus Seed Oil", ["sunflower oil", "high-oleic sunflower oil"]),
        ("Iron Oxides", ["red iron oxide", "yellow iron oxide", "black iron oxide"]),
    ],
)
def test_two_near_answers_are_asked(typed, could):
    with pytest.raises(LabError, match=" or ".join(f"“{name}”" for name in could)):
        find_material(typed)


@pytest.mark.parametrize("typed", ["ultramarin", "titanium dioxyde", "red iron oxyde"])
def test_a_misspelt_colourant_is_never_guessed(typed):
    with pytest.raises(LabError, match=r"Did you mean.*CI number"):
        find_material(typed)


@pytest.mark.parametrize("typed", ["Moonstruck 12", "ruby shimmer", "pink lake", "wax"])
def test_a_trade_name_asks_for_the_ci_number_or_the_inci_name(typed):
    with pytest.raises(LabError, match=r"CI number.*INCI name"):
        find_material(typed)


@pytest.mark.parametrize("typed", ["", "   "])
def test_nothing_typed(typed):
    with pytest.raises(LabError, match="no name"):
        find_material(typed)


@given(st.text(max_size=40))
def test_any_text_is_found_or_refused_in_words(text):
    said = answer(text)
    assert said in NAMES or any(words in said for words in ("INCI name", "Write which one", "Did you mean"))


def test_a_guess_can_be_told_from_a_name():
    assert is_spelled_so("red oxide", find_material("red oxide"))
    assert is_spelled_so("C.I. 77491", find_material("CI 77491"))
    assert not is_spelled_so("carnuba wax", find_material("carnuba wax"))


# ---- the maker's own values ------------------------------------------------------


def test_own_values_override_and_say_so():
    mine = find_material(
        "Butyrospermum Parkii Butter", {"shea butter": {"melting_c": "33,5-36", "role": "soft"}}
    )
    assert (mine.values["melting_c"].low, mine.values["melting_c"].high) == (33.5, 36.0)
    assert mine.values["melting_c"].how == "own"
    assert mine.values["iodine_value"].how == "published"  # the others stay
    assert mine.role == "soft"


def test_own_values_may_be_under_another_name_of_it():
    assert find_material("beeswax", {"Cera Alba": {"melting_c": 63}}).values["melting_c"].low == 63


def test_own_values_as_a_table_with_empty_cells():
    own = pd.DataFrame(
        {"material": ["beeswax", "castor oil"], "melting_c": [63.5, None], "iodine_value": [None, "85"]}
    )
    assert find_material("beeswax", own).values["melting_c"].high == 63.5
    assert find_material("castor oil", own).values["iodine_value"].low == 85
    assert find_material("castor oil", own).values["melting_c"].how == "memory"


def test_own_materials_are_found():
    own = {"Grandma's balm base": {"made_of": {"castor oil": 60, "beeswax": 40}}}
    assert find_material("grandma's balm base", own).made_of == {"castor oil": 60.0, "beeswax": 40.0}
    tallow = find_material("tallow", {"tallow": {"group": "butter", "inci": "Tallow", "families": "animal"}})
    assert (tallow.group, tallow.us_name, tallow.families) == ("butter", "Tallow", ("animal",))


@pytest.mark.parametrize(
    ("own", "says"),
    [
        ({"beeswax": {"melting": 63}}, "“melting” is nothing that is recorded. Did you mean “melting_c”"),
        ({"beeswax": {"melting_c": "warm"}}, "beeswax, melting_c: “warm” is no number"),
        ({"beeswax": {"melting_c": "1,234"}}, "could be 1.234 or 1234"),
        ({"beeswax": {"melting_c": (66, 61)}}, "Give the lower first"),
        ({"beeswax": {"melting_c": (61, 63, 66)}}, "one number, or two"),
        ({"beeswax": {"iodine_value": -3}}, "0 or more"),
        ({"beeswax": {"melting_c": float("inf")}}, "cannot be"),
        ({"beeswax": {"group": "waxes"}}, "no group. Did you mean “wax”"),
        ({"beeswax": {"fatty_acids": {"olaic": 3}}}, "Did you mean “oleic”"),
        ({"paste": {"made_of": {"castor oil": 60}}}, "come to 60 %"),
        ({"beeswax": {"made_of": "wax"}}, "each part with its %"),
    ],
)
def test_own_values_that_cannot_be(own, says):
    with pytest.raises(LabError, match=says):
        find_material("beeswax", own)


def test_an_own_material_needs_a_group():
    with pytest.raises(LabError, match="give its group"):
        find_material("tallow", {"tallow": {"inci": "Tallow"}})


def test_an_own_colourant_needs_its_ci_number():
    """Else it would slip past the rules as an ordinary ingredient."""
    with pytest.raises(LabError, match="CI number"):
        find_material("sparkle 5", {"sparkle 5": {"group": "colourant", "inci": "Sparkle"}})


def test_a_table_of_own_values_needs_names_once():
    with pytest.raises(LabError, match="column “material”"):
        find_material("beeswax", pd.DataFrame({"melting_c": [63]}))
    with pytest.raises(LabError, match="“beeswax” stands there twice"):
        find_material("beeswax", pd.DataFrame({"material": ["beeswax", "beeswax"], "melting_c": [63, 64]}))
