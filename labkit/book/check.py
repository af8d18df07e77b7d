"""What is wrong in a book: altered entries, references to nothing, photos that are gone."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from labkit.book.entry import Entry, entry_from_text
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
            entries.append(_read(row))
        except LabError as error:
            found.append(str(error) if row["id"] in str(error) else f"Entry {row['id']}: {error}")
    found += _broken_references(store, entries)
    return found + list(_bad_photos(entries, photos)) if photos else found


def _read(row: dict[str, Any]) -> Entry:
    entry = entry_from_text(row["text"], row["hash"])
    wrong = [name for name in _COLUMNS if getattr(entry, name) != row[name]]
    if wrong:
        raise LabError(f"Entry {row['id']}: its {', '.join(wrong)} beside the text was altered.")
    return entry


def _broken_references(store: Store, entries: list[Entry]) -> Iterator[str]:
    versions, ids = store.versions(), {row["id"] for row in store.rows()}
    for entry in entries:
        for old in entry.supersedes:
            if old not in ids:
                yield f"Entry {entry.id} replaces {old}, which is not in this book."
        if versions.circular(entry.id):
            yield f"Entry {entry.id} and others replace one another in a circle."
    written = {(entry.id, old) for entry in entries for old in entry.supersedes}
    for new, old in sorted(written.symmetric_difference(store.links())):
        if new in ids:
            yield f"Entry {new}: what it replaces ({old}) was altered beside the text."


def _bad_photos(entries: list[Entry], photos: "Photos") -> Iterator[str]:
    from labkit.book.photos import names_in

    for entry in entries:
        for name in sorted(names_in(entry.payload)):
            problem = photos.problem(name)
            if problem:
                yield f"Entry {entry.id}: the photo {name} {problem}."
