"""The sources of variation, one by one: what each adds, what hinders telling it, and how to mend that."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.few_groups import MISS, NOT_KNOWN, Limits, chi_limits, combined_limits
from labkit.texture.outcome_rows import Casts, Rows
from labkit.texture.source import (
    FELT_TWICE,
    MOST_NEEDED,
    SMALL_TIMES,
    SMALL_WORDS,
    TOLD_WITHIN,
    Source,
    pinned,
    size_words,
)
from labkit.texture.strata import Strata, above, members, span, split, without
from labkit.variation import groups_for

Floats = NDArray[np.float64]

ROUNDING = 1.0 / 12.0
"""Variance that a whole rung hides: of a uniform distribution one rung wide (Sheppard)."""
_SHORTEST = 1e-9

_BY_MAP = (
    "By the misses of the map alone: no recipe was felt on two pours.",
    "Pour your usual again.",
)
_NO_REPEATS = ("No recipe was felt on two pours.", "Pour your usual again.")


def at_least(strata: Strata, rounding: float) -> Strata:
    """Return the sums with no less within them than whole rungs hide."""
    return replace(strata, within=max(strata.within, strata.within_df * rounding))


def no_less(strata: Strata, rounding: float) -> Strata:
    """Return the sums with no less between groups than whole rungs hide: what agrees may yet differ."""
    short = strata.between_df * rounding - float(strata.scatter.sum())
    if short <= 0.0 or not len(strata.size):
        return strata
    return replace(strata, scatter=strata.scatter + short / len(strata.size))


def from_notes(rows: Rows, felt: Strata, repeats: Strata) -> Source:
    """Return how words for one pour by one tester scatter."""
    again = rows.casts.notes[rows.casts.notes > 1]
    low = chi_limits(felt.within, felt.within_df)[0]
    high = chi_limits(repeats.within, repeats.within_df)[1]
    sd = float(np.sqrt(felt.repeat_variance))
    hindrance = ("", "") if felt.within_df else ("No pour was felt twice.", "Feel two pieces of one pour.")
    return Source("notes", sd, low, high, len(again), int(again.sum()), None, FELT_TWICE, hindrance)


def from_pours(rows: Rows, pours: Strata, size: float) -> Source:
    """Return how pours of one recipe on one day differ."""
    casts = rows.compared
    hindrance = ("", "")
    if not len(casts):
        hindrance = _NO_REPEATS
    elif rows.by_map:
        hindrance = _BY_MAP
    elif not pours.between_df:
        hindrance = (
            "Each recipe was poured once a day, so pours and days cannot be told apart.",
            "Pour your usual twice on one day.",
        )
        all_days = split(casts.value, rows.fixed(casts, casts.made), [0] * len(casts))
        pours = above(pours, size, all_days.within, all_days.within_df)
        return replace(_source("pours", pours, rows, casts, hindrance), sd=np.nan, low=0.0)
    return _source("pours", pours, rows, casts, hindrance)


def from_days(rows: Rows, days: Strata) -> Source:
    """Return what the day adds."""
    casts, hindrance = rows.compared, ("", "")
    if not len(casts):
        hindrance = (_NO_REPEATS[0], "Pour your usual again on another day.")
    elif rows.by_map:
        hindrance = _BY_MAP
    elif not days.between_df:
        hindrance = ("No recipe was poured on two days.", "Pour your usual again on another day.")
    elif not days.within_df:
        hindrance = (
            "Each recipe was poured once a day, so days and pours cannot be told apart.",
            "Pour your usual twice on one day.",
        )
    found = _source("days", days, rows, casts, hindrance)
    return replace(found, groups=len(set(casts.day)))


def from_testers(rows: Rows, repeats: Strata) -> Source:
    """Return what sets testers apart who felt the same pours."""
    by_cast = rows.notes.groupby("cast")["tester"].nunique()
    shared = rows.notes[rows.notes["cast"].isin(by_cast[by_cast > 1].index)]
    hindrance = ("", "")
    if not repeats.between_df:
        hindrance = ("No pour was felt by two testers.", "Let all feel the same pours.")
    found = _source("testers", repeats, rows, rows.casts, hindrance)
    return replace(
        found, groups=int(shared["tester"].nunique()), rows=len(shared), remark=_harder(rows, shared)
    )


def _harder(rows: Rows, shared: pd.DataFrame) -> str:
    """Return which of two testers finds the same pours harder, where that is sure."""
    names = sorted(shared["tester"].unique())
    if len(names) != 2:
        return ""
    value, cast = shared["value"].to_numpy(), members(shared["cast"])
    step, low, _ = contrast(value, cast, (shared["tester"] == names[1]).to_numpy(), rows.rounding)
    if not low > 0.0:
        return ""
    first, second = names if step < 0.0 else names[::-1]
    shown = [name or "a tester without a name" for name in (first, second)]
    about = size_words(abs(step), 99 if rows.rounding else None)
    return (
        f"{shown[0][:1].upper()}{shown[0][1:]} finds the same pours harder than {shown[1]}, by about {about}."
    )


def from_lots(rows: Rows) -> Source:
    """Return what lots add, within days."""
    known = rows.casts.take(rows.casts.lots != "")
    casts = known if rows.by_map else known.repeated(known.made)
    fixed = np.hstack([rows.fixed(casts, casts.made), members(casts.day)])
    lots = at_least(split(casts.value, fixed, casts.lots), rows.rounding / rows.usual_notes(casts))
    hindrance = ("", "")
    if not lots.between_df:
        hindrance = (
            "Lots changed only together with days or recipes.",
            "Pour your usual from two lots on one day.",
        )
    elif rows.by_map:
        hindrance = _BY_MAP
    return replace(_source("lots", lots, rows, casts, hindrance), groups=len(set(known.lots)))


def _source(name: str, strata: Strata, rows: Rows, casts: Casts, hindrance: tuple[str, str]) -> Source:
    low, high = _limits(strata, rows.rounding)
    if hindrance == _BY_MAP:
        low, high = NOT_KNOWN
    sd = float(np.sqrt(strata.between_variance))
    small = SMALL_WORDS if rows.rounding else SMALL_TIMES
    more = 0 if hindrance[0] or _tells(low, high, small) else needed(strata, small, rows.rounding)
    return Source(name, sd, low, high, len(casts), int(casts.notes.sum()), None, more, hindrance)


def _limits(strata: Strata, rounding: float) -> Limits:
    low, high = combined_limits(strata, 0.0)
    most = no_less(strata, rounding)
    return low, high if most is strata else combined_limits(most, 0.0)[1]


def _tells(low: float, high: float, small: float) -> bool:
    return high <= small or pinned(low, high)


def needed(strata: Strata, small: float, rounding: float = 0.0) -> int:
    """Return how many groups would tell: at the sums to be expected of as large a spread as was found.

    Told is either surely below `small` or pinned (`labkit.texture.source`). Where nothing can be
    said of its size yet, it is taken to be as large as the rest. One more than MOST_NEEDED
    stands for all above.
    """
    repeat = strata.repeat_variance
    if not strata.between_df or not repeat > 0.0:
        return groups_for(1.0, 2, TOLD_WITHIN)
    between, size = strata.between_variance, float(max(2, round(strata.usual_size)))

    def told(count: int) -> bool:
        one, scatter = np.ones(1), (count - 1) * (between + repeat / size)
        spare = round(count * (size - 1.0))
        sums = Strata(size * one, one, 0.0 * one, scatter * one, spare * repeat, count - 1, spare)
        return _tells(*_limits(sums, rounding), small)

    least, enough = 2, MOST_NEEDED + 1
    while least < enough - 1:
        middle = (least + enough) // 2
        least, enough = (least, middle) if told(middle) else (middle, enough)
    return enough


def from_way(rows: Rows, name: str) -> Source | None:
    """Return the difference between two ways of making one composition on one day; None for one way only."""
    known = rows.casts.take(rows.casts.set_where != "") if name == "setting" else rows.casts
    if len(set(_second_way(known, name))) < 2:
        return None
    casts = known if rows.by_map else known.repeated(_made_otherwise(known, name))
    fixed = np.hstack([rows.fixed(casts, _made_otherwise(casts, name)), members(casts.day)])
    least = rows.rounding / rows.usual_notes(casts)
    step, low, high = contrast(casts.value, fixed, _second_way(casts, name), least)
    hindrance, remark = ("", ""), ""
    if np.isnan(step):
        hindrance = (
            "They changed only together with days or recipes.", "Pour your usual both ways on one day.",
        )  # fmt: skip
    elif rows.by_map:
        low, high, hindrance = *NOT_KNOWN, _BY_MAP
    elif low > 0.0:
        way = "set in the cold" if name == "setting" else "melted again"
        remark = f"Those {way} came out {'harder' if step > 0.0 else 'softer'}."
    return Source(name, abs(step), low, high, len(casts), int(casts.notes.sum()), None, 0, hindrance, remark)


def _second_way(casts: Casts, name: str) -> NDArray[np.bool_]:
    return casts.set_where == "in the cold" if name == "setting" else casts.melted


def _made_otherwise(casts: Casts, name: str) -> list[tuple[Any, ...]]:
    """Return recipe and way of making of each pour, but for the way that is asked about."""
    others = casts.melted if name == "setting" else casts.set_where
    return list(zip(casts.recipe, others, strict=True))


def contrast(
    value: Floats, fixed: Floats, second: NDArray[np.bool_], least: float = 0.0
) -> tuple[float, float, float]:
    """Return the step from the first way to the second, and 90 % limits of its size, by Student's t.

    Parameters
    ----------
    value : ndarray, shape (n,)
    fixed : ndarray, shape (n, columns)
        Taken away beforehand, by least squares.
    second : ndarray of bool, shape (n,)
    least : float
        The residual variance is taken for no less.

    Returns
    -------
    step, low, high
        nan, 0 and inf where the two ways changed only together with what is taken away.
    """
    from scipy.special import stdtrit

    basis = span(fixed)[0]
    ways = without(second.astype(float), basis)
    length, df = float(ways @ ways), len(value) - basis.shape[1] - 1
    if length < _SHORTEST:
        return np.nan, *NOT_KNOWN
    step = float(ways @ value) / length
    if df < 1:
        return step, *NOT_KNOWN
    rest = without(value, basis) - step * ways
    reach = float(stdtrit(df, 1.0 - MISS / 2) * np.sqrt(max(float(rest @ rest) / df, least) / length))
    return step, max(0.0, abs(step) - reach), abs(step) + reach
