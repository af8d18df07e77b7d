"""Tables of shares: read by part name, checked, and rescaled."""

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError, did_you_mean

Floats = NDArray[np.float64]
Table = TypeVar("Table", pd.DataFrame, Floats)

SUM_TOLERANCE = 1e-6
_BESIDE = ("day", "chance", "why")  # what plans and suggestions carry beside the parts


def check_shares(shares: object, parts: Sequence[str] | None = None) -> tuple[Floats, tuple[str, ...]]:
    """Return shares as a float array with the names of its columns.

    Parameters
    ----------
    shares : DataFrame, mapping, Series or array
        Mass fractions, one composition a row, one part a column. A frame is read
        by its column names, and "day", "chance" and "why" beside the parts are left
        aside; an array, or a frame whose columns are merely numbered from 0, by the
        order of its columns.
    parts : sequence of str, optional
        The parts that are wanted, in this order. By default the columns as they stand,
        those of an array called "part 1", "part 2", …

    Returns
    -------
    array of shape (rows, parts), and the part names

    Raises
    ------
    LabError
        Where a share is no number or below 0, a column is missing, unknown or without a
        name, or a row is more than 1e-6 away from a sum of 1: says which row and by how much.

    >>> check_shares(pd.DataFrame({"wax": [0.25], "oil": [0.75]}), parts=["oil", "wax"])
    (array([[0.75, 0.25]]), ('oil', 'wax'))
    >>> check_shares([[0.5, 0.47]], parts=["oil", "wax"])
    Traceback (most recent call last):
    labkit.errors.LabError: Row 1 adds up to 0.97, 0.03 short of 1. Mend the share that is wrong, \
or divide each by 0.97: rescale(shares).
    """
    table, names = read_table(shares, parts)
    kept = (table >= 0).all(axis=1) & (np.abs(table.sum(axis=1) - 1) <= SUM_TOLERANCE)
    for index in np.flatnonzero(~kept):
        _check_row(table[index], names, _row(shares, int(index)))
    return table, names


def rescale(shares: Table) -> Table:
    """Divide each row by its sum, so that its shares add up to 1.

    >>> rescale(np.array([[30.0, 50.0, 20.0]]))
    array([[0.3, 0.5, 0.2]])

    Raises
    ------
    LabError
        Where a row has a share below 0 or no number, or adds up to nothing.
    """
    table, names = read_table(shares, None)
    for index, row in enumerate(table):
        _check_signs(row, names, _row(shares, index))
        if row.sum() <= 0:
            raise LabError(f"{_row(shares, index)} adds up to 0: there is nothing to rescale.")
    scaled = table / table.sum(axis=1, keepdims=True)
    if isinstance(shares, pd.DataFrame):
        rescaled = shares.copy()
        rescaled[[name for name in shares.columns if name not in _BESIDE]] = scaled
        return rescaled
    return scaled.reshape(np.shape(shares))


def read_table(points: object, parts: Sequence[str] | None) -> tuple[Floats, tuple[str, ...]]:
    """Return numbers and part names of a frame, mapping, Series or array, unchecked but for its shape.

    Raises
    ------
    LabError
        Where columns are missing, unknown or double, or something is no number.
    """
    if isinstance(points, pd.Series):
        points = points.to_dict()
    if isinstance(points, Mapping):
        points = pd.DataFrame([dict(points)])
    if not isinstance(points, pd.DataFrame):
        return _read_array(points, parts)
    if len(points.columns) and points.columns.tolist() == list(range(len(points.columns))):
        return _read_array(points.to_numpy(), parts)
    names = _columns(points, parts)
    return _numbers(points[list(names)].to_numpy(), names), names


def _row(shares: object, index: int) -> str:
    """Return what a message calls a row; one composition by itself has no rows."""
    return "The recipe" if isinstance(shares, Mapping | pd.Series) else f"Row {index + 1}"


def _numbered(parts: int) -> tuple[str, ...]:
    return tuple(f"part {each + 1}" for each in range(parts))


def _read_array(points: object, parts: Sequence[str] | None) -> tuple[Floats, tuple[str, ...]]:
    if points is None:
        raise LabError("There are no shares: give a table with a column for each part.")
    cells = np.atleast_2d(points if isinstance(points, np.ndarray) else np.asarray(points, dtype=object))
    names = _numbered(cells.shape[-1]) if parts is None else tuple(parts)
    if cells.size == 0:
        return np.empty((0, len(names))), names
    if cells.ndim != 2 or cells.shape[1] != len(names):
        raise LabError(f"Each composition is a row of {len(names)} shares: {_listed(names)}.")
    return _numbers(cells, names), names


def _columns(frame: pd.DataFrame, parts: Sequence[str] | None) -> tuple[str, ...]:
    found = list(frame.columns)
    twice = [name for name in found if found.count(name) > 1]
    if twice:
        raise LabError(f"“{twice[0]}” stands there twice: one column a part.")
    if parts is None:
        return tuple(_named(name) for name in found if name not in _BESIDE)
    missing = [name for name in parts if name not in found]
    unknown = [name for name in found if name not in parts and name not in _BESIDE]
    if missing and tuple(parts) == _numbered(len(parts)):
        raise LabError(
            f"This table names its parts {_listed(unknown)}, but the first rows came without names. "
            "Give names to both, or to neither."
        )
    if missing:
        hint = f" “{unknown[0]}” is there instead." if unknown else ""
        raise LabError(f"The part “{missing[0]}” is missing: the parts are {_listed(parts)}.{hint}")
    if unknown:
        raise LabError(f"“{unknown[0]}” is not one of the parts. {did_you_mean(str(unknown[0]), parts)}")
    return tuple(parts)


def _named(name: object) -> str:
    if not isinstance(name, str) or not name.strip():
        raise LabError(f"A column is called “{name}”, which is no name for a part. Call it “wax”, say.")
    return name


def _numbers(cells: NDArray[Any], names: Sequence[str]) -> Floats:
    if cells.dtype == object:
        cells = np.where(pd.isna(cells), np.nan, cells)
    try:
        return cells.astype(float)
    except (TypeError, ValueError):
        pass
    for index, row in enumerate(cells):
        for name, cell in zip(names, row, strict=True):
            try:
                float(cell)
            except (TypeError, ValueError):
                raise LabError(
                    f"Row {index + 1}: {name} is “{cell}”, which is no number. Write a share such as 0.25."
                ) from None
    raise LabError("The shares could not be read as numbers.")


def _check_signs(row: Floats, names: Sequence[str], which: str) -> None:
    for name, share in zip(names, row, strict=True):
        if not np.isfinite(share):
            raise LabError(f"{which}: {name} is missing or no number. Write a share such as 0.25.")
        if share < 0:
            raise LabError(f"{which}: {name} is {share:.4g}, and no share can be below 0.")


def _check_row(row: Floats, names: Sequence[str], which: str) -> None:
    _check_signs(row, names, which)
    total = float(row.sum())
    gap = abs(total - 1)
    if gap <= SUM_TOLERANCE:
        return
    if 90 <= total <= 110:
        raise LabError(
            f"{which} adds up to {total:.6g}, which looks like percent. Shares add up to 1: "
            f"divide each by {total:.6g}: rescale(shares)."
        )
    side = "short of" if total < 1 else "over"
    raise LabError(
        f"{which} adds up to {total:.6g}, {gap:.4g} {side} 1. Mend the share that is wrong, "
        f"or divide each by {total:.6g}: rescale(shares)."
    )


def _listed(names: Sequence[object]) -> str:
    return ", ".join(f"“{name}”" for name in names)
