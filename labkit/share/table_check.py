"""Whether a table is what its schema says, cell by cell."""

import csv
import io
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from labkit.errors import LabError
from labkit.share.tables import WHEN

LONGEST_CELL = 4_000_000


def table_problems(content: bytes, fields: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Yield what is wrong with a table: its columns first, then a sentence for each column that is wrong."""
    try:
        rows = _rows(content)
    except (UnicodeDecodeError, csv.Error) as error:
        yield f"it is no table ({error})"
        return
    names = [str(field.get("name")) for field in fields]
    if not rows or rows[0] != names:
        yield "its columns are not those of its schema"
        return
    if any(len(row) != len(names) for row in rows):
        yield "a row has more or fewer cells than there are columns"
        return
    for at, field in enumerate(fields):
        fits = _FITS.get(str(field.get("type")))
        if fits is None:
            yield f"the schema gives “{names[at][:80]}” a type that is none"
        elif bad := next((row[at] for row in rows[1:] if row[at] and not _tried(fits, row[at])), ""):
            yield f"in “{names[at][:80]}” stands “{bad[:80]}”, which is no {field.get('type')}"


def _rows(content: bytes) -> list[list[str]]:
    before = csv.field_size_limit(LONGEST_CELL)
    try:
        return list(csv.reader(io.StringIO(content.decode("utf-8"), newline=""), strict=True))
    finally:
        csv.field_size_limit(before)


def _tried(fits: Callable[[str], Any], cell: str) -> bool:
    try:
        return bool(fits(cell))
    except (ValueError, RecursionError, LabError):
        return False


_FITS: dict[str, Callable[[str], Any]] = {
    "string": lambda cell: True,
    "any": lambda cell: True,
    "number": lambda cell: float(cell) - float(cell) == 0.0,
    "integer": lambda cell: int(cell) - int(cell) == 0,
    "boolean": lambda cell: cell in ("true", "false"),
    "datetime": lambda cell: datetime.strptime(cell, WHEN),
    "array": lambda cell: isinstance(json.loads(cell), list),
    "object": lambda cell: isinstance(json.loads(cell), dict),
}
