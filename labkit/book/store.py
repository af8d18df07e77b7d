"""Where the entries lie: SQLite in one file, or PostgreSQL by its URL; the same code for both."""

import os
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import uuid4

from sqlalchemy import URL, Connection, Engine, Select, delete, select, text, update
from sqlalchemy.dialects import postgresql, sqlite

from labkit import __version__
from labkit.book import tables
from labkit.book.engine import APPLICATION_ID, open_engine, refuse_other_files, saying, url_of
from labkit.book.entry import WITHDRAWAL, Entry, now_text, stored_entry
from labkit.book.files import place_new, plainly
from labkit.book.release import numbers
from labkit.book.versions import Versions
from labkit.errors import LabError

CHUNK = 500
"""Entries in one statement: SQLite allows 32,766 values, seven for each."""


class Store:
    """The tables of one book. Safe to use from several threads and processes at once.

    Raises `LabError` where the place holds something else, is of a newer
    format, or cannot be written.
    """

    def __init__(self, location: str | os.PathLike[str]) -> None:
        self.url: URL = url_of(location)
        self.path = Path(self.url.database or "") if self.url.get_backend_name() == "sqlite" else None
        if self.path:
            _ready_file(self.path)
        self.engine: Engine = open_engine(self.url)
        self._insert: Any = {"sqlite": sqlite, "postgresql": postgresql}[self.engine.dialect.name].insert
        self._signed = False
        try:
            with saying(self.url):
                _bring_up_to_date(self.engine)
        except LabError:
            self.close()
            raise

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one moment of the book, whoever writes meanwhile."""
        options = {} if self.path else {"isolation_level": "REPEATABLE READ"}
        with saying(self.url), self.engine.connect().execution_options(**options) as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection whose changes are on the disk, all or none, when the block ends."""
        with saying(self.url), _writer(self.engine) as connection, connection.begin():
            yield connection

    def add(self, entries: Sequence[Entry]) -> set[str]:
        """Keep entries and return the ids of those that were not here; others stay as they are."""
        added: set[str] = set()
        ordered = sorted(entries, key=lambda each: each.id)  # two writers at once never wait for each other
        with self.writing() as connection:
            for start in range(0, len(ordered), CHUNK):
                added |= self._add_chunk(connection, ordered[start : start + CHUNK])
            if added and not self._signed:
                _sign(connection)
        self._signed = self._signed or bool(added)
        return added

    def _add_chunk(self, connection: Connection, entries: Sequence[Entry]) -> set[str]:
        new = self._insert(tables.entry).on_conflict_do_nothing().returning(tables.entry.c.id)
        added = set(connection.scalars(new, [_row(each) for each in entries]))
        links = [
            {"entry": each.id, "old": old} for each in entries if each.id in added for old in each.supersedes
        ]
        if links:
            connection.execute(self._insert(tables.link).on_conflict_do_nothing(), links)
        return added

    def get(self, id: str) -> Entry | None:
        """Return the entry with this id, or None."""
        with self.reading() as connection:
            return next(_entries(connection, [id]), None)

    def by_ids(self, ids: Iterable[str]) -> dict[str, Entry]:
        """Return the entries with these ids, by id; those that are not here are left out."""
        with self.reading() as connection:
            return {each.id: each for each in _entries(connection, list(ids))}

    def all(self) -> list[Entry]:
        """Return all entries, by id."""
        with self.reading() as connection:
            return _read(connection, _texts().order_by(tables.entry.c.id))

    def current(self, kind: str | None, trial: str | None) -> tuple[list[Entry], Versions]:
        """Return what nothing replaces and is no withdrawal, and the whole book's versions, at one moment.

        Of a kind, of a trial, or of all where that is None.
        """
        wanted = {tables.entry.c.kind: kind, tables.entry.c.trial: trial}
        query = _texts().where(
            *_CURRENT, *(column == value for column, value in wanted.items() if value is not None)
        )
        with self.reading() as connection:
            return _read(connection, query), _versions(connection)

    def withdrawals(self, trial: str) -> list[Entry]:
        """Return the withdrawals of a trial that nothing replaces."""
        gone = (tables.entry.c.kind == WITHDRAWAL, tables.entry.c.trial == trial)
        with self.reading() as connection:
            return _read(connection, _texts().where(_UNREPLACED, *gone))

    def has_kind(self, kind: str) -> bool:
        """Return whether any version of this kind was ever written."""
        query = select(tables.entry.c.id).where(tables.entry.c.kind == kind).limit(1)
        with self.reading() as connection:
            return connection.scalar(query) is not None

    def versions(self) -> Versions:
        """Return which versions belong together, over the whole book."""
        with self.reading() as connection:
            return _versions(connection)

    def rows(self) -> Iterator[dict[str, Any]]:
        """Yield every stored row as it lies there, unchecked, ordered by id."""
        with self.reading() as connection:
            query = select(tables.entry).execution_options(yield_per=CHUNK)
            for row in connection.execute(query.order_by(tables.entry.c.id)).mappings():
                yield dict(row)

    def links(self) -> list[tuple[str, str]]:
        """Return all pairs (newer, older) as they are stored."""
        with self.reading() as connection:
            return [(new, old) for new, old in connection.execute(select(tables.link))]

    def trials(self) -> list[str]:
        """Return the trials that any current entry names, sorted."""
        current = select(tables.entry.c.trial).where(*_CURRENT)
        with self.reading() as connection:
            return sorted(connection.scalars(current.distinct()))

    def own_maker(self) -> str:
        """Return the maker id that was drawn when the book was made."""
        with self.reading() as connection:
            return str(connection.scalar(select(tables.book.c.maker)))

    def written_by(self) -> str:
        """Return the newest version of labkit that wrote in this book."""
        with self.reading() as connection:
            return str(connection.scalar(select(tables.book.c.labkit)))

    def draft(self, key: str) -> str | None:
        """Return the text kept under a key, or None."""
        with self.reading() as connection:
            return connection.scalar(select(tables.draft.c.text).where(tables.draft.c.key == key))

    def keep_draft(self, key: str, text: str) -> None:
        """Keep a text under a key in place of the one before."""
        values = {"text": text, "updated": now_text()}
        new = self._insert(tables.draft).values(key=key, **values)
        with self.writing() as connection:
            connection.execute(new.on_conflict_do_update(index_elements=["key"], set_=values))

    def drop_draft(self, key: str) -> None:
        """Forget the text under a key; nothing happens where there is none."""
        with self.writing() as connection:
            connection.execute(delete(tables.draft).where(tables.draft.c.key == key))

    def name_person(self, maker: str, name: str) -> None:
        """Keep the name of a maker in place of the one before."""
        new = self._insert(tables.person).values(maker=maker, name=name)
        with self.writing() as connection:
            connection.execute(new.on_conflict_do_update(index_elements=["maker"], set_={"name": name}))

    def people(self) -> dict[str, str]:
        """Return the names of makers, by maker id."""
        with self.reading() as connection:
            return {row.maker: row.name for row in connection.execute(select(tables.person))}


