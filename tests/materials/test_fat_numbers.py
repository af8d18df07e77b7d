"""Iodine and saponification value from fatty acids: the chemistry, AOCS factors, and published ranges."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import LabError
from labkit.materials import Value, iodine_value, known_ingredients, saponification_value
from labkit.materials.fat_numbers import ACIDS, Acid

FATS = [each for each in known_ingredients() if each.fatty_acids]
BY_NAME = {each.name: each for each in FATS}


@pytest.mark.parametrize(
    ("acid", "factor"),
    [
        # AOCS Recommended Practice Cd 1c-85, factors for triglycerides [g iodine per g] (from memory)
        ("palmitoleic", 0.950),
        ("oleic", 0.860),
        ("linoleic", 1.732),
        ("linolenic", 2.616),
        ("eicosenoic", 0.785),
        ("docosenoic", 0.723),
    ],
)
def test_factors_of_aocs_cd_1c_85(acid, factor):
    assert iodine_value({acid: 100.0}) == pytest.approx(100 * factor, abs=0.1)


@pytest.mark.parametrize(
    ("name", "g_mol"),
    [
        # CRC Handbook of Chemistry and Physics, physical constants of organic compounds (from memory)
        ("lauric", 200.32),
        ("palmitic", 256.42),
        ("stearic", 284.48),
        ("oleic", 282.46),
        ("linoleic", 280.45),
        ("ricinoleic", 298.46),
    ],
)
def test_molar_masses(name, g_mol):
    assert ACIDS[name].g_mol == pytest.approx(g_mol, abs=0.02)


def test_a_saponification_value_by_hand():
    """Tristearin C57H110O6, 891.48 g/mol: three KOH of 56.106 g/mol, 3 · 56106 / 891.48 = 188.81 mg/g."""
    assert saponification_value({"stearic": 50.0}) == pytest.approx(188.81, abs=0.02)


def test_the_formula_of_aocs_cd_3a_94_on_a_mixture():
    """SV = 3 · 56.1 · 1000 / (3 M + 92.09 − 3 · 18), M the mean acid; written out for half and half."""
    mean = 1 / (0.5 / 200.32 + 0.5 / 282.46)
    by_hand = 3 * 56.1 * 1000 / (3 * mean + 92.09 - 54)
    assert saponification_value({"lauric": 50, "oleic": 50}) == pytest.approx(by_hand, rel=2e-4)


PUBLISHED_IV = {
    # what was read: Codex CXS 210-1999, table 2; CXS 325-2017; Ph. Eur.; USP 32-NF 27
    "coconut oil": (6.3, 10.6),
    "high-oleic safflower oil": (80, 100),
    "shea butter": (30, 75),
    "castor oil": (82, 90),
    "sesame oil": (103, 116),
    "safflower oil": (135, 150),
    "sweet almond oil": (95, 105),
    "caprylic/capric triglyceride": (0, 1),
}
PUBLISHED_SV = {
    "coconut oil": (248, 265),
    "high-oleic safflower oil": (186, 194),
    "sunflower oil": (187, 194),
    "shea butter": (160, 195),
    "sesame oil": (188, 195),
    "sweet almond oil": (190, 200),
}


def ends(of, name):
    """The value with the most and with the least that does not saponify, as far as that is recorded."""
    fat = BY_NAME[name]
    none = fat.values.get("unsaponifiable_percent", Value(0.0, 0.0, ""))
    return of(fat.fatty_acids, none.high), of(fat.fatty_acids, none.low)


@pytest.mark.parametrize("name", PUBLISHED_IV)
def test_iodine_values_meet_the_published_range(name):
    low, high = ends(iodine_value, name)
    assert low <= PUBLISHED_IV[name][1]
    assert high >= PUBLISHED_IV[name][0]
    recorded = BY_NAME[name].values["iodine_value"]
    assert (recorded.low, recorded.high, recorded.how) == (*PUBLISHED_IV[name], "published")


@pytest.mark.parametrize("name", PUBLISHED_SV)
def test_saponification_values_meet_the_published_range(name):
    low, high = ends(saponification_value, name)
    assert low <= PUBLISHED_SV[name][1]
    assert high >= PUBLISHED_SV[name][0]
    recorded = BY_NAME[name].values["saponification_value"]
    assert (recorded.low, recorded.high, recorded.how) == (*PUBLISHED_SV[name], "published")


@pytest.mark.parametrize("name", BY_NAME)
def test_the_table_does_not_contradict_itself(name):
    """What is recorded from memory agrees with the chemistry: acids, iodine and saponification value."""
    for of, prop in ((iodine_value, "iodine_value"), (saponification_value, "saponification_value")):
        low, high = ends(of, name)
        recorded = BY_NAME[name].values[prop]
        assert low <= recorded.high, prop
        assert high >= recorded.low, prop


@pytest.mark.parametrize("name", [name for name in BY_NAME if "density_g_ml" in BY_NAME[name].values])
def test_densities_agree_with_lund(name):
    """Lund: at 15 °C 0.8475 + 0.00030 SV + 0.00014 IV, −0.00064 g/mL per °C; not valid for castor."""
    density = BY_NAME[name].values["density_g_ml"]
    by_lund = 0.8475 + 0.00030 * ends(saponification_value, name)[1] + 0.00014 * ends(iodine_value, name)[1]
    at = by_lund - 0.00064 * (density.at_c - 15)
    off = max(density.low - at, at - density.high)
    assert (off > 0.02) == (name == "castor oil")


@given(st.dictionaries(st.sampled_from(sorted(ACIDS)), st.floats(0.1, 100), min_size=1))
def test_a_mixture_lies_between_its_acids(acids):
    alone = [iodine_value({acid: 1.0}) for acid in acids]
    assert min(alone) - 1e-6 <= iodine_value(acids) <= max(alone) + 1e-6
    alone = [saponification_value({acid: 1.0}) for acid in acids]
    assert min(alone) - 1e-6 <= saponification_value(acids) <= max(alone) + 1e-6


def test_a_longer_acid_weighs_more_and_saponifies_less():
    assert Acid(18, 0).g_mol > Acid(16, 0).g_mol
    assert saponification_value({"stearic": 1}) < saponification_value({"palmitic": 1})


@pytest.mark.parametrize(
    ("acids", "says"),
    [
        ({"olaic": 100}, "Did you mean “oleic”"),
        ({}, "not all 0"),
        ({"oleic": -1}, "0 or more"),
        ({"oleic": 0}, "0"),
    ],
)
def test_acids_that_cannot_be(acids, says):
    with pytest.raises(LabError, match=says):
        iodine_value(acids)


def test_an_unsaponifiable_share_that_cannot_be():
    with pytest.raises(LabError, match="unsaponifiable: 100 %"):
        saponification_value({"oleic": 100}, 100)
