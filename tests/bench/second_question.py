"""Simulated makers: a second question to the notes that the first one left, beside the log alone.

Run by hand: ``python -m tests.bench.second_question --makers 208 --first 1000``. Everything here is invented.
"""

import argparse
from dataclasses import dataclass
from multiprocessing import Pool

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel
from labkit.texture.region import Region
from labkit.texture.second import Answer, answer
from tests.bench.makers import NOTES, WANTED, WORDS, Maker, Quest, make_quest

Floats = NDArray[np.float64]

POURS = 14
BUTTER = 0.4
NOISES = (1.0, 2.0)
KINDS = ("quadratic", "saturating")
GOAL, LEAST = 0.85, 0.80
_ATTAINED = 0.3  # rungs; as for a quest: right is to be had


@dataclass(frozen=True)
class Ask:
    """A second question: its name, the word, and the least butter."""

    name: str
    word: str
    butter: float | None = None

    def region(self, region: Region) -> Region:
        """Return what it allows."""
        if self.butter is None:
            return region
        return Region({**_bounds(region), "butter": (self.butter, 0.6)})


ASKS = (
    Ask("one rung softer", "softish"),
    Ask("one rung firmer", "firm"),
    Ask("right with at least 40 % butter", "right", BUTTER),
)


def _bounds(region: Region) -> dict[str, tuple[float, float]]:
    return dict(zip(region.parts, zip(region.lows, region.highs, strict=True), strict=True))


@dataclass(frozen=True)
class Log:
    """What a first question left: shares of the pours, and the words of each."""

    shares: Floats
    words: list[str]
    model: HardnessModel


def first_question(quest: Quest, rng: np.random.Generator) -> Log:
    """Return the log of POURS pours, each but the first where `next_pour` said."""
    parts = list(quest.maker.region.parts)
    usual = dict(zip(parts, quest.usual, strict=True))
    log = one_more(
        Log(np.empty((0, len(parts))), [], HardnessModel(WORDS)), quest.usual[None], quest.maker, rng
    )
    while len(log.shares) < POURS:
        to_pour = next_pour(log.model, quest.maker.region, WANTED, start=usual)[parts].to_numpy()
        log = one_more(log, to_pour, quest.maker, rng)
    return log


def _fit(parts: list[str], shares: Floats, words: list[str]) -> HardnessModel:
    table = pd.DataFrame(np.repeat(shares, NOTES, axis=0), columns=parts)
    return HardnessModel(WORDS).fit(table, words, pour=np.repeat(np.arange(len(shares)), NOTES))


def from_the_log(log: Log, ask: Ask, maker: Maker) -> tuple[float, bool]:
    """Return the true chance at the pour whose words came nearest, and whether a pour was allowed at all.

    Of several equally near pours the mean, as if one were taken blindly. Where no pour
    satisfies the rule, the nearest pour moved to the nearest composition that does.
    """
    rung = WORDS.index(ask.word)
    felt = np.array([WORDS.index(word) for word in log.words], float).reshape(-1, NOTES).mean(axis=1)
    region = ask.region(maker.region)
    allowed = region.contains(log.shares)
    off = np.where(allowed, np.abs(felt - rung), np.inf) if allowed.any() else np.abs(felt - rung)
    taken = log.shares[off <= off.min() + 1e-9]
    if not allowed.any():
        taken = np.array([region.nearest(row).to_numpy() for row in taken])
    return float(maker.chances(taken)[:, rung].mean()), bool(allowed.any())


def ask_one(quest: Quest, log: Log, ask: Ask, rng: np.random.Generator) -> dict[str, float]:
    """Return the chance of right over the best possible, by the answer and by the log alone.

    "one more": by the answer after what it says to pour was poured, where it says so.
    """
    maker, parts = quest.maker, list(quest.maker.region.parts)
    rung, at = WORDS.index(ask.word), ask.region(maker.region).grid(400)
    best = float(maker.chances(at)[:, rung].max())

    def true(found: Answer) -> float:
        return float(maker.chances(np.array([[found.shares[part] for part in parts]]))[0, rung])

    found, again = _answered(quest, log, ask), log
    if found.pour is not None:
        again = one_more(log, found.pour[parts].to_numpy()[:1], maker, rng)
    alone, had = from_the_log(log, ask, maker)
    return {
        "answer": true(found) / best,
        "one more": true(found if again is log else _answered(quest, again, ask)) / best,
        "log alone": alone / best,
        "no pour allowed": float(not had),
        "stated": found.chance,
        "true": true(found),
        "known": float(found.known),
        "attained": float(np.abs(maker.surface(at) - rung).min() <= _ATTAINED),
    }


