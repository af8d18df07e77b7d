"""The ceiling of a water bath, beside another implementation of the steam tables and published tables."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97

from labkit.batch import boiling_point, standard_pressure, water_bath_ceiling
from labkit.errors import LabError

# U.S. Standard Atmosphere 1976, table I, geometric altitude; the same as ICAO Doc 7488 (from memory).
TABLE_PA = [
    (-500, 1.0748e5),
    (0, 1.01325e5),
    (1000, 8.9876e4),
    (2000, 7.9501e4),
    (5000, 5.4048e4),
    (9000, 3.0800e4),
]


@pytest.mark.parametrize(("elevation", "pressure"), TABLE_PA)
def test_the_pressure_is_that_of_the_published_table(elevation, pressure):
    assert standard_pressure(elevation) == pytest.approx(pressure, rel=5e-5)


@pytest.mark.parametrize("elevation", [-500, 0, 1000, 2000, 4000, 9000])
def test_the_ceiling_is_the_saturation_line_of_another_implementation(elevation):
    """ISO 2533 by its hydrostatic equation, integrated; water by the package iapws."""
    heights = np.linspace(0.0, 6_356_766.0 * elevation / (6_356_766.0 + elevation), 20_001)
    kelvin = 288.15 - 0.0065 * heights
    pressure = 101_325.0 * np.exp(-np.trapezoid(9.80665 / (287.05287 * kelvin), heights))
    water = IAPWS97(P=pressure / 1e6, x=0)
    assert water_bath_ceiling(elevation) == pytest.approx(water.T - 273.15, abs=0.002)


@pytest.mark.parametrize(("pressure_pa", "kelvin"), [(1e5, 372.755919), (1e6, 453.035632)])
def test_the_backward_equation_gives_the_verification_values(pressure_pa, kelvin):
    """IAPWS-IF97 (2007), table 36."""
    assert boiling_point(pressure_pa) + 273.15 == pytest.approx(kelvin, abs=1e-6)


@given(st.floats(-500, 8999), st.floats(0.1, 1))
def test_higher_is_cooler(elevation, more):
    assert water_bath_ceiling(elevation + more) < water_bath_ceiling(elevation)


@pytest.mark.parametrize("elevation", [-501, 9001, float("nan"), float("inf"), "high", None, True])
def test_an_elevation_that_cannot_be_is_refused(elevation):
    with pytest.raises(LabError, match="elevation"):
        water_bath_ceiling(elevation)
