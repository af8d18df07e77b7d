"""Readings with a needle, a cone or a rod."""

import numpy as np
import pytest

from labkit.errors import LabError
from labkit.texture.penetration import (
    YIELD_RANGE,
    Instrument,
    check_readings,
    log_hardness,
    one_instrument,
    yield_value,
)

NEEDLE = Instrument("needle", load_g=100.0)
CONE = Instrument("cone", load_g=100.0, angle_deg=40.0)
ROD = Instrument("rod", rod_mm=4.0)


def test_yield_value_by_the_formula():
    """C = K·W/p^1.6, K 5840 for 40°: 100 g and 5 mm give 1117 g/cm² (worked by hand)."""
    assert yield_value(50.0, CONE)[0] == pytest.approx(1117.0, abs=0.5)
    heavier = Instrument("cone", load_g=200.0, angle_deg=40.0)
    np.testing.assert_allclose(yield_value([100.0], heavier), [2.0 * yield_value(50.0, CONE)[0] / 2.0**1.6])


def test_yield_value_of_another_angle_needs_its_factor():
    sharp = Instrument("cone", load_g=100.0, angle_deg=30.0)
    with pytest.raises(LabError, match="factor of a 30° cone is not known"):
        yield_value(50.0, sharp)
    assert yield_value(50.0, sharp, cone_factor=5840.0)[0] == pytest.approx(yield_value(50.0, CONE)[0])
    with pytest.raises(LabError, match="factor"):
        yield_value(50.0, CONE, cone_factor=0.0)


@pytest.mark.parametrize("instrument", [NEEDLE, ROD], ids=lambda each: each.kind)
def test_yield_value_is_for_cones_only(instrument):
    with pytest.raises(LabError, match=f"cones only.*{instrument.kind}"):
        yield_value(50.0, instrument)


def test_yield_value_is_for_five_seconds():
    with pytest.raises(LabError, match="5 s; yours sank for 10 s"):
        yield_value(50.0, Instrument("cone", load_g=100.0, angle_deg=40.0, seconds=10.0))


@pytest.mark.parametrize("edge", YIELD_RANGE)
def test_yield_value_stays_in_its_range(edge):
    depth = (5840.0 * 100.0 / edge) ** (1.0 / 1.6)
    inwards = -0.01 if edge == YIELD_RANGE[0] else 0.01
    assert yield_value(depth + inwards, CONE)[0] == pytest.approx(edge, rel=0.01)
    with pytest.raises(LabError, match=r"outside the 45 to 8300.*still counts"):
        yield_value(depth - inwards, CONE)


def test_more_is_harder_on_the_log_scale():
    assert np.diff(log_hardness([30.0, 60.0, 120.0], NEEDLE)).max() < 0.0
    assert np.diff(log_hardness([300.0, 600.0], ROD)).min() > 0.0


def test_log_scale_is_that_of_the_yield_value():
    depths = np.array([40.0, 60.0, 90.0])
    slopes = np.diff(np.log(yield_value(depths, CONE))) / np.diff(log_hardness(depths, CONE))
    np.testing.assert_allclose(slopes, 1.6)


@pytest.mark.parametrize(
    ("readings", "instrument", "said"),
    [
        ([60.0, 0.0], NEEDLE, "Reading 2 is 0 × 0.1 mm. At 0 nothing"),
        ([-3.0], CONE, "Reading 1 is -3"),
        ([0.0], ROD, "Reading 1 is 0 g"),
        ([251.0], NEEDLE, "251 × 0.1 mm, beyond the 250 that a needle"),
        ([621.0], CONE, "beyond the 620 that a cone"),
        ([151.0], Instrument("cone", load_g=50.0, angle_deg=60.0, deepest_01mm=150.0), "beyond the 150"),
        ([np.inf], ROD, "beyond"),
        (["deep"], NEEDLE, "not all numbers"),
    ],
)
def test_readings_that_cannot_be(readings, instrument, said):
    for read in (check_readings, log_hardness):
        with pytest.raises(LabError, match=said):
            read(readings, instrument)


def test_readings_at_the_edge_and_none_at_all():
    np.testing.assert_array_equal(check_readings([250.0, None], NEEDLE), [250.0, np.nan])
    assert np.isnan(log_hardness([None], NEEDLE)).all()
    assert np.isnan(yield_value([np.nan], CONE)).all()


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"kind": "nedle"}, "Did you mean “needle”"),
        ({"kind": "needle"}, "needle: the load .* is missing"),
        ({"kind": "cone", "load_g": 100.0}, "cone: the angle .* is missing"),
        ({"kind": "rod"}, "rod: the width .* is missing"),
        ({"kind": "cone", "load_g": 0.0, "angle_deg": 40.0}, "load .* is 0, and it must be more than 0"),
        ({"kind": "cone", "load_g": np.nan, "angle_deg": 40.0}, "load .* is nan"),
        ({"kind": "cone", "load_g": 100.0, "angle_deg": 120.0}, "120° is outside 15° to 90°"),
        ({"kind": "cone", "load_g": 100.0, "angle_deg": 10.0}, "10° is outside"),
        ({"kind": "rod", "rod_mm": 4.0, "depth_mm": -5.0}, "how deep it is pushed .* is -5"),
    ],
)
def test_instruments_that_cannot_be(fields, said):
    with pytest.raises(LabError, match=said):
        Instrument(**fields)


def test_one_instrument_a_fit():
    assert one_instrument([NEEDLE, Instrument("needle", load_g=100.0)]) == NEEDLE
    with pytest.raises(LabError, match="two instruments: needle, 100 g, 5 s; cone of 40°"):
        one_instrument([NEEDLE, CONE])
    with pytest.raises(LabError, match="No instrument"):
        one_instrument([])


def test_names_and_units():
    assert (NEEDLE.unit, CONE.unit, ROD.unit) == ("0.1 mm", "0.1 mm", "g")
    assert len({NEEDLE.name, CONE.name, ROD.name}) == 3
