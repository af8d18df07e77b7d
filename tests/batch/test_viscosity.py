"""Viscosity against temperature, mixed, and with solids in it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.batch import (
    grunberg_nissan,
    kendall_monroe,
    krieger_dougherty,
    oil_names,
    oil_viscosity,
    solid_fraction,
    viscosity_curve,
)
from labkit.errors import LabError


@given(st.floats(50, 2000), st.floats(1.2, 20))
def test_two_readings_are_met_exactly(thick, times):
    curve = viscosity_curve({20.0: thick, 60.0: thick / times})
    assert curve(20.0) == pytest.approx(thick)
    assert curve(60.0) == pytest.approx(thick / times)
    assert curve.worst_pct < 1e-6


def test_arrhenius_gives_back_its_activation_energy():
    kelvin = np.array([293.15, 333.15])
    curve = viscosity_curve(dict(zip([20.0, 60.0], 1e-3 * np.exp(27e3 / 8.314462618 / kelvin), strict=True)))
    assert curve.activation_kj_mol(40.0) == pytest.approx(27.0)


def test_vogel_is_found_where_the_line_bends():
    """Water at 0, 20, 40 and 60 °C, mPa·s: CRC Handbook, figures from memory."""
    curve = viscosity_curve({0.0: 1.793, 20.0: 1.002, 40.0: 0.6527, 60.0: 0.466})
    assert 120.0 < curve.c_k < 160.0
    assert curve.worst_pct < 1.0


def test_castor_oil_between_its_readings():
    """About 50 mPa·s at 70 °C (from memory), not used for the curve."""
    assert oil_viscosity("castor oil")(70.0) == pytest.approx(50.0, rel=0.1)
    straight = viscosity_curve({20.0: 986.0, 40.0: 231.0})
    assert straight(70.0) < 40.0


@pytest.mark.parametrize("name", oil_names())
def test_every_oil_has_a_source_and_thins_when_warm(name):
    curve = oil_viscosity(name)
    assert curve.source
    assert (np.diff(curve(np.linspace(20.0, 100.0, 50))) < 0).all()
    assert curve.worst_pct < 6.0


def test_common_oils_have_a_common_activation_energy():
    assert 21.0 <= oil_viscosity("sunflower oil").activation_kj_mol(50.0) <= 30.0


def test_mixing_rules_by_hand():
    """Castor and sunflower half and half at 40 °C: √(231·31) and ((231^⅓ + 31^⅓)/2)³."""
    assert grunberg_nissan([1, 1], [231.0, 31.0]) == pytest.approx(84.6, abs=0.05)
    assert kendall_monroe([1, 1], [231.0, 31.0]) == pytest.approx(99.8, abs=0.1)


@given(st.floats(0.01, 0.99), st.floats(5, 1000), st.floats(5, 1000))
def test_a_mixture_lies_between_and_the_cube_root_is_thicker(share, one, other):
    shares = [share, 1 - share]
    logs, roots = (rule(shares, [one, other]) for rule in (grunberg_nissan, kendall_monroe))
    assert min(one, other) * (1 - 1e-9) <= logs <= roots * (1 + 1e-9) <= max(one, other) * (1 + 2e-9)


def test_solids_thicken():
    """20 % by mass of red oxide: φ about 0.042 and 1.12 times as thick; Einstein's 1 + 2.5φ for little."""
    fraction = solid_fraction(0.20, 5200.0, 920.0)
    assert fraction == pytest.approx(0.042, abs=0.001)
    assert krieger_dougherty(fraction) == pytest.approx(1.12, abs=0.006)
    assert krieger_dougherty(1e-5) == pytest.approx(1.0 + 2.5e-5, abs=1e-8)
    assert krieger_dougherty(0.0) == 1.0


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: viscosity_curve({}), "by temperature"),
        (lambda: viscosity_curve({20.0: 10.0, 40.0: 12.0}), "thinner as it gets warmer"),
        (lambda: viscosity_curve({20.0: 0.0}), "viscosity"),
        (lambda: viscosity_curve({200.0: 5.0}), "°F"),
        (lambda: oil_viscosity("caster oil"), "castor oil"),
        (lambda: grunberg_nissan([0.5], [1.0, 2.0]), "1 shares and 2"),
        (lambda: kendall_monroe([0.0, 0.0], [1.0, 2.0]), "not all 0"),
        (lambda: kendall_monroe([1.5, -0.5], [1.0, 2.0]), "0 or more"),
        (lambda: krieger_dougherty(0.64), "does not flow"),
        (lambda: krieger_dougherty(-0.1), "does not flow"),
        (lambda: solid_fraction(1.2, 5200.0), "0.2 for 20 %"),
        (lambda: solid_fraction(0.2, 0.0), "density of the solid"),
    ],
)
def test_what_cannot_be_is_refused(ask, words):
    with pytest.raises(LabError, match=words):
        ask()
