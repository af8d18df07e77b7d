"""The pour window beside its own definition, integrated independently."""

import numpy as np
import pytest
from batch.pots import newton, with_plateau
from scipy.integrate import quad

from labkit.batch import fit_cooling, oil_viscosity, pour_window, settling_speed
from labkit.errors import LabError

MINUTES = np.arange(0.0, 12.0)
ASKED = {
    "clump_um": 20.0,
    "delta_density_kg_m3": 4300.0,
    "volume_fraction": 0.04,
    "mould_mm": 50.0,
    "too_thick_mpa_s": 150.0,
}


def melt(celsius):
    return 15.0 * np.exp((80.0 - celsius) / 12.0)


@pytest.fixture(scope="module")
def cooling():
    return fit_cooling(MINUTES, newton(MINUTES, 80.0), room_c=22.0)


def settled(cooling, begins, ends, **asked):
    """Integrate the settling speed along the curve."""
    speed = lambda minutes: settling_speed(  # noqa: E731
        asked["clump_um"],
        asked["delta_density_kg_m3"],
        melt(cooling.celsius_at(minutes)),
        asked["volume_fraction"],
    )
    return quad(speed, begins, ends, limit=200)[0]


def test_it_closes_when_it_is_too_thick(cooling):
    found = pour_window(cooling, melt, **ASKED)
    assert melt(found.closes_c) == pytest.approx(150.0, rel=1e-3)
    assert found.closes_min == pytest.approx(cooling.minutes_until(found.closes_c), abs=1e-6)
    assert "too thick to pour" in found.why


@pytest.mark.parametrize("clump", [8.0, 20.0, 45.0])
@pytest.mark.parametrize("mould", [20.0, 70.0])
def test_it_opens_when_no_more_than_the_share_settles(cooling, clump, mould):
    asked = {**ASKED, "clump_um": clump, "mould_mm": mould}
    found = pour_window(cooling, melt, **asked)
    left = settled(cooling, found.opens_min, found.closes_min, **asked)
    allowed = 0.02 * mould
    assert left == pytest.approx(allowed, rel=0.01) if found.opens_min > 0 else left < allowed


def test_fine_pigment_may_be_poured_from_the_start(cooling):
    found = pour_window(cooling, melt, **{**ASKED, "clump_um": 1.0})
    assert found.opens_min == 0.0
    assert "from the start" in found.why


def test_coarser_clumps_open_it_later_and_a_thicker_limit_closes_it_later(cooling):
    opens = [
        pour_window(cooling, melt, **{**ASKED, "clump_um": each}).opens_min
        for each in (10.0, 20.0, 40.0, 80.0)
    ]
    assert opens == sorted(opens)
    closes = [
        pour_window(cooling, melt, **{**ASKED, "too_thick_mpa_s": each}).closes_min for each in (80.0, 150.0)
    ]
    assert closes[0] < closes[1]


def test_what_rises_counts_like_what_sinks(cooling):
    light = pour_window(cooling, melt, **{**ASKED, "delta_density_kg_m3": -4300.0})
    assert light.opens_min == pour_window(cooling, melt, **ASKED).opens_min


def test_the_plateau_closes_it():
    minutes = np.arange(0.0, 40.0)
    cooling = fit_cooling(minutes, with_plateau(minutes, 58.0, 9.0), room_c=22.0)
    found = pour_window(cooling, melt, **ASKED)
    assert found.closes_c == pytest.approx(58.0, abs=0.4)
    assert "begins to set" in found.why


def test_there_is_none_where_clumps_settle_after_it_is_too_thick():
    """Too thick at 62 °C, set at 50 °C only: large clumps go on sinking in between."""
    minutes = np.arange(0.0, 40.0)
    cooling = fit_cooling(minutes, with_plateau(minutes, 50.0, 9.0), room_c=22.0)
    found = pour_window(cooling, melt, **{**ASKED, "clump_um": 90.0, "too_thick_mpa_s": 65.0})
    assert not found.is_open
    assert np.isnan(found.closes_min)
    assert "no window" in found.why
    assert "finer" in found.why


def test_there_is_none_where_it_is_too_thick_from_the_start(cooling):
    found = pour_window(cooling, melt, **{**ASKED, "too_thick_mpa_s": 10.0})
    assert not found.is_open
    assert "from the start" in found.why


def test_there_is_none_where_it_never_sets(cooling):
    found = pour_window(cooling, melt, **{**ASKED, "too_thick_mpa_s": 1e6})
    assert not found.is_open
    assert "neither" in found.why


def test_its_limits_hold_the_truth_and_narrow():
    rng, widths = np.random.default_rng(8), []
    true = pour_window(fit_cooling(MINUTES, newton(MINUTES, 80.0), room_c=22.0), melt, **ASKED)
    readings = newton(MINUTES, 80.0) + 0.3 * rng.standard_normal(12)
    for count in (4, 12):
        found = pour_window(fit_cooling(MINUTES[:count], readings[:count], room_c=22.0), melt, **ASKED)
        assert found.opens_limits[0] < true.opens_min < found.opens_limits[1]
        assert found.closes_limits[0] < true.closes_min < found.closes_limits[1]
        widths.append(found.closes_limits[1] - found.closes_limits[0])
    assert widths[1] < widths[0]


def test_a_recorded_oil_serves_as_viscosity(cooling):
    found = pour_window(cooling, oil_viscosity("castor oil"), **{**ASKED, "too_thick_mpa_s": 150.0})
    assert 44.0 < found.closes_c < 50.0


@pytest.mark.parametrize(
    ("change", "viscosity", "words"),
    [
        ({"mould_mm": 0.0}, melt, "height of the mould"),
        ({"too_thick_mpa_s": -1.0}, melt, "too thick"),
        ({"clump_um": 0.0}, melt, "clump size"),
        ({"volume_fraction": 0.9}, melt, "share of solid"),
        ({"clump_um": 3000.0}, melt, "Reynolds"),
        ({"settled_share": 0.0}, melt, "share that may settle"),
        ({}, 15.0, "function of °C"),
        ({}, lambda celsius: "thick", "function of °C"),
        ({}, lambda celsius: celsius, "rises"),
        ({}, lambda celsius: 0.0, "above 0"),
        ({}, lambda celsius: float("nan"), "above 0"),
    ],
)
def test_what_cannot_be_is_refused(cooling, change, viscosity, words):
    with pytest.raises(LabError, match=words):
        pour_window(cooling, viscosity, **{**ASKED, **change})


def test_only_a_fitted_curve_will_do():
    with pytest.raises(LabError, match="fit_cooling"):
        pour_window([75.0, 70.0], melt, **ASKED)
