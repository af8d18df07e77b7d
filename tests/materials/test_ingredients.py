"""The table of ingredients: complete, well formed, each figure with its source."""

import csv
import re
from collections import Counter
from pathlib import Path
from typing import get_args

import pytest

import labkit.materials
from labkit.batch.order import Ingredient
from labkit.batch.solubility import CRYSTALS
from labkit.batch.viscosity import oil_names, oil_viscosity
from labkit.materials import colourants, find_material, known_ingredients
from labkit.materials.families import FAMILIES
from labkit.materials.material import PROPERTIES, Group
from labkit.materials.name_words import guess_part

FOLDER = Path(labkit.materials.__file__).parent
EVERY = pytest.mark.parametrize("each", known_ingredients(), ids=lambda each: each.name)
BY_NAME = {each.name: each for each in known_ingredients()}


def read(name):
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_there_are_enough():
    assert len(known_ingredients()) >= 45
    assert len({each.name for each in (*known_ingredients(), *colourants())}) == len(
        known_ingredients()
    ) + len(colourants())


@pytest.mark.parametrize(
    "name",
    [
        # those of the trade, group by group
        "beeswax", "candelilla wax", "carnauba wax", "rice bran wax", "ozokerite", "microcrystalline wax",
        "cetyl alcohol", "cocoa butter", "shea butter", "mango butter", "kokum butter", "illipe butter",
        "castor oil", "jojoba oil", "sunflower oil", "safflower oil", "sweet almond oil",
        "caprylic/capric triglyceride", "squalane", "meadowfoam oil", "magnesium stearate", "zinc stearate",
        "silica", "kaolin", "mica", "tocopherol", "flavour oil",
    ],
)  # fmt: skip
def test_the_usual_ones_are_there(name):
    assert find_material(name).name == name


@EVERY
def test_an_ingredient_is_well_formed(each):
    assert each.group in get_args(Group)
    assert each.inci
    assert each.us_name
    assert each.role
    assert each.comes_from
    assert {family.removesuffix("?") for family in each.families} <= set(FAMILIES)
    assert set(each.values) <= set(PROPERTIES)


@EVERY
def test_cas_numbers_are_possible(each):
    """The last digit is Σ place · digit from the right, modulo 10 (CAS registry's rule)."""
    for number in (each.cas, *each.other_names):
        if re.fullmatch(r"\d{2,7}-\d\d-\d", number):
            digits = number.replace("-", "")[-2::-1]
            assert sum(at * int(digit) for at, digit in enumerate(digits, 1)) % 10 == int(number[-1])


@EVERY
def test_what_a_stick_is_made_of_has_the_figures_that_matter(each):
    """A butter or wax has a melting range, a fat its iodine value; else substitutes are a guess."""
    if each.group in ("butter", "wax"):
        assert "melting_c" in each.values
        assert "iodine_value" in each.values
    if each.group in ("oil", "ester"):
        assert "iodine_value" in each.values


@pytest.mark.parametrize(
    "row", read("ingredient_values.csv"), ids=lambda row: f"{row['material']} {row['property']}"
)
def test_a_value_has_its_unit_and_its_source(row):
    value = BY_NAME[row["material"]].values[row["property"]]
    assert row["unit"] == PROPERTIES[row["property"]]
    assert float(row["low"]) <= float(row["high"])
    assert value.source == row["source"] != ""
    assert value.how in ("published", "memory", "practice")
    if row["property"] in ("density_g_ml", "refractive_index", "viscosity_mpa_s"):
        assert (row["at_c"] != "") or row["material"] == "tocopherol"


def test_no_value_was_edited_silently():
    """Number of values and the sums of lows and highs: change these only with a source for the change."""
    rows = read("ingredient_values.csv")
    assert max(Counter((row["material"], row["property"]) for row in rows).values()) == 1
    sums = {
        prop: (
            sum(row["property"] == prop for row in rows),
            round(sum(float(row["low"]) for row in rows if row["property"] == prop), 3),
            round(sum(float(row["high"]) for row in rows if row["property"] == prop), 3),
        )
        for prop in ("melting_c", "iodine_value", "saponification_value")
    }
    assert sums == {
        "melting_c": (43, 1801.8, 2275.0),
        "iodine_value": (55, 2170.3, 2779.6),
        "saponification_value": (55, 7270.0, 7991.0),
    }


@pytest.mark.parametrize(
    ("name", "prop", "low", "high"),
    [
        # Ph. Eur.: beeswax drop point 61–66 °C, saponification 87–104; castor oil 0.952–0.965, IV 82–90
        ("beeswax", "melting_c", 61, 66),
        ("beeswax", "saponification_value", 87, 104),
        ("castor oil", "density_g_ml", 0.952, 0.965),
        ("castor oil", "iodine_value", 82, 90),
        # USP-NF: carnauba melts at 80–86 °C, saponification 78–95; candelilla saponification 43–65
        ("carnauba wax", "melting_c", 80, 86),
        ("carnauba wax", "saponification_value", 78, 95),
        ("candelilla wax", "saponification_value", 43, 65),
        # Belitz, Food Chemistry, table 14.9: cocoa butter 28–36 °C, illipe 28–37 °C
        ("cocoa butter", "melting_c", 28, 36),
        ("illipe butter", "melting_c", 28, 37),
        # Codex CXS 210-1999 (2022): sunflowerseed oil 0.916–0.923, 1.461–1.475, 187–194
        ("sunflower oil", "density_g_ml", 0.916, 0.923),
        ("sunflower oil", "refractive_index", 1.461, 1.475),
        ("sunflower oil", "saponification_value", 187, 194),
        # Handbook of Pharmaceutical Excipients: magnesium stearate 117–150 °C, 1.09 g/mL, loose 0.159 g/mL
        ("magnesium stearate", "melting_c", 117, 150),
        ("magnesium stearate", "bulk_density_g_ml", 0.159, 0.159),
    ],
)
def test_published_values(name, prop, low, high):
    value = BY_NAME[name].values[prop]
    assert (value.low, value.high, value.how) == (low, high, "published")


@pytest.mark.parametrize("name", [name for name in CRYSTALS if name in BY_NAME])
def test_melting_agrees_with_the_room_of_the_stove(name):
    melting = BY_NAME[name].values["melting_c"]
    assert melting.low <= CRYSTALS[name].melts_c <= melting.high


@pytest.mark.parametrize("name", oil_names())
def test_viscosity_agrees_with_the_room_of_the_stove(name):
    viscosity = BY_NAME[name].values["viscosity_mpa_s"]
    assert viscosity.low <= oil_viscosity(name)(viscosity.at_c) <= viscosity.high


@EVERY
def test_groups_agree_with_what_a_name_says(each):
    said = guess_part(each.name)
    if said:
        assert {"ester": "oil"}.get(each.group, each.group) == said


@EVERY
def test_heat_limits_lie_above_melting(each):
    """The stove refuses a wax that melts above its own limit."""
    melting, limit = each.values.get("melting_c"), each.values.get("heat_limit_c")
    kind = {"ester": "oil", "flavour": "scent", "aid": "oil", "antioxidant": "oil"}.get(
        each.group, each.group
    )
    Ingredient(
        each.name, kind, (melting.low, melting.high) if melting else None, limit.high if limit else None
    )
    assert not (melting and limit and kind == "wax") or limit.low > melting.high
