"""What became of one entry, told for the maker: what was written, mended, taken back, put back."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from labkit.book.declared import Declared
from labkit.book.entry import WITHDRAWAL, Entry, is_id
from labkit.book.photos import NAME
from labkit.book.record import declarations, read_record, record_type
from labkit.errors import LabError

if TYPE_CHECKING:
    import pandas as pd

    from labkit.book.book import TrialBook

LONGEST = 60
"""Characters of a value that are shown; of a longer one only that it changed."""


def history_frame(book: "TrialBook", entry: Entry | str) -> "pd.DataFrame":
    """Return what became of an entry, one row for each of its versions, each after what it replaces.

    Columns: “when” (UTC), “what” (“written”, “mended”, “moved”, “settled”, “taken back”, “put back”)
    and “changed”: the fields that changed, each with what stood there before, like
    “Remark: nothing → grainy”, and one under the other; for what was taken back, the reason.

    Raises `LabError` where there is no such entry.
    """
    import pandas as pd

    versions = book.history(entry)
    told = [_told(each, {one.id: one for one in versions}) for each in versions]
    table = pd.DataFrame(told, columns=["when", "what", "changed"])
    return table.assign(when=pd.to_datetime(table["when"], utc=True).astype("datetime64[ms, UTC]"))


def _told(entry: Entry, versions: Mapping[str, Entry]) -> tuple[datetime, str, str]:
    replaced = [versions[id] for id in entry.supersedes if id in versions]
    if entry.kind == WITHDRAWAL:
        return entry.when, "taken back", str(entry.payload.get("reason", ""))
    before = _before(replaced, versions)
    changed = "\n".join(_changes(before, entry)) if before else ""
    return entry.when, _what(entry, replaced, before), changed


def _what(entry: Entry, replaced: list[Entry], before: Entry | None) -> str:
    if not entry.supersedes:
        return "written"
    if len(replaced) > 1:
        return "settled"
    if replaced and replaced[0].kind == WITHDRAWAL:
        return "put back"
    moved = before is not None and before.trial != entry.trial and before.payload == entry.payload
    return "moved" if moved else "mended"


def _before(replaced: list[Entry], versions: Mapping[str, Entry]) -> Entry | None:
    """Return the latest version that was replaced; for a withdrawal, what was withdrawn."""
    waiting, seen = list(replaced), set()
    while waiting:
        each = max(waiting, key=lambda one: one.id)
        if each.kind != WITHDRAWAL:
            return each
        seen.add(each.id)
        waiting.remove(each)
        waiting += [versions[id] for id in each.supersedes if id in versions and id not in seen]
    return None


def _changes(before: Entry, after: Entry) -> Iterator[str]:
    old, new = _values(before), _values(after)
    record = record_type(after.kind)
    fields = declarations(record) if record else {}
    if before.trial != after.trial:
        yield f"Trial: {before.trial} → {after.trial}"
    for name in dict.fromkeys([*new, *old]):
        yield from _change(_labelled(name, fields.get(name)), old.get(name), new.get(name))


def _values(entry: Entry) -> dict[str, Any]:
    """Return the payload in the form of today; as it stands where it cannot be read so."""
    try:
        record = read_record(entry)
    except LabError:
        record = None
    return entry.payload if record is None else record.payload()


def _labelled(name: str, field: Declared | None) -> tuple[str, str]:
    return (field.label, field.unit) if field else (name.replace("_", " ").capitalize(), "")


def _change(labelled: tuple[str, str], old: Any, new: Any) -> Iterator[str]:
    label, unit = labelled
    if old == new or (_is_nothing(old) and _is_nothing(new)):
        return
    if all(isinstance(each, Mapping) or _is_nothing(each) for each in (old, new)):
        old, new = old or {}, new or {}
        for name in dict.fromkeys([*new, *old]):
            yield from _change((f"{label}, {name}", unit), old.get(name), new.get(name))
        return
    shown = [_shown(each, unit) for each in (old, new)]
    yield f"{label}: changed" if "" in shown or shown[0] == shown[1] else f"{label}: {shown[0]} → {shown[1]}"


def _shown(value: Any, unit: str) -> str:
    """Return a value in words; nothing for one that cannot be shown in a line, such as an id."""
    if _is_nothing(value):
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:.12g} {unit}".rstrip()
    if not isinstance(value, str) or is_id(value):
        return ""
    if NAME.fullmatch(value):
        return "a photo"
    return _time_in_words(value) if len(value) <= LONGEST and "\n" not in value else ""


def _is_nothing(value: Any) -> bool:
    return value is None or (isinstance(value, str | list | Mapping) and not value)


def _time_in_words(text: str) -> str:
    try:
        when = datetime.fromisoformat(text) if "T" in text else None
    except ValueError:
        when = None
    return text if when is None else f"{when.astimezone():%Y-%m-%d %H:%M}"
