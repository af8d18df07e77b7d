"""Opening a database: what is set on every connection, and errors in the maker's words."""

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError

from labkit.book.given import given_path
from labkit.errors import LabError

APPLICATION_ID = 0x4C61624B  # "LabK", in the header of every trial book's file
BUSY_MS = 30_000
"""How long a writer waits for another one [ms]."""

_MAGIC = b"SQLite format 3\0"
_SQLITE = {
    "SQLITE_FULL": "The disk is full: nothing was saved. Make room, then save again.",
    "SQLITE_READONLY": "The trial book is read-only: nothing was saved. Put it into a folder of your own.",
    "SQLITE_CANTOPEN": "The trial book cannot be opened: its folder is read-only, or the file is gone.",
    "SQLITE_BUSY": "Another program keeps the trial book busy: nothing was saved. Save again.",
    "SQLITE_LOCKED": "Another program keeps the trial book busy: nothing was saved. Save again.",
    "SQLITE_CORRUPT": "The file of the trial book is damaged. Keep it, and go on from a copy.",
    "SQLITE_NOTADB": "This file is no trial book.",
    "SQLITE_IOERR_WRITE": "The disk took no more: nothing was saved. Make room on it, then save again.",
    "SQLITE_IOERR_SHMSIZE": "The disk took no more: nothing was saved. Make room on it, then save again.",
    "SQLITE_IOERR": "The disk did not answer: nothing was saved. Check the drive, then save again.",
}


def url_of(location: str | os.PathLike[str]) -> URL:
    """Return the database URL of a path or URL; raise `LabError` for one of another kind."""
    given_path(location, "the file that the trial book lies in")
    if "://" not in str(location):
        return URL.create("sqlite", database=str(Path(location).expanduser().resolve()))
    try:
        url = make_url(str(location))
    except (ArgumentError, ValueError) as error:
        raise LabError(
            "This is not the address of a database: postgresql+psycopg://name@server/book."
        ) from error
    if url.get_backend_name() == "sqlite":
        if not url.database or url.database == ":memory:":
            raise LabError("A trial book lies in a file: name it.")
        return url_of(url.database)
    if url.get_backend_name() != "postgresql":
        raise LabError(f"A trial book lies in a file or on PostgreSQL; “{url.drivername}” is neither.")
    return url.set(drivername="postgresql+psycopg") if url.drivername == "postgresql" else url


def open_engine(url: URL) -> Engine:
    """Return an engine whose every connection puts a write on the disk before it returns."""
    on_file = url.get_backend_name() == "sqlite"
    try:
        engine = create_engine(url, connect_args={"timeout": BUSY_MS / 1000} if on_file else {})
    except (ModuleNotFoundError, NoSuchModuleError) as error:
        raise LabError("For a book on PostgreSQL install psycopg: pip install “psycopg[binary]”.") from error
    event.listen(engine, "connect", _prepare_file if on_file else _prepare_server)
    if on_file:
        event.listen(engine, "begin", _begin)
    return engine


@contextmanager
def saying(url: URL) -> Iterator[None]:
    """Turn an error of the database into a `LabError` that says what to do."""
    try:
        yield
    except SQLAlchemyError as error:
        raise LabError(_in_words(error, url)) from error


def refuse_other_files(path: Path) -> None:
    """Raise `LabError` unless `path` is the file of a trial book; only its first bytes are read.

    They are read once in a process: on POSIX, closing a file drops all locks that
    the process holds on it, those of its open connections too
    (sqlite.org/howtocorrupt.html, section 2.2; from memory).
    """
    if not is_book(path):
        raise LabError(
            f"“{path}” is no trial book. Nothing in it was changed; move it away, or choose another name."
        )


def is_book(path: Path) -> bool:
    """Return whether `path` is the file of a trial book; one that was opened here is not read again."""
    found = (str(path.resolve()), path.stat().st_ino)
    with _READING:
        if found in _KNOWN_BOOKS:
            return True
        with path.open("rb") as file:
            head = file.read(100)
        if not head.startswith(_MAGIC) or int.from_bytes(head[68:72], "big") != APPLICATION_ID:
            return False
        _KNOWN_BOOKS.add(found)
        return True


_KNOWN_BOOKS: set[tuple[str, int]] = set()
_READING = threading.Lock()


def _prepare_file(connection: Any, _record: Any) -> None:
    connection.isolation_level = None
    for setting in (f"busy_timeout={BUSY_MS}", "synchronous=FULL", "foreign_keys=ON"):
        connection.execute(f"PRAGMA {setting}")
    _write_ahead(connection)


def _write_ahead(connection: Any) -> None:
    mode = connection.execute("PRAGMA journal_mode=WAL").fetchone()[0]
    if mode != "wal":
        raise LabError("This drive cannot keep a trial book safely (no write-ahead log). Use a local disk.")


def _prepare_server(connection: Any, _record: Any) -> None:
    autocommit, connection.autocommit = connection.autocommit, True
    connection.execute("SET synchronous_commit TO on")
    connection.autocommit = autocommit


def _begin(connection: Any) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _in_words(error: SQLAlchemyError, url: URL) -> str:
    cause = error.orig if isinstance(error, DBAPIError) else error
    name = getattr(cause, "sqlite_errorname", "")
    for start, words in _SQLITE.items():
        if name.startswith(start):
            return f"{words} ({url.database})"
    if getattr(cause, "sqlstate", "") == "42501":  # insufficient privilege (PostgreSQL, appendix A)
        said = "may read this book and not write in it: nothing was saved"
        return f"“{url.username}” {said}. Ask whoever runs the server."
    where = url.render_as_string(hide_password=True) if url.host else str(url.database)
    return f"The trial book {where} cannot be used: {str(cause).strip().splitlines()[0]}."
