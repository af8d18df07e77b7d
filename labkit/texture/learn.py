"""From what a trial's book holds to a fitted model: words, readings, comparisons, days, testers, load."""

from typing import Any

import numpy as np
import pandas as pd

from labkit.texture.hardness import HardnessModel
from labkit.texture.names import is_pigment
from labkit.texture.old_trials import knowledge
from labkit.texture.record import HELD, Note
from labkit.texture.standing import Standing
from labkit.texture.wording import FAIR_AFTER_H

SET_FROM = 0.75
"""Sticks of at least this share of the hours to judging are compared as set (a judgement, no source)."""
ALIKE_AGE = 1.25
"""Younger ones are compared where their ages differ by no more than this factor (the same)."""


def learn(trial: Standing, readings: pd.DataFrame | None = None) -> HardnessModel:
    """Return the model of a trial, fitted to its `readings` or to some of them.

    Raises
    ------
    LabError
        Where there are none, or comparisons go round in a ring.
    """
    rows = trial.readings() if readings is None else readings
    parts = list(trial.question.parts)
    compared = comparisons(trial, rows)
    rows = pd.concat([rows, _only_compared(trial, rows, compared)], ignore_index=True)
    casts = {cast.entry: cast.pour for cast in trial.casts}
    read = rows[rows["reading"].notna()]
    instrument = Note.of(trial.book.get(read["version"].iloc[0]).payload).instrument if len(read) else None
    return HardnessModel(list(trial.question.ladder)).fit(
        rows[parts].astype(float),
        _or_none(rows["word"]),
        rows["hours"].astype(float).to_numpy(),
        rows["cast"].to_list(),
        penetration=rows["reading"].astype(float).to_numpy() if len(read) else None,
        day=[f"{casts[entry].poured_at.astimezone():%Y-%m-%d}" for entry in rows["cast"]],
        tester=_or_none(rows["tester"]) if (rows["tester"] != "").any() else None,
        comparisons=compared or None,
        earlier=knowledge(trial) or None,
        instrument=instrument,
        load=[load_of(trial, casts[entry].weighed_g) for entry in rows["cast"]],
    )


def _or_none(column: "pd.Series[Any]") -> list[str | None]:
    return [each or None for each in column]


def load_of(trial: Standing, weighed_g: dict[str, float]) -> float:
    """Return the mass fraction of the finished product that is pigment, by the names of what is held."""
    pigment = [each.name for each in trial.question.usual if each.part == HELD and is_pigment(each.name)]
    return sum(weighed_g.get(name, 0.0) for name in pigment) / sum(weighed_g.values())


def comparisons(trial: Standing, rows: pd.DataFrame) -> list[tuple[str, str, str, float]]:
    """Return the comparisons among readings: cast, relation, with what, hours of both since their pour.

    Two pours of different ages count once both are as good as set, or while they are of
    about one age: else the set curve, and not the base, would be compared.
    """
    casts = {cast.entry: cast.pour for cast in trial.casts}
    found = []
    for _, row in rows[rows["relation"] != ""].iterrows():
        hours, than = float(row["hours"]), str(row["than_entry"])
        if than in casts:
            other = (row["felt"] - casts[than].poured_at).total_seconds() / 3600
            if min(hours, other) >= SET_FROM * FAIR_AFTER_H:
                hours = np.inf
            elif min(hours, other) <= 0 or max(hours, other) > ALIKE_AGE * min(hours, other):
                continue
        found.append((str(row["cast"]), str(row["relation"]), than, hours))
    return found


def _only_compared(
    trial: Standing, rows: pd.DataFrame, compared: list[tuple[str, str, str, float]]
) -> pd.DataFrame:
    """Return rows without word or reading for pours that others were compared with."""
    casts = {cast.entry: cast.pour for cast in trial.casts}
    seen, extra = set(rows["cast"]), []
    for _, _, than, hours in compared:
        if than in casts and than not in seen:
            seen.add(than)
            extra.append(
                {
                    "cast": than,
                    "hours": hours,
                    "word": "",
                    "reading": np.nan,
                    "tester": "",
                    **trial.weighing.shares(casts[than].weighed_g),
                }
            )
    return pd.DataFrame(extra, columns=rows.columns) if extra else rows.iloc[:0]
