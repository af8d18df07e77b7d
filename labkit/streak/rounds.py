"""The table of a streak test: a row for each round and pigment, read and refused in plain words."""

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError, did_you_mean

WORDS = ("none seen", "few", "some", "many", "everywhere")
"""Grades 0 to 4."""
MOST = len(WORDS) - 1
NEEDED = ("round", "pigment", "grade")
OPTIONAL = ("minutes", "trial", "method")
MOST_ROUNDS = 500


@dataclass(frozen=True, eq=False)
class Course:
    """The grades of one pigment in one trial.

    Attributes
    ----------
    pigment, trial, method : str
    rounds : int ndarray, shape (n,)
        Rounds after the pigment's first, so the first is 0; ascending.
    grades : int ndarray, shape (n,)
    last : int
        The trial's last round, counted alike; later than ``rounds`` where the last looks told nothing.
    """

    pigment: str
    trial: str
    method: str
    rounds: NDArray[np.int_]
    grades: NDArray[np.int_]
    last: int


def read_rounds(table: pd.DataFrame, several: bool = False) -> list[Course]:
    """Read a table of rounds as courses, in the order in which they come.

    Parameters
    ----------
    table : DataFrame
        round, pigment, grade (0 to 4; None or NaN for "don't know"), optional minutes, trial, method.
    several : bool
        Whether more than one trial may be in it.

    Raises
    ------
    LabError
        For a column that is not known or not there, a round that goes back, a clock that goes
        back, a grade that is none, a pigment graded twice in a round or named once by mistake.
    """
    _check_columns(table)
    rows = table.reset_index(drop=True)
    rows = rows.assign(
        round=[_round(cell, row) for row, cell in enumerate(rows["round"], 1)],
        grade=[_grade(cell, row) for row, cell in enumerate(rows["grade"], 1)],
        pigment=[_name(cell, row) for row, cell in enumerate(rows["pigment"], 1)],
        trial=_text(rows, "trial"),
        method=_text(rows, "method"),
    )
    if not several and rows["trial"].nunique() > 1:
        raise LabError(
            f"There are {rows['trial'].nunique()} trials in these rounds. Give the one being stirred, "
            "and the others as `earlier`."
        )
    courses = []
    for trial, own in rows.groupby("trial", sort=False):
        _check_trial(own)
        courses += [_course(own, str(trial), each) for each in own["pigment"].unique()]
    return courses


def _check_columns(table: Any) -> None:
    if not isinstance(table, pd.DataFrame):
        raise LabError(
            f"Give a table (DataFrame) with a row for each round and pigment, not a {type(table).__name__}."
        )
    for name in NEEDED:
        if name not in table.columns:
            raise LabError(f"There is no column “{name}”. {did_you_mean(name, map(str, table.columns))}")
    for column in table.columns:
        if column not in NEEDED + OPTIONAL:
            raise LabError(
                f"A column “{column}” is not known here. {did_you_mean(str(column), NEEDED + OPTIONAL)}"
            )
    if table.empty:
        raise LabError("There is no round yet. Grade one first.")


def _missing(cell: Any) -> bool:
    return cell is None or cell is pd.NA or (isinstance(cell, float) and np.isnan(cell))


def _whole(cell: Any) -> int | None:
    """Return a whole number, or None where it is none."""
    if isinstance(cell, bool | np.bool_) or not isinstance(cell, int | float | np.number):
        return None
    return int(cell) if np.isfinite(cell) and float(cell).is_integer() else None


def _round(cell: Any, row: int) -> int:
    found = _whole(cell)
    if found is None or not 0 <= found <= MOST_ROUNDS:
        raise LabError(f"Row {row}: “{cell}” is no round. Rounds are counted 1, 2, 3 … up to {MOST_ROUNDS}.")
    return found


def _grade(cell: Any, row: int) -> float:
    if _missing(cell):
        return np.nan
    found = _whole(cell)
    if found is None or not 0 <= found <= MOST:
        said = ", ".join(f"{grade} {word}" for grade, word in enumerate(WORDS))
        raise LabError(
            f"Row {row}: “{cell}” is no grade. Grades are {said}; leave it empty for “don't know”."
        )
    return float(found)


def _name(cell: Any, row: int) -> str:
    if not isinstance(cell, str) or not cell.strip():
        raise LabError(f"Row {row} names no pigment.")
    return cell.strip()


def _text(rows: pd.DataFrame, column: str) -> list[str]:
    if column not in rows:
        return [""] * len(rows)
    return ["" if _missing(cell) else str(cell) for cell in rows[column]]


def _check_trial(rows: pd.DataFrame) -> None:
    for _, own in rows.groupby("pigment", sort=False):
        back = np.flatnonzero(np.diff(own["round"]) < 0)
        if not len(back):
            continue
        before, after = own["round"].iloc[back[0]], own["round"].iloc[back[0] + 1]
        raise LabError(
            f"Row {own.index[back[0] + 1] + 1}: round {after} comes after round {before}: rounds go back."
        )
    twice = rows.duplicated(["round", "pigment"])
    if twice.any():
        row = rows[twice].iloc[0]
        raise LabError(f"“{row['pigment']}” is graded twice in round {row['round']}. Keep one of the two.")
    if "minutes" in rows:
        _check_clock(rows.sort_values("round", kind="stable"))
    _check_once(rows)


def _check_clock(rows: pd.DataFrame) -> None:
    minutes = pd.to_numeric(rows["minutes"], errors="coerce")
    bad = rows["minutes"].notna() & (minutes.isna() | (minutes < 0) | np.isinf(minutes))
    if bad.any():
        raise LabError(
            f"Row {rows.index[bad][0] + 1}: “{rows['minutes'][bad].iloc[0]}” is no time in minutes."
        )
    known = minutes.dropna()
    back = np.flatnonzero(np.diff(known) < 0)
    if len(back):
        raise LabError(
            f"Row {known.index[back[0] + 1] + 1}: the clock goes back, from {known.iloc[back[0]]:g} to "
            f"{known.iloc[back[0] + 1]:g} min."
        )


def _check_once(rows: pd.DataFrame) -> None:
    """Refuse a pigment that is named in one round only, and not in the last: a slip of the pen."""
    last, counts = rows["round"].max(), rows["pigment"].value_counts()
    for name in counts.index[counts == 1]:
        at = rows.loc[rows["pigment"] == name, "round"].iloc[0]
        others = [str(each) for each in counts.index if each != name]
        left_out = set(others) - set(rows.loc[rows["round"] == at, "pigment"])
        slip = any(_alike(str(name), each) for each in left_out)
        if at < last or slip:
            hint = f" {did_you_mean(str(name), others)}" if others else ""
            raise LabError(
                f"“{name}” is named once only, in round {at}.{hint} Grade it in each round "
                "(empty for “don't know”)."
            )


def _alike(one: str, other: str) -> bool:
    from difflib import SequenceMatcher

    return SequenceMatcher(None, one.casefold(), other.casefold()).ratio() > 0.75


def _course(rows: pd.DataFrame, trial: str, pigment: Hashable) -> Course:
    own = rows[rows["pigment"] == pigment]
    first = int(own["round"].iloc[0])
    told = own.dropna(subset=["grade"])
    return Course(
        str(pigment),
        trial,
        str(own["method"].iloc[-1]),
        told["round"].to_numpy(int) - first,
        told["grade"].to_numpy(int),
        int(rows["round"].max()) - first,
    )
