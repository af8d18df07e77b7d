"""Which blend gives a wanted colour?"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from labkit.shade.asked import Asked, read_asked, read_whole
from labkit.shade.many import prepare
from labkit.shade.medium import Medium
from labkit.shade.mixture import volume_fractions
from labkit.shade.nearest import nearest
from labkit.shade.pigments import Pigments
from labkit.shade.pot import BASE, Pot
from labkit.shade.reach import Reach, reach_into, reach_of, thinned
from labkit.shade.recipes import recipe_table
from labkit.shade.verdict import BANDS

_ALIKE, _ALIKE_SHARE = 0.2, 0.1
"""Blends of the same additions are alike up to so many mass %, or up to this share of what is added."""
_HELPS = 0.5
"""ΔE00 that base has to bring before it is spoken of."""


def find_shade(
    lab: Any,
    among: Sequence[str],
    max_load: float,
    film_um: float = 10.0,
    backing: Any = "lip",
    market: str | None = None,
    pot: Mapping[str, float] | None = None,
    pigments: Pigments | None = None,
    n: int = 5,
    seed: int = 0,
    medium: Medium | None = None,
) -> pd.DataFrame:
    """Return the blends whose forecast comes nearest to a wanted colour, best first.

    All that can be mixed is searched (`labkit.shade.nearest`): the first row is the best there is, not the
    best around a start. A pigment that brings less than ΔE00 0.01 is left out.

    Parameters
    ----------
    lab
        CIELAB triple (D65, 2°), or a screen's code such as "#8b2332".
    among
        Pigments that may be used. With ``pot``, "base" among them lets base be added too, as long as the pot
        becomes no more than three times what it is.
    max_load
        Most that all pigments may be of the finished product [mass %].
    film_um, backing, pigments, medium
        As `labkit.shade.predict` takes them.
    market
        Leaves out what `labkit.rules.permitted` does not allow on lips there, or does not know; keeps limits.
    pot
        Grams of what is in the pot now: pigments by name; whatever else there is counts as base. Nothing can
        be taken out. Where it holds too much pigment and base may be added, base comes first.
    n
        Rows at most; fewer where fewer recipes differ in what is added, or clearly in how much.
    seed
        Of the random starts.

    Returns
    -------
    DataFrame
        A column for each pigment (mass % of the finished product, 0 where absent); load; delta_e00 of the
        forecast from the wanted colour; delta_e00_median, delta_e00_low, delta_e00_high: the difference once
        it is poured and its 90 % band, from what is not known of the pigments; L, a, b, L_sd, a_sd, b_sd,
        hex; says: the word for delta_e00, "match" (up to 1), "close" (2), "visible" (3) or "different";
        rests_on; with ``pot`` also "add … (g)" and total_g. Of equal colours the one with fewest additions
        comes first.
        ``attrs["remarks"]`` is a list of sentences to show beside it.

    Raises
    ------
    LabError
        For a colour, pigment, market, pot or number that cannot be; where the market allows none of the
        pigments, or not what is in the pot; where the pot holds too much pigment.

    >>> bare = find_shade([52, 21, 13], ["red iron oxide"], 10, backing=[52, 21, 13])
    >>> float(bare["red iron oxide"].iloc[0]), bare["says"].iloc[0]
    (0.0, 'match')
    """
    asked = read_asked(lab, among, max_load, film_um, backing, market, pot, pigments, medium)
    seed = read_whole(seed, "The seed", 0)
    found = answer(asked, read_whole(n, "The number of blends", 1), seed)
    found.attrs["remarks"] = [*asked.allowed.remarks, *_remarks(found, asked, seed)]
    return found


def answer(asked: Asked, n: int, seed: int) -> pd.DataFrame:
    """Return the table of `find_shade` for a question that was read, without remarks."""
    reach, pot = _reach(asked)
    films = prepare(asked.pigments, asked.film_um, asked.backing, asked.medium)

    def colour(x: np.ndarray) -> np.ndarray:
        return films.lab(volume_fractions(reach.loads(x), asked.pigments.density_g_ml, asked.medium))

    x, apart = nearest(reach, colour, asked.wish, seed)
    x = x[_first_that_differ(x, apart, n)]
    table = recipe_table(reach.loads(x), colour(x), asked)
    if pot is None or asked.pot is None:
        return table
    return table.assign(**_grams(x, reach, pot, asked.pot))


def _reach(asked: Asked) -> tuple[Reach, Pot | None]:
    """Return what can be mixed, and the pot that it begins with."""
    names, added, limits = asked.pigments.names, asked.allowed.names, asked.allowed.limits
    if asked.pot is None:
        return reach_of(names, added, asked.max_load, limits), None
    pot = thinned(asked.pot, added, asked.max_load, limits)
    return reach_into(pot, names, added, asked.max_load, limits), pot


def _first_that_differ(x: np.ndarray, apart: np.ndarray, n: int) -> list[int]:
    """Return the rows of the n nearest recipes that differ, nearest first."""
    order = np.lexsort((x.sum(1), (x > 0).sum(1), apart.round(6)))
    rows: list[int] = []
    while order.size and len(rows) < n:
        first = x[order[0]]
        rows.append(int(order[0]))
        same = ((x[order] > 0) == (first > 0)).all(1)
        alike = np.abs(x[order] - first).max(1) <= max(_ALIKE, _ALIKE_SHARE * first.sum())
        order = order[~(same & alike)]
    return rows


def _grams(x: np.ndarray, reach: Reach, pot: Pot, before: Pot) -> dict[str, np.ndarray]:
    """Return the grams to add, and of everything then; base that the pot needs first is counted."""
    total = pot.total / (1 - x.sum(1) / 100)
    grams = {f"add {name} (g)": x[:, at] * total / 100 for at, name in enumerate(reach.added)}
    if BASE in reach.added:
        grams[f"add {BASE} (g)"] += pot.base - before.base
    return {**grams, "total_g": total}


def _remarks(found: pd.DataFrame, asked: Asked, seed: int) -> list[str]:
    best, remarks = found.iloc[0], list[str]()
    if best["delta_e00_high"] > BANDS["visible"]:
        remarks.append(
            f"Once poured, the first blend lies ΔE00 {best['delta_e00_low']:.1f} to "
            f"{best['delta_e00_high']:.1f} from the wanted colour (9 times in 10): the forecast rests on "
            f"{best['rests_on']}. Pour a little and log a swatch."
        )
    if asked.pot is not None and BASE not in asked.allowed.names and best["delta_e00"] > BANDS["match"]:
        remarks += _if_base_helps(best["delta_e00"], asked, seed)
    return remarks


def _if_base_helps(now: float, asked: Asked, seed: int) -> list[str]:
    more = replace(asked.allowed, names=(*asked.allowed.names, BASE))
    best = answer(replace(asked, allowed=more), 1, seed).iloc[0]
    if best["delta_e00"] > now - _HELPS:
        return []
    return [
        f"With {best[f'add {BASE} (g)']:.3g} g of base added too, it would come to ΔE00 "
        f"{best['delta_e00']:.1f}: put “{BASE}” among what may be added."
    ]
