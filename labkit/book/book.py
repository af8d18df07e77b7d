"""The trial book: what was done and seen, written down once and never lost."""

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from labkit.book.canonical import canonical, parse, plain
from labkit.book.check import problems
from labkit.book.entry import WITHDRAWAL, Entry, checked_kind, checked_maker, new_entry
from labkit.book.frame import Row, frame_of
from labkit.book.given import (
    given_entries,
    given_id,
    given_path,
    given_payload,
    given_text,
    refuse_mistyped,
    tidy,
)
from labkit.book.record import Record, Withdrawal, record_type
from labkit.book.revising import all_of_fork, all_or_that, one_version
from labkit.book.store import Store
from labkit.book.versions import Versions
from labkit.errors import LabError

if TYPE_CHECKING:
    import pandas as pd

    from labkit.book.exchange import Report
    from labkit.book.photos import Photos


class TrialBook:
    """A grow-only set of entries in a file, or on PostgreSQL by its URL.

    A path that does not exist yet becomes a new book. An entry is on the disk
    when the call that wrote it returns. Threads, kernels and machines may write
    at once.

    Parameters
    ----------
    location : a path, or ``postgresql+psycopg://…``
    maker : random id (a UUID) of who writes; else the one drawn when the book was made
    photos : folder of the photos; beside a file it is ``<name>.photos``

    Raises `LabError` where `location` holds something else, is read-only, is in
    a folder that does not exist, or was written by a newer labkit.

    A place that a person corrects is named in one of two ways. An `Entry`, or the
    id of a version that is not the first, names *that version*: when it has been
    replaced meanwhile, the correction makes a fork that `forks` shows. The id of
    the first version names *the thing* and stands for its one current version.
    """

    def __init__(
        self,
        location: str | os.PathLike[str],
        maker: str | None = None,
        *,
        photos: str | os.PathLike[str] | None = None,
    ) -> None:
        given = checked_maker(maker) if maker else ""
        given_photos = given_path(photos, "the folder of the photos") if photos else None
        self._store = Store(location)
        self.path = self._store.path
        self.maker = given or self._store.own_maker()
        self._photo_folder = given_photos or (self.path and self.path.with_suffix(".photos"))
        self._closed = False

    def __repr__(self) -> str:
        place = self.path.name if self.path else self._store.url.render_as_string(hide_password=True)
        return f"TrialBook({place!r})"

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the book; what was written stays."""
        self._closed = True
        self._store.close()

    # Writing

    def append(
        self,
        kind: str,
        payload: Mapping[str, Any] | Record,
        *,
        trial: str,
        id: str | None = None,
        time: datetime | str | None = None,
    ) -> Entry:
        """Write an entry and return it. Sending the same again, with the same `id`, changes nothing.

        Parameters
        ----------
        kind : ``room.name``
        payload : fields by name; checked by the record of the kind where there is one
        trial : its name; blanks around it and doubled ones are dropped
        id : of the press that sends it, a UUID of version 7; else a new one
        time : when it happened, with its time zone; else that of the id

        Raises `RecordError` where fields do not fit the kind, and `LabError` for
        what cannot be written down, or where `id` is here with other content.
        """
        if kind == WITHDRAWAL:
            raise LabError("A withdrawal says what it withdraws: use withdraw(entry).")
        return self._write(kind, payload, trial, id, time)

    def correct(
        self,
        entry: Entry | str,
        payload: Mapping[str, Any] | Record,
        *,
        trial: str | None = None,
        id: str | None = None,
    ) -> Entry:
        """Write a new version with this payload and return it; the old ones stay in the history.

        An `Entry`, or the id of a later version, is the version that was at the
        maker's hand: if another correction replaced it meanwhile, both are current
        and `forks` shows them. The id of the first version stands for the one
        current version; `LabError` where there are several (see `settle`).
        A withdrawn entry is put back by correcting it. `trial` moves it to another one.
        """
        return self._revise(entry, payload, one_version, trial, id)

    def settle(
        self,
        entry: Entry | str,
        payload: Mapping[str, Any] | Record,
        *,
        trial: str | None = None,
        id: str | None = None,
    ) -> Entry:
        """Write the version that a person chose in a fork; it replaces all current ones.

        `entry` is any version of it, or the id of one. `LabError` where there is no fork.
        """
        return self._revise(entry, payload, all_of_fork, trial, id)

    def withdraw(self, entry: Entry | str, reason: str = "", *, id: str | None = None) -> Entry:
        """Withdraw an entry and return the withdrawal; what was withdrawn stays in the history.

        The id of the first version withdraws the thing, all current versions of
        it; an `Entry` or the id of a later version withdraws that version alone.
        Withdrawing what is withdrawn already returns the withdrawal that stands.
        """
        named, versions = self._find(entry), self._store.versions()
        if id is None and versions.withdrawn(named.id):
            return self.get(versions.heads(named.id)[0])
        return self._revise(entry, Withdrawal(reason=reason), all_or_that, None, id)

    def _revise(
        self,
        entry: Entry | str,
        payload: Mapping[str, Any] | Record,
        choose: "Callable[[Entry | str, Versions], Sequence[str]]",
        trial: str | None,
        id: str | None,
    ) -> Entry:
        named, versions = self._find(entry), self._store.versions()
        kind = WITHDRAWAL if isinstance(payload, Withdrawal) else self._kind(named, versions)
        sent = self._store.get(given_id(id)) if id else None
        if sent and id in versions.members(named.id):
            replaced: Sequence[str] = sent.supersedes
        else:
            replaced = choose(entry, versions)
        before = self._store.by_ids(replaced).get(replaced[0], named)
        return self._write(kind, payload, trial or before.trial, id, None, tuple(replaced))

    def _kind(self, named: Entry, versions: Versions) -> str:
        kinds = (each.kind for each in self._listed(named.id, versions))
        return next((kind for kind in kinds if kind != WITHDRAWAL), named.kind)

    def _write(
        self,
        kind: str,
        payload: Mapping[str, Any] | Record,
        trial: str,
        id: str | None,
        time: datetime | str | None,
        supersedes: tuple[str, ...] = (),
    ) -> Entry:
        values, schema = given_payload(kind, payload)
        entry = new_entry(
            kind, tidy(trial), values, self.maker, schema=schema, id=id, time=time, supersedes=supersedes
        )
        _, clashes = self.keep([entry])
        if clashes:
            raise LabError("This press has saved something else already. Press again to save this too.")
        return entry

    def keep(self, entries: Sequence[Entry]) -> tuple[int, list[str]]:
        """Keep finished entries, all or none: a union.

        Return how many were new, and the ids that hold other content.
        """
        self._refuse_closed()
        entries = given_entries(entries)
        added = self._store.add(entries)
        written = {each.id: each for each in reversed(entries) if each.id in added}
        rest = [each for each in entries if each is not written.get(each.id)]
        here = self._store.by_ids({each.id for each in rest}) if rest else {}
        return len(added), [each.id for each in rest if here[each.id].hash != each.hash]

    def take_in(
        self,
        other: "TrialBook | str | os.PathLike[str]",
        *,
        progress: Callable[[int], None] | None = None,
    ) -> "Report":
        """Take in another book, a bundle or a written-out book, with photos: nothing is overwritten.

        `other` is an open book, the file or URL of one, a bundle (``.zip``), or a file of lines. Return how
        many entries were new, how many here already, and what was refused, by name; a second time changes
        nothing. No code of a bundle is run. `progress` is told now and then how many entries were looked
        at; what it raises stops it without harm. Raises `LabError` where `other` is none of these.
        """
        from labkit.book.taking import take_in_other

        self._refuse_closed()
        return take_in_other(self, other, progress)

    # Reading

    def get(self, id: str) -> Entry:
        """Return the entry, or version of one, with this id; raise `LabError` where there is none."""
        self._refuse_closed()
        found = self._store.get(given_id(id))
        if found is None:
            raise LabError(f"There is no entry {id[:80]} in this book. Take in the book that it comes from.")
        return found

    def has(self, id: str) -> bool:
        """Return whether an entry with this id is in the book."""
        self._refuse_closed()
        return self._store.get(given_id(id)) is not None

    def entries(self, kind: str | None = None, trial: str | None = None) -> list[Entry]:
        """Return the current versions, in the order in which their first versions were written.

        Withdrawn entries are left out; of a fork, all current versions are there.
        """
        return [row.head for row in self.rows(kind, trial)]

    def all_entries(self) -> Iterator[Entry]:
        """Yield everything that was ever written, versions and withdrawals too, sorted by id."""
        self._refuse_closed()
        yield from self._store.all()

    def history(self, entry: Entry | str) -> list[Entry]:
        """Return every version, corrections and withdrawals included, each after what it replaces.

        `entry` is any version of it, or the id of one.
        """
        return self._listed(self._find(entry).id, self._store.versions())

    def taken_back(self, trial: str) -> list[Entry]:
        """Return what stands withdrawn in a trial, each as it stood last, the latest withdrawal first."""
        gone = sorted(self._store.withdrawals(trial), key=lambda each: each.id, reverse=True)
        stood = [[each for each in self.history(end) if each.kind != WITHDRAWAL] for end in gone]
        return [versions[-1] for versions in stood if versions]

    def forks(self) -> dict[str, list[Entry]]:
        """Return what a person must settle: the current versions, by the id of the first version."""
        self._refuse_closed()
        versions = self._store.versions()
        firsts = sorted({versions.first(id) for id in versions.linked() if versions.forked(id)})
        heads = {first: self._store.by_ids(versions.heads(first)) for first in firsts}
        return {first: [found[id] for id in sorted(found)] for first, found in heads.items()}

    def trials(self) -> list[str]:
        """Return the names of the trials that have a current entry, sorted."""
        self._refuse_closed()
        return self._store.trials()

    def frame(self, kind: str, trial: str | None = None) -> "pd.DataFrame":
        """Return a tidy DataFrame of the current entries of a kind, one row each, oldest first.

        Columns: “entry” (id of the first version: what references name), “trial”,
        “maker” and “time” (UTC) of the first version, “forked”, then the fields of
        the kind with their units in the names. Withdrawn entries are left out;
        both sides of a fork are rows. A mapping like ``weighed_g`` is spread over
        columns (``beeswax_g``), told in ``.attrs["spread"]``. An unknown kind shows
        its payload raw. Raises `LabError` for entries that a newer labkit wrote.
        """
        record = record_type(checked_kind(kind))
        return frame_of(self.rows(kind, trial), record, self._store.written_by())

    def check(self) -> list[str]:
        """Return what is wrong in the book, one sentence each; an empty list where all is well.

        Looked at: every text against its hash and the canonical form, the stored
        columns against the text, what is superseded, and the photos.
        """
        self._refuse_closed()
        return problems(self._store, self._photos() if self._photo_folder else None)

    def rows(self, kind: str | None = None, trial: str | None = None) -> list[Row]:
        """Return the current versions with what is told of the things they are versions of, oldest first.

        The pieces that `frame` is made of: the version, the id of the first one (what
        references name), the first one itself, and whether a person must settle a fork.
        """
        self._refuse_closed()
        if kind is not None and record_type(checked_kind(kind)) is None and not self._store.has_kind(kind):
            refuse_mistyped(kind)
        wanted, versions = self._store.current(kind, trial if trial is None else tidy(trial))
        firsts = {each.id: versions.first(each.id) for each in wanted}
        first = self._store.by_ids({old for id, old in firsts.items() if old != id})
        rows = [
            Row(each, firsts[each.id], first.get(firsts[each.id], each), versions.forked(each.id))
            for each in wanted
        ]
        return sorted(rows, key=lambda row: (row.entry, row.head.id))

    def _listed(self, id: str, versions: Versions) -> list[Entry]:
        ids = versions.oldest_first(id)
        found = self._store.by_ids(ids)
        return [found[each] for each in ids if each in found]

    def _find(self, entry: Entry | str) -> Entry:
        return self.get(given_id(entry))

    def _refuse_closed(self) -> None:
        if self._closed:
            raise LabError("This trial book was closed. Open it again: TrialBook(…).")

    # What is being typed, and people

    def draft(self, key: str) -> dict[str, Any] | None:
        """Return what was typed under a key and is not saved yet, or None."""
        self._refuse_closed()
        text = self._store.draft(given_text(key, "the key of a draft"))
        return None if text is None else parse(text)

    def keep_draft(self, key: str, values: Mapping[str, Any]) -> None:
        """Keep what is being typed, in place of what was kept under this key before."""
        self._refuse_closed()
        self._store.keep_draft(given_text(key, "the key of a draft"), canonical(values, "draft"))

    def drop_draft(self, key: str) -> None:
        """Forget what was typed under a key, once it is saved."""
        self._refuse_closed()
        self._store.drop_draft(given_text(key, "the key of a draft"))

    def name_person(self, name: str, maker: str | None = None) -> None:
        """Keep the name of a maker (this one by default); it is hashed nowhere and never handed on."""
        self._refuse_closed()
        self._store.name_person(
            checked_maker(maker or self.maker), plain(given_text(name, "the name"), "name")
        )

    def people(self) -> dict[str, str]:
        """Return the names of makers, by maker id."""
        self._refuse_closed()
        return self._store.people()

    # Photos

    def add_photo(self, photo: bytes | str | os.PathLike[str]) -> str:
        """Keep a photo beside the book and return its name, for a payload.

        Location, camera serial and all other notes are taken out first.
        """
        self._refuse_closed()
        return self._photos().add(photo if isinstance(photo, bytes) else given_path(photo, "a photo"))

    def photo_path(self, name: str) -> Path:
        """Return where the photo of this name lies; raise `LabError` where it is not there."""
        path = self._photos().path(given_text(name, "the name of a photo"))
        if not path.is_file():
            raise LabError("This photo is not beside this book. Take it in from where it was made.")
        return path

    def keep_photo(self, name: str, content: Callable[[], bytes]) -> bool:
        """Keep a photo that another book has, under its name; return whether it was not here yet.

        ``content`` is asked only then. Raises `LabError` where it is not the photo of this name.
        """
        self._refuse_closed()
        return self._photos().keep(given_text(name, "the name of a photo"), content)

    def _photos(self) -> "Photos":
        from labkit.book.photos import Photos

        if self._photo_folder is None:
            raise LabError("A book on a server keeps its photos in a folder: TrialBook(url, photos=folder).")
        return Photos(self._photo_folder)
