"""Simulated makers: how good are the chances and the next pour, beside what else one could do?

Run by hand: ``python -m tests.bench.run_makers --makers 200``. Everything here is invented.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import ndtr

from labkit.texture.hardness import HardnessModel
from labkit.texture.ordered import ordered_loglik, word_chances
from labkit.texture.region import Region

Floats = NDArray[np.float64]

WORDS = ("soft", "softish", "right", "firm", "hard")
NOTE_SD, CAST_SD, EDGE_SD = 0.6, 0.3, 0.15  # rungs, of the invented makers
DAY_SD = 0.3  # rungs, of those whose days differ
NOTES = 2
A_DAY = 2  # pours


@dataclass(frozen=True)
class Maker:
    """A maker's true surface [rungs], scatter and region."""

    region: Region
    surface: Callable[[Floats], Floats]
    edges: Floats
    note_sd: float
    cast_sd: float
    day_sd: float = 0.0

    def chances(self, shares: Floats) -> Floats:
        """Return the true chance of each word of a pour on some other day, shape (rows, words)."""
        spread = np.sqrt(self.note_sd**2 + self.cast_sd**2 + self.day_sd**2)
        return word_chances(ndtr((self.edges - self.surface(shares)[:, None]) / spread))

    def pour(self, shares: Floats, rng: np.random.Generator, softer: float | Floats = 0.0) -> list[str]:
        """Pour one stick of each row and return its notes, NOTES a row, some rungs softer than set."""
        return self.pour_felt(shares, rng, softer)[1]

    def pour_felt(
        self, shares: Floats, rng: np.random.Generator, softer: float | Floats = 0.0
    ) -> tuple[Floats, list[str]]:
        """Return how hard each stick came out [rungs], shape (rows,), and its notes, NOTES a row."""
        cast = self.surface(shares) - softer + rng.normal(0.0, self.cast_sd, len(shares))
        felt = np.repeat(cast, NOTES) + rng.normal(0.0, self.note_sd, NOTES * len(shares))
        return cast, [WORDS[rung] for rung in np.searchsorted(self.edges, felt)]

    def softer_by_day(self, pours: int, seed: int) -> Floats:
        """Return how much softer than usual each pour's day makes it, A_DAY pours a day, shape (pours,)."""
        days = np.random.default_rng([seed, 6]).normal(0.0, 1.0, -(-pours // A_DAY))
        return self.day_sd * np.repeat(days, A_DAY)[:pours]


def _scaled(region: Region, shares: Floats) -> Floats:
    corners = region.corners().to_numpy()
    low, high = corners.min(axis=0), corners.max(axis=0)
    return 2.0 * (shares - low) / (high - low) - 1.0


def quadratic(region: Region, rng: np.random.Generator) -> Callable[[Floats], Floats]:
    """Return a quadratic surface in butter and wax."""
    level, wax, butter = rng.normal(2.0, 0.7), rng.uniform(1.0, 2.5), rng.uniform(-0.3, 1.0)
    bends = rng.normal(0.0, 0.4, 3)

    def surface(shares: Floats) -> Floats:
        b, _, w = _scaled(region, shares).T
        return level + wax * w + butter * b + bends[0] * w**2 + bends[1] * b**2 + bends[2] * w * b

    return surface


def saturating(region: Region, rng: np.random.Generator) -> Callable[[Floats], Floats]:
    """Return a surface that wax hardens fast at first and then no more."""
    low, span, speed = rng.normal(-0.3, 0.5), rng.uniform(3.0, 5.0), rng.uniform(1.5, 4.0)
    butter = rng.uniform(-0.3, 0.8)

    def surface(shares: Floats) -> Floats:
        b, _, w = _scaled(region, shares).T
        risen = -np.expm1(-speed * (w + 1.0) / 2.0) / -np.expm1(-speed)
        return low + span * risen + butter * b

    return surface


def make_maker(seed: int, noise: float = 1.0, day_sd: float = 0.0) -> Maker:
    """Return maker number `seed`; even ones quadratic, odd ones saturating; days differ if told."""
    rng = np.random.default_rng([seed, 1])
    region = Region({"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)})
    surface = (quadratic, saturating)[seed % 2](region, rng)
    edges = np.sort(np.arange(len(WORDS) - 1) + 0.5 + rng.normal(0.0, EDGE_SD, len(WORDS) - 1))
    return Maker(region, surface, edges, noise * NOTE_SD, noise * CAST_SD, day_sd)


# ---- three ways to state chances -------------------------------------------------


PARTS = ["butter", "oil", "wax"]


def day_of(maker: Maker, pour: NDArray[np.int_]) -> NDArray[np.int_] | None:
    """Return the day of each row, as a maker whose days differ would write it down."""
    return pour // A_DAY if maker.day_sd else None


def by_labkit(
    shares: Floats, notes: list[str], pour: NDArray[np.int_], at: Floats, day: object = None
) -> Floats:
    """Chances from the hardness model, shape (rows of at, words)."""
    return _told(shares, notes, pour, at, day)[list(WORDS)].to_numpy()


def _told(shares: Floats, notes: list[str], pour: NDArray[np.int_], at: Floats, day: object) -> pd.DataFrame:
    model = HardnessModel(WORDS).fit(pd.DataFrame(shares, columns=PARTS), notes, pour=pour, day=day)
    return model.predict(pd.DataFrame(at, columns=PARTS), hours=None)


def _quadratic_terms(shares: Floats) -> Floats:
    b, o, w = shares.T
    return np.column_stack([b, o, w, b * o, b * w, o * w])


def by_least_squares(
    shares: Floats, notes: list[str], pour: NDArray[np.int_], at: Floats, day: object = None
) -> Floats:
    """Chances from a Scheffé quadratic in the rung number with normal scatter; ridge only if singular."""
    rung = np.array([WORDS.index(word) for word in notes], float)
    x, new = _quadratic_terms(shares), _quadratic_terms(at)
    gram = x.T @ x
    if np.linalg.matrix_rank(x) < x.shape[1]:
        gram = gram + 1e-6 * np.eye(len(gram))
    inverse = np.linalg.inv(gram)
    beta = inverse @ x.T @ rung
    left = max(len(rung) - x.shape[1], 1)
    sd = max(np.sqrt(np.sum((rung - x @ beta) ** 2) / left), 1e-3)
    spread = sd * np.sqrt(1.0 + np.einsum("ij,jk,ik->i", new, inverse, new))
    edges = np.arange(len(WORDS) - 1) + 0.5
    return word_chances(ndtr((edges - (new @ beta)[:, None]) / spread[:, None]))


def by_maximum_likelihood(
    shares: Floats, notes: list[str], pour: NDArray[np.int_], at: Floats, day: object = None
) -> Floats:
    """Chances from ordered probit by maximum likelihood, straight in the shares."""
    rung = np.array([WORDS.index(word) for word in notes])
    seen, rung = np.unique(rung, return_inverse=True)
    if len(seen) == 1:
        return np.eye(len(WORDS))[np.repeat(seen, len(at))]
    x, new = _scaled_for_fit(shares, shares), _scaled_for_fit(at, shares)
    cuts = len(seen) - 1

    def split(theta: Floats) -> tuple[Floats, Floats]:
        return theta[cuts:], np.cumsum(np.concatenate([theta[:1], np.exp(theta[1:cuts])]))

    def lost(theta: Floats) -> float:
        beta, edges = split(theta)
        return min(-ordered_loglik(x @ beta, edges, rung), 1e10)

    start = np.concatenate([[-0.5], np.zeros(cuts - 1), np.zeros(x.shape[1])])
    beta, edges = split(minimize(lost, start, method="BFGS", options={"maxiter": 60}).x)
    chances = np.zeros((len(at), len(WORDS)))
    chances[:, seen] = word_chances(ndtr(edges - (new @ beta)[:, None]))
    return chances


def _scaled_for_fit(shares: Floats, by: Floats) -> Floats:
    return (shares - by.mean(axis=0))[:, [0, 2]] / 0.1


WAYS = {"labkit": by_labkit, "least squares": by_least_squares, "maximum likelihood": by_maximum_likelihood}


def excess(stated: Floats, true: Floats) -> float:
    """Return the expected ranked probability score above that of the true chances, mean over rows.

    Σ_k (F_k − F_k true)² / (words − 1): the score of Epstein (1969) is proper, so 0 is the best.
    """
    off = np.cumsum(stated, axis=1) - np.cumsum(true, axis=1)
    return float(np.mean(np.sum(off[:, :-1] ** 2, axis=1)) / (true.shape[1] - 1))


# ---- chances: score and calibration ----------------------------------------------


@dataclass(frozen=True)
class Scored:
    """What each way stated for one maker beside the truth.

    Attributes
    ----------
    stated : dict of way to ndarray, shape (sites, words)
    true : ndarray, shape (sites, words)
    covered : ndarray, shape (sites,)
        Whether labkit's 90 % band of the surface held it.
    """

    stated: dict[str, Floats]
    true: Floats
    covered: NDArray[np.bool_]

    def excess(self) -> dict[str, float]:
        """Return the excess score of each way."""
        return {name: excess(chances, self.true) for name, chances in self.stated.items()}


def score_ways(seed: int, pours: int, noise: float, day_sd: float = 0.0, ways: dict | None = None) -> Scored:
    """Return what each way states over the region of maker `seed` from so many pours."""
    maker, rng = make_maker(seed, noise, day_sd), np.random.default_rng([seed, 2])
    at = maker.region.grid(150)
    shares = at[rng.choice(len(at), pours, replace=False)]
    notes, pour = (
        maker.pour(shares, rng, maker.softer_by_day(pours, seed)),
        np.repeat(np.arange(pours), NOTES),
    )
    given = (np.repeat(shares, NOTES, axis=0), notes, pour, at, day_of(maker, pour))
    told = _told(*given)
    stated = {name: way(*given) for name, way in (WAYS if ways is None else ways).items() if name != "labkit"}
    stated["labkit"] = told[list(WORDS)].to_numpy()
    off = np.abs(told["hardness"].to_numpy() - maker.surface(at))
    return Scored(stated, maker.chances(at), off <= 1.6448536 * told["sd"].to_numpy())


def run_scores(makers: range, pours: int, noise: float, day_sd: float = 0.0) -> pd.DataFrame:
    """Return the excess score of each way, one row per maker."""
    return pd.DataFrame([score_ways(seed, pours, noise, day_sd).excess() for seed in makers])


def run_calibration(makers: range, pours: int, noise: float, day_sd: float = 0.0) -> pd.DataFrame:
    """Return the hardness model's stated against true chances in tenths, with the share of statements."""
    return in_tenths(sum(tenths(score_ways(seed, pours, noise, day_sd, {})) for seed in makers))


def tenths(scored: Scored) -> Floats:
    """Return, for each tenth of what labkit stated: how often, and the sums stated and true, (10, 3)."""
    stated, true = scored.stated["labkit"].ravel(), scored.true.ravel()
    tenth = np.minimum((stated * 10).astype(int), 9)
    return np.column_stack([np.bincount(tenth, each, 10) for each in (np.ones(len(stated)), stated, true)])


def in_tenths(sums: Floats) -> pd.DataFrame:
    """Return the means of `tenths`, the gap, and the share of statements."""
    there = np.flatnonzero(sums[:, 0])
    count, stated, true = sums[there].T
    table = pd.DataFrame({"stated": stated / count, "true": true / count}, index=there)
    return table.assign(gap=table["stated"] - table["true"], share=count / count.sum())


def run_bands(makers: range, pours: int, noise: float, day_sd: float = 0.0) -> pd.Series:
    """Return in what part of the region the 90 % band of the surface holds it, one value per maker."""
    return pd.Series([score_ways(seed, pours, noise, day_sd, {}).covered.mean() for seed in makers])


EARLY_H = 3.0


def early_one(seed: int, pours: int = 8) -> dict[str, float]:
    """Return the excess score for set sticks of maker `seed` from notes made at three hours only.

    Sticks gain about two rungs (sd 1) while they set, at 0.05 to 0.5 an hour; the same notes
    are read through the set curve, and as if the sticks had been set.
    """
    maker, rng = make_maker(seed), np.random.default_rng([seed, 5])
    at = maker.region.grid(150)
    shares = at[rng.choice(len(at), pours, replace=False)]
    softer = rng.normal(2.0, 1.0) * np.exp(-rng.uniform(0.05, 0.5) * EARLY_H)
    notes, pour = maker.pour(shares, rng, softer), np.repeat(np.arange(pours), NOTES)
    table, asked = (
        pd.DataFrame(np.repeat(shares, NOTES, axis=0), columns=PARTS),
        pd.DataFrame(at, columns=PARTS),
    )
    row = {}
    for name, hours in {"set curve": EARLY_H, "as if set": None}.items():
        told = HardnessModel(WORDS).fit(table, notes, hours, pour).predict(asked, hours=None)
        row[name] = excess(told[list(WORDS)].to_numpy(), maker.chances(at))
    return row


def run_early(makers: range, pours: int = 8) -> pd.DataFrame:
    """Return `early_one` of many makers, one row per maker."""
    return pd.DataFrame([early_one(seed, pours) for seed in makers])


# ---- the next pour ---------------------------------------------------------------

WANTED, MARKS = "right", (6, 8, 14)
STEP = 0.04  # share of wax; 0.02 and 0.06 were no better for the rival


@dataclass(frozen=True)
class Quest:
    """A maker whose usual recipe is about a rung off, and the best chance of right that there is."""

    maker: Maker
    usual: Floats
    best: float
    seed: int = 0

    def pour(self, at: Floats, number: int, rng: np.random.Generator) -> list[str]:
        """Return the notes of pour number `number`, counted from 0, on its day."""
        softer = self.maker.softer_by_day(max(MARKS) + 1, self.seed)
        return self.maker.pour(at[None], rng, softer[number])

    def reached(self, shares: Floats) -> float:
        """Return the true chance of right at a composition over the best possible."""
        return float(self.maker.chances(shares[None])[0, WORDS.index(WANTED)]) / self.best


def make_quest(seed: int, noise: float, day_sd: float = 0.0) -> Quest | None:
    """Return a quest, or None where right can hardly be had in the region."""
    maker = make_maker(seed, noise, day_sd)
    at = maker.region.grid(400)
    off = np.abs(maker.surface(at) - WORDS.index(WANTED))
    fit = np.flatnonzero((off > 0.7) & (off < 2.0))
    if off.min() > 0.3 or not len(fit):
        return None
    usual = at[np.random.default_rng([seed, 3]).choice(fit)]
    return Quest(maker, usual, float(maker.chances(at)[:, WORDS.index(WANTED)].max()), seed)


if __name__ == "__main__":
    from tests.bench.run_makers import main

    main()
