"""Slow literal versions of the hardness model, written from its description alone."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def normal_cdf(value: float) -> float:
    return 0.5 * math.erfc(-value / math.sqrt(2.0))


def note_chance(hardness: float, thresholds: Sequence[float], rung: int, sd: float) -> float:
    """P(threshold below < hardness + noise ≤ threshold above)."""
    above = 1.0 if rung == len(thresholds) else normal_cdf((thresholds[rung] - hardness) / sd)
    below = 0.0 if rung == 0 else normal_cdf((thresholds[rung - 1] - hardness) / sd)
    return max(above - below, 0.0)


def covariance(a: dict, b: dict, sizes: dict) -> float:
    """Prior covariance of hardness between two places, term by term.

    A place has shares, hours and pour; sizes hold level_sd, slope_sd, bend_sd, length,
    gain_sd, rate, cast_sd, and centre, lean_sd per part.
    """
    total = sizes["level_sd"] ** 2
    for here, there, centre, lean_sd in zip(
        a["shares"], b["shares"], sizes["centre"], sizes["lean_sd"], strict=True
    ):
        total += (sizes["slope_sd"] ** 2 + lean_sd**2) * (here - centre) * (there - centre)
    square = sum((here - there) ** 2 for here, there in zip(a["shares"], b["shares"], strict=True))
    total += sizes["bend_sd"] ** 2 * math.exp(-square / (2.0 * sizes["length"] ** 2))
    total += (
        sizes["gain_sd"] ** 2 * math.exp(-sizes["rate"] * a["hours"]) * math.exp(-sizes["rate"] * b["hours"])
    )
    if a["pour"] is not None and a["pour"] == b["pour"]:
        total += sizes["cast_sd"] ** 2
    return total


def mean(at: dict, sizes: dict) -> float:
    """Prior mean of hardness at a place."""
    straight = sum(
        lean * (share - centre)
        for lean, share, centre in zip(sizes["lean"], at["shares"], sizes["centre"], strict=True)
    )
    return sizes["level"] + straight - sizes["gain"] * math.exp(-sizes["rate"] * at["hours"])


def by_sampling(
    places: list[dict],
    notes: list[int],
    asked: list[dict],
    words: int,
    all_sizes: list[dict],
    edge_sd: float,
    draws: int,
    rng: np.random.Generator,
) -> tuple[Floats, Floats, Floats]:
    """Posterior by drawing from the prior and weighing by the notes: no Laplace, no Newton.

    Returns chances of each word for a fresh pour, or for one more note of a pour that is
    among the places (asked, words), and mean and sd of the surface (of that pour), (asked,),
    averaged over the sets of sizes.
    """
    everywhere = places + asked
    total = np.zeros((len(asked), words + 2))
    mass = 0.0
    for sizes in all_sizes:
        prior = np.array([[covariance(a, b, sizes) for b in everywhere] for a in everywhere])
        centre = np.array([mean(a, sizes) for a in everywhere])
        root = np.linalg.cholesky(prior + 1e-10 * np.eye(len(prior)))
        hardness = centre + rng.standard_normal((draws, len(prior))) @ root.T
        edges = np.arange(words - 1) + 0.5 + edge_sd * rng.standard_normal((draws, words - 1))
        weight = np.ones(draws)
        for place, rung in enumerate(notes):
            weight *= _chances(hardness[:, place], edges, sizes["note_sd"])[:, rung]
        mass += weight.sum()
        for row in range(len(asked)):
            there = hardness[:, len(places) + row]
            fresh = asked[row]["pour"] is None
            noise = math.hypot(sizes["note_sd"], sizes["cast_sd"] if fresh else 0.0)
            values = np.column_stack([_chances(there, edges, noise), there, there**2])
            total[row] += weight @ values
    found = total / mass
    return found[:, :words], found[:, words], np.sqrt(found[:, words + 1] - found[:, words] ** 2)


def _chances(hardness: Floats, edges: Floats, sd: float) -> Floats:
    """Chances of all words for many draws; a pair of thresholds in the wrong order leaves none between."""
    from scipy.stats import norm

    below = norm.cdf((edges - hardness[:, None]) / sd)
    padded = np.column_stack([np.zeros(len(below)), below, np.ones(len(below))])
    return np.maximum(np.diff(padded, axis=1), 0.0)


def best_chance_after_note(
    mean: Floats, cov: Floats, site: int, low: float, high: float, noise: float, reading: float, draws: Floats
) -> float:
    """Average best chance once a reading at a site is in, by drawing readings one at a time."""
    spread = math.sqrt(cov[site, site] + reading)
    best = []
    for draw in draws:
        gain = cov[:, site] / spread**2
        moved = mean + gain * spread * draw
        left = np.diagonal(cov) - gain * cov[site]
        chances = [
            normal_cdf((high - m) / math.sqrt(v + noise)) - normal_cdf((low - m) / math.sqrt(v + noise))
            for m, v in zip(moved, left, strict=True)
        ]
        best.append(max(chances))
    return float(np.mean(best))
