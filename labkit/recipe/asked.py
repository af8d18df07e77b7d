"""Numbers and names that were asked for, read: as numbers, or as they are typed."""

from numbers import Integral, Real
from typing import Any, NamedTuple

from labkit.errors import LabError
from labkit.quantities import COLDEST_C, HOTTEST_C, read_number, read_pot_c

LONGEST_NAME = 200  # characters
_UNITS = {"_g": "g", "_h": "h", "_min": "min", "_c": "°C"}


def read_real(value: Any, what: str, unit: str = "") -> float:
    """Return a finite number, given as such or typed ("2,5 g").

    Raises
    ------
    LabError
        Where it is none, or is in another unit.

    Examples
    --------
    >>> read_real("2,5 g", "beeswax", "g")
    2.5
    """
    if isinstance(value, str):
        return read_number(value, what, unit)
    if isinstance(value, bool) or not isinstance(value, Real) or not abs(float(value)) < float("inf"):
        wanted = f"a number of {unit}" if unit else "a number"
        raise LabError(f"{what}: {value!r} is no number. Type {wanted}, such as 2.5.")
    return float(value)


def read_above_0(value: Any, what: str, unit: str = "") -> float:
    """Return a number above 0, or raise `LabError`.

    >>> read_above_0("40", "the batch", "g")
    40.0
    """
    number = read_real(value, what, unit)
    if not number > 0.0:
        raise LabError(
            f"{what}: {number:g} {unit}".rstrip() + f" cannot be. Give more than 0 {unit}".rstrip() + "."
        )
    return number


def read_0_or_more(value: Any, what: str, unit: str = "") -> float:
    """Return a number of 0 or more, or raise `LabError`.

    >>> read_0_or_more(0, "the price")
    0.0
    """
    number = read_real(value, what, unit)
    if number < 0.0:
        raise LabError(f"{what}: {number:g} {unit}".rstrip() + " cannot be. Give 0 or more.")
    return number


class Loss(NamedTuple):
    """The share of a batch that ends in no container: usual, and 90 % limits of the next batch's."""

    share: float
    low: float
    high: float


def read_band(value: Any) -> Loss:
    """Return a loss, given as a share from 0 to below 1, or as anything with share, low and high.

    >>> read_band(0.08)
    Loss(share=0.08, low=0.08, high=0.08)
    """
    if all(hasattr(value, name) for name in Loss._fields):
        share, low, high = (read_real(getattr(value, name), "the loss") for name in Loss._fields)
    else:
        share = low = high = read_real(value, "the loss")
    if not (0.0 <= share < 1.0 and low <= share <= high <= 1.0):
        raise LabError(f"the loss: {share:g} cannot be. Give a share from 0 to below 1, such as 0.08.")
    return Loss(share, low, high)


def read_count(value: Any, what: str) -> int:
    """Return a whole number from 1, or raise `LabError`.

    >>> read_count(12, "containers")
    12
    """
    if isinstance(value, bool) or not isinstance(value, Integral) or value < 1:
        raise LabError(f"{value!r} {what} cannot be. Give a whole number from 1.")
    return int(value)


def read_name(value: Any, what: str) -> str:
    """Return a name without blanks around it, or raise `LabError` where it cannot be kept.

    >>> read_name(" rose ", "a recipe")
    'rose'
    """
    name = str(value).strip()
    if not name:
        raise LabError(f"{what} needs a name. Say what it is called.")
    if len(name) > LONGEST_NAME:
        raise LabError(f"“{name[:40]}…” is too long for a name: {LONGEST_NAME} letters at most.")
    if "\0" in name or any("\ud800" <= sign <= "\udfff" for sign in name):
        raise LabError(f"{what}: its name holds a character that cannot be kept. Type it again.")
    return name


def read_process(key: str, value: Any) -> float | str:
    """Return a figure of the process: of a key that ends in a unit, such as "pour_c", a number.

    >>> read_process("pour_c", "66,5"), read_process("cooling", "on the bench")
    (66.5, 'on the bench')
    """
    unit = next((unit for end, unit in _UNITS.items() if key.endswith(end)), None)
    if isinstance(value, str) and unit is None:
        return value.strip()
    if isinstance(value, str) and unit == "°C":
        return read_pot_c(value, key)
    number = read_real(value, key, unit or "")
    if unit == "°C" and not COLDEST_C <= number <= HOTTEST_C:
        raise LabError(f"{key}: {number:g} °C cannot be. If that is °F, type “{number:g} °F”.")
    return number
