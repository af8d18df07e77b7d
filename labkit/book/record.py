"""What may be logged: one pydantic model per kind of entry, which declares its fields once.

A room's `record.py` says what its entries hold::

    class Note(Record):
        kind = "texture.note"
        hours: float = noted("Hours since the pour", "h", ge=0)

Validation, the form on the screen, the columns of a frame and the docs all read
label, unit, hint and limits from there (`declarations`).
"""

import re
from collections.abc import Mapping
from importlib import import_module
from inspect import isclass
from typing import Any, ClassVar, Self, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from labkit import __version__
from labkit.book.declared import Declared, declared, noted
from labkit.book.entry import WITHDRAWAL, Entry
from labkit.book.release import newer_than_this
from labkit.book.wording import worded
from labkit.errors import LabError

__all__ = ["Record", "RecordError", "Withdrawal", "declarations", "noted", "read_record", "record_type"]

RESERVED = ("entry", "trial", "maker", "time", "forked")
"""Columns that every frame has; no field of a record may be called so."""

_ROOM = re.compile(r"[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*", re.ASCII)


class Record(BaseModel):
    """What one kind of entry holds. Values are checked when it is made; it cannot be changed.

    A subclass sets `kind` (``room.name``) and, once its fields have changed their
    meaning, a higher `schema_version` with a `lift` for the payloads of before.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    kind: ClassVar[str] = ""
    schema_version: ClassVar[int] = 1

    @classmethod
    def __pydantic_init_subclass__(cls, **kwargs: Any) -> None:
        super().__pydantic_init_subclass__(**kwargs)
        taken = [name for name in cls.model_fields if name in RESERVED]
        if taken:
            raise TypeError(f"{cls.__name__}: every entry has “{taken[0]}” already; call the field otherwise")

    @classmethod
    def lift(cls, payload: dict[str, Any], schema: int) -> dict[str, Any]:
        """Return the payload of an older `schema` as one of `schema_version`.

        Called when an entry is read; what is stored stays as it is. New fields
        that have a default need no lifting.
        """
        return payload

    @classmethod
    def of(cls, payload: "Mapping[str, Any] | Record") -> Self:
        """Return the record of a payload, or raise `RecordError` that says what is wrong in it."""
        if isinstance(payload, Record) and not isinstance(payload, cls):
            raise LabError(f"A {payload.kind} was given where a {cls.kind} is kept.")
        values = payload.model_dump() if isinstance(payload, Record) else payload
        try:
            return cls.model_validate(values)
        except ValidationError as error:
            raise RecordError(worded(error, declarations(cls))) from error

    def payload(self) -> dict[str, Any]:
        """Return all fields as plain JSON values: what is written into the book."""
        return self.model_dump(mode="json")


AnyRecord = TypeVar("AnyRecord", bound=Record)


class RecordError(LabError):
    """Fields of a record that cannot be kept.

    Attributes
    ----------
    fields : message by field path (``weighed_g.wax``), each in the maker's words
    """

    def __init__(self, fields: dict[str, str]) -> None:
        self.fields = fields
        super().__init__("\n".join(fields.values()))


class Withdrawal(Record):
    """An entry that should not have been; what it withdraws stays in the history."""

    kind = WITHDRAWAL
    reason: str = noted("Reason", default="", max_length=2000)


def declarations(record: type[Record]) -> dict[str, Declared]:
    """Return what the fields of a record declare, by field name in their order.

    >>> declarations(Withdrawal)["reason"].label
    'Reason'
    """
    return {name: declared(name, field) for name, field in record.model_fields.items()}


def record_type(kind: str) -> type[Record] | None:
    """Return the record of a kind, or None where no room of this labkit has it.

    The kind ``room.name`` is looked for in the module ``labkit.<room>.record``.

    >>> record_type("book.withdrawal").__name__, record_type("attic.trunk")
    ('Withdrawal', None)
    """
    if not _ROOM.fullmatch(kind):
        return None
    return next((each for each in _records(kind.partition(".")[0]) if each.kind == kind), None)


def kinds_beside(kind: str) -> list[str]:
    """Return the kinds that the room of a kind has; none where this labkit has no such room.

    >>> kinds_beside("book.withdrawl")
    ['book.withdrawal']
    """
    room = kind.partition(".")[0]
    return [each.kind for each in _records(room) if each.kind.startswith(f"{room}.")]


def _records(room: str) -> list[type[Record]]:
    module_name = f"labkit.{room}.record"
    try:
        module = import_module(module_name)
    except ModuleNotFoundError as error:
        if error.name and module_name.startswith(error.name):
            return []
        raise
    return [each for each in vars(module).values() if isclass(each) and issubclass(each, Record)]


def read_record(entry: Entry, written_by: str = "") -> Record | None:
    """Return the record of an entry, lifted where its schema is older; None for an unknown kind.

    `written_by` is the version of labkit that wrote the book, for the message.
    Raises `LabError` where the entry is of a newer schema or does not fit its kind.
    """
    record = record_type(entry.kind)
    if record is None:
        return None
    refuse_newer(entry, record, written_by)
    try:
        return record.of(_lifted(entry, record))
    except RecordError as error:
        raise LabError(f"The {entry.called} cannot be read.\n{error}") from error


def refuse_newer(entry: Entry, record: type[Record], written_by: str = "") -> None:
    """Raise `LabError` where an entry was written by a newer schema than this labkit reads."""
    if entry.schema <= record.schema_version:
        return
    raise LabError(
        f"The {entry.called} was written by a newer labkit than this one ({__version__}). "
        f"Install {newer_than_this(written_by)} to read it."
    )


def _lifted(entry: Entry, record: type[Record]) -> dict[str, Any]:
    if entry.schema == record.schema_version:
        return entry.payload
    try:
        return record.lift(dict(entry.payload), entry.schema)
    except (LookupError, TypeError, ValueError, AttributeError, ArithmeticError) as error:
        raise LabError(
            f"The {entry.called} cannot be read: an earlier labkit wrote it, but not in that one's form."
        ) from error
