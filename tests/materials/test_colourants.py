"""The table of colourants: complete, well formed, and physically possible."""

import csv
import re
from collections import Counter
from pathlib import Path

import pytest

import labkit.materials
from labkit.materials import Span, colourants

FOLDER = Path(labkit.materials.__file__).parent
PROPERTIES = {"density": "g/mL", "refractive_index": "1", "oil_absorption": "g/100 g", "bulk_density": "g/mL"}
BY_NAME = {each.name: each for each in colourants()}
EVERY = pytest.mark.parametrize("each", colourants(), ids=lambda each: each.name)


def read(name: str) -> list[dict[str, str]]:
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def check_digit(cas: str) -> int:
    """The digits before the last, from the right, times 1, 2, 3 …; sum modulo 10 (CAS registry's rule)."""
    digits = cas.replace("-", "")[-2::-1]
    return sum(place * int(digit) for place, digit in enumerate(digits, start=1)) % 10


def test_the_check_digit_of_a_cas_number_by_hand():
    """Water, 7732-18-5: 8·1 + 1·2 + 2·3 + 3·4 + 7·5 + 7·6 = 105, so 5."""
    assert check_digit("7732-18-5") == 5


@EVERY
def test_cas_numbers_are_possible(each):
    for number in (each.cas, *each.other_names):
        if re.fullmatch(r"\d{2,7}-\d\d-\d", number):
            assert check_digit(number) == int(number[-1]), number


@EVERY
def test_a_colourant_is_well_formed(each):
    assert each.kind in ("pigment", "lake", "filler", "pearl", "dye")
    assert re.fullmatch(r"CI \d{5}(:\d)?", each.ci) or each.name == "interference mica"
    assert each.cas == "" or re.fullmatch(r"\d{2,7}-\d\d-\d", each.cas)
    assert each.form_of == "" or BY_NAME[each.form_of].form_of == ""
    assert each.name not in each.other_names


@EVERY
def test_a_form_shares_the_number_of_what_it_is_a_form_of(each):
    if each.form_of:
        assert each.ci[:8] == BY_NAME[each.form_of].ci[:8]


def test_names_are_recorded_once():
    assert not [
        name for name, times in Counter(row["name"] for row in read("names.csv")).items() if times > 1
    ]


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("red iron oxide", "pigment"),
        ("ultramarine", "pigment"),
        ("carmine", "lake"),
        ("D&C Red No. 7", "lake"),
        ("D&C Red No. 27", "dye"),  # stains and changes colour
        ("D&C Red No. 27 lake", "lake"),
        ("D&C Orange No. 5", "dye"),
        ("interference mica", "pearl"),
        ("bismuth oxychloride", "pearl"),
        ("mica", "filler"),  # plain mica
        ("kaolin", "filler"),
    ],
)
def test_kinds(name, kind):
    assert BY_NAME[name].kind == kind


@pytest.mark.parametrize("kind", ["pearl", "dye"])
def test_what_cannot_be_forecast_says_so(kind):
    assert all("not forecast" in each.note for each in colourants() if each.kind == kind)


@EVERY
def test_what_is_forecast_has_a_density(each):
    if each.kind in ("pigment", "lake", "filler"):
        assert each.density is not None


@pytest.mark.parametrize("row", read("pigments.csv"), ids=lambda row: f"{row['material']} {row['property']}")
def test_a_value_has_its_unit_and_its_source(row):
    assert row["material"] in BY_NAME
    assert row["unit"] == PROPERTIES[row["property"]]
    assert 0 < float(row["low"]) <= float(row["high"])
    span = getattr(BY_NAME[row["material"]], row["property"])
    assert span == Span(float(row["low"]), float(row["high"]), row["source"])
    assert row["source"]
    assert span.how == row["how"]


def test_a_value_is_recorded_once():
    pairs = Counter((row["material"], row["property"]) for row in read("pigments.csv"))
    assert max(pairs.values()) == 1


def test_no_value_was_edited_silently():
    """Number of values, sum of the lows and of the highs: change these only with a source for the change."""
    sums = {}
    for name in PROPERTIES:
        rows = [row for row in read("pigments.csv") if row["property"] == name]
        lows, highs = (round(sum(float(row[end]) for row in rows), 3) for end in ("low", "high"))
        sums[name] = (len(rows), lows, highs)
    assert sums == {
        "density": (33, 111.94, 120.71),
        "refractive_index": (16, 31.69, 33.52),
        "oil_absorption": (11, 262.0, 480.0),
        "bulk_density": (9, 3.23, 5.7),
    }


