"""How ways of stirring differ: rounds or minutes to a clean streak, with runs stopped before it."""

import warnings
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError, did_you_mean
from labkit.many_tests import holm

Floats = NDArray[np.float64]

FEWEST = 5
"""Runs seen to the end in each of two ways, before one is called faster."""
LEVEL = 0.90
_REAL = 0.05


@dataclass(frozen=True, eq=False)
class CleanRounds:
    """Rounds or minutes to a clean streak.

    Attributes
    ----------
    unit : str
        "rounds" or "minutes".
    curves : DataFrame
        A row for each way of stirring and time at which it changes: method, at, not_clean (the share that
        is not clean yet, Kaplan and Meier), low, high (90 % band of each point; nan where not known).
    medians : DataFrame
        method, runs, clean (how many were seen to the end), median, low, high; inf for "not reached yet".
    tests : DataFrame
        A row for each two ways: method, other, chi2 (log-rank, 1 degree of freedom), p, p_holm (for as many
        comparisons).
    why : tuple of str
        In sentences what may be said.
    """

    unit: str
    curves: pd.DataFrame
    medians: pd.DataFrame
    tests: pd.DataFrame
    why: tuple[str, ...]
    waits: Mapping[str, tuple[Floats, Floats]] = field(repr=False, default_factory=dict)


def clean_rounds(runs: pd.DataFrame, unit: str = "rounds") -> CleanRounds:
    """Compare how many rounds or minutes ways of stirring take to a clean streak.

    Survival curves of Kaplan and Meier (1958, JASA 53, 457) with log-log bands, and log-rank tests
    (Mantel 1966), by scipy; a run that was stopped before it was clean is kept as censored.

    Parameters
    ----------
    runs : DataFrame
        A row a run: rounds (or minutes), clean (True where the last round showed no streak, False
        where it was stopped before), and optionally method.
    unit : str
        The column that counts: "rounds" or "minutes".

    Raises
    ------
    LabError
        For a column that is not there, or a count that is not above 0.

    Examples
    --------
    >>> runs = pd.DataFrame({"rounds": [3, 4, 6, 5], "clean": [True, True, False, True], "method": "sieved"})
    >>> found = clean_rounds(runs)
    >>> found.medians[["runs", "clean", "median"]].iloc[0].tolist()
    [4.0, 3.0, 4.0]
    >>> found.why[-1]
    'With one way of stirring there is nothing to compare.'
    """
    waits = _read(runs, unit)
    curves = {name: _curve(*each) for name, each in waits.items()}
    table = pd.concat([each.assign(method=name) for name, each in curves.items()], ignore_index=True)
    medians = pd.DataFrame(
        [
            (name, len(waits[name][0]), int(waits[name][1].sum()), *_median(each))
            for name, each in curves.items()
        ],
        columns=["method", "runs", "clean", "median", "low", "high"],
    )
    tests = _tests(waits)
    columns = ["method", "at", "not_clean", "low", "high"]
    return CleanRounds(unit, table[columns], medians, tests, _sentences(medians, tests, unit), waits)


def _read(runs: Any, unit: str) -> dict[str, tuple[Floats, Floats]]:
    if unit not in ("rounds", "minutes"):
        raise LabError(f"“{unit}” cannot be counted here. Count rounds or minutes.")
    if not isinstance(runs, pd.DataFrame) or runs.empty:
        raise LabError("Give a table (DataFrame) with a row for each run.")
    for name in (unit, "clean"):
        if name not in runs.columns:
            raise LabError(f"There is no column “{name}”. {did_you_mean(name, map(str, runs.columns))}")
    counts = pd.to_numeric(runs[unit], errors="coerce").to_numpy(float)
    bad = np.flatnonzero(~(np.isfinite(counts) & (counts > 0)))
    if len(bad):
        raise LabError(f"Row {bad[0] + 1}: “{runs[unit].iloc[bad[0]]}” is no count of {unit} above 0.")
    clean = np.array([_yes_or_no(cell, row) for row, cell in enumerate(runs["clean"], 1)], dtype=float)
    ways = _ways(runs)
    return {way: (counts[ways == way], clean[ways == way]) for way in dict.fromkeys(ways.tolist())}


