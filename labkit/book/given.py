"""What a book is given, checked before it reaches the database: ids, names, payloads, files."""

import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any
from unicodedata import normalize

from labkit.book.entry import Entry, checked_kind
from labkit.book.record import Record, kinds_beside, record_type
from labkit.errors import LabError, did_you_mean


def given_text(value: object, what: str) -> str:
    """Return a text, or raise `LabError` that says what it should have been.

    >>> given_text(None, "the key of a draft")
    Traceback (most recent call last):
    labkit.errors.LabError: Give the key of a draft as a text; found nothing.
    """
    if not isinstance(value, str):
        raise LabError(f"Give {what} as a text; found {_shown(value)}.")
    return value


def given_id(entry: object) -> str:
    """Return the id of what names an entry: the entry itself, or its id."""
    if isinstance(entry, Entry):
        return entry.id
    if not isinstance(entry, str):
        raise LabError(f"Name an entry of this book, itself or by its id; found {_shown(entry)}.")
    return entry


def given_entries(entries: object) -> Sequence[Entry]:
    """Return finished entries, or raise `LabError` where something else is among them."""
    listed: list[Any] = list(entries) if isinstance(entries, Iterable) else [entries]
    for each in listed:
        if not isinstance(each, Entry):
            raise LabError(f"Give a list of entries; found {_shown(each)}.")
    return listed


def refuse_mistyped(kind: str) -> None:
    """Raise `LabError` for a kind that its room does not have; a room that is unknown here may have it."""
    known = kinds_beside(kind)
    if known and kind not in known:
        raise LabError(f"There is no kind of entry “{kind}”. {did_you_mean(kind, known)}")


def given_path(place: object, what: str) -> Path:
    """Return the path of a file or folder, or raise `LabError` where it is none."""
    if not isinstance(place, str | os.PathLike) or not str(place).strip():
        raise LabError(f"Name {what}; found {_shown(place)}.")
    return Path(place)


def given_payload(kind: str, payload: Mapping[str, Any] | Record) -> tuple[dict[str, Any], int]:
    """Return the payload as it is written, and the schema it is written in."""
    record = record_type(checked_kind(kind))
    if not isinstance(payload, Mapping | Record):
        raise LabError(f"Give what is logged by name, like {{'word': 'soft'}}; found {_shown(payload)}.")
    if record is not None:
        return record.of(payload).payload(), record.schema_version
    if isinstance(payload, Record):
        return payload.payload(), payload.schema_version
    return dict(payload), 1


def tidy(trial: object) -> str:
    """Return the name of a trial as it is written down: without blanks around it and doubled ones.

    >>> tidy("  First   trial ")
    'First trial'
    """
    if trial is None:
        raise LabError("Name the trial that this belongs to.")
    name = " ".join(normalize("NFC", given_text(trial, "the name of the trial")).split())
    if not name:
        raise LabError("Name the trial that this belongs to.")
    return name


def _shown(value: object) -> str:
    return "nothing" if value is None or value == "" else repr(value)[:80]
