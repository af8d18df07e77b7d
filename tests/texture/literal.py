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


def late(hours: float) -> float:
    """How late it is: ln(hours/48) after 48 hours; a set stick is not late."""
    return math.log(hours / 48.0) if 48.0 < hours < math.inf else 0.0


def moved(share: float, centre: float, hardens: bool, sizes: dict) -> float:
    """How far a share lies from the centre, or for what hardens: how far on a hyperbola as steep at 0.2."""
    half = sizes.get("half", math.inf)
    if not hardens or math.isinf(half):
        return share - centre
    had = share / (share + half) - centre / (centre + half)
    return had * (0.2 + half) ** 2 / half


def covariance(a: dict, b: dict, sizes: dict) -> float:
    """Prior covariance of hardness between two places, term by term.

    A place has shares, hours and pour, and may have load, day and trial; sizes hold level_sd,
    slope_sd, bend_sd, length, gain_sd, rate, cast_sd, and centre, lean_sd per part, and may
    hold half, pace_sd, late_sd, day_sd, load_sd, load_centre, offset_level_sd, offset_slope_sd.
    """
    total = sizes["level_sd"] ** 2
    for here, there, centre, lean_sd in zip(
        a["shares"], b["shares"], sizes["centre"], sizes["lean_sd"], strict=True
    ):
        off = [moved(share, centre, lean_sd > 0.0, sizes) for share in (here, there)]
        total += (sizes["slope_sd"] ** 2 + lean_sd**2) * off[0] * off[1]
    square = sum((here - there) ** 2 for here, there in zip(a["shares"], b["shares"], strict=True))
    total += sizes["bend_sd"] ** 2 * math.exp(-square / (2.0 * sizes["length"] ** 2))
    left = math.exp(-sizes["rate"] * a["hours"]) * math.exp(-sizes["rate"] * b["hours"])
    total += sizes["gain_sd"] ** 2 * left
    total += sizes.get("late_sd", 0.0) ** 2 * late(a["hours"]) * late(b["hours"])
    if a["pour"] is not None and a["pour"] == b["pour"]:
        total += sizes["cast_sd"] ** 2 + sizes.get("pace_sd", 0.0) ** 2 * left
    if a.get("day") is not None and a.get("day") == b.get("day"):
        total += sizes["day_sd"] ** 2
    middle = sizes.get("load_centre", 0.0)
    total += (
        sizes.get("load_sd", 0.0) ** 2 * (a.get("load", middle) - middle) * (b.get("load", middle) - middle)
    )
    if a.get("trial") is not None and a.get("trial") == b.get("trial"):
        total += sizes["offset_level_sd"] ** 2
        for here, there, centre in zip(a["shares"], b["shares"], sizes["centre"], strict=True):
            total += sizes["offset_slope_sd"] ** 2 * (here - centre) * (there - centre)
    return total


def mean(at: dict, sizes: dict) -> float:
    """Prior mean of hardness at a place."""
    straight = sum(
        lean * moved(share, centre, lean > 0.0, sizes)
        for lean, share, centre in zip(sizes["lean"], at["shares"], sizes["centre"], strict=True)
    )
    middle = sizes.get("load_centre", 0.0)
    pigment = sizes.get("load_lean", 0.0) * (at.get("load", middle) - middle)
    return sizes["level"] + straight + pigment - sizes["gain"] * math.exp(-sizes["rate"] * at["hours"])


def by_sampling(
    places: list[dict],
    notes: list[int | None],
    asked: list[dict],
    words: int,
    all_sizes: list[dict],
    edge_sd: float,
    draws: int,
    rng: np.random.Generator,
    readings: Sequence[float | None] = (),
    compared: Sequence[tuple[int, str, int]] = (),
    testers: Sequence[int] = (),
    sticks: int = 0,
) -> tuple[Floats, Floats, Floats]:
    """Posterior by drawing from the prior and weighing by what was seen: no Laplace, no Newton.

    Returns chances of each word for a fresh pour, or for one more note of a pour that is
    among the places (asked, words), and mean and sd of the surface (of that pour), (asked,),
    averaged over the sets of sizes. A reading is α + β·reading = hardness + noise with density
    β·N(·); `compared` names places, or sticks by −1, −2, …
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
        hands = sizes.get("tester_sd", 0.0) * rng.standard_normal((draws, max(testers, default=0) + 1))
        hands -= hands.mean(axis=1, keepdims=True)
        weight = np.ones(draws)
        for place, rung in enumerate(notes):
            if rung is not None:
                felt = hardness[:, place] + (hands[:, testers[place]] if testers else 0.0)
                weight *= _chances(felt, edges, sizes["note_sd"])[:, rung] ** places[place].get("weight", 1.0)
        weight *= _of_readings(hardness, readings, words, sizes, rng)
        weight *= _of_comparisons(hardness, compared, words, sticks, sizes, rng)
        mass += weight.sum()
        for row in range(len(asked)):
            there = hardness[:, len(places) + row]
            left = math.exp(-sizes["rate"] * asked[row]["hours"])
            casual = (sizes["cast_sd"], sizes.get("pace_sd", 0.0) * left, sizes.get("day_sd", 0.0))
            noise = math.hypot(sizes["note_sd"], *(casual if asked[row]["pour"] is None else ()))
            values = np.column_stack([_chances(there, edges, noise), there, there**2])
            total[row] += weight @ values
    found = total / mass
    return found[:, :words], found[:, words], np.sqrt(found[:, words + 1] - found[:, words] ** 2)


def _of_readings(hardness: Floats, readings: Sequence[float | None], words: int, sizes: dict, rng) -> Floats:
    """Likelihood of readings, their mean taken off: β drawn from its prior (below 0: none), α summed out.

    Given hardness and β, what α + β·reading − hardness is off is normal: sd² for each reading,
    and sd(α)² between all of them.
    """
    from scipy.stats import multivariate_normal

    there = [place for place, reading in enumerate(readings) if reading is not None]
    if not there:
        return np.ones(len(hardness))
    length, read = words - 1, np.array([readings[place] for place in there])
    beta = 0.6 * length + 0.5 * length * rng.standard_normal(len(hardness))
    off = hardness[:, there] - beta[:, None] * (read - read.mean())
    spread = sizes["reading_sd"] ** 2 * np.eye(len(there)) + max(2.0, length) ** 2
    density = multivariate_normal(np.full(len(there), 0.5 * length), spread).pdf(off)
    return np.maximum(beta, 0.0) ** len(there) * density


def _of_comparisons(
    hardness: Floats, compared: Sequence[tuple[int, str, int]], words: int, sticks: int, sizes: dict, rng
) -> Floats:
    """Likelihood of comparisons: “same” within half a rung, noise as large as a note's."""
    draws, weight = len(hardness), np.ones(len(hardness))
    steps = words - 1
    kept = 0.5 * steps + max(2.0, steps) * rng.standard_normal((draws, sticks))
    for one, relation, than in compared:
        apart = hardness[:, one] - (hardness[:, than] if than >= 0 else kept[:, -1 - than])
        three = _chances(apart, np.broadcast_to([-0.5, 0.5], (draws, 2)), sizes["note_sd"])
        weight *= three[:, ["softer", "same", "harder"].index(relation)]
    return weight


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
