"""Settling: Stokes, hindered by Richardson and Zaki, refused where neither holds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.batch import settling_speed, yield_stress_to_hold
from labkit.errors import LabError


@pytest.mark.parametrize(("diameter", "speed"), [(1.0, 0.009), (20.0, 3.7), (60.0, 34.0)])
def test_stokes_by_hand(diameter, speed):
    """Δρ 4300 kg/m³ in 15 mPa·s: g·Δρ·d²/(18η), worked out on paper to two figures."""
    assert settling_speed(diameter, 4300.0, 15.0) == pytest.approx(speed, rel=0.05)


def test_stokes_is_the_balance_of_weight_and_drag():
    d, delta, eta = 30e-6, 4300.0, 0.02
    speed = settling_speed(30.0, 4300.0, 20.0) / 60e3
    weight = delta * 9.80665 * np.pi / 6 * d**3
    assert weight == pytest.approx(3 * np.pi * eta * d * speed, rel=1e-12)


def test_hindered_settling():
    """Richardson and Zaki 1954: (1 − φ)^4.65; at 10 % solid 0.6127."""
    assert settling_speed(20, 4300, 15, 0.1) / settling_speed(20, 4300, 15) == pytest.approx(0.6127, abs=1e-4)


@given(st.floats(1, 80), st.floats(100, 4500), st.floats(10, 1e4), st.floats(0, 0.5))
def test_laws_of_scale(diameter, delta, viscosity, fraction):
    speed = settling_speed(diameter, delta, viscosity, fraction)
    assert settling_speed(diameter / 2, delta, viscosity, fraction) == pytest.approx(speed / 4)
    assert settling_speed(diameter, delta, 2 * viscosity, fraction) == pytest.approx(speed / 2)
    assert settling_speed(diameter, -delta, viscosity, fraction) == pytest.approx(-speed)
    assert settling_speed(diameter, delta, viscosity, fraction + 0.05) < speed


def test_arrays_broadcast():
    assert settling_speed([1.0, 20.0, 60.0], 4300.0, 15.0).shape == (3,)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((0.0, 4300, 15), "clump size"),
        ((-3, 4300, 15), "clump size"),
        ((20, 4300, 0), "viscosity"),
        ((20, float("nan"), 15), "difference in density"),
        ((20, 4300, 15, 0.7), "0.7 of the volume"),
        ((20, 4300, 15, -0.1), "-0.1 of the volume"),
        ((2000, 4300, 1), "Reynolds"),
        (("fine", 4300, 15), "clump size"),
    ],
)
def test_what_cannot_be_is_refused(arguments, words):
    with pytest.raises(LabError, match=words):
        settling_speed(*arguments)


def test_a_yield_stress_holds_a_clump():
    """Beris and others 1985: Y_g = 2·yield·3π.../weight gives 0.0477·Δρ·g·d; 100 µm at 4300 kg/m³ 0.2 Pa."""
    assert yield_stress_to_hold(100.0, 4300.0) == pytest.approx(0.0477 * 4300 * 9.80665 * 1e-4)
