"""What a cooling curve says it may be is what it is: simulated pots, 95 in 100."""

import numpy as np
import pytest
from batch.pots import newton, reheated, with_plateau

from labkit.batch import fit_cooling

RUNS = 100
# Of 100 runs at 95 %, the count of hits has sd 2.2: 88 is 3 sd below the mean of 95.
LEAST = 88


def short(rng, sd=0.3):
    minutes = np.arange(9.0)
    return minutes, newton(minutes) + sd * rng.standard_normal(9)


def long(rng, sd=0.5):
    minutes = np.arange(0.0, 36.0, 1.5)
    return minutes, newton(minutes) + sd * rng.standard_normal(24)


def plateau(rng, sd=0.3):
    minutes = np.arange(0.0, 36.0)
    return minutes, with_plateau(minutes, 52.0, 8.0) + sd * rng.standard_normal(36)


def lasting(rng, sd=0.3):
    minutes = np.arange(0.0, 20.0)
    return minutes, with_plateau(minutes, 50.0, 40.0) + sd * rng.standard_normal(20)


@pytest.mark.parametrize("room", [22.0, None], ids=["room read", "room not read"])
@pytest.mark.parametrize("pot", [short, long, plateau, lasting, lambda rng: reheated(rng, 0.3)])
def test_tau_lies_within_its_stated_error(pot, room):
    rng = np.random.default_rng(11)
    fits = [fit_cooling(*pot(rng), room_c=room) for _ in range(RUNS)]
    assert sum(abs(fit.tau_min - 12.0) <= 1.96 * fit.stderr["tau_min"] for fit in fits) >= LEAST
    assert sum(fit.limits["room_c"][0] <= 22.0 <= fit.limits["room_c"][1] for fit in fits) >= LEAST


@pytest.mark.parametrize("room", [22.0, None], ids=["room read", "room not read"])
def test_the_time_to_a_temperature_lies_in_its_band(room):
    rng, hits, true = np.random.default_rng(12), 0, 12.0 * np.log(53.0 / 23.0)
    for _ in range(RUNS):
        when = fit_cooling(*short(rng), room_c=room).minutes_until(45.0)
        hits += when.low <= true <= when.high
    assert hits >= LEAST


def test_the_stated_error_is_not_wide_for_safety():
    """Errors over their stated size have a root mean square near 1, not near 0."""
    rng = np.random.default_rng(13)
    fits = [fit_cooling(*long(rng), room_c=22.0) for _ in range(RUNS)]
    assert (
        0.8 < np.sqrt(np.mean([((fit.tau_min - 12.0) / fit.stderr["tau_min"]) ** 2 for fit in fits])) < 1.25
    )


def test_neighbours_that_err_alike_widen_the_error():
    """A sensor that drifts: correlation 0.8 between readings a quarter of a minute apart."""
    rng, hits, minutes = np.random.default_rng(14), 0, np.arange(0.0, 20.0, 0.25)
    for _ in range(RUNS):
        drift = np.zeros(len(minutes))
        for each in range(1, len(minutes)):
            drift[each] = 0.8 * drift[each - 1] + 0.18 * rng.standard_normal()
        fit = fit_cooling(minutes, newton(minutes) + drift, room_c=22.0)
        hits += abs(fit.tau_min - 12.0) <= 1.96 * fit.stderr["tau_min"]
    assert hits >= 0.85 * RUNS


def test_plateaus_are_found_and_none_is_made_up():
    rng, found = np.random.default_rng(15), 0
    for _ in range(RUNS):
        assert fit_cooling(*plateau(rng)).plateau_c == pytest.approx(52.0, abs=0.7)
        found += fit_cooling(*long(rng)).plateau_c is not None
    assert found <= 0.03 * RUNS