@pytest.mark.parametrize(
    ("name", "prop", "low", "high", "how"),
    [
        # Gettens & Stout, Painting Materials, physical properties: 2.34; 3.9; 4.2; 5.65; 3.32; 1.83; 2.60
        ("ultramarine", "density", 2.34, 2.34, "published"),
        ("titanium dioxide (anatase)", "density", 3.9, 3.9, "published"),
        ("titanium dioxide", "density", 4.2, 4.2, "published"),
        ("zinc oxide", "density", 5.65, 5.65, "published"),
        ("hydrated chromium oxide green", "density", 3.32, 3.32, "published"),
        ("ferric ferrocyanide", "density", 1.83, 1.83, "published"),
        ("kaolin", "density", 2.60, 2.60, "published"),
        # the same table: rutile ω 2.6, ε 2.9; anatase 2.5; viridian α, β 1.82, γ 2.12; Prussian blue 1.56
        ("titanium dioxide", "refractive_index", 2.6, 2.9, "published"),
        ("titanium dioxide (anatase)", "refractive_index", 2.5, 2.5, "published"),
        ("hydrated chromium oxide green", "refractive_index", 1.82, 2.12, "published"),
        ("ferric ferrocyanide", "refractive_index", 1.56, 1.56, "published"),
        # Handbook of Pharmaceutical Excipients: titanium dioxide, loose 0.40–0.62 g/mL
        ("titanium dioxide", "bulk_density", 0.40, 0.62, "published"),
    ],
)
def test_published_values(name, prop, low, high, how):
    span = getattr(BY_NAME[name], prop)
    assert (span.low, span.high, span.how) == (low, high, how)


AVOGADRO_PER_CUBIC_ANGSTROM = 0.602214076  # 1 u/Å³ is 1.66054 g/cm³


def crystal_density(mass_u: float, formulas: int, volume_A3: float) -> float:
    """Z·M / (N·V) [g/cm³]."""
    return formulas * mass_u / (AVOGADRO_PER_CUBIC_ANGSTROM * volume_A3)


HEXAGONAL = 3**0.5 / 2
CRYSTALS = {
    # formula mass [u], formulas in the cell, volume of the cell [Å³] from lattice constants (from memory)
    "red iron oxide": (159.69, 6, HEXAGONAL * 5.0356**2 * 13.7489),
    "yellow iron oxide": (88.85, 4, 9.956 * 3.0215 * 4.608),
    "black iron oxide": (231.53, 8, 8.396**3),
    "titanium dioxide": (79.866, 2, 4.5937**2 * 2.9587),
    "titanium dioxide (anatase)": (79.866, 4, 3.7845**2 * 9.5143),
    "zinc oxide": (81.38, 2, HEXAGONAL * 3.2495**2 * 5.2069),
    "chromium oxide green": (151.99, 6, HEXAGONAL * 4.9607**2 * 13.599),
    "bismuth oxychloride": (260.43, 2, 3.887**2 * 7.354),
    "aluminium powder": (26.982, 4, 4.0495**3),
    "copper powder": (63.546, 4, 3.6149**3),
    "silver": (107.868, 4, 4.0862**3),
}


@pytest.mark.parametrize("name", CRYSTALS)
def test_density_agrees_with_the_crystal(name):
    """A powder's grains are as dense as their crystal, or a little less: water, pores, disorder."""
    crystal = crystal_density(*CRYSTALS[name])
    density = BY_NAME[name].density
    assert density.high <= 1.015 * crystal
    assert density.low >= 0.86 * crystal
    assert density.high >= 0.97 * crystal


@EVERY
def test_a_loose_powder_is_lighter_than_its_grains(each):
    if each.bulk_density:
        assert each.bulk_density.high < 0.5 * each.density.low


@pytest.mark.parametrize(
    ("source", "how"),
    [
        ("from memory", "memory"),
        ("common practice, no source", "practice"),
        ("Gettens & Stout, Painting Materials", "published"),
    ],
)
def test_a_source_says_how_a_value_is_known(source, how):
    assert Span(1.0, 2.0, source).how == how
