"""Which columns of a thermometer's file hold the time and the temperature."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from labkit.errors import LabError

_TIME = re.compile(
    r"\b(time|date|datetime|timestamp|clock|elapsed|minutes?|min|seconds?|secs?|hours?|zeit|uhrzeit|datum|heure|fecha|hora)\b"
)
_TEMPERATURE = re.compile(
    r"\b(temp|temperatures?|temperatur|température|temperatura|celsius|fahrenheit|probe)\b|°\s*[cf]\b|temp"
)
_CELSIUS = re.compile(r"celsius|°\s*c\b|[(\[/_ ]c[)\]]?\s*$")
_FAHRENHEIT = re.compile(r"fahrenheit|°\s*f\b|[(\[/_ ]f[)\]]?\s*$")
_COUNTED = (
    ("s", re.compile(r"\bsec|[(\[_ ]s[)\]]?\s*$")),
    ("min", re.compile(r"\bmin")),
    ("h", re.compile(r"\bhours?\b|[(\[_ ]hr?s?[)\]]?\s*$")),
)
_DEEPEST = 40


@dataclass(frozen=True)
class Columns:
    """Where what stands.

    Attributes
    ----------
    heading : int
        The row with the headings.
    times : tuple of int
        The columns that make the time, the date before the time of day.
    temperature : int
    name : str
        Heading of the temperature.
    unit, time_unit : str or None
        As the headings say.
    others : tuple of str
        Headings of further temperatures.
    """

    heading: int
    times: tuple[int, ...]
    temperature: int
    name: str
    unit: Literal["°C", "°F"] | None
    time_unit: Literal["s", "min", "h"] | None
    others: tuple[str, ...]


def find_columns(rows: Sequence[Sequence[str]]) -> Columns:
    """Return which columns hold time and temperature.

    Raises
    ------
    LabError
        Where no row names both.

    Examples
    --------
    >>> found = find_columns([["Logger 7"], ["Temp °C", "Date", "Time"], ["75", "2026-03-05", "10:00"]])
    >>> found.heading, found.times, found.temperature, found.unit
    (1, (1, 2), 0, '°C')
    """
    for heading, row in enumerate(rows[:_DEEPEST]):
        names = [cell.strip().casefold() for cell in row]
        temperatures = [each for each, name in enumerate(names) if _TEMPERATURE.search(name)]
        times = [each for each, name in enumerate(names) if _TIME.search(name) and each not in temperatures]
        if temperatures and times:
            return _columns(heading, [cell.strip() for cell in row], times, temperatures)
    raise LabError(
        "No row of this file names a time and a temperature. Give its columns a heading each, such as "
        "“Time” and “Temperature (°C)”."
    )


def _columns(heading: int, names: list[str], times: list[int], temperatures: list[int]) -> Columns:
    dates = [each for each in times if re.fullmatch(r"date|datum|fecha", names[each].casefold())]
    clocks = [each for each in times if each not in dates]
    chosen = (*dates[:1], *clocks[:1])
    name, clock = names[temperatures[0]], names[chosen[-1]].casefold()
    others = tuple(names[each] for each in temperatures[1:])
    unit: Literal["°C", "°F"] | None = None
    if _CELSIUS.search(name.casefold()):
        unit = "°C"
    elif _FAHRENHEIT.search(name.casefold()):
        unit = "°F"
    counted = next((unit for unit, words in _COUNTED if words.search(clock)), None)
    return Columns(heading, chosen, temperatures[0], name, unit, counted, others)  # type: ignore[arg-type]
