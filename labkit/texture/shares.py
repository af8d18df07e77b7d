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
_NOT_A_PART = "day"  # plans carry it beside the parts


def check_shares(shares: object, parts: Sequence[str] | None = None) -> tuple[Floats, tuple[str, ...]]:
    """Return shares as a float array with the names of its columns.

    Parameters
    ----------
    shares : DataFrame, mapping, Series or array
        Mass fractions, one composition a row, one part a column. A frame is read
        by its column names, and a "day" column beside the parts is left aside; an
        array by the order of its columns.
    parts : sequence of str, optional
        The parts that are wanted, in this order. By default the columns as they stand.

    Returns
    -------
    array of shape (rows, parts), and the part names

    Raises
    ------
    LabError
        Where a share is no number or below 0, a column is missing or unknown, or a
        row is more than 1e-6 away from a sum of 1: says which row and by how much.

    >>> check_shares(pd.DataFrame({"wax": [0.25], "oil": [0.75]}), parts=["oil", "wax"])
    (array([[0.75, 0.25]]), ('oil', 'wax'))
    >>> check_shares([[0.5, 0.47]], parts=["oil", "wax"])
    Traceback (most recent call last):
    labkit.errors.LabError: Pour 1 adds up to 0.97, 0.03 short of 1. Mend the share that is wrong, \
or divide each by 0.97: rescale(shares).
    """
    table, names = read_table(shares, parts)
    for index, row in enumerate(table):
        _check_row(row, names, f"Pour {index + 1}")
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
        _check_signs(row, names, f"Pour {index + 1}")
        if row.sum() <= 0:
            raise LabError(f"Pour {index + 1} adds up to 0: there is nothing to rescale.")
    scaled = table / table.sum(axis=1, keepdims=True)
    if isinstance(shares, pd.DataFrame):
        rescaled = shares.copy()
        rescaled[list(names)] = scaled
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
    if isinstance(points, pd.DataFrame):
        names = _columns(points, parts)
        return _numbers(points[list(names)].to_numpy(), names), names
    return _read_array(points, parts)


def _read_array(points: object, parts: Sequence[str] | None) -> tuple[Floats, tuple[str, ...]]:
    cells = np.atleast_2d(points if isinstance(points, np.ndarray) else np.asarray(points, dtype=object))
    numbered = [f"part {each + 1}" for each in range(cells.shape[-1])]
    names = tuple(numbered if parts is None else parts)
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
        return tuple(str(name) for name in found if name != _NOT_A_PART)
    missing = [name for name in parts if name not in found]
    unknown = [name for name in found if name not in parts and name != _NOT_A_PART]
    if missing:
        hint = f" “{unknown[0]}” is there instead." if unknown else ""
        raise LabError(f"The part “{missing[0]}” is missing: the parts are {_listed(parts)}.{hint}")
    if unknown:
        raise LabError(f"“{unknown[0]}” is not one of the parts. {did_you_mean(str(unknown[0]), parts)}")
    return tuple(parts)


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
                    f"Pour {index + 1}: {name} is “{cell}”, which is no number. Write a share such as 0.25."
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


def _listed(names: Sequence[str]) -> str:
    return ", ".join(f"“{name}”" for name in names)
