"""A tidy table of the current entries of one kind: one row each, units in the column names."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from labkit.book.declared import Declared
from labkit.book.entry import Entry
from labkit.book.record import RESERVED, Record, declarations, read_record

if TYPE_CHECKING:
    import pandas as pd

SUFFIXES = frozenset(
    ("g", "mg", "kg", "pct", "c", "h", "min", "s", "d", "um", "mm", "cm", "ml", "n", "price")
)
"""Endings of field names that are units."""


@dataclass(frozen=True)
class Row:
    """One current version, and what is told of the thing that it is a version of.

    Attributes
    ----------
    head : the current version
    entry : id of the first version: what references name
    first : the first version; the head itself where the first is not in this book
    forked : whether a person must still choose between several current versions
    """

    head: Entry
    entry: str
    first: Entry
    forked: bool


def frame_of(rows: list[Row], record: type[Record] | None, written_by: str = "") -> "pd.DataFrame":
    """Return the DataFrame of rows: `RESERVED` columns, then the record's fields.

    A mapping whose name ends in a unit (``weighed_g``) becomes a column for each
    name in it (``beeswax_g``); where another column is called so already, with
    the field's own name in front (``weighed_beeswax_g``). Which column came from
    where is in ``.attrs["spread"]``: field, then name, then column.
    Without a record (an unknown kind) the payload is shown raw.
    """
    if record is None:
        return _table(rows, [_unreserved(each.head.payload) for each in rows], [])
    spread = _Spread(record)
    records = [read_record(each.head, written_by) for each in rows]
    values = [spread.values(each) for each in records if each is not None]
    fields = [field for field in declarations(record).values() if field.name not in spread.columns]
    table = _typed(_table(rows, values, [field.name for field in fields]), fields)
    for names in spread.columns.values():
        for column in names.values():
            table[column] = table[column].astype("float64")
    table.attrs["spread"] = spread.columns
    return table


class _Spread:
    """Gives the names inside mapping fields their columns, the same name always the same one."""

    def __init__(self, record: type[Record]) -> None:
        self.fields = declarations(record)
        spread = [name for name, field in self.fields.items() if _is_spread(field)]
        self.columns: dict[str, dict[str, str]] = {name: {} for name in spread}
        self._taken = {*RESERVED, *(name for name in self.fields if name not in self.columns)}

    def values(self, record: Record) -> dict[str, Any]:
        """Return the values of a record by column."""
        values: dict[str, Any] = {}
        for name in self.fields:
            value = getattr(record, name)
            if name not in self.columns:
                values[name] = value
            elif value is not None:
                values |= {self._column(name, key): each for key, each in value.items()}
        return values

    def _column(self, field: str, key: str) -> str:
        known = self.columns[field]
        if key not in known:
            stem, _, unit = field.rpartition("_")
            first = next(name for name in self.columns if name.rpartition("_")[2] == unit)
            column = f"{key}_{unit}" if field == first else f"{stem}_{key}_{unit}"
            while column in self._taken:
                column = f"{stem}_{column}"
            known[key] = column
            self._taken.add(column)
        return known[key]


def _is_spread(field: Declared) -> bool:
    stem, _, unit = field.name.rpartition("_")
    return field.many == "mapping" and field.type in (int, float) and bool(stem) and unit in SUFFIXES


def _unreserved(payload: Mapping[str, Any]) -> dict[str, Any]:
    return {(f"payload_{name}" if name in RESERVED else name): value for name, value in payload.items()}


def _table(rows: list[Row], values: list[dict[str, Any]], fields: list[str]) -> "pd.DataFrame":
    import pandas as pd

    told = [_told(each) for each in rows]
    columns = list(dict.fromkeys([*RESERVED, *fields, *(name for each in values for name in each)]))
    together = [said | each for said, each in zip(told, values, strict=True)]
    table = pd.DataFrame(
        {name: pd.Series([each.get(name) for each in together], dtype=object) for name in columns}
    )
    table["time"] = pd.to_datetime(table["time"], utc=True).astype("datetime64[ms, UTC]")
    table["forked"] = table["forked"].astype(bool)
    for name in ("entry", "trial", "maker"):
        table[name] = table[name].astype("str")
    return table if fields else table.infer_objects()


def _told(row: Row) -> dict[str, Any]:
    return {
        "entry": row.entry,
        "trial": row.head.trial,
        "maker": row.first.maker,
        "time": row.first.when,
        "forked": row.forked,
    }


def _typed(table: "pd.DataFrame", fields: Iterable[Declared]) -> "pd.DataFrame":
    import pandas as pd

    kinds: dict[Any, Any] = {float: "float64", int: "Int64", bool: "boolean", str: "str"}
    for field in fields:
        if field.many != "one":
            continue
        if field.type in kinds:
            table[field.name] = table[field.name].astype(kinds[field.type])
        elif field.choices and all(isinstance(each, str) for each in field.choices):
            table[field.name] = table[field.name].astype("str")
        elif field.type is datetime:
            table[field.name] = pd.to_datetime(table[field.name], utc=True).astype("datetime64[us, UTC]")
    return table
