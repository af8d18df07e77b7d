"""The entries of a bundle as tables: CSV (RFC 4180), and a schema of each (Table Schema)."""

import csv
import io
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import pandas as pd
from pydantic import BaseModel
from pydantic_core import to_jsonable_python

from labkit.book.canonical import canonical
from labkit.book.declared import Declared
from labkit.book.entry import WITHDRAWAL, Entry
from labkit.book.frame import Row, frame_of
from labkit.book.record import declarations, record_type
from labkit.share.cells import safe_text
from labkit.share.chosen import versions_of

WHEN = "%Y-%m-%dT%H:%M:%S.%fZ"
_TOLD = {
    "entry": "Id of the first version, which other entries name",
    "trial": "Trial",
    "maker": "Random id of who wrote the first version",
    "time": "When the first version was written, UTC",
    "forked": "Whether two corrections stand side by side",
}


@dataclass(frozen=True)
class Table:
    """The current entries of one kind.

    Attributes
    ----------
    kind : str
    content : bytes
        CSV in UTF-8.
    fields : list of dict
        The fields of a Table Schema.
    """

    kind: str
    content: bytes
    fields: list[dict[str, Any]]


def tables_of(entries: Iterable[Entry]) -> list[Table]:
    """Return a table for each kind that has a current entry, by kind; withdrawn entries are in none.

    Raises
    ------
    LabError
        Where an entry does not fit its kind.
    """
    return [_table(kind, rows) for kind, rows in sorted(current_rows(entries).items())]


def current_rows(entries: Iterable[Entry]) -> dict[str, list[Row]]:
    """Return the current versions among some entries, by kind, oldest first."""
    known = {each.id: each for each in entries}
    versions = versions_of(known.values())
    found: dict[str, list[Row]] = defaultdict(list)
    for id, entry in known.items():
        if entry.kind != WITHDRAWAL and not versions.replaced(id):
            first = versions.first(id)
            found[entry.kind].append(Row(entry, first, known.get(first, entry), versions.forked(id)))
    return {kind: sorted(rows, key=lambda row: (row.entry, row.head.id)) for kind, rows in found.items()}


def _table(kind: str, rows: list[Row]) -> Table:
    record = record_type(kind)
    frame = frame_of(rows, record)
    known = declarations(record) if record else {}
    spread = _spread_from(frame.attrs.get("spread", {}))
    fields = [_field(str(name), frame[name].dtype, known, spread) for name in frame.columns]
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([field["name"] for field in fields])
    types = [field["type"] for field in fields]
    for values in frame.itertuples(index=False, name=None):
        writer.writerow([_cell(value, type) for value, type in zip(values, types, strict=True)])
    return Table(kind, text.getvalue().encode("utf-8"), fields)


def _spread_from(spread: Mapping[str, Mapping[str, str]]) -> dict[str, tuple[str, str]]:
    """Return the field and the name within it that a column was made of."""
    return {column: (field, name) for field, names in spread.items() for name, column in names.items()}


def _field(
    name: str, dtype: Any, known: Mapping[str, Declared], spread: Mapping[str, tuple[str, str]]
) -> dict[str, Any]:
    outer, inner = spread.get(name, (name, ""))
    declared = known.get(outer)
    label = _TOLD.get(name) or (declared.label if declared else outer)
    unit = declared.unit if declared else ""
    said = f"{label}: {inner}" if inner else label
    type = _type_of(dtype, declared, bool(inner))
    field = {"name": safe_text(name), "title": safe_text(said), "type": type}
    if type == "datetime":
        field["format"] = WHEN
    return field | ({"unit": unit, "description": f"Unit: {unit}"} if unit else {})


def _type_of(dtype: Any, declared: Declared | None, spread: bool) -> str:
    text = str(dtype)
    if text.startswith("datetime64"):
        return "datetime"
    plain = {"float64": "number", "int64": "integer", "Int64": "integer", "bool": "boolean",
             "boolean": "boolean", "str": "string"}  # fmt: skip
    if text in plain:
        return plain[text]
    many = "one" if declared is None or spread else declared.many
    return {"list": "array", "mapping": "object"}.get(many, "any")


def _cell(value: Any, type: str) -> str:
    if isinstance(value, list | tuple | dict | BaseModel):
        return safe_text(canonical(to_jsonable_python(value), "a cell"))
    if pd.isna(value):
        return ""
    if isinstance(value, datetime):
        return value.astimezone(UTC).strftime(WHEN)
    if type == "boolean" or isinstance(value, bool):
        return "true" if value else "false"
    if type == "integer":
        return str(int(value))
    if isinstance(value, float) or type == "number":
        return repr(float(value)) if math.isfinite(value) else ""
    return safe_text(str(value)) if isinstance(value, str) else str(value)