def _ways(runs: pd.DataFrame) -> NDArray[Any]:
    if "method" not in runs:
        return np.array(["all"] * len(runs))
    missing = np.flatnonzero(runs["method"].isna())
    if len(missing):
        raise LabError(f"Row {missing[0] + 1} does not say how it was stirred (method).")
    return runs["method"].astype(str).to_numpy(object)


def _yes_or_no(cell: Any, row: int) -> bool:
    if isinstance(cell, bool | np.bool_) or (isinstance(cell, int | np.integer) and cell in (0, 1)):
        return bool(cell)
    raise LabError(
        f"Row {row}: clean is “{cell}”. Write True where no streak was left, False where it was stopped."
    )


def _censored(counts: Floats, clean: Floats) -> Any:
    from scipy.stats import CensoredData

    return CensoredData.right_censored(counts, clean == 0)


def _curve(counts: Floats, clean: Floats) -> pd.DataFrame:
    from scipy.stats import ecdf

    survival = ecdf(_censored(counts, clean)).sf
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        band = survival.confidence_interval(LEVEL, method="log-log")
    changes = np.append(True, np.diff(np.append(1.0, survival.probabilities)) < 0)
    at = np.append(0.0, survival.quantiles)
    share, low, high = (np.append(1.0, each.probabilities) for each in (survival, band.low, band.high))
    changes[-1] = True
    return pd.DataFrame({"at": at, "not_clean": share, "low": low, "high": high})[changes].reset_index(
        drop=True
    )


def _median(curve: pd.DataFrame) -> tuple[float, float, float]:
    """Return where the curve falls to a half, and where its band does (Brookmeyer and Crowley 1982)."""
    at = curve["at"].to_numpy()

    def first(column: str) -> float:
        under = np.flatnonzero(curve[column].to_numpy() <= 0.5 + 1e-12)
        return float(at[under[0]]) if len(under) else float("inf")

    return first("not_clean"), first("low"), first("high")


def _tests(waits: Mapping[str, tuple[Floats, Floats]]) -> pd.DataFrame:
    from scipy.stats import logrank

    rows = []
    for one, other in combinations(waits, 2):
        if waits[one][1].sum() + waits[other][1].sum() == 0:
            rows.append((one, other, np.nan, np.nan))
            continue
        with np.errstate(invalid="ignore", divide="ignore"):
            found = logrank(_censored(*waits[one]), _censored(*waits[other]))
        rows.append((one, other, float(found.statistic) ** 2, float(found.pvalue)))
    tests = pd.DataFrame(rows, columns=["method", "other", "chi2", "p"])
    return tests.assign(p_holm=holm(tests["p"].to_numpy(float)))


def _sentences(medians: pd.DataFrame, tests: pd.DataFrame, unit: str) -> tuple[str, ...]:
    said = [_of_one(row, unit) for row in medians.itertuples()]
    if len(medians) == 1:
        return (*said, "With one way of stirring there is nothing to compare.")
    rows = medians.set_index("method")
    for test in tests.itertuples():
        said.append(_of_two(test, rows))
    return tuple(said)


def _of_one(row: Any, unit: str) -> str:
    known = f"{row.method}: {row.clean} of {row.runs} runs were seen to a clean streak"
    if np.isinf(row.median):
        return f"{known}; half were not clean when stirring stopped, so no middle number of {unit} is known."
    high = "not known" if np.isinf(row.high) else f"{row.high:g}"
    return f"{known}; half took {row.median:g} {unit} or fewer (9 in 10 sure: {row.low:g} to {high})."


def _of_two(test: Any, rows: pd.DataFrame) -> str:
    few = [name for name in (test.method, test.other) if rows.loc[name, "clean"] < FEWEST]
    if few:
        return (
            f"{test.method} and {test.other}: too few runs to compare. It takes {FEWEST} clean ones of each; "
            f"{' and '.join(few)} ha{'s' if len(few) == 1 else 've'} fewer."
        )
    if not test.p_holm < _REAL:
        return f"{test.method} and {test.other}: no difference is shown (log-rank p = {test.p_holm:.2g})."
    said = (
        f"{test.method} and {test.other} differ in how fast they come clean (log-rank p = {test.p_holm:.2g})"
    )
    medians = rows.loc[[test.method, test.other], "median"]
    if medians.iloc[0] == medians.iloc[1]:
        return f"{said}."
    return f"{said}: half of {medians.idxmin()} came clean sooner."
