"""How pour temperature, cooling and reheats go with hardness, streaks, sink holes and loss over batches."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import betaincinv

from labkit.batch.asked import Floats
from labkit.batch.together import Together, together
from labkit.errors import LabError, did_you_mean
from labkit.many_tests import holm

FEWEST = 6
"""No claim from fewer batches of one recipe (with 5, the least two-sided p is 0.017; with 4, 0.083)."""
REAL = 0.05
ALONG = 0.5
"""A |τ| from which two processes are said to have changed together (a judgement)."""

PROCESSES = {
    "pour_c": ("pour temperature", "poured hotter", "°C"),
    "tau_min": ("pace of cooling (τ)", "cooled more slowly", "min"),
    "off_to_pour_min": ("time from heat off to pour", "poured later", "min"),
    "reheats": ("reheats", "reheated more often", ""),
    "hottest_c": ("hottest temperature", "heated hotter", "°C"),
    "hot_min": ("time hot", "kept hot longer", "min"),
}
"""Name, how more of it is said, and unit."""
OUTCOMES = {
    "hardness": ("hardness", "harder", "softer", "word"),
    "streaks": ("streaks", "more streaked", "less streaked", "grade"),
    "sink_share": ("sink holes", "with more sink holes", "with fewer sink holes", "share"),
    "loss": ("loss", "with more loss", "with less loss", "share"),
}
"""Name, how more and less of it is said, and unit."""


@dataclass(frozen=True, eq=False)
class BatchesApart:
    """What goes with what.

    Attributes
    ----------
    rows : DataFrame
        A row for each process and outcome asked for: process, outcome, count (batches compared), tau, low,
        high (about 95 %), p, p_holm (for as many questions), shown (whether a link is shown), sentence.
    said : tuple of str
        What may be said over all.
    batches : DataFrame
        The table, with sink_low and sink_high, the 95 % limits of the share of sink holes; hardness left
        out where a batch was judged on another ladder than the last.
    """

    rows: pd.DataFrame
    said: tuple[str, ...]
    batches: pd.DataFrame

    def of(self, process: str, outcome: str) -> "pd.Series[Any]":
        """Return the row of a process and an outcome."""
        here = (self.rows["process"] == process) & (self.rows["outcome"] == outcome)
        return self.rows[here].iloc[0]


def compare_batches(
    table: pd.DataFrame,
    processes: Sequence[str] = tuple(PROCESSES),
    outcomes: Sequence[str] = tuple(OUTCOMES),
) -> BatchesApart:
    """Return how processes go with outcomes over batches, within recipes.

    Kendall's τ over pairs of one recipe, p by permutation within recipes (`labkit.batch.together`), Holm's
    p over as many questions as can be answered (Holm 1979, Scandinavian Journal of Statistics 6, 65).

    Parameters
    ----------
    table : DataFrame
        As `labkit.batch.past_batches` returns it.
    processes, outcomes : sequence of str, optional
        Which columns; by default all.

    Raises
    ------
    LabError
        For a column that is none of them.
    """
    for each, known in ((processes, PROCESSES), (outcomes, OUTCOMES)):
        if strange := [name for name in each if name not in known]:
            raise LabError(f"“{strange[0]}” is not compared. {did_you_mean(strange[0], known)}")
    kept = _on_one_ladder(with_limits(table))
    asked = list(product(processes, outcomes))
    found = [together(kept[one], kept[other], list(kept["recipe"])) for one, other in asked]
    corrected = holm(np.array([_p(each) for each in found]))
    rows = [
        _row(kept, one, other, each, p)
        for (one, other), each, p in zip(asked, found, corrected.tolist(), strict=True)
    ]
    columns = ["process", "outcome", "count", "tau", "low", "high", "p", "p_holm", "shown", "sentence"]
    made = pd.DataFrame(rows, columns=columns)
    return BatchesApart(made, _said(kept, made, int(np.isfinite(corrected).sum())), kept)


def with_limits(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with 95 % limits of the share of sink holes."""
    holes, of = (table[name].to_numpy(float) for name in ("sink_holes", "looked_at"))
    low, high = share_limits(holes, of)
    return table.assign(sink_low=low, sink_high=high)


def share_limits(count: Floats, of: Floats) -> tuple[Floats, Floats]:
    """Return exact 95 % limits of shares. Clopper and Pearson (1934), Biometrika 26, 404.

    >>> [each.round(4).tolist() for each in share_limits(np.array([0.0, 3.0]), np.array([10.0, 10.0]))]
    [[0.0, 0.0667], [0.3085, 0.6525]]
    """
    with np.errstate(invalid="ignore"):
        low = np.where(count > 0, betaincinv(count, of - count + 1.0, 0.025), 0.0 * count)
        high = np.where(count < of, betaincinv(count + 1.0, of - count, 0.975), 1.0 + 0.0 * count)
    return low, high


