"""The file of a logging thermometer, read as it comes: any order of columns, decimal commas, gaps."""

import csv
import io
import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from labkit.batch.asked import Floats
from labkit.batch.logger_columns import Columns, find_columns
from labkit.errors import LabError
from labkit.quantities import HOTTEST_C

Unit = Literal["°C", "°F"]
TimeUnit = Literal["s", "min", "h"]

GAP = 5.0
"""A step this many times the usual one is a gap (a judgement, no source)."""

_NONE = {"", "-", "--", "---", "nan", "na", "n/a", "null", "none", "err", "error", "ol", "open", "lost"}
_MINUTES = {"s": 1.0 / 60.0, "min": 1.0, "h": 60.0}
_OF_DAY = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d+))?)?\s*([ap]m)?\s*$", re.IGNORECASE)


@dataclass(frozen=True, eq=False)
class ThermometerLog:
    """What a logging thermometer wrote.

    Attributes
    ----------
    minutes : ndarray [min], shape (n,)
        Since its first reading.
    celsius : ndarray [°C], shape (n,)
    started : str
        The first time as the file has it.
    gaps : tuple of (from, to) [min]
        Where readings are missing.
    notes : tuple of str
        What was left out or turned, in words.
    """

    minutes: Floats
    celsius: Floats
    started: str
    gaps: tuple[tuple[float, float], ...]
    notes: tuple[str, ...]


def read_thermometer(
    content: str | bytes, unit: Unit | None = None, time_unit: TimeUnit | None = None
) -> ThermometerLog:
    """Read the CSV file of a logging thermometer.

    Columns are found by their headings in any order, after any lines about the device; semicolons,
    tabs or commas part them; decimals have a point or a comma. Rows without a temperature are left out
    and counted. °C or °F, and seconds or minutes, are read from the headings or the cells, or asked for.

    Parameters
    ----------
    content : str or bytes
        What is in the file.
    unit : {"°C", "°F"}, optional
        Where the file does not say it.
    time_unit : {"s", "min", "h"}, optional
        Of a time that is counted, where the file does not say it.

    Raises
    ------
    LabError
        Nothing that reads as times and temperatures, a clock that goes back, a unit that is not said,
        or readings that can only be in another unit.

    Examples
    --------
    >>> log = read_thermometer("Temp (°C);Time\\n75,5;10:00:00\\n--;10:00:30\\n74,1;10:01:00\\n")
    >>> log.minutes.tolist(), log.celsius.tolist(), log.notes
    ([0.0, 1.0], [75.5, 74.1], ('1 row without a temperature left out.',))
    """
    rows = _rows(_text(content))
    columns = find_columns(rows)
    kept = [
        (number, row)
        for number, row in enumerate(rows[columns.heading + 1 :], start=columns.heading + 2)
        if any(cell.strip() for cell in row)
    ]
    cells = [
        (number, _cell(row, columns.temperature, number, len(rows[columns.heading]))) for number, row in kept
    ]
    there = [each.strip().casefold() not in _NONE for _, each in cells]
    if sum(there) < 2:
        raise LabError(f"There are {sum(there)} temperatures in this file. Is it the right one?")
    in_unit = _unit(unit, columns, [each for _, each in cells])
    found = np.array(
        [_number(each, number) for (number, each), is_there in zip(cells, there, strict=True) if is_there]
    )
    celsius = (found - 32.0) / 1.8 if in_unit == "°F" else found
    _check_unit(celsius, found, in_unit)
    present = [each for each, is_there in zip(kept, there, strict=True) if is_there]
    times = [" ".join(row[each].strip() for each in columns.times) for _, row in present]
    minutes = _minutes(times, [number for number, _ in present], columns, time_unit)
    gaps = _gaps(minutes)
    return ThermometerLog(
        minutes, celsius, times[0], gaps, _notes(len(there) - sum(there), gaps, in_unit, columns)
    )


# ---- rows ------------------------------------------------------------------------


def _text(content: str | bytes) -> str:
    if isinstance(content, str):
        return content.removeprefix("\ufeff")
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return content.decode("utf-16")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _rows(text: str) -> list[list[str]]:
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) < 3:
        raise LabError("This file has no rows of readings. Is it the thermometer's CSV file?")
    mark = next((each for each in ";\t" if sum(each in line for line in lines) > len(lines) / 2), ",")
    return list(csv.reader(io.StringIO("\n".join(lines)), delimiter=mark))


def _cell(row: list[str], column: int, number: int, wide: int) -> str:
    if len(row) > wide and any(cell.strip() for cell in row[wide:]):
        raise LabError(
            f"Row {number} has more cells than there are headings. Commas may stand both between cells and "
            "in numbers: export the file with semicolons, or with decimal points."
        )
    return row[column] if column < len(row) else ""


def _number(cell: str, number: int) -> float:
    plain = re.sub(r"\s*°?\s*[CcFf]?\s*$", "", cell.strip().replace("\u2212", "-")).replace(",", ".")
    try:
        return float(plain)
    except ValueError:
        raise LabError(
            f"Row {number}: “{cell.strip()}” is no temperature. Mend it, or take the row out."
        ) from None


