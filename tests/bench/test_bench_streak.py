"""What a streak photo of 12 million pixels costs: read the ratios under extra_info.

Beside it, timed right after: decoding the JPEG in full, and a plain scikit-image pipeline of the
same steps at full size (CIELAB, light's slow change, blur, ΔE00 from the median, edges' directions).
"""

import io
from time import perf_counter

import numpy as np
import pytest
from PIL import Image
from streak.photos import PIGMENTS, Scene, Streaks

from labkit.streak import unevenness

WORST = 3.0


def best_of(rounds, what):
    seconds = []
    for _ in range(rounds):
        began = perf_counter()
        what()
        seconds.append(perf_counter() - began)
    return min(seconds)


def decoded(photo):
    image = Image.open(io.BytesIO(photo))
    image.load()
    return image


def plain(photo):
    """The share over 2 ΔE00 and the run of the edges, by scikit-image at its defaults."""
    from skimage import color, feature, filters

    lab = filters.gaussian(color.rgb2lab(np.asarray(decoded(photo))), 6, channel_axis=2)
    y, x = np.mgrid[-1 : 1 : lab.shape[0] * 1j, -1 : 1 : lab.shape[1] * 1j]
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    some = (slice(None, None, 40), slice(None, None, 40))
    found = np.linalg.lstsq(terms[some].reshape(-1, 6), lab[some][..., 0].ravel(), rcond=None)[0]
    lab[..., 0] -= terms @ found - found[0]
    off = color.deltaE_ciede2000(lab, np.broadcast_to(np.median(lab[some].reshape(-1, 3), axis=0), lab.shape))
    tensor = feature.structure_tensor(lab[..., 1], sigma=6)
    rr, rc, cc = (each[off > 2].sum() for each in tensor)
    return (off > 2).mean(), (90 - np.degrees(np.arctan2(2 * rc, cc - rr)) / 2) % 180


@pytest.fixture(scope="module", params=[60, 90], ids=["quality 60", "quality 90"])
def photo(request):
    """An invented photo of 4000 × 3000, streaked at 60°, with noise at full size as a phone's has."""
    if not request.config.getoption("benchmark_only"):
        pytest.skip("takes a minute: pytest tests/bench/test_bench_streak.py --benchmark-only")
    levels = Scene((1500, 2000), [Streaks("yellow", 60, 40, 300, 0.35)], gradient=0.4).levels()
    image = np.asarray(Image.fromarray(levels).resize((4000, 3000)), dtype=np.int16)
    image += np.random.default_rng(0).normal(0, 4, image.shape).round().astype(np.int16)
    out = io.BytesIO()
    Image.fromarray(np.clip(image, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=request.param)
    return out.getvalue()


@pytest.mark.benchmark(group="a streak photo of 12 million pixels")
def test_streak_photo(benchmark, photo):
    found = benchmark(unevenness, photo, PIGMENTS)
    assert found.angle_deg == pytest.approx(60, abs=5)
    own = benchmark.stats.stats.min
    full = best_of(9, lambda: decoded(photo))
    benchmark.extra_info["labkit / full decoding"] = round(own / full, 2)
    benchmark.extra_info["JPEG, MB"] = round(len(photo) / 1e6, 1)
    assert own <= WORST * full
    skimage = pytest.importorskip("skimage")
    began = perf_counter()
    plain(photo)
    benchmark.extra_info[f"scikit-image {skimage.__version__} / labkit"] = round(
        (perf_counter() - began) / own, 1
    )