def _p(found: Together) -> float:
    """Return the p-value of a question that these batches could answer, else NaN.

    One whose least possible p is beyond the limit can never be answered, and costs the others nothing
    (Tarone 1990, Biometrics 46, 515, from memory).
    """
    return found.p if found.count >= FEWEST and found.least_p <= REAL else np.nan


def _on_one_ladder(table: pd.DataFrame) -> pd.DataFrame:
    """Leave out hardness on another ladder than that of the last batch that was judged."""
    judged = table[table["hardness"].notna()]
    if judged.empty:
        return table
    last = tuple(judged["ladder"].iloc[-1])
    same = np.array([tuple(each) == last for each in table["ladder"]])
    return table.assign(hardness=table["hardness"].where(same))


# ---- in words --------------------------------------------------------------------


def _row(kept: pd.DataFrame, process: str, outcome: str, found: Together, p_holm: float) -> dict[str, Any]:
    shown = bool(p_holm < REAL)
    return {
        "process": process, "outcome": outcome, "count": found.count, "tau": found.tau, "low": found.low,
        "high": found.high, "p": found.p, "p_holm": p_holm, "shown": shown,
        "sentence": _sentence(kept, process, outcome, found, p_holm),
    }  # fmt: skip


def _sentence(kept: pd.DataFrame, process: str, outcome: str, found: Together, p_holm: float) -> str:
    name, more_of_it, _ = PROCESSES[process]
    what, more, less, _ = OUTCOMES[outcome]
    lead = f"{name.capitalize()} and {what}"
    if found.count < FEWEST:
        missing = FEWEST - found.count
        return (
            f"{lead}: {found.count or 'no'} batches of one recipe with both so far; {missing} more "
            "before anything is said."
        )
    if np.isnan(found.tau):
        return f"{lead}: one of them did not vary between batches of one recipe."
    if found.least_p > REAL:
        return f"{lead}: too few batches of one recipe differ for a link to show, however they fell."
    numbers = (
        f"τ {signed(found.tau)}{_reach(found)}, {found.count} batches, p {shown_p(found.p)}, or "
        f"{shown_p(p_holm)} allowing for all questions"
    )
    if not p_holm < REAL:
        return f"{lead}: no link is shown ({numbers})."
    along = _along(kept, process)
    warning = f" But {along} changed along with it, and may be the cause." if along else ""
    return f"Batches {more_of_it} came out {more if found.tau > 0 else less} ({numbers}).{warning}"


def _reach(found: Together) -> str:
    return "" if np.isnan(found.low) else f", 95 % about {signed(found.low)} to {signed(found.high)}"


def shown_p(p: float) -> str:
    """Return a p-value as it is told.

    >>> shown_p(0.0095), shown_p(0.4)
    ('0.01', '0.40')
    """
    return f"{p:.2f}" if p >= 0.005 else f"{p:.3f}" if p >= 0.0005 else "below 0.001"


def signed(tau: float) -> str:
    """Return τ with a true minus.

    >>> signed(-0.513)
    '−0.51'
    """
    return f"{tau:.2f}".replace("-", "\u2212")


def _along(kept: pd.DataFrame, process: str) -> str:
    """Return which other processes changed together with this one."""
    others = [
        PROCESSES[other][0]
        for other in PROCESSES
        if other != process and abs(together(kept[process], kept[other], list(kept["recipe"])).tau) >= ALONG
    ]
    return " and ".join(filter(None, (", ".join(others[:-1]), *others[-1:])))


def _said(kept: pd.DataFrame, rows: pd.DataFrame, questions: int) -> tuple[str, ...]:
    sizes = kept["recipe"].value_counts()
    count, alone = len(kept), int((sizes == 1).sum())
    said = [
        f"{count} batch{'es' * (count != 1)} in your book, of {len(sizes)} recipe{'s' * (len(sizes) != 1)}."
    ]
    if len(sizes) > 1:
        said.append("Batches are compared only with others of their own recipe, told apart by their letters.")
    if alone and len(sizes) > 1:
        said.append(f"{alone} recipe{'s were' if alone > 1 else ' was'} made once, and tell nothing here.")
    if not questions:
        return (*said, f"Nothing is claimed from fewer than {FEWEST} batches.")
    shown = int(rows["shown"].sum())
    said.append(
        f"{questions} question{'s were' if questions > 1 else ' was'} asked at once, and what is said allows "
        f"for that (Holm); {shown or 'no'} link{'s are' if shown != 1 else ' is'} shown."
    )
    return (*said, "What goes together need not be the cause: change one thing alone to find out.")
