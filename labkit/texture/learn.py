"""From what a trial's book holds to a fitted model: words, readings, comparisons, days, testers, load."""

import pickle
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import pandas as pd

from labkit.materials.name_words import is_pigment
from labkit.texture.hardness import HardnessModel
from labkit.texture.old_trials import Old, knowledge
from labkit.texture.penetration import one_instrument
from labkit.texture.record import HELD, Note
from labkit.texture.standing import Standing
from labkit.texture.wording import FAIR_AFTER_H

SET_FROM = 0.75
"""Sticks of at least this share of the hours to judging are compared as set (a judgement, no source)."""
ALIKE_AGE = 1.25
"""Younger ones are compared where their ages differ by no more than this factor (the same)."""

KEPT = 6
"""So many fitted models are kept for the next time they are asked for."""
_KEPT: dict[bytes, HardnessModel] = {}

Comparison = tuple[str, str, str, float]


@dataclass(frozen=True)
class Compared:
    """Comparisons that count (cast, relation, with what, hours), and why others do not."""

    counting: list[Comparison]
    left_out: list[str]


def learn(
    trial: Standing,
    olds: Sequence[Old] = (),
    readings: pd.DataFrame | None = None,
    before: datetime | None = None,
) -> HardnessModel | None:
    """Return the model of a trial, fitted to its `readings` or to some of them; None where nothing counts.

    ``olds`` are the earlier trials that may count; ``before`` leaves out what was noted in them from
    then on.
    """
    rows = trial.readings() if readings is None else readings
    compared = comparisons(trial, rows).counting
    named = {each for cast, _, than, _ in compared for each in (cast, than)}
    rows = rows[(rows["word"] != "") | rows["reading"].notna() | rows["cast"].isin(named)]
    rows = pd.concat([rows, _only_compared(trial, rows, compared)], ignore_index=True)
    if rows.empty:
        return None
    casts = {cast.entry: cast.pour for cast in trial.casts}
    read = rows[rows["reading"].notna()]
    instruments = [Note.of(trial.book.get(version).payload).instrument for version in read["version"]]
    return _fitted(
        list(trial.question.ladder),
        rows[list(trial.question.parts)].astype(float),
        _or_none(rows["word"]),
        rows["hours"].astype(float).to_numpy(),
        rows["cast"].to_list(),
        penetration=rows["reading"].astype(float).to_numpy() if len(read) else None,
        day=[f"{casts[entry].poured_at.astimezone():%Y-%m-%d}" for entry in rows["cast"]],
        tester=_or_none(rows["tester"]) if (rows["tester"] != "").any() else None,
        comparisons=compared or None,
        earlier=knowledge(olds, trial.question.parts, before) or None,
        instrument=one_instrument(instruments) if instruments else None,
        load=[load_of(trial, casts[entry].weighed_g) for entry in rows["cast"]],
    )


def _fitted(ladder: list[str], *noted: Any, **more: Any) -> HardnessModel:
    """Return the model of what was noted; a save that changes none of it need not fit again."""
    earlier = [vars(each) for each in more["earlier"] or ()]
    key = pickle.dumps((ladder, noted, {**more, "earlier": earlier}))
    if key not in _KEPT:
        if len(_KEPT) >= KEPT:
            _KEPT.pop(next(iter(_KEPT)))
        _KEPT[key] = HardnessModel(ladder).fit(*noted, **more)
    return _KEPT[key]


def _or_none(column: "pd.Series[Any]") -> list[str | None]:
    return [each or None for each in column]


def load_of(trial: Standing, weighed_g: dict[str, float]) -> float:
    """Return the mass fraction of the finished product that is pigment, by the names of what is held."""
    pigment = [each.name for each in trial.question.usual if each.part == HELD and is_pigment(each.name)]
    return sum(weighed_g.get(name, 0.0) for name in pigment) / sum(weighed_g.values())


def comparisons(trial: Standing, rows: pd.DataFrame) -> Compared:
    """Return the comparisons among readings that count, and why others do not, in the maker's words.

    Two pours of different ages count once both are as good as set, or while they are of
    about one age: else the set curve, and not the base, would be compared. One that closes
    a ring with those before it does not count, nor one with a pour that was taken back.
    """
    harder: dict[float, set[tuple[str, str]]] = {}
    found = Compared([], [])
    for _, row in rows[rows["relation"] != ""].sort_values("felt").iterrows():
        said = f"Pour {row['pour']} {_link(row['relation'])} {row['than']} does not count"
        hours, why = _age(trial, row)
        cast, than = str(row["cast"]), str(row["than_entry"])
        edge = {"harder": (cast, than), "softer": (than, cast)}.get(row["relation"])
        known = harder.setdefault(hours, set())
        if not why and edge and _reaches(known, edge[1], edge[0]):
            why = "it goes round in a ring with others; take one of them back"
        if why:
            found.left_out.append(f"{said}: {why}.")
            continue
        known |= {edge} if edge else set()
        found.counting.append((cast, str(row["relation"]), than, hours))
    return found


def _link(relation: str) -> str:
    return "as hard as" if relation == "same" else f"{relation} than"


def _age(trial: Standing, row: "pd.Series[Any]") -> tuple[float, str]:
    """Return the hours of both sticks since their pour, and why they cannot be compared; else nothing."""
    casts = {cast.entry: cast.pour for cast in trial.casts}
    hours, than = float(row["hours"]), str(row["than_entry"])
    if than == row["cast"]:
        return hours, "it is the same pour"
    if than not in casts:
        return hours, "that pour was taken back" if trial.book.has(than) else ""
    other = (row["felt"] - casts[than].poured_at).total_seconds() / 3600
    if other < 0:
        return hours, "that pour was not poured yet"
    if min(hours, other) >= SET_FROM * FAIR_AFTER_H:
        return np.inf, ""
    if max(hours, other) <= ALIKE_AGE * min(hours, other):
        return hours, ""
    return hours, "one of them was still setting, and the other was older"


def _reaches(edges: set[tuple[str, str]], start: str, goal: str) -> bool:
    """Return whether edges lead from one cast to another."""
    seen, waiting = {start}, [start]
    while waiting:
        here = waiting.pop()
        if here == goal:
            return True
        onward = {to for at, to in edges if at == here} - seen
        seen |= onward
        waiting += onward
    return False


def _only_compared(trial: Standing, rows: pd.DataFrame, compared: list[Comparison]) -> pd.DataFrame:
    """Return rows without word or reading for pours that others were compared with."""
    casts = {cast.entry: cast.pour for cast in trial.casts}
    felt_by = dict(zip(rows["cast"], rows["tester"], strict=True))
    seen, extra = set(rows["cast"]), []
    for cast, _, than, hours in compared:
        if than in casts and than not in seen:
            seen.add(than)
            shares = trial.weighing.shares(casts[than].weighed_g)
            alone = {"cast": than, "hours": hours, "word": "", "reading": np.nan, "tester": felt_by[cast]}
            extra.append({**alone, **shares})
    return pd.DataFrame(extra, columns=rows.columns) if extra else rows.iloc[:0]
