"""Bands hold what is read, and calibrated forecasts come near, over makers whose pigments nobody knows.

The long runs are in tests/bench/shade_bands.py, their results in tests/bench/shade-bands-results.md.
"""

import numpy as np
import pytest

from labkit.colour.cie import WAVELENGTHS
from labkit.shade.calibration import calibrate
from labkit.shade.pigments import default_pigments
from tests.shade.adding_doubling import read_film
from tests.shade.makers import TransportMaker, drawn_maker, held, missed, noisy, random_films, spectra, table

START = default_pigments()


@pytest.mark.parametrize(("count", "film_error"), [(1, 0.0), (4, 0.0), (12, 0.0), (12, 0.1), (30, 0.1)])
def test_the_band_holds_its_share_of_held_out_readings(count, film_error):
    before, after = [], []
    for seed in range(30):
        rng, maker = np.random.default_rng(seed), drawn_maker(seed + 10_000)
        tests = noisy(rng, maker, random_films(rng, 8))
        swatches = noisy(rng, maker, random_films(rng, count), film_error=film_error)
        before.append(held(START, tests).mean())
        after.append(held(calibrate(table(swatches)), tests).mean())
    assert 0.85 <= np.mean(before) <= 0.95
    assert 0.85 <= np.mean(after) <= 0.95


def test_the_band_holds_its_share_after_spectra():
    """Films are off by 10 %, each spectrum by 1 % as a whole and by 0.002 at each wavelength."""
    within = []
    for seed in range(90):
        rng, maker = np.random.default_rng(seed), drawn_maker(seed + 10_000)
        tests = noisy(rng, maker, random_films(rng, 8))
        films = random_films(rng, 8)
        off = np.exp(0.1 * rng.standard_normal(len(films)))
        read = spectra([(blend, um * by, on) for (blend, um, on), by in zip(films, off, strict=True)], maker)
        read["film_um"] = [um for _, um, _ in films]
        at = WAVELENGTHS.tolist()
        scale, own = 1 + 0.01 * rng.standard_normal((8, 1)), 0.002 * rng.standard_normal((8, len(at)))
        read[at] = (read[at] * scale + own).clip(0, 1)
        within.append(held(calibrate(read), tests).mean())
    assert 0.85 <= np.mean(within) <= 0.95


def test_a_masstone_and_a_tint_of_each_bring_blends_within_two():
    """Truth: adding–doubling, other strengths and shifted edges; g is 0 and 0.3 in turn."""
    before, after = [], []
    for seed in range(4):
        maker = TransportMaker(seed, g=0.3 * (seed % 2))
        rows = maker.blends(3)
        before += missed(START, rows)
        after += missed(calibrate(maker.masstones_and_tints()), rows)
    assert np.median(before) > 3
    assert np.median(after) < 2


def test_adding_doubling_is_read_as_a_thick_white_and_a_bare_backing_are():
    """A film of nothing reads as its backing; a thick one without absorption throws light back."""
    nothing, grey = np.full(2, 1e-9), np.full(2, 0.5)
    assert read_film(nothing, nothing, 1.0, grey, quad_pts=16) == pytest.approx(grey, abs=0.03)
    assert (read_film(np.full(2, 1e-9), np.ones(2), 1e4, grey) > 0.9).all()
