"""Numbers as a maker types them, and as they are shown again."""

import math
import re

from labkit.errors import LabError

_NUMBER = re.compile(r"^([+-]?[\d.,]*\d[.,]?)\s*([^\d]*)$")
_COULD_BE_THOUSANDS = re.compile(r"^[+-]?[1-9]\d{0,2},\d{3}$")
_DECIMAL = re.compile(r"^[+-]?\d*[.,]?\d*$")
_GROUPED = re.compile(r"^([+-]?\d{1,3}(?:([.,])\d{3})+)(?:(?!\2)[.,](\d+))?$")
_FAHRENHEIT = re.compile(r"\s*°?\s*(?:f|fahrenheit)\s*$", re.IGNORECASE)
HOTTEST_C, COLDEST_C = 130.0, -30.0
"""No melt of fats and waxes is heated beyond the one, and no kitchen is colder than the other."""
_UNIT_WORDS = {
    "g": {"g", "gram", "grams"},
    "%": {"%", "percent", "pct"},
    "°C": {"°c", "c", "celsius"},
    "min": {"min", "minutes"},
    "h": {"h", "hours"},
}


def read_number(text: str, what: str, unit: str = "") -> float:
    """Read a number that somebody typed, with a decimal point or a decimal comma.

    Parameters
    ----------
    text
        What was typed; the unit may stand behind it.
    what
        What the number is, for the message: "wax, high".
    unit
        The unit that is wanted: "g", "%", "°C", "min", "h", or "" for none.

    Raises
    ------
    LabError
        Where it is no number, is in another unit, or could be read two ways.

    >>> read_number("2,5", "shea butter", "g")
    2.5
    >>> read_number("1.204,5 g", "batch", "g")
    1204.5
    >>> read_number("1,234", "batch", "g")
    Traceback (most recent call last):
    labkit.errors.LabError: batch: “1,234” could be 1.234 or 1234. Type 1.234 or 1234.
    """
    typed = text.strip().replace("\u2212", "-").replace("\u00a0", " ")
    match = _NUMBER.match(typed)
    if not match:
        wanted = f"a number of {unit}" if unit else "a number"
        raise LabError(f"{what}: “{text.strip()}” is no number. Type {wanted}, such as 2.5 or 2,5.")
    digits, suffix = match.groups()
    _check_unit(text, what, suffix.strip().casefold(), unit)
    return _decimal(digits, what)


def _check_unit(text: str, what: str, suffix: str, unit: str) -> None:
    if suffix and suffix not in _UNIT_WORDS.get(unit, {unit.casefold()}):
        wanted = f"in {unit}" if unit else "a plain number"
        raise LabError(f"{what}: “{text.strip()}” ends in “{suffix}”, and this is {wanted}.")


def _decimal(digits: str, what: str) -> float:
    if _COULD_BE_THOUSANDS.match(digits):
        point, none = digits.replace(",", "."), digits.replace(",", "")
        raise LabError(f"{what}: “{digits}” could be {point} or {none}. Type {point} or {none}.")
    if _DECIMAL.match(digits):
        return float(digits.replace(",", "."))
    grouped = _GROUPED.match(digits)
    if not grouped:
        raise LabError(f"{what}: “{digits}” has too many points or commas. Type it like 1234.5.")
    return float(re.sub(r"[.,]", "", grouped[1]) + "." + (grouped[3] or "0"))


def read_step(text: str) -> float:
    """Read the step of a scale in g, such as 0.1: more than 0 and at most 10.

    >>> read_step("0,01 g")
    0.01
    """
    step = read_number(text, "your scale's step", "g")
    if not 0 < step <= 10:
        raise LabError(
            f"your scale's step: {step:g} g cannot be. It is the smallest change that the scale shows, "
            "mostly 1, 0.1 or 0.01 g."
        )
    return step


def read_pot_c(text: str, what: str = "the pot") -> float:
    """Read the temperature of a pot in °C; one that is typed with °F behind it is turned.

    Raises
    ------
    LabError
        Where it is no number, or can only be in °F or wrong: that is asked, not guessed.

    >>> read_pot_c("72,5"), read_pot_c("167 °F")
    (72.5, 75.0)
    >>> read_pot_c("167")
    Traceback (most recent call last):
    labkit.errors.LabError: the pot: 167 °C is hotter than any melt should be. If that is °F, type “167 °F”...
    """
    typed = text.strip()
    in_f = _FAHRENHEIT.search(typed)
    number = read_number(typed[: in_f.start()] if in_f else typed, what, "°C")
    celsius = round((number - 32) / 1.8, 2) if in_f else number
    if celsius > HOTTEST_C:
        raise LabError(
            f"{what}: {celsius:g} °C is hotter than any melt should be. If that is °F, type “{number:g} °F”. "
            "If it is really so hot, take the pan off the heat: fat can catch fire."
        )
    if celsius < COLDEST_C:
        raise LabError(f"{what}: {celsius:g} °C cannot be in a kitchen. Look at the reading again.")
    return celsius


def decimals(step: float) -> int:
    """Return how many decimals a scale with this step shows.

    >>> decimals(0.05), decimals(1.0), decimals(0.001)
    (2, 0, 3)
    """
    for places in range(6):
        if math.isclose(step * 10**places, round(step * 10**places), abs_tol=1e-9):
            return places
    return 6


def show_grams(grams: float, step: float) -> str:
    """Return grams as the scale would show them.

    >>> show_grams(12.5, 0.01)
    '12.50'
    """
    return f"{grams:.{decimals(step)}f}"


def in_ten(chance: float) -> str:
    """Return a probability as a count in ten, never as certain as 0 or 10.

    >>> in_ten(0.78), in_ten(0.999), in_ten(0.02)
    ('8 in 10', 'more than 9 in 10', 'less than 1 in 10')
    """
    if chance > 0.95:
        return "more than 9 in 10"
    if chance < 0.05:
        return "less than 1 in 10"
    return f"{max(1, min(9, round(chance * 10)))} in 10"
