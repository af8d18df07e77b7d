"""Reading forms: what is wrong is collected place by place, while the rest is read on."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from labkit.book.declared import Declared
from labkit.book.record import Record, declarations
from labkit.errors import LabError
from labkit.quantities import read_number
from labkit.times import CLOCK_SLACK
from labkit.ui.form import Field, FieldKind, FormError, Values

NO_PRESS = "2000-01-01T00:00+00:00"
"""Stands for the time of a press that has not been made yet."""


class Faults:
    """Collects what is wrong, place by place, while the rest is read on."""

    def __init__(self) -> None:
        self.found: dict[str, str] = {}

    def read(self, path: str, reader: Callable[..., Any], *arguments: Any) -> Any:
        """Return what the reader reads, or None and a fault at this place."""
        try:
            return reader(*arguments)
        except LabError as error:
            self.found[path] = str(error)
            return None

    def stop(self) -> None:
        """Raise `FormError` if anything was wrong."""
        if self.found:
            raise FormError(self.found)


def faults_of(reader: Callable[[Values], Any], values: Values) -> dict[str, str]:
    """Return the faults that reading would raise, none where it reads well."""
    try:
        reader(values)
    except FormError as fault:
        return fault.faults
    return {}


def only(values: Values, group: str) -> dict[str, str]:
    """Return what stands in a group of single lines."""
    return (values.get(group) or [{}])[0]


def whole_number(text: str, what: str, low: int, high: int) -> int:
    """Read a whole number between two others, or raise `LabError`."""
    if not text.strip():
        raise LabError(f"{what}: type a whole number from {low} to {high}.")
    number = read_number(text, what)
    if number != int(number) or not low <= number <= high:
        raise LabError(f"{what}: {number:g} cannot be. Type a whole number from {low} to {high}.")
    return int(number)


def declared_fields(
    record: type[Record],
    names: Sequence[str],
    saved: Record | None = None,
    kinds: Mapping[str, FieldKind] = {},
) -> tuple[Field, ...]:
    """Return the form's fields for fields of a record, with the values of a saved one.

    ``kinds`` says how a field is asked where its type does not: "long", "photo".
    """
    told = declarations(record)
    return tuple(
        Field(
            name,
            told[name].label,
            kinds.get(name, _kind(told[name])),
            told[name].unit,
            told[name].hint,
            choices=told[name].choices,
            start=_text(getattr(saved, name) if saved else told[name].default, told[name]),
        )
        for name in names
    )


def _kind(about: Declared) -> FieldKind:
    if about.choices:
        return "choice"
    return "when" if about.type is datetime else "number" if about.type in (int, float) else "text"


def _text(value: Any, about: Declared) -> str:
    """Return a value as it is typed; a time to the minute, with its offset from UTC."""
    if isinstance(value, datetime):
        return value.astimezone().isoformat(timespec="minutes")
    if value is None or (value == 0 and value == about.default):
        return ""
    return f"{Decimal(repr(value)):f}".removesuffix(".0") if isinstance(value, float) else str(value)


def read_fields(
    record: type[Record], values: Values, groups: Sequence[str], pressed_at: str, faults: Faults
) -> dict[str, Any]:
    """Return the fields of a record that stand in groups of single lines, read as they were declared.

    An empty time is that of the press. Another field that stands there empty
    has the value that it is declared with, so that what was saved can be
    emptied; it is left out where it must be filled in.
    """
    declared, read = declarations(record), {}
    typed = [(group, name, text.strip()) for group in groups for name, text in only(values, group).items()]
    for group, name, text in typed:
        if name in declared and (text or _may_be_empty(declared[name])):
            read[name] = faults.read(f"{group}//{name}", _read, text, declared[name], pressed_at)
    return read


def _may_be_empty(about: Declared) -> bool:
    return about.type not in (int, float) or not about.required


def _read(text: str, about: Declared, pressed_at: str) -> Any:
    if about.type is datetime:
        return _read_time(text, pressed_at)
    if about.type in (int, float):
        return _read_declared(text, about) if text else about.default
    return text or (None if about.default is None and not about.required else "")


def _read_declared(text: str, about: Declared) -> float | int:
    number = read_number(text, about.label, about.unit)
    low, high = about.limits.get("ge", about.limits.get("gt", 0.0)), about.limits.get("le", float("inf"))
    if not low <= number <= high or number <= about.limits.get("gt", -float("inf")):
        unit = f" {about.unit}" if about.unit else ""
        least = f"above {low:g} and at most" if "gt" in about.limits else f"between {low:g} and"
        raise LabError(f"{about.label}: {number:g}{unit} cannot be; it is {least} {high:g}{unit}.")
    if about.type is int and number != int(number):
        raise LabError(f"{about.label}: {number:g} is no whole number.")
    return int(number) if about.type is int else number


def _read_time(text: str, pressed_at: str) -> datetime:
    """Read a time with its offset from UTC; where it has none, it is taken as this computer's."""
    try:
        typed = datetime.fromisoformat(text or pressed_at)
        when = typed.astimezone()
    except (ValueError, OverflowError):
        raise LabError("That is no whole time. Choose a day, an hour and a minute.") from None
    if text and when > datetime.now().astimezone() + CLOCK_SLACK:
        raise LabError(f"{typed:%A %d %B, %H:%M} is still to come. Choose an earlier time.")
    return when
