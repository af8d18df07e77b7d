"""Correct the pot: the smallest single additions that make it softer or harder, and what else they change."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from labkit.batch.asked import read_above_0, read_any, read_between
from labkit.batch.least import least_amount, on_scale, what_else
from labkit.batch.pot import Pot
from labkit.errors import LabError

Hardness = Callable[[Mapping[str, float]], tuple[float, float] | None]
"""From the share of each ingredient to the hardness and its sd; None where nothing is known."""

MOST_SHARE = 0.30
"""An addition beyond this share of the pot is another recipe (a judgement, no source)."""

_COLUMNS = ["add", "grams", "hardness_before", "hardness_after", "sd", "what_else"]


@dataclass(frozen=True, eq=False)
class Additions:
    """What to add now.

    Attributes
    ----------
    rows : DataFrame
        One row an addition, the smallest first: add, grams (on the scale's step), hardness_before,
        hardness_after, sd (of the hardness after), what_else. Empty where nothing is known or nothing
        reaches it.
    why : str
        In words.
    """

    rows: pd.DataFrame
    why: str


def smallest_additions(
    pot_g: Mapping[str, float],
    hardness: Hardness | None,
    change: float,
    may_add: Sequence[str] | None = None,
    step_g: float = 0.01,
    most_share: float = MOST_SHARE,
) -> Additions:
    """Return the smallest single additions that move the hardness by what is wanted.

    Nothing can be taken out of a melt, so only additions are looked at: for each ingredient the first
    amount at which the hardness has moved as far as is wanted, up to `most_share` of the pot.

    Parameters
    ----------
    pot_g : mapping of ingredient to g
        What is really in the pot.
    hardness : callable or None
        From the share of each ingredient, summing to 1, to (hardness, sd), or to None where nothing
        is known there. None where there is no model.
    change : float
        Wanted change in hardness, below 0 for softer.
    may_add : sequence of str, optional
        What is at hand; by default what is in the pot, but for what colours it.
    step_g : float [g]
        Of the scale.

    Raises
    ------
    LabError
        No change asked for, or grams that cannot be.

    Examples
    --------
    >>> def hardness(shares):
    ...     return 10.0 * shares["beeswax"], 0.3
    >>> found = smallest_additions({"castor oil": 75.0, "beeswax": 25.0}, hardness, -0.5, step_g=0.1)
    >>> found.rows[["add", "grams"]].values.tolist()
    [['castor oil', 25.0]]
    """
    pot = Pot(pot_g)
    wanted = float(read_any(change, "wanted change", ""))
    if wanted == 0.0:
        raise LabError("wanted change: 0 is no change. Give one below 0 for softer, above 0 for harder.")
    step = read_above_0(step_g, "your scale's step", "g")
    most = read_between(most_share, "largest addition", "", 0.001, 1.0) * pot.total_g
    before = _read(hardness, pot) if hardness else None
    if hardness is None or before is None:
        return Additions(pd.DataFrame(columns=_COLUMNS), _NOTHING_KNOWN)
    rows = []
    for name in _uncoloured(pot) if may_add is None else may_add:
        grams = _least(pot, name, hardness, before[0], wanted, most, step)
        after = pot.add(name, grams) if grams else pot
        found = _read(hardness, after) if grams else None
        if found:
            rows.append((name, grams, before[0], *found, what_else(pot, after, name)))
    table = pd.DataFrame(rows, columns=_COLUMNS).sort_values("grams", kind="stable", ignore_index=True)
    return Additions(table, _why(table, wanted, before[1], most))


_NOTHING_KNOWN = (
    "Nothing is known of how this pot's hardness goes with what is in it: no map holds for it. "
    "Add a little of the oil (softer) or of the wax (harder), about 2 % of the pot, stir until clear, and "
    "try another drip; write down both."
)


def _read(hardness: Hardness, pot: Pot) -> tuple[float, float] | None:
    found = hardness(pot.shares)
    if found is None:
        return None
    value, sd = (float(each) for each in found)
    return (value, sd) if np.isfinite(value) else None


def _uncoloured(pot: Pot) -> list[str]:
    return [name for name in pot.grams if name not in pot.colourants]


def _least(
    pot: Pot, name: str, hardness: Hardness, before: float, wanted: float, most: float, step: float
) -> float:
    """Return the least grams that move the hardness as far as is wanted, on the scale's step; 0 for none."""

    def reached(after: Pot) -> bool:
        found = _read(hardness, after)
        return found is not None and (found[0] - before) * np.sign(wanted) >= abs(wanted) - 1e-12

    grams = least_amount(lambda grams: pot.add(name, grams), reached, most)
    return on_scale(grams, step) if grams else 0.0


def _why(table: pd.DataFrame, wanted: float, sd: float, most: float) -> str:
    side = "softer" if wanted < 0 else "harder"
    if table.empty:
        return (
            f"No single addition of up to {most:.3g} g makes it {side} by {abs(wanted):g}. "
            "Pour it as it is and note it, or begin another pot."
        )
    doubt = (
        " The map itself is less sure than the change that you want: add half, and try a drip."
        if max(float(table["sd"].iloc[0]), sd) > abs(wanted)
        else ""
    )
    return f"The smallest first; each dilutes what else is in the pot, the colour too.{doubt}"
