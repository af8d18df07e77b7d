"""What is wrong in a book: altered entries, references to nothing, photos that are gone."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from labkit.book.entry import Entry, called, entry_from_text
from labkit.book.store import Store
from labkit.errors import LabError

if TYPE_CHECKING:
    from labkit.book.photos import Photos

_COLUMNS = ("id", "kind", "trial", "time", "maker")


def problems(store: Store, photos: "Photos | None") -> list[str]:
    """Return one sentence for everything that is wrong; without `photos` they are not looked at."""
    found: list[str] = []
    entries: list[Entry] = []
    for row in store.rows():
        try:
            entries.append(entry_from_text(row["text"], row["hash"]))
        except LabError:
            found.append(f"The {_called(row)} was altered after it was written.")
        else:
            found += _altered_beside(entries[-1], row)
    found += _broken_references(store, entries)
    return found + list(_bad_photos(entries, photos)) if photos else found


def _called(row: Mapping[str, Any]) -> str:
    return called(row["kind"], row["time"], row["trial"])


def _altered_beside(entry: Entry, row: Mapping[str, Any]) -> list[str]:
    wrong = [name for name in _COLUMNS if getattr(entry, name) != row[name]]
    return [f"The {entry.called}: its {' and its '.join(wrong)} in the index was altered."] if wrong else []


def _broken_references(store: Store, entries: list[Entry]) -> Iterator[str]:
    versions, names = store.versions(), {row["id"]: _called(row) for row in store.rows()}
    for entry in entries:
        if not names.keys() >= set(entry.supersedes):
            yield f"The {entry.called} replaces an entry that is not in this book."
        if versions.circular(entry.id):
            yield f"The {entry.called} and others replace one another in a circle."
    written = {(entry.id, old) for entry in entries for old in entry.supersedes}
    for new in sorted({new for new, _ in written.symmetric_difference(store.links()) if new in names}):
        yield f"The {names[new]}: the note of what it replaces was altered."


def _bad_photos(entries: list[Entry], photos: "Photos") -> Iterator[str]:
    from labkit.book.photos import names_in

    for entry in entries:
        for name in sorted(names_in(entry.payload)):
            problem = photos.problem(name)
            if problem:
                yield f"The {entry.called}: its photo {problem}."
