"""Which differences in process go with how remakes differ, and so what a recipe must state more exactly."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from labkit.batch.together import together
from labkit.many_tests import holm
from labkit.share.original import PROCESS, WAYS

FEWEST = 5
"""Fewer makers can show no link: with 4, the least two-sided p is 0.083."""
REAL = 0.05
_SAID = {
    "hardness": ("harder", "softer"),
    "L": ("lighter", "darker"),
    "a": ("redder", "greener"),
    "b": ("yellower", "bluer"),
}


def process_apart(table: pd.DataFrame, quantities: Sequence[str]) -> pd.DataFrame:
    """Return how each figure of the process goes with each quantity over makers.

    A maker is one point, the mean of their pours: pours of one maker are not independent. Kendall's τ with
    all orders tried (`labkit.batch.together`), and Holm's p for as many questions as could be answered.

    Returns
    -------
    DataFrame
        figure, quantity, makers (with both known), low and high (the least and the most of the figure
        over makers), tau, p, p_holm; the strongest first.
    """
    means = table.groupby("maker", sort=True)[[*PROCESS, *quantities]].mean()
    rows = []
    for figure in PROCESS:
        for quantity in quantities:
            known = means[[figure, quantity]].dropna()
            if len(known) < 2 or known[figure].nunique() < 2:
                continue
            found = together(known[figure], known[quantity])
            low, high = float(known[figure].min()), float(known[figure].max())
            rows.append((figure, quantity, len(known), low, high, found.tau, found.p))
    columns = ["figure", "quantity", "makers", "low", "high", "tau", "p"]
    made = pd.DataFrame(rows, columns=columns)
    made["p_holm"] = holm(made["p"].to_numpy(float))
    order = made["tau"].astype(float).abs().sort_values(ascending=False, kind="stable").index
    return made.loc[order].reset_index(drop=True)


def process_words(
    table: pd.DataFrame, found: pd.DataFrame, stated: Mapping[str, Any] | None = None
) -> Iterator[str]:
    """Yield what the recipe should say more exactly, what differs most in its own measure first.

    ``stated`` is what the recipe says already, by name of the figure.
    """
    means = table.groupby("maker", sort=True)[list(PROCESS)].mean()
    apart = {name: float(means[name].max() - means[name].min()) / PROCESS[name][2] for name in PROCESS}
    ordered = sorted(PROCESS, key=lambda name: -np.nan_to_num(apart[name]))
    ordered = sorted(PROCESS, key=lambda name: -np.nan_to_num(apart[name]))
    figures = [name for name in ordered if apart[name] >= 1.0]
    for name in figures:
        called, unit, _ = PROCESS[name]
        low, high = means[name].min(), means[name].max()
        yield (
            f"The {called} went from {low:.3g} to {high:.3g} {unit} over makers{_link(found, name)}: "
            f"{_wish((stated or {}).get(name), unit)}."
        )
    for name, called in WAYS.items():
        ways = table.loc[table[name] != "", ["maker", name]].drop_duplicates()[name].value_counts()
        if len(ways) > 1:
            told = ", ".join(f"{way} by {count}" for way, count in ways.items())
            yield f"It was {called} {told}: say which."
    if figures and len(means) < FEWEST:
        yield f"With {len(means)} makers no link can be told from chance; {FEWEST} could show a strong one."


def _wish(stated: Any, unit: str) -> str:
    if isinstance(stated, int | float) and not isinstance(stated, bool):
        return f"the recipe says {stated:g} {unit}; say how near it has to be"
    return "say it more exactly"


def _link(found: pd.DataFrame, figure: str) -> str:
    """Return with what a figure went, as strongly as so many makers allow to say it."""
    here = found[(found["figure"] == figure) & (found["tau"].abs() >= 0.5) & (found["makers"] >= 3)]
    if here.empty:
        return ""
    best = here.iloc[0]
    more = _SAID[str(best["quantity"])][0 if best["tau"] > 0 else 1]
    sure = "" if best["p_holm"] <= REAL else ", which may be chance"
    return f", and more of it went with {more} (τ {best['tau']:.1f}, p {best['p_holm']:.2g}{sure})"
