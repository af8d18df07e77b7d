"""Simulated makers: how good are the chances and the next pour, beside what else one could do?

Run by hand: ``python -m tests.bench.makers --makers 60``. Everything here is invented.
"""

import argparse
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import ndtr

from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel
from labkit.texture.ordered import ordered_loglik, word_chances
from labkit.texture.region import Region

Floats = NDArray[np.float64]

WORDS = ("soft", "softish", "right", "firm", "hard")
NOTE_SD, CAST_SD, EDGE_SD = 0.6, 0.3, 0.15  # rungs, of the invented makers
NOTES = 2


@dataclass(frozen=True)
class Maker:
    """A maker's true surface [rungs], scatter and region."""

    region: Region
    surface: Callable[[Floats], Floats]
    edges: Floats
    note_sd: float
    cast_sd: float

    def chances(self, shares: Floats) -> Floats:
        """Return the true chance of each word, shape (rows, words)."""
        spread = np.hypot(self.note_sd, self.cast_sd)
        return word_chances(ndtr((self.edges - self.surface(shares)[:, None]) / spread))

    def pour(self, shares: Floats, rng: np.random.Generator, softer: float = 0.0) -> list[str]:
        """Pour one stick of each row and return its notes, NOTES a row, some rungs softer than set."""
        cast = self.surface(shares) - softer + rng.normal(0.0, self.cast_sd, len(shares))
        felt = np.repeat(cast, NOTES) + rng.normal(0.0, self.note_sd, NOTES * len(shares))
        return [WORDS[rung] for rung in np.searchsorted(self.edges, felt)]


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