# ---- units -----------------------------------------------------------------------


def _unit(asked: Unit | None, columns: Columns, cells: list[str]) -> Unit:
    if asked is not None and asked not in ("°C", "°F"):
        raise LabError(f"The unit is “{asked}”. Say “°C” or “°F”.")
    said = columns.unit or _unit_of(cells)
    if asked and said and asked != said:
        raise LabError(f"You say {asked}, and the file says {said}. Look at the thermometer.")
    if not (asked or said):
        raise LabError('The file does not say whether it is °C or °F. Say unit="°C" or unit="°F".')
    return asked or said  # type: ignore[return-value]


def _unit_of(cells: list[str]) -> Unit | None:
    ends = {match[1].upper() for cell in cells if (match := re.search(r"([CcFf])\s*$", cell))}
    if len(ends) > 1:
        raise LabError("Some rows are in °C and some in °F. Export the file in one unit.")
    return {"C": "°C", "F": "°F"}[ends.pop()] if ends else None  # type: ignore[return-value]


def _check_unit(celsius: Floats, found: Floats, unit: Unit) -> None:
    if celsius.max() > HOTTEST_C:
        other = (found.max() - 32.0) / 1.8
        raise LabError(
            f"{found.max():g} {unit} is hotter than any melt should be. If the thermometer showed °F, that "
            f'was {other:.0f} °C: say unit="°F", and mend the heading if it says otherwise.'
        )


# ---- times -----------------------------------------------------------------------


def _minutes(times: list[str], numbers: list[int], columns: Columns, time_unit: TimeUnit | None) -> Floats:
    if all(":" in each for each in times):
        minutes = _clock(times, numbers)
    else:
        minutes = _counted(times, numbers, time_unit or columns.time_unit)
    back = np.flatnonzero(np.diff(minutes) < 0)
    if len(back):
        row = int(back[0]) + 1
        raise LabError(
            f"The clock goes back at row {numbers[row]}: “{times[row]}” after “{times[row - 1]}”. Was it set "
            "anew, or are two runs in one file? Keep one run, in order."
        )
    return minutes - minutes[0]


def _counted(times: list[str], numbers: list[int], unit: TimeUnit | None) -> Floats:
    if unit is None:
        raise LabError('The file does not say what its time counts. Say time_unit="s", "min" or "h".')
    if unit not in _MINUTES:
        raise LabError(f"The time's unit is “{unit}”. Say “s”, “min” or “h”.")
    found = []
    for each, number in zip(times, numbers, strict=True):
        try:
            found.append(float(each.replace(",", ".")) * _MINUTES[unit])
        except ValueError:
            raise LabError(f"Row {number}: “{each}” is no time. Mend it, or take the row out.") from None
    return np.array(found)


def _clock(times: list[str], numbers: list[int]) -> Floats:
    """Read clock times; without a full date a fall by more than half a day is midnight."""
    whole = [dated(each) for each in times]
    if all(whole):
        first = whole[0]
        return np.array([(each - first) / timedelta(minutes=1) for each in whole])  # type: ignore[operator]
    of_day = [_of_day(each, number) for each, number in zip(times, numbers, strict=True)]
    steps = np.diff(of_day)
    days = np.concatenate([[0], np.cumsum(steps < -720.0)])
    return np.array(of_day) + 1440.0 * days


def dated(text: str) -> datetime | None:
    """Return the day and time that a cell says, or None where it names no day.

    >>> dated("2026-04-14 10:05:30").minute, dated("10:05:30")
    (5, None)
    """
    if not re.match(r"\d{4}-\d{2}-\d{2}", text):
        return None
    try:
        return datetime.fromisoformat(text.replace(",", "."))
    except ValueError:
        return None


def _of_day(text: str, number: int) -> float:
    match = _OF_DAY.search(text)
    if not match or int(match[1]) > 23 or int(match[2]) > 59:
        raise LabError(f"Row {number}: “{text}” is no time of day. Mend it, or take the row out.")
    hour = int(match[1])
    if match[5]:
        hour = hour % 12 + 12 * (match[5].casefold() == "pm")
    seconds = float(f"{match[3] or 0}.{match[4] or 0}")
    return 60.0 * hour + int(match[2]) + seconds / 60.0


def _gaps(minutes: Floats) -> tuple[tuple[float, float], ...]:
    steps = np.diff(minutes)
    usual = float(np.median(steps))
    wide = np.flatnonzero(steps > max(GAP * usual, 1e-9))
    return tuple((float(minutes[each]), float(minutes[each + 1])) for each in wide)


def _notes(
    missing: int, gaps: tuple[tuple[float, float], ...], unit: Unit, columns: Columns
) -> tuple[str, ...]:
    found = []
    if missing:
        found.append(f"{missing} row{'s' * (missing > 1)} without a temperature left out.")
    found += [f"No readings from {first:.0f} to {last:.0f} min." for first, last in gaps]
    if unit == "°F":
        found.append("Turned from °F to °C.")
    if columns.others:
        found.append(f"Read “{columns.name}”; not read: {', '.join(f'“{each}”' for each in columns.others)}.")
    return tuple(found)
