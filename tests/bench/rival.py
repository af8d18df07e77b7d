"""A general-purpose Bayesian optimiser (BoTorch) on the same quests as the next pour.

Run by hand, where BoTorch is installed, for makers whose results `run_makers` saved:
``python -m tests.bench.rival --first 1000 --makers 100 --save rival.jsonl --beside makers.jsonl``.

The Gaussian process, its fit and the noisy expected improvement are BoTorch's own with its
defaults. It is told two ways what is wanted, as its users might: "closeness" models minus how
many rungs a note is off, "rung" models the rung and asks for closeness of what it expects
(a composite objective, which uses that softer and harder are two sides).
"""

import argparse
import json
import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.texture.region import Region
from tests.bench.makers import A_DAY, DAY_SD, MARKS, NOTES, STEP, WANTED, WORDS, Quest, make_quest
from tests.bench.run_makers import NOISES, read, shown
from tests.bench.strategies import rungs_off, with_wax

Floats = NDArray[np.float64]

WISH = WORDS.index(WANTED)
CANDIDATES = 1000  # compositions of the region among which it chooses


# ---- one step, as its users would write it ---------------------------------------


@dataclass(frozen=True)
class Fitted:
    """A fitted Gaussian process, the compositions poured, and what is made of its values (None: nothing)."""

    process: Any
    poured: Any
    objective: Any


def fit_rival(region: Region, shares: Floats, notes: list[str], told: str) -> Fitted:
    """Return the rival fitted to notes, one row of shares per note; told "closeness" or "rung"."""
    import torch
    from botorch.acquisition.objective import GenericMCObjective
    from botorch.fit import fit_gpytorch_mll
    from botorch.models import SingleTaskGP
    from botorch.models.transforms import Normalize
    from gpytorch.mlls import ExactMarginalLogLikelihood

    rung = torch.tensor([[float(WORDS.index(word))] for word in notes], dtype=torch.double)
    seen = torch.tensor(shares)
    values = -(rung - WISH).abs() if told == "closeness" else rung
    scaled = Normalize(d=len(region.parts), bounds=bounds_of(region))
    process = SingleTaskGP(seen, values, input_transform=scaled)
    fit_gpytorch_mll(ExactMarginalLogLikelihood(process.likelihood, process))
    near = GenericMCObjective(lambda values, X=None: -(values[..., 0] - WISH).abs())
    return Fitted(process, torch.unique(seen, dim=0), None if told == "closeness" else near)


def bounds_of(region: Region) -> Any:
    """Return the lowest and highest share of each part, a tensor of shape (2, parts)."""
    import torch

    corners = region.corners().to_numpy()
    return torch.tensor(np.stack([corners.min(axis=0), corners.max(axis=0)]))


def improvement(fitted: Fitted) -> Any:
    """Return the expected improvement over what was poured, the notes being noisy."""
    from botorch.acquisition.logei import qLogNoisyExpectedImprovement

    return qLogNoisyExpectedImprovement(fitted.process, fitted.poured, objective=fitted.objective)


def best_anywhere(region: Region, fitted: Fitted) -> Floats:
    """Return the composition of highest expected improvement in the whole region, shape (parts,)."""
    import torch
    from botorch.optim import optimize_acqf

    ones = torch.ones(len(region.parts), dtype=torch.double)
    found, _ = optimize_acqf(
        improvement(fitted),
        bounds_of(region),
        q=1,
        num_restarts=5,
        raw_samples=20,
        equality_constraints=[(torch.arange(len(region.parts)), ones, 1.0)],
    )
    return found.numpy()[0]


def best_among(candidates: Floats, value: Callable[[Any], Any]) -> Floats:
    """Return the composition of highest value, shape (parts,)."""
    import torch

    with torch.no_grad():
        return candidates[int(value(torch.tensor(candidates)[:, None]).argmax())]


# ---- pour by pour ----------------------------------------------------------------