def make_maker(seed: int, noise: float = 1.0) -> Maker:
    """Return maker number `seed`; even ones quadratic, odd ones saturating."""
    rng = np.random.default_rng([seed, 1])
    region = Region({"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)})
    surface = (quadratic, saturating)[seed % 2](region, rng)
    edges = np.sort(np.arange(len(WORDS) - 1) + 0.5 + rng.normal(0.0, EDGE_SD, len(WORDS) - 1))
    return Maker(region, surface, edges, noise * NOTE_SD, noise * CAST_SD)


# ---- three ways to state chances -------------------------------------------------


def by_labkit(shares: Floats, notes: list[str], pour: NDArray[np.int_], at: Floats) -> Floats:
    """Chances from the hardness model, shape (rows of at, words)."""
    parts = ["butter", "oil", "wax"]
    model = HardnessModel(WORDS).fit(pd.DataFrame(shares, columns=parts), notes, pour=pour)
    return model.predict(pd.DataFrame(at, columns=parts), hours=None)[list(WORDS)].to_numpy()


def _quadratic_terms(shares: Floats) -> Floats:
    b, o, w = shares.T
    return np.column_stack([b, o, w, b * o, b * w, o * w])


def by_least_squares(shares: Floats, notes: list[str], pour: NDArray[np.int_], at: Floats) -> Floats:
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


def by_maximum_likelihood(shares: Floats, notes: list[str], pour: NDArray[np.int_], at: Floats) -> Floats:
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


def score_ways(maker: Maker, pours: int, rng: np.random.Generator) -> dict[str, tuple[float, Floats, Floats]]:
    """Return, for each way, its excess score, and stated and true chances over the region."""
    at = maker.region.grid(150)
    shares = at[rng.choice(len(at), pours, replace=False)]
    notes, pour = maker.pour(shares, rng), np.repeat(np.arange(pours), NOTES)
    true = maker.chances(at)
    stated = {name: way(np.repeat(shares, NOTES, axis=0), notes, pour, at) for name, way in WAYS.items()}
    return {name: (excess(chances, true), chances, true) for name, chances in stated.items()}


def run_scores(makers: range, pours: int, noise: float) -> pd.DataFrame:
    """Return the excess score of each way, one row per maker."""
    rows = [score_ways(make_maker(seed, noise), pours, np.random.default_rng([seed, 2])) for seed in makers]
    return pd.DataFrame([{name: found[0] for name, found in row.items()} for row in rows])


def run_calibration(makers: range, pours: int, noise: float) -> pd.DataFrame:
    """Return the hardness model's stated against true chances in tenths, with the share of statements."""
    rows = [
        score_ways(make_maker(seed, noise), pours, np.random.default_rng([seed, 2]))["labkit"]
        for seed in makers
    ]
    stated = np.concatenate([row[1].ravel() for row in rows])
    true = np.concatenate([row[2].ravel() for row in rows])
    tenth = np.minimum((stated * 10).astype(int), 9)
    means = pd.DataFrame({"stated": stated, "true": true}).groupby(tenth).mean()
    share = np.bincount(tenth, minlength=10)[means.index] / len(tenth)
    return means.assign(gap=means["stated"] - means["true"], share=share)


EARLY_H = 3.0


def run_early(makers: range, pours: int = 8) -> pd.DataFrame:
    """Return the excess score for set sticks from notes made at three hours only, one row per maker.

    Sticks gain about two rungs (sd 1) while they set, at 0.05 to 0.5 an hour; the same notes
    are read through the set curve, and as if the sticks had been set.
    """
    rows = []
    for seed in makers:
        maker, rng = make_maker(seed), np.random.default_rng([seed, 5])
        at = maker.region.grid(150)
        shares = at[rng.choice(len(at), pours, replace=False)]
        softer = rng.normal(2.0, 1.0) * np.exp(-rng.uniform(0.05, 0.5) * EARLY_H)
        notes, parts = maker.pour(shares, rng, softer), list(maker.region.parts)
        table, pour = (
            pd.DataFrame(np.repeat(shares, NOTES, axis=0), columns=parts),
            np.repeat(np.arange(pours), NOTES),
        )
        row = {}
        for name, hours in {"set curve": EARLY_H, "as if set": None}.items():
            told = (
                HardnessModel(WORDS)
                .fit(table, notes, hours, pour)
                .predict(pd.DataFrame(at, columns=parts), hours=None)
            )
            row[name] = excess(told[list(WORDS)].to_numpy(), maker.chances(at))
        rows.append(row)
    return pd.DataFrame(rows)


# ---- the next pour ---------------------------------------------------------------

WANTED, MARKS = "right", (6, 8, 14)
STEP = 0.04  # share of wax; 0.02 and 0.06 were no better for the rival


@dataclass(frozen=True)
class Quest:
    """A maker whose usual recipe is about a rung off, and the best chance of right that there is."""

    maker: Maker
    usual: Floats
    best: float

    def reached(self, shares: Floats) -> float:
        """Return the true chance of right at a composition over the best possible."""
        return float(self.maker.chances(shares[None])[0, WORDS.index(WANTED)]) / self.best


def make_quest(seed: int, noise: float) -> Quest | None:
    """Return a quest, or None where right can hardly be had in the region."""
    maker = make_maker(seed, noise)
    at = maker.region.grid(400)
    off = np.abs(maker.surface(at) - WORDS.index(WANTED))
    fit = np.flatnonzero((off > 0.7) & (off < 2.0))
    if off.min() > 0.3 or not len(fit):
        return None
    usual = at[np.random.default_rng([seed, 3]).choice(fit)]
    return Quest(maker, usual, float(maker.chances(at)[:, WORDS.index(WANTED)].max()))


def by_halving(quest: Quest, rng: np.random.Generator) -> list[float]:
    """Softer than wanted: more wax by a step, harder: less; the step halves when the side changes."""
    at, step, last, found = quest.usual, STEP, 0.0, []
    for pour in range(1, max(MARKS) + 1):
        rungs = [WORDS.index(word) for word in quest.maker.pour(at[None], rng)]
        off = float(np.mean(rungs)) - WORDS.index(WANTED)
        if abs(off) > 0.3:
            side = -np.sign(off)
            step = step / 2.0 if side == -last else step
            last = side
            at = _with_wax(quest.maker.region, at, at[2] + side * step)
        if pour in MARKS:
            found.append(quest.reached(at))
    return found


def _with_wax(region: Region, shares: Floats, wax: float) -> Floats:
    wax = float(np.clip(wax, 0.0, 1.0))
    moved = np.append(shares[:2] * (1.0 - wax) / (1.0 - shares[2]), wax)
    return region.nearest(moved).to_numpy()


def by_next_pour(quest: Quest, rng: np.random.Generator) -> list[float]:
    """Pour what `next_pour` says; at each mark take what is most likely right."""
    parts = list(quest.maker.region.parts)
    usual = dict(zip(parts, quest.usual, strict=True))
    shares, notes, found = quest.usual[None], quest.maker.pour(quest.usual[None], rng), []
    for pour in range(1, max(MARKS) + 1):
        table = pd.DataFrame(np.repeat(shares, NOTES, axis=0), columns=parts)
        model = HardnessModel(WORDS).fit(table, notes, pour=np.repeat(np.arange(pour), NOTES))
        if pour in MARKS:
            best = next_pour(model, quest.maker.region, WANTED, explore=False, start=usual)
            found.append(quest.reached(best[parts].to_numpy()[0]))
        to_pour = next_pour(model, quest.maker.region, WANTED, start=usual)[parts].to_numpy()
        shares, notes = np.concatenate([shares, to_pour]), notes + quest.maker.pour(to_pour, rng)
    return found


def run_quests(makers: range, noise: float) -> pd.DataFrame:
    """Return chance of right over the best possible after each mark, one row per maker."""
    quests = [(seed, quest) for seed in makers if (quest := make_quest(seed, noise)) is not None]
    rows = []
    for seed, quest in quests:
        ours = by_next_pour(quest, np.random.default_rng([seed, 4]))
        rival = by_halving(quest, np.random.default_rng([seed, 4]))
        rows.append([*ours, *rival])
    columns = [f"{name} {mark}" for name in ("next pour", "halving") for mark in MARKS]
    return pd.DataFrame(rows, columns=columns)


# ---- the script ------------------------------------------------------------------


def mean_and_error(values: pd.Series) -> str:
    """Return "mean ± standard error"."""
    return f"{values.mean():.4f} ± {values.std() / np.sqrt(len(values)):.4f}"


def report_scores(makers: range) -> list[str]:
    """Return the markdown table of excess scores, and of differences."""
    head = (
        "| pours | noise | " + " | ".join(WAYS) + " | least squares − labkit | maximum likelihood − labkit |"
    )
    lines = [head, "|" + "---|" * (len(WAYS) + 4)]
    for pours in (6, 12):
        for noise in (1.0, 2.0):
            table = run_scores(makers, pours, noise)
            cells = [mean_and_error(table[name]) for name in WAYS]
            cells += [mean_and_error(table[name] - table["labkit"]) for name in WAYS if name != "labkit"]
            lines.append(f"| {pours} | ×{noise:g} | " + " | ".join(cells) + " |")
    return lines


def report_calibration(makers: range) -> list[str]:
    """Return the markdown table of stated against true chances."""
    lines = [
        "| noise | pours | stated | true | gap (points) | % of statements |",
        "|---|---|---|---|---|---|",
    ]
    for noise in (1.0, 2.0):
        for pours in (6, 12):
            table = run_calibration(makers, pours, noise)
            for stated, true, gap, share in table.to_numpy():
                cells = f"{stated:.2f} | {true:.2f} | {100 * gap:+.1f} | {100 * share:.1f}"
                lines.append(f"| ×{noise:g} | {pours} | {cells} |")
    return lines


def report_early(makers: range) -> list[str]:
    """Return the markdown table of early notes."""
    table = run_early(makers)
    cells = [
        mean_and_error(each)
        for each in (table["set curve"], table["as if set"], table["as if set"] - table["set curve"])
    ]
    return [
        "| through the set curve | as if set | difference |",
        "|---|---|---|",
        "| " + " | ".join(cells) + " |",
    ]


def report_quests(makers: range) -> list[str]:
    """Return the markdown table of chance of right over the best possible."""
    lines = ["| noise | makers | pours | next pour | halving | difference |", "|---|---|---|---|---|---|"]
    for noise in (1.0, 2.0):
        table = run_quests(makers, noise)
        for mark in MARKS:
            ours, rival = table[f"next pour {mark}"], table[f"halving {mark}"]
            cells = " | ".join(mean_and_error(each) for each in (ours, rival, ours - rival))
            lines.append(f"| ×{noise:g} | {len(table)} | {mark} | {cells} |")
    return lines


def main() -> None:
    """Print what the simulation finds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--makers", type=int, default=10, help="how many")
    parser.add_argument("--first", type=int, default=0, help="number of the first")
    asked = parser.parse_args()
    makers = range(asked.first, asked.first + asked.makers)
    print(f"{len(makers)} invented makers, {NOTES} notes a pour, five rungs; mean ± standard error.\n")
    print("Excess ranked probability score over the true chances (0 is best):\n")
    print("\n".join(report_scores(makers)) + "\n")
    print("Stated chances of each word against the true ones:\n")
    print("\n".join(report_calibration(makers)) + "\n")
    print(f"Excess for set sticks from 8 pours felt at {EARLY_H:g} hours only:\n")
    print("\n".join(report_early(makers)) + "\n")
    print("True chance of right at the final recommendation over the best possible:\n")
    print("\n".join(report_quests(makers)))


if __name__ == "__main__":
    main()