def _answered(quest: Quest, log: Log, ask: Ask) -> Answer:
    usual = dict(zip(quest.maker.region.parts, quest.usual, strict=True))
    low = None if ask.butter is None else {"butter": ask.butter}
    return answer(log.model, quest.maker.region, ask.word, low=low, start=usual, first=WANTED)


def one_more(log: Log, shares: Floats, maker: Maker, rng: np.random.Generator) -> Log:
    """Return the log with one more pour."""
    poured, words = np.concatenate([log.shares, shares]), log.words + maker.pour(shares, rng)
    return Log(poured, words, _fit(list(maker.region.parts), poured, words))


def run_maker(seed: int, noises: tuple[float, ...] = NOISES) -> list[dict[str, object]]:
    """Return one row for every noise and second question of a maker."""
    rows = list[dict[str, object]]()
    for noise in noises:
        quest = make_quest(seed, noise)
        if quest is not None:
            log, rng = (
                first_question(quest, np.random.default_rng([seed, 4])),
                np.random.default_rng([seed, 7]),
            )
            about = {"maker": seed, "kind": KINDS[seed % 2], "noise": noise}
            rows += [{**about, "ask": ask.name, **ask_one(quest, log, ask, rng)} for ask in ASKS]
    return rows


def run(makers: range, noises: tuple[float, ...] = NOISES, processes: int = 1) -> pd.DataFrame:
    """Return one row for every maker, noise and second question."""
    asked = [(seed, noises) for seed in makers]
    if processes == 1:
        found = [run_maker(*each) for each in asked]
    else:
        with Pool(processes) as pool:
            found = pool.starmap(run_maker, asked, chunksize=4)
    return pd.DataFrame([row for rows in found for row in rows])


# ---- the script ------------------------------------------------------------------


def _mean(values: "pd.Series[float]") -> tuple[float, float]:
    return float(values.mean()), float(values.std() / np.sqrt(len(values)))


def _shown(values: "pd.Series[float]") -> str:
    return "{:.3f} ± {:.3f}".format(*_mean(values))


def verdict(values: "pd.Series[float]") -> str:
    """Return how a mean stands to the goal: it, and its lower 95 % limit."""
    mean, error = _mean(values)
    low = mean - 1.96 * error
    met = "met" if mean >= GOAL and low >= LEAST else "not met"
    return f"{low:.3f}, {met}"


def report(table: pd.DataFrame) -> list[str]:
    """Return the markdown table: of what can be had, of that by the kind of surface, and of all."""
    lines = [
        "| second question | surface | noise | makers | answer | lower 95 % limit, goal | log alone "
        "| difference | after one more pour, where told | no pour allowed | stated chance | true chance "
        "| called known |",
        "|" + "---|" * 13,
    ]
    had = table[table["attained"] == 1.0]
    kinds = {"all": had, **{kind: had[had["kind"] == kind] for kind in KINDS}, "all, had or not": table}
    for label, kept in kinds.items():
        for (ask, noise), each in kept.groupby(["ask", "noise"]):
            lines.append(f"| {ask} | {label} | ×{noise:g} | {_cells(each)} |")
    return lines


def _cells(rows: pd.DataFrame) -> str:
    shown = {name: _shown(rows[name]) for name in ("answer", "log alone", "one more", "stated", "true")}
    cells = [
        str(len(rows)), shown["answer"], verdict(rows["answer"]), shown["log alone"],
        _shown(rows["answer"] - rows["log alone"]), shown["one more"],
        f"{100 * rows['no pour allowed'].mean():.0f} %", shown["stated"], shown["true"],
        f"{100 * rows['known'].mean():.0f} %",
    ]  # fmt: skip
    return " | ".join(cells)


def main() -> None:
    """Print what the simulation finds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--makers", type=int, default=10, help="how many are drawn")
    parser.add_argument("--first", type=int, default=0, help="number of the first")
    parser.add_argument("--processes", type=int, default=1)
    asked = parser.parse_args()
    table = run(range(asked.first, asked.first + asked.makers), processes=asked.processes)
    command = f"python -m tests.bench.second_question --makers {asked.makers} --first {asked.first}"
    print("# A second question from the same notes: what was found\n")
    print(f"Command: `{command}`. Everything in it is invented.\n")
    print(f"{NOTES} notes a pour, {POURS} pours for “{WANTED}”, then the question; mean ± standard error.\n")
    print("\n".join(report(table)))


if __name__ == "__main__":
    main()