def by_rival(quest: Quest, rng: np.random.Generator, told: str) -> dict[str, float]:
    """Pour the usual twice, one change, then what the rival says; at each mark take its best expectation.

    The change is a step more wax where the usual was felt too soft, and a step less where too hard.
    Returns what is reached by what is told, among what it chooses (the region, or what was poured), and mark.
    """
    import torch
    from botorch.acquisition import qSimpleRegret

    torch.manual_seed(quest.seed)
    region, found = quest.maker.region, dict[str, float]()
    candidates = np.concatenate([region.grid(CANDIDATES), quest.usual[None]])
    poured, notes = [quest.usual] * 2, quest.pour(quest.usual, 0, rng) + quest.pour(quest.usual, 1, rng)
    to_pour = with_wax(region, quest.usual, quest.usual[2] + (-STEP if rungs_off(notes) > 0 else STEP))
    for pour in range(3, max(MARKS) + 1):
        poured, notes = [*poured, to_pour], notes + quest.pour(to_pour, pour - 1, rng)
        fitted = fit_rival(region, np.repeat(poured, NOTES, axis=0), notes, told)
        if pour in MARKS:
            expected = qSimpleRegret(fitted.process, objective=fitted.objective)
            for among, shares in {"region": candidates, "poured": np.array(poured)}.items():
                found[f"{told} {among} {pour}"] = quest.reached(best_among(shares, expected))
        to_pour = best_among(candidates, improvement(fitted))
    return found


WAYS_TOLD = ("closeness", "rung")


def one_maker(seed: int) -> dict[str, Any]:
    """Return what maker `seed` reached of the best chance of right, by noise, and as `by_rival` names it."""
    row: dict[str, Any] = {"maker": seed}
    for noise in NOISES:
        quest = make_quest(seed, noise, DAY_SD)
        row[f"quest {noise:g}"] = None if quest is None else _reached(quest)
    return row


def _reached(quest: Quest) -> dict[str, float]:
    by_told = [by_rival(quest, np.random.default_rng([quest.seed, 4]), told) for told in WAYS_TOLD]
    return {name: reached for found in by_told for name, reached in found.items()}


def run(makers: range, save: Path, minutes: float) -> list[dict[str, Any]]:
    """Return the results of all makers in the file and of those that were still missing."""
    until = time.monotonic() + 60.0 * minutes
    rows = read([save]) if save.exists() else []
    missing = [seed for seed in makers if seed not in {row["maker"] for row in rows}]
    for seed in missing:
        if time.monotonic() > until:
            break
        rows.append(one_maker(seed))
        with save.open("a") as lines:
            lines.write(json.dumps(rows[-1]) + "\n")
    return rows


# ---- what was found --------------------------------------------------------------


def tell(rows: list[dict[str, Any]], ours: list[dict[str, Any]]) -> str:
    """Return as Markdown what the rival reached beside the next pour, for the makers in both results."""
    beside = {row["maker"]: row for row in ours}
    both = [(row, beside[row["maker"]]) for row in rows if row["maker"] in beside]
    asked = product(NOISES, MARKS, WAYS_TOLD, ("region", "poured"))
    heads = [
        "noise",
        "makers",
        "pours",
        "told",
        "chosen from",
        "rival",
        "next pour",
        "difference (95 % interval)",
    ]
    lines = [heads, ["---"] * len(heads), *(_line(both, *each) for each in asked)]
    numbers = [row["maker"] for row, _ in both]
    said = (
        f"{len(both)} invented makers ({min(numbers)} to {max(numbers)}), {NOTES} notes a pour, "
        f"{A_DAY} pours a day, days that differ by {DAY_SD:g} rungs; mean ± standard error."
    )
    return "\n".join([said, "", *("| " + " | ".join(cells) + " |" for cells in lines)])


def _line(both: list[tuple[dict, dict]], noise: float, mark: int, told: str, among: str) -> list[str]:
    """Return a line of the table: what each reached, and the difference by maker."""
    name = f"quest {noise:g}"
    quests = pd.DataFrame([rival[name] | ours[name] for rival, ours in both if rival[name] is not None])
    rival, ours = quests[f"{told} {among} {mark}"], quests[f"next pour {mark}"]
    reach = 1.96 * (ours - rival).std() / np.sqrt(len(quests))
    gain = (ours - rival).mean()
    apart = f"{gain:+.4f} ({gain - reach:+.3f} to {gain + reach:+.3f})"
    return [f"×{noise:g}", str(len(quests)), str(mark), told, among, shown(rival), shown(ours), apart]


def main() -> None:
    """Print what the simulation finds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--makers", type=int, default=10, help="how many")
    parser.add_argument("--first", type=int, default=0, help="number of the first")
    parser.add_argument("--minutes", type=float, default=np.inf, help="stop after the maker at hand")
    parser.add_argument("--save", type=Path, required=True, help="a file of results to go on with")
    parser.add_argument("--beside", type=Path, nargs="+", required=True, help="what run_makers saved")
    asked = parser.parse_args()
    rows = run(range(asked.first, asked.first + asked.makers), asked.save, asked.minutes)
    print(tell(rows, read(asked.beside)))


if __name__ == "__main__":
    main()
