"""What a forecast of many blends and the search for a blend cost: read the ratios under extra_info.

Each ratio is taken in one run: the other way is timed right after labkit's. `python -m
tests.bench.shade_search` compares the search for many colours.
"""

from time import perf_counter

import numpy as np
import pytest

from labkit.colour.cie import WAVELENGTHS, weights
from labkit.shade.backing import reflectance_of
from labkit.shade.film_colour import inside, readings
from labkit.shade.many import predict_many
from labkit.shade.medium import USUAL
from labkit.shade.mixture import coefficients, volume_fractions
from labkit.shade.pigments import default_pigments
from labkit.shade.wanted import find_shade
from tests.bench.shade_search import MOST, NAMES, evolve, wanted_colours

BLENDS, SAMPLE, CHUNK = 100_000, 100, 500
OWN = default_pigments().only(NAMES)
LOADS = np.random.default_rng(0).dirichlet(np.ones(7), BLENDS)[:, :6] * MOST


def best_of(rounds, what):
    seconds = []
    for _ in range(rounds):
        began = perf_counter()
        what()
        seconds.append(perf_counter() - began)
    return min(seconds)


def note(benchmark, **seconds):
    """Write how many times as long each other way took as labkit's best round."""
    if benchmark.stats is not None:
        own = benchmark.stats.stats.min
        for name, each in seconds.items():
            benchmark.extra_info[f"{name} / labkit"] = round(each / own, 3)


# ---- 100,000 blends of six pigments ------------------------------------------------------


def lab_by_colour_science(spectra):
    """One spectrum at a time, by colour-science's own spectrum-to-XYZ at its defaults, and XYZ-to-Lab."""
    import colour

    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    daylight = colour.SDS_ILLUMINANTS["D65"]
    white = colour.xy_to_XYZ(colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"])
    found = []
    for each in spectra:
        xyz = colour.sd_to_XYZ(colour.SpectralDistribution(each, WAVELENGTHS), observer, daylight) / 100
        found.append(colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(white)))
    return np.array(found)


def bare_products(fractions, k, s, to_xyz, roots_of_spectra):
    """The three matrix products, and one sqrt, exp and cbrt per element: colours that mean nothing.

    The cube root is taken of each X, Y and Z, or of each wavelength as the other two are.
    """
    lab = np.empty((len(fractions), 3))
    for start in range(0, len(fractions), CHUNK):
        some = fractions[start : start + CHUNK]
        K, S = some @ k, some @ s
        np.sqrt(K, out=K)
        np.exp(S, out=S)
        if roots_of_spectra:
            np.cbrt(S, out=S)
        np.matmul(K, to_xyz, out=lab[start : start + CHUNK])
    return lab if roots_of_spectra else np.cbrt(lab)


@pytest.mark.filterwarnings("ignore::colour.utilities.ColourUsageWarning")
@pytest.mark.filterwarnings("ignore::colour.utilities.ColourRuntimeWarning")
@pytest.mark.benchmark(group="100,000 blends of six pigments, mass % to CIELAB", min_rounds=20)
def test_many_blends(benchmark):
    """Beside colour-science, whose seconds are those of 100 spectra, scaled; and beside the bare products."""
    lab = benchmark(predict_many, LOADS, NAMES)
    K, S = coefficients(LOADS[:SAMPLE], OWN, USUAL)
    spectra = readings(K, S, 10.0, inside(reflectance_of("lip"), USUAL), USUAL)
    np.testing.assert_allclose(lab_by_colour_science(spectra), lab[:SAMPLE], atol=0.02)
    bare = volume_fractions(LOADS, OWN.density_g_ml, USUAL), OWN.k, OWN.s, weights()
    note(
        benchmark,
        colour_science=best_of(3, lambda: lab_by_colour_science(spectra)) * BLENDS / SAMPLE,
        products_with_cbrt_of_XYZ=best_of(20, lambda: bare_products(*bare, roots_of_spectra=False)),
        products_with_cbrt_of_spectra=best_of(20, lambda: bare_products(*bare, roots_of_spectra=True)),
    )


# ---- the blend for a wanted colour --------------------------------------------------------


@pytest.mark.benchmark(group="the best blend of six pigments for a wanted colour")
@pytest.mark.parametrize("at", [0, 1], ids=["one that can be reached", "one that cannot"])
def test_wanted_colour(benchmark, request, at):
    """Beside SciPy's differential evolution at its defaults: one blend at a time, and vectorised."""
    if not request.config.getoption("benchmark_only"):
        pytest.skip("takes a minute: pytest tests/bench/test_bench_shade.py --benchmark-only")
    wanted = wanted_colours(2)[at]
    found = benchmark(find_shade, wanted, NAMES, MOST)
    began = perf_counter()
    single = evolve(wanted)
    between = perf_counter()
    vectorised = evolve(wanted, vectorized=True)
    note(benchmark, evolution=between - began, evolution_vectorised=perf_counter() - between)
    benchmark.extra_info |= {
        "ΔE00": round(float(found["delta_e00"].iloc[0]), 4),
        "ΔE00 of evolution": round(single.fun, 4),
        "ΔE00 of evolution, vectorised": round(vectorised.fun, 4),
    }
    assert found["delta_e00"].iloc[0] <= min(single.fun, vectorised.fun) + 0.05
