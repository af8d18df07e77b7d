"""pydantic's errors in the maker's words."""

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from labkit.book.declared import Declared
from labkit.errors import did_you_mean

_BOUNDS = {
    "greater_than": ("gt", "must be more than"),
    "greater_than_equal": ("ge", "must be at least"),
    "less_than": ("lt", "must be less than"),
    "less_than_equal": ("le", "must be at most"),
    "multiple_of": ("multiple_of", "must be a multiple of"),
}
_WANTED = {
    "float_": "must be a number",
    "finite_number": "must be a number",
    "int_": "must be a whole number",
    "bool_": "must be yes or no",
    "string_type": "must be a text",
    "string_unicode": "must be a readable text",
    "datetime_": "must be a date and time",
    "timezone_": "must be a date and time with its time zone",
    "date_": "must be a date",
    "dict_": "must be a table of names and values",
    "list_": "must be a list",
    "tuple_": "must be a list",
    "string_pattern_mismatch": "is not written as expected",
}


def worded(error: ValidationError, known: Mapping[str, Declared]) -> dict[str, str]:
    """Return a message by field path for everything that pydantic found wrong.

    A message starts with the label and ends with what was found, for example
    “Hottest temperature: must be at most 150 °C; found 300”.
    """
    messages: dict[str, str] = {}
    for each in error.errors(include_url=False):
        path = ".".join(str(part) for part in each["loc"])
        messages.setdefault(path, _message(each, known))
    return messages


def _message(detail: ErrorDetails, known: Mapping[str, Declared]) -> str:
    field = known.get(str(detail["loc"][0])) if detail["loc"] else None
    if detail["type"] == "extra_forbidden" and len(detail["loc"]) == 1:
        name = str(detail["loc"][0])
        return f"“{name[:80]}” is not logged here. {did_you_mean(name, known)}"
    where = ", ".join([field.label if field else "", *(str(part) for part in detail["loc"][1:])]).strip(", ")
    said = _said(detail, field.unit if field else "")
    return f"{where}: {said}" if where else said


def _said(detail: ErrorDetails, unit: str) -> str:
    kind, context, found = detail["type"], detail.get("ctx", {}), _shown(detail["input"])
    if kind == "missing":
        return "is missing; fill it in"
    if kind in _BOUNDS:
        limit, words = _BOUNDS[kind]
        return f"{words} {_shown(context[limit])} {unit}".rstrip() + f"; found {found}"
    if kind == "literal_error":
        return f"must be {context['expected']}; found {found}"
    if kind.endswith(("too_short", "too_long")):
        return _length(context, detail["input"])
    if kind in ("value_error", "assertion_error"):
        return str(context["error"])
    for start, words in _WANTED.items():
        if kind.startswith(start):
            return f"{words}; found {found}"
    return f"{detail['msg']}; found {found}"


def _length(context: Mapping[str, Any], found: Any) -> str:
    things = "characters" if isinstance(found, str) else "things"
    if "min_length" not in context:
        return f"must have at most {context['max_length']} {things}; found {len(found)}"
    if not found:
        return "must not be empty"
    return f"must have at least {context['min_length']} {things}; found {len(found)}"


def _shown(value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, str):
        return f"“{value[:80]}”" if value else "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.12g}" if isinstance(value, float) else str(value)[:80]
