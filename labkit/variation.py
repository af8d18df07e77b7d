"""How outcomes vary: repeats, the step from one group to the next, and what difference is real.

A group is whatever the readings were taken in: a day, a tester, a lot.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError, did_you_mean
from labkit.few_groups import Groups, Limits, between_limits, chi_limits, combined_limits
from labkit.quantities import read_number

Floats = NDArray[np.float64]

REAL_AT_95 = float(1.959963985 * np.sqrt(2.0))  # ISO 5725-6 rounds it to 2.8
MOST_GROUPS = 2000
LARGEST = 1e100


@dataclass(frozen=True)
class RealDifference:
    """The difference between two pours that is real at 95 %: by the estimates, and by the 90 % limits."""

    limit: float
    low: float
    high: float


@dataclass(frozen=True)
class Spread:
    """How readings vary within and between groups, in the unit of the readings.

    Attributes
    ----------
    repeatability_sd, between_sd, reproducibility_sd : float
        s_r, s_b and √(s_r² + s_b²) as ISO 5725-2 estimates them; s_b may be 0, which says
        only that it is small beside the repeats: read its interval. nan where the readings
        cannot tell.
    intervals : dict of (low, high)
        90 % limits by those three names; an upper limit of inf says "not known yet".
    mean : float
    groups, rows : int
    """

    repeatability_sd: float
    between_sd: float
    reproducibility_sd: float
    intervals: dict[str, Limits]
    mean: float
    groups: int
    rows: int
    sums: Groups = field(repr=False, compare=False)

    @property
    def groups_differ(self) -> bool:
        """Whether the lower limit of the between-group spread lies above 0 (an F test at 10 %)."""
        return self.intervals["between_sd"][0] > 0.0

    def groups_for(self, factor: float = 3.0) -> int:
        """Return how many groups would pin σ_b down to a factor, at these repeats a group.

        A σ_b under half of σ_r adds less than 12 % to the reproducibility, so half is what
        is looked for where less than that, or nothing, was found.
        """
        ratio = self.between_sd / self.repeatability_sd if self.repeatability_sd > 0.0 else np.nan
        return groups_for(max(0.5, np.nan_to_num(ratio)), max(2, round(self.sums.usual_size)), factor)


def spread(frame: pd.DataFrame, value: str, group: str | Sequence[str]) -> Spread:
    """Estimate repeatability, between-group spread and reproducibility, with 90 % intervals.

    One-way analysis of variance, ISO 5725-2, with groups of any size. The intervals are
    made for few groups: repeatability by χ², the sum by a generalised interval, between
    groups the same with tails by likelihood ratio, so that it is never [0, 0].
    `labkit.few_groups` gives the sources.

    Parameters
    ----------
    frame : DataFrame
        One row a reading.
    value, group : str
        The columns with the reading and with what it was taken in (day, tester, lot).

    Raises
    ------
    LabError
        For a column that is not there, a reading that is missing or no number, or fewer
        than two readings.

    Examples
    --------
    Coal, sulfur [%], three of eight laboratories (ISO 5725-2, worked example):

    >>> coal = pd.DataFrame({
    ...     "lab": [1, 1, 1, 1, 2, 2, 2, 3, 3, 3],
    ...     "sulfur": [0.71, 0.71, 0.70, 0.71, 0.69, 0.67, 0.68, 0.66, 0.65, 0.69]})
    >>> found = spread(coal, "sulfur", "lab")
    >>> round(found.repeatability_sd, 4), round(found.between_sd, 4)
    (0.0128, 0.0204)
    >>> [round(limit, 3) for limit in found.intervals["between_sd"]]
    [0.01, 0.077]
    """
    sums = read_groups(frame, value, group)
    repeat, between = sums.repeat_variance, sums.between_variance
    total = repeat + between if sums.spare else sums.mean_square
    limits = {
        "repeatability_sd": chi_limits(sums.within, sums.spare),
        "between_sd": combined_limits(sums, 0.0),
        "reproducibility_sd": combined_limits(sums, 1.0),
    }
    if not sums.spare:
        limits["repeatability_sd"] = limits["between_sd"]
    s_r, s_b, s_R = np.sqrt([repeat, between, total]).tolist()
    return Spread(s_r, s_b, s_R, limits, sums.mean, sums.groups, sums.rows, sums)


def real_difference(spread: Spread, repeats: int = 1, same_group: bool = True) -> RealDifference:
    """Return the smallest difference between two pours, each the mean of `repeats`, that is real at 95 %.

    1.96·√2·s, with s² = s_r²/n within a group (n = 1: the repeatability limit r = 2.8 s_r)
    and s² = s_b² + s_r²/n across groups (n = 1: the reproducibility limit R = 2.8 s_R).
    ISO 5725-6:1994, 4.1 and 4.2 (from memory). `low` and `high` are the same for the 90 %
    limits of s: a difference above `high` can be trusted even though the groups are few.

    Examples
    --------
    >>> readings = pd.DataFrame({"day": [1, 1, 2, 2, 3, 3], "rung": [2.0, 2.2, 2.9, 3.1, 2.4, 2.6]})
    >>> found = real_difference(spread(readings, "rung", "day"))
    >>> round(found.limit, 2), round(found.low, 2), round(found.high, 2)
    (0.39, 0.24, 1.14)
    """
    if repeats < 1:
        raise LabError(f"A pour is read at least once; here are {repeats} readings.")
    if same_group:
        deviation = spread.repeatability_sd / np.sqrt(repeats)
        low, high = (limit / np.sqrt(repeats) for limit in spread.intervals["repeatability_sd"])
    elif repeats == 1:
        deviation = spread.reproducibility_sd
        low, high = spread.intervals["reproducibility_sd"]
    else:
        deviation = float(np.hypot(spread.between_sd, spread.repeatability_sd / np.sqrt(repeats)))
        low, high = combined_limits(spread.sums, 1.0 / repeats)
    return RealDifference(*(REAL_AT_95 * np.array([deviation, low, high])).tolist())


def groups_for(ratio: float, repeats: int = 2, factor: float = 3.0) -> int:
    """Return how many groups it takes to know σ_b: upper limit at most `factor` times the lower.

    Judged at the mean squares to be expected; a single trial may come out on either side.

    Parameters
    ----------
    ratio : float
        σ_b/σ_r that is to be known.
    repeats : int
        Readings a group, at least 2.
    factor : float
        Above 1.

    Raises
    ------
    LabError
        Where more than 2,000 groups would be needed.

    Examples
    --------
    >>> groups_for(1.0), groups_for(2.0), groups_for(1.0, repeats=4)
    (17, 9, 10)
    """
    if not ratio > 0.0 or repeats < 2 or not factor > 1.0:
        raise LabError("This takes a ratio above 0, two or more repeats, and a factor above 1.")

    def told(count: int) -> bool:
        low, high = between_limits(_expected(count, repeats, ratio))
        return high <= factor * low

    enough = 4
    while not told(enough):
        if enough >= MOST_GROUPS:
            raise LabError(
                f"A spread of {ratio:g} times the repeats would take more than {MOST_GROUPS} groups "
                "to know. Take more repeats in each group, or ask for less."
            )
        enough = min(2 * enough, MOST_GROUPS)
    least = 2
    while least < enough:
        middle = (least + enough) // 2
        least, enough = (least, middle) if told(middle) else (middle + 1, enough)
    return enough


def _expected(count: int, repeats: int, ratio: float) -> Groups:
    """Return the sums of squares to be expected, in units of σ_r."""
    one: Floats = np.ones(1)
    scatter = (count - 1) * (ratio**2 + 1.0 / repeats)
    return Groups(float(repeats) * one, float(count) * one, 0.0 * one, scatter * one, count * (repeats - 1.0))


def read_groups(frame: pd.DataFrame, value: str, group: str | Sequence[str]) -> Groups:
    """Read the readings and their groups; see `spread` for what is refused."""
    if not isinstance(frame, pd.DataFrame):
        raise LabError(f"Give a table (DataFrame) with a row a reading; this is a {type(frame).__name__}.")
    name = _one_name(group)
    for column in (value, name):
        if column not in frame.columns:
            raise LabError(f"There is no column “{column}”. {did_you_mean(column, map(str, frame))}")
    if value == name:
        raise LabError(f"“{value}” cannot be both the reading and what it is grouped by.")
    readings = _numbers(frame[value], value)
    if len(readings) < 2:
        raise LabError(f"{len(readings)} reading of {value}: how it varies needs two or more.")
    labels = frame[name].reset_index(drop=True)
    if not labels.map(lambda label: isinstance(label, Hashable)).all():
        raise LabError(f"In “{name}” each row needs one label, such as a day or a name; a list is none.")
    if labels.isna().any():
        row = int(np.flatnonzero(labels.isna())[0])
        raise LabError(f"Row {row + 1} has no {name}. Fill it in, or leave the row out.")
    return _sum_up(readings, labels)


def _sum_up(readings: Floats, labels: "pd.Series[Any]") -> Groups:
    of = labels.factorize()[0]
    sizes = np.bincount(of)
    means = np.bincount(of, readings) / sizes
    off = readings - means[of]
    rounding = 1e-13 * np.abs(readings).max()
    off[np.abs(off) <= rounding] = 0.0
    size, kind = np.unique(sizes, return_inverse=True)
    count = np.bincount(kind).astype(float)
    centre = np.bincount(kind, means) / count
    centre = np.where(np.abs(centre - centre[0]) <= rounding, centre[0], centre)
    gap = means - centre[kind]
    gap[np.abs(gap) <= rounding] = 0.0
    scatter = np.bincount(kind, gap**2).astype(float)
    return Groups(size.astype(float), count, centre, scatter, float(off @ off))


def _one_name(group: str | Sequence[str]) -> str:
    if isinstance(group, str):
        return group
    if len(group) == 1:
        return group[0]
    raise LabError(
        f"{len(group)} groupings were given, and this takes one at a time, such as “day”. "
        "For days with several pours each, average each pour first."
    )


def _numbers(column: "pd.Series[Any]", what: str) -> Floats:
    """Return the readings as floats; text is read as it is elsewhere, with a point or a comma."""
    if pd.api.types.is_numeric_dtype(column) and not pd.api.types.is_bool_dtype(column):
        found = column.to_numpy(float, na_value=np.nan)
    else:
        found = np.array([_number(cell, f"{what}, row {row + 1}") for row, cell in enumerate(column)])
    bad = np.flatnonzero(~np.isfinite(found))
    if len(bad):
        raise LabError(f"Row {bad[0] + 1} has no {what}. Fill it in, or leave the row out.")
    if (np.abs(found) > LARGEST).any():
        raise LabError(f"{what}: {np.abs(found).max():g} is too large to be a reading.")
    return found


def _number(cell: object, what: str) -> float:
    if isinstance(cell, str):
        return read_number(cell, what)
    if cell is None or cell is pd.NA:
        return np.nan
    if isinstance(cell, bool) or not isinstance(cell, int | float | np.number):
        raise LabError(f"{what}: “{cell}” is no number. Write a number such as 2.5.")
    return float(cell)
