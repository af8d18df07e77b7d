"""A general-purpose Bayesian optimiser (BoTorch) on the same quests as the next pour.

Run by hand, where BoTorch is installed: ``python -m tests.bench.rival --first 1000 --makers 100``.

The Gaussian process, its fit and the noisy expected improvement are BoTorch's own with its
defaults. It is told two ways what is wanted, as its users might: "closeness" models minus how
many rungs a note is off, "rung" models the rung and asks for closeness of what it expects
(a composite objective, which uses that softer and harder are two sides).
"""

import argparse
import json
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.texture.region import Region
from tests.bench.makers import A_DAY, DAY_SD, MARKS, NOTES, PARTS, STEP, WANTED, WORDS, Quest, make_quest
from tests.bench.run_makers import NOISES, read, shown
from tests.bench.strategies import _off, _with_wax, by_next_pour

Floats = NDArray[np.float64]

WISH = WORDS.index(WANTED)
CANDIDATES = 1000  # compositions of the region among which it chooses
OURS = "next pour"


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


def by_rival(quest: Quest, rng: np.random.Generator, told: str) -> list[float]:
    """Pour the usual twice, one change, then what the rival says; at each mark take its best expectation.

    The change is a step more wax where the usual was felt too soft, and a step less where too hard.
    """
    import torch
    from botorch.acquisition import qSimpleRegret

    torch.manual_seed(quest.seed)
    region, found = quest.maker.region, []
    candidates = np.concatenate([region.grid(CANDIDATES), quest.usual[None]])
    poured, notes = [quest.usual] * 2, quest.pour(quest.usual, 0, rng) + quest.pour(quest.usual, 1, rng)
    to_pour = _with_wax(region, quest.usual, quest.usual[2] + (-STEP if _off(notes) > 0 else STEP))
    for pour in range(3, max(MARKS) + 1):
        poured, notes = [*poured, to_pour], notes + quest.pour(to_pour, pour - 1, rng)
        fitted = fit_rival(region, np.repeat(poured, NOTES, axis=0), notes, told)
        if pour in MARKS:
            expected = qSimpleRegret(fitted.process, objective=fitted.objective)
            found.append(quest.reached(best_among(candidates, expected)))
        to_pour = best_among(candidates, improvement(fitted))
    return found


STRATEGIES: dict[str, Callable[[Quest, np.random.Generator], list[float]]] = {
    OURS: by_next_pour,
    "closeness": partial(by_rival, told="closeness"),
    "rung": partial(by_rival, told="rung"),
}


def one_maker(seed: int) -> dict[str, Any]:
    """Return chance of right over the best possible by noise, strategy and mark of maker `seed`."""
    row: dict[str, Any] = {"maker": seed}
    for noise in NOISES:
        quest = make_quest(seed, noise, DAY_SD)
        if quest is not None:
            reached = {
                name: by(quest, np.random.default_rng([seed, 4])) for name, by in STRATEGIES.items()
            }
            row[f"{noise:g}"] = reached
    return row


def tell(rows: list[dict[str, Any]]) -> str:
    """Return what was found, as Markdown."""
    heads = ["noise", "makers", "pours", *STRATEGIES, *(f"over {name} (95 %)" for name in STRATEGIES if name != OURS)]
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    for noise in NOISES:
        quests = [row[f"{noise:g}"] for row in rows if f"{noise:g}" in row]
        for number, mark in enumerate(MARKS):
            table = pd.DataFrame([{name: found[number] for name, found in quest.items()} for quest in quests])
            cells = [f"×{noise:g}", str(len(table)), str(mark), *(shown(table[name]) for name in STRATEGIES)]
            cells += [_gain(table[OURS] - table[name]) for name in STRATEGIES if name != OURS]
            lines.append("| " + " | ".join(cells) + " |")
    numbers = [row["maker"] for row in rows]
    head = (
        f"{len(rows)} invented makers ({min(numbers)} to {max(numbers)}), {NOTES} notes a pour, {A_DAY} pours a day, "
        f"days that differ by {DAY_SD:g} rungs; mean ± standard error."
    )
    return "\n".join([head, "", *lines])


def _gain(values: "pd.Series[float]") -> str:
    reach = 1.96 * values.std() / np.sqrt(len(values))
    return f"{values.mean():+.4f} ({values.mean() - reach:+.3f} to {values.mean() + reach:+.3f})"