_UNREPLACED = tables.entry.c.id.not_in(select(tables.link.c.old))
_CURRENT = (tables.entry.c.kind != WITHDRAWAL, _UNREPLACED)


def _read(connection: Connection, query: Select[tuple[str, str]]) -> list[Entry]:
    return [stored_entry(row.text, row.hash) for row in connection.execute(query)]


def _texts() -> Select[tuple[str, str]]:
    return select(tables.entry.c.text, tables.entry.c.hash)


def _entries(connection: Connection, ids: Collection[str]) -> Iterator[Entry]:
    """Yield entries by id, checked against their hash."""
    wanted = list(ids)
    for start in range(0, len(wanted), CHUNK):
        query = _texts().where(tables.entry.c.id.in_(wanted[start : start + CHUNK]))
        for row in connection.execute(query):
            yield stored_entry(row.text, row.hash)


def _versions(connection: Connection) -> Versions:
    links = connection.execute(select(tables.link.c.entry, tables.link.c.old))
    withdrawn = connection.scalars(select(tables.entry.c.id).where(tables.entry.c.kind == WITHDRAWAL))
    return Versions([(new, old) for new, old in links], withdrawn)


def _row(entry: Entry) -> dict[str, str]:
    row = {name: getattr(entry, name) for name in ("id", "kind", "trial", "time", "maker", "hash")}
    return row | {"text": entry.text}


@contextmanager
def _writer(engine: Engine) -> Iterator[Connection]:
    with engine.connect().execution_options(writes=True) as connection:
        yield connection


def _ready_file(path: Path) -> None:
    """Make the file of a new book, or refuse what lies there and is none."""
    if not path.parent.is_dir():
        raise LabError(f"There is no folder “{path.parent}”. Make it first, or check its name.")
    with plainly(path):
        if not path.exists():
            _make_file(path)
        refuse_other_files(path)
    if not (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)):
        raise LabError(f"“{path}” is read-only, it or its folder. Copy it into a folder of your own.")


def _make_file(path: Path) -> None:
    """Build a new book beside, then put it in place whole: two openers at once end in one book."""
    made = path.with_name(f".{path.name}.{uuid4().hex}.new")
    if not os.access(path.parent, os.W_OK):
        raise PermissionError(13, "read-only", str(path.parent))
    url = url_of(made)
    engine = open_engine(url)
    try:
        with saying(url):
            with _writer(engine) as connection, connection.begin():
                connection.execute(text(f"PRAGMA application_id={APPLICATION_ID}"))
            _bring_up_to_date(engine)
        engine.dispose()
        place_new(made, path)
    finally:
        engine.dispose()
        for left in (made, made.with_name(made.name + "-wal"), made.with_name(made.name + "-shm")):
            left.unlink(missing_ok=True)


def _bring_up_to_date(engine: Engine) -> None:
    """Take every step that is missing, each in a transaction of its own."""
    with engine.connect() as connection:
        format = tables.found_format(connection)
        if format:
            tables.refuse_newer_format(connection, format)
    while format < len(tables.MIGRATIONS):
        with _writer(engine) as connection, connection.begin():
            if engine.dialect.name == "postgresql":
                connection.execute(text(f"SELECT pg_advisory_xact_lock({APPLICATION_ID})"))
            format = tables.found_format(connection)
            if format < len(tables.MIGRATIONS):
                format = tables.migrate(connection, format)
                _sign(connection)


def _sign(connection: Connection) -> None:
    """Note which labkit wrote here, where it is newer than the last that did."""
    before = connection.scalar(select(tables.book.c.labkit)) or ""
    if numbers(__version__) > numbers(before):
        connection.execute(update(tables.book).values(labkit=__version__))
