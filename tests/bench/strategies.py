"""Ways to the wanted word, pour by pour: the next pour, halving, one ingredient at a time."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel
from labkit.texture.region import Region
from tests.bench.makers import MARKS, NOTES, PARTS, STEP, WANTED, WORDS, Quest, day_of, make_quest

Floats = NDArray[np.float64]


def rungs_off(notes: list[str]) -> float:
    """Return how many rungs harder than wanted the notes are on average."""
    return float(np.mean([WORDS.index(word) for word in notes])) - WORDS.index(WANTED)


def by_halving(quest: Quest, rng: np.random.Generator) -> list[float]:
    """Softer than wanted: more wax by a step, harder: less; the step halves when the side changes."""
    at, step, last, found = quest.usual, STEP, 0.0, []
    for pour in range(1, max(MARKS) + 1):
        off = rungs_off(quest.pour(at, pour - 1, rng))
        if abs(off) > 0.3:
            side = -np.sign(off)
            step = step / 2.0 if side == -last else step
            last = side
            at = with_wax(quest.maker.region, at, at[2] + side * step)
        if pour in MARKS:
            found.append(quest.reached(at))
    return found


def by_rotating(quest: Quest, rng: np.random.Generator) -> list[float]:
    """One ingredient after the other, a step more and then a step less; what comes nearer is kept.

    The step halves when a whole round, up and down in each part, brought nothing nearer.
    """
    at, step, found, idle = quest.usual, STEP, [], 0
    best = abs(rungs_off(quest.pour(at, 0, rng)))
    turns = [(part, side) for part in range(len(at)) for side in (1.0, -1.0)]
    for pour in range(2, max(MARKS) + 1):
        part, side = turns[(pour - 2) % len(turns)]
        tried = _with_part(quest.maker.region, at, part, at[part] + side * step)
        off = abs(rungs_off(quest.pour(tried, pour - 1, rng)))
        idle = 0 if off < best else idle + 1
        at, best = (tried, off) if off < best else (at, best)
        if idle == len(turns):
            step, idle = step / 2.0, 0
        if pour in MARKS:
            found.append(quest.reached(at))
    return found


def _with_part(region: Region, shares: Floats, part: int, share: float) -> Floats:
    share = float(np.clip(share, 0.0, 1.0))
    moved = shares * (1.0 - share) / (1.0 - shares[part])
    moved[part] = share
    return region.nearest(moved).to_numpy()


def with_wax(region: Region, shares: Floats, wax: float) -> Floats:
    return _with_part(region, shares, 2, wax)


def by_next_pour(quest: Quest, rng: np.random.Generator) -> list[float]:
    """Pour what `next_pour` says; at each mark take what is most likely right."""
    usual = dict(zip(PARTS, quest.usual, strict=True))
    shares, notes, found = quest.usual[None], quest.pour(quest.usual, 0, rng), []
    for pour in range(1, max(MARKS) + 1):
        cast = np.repeat(np.arange(pour), NOTES)
        table = pd.DataFrame(np.repeat(shares, NOTES, axis=0), columns=PARTS)
        model = HardnessModel(WORDS).fit(table, notes, pour=cast, day=day_of(quest.maker, cast))
        if pour in MARKS:
            best = next_pour(model, quest.maker.region, WANTED, explore=False, start=usual)
            found.append(quest.reached(best[PARTS].to_numpy()[0]))
        if pour < max(MARKS):
            to_pour = next_pour(model, quest.maker.region, WANTED, start=usual)[PARTS].to_numpy()
            shares, notes = np.concatenate([shares, to_pour]), notes + quest.pour(to_pour[0], pour, rng)
    return found


STRATEGIES = {"next pour": by_next_pour, "halving": by_halving, "rotating": by_rotating}


def run_quest(seed: int, noise: float, day_sd: float = 0.0) -> dict[str, float] | None:
    """Return chance of right over the best possible by strategy and mark; None without a quest."""
    quest = make_quest(seed, noise, day_sd)
    if quest is None:
        return None
    row = {}
    for name, strategy in STRATEGIES.items():
        reached = strategy(quest, np.random.default_rng([seed, 4]))
        row |= {f"{name} {mark}": value for mark, value in zip(MARKS, reached, strict=True)}
    return row


def run_quests(makers: range, noise: float, day_sd: float = 0.0) -> pd.DataFrame:
    """Return chance of right over the best possible after each mark, one row per maker."""
    rows = [run_quest(seed, noise, day_sd) for seed in makers]
    return pd.DataFrame([row for row in rows if row is not None])
