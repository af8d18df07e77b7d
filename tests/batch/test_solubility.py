"""Where wax leaves an ideal solution, and that what was observed counts more."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.batch import cloud_point, ideal_solution_temperature
from labkit.batch.solubility import CASTOR_G_MOL, CRYSTALS, Crystal
from labkit.errors import LabError


def test_tristearin_in_triolein():
    """10 % by mass, worked out from 221.6 J/g, 891.5 g/mol and 72.5 °C: 61.3 °C."""
    assert ideal_solution_temperature(0.10, CRYSTALS["tristearin"]) == pytest.approx(61.3, abs=0.05)


@pytest.mark.parametrize(("share", "celsius"), [(0.10, 49), (0.20, 54), (0.30, 57)])
def test_beeswax_in_castor_oil(share, celsius):
    """Worked out from 185 J/g, 677 g/mol, 64 °C and a solvent of 930 g/mol."""
    assert ideal_solution_temperature(share, CRYSTALS["beeswax"], CASTOR_G_MOL) == pytest.approx(
        celsius, abs=0.5
    )


def test_naphthalene_in_benzene():
    """Mole fraction 0.304 at 25 °C from Tm 80.2 °C and 19.06 kJ/mol; 0.296 seen (from memory)."""
    naphthalene = Crystal(19060.0 / 128.17, 128.17, 80.2, "")
    mass = 0.304 * 128.17 / (0.304 * 128.17 + 0.696 * 78.11)
    assert ideal_solution_temperature(mass, naphthalene, 78.11) == pytest.approx(25.0, abs=1.0)


@pytest.mark.parametrize("name", CRYSTALS)
def test_pure_wax_melts_where_it_melts_and_every_figure_has_a_source(name):
    crystal = CRYSTALS[name]
    assert ideal_solution_temperature(1.0, crystal) == pytest.approx(crystal.melts_c)
    assert crystal.source


@given(st.sampled_from(sorted(CRYSTALS)), st.floats(0.01, 0.9))
def test_more_wax_clouds_sooner(name, share):
    less, more = (ideal_solution_temperature(each, CRYSTALS[name]) for each in (share, share + 0.05))
    assert less < more < CRYSTALS[name].melts_c + 1e-9


def test_it_is_the_root_of_the_equation():
    wax = CRYSTALS["beeswax"]
    kelvin = ideal_solution_temperature(0.2, wax, 900.0) + 273.15
    mole = (0.2 / 677.0) / (0.2 / 677.0 + 0.8 / 900.0)
    heat = wax.heat_j_g * wax.molar_g
    assert np.log(mole) == pytest.approx(heat / 8.314462618 * (1 / 337.15 - 1 / kelvin))


def test_an_estimate_says_that_it_is_ideal_and_what_is_seen_replaces_it():
    found = cloud_point("beeswax", 0.2)
    assert found.how == "ideal"
    assert "Ideal estimate" in found.why
    assert found.low_c < found.celsius <= found.high_c
    seen = cloud_point("my own wax", 0.2, observed_c=58.0)
    assert (seen.celsius, seen.how) == (58.0, "observed")


@pytest.mark.parametrize(
    ("wax", "share", "seen", "words"),
    [
        ("bees wax", 0.2, None, "beeswax"),
        ("magnesium stearate", 0.03, None, "does not dissolve like a wax"),
        ("beeswax", 0.0, None, "share of wax"),
        ("beeswax", 20.0, None, "0.2 for 20 %"),
        ("beeswax", 0.2, 140.0, "°F"),
    ],
)
def test_what_cannot_be_is_refused(wax, share, seen, words):
    with pytest.raises(LabError, match=words):
        cloud_point(wax, share, seen)
