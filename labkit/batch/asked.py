"""Numbers and readings that were asked for, read."""

from collections.abc import Mapping
from numbers import Real
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.errors import LabError
from labkit.quantities import COLDEST_C, HOTTEST_C

Floats = NDArray[np.float64]


def read_between(value: object, what: str, unit: str, low: float, high: float) -> float:
    """Return a number from `low` to `high`, both allowed.

    Raises
    ------
    LabError
        Where it is no number, or lies outside.

    Examples
    --------
    >>> read_between(3, "height", "mm", 1.0, 500.0)
    3.0
    """
    number = _real(value, what)
    if not low <= number <= high:
        raise LabError(
            f"{what}: {number:g} {unit} cannot be. Give {low:g} to {high:g} {unit}.".replace(" .", ".")
        )
    return number


def read_above_0(value: object, what: str, unit: str) -> float:
    """Return a number above 0, or raise `LabError`.

    >>> read_above_0(4.5, "nominal content", "g")
    4.5
    """
    number = _real(value, what)
    if not 0.0 < number < np.inf:
        raise LabError(f"{what}: {number:g} {unit} cannot be. Give more than 0 {unit}.".replace(" .", "."))
    return number


def _real(value: object, what: str) -> float:
    if isinstance(value, bool | np.bool_) or not isinstance(value, Real):
        raise LabError(f"{what}: {value!r} is no number. Give a number such as 2.5.")
    return float(value)


def read_any(values: Any, what: str, unit: str, above_0: bool = False) -> Floats:
    """Return one number or an array of any shape, all finite, or raise `LabError`.

    >>> read_any(2, "viscosity", "mPa·s", above_0=True)
    array(2.)
    """
    try:
        found = np.asarray(values, dtype=float)
    except (TypeError, ValueError):
        raise LabError(f"{what}: {values!r} is no number. Give a number such as 2.5.") from None
    if not np.isfinite(found).all():
        raise LabError(f"{what}: a number is missing. Give a number such as 2.5.")
    if above_0 and (found <= 0.0).any():
        raise LabError(f"{what}: {found.min():g} {unit} cannot be. Give more than 0 {unit}.")
    return found


def read_array(values: Any, what: str) -> Floats:
    """Return a row of finite numbers, or raise `LabError` that says which is none.

    >>> read_array([1, 2.5], "minutes").tolist()
    [1.0, 2.5]
    """
    try:
        found = np.asarray(values, dtype=float)
    except (TypeError, ValueError):
        raise LabError(f"{what}: give numbers, such as [0, 1, 2.5].") from None
    if found.ndim != 1:
        raise LabError(f"{what}: give one row of numbers, such as [0, 1, 2.5].")
    bad = np.flatnonzero(~np.isfinite(found))
    if len(bad):
        raise LabError(f"{what}, row {bad[0] + 1}: there is no number. Fill it in, or leave the row out.")
    return found


def read_celsius(values: Any, what: str = "temperature") -> Floats:
    """Return temperatures in °C; figures that can only be in °F are asked about, not turned.

    >>> read_celsius([75.0, 70.0]).tolist()
    [75.0, 70.0]
    """
    found = read_array(values, what)
    if len(found) and found.max() > HOTTEST_C:
        raise LabError(
            f"{what}: {found.max():g} °C is hotter than any melt should be. If the thermometer shows °F, "
            "say so or turn the readings first: °C = (°F − 32)/1.8. If it was really so hot, "
            "take the pan off the heat: fat can catch fire."
        )
    if len(found) and found.min() < COLDEST_C:
        raise LabError(f"{what}: {found.min():g} °C cannot be in a kitchen. Look at the reading again.")
    return found


def read_grams(grams: object, what: str) -> dict[str, float]:
    """Return grams by name, each 0 or more, or raise `LabError`.

    >>> read_grams({"castor oil": 50}, "the pot")
    {'castor oil': 50.0}
    """
    if not isinstance(grams, Mapping) or not grams:
        raise LabError(f"{what}: give grams by name, such as {{'castor oil': 50.0}}.")
    return {str(name): read_between(each, f"{what}, {name}", "g", 0.0, 1e6) for name, each in grams.items()}
