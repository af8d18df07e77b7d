"""What lies below a film: the named ones and their classes, colours and reflectances, and what is none."""

import csv
import math
import re
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.colour.cie import WAVELENGTHS, lab_of, lab_of_srgb
from labkit.errors import LabError
from labkit.shade.backing import named, names, of_lab, reflectance_of

FLAT = np.full(WAVELENGTHS.size, 0.5)

# Individual typology angle, degrees: Chardon et al. 1991, Int. J. Cosmet. Sci. 13, 191; "dark" begins at −30°
# in Del Bino and Bernerd 2013, Br. J. Dermatol. 169 (s3), 33.
CLASSES = {
    "skin very light": (55, 90),
    "skin light": (41, 55),
    "skin intermediate": (28, 41),
    "skin tan": (10, 28),
    "skin brown": (-30, 10),
    "skin dark": (-90, -30),
}


def rows():
    with (files("labkit.shade") / "backings.csv").open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def typology_angle(lab):
    """ITA = atan((L* − 50)/b*)·180/π (Chardon et al. 1991)."""
    return math.degrees(math.atan((lab[0] - 50) / lab[2]))


# ---- the named ones --------------------------------------------------------------


def test_every_class_of_skin_has_its_backing():
    assert {name for name in names() if name.startswith("skin")} == set(CLASSES)


@pytest.mark.parametrize("name", CLASSES)
def test_a_skin_lies_in_the_class_of_its_name(name):
    low, high = CLASSES[name]
    assert low < typology_angle(named()[name]) <= high


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["backing"])
def test_the_table_says_what_each_rests_on(row):
    assert "from memory" in row["source"]
    if said := re.search(r"ITA (-?\d+)°", row["source"]):
        assert typology_angle(named()[row["backing"]]) == pytest.approx(float(said[1]), abs=0.75)


def test_lips_and_skins_go_from_light_to_deep():
    lightness = {name: lab[0] for name, lab in named().items()}
    assert lightness["lip light"] > lightness["lip"] > lightness["lip deep"]
    skins = [lightness[name] for name in CLASSES]
    assert skins == sorted(skins, reverse=True)


def test_a_lip_is_redder_than_skin():
    redness = {
        kind: [lab[1] for name, lab in named().items() if name.startswith(kind)] for kind in ("lip", "skin")
    }
    assert min(redness["lip"]) > max(redness["skin"])


@pytest.mark.parametrize(("card", "grey"), [("black card", 0.0), ("white card", 0.80)])
def test_a_card_is_a_flat_grey(card, grey):
    """ISO 6504-1: the white half reflects 0.80."""
    assert reflectance_of(card).tolist() == [grey] * 36


@pytest.mark.parametrize("name", names())
def test_a_name_gives_a_reflectance_whatever_its_case_and_spaces(name):
    found = reflectance_of(name)
    assert found.shape == (36,)
    assert ((found >= 0) & (found <= 1)).all()
    assert (reflectance_of(f"  {name.upper()} ") == found).all()


@pytest.mark.parametrize("name", named())
def test_a_named_colour_is_met_exactly(name):
    assert lab_of(reflectance_of(name)) == pytest.approx(named()[name], abs=1e-9)


@pytest.mark.parametrize("name", [name for name in named() if name.startswith("skin")])
def test_a_skins_reflectance_rises_to_the_red(name):
    """Skin reflects more red than green, and more green than blue, at any depth (no source)."""
    found = reflectance_of(name)
    at = dict(zip(WAVELENGTHS, found, strict=True))
    assert at[650] > at[550] > at[450]


# ---- a maker's own ---------------------------------------------------------------


@settings(deadline=None)
@given(st.tuples(*[st.floats(0, 1)] * 3))
def test_any_colour_of_a_screen_is_met_exactly(srgb):
    lab = lab_of_srgb(srgb)
    if lab[0] <= 100:
        found = reflectance_of(lab)
        assert ((found >= 0) & (found <= 1)).all()
        assert lab_of(found) == pytest.approx(lab, abs=0.02 if min(srgb) > 0.99 else 1e-9)


@pytest.mark.parametrize("form", [list, tuple, np.array])
def test_a_colour_may_be_typed_in_any_form(form):
    assert (reflectance_of(form([52, 21, 13])) == reflectance_of("lip")).all()


def test_a_reflectance_stays_as_it_was_read():
    own = np.linspace(0, 1, 36)
    assert (reflectance_of(own) == own).all()
    assert (reflectance_of(own.tolist()) == own).all()


def test_a_reflectance_that_is_kept_cannot_be_written_over():
    with pytest.raises(ValueError, match="read-only"):
        of_lab((52.0, 21.0, 13.0))[0] = 0.5


def without(value, at=5):
    spoilt = FLAT.copy()
    spoilt[at] = value
    return spoilt


@pytest.mark.parametrize(
    ("backing", "told"),
    {
        "near": ("lips", "Did you mean “lip”"),
        "near skin": ("skin very lite", "Did you mean “skin very light”"),
        "far": ("marble", "Known: .*“black card”.*“skin dark”"),
        "empty": ("", "is no backing that labkit knows"),
        "a lab as text": ("52, 21, 13", "is no backing that labkit knows"),
        "none": (None, "36 values"),
        "one number": (0.5, "36 values"),
        "two numbers": ([0.5, 0.5], "36 values"),
        "too short": (FLAT[:-1], r"36 values, 380 to 730 nm .* shape is \(35,\)"),
        "steps of 5": (np.full(71, 0.5), r"shape is \(71,\)"),
        "several": (np.stack([FLAT, FLAT]), "one backing at a time"),
        "several colours": (np.full((2, 3), 50.0), "one backing at a time"),
        "words": (["lip", "skin", "card"], "is no backing. Give a name"),
        "ragged": ([[1, 2], [3]], "is no backing. Give a name"),
        "a mapping": ({"L": 52, "a": 21, "b": 13}, "is no backing. Give a name"),
        "percent": (100 * FLAT, "highest reflectance is 50, .* divide them by 100"),
        "a little over 1": (without(1.02), "highest reflectance is 1.02, .* white tile"),
        "below 0": (without(-0.01), "below 0"),
        "missing": (without(np.nan), "missing"),
        "endless": (without(np.inf), "missing"),
        "lightness over 100": ([101, 0, 0], "L\\* 101, .* no colour of a skin"),
        "lightness just over 100": ([100.05, 0, 0], "no colour of a skin"),
        "lightness below 0": ([-1, 0, 0], "no colour of a skin"),
        "wild": ([50, 120, -100], "no screen shows"),
        "not a number": ([float("nan"), 0, 0], "no colour of a skin"),
    }.values(),
)
def test_what_is_no_backing_is_refused(backing, told):
    with pytest.raises(LabError, match=told):
        reflectance_of(backing)
