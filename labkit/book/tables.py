"""The tables of a trial book, the same on SQLite and PostgreSQL, and the steps that make them."""

from collections.abc import Callable

from sqlalchemy import (
    Column,
    Connection,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    insert,
    inspect,
    select,
    update,
)

from labkit import __version__
from labkit.book.entry import new_maker
from labkit.book.release import newer_than_this
from labkit.errors import LabError

metadata = MetaData()

entry = Table(
    "entry",
    metadata,
    Column("id", Text, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("trial", Text, nullable=False),
    Column("time", Text, nullable=False),
    Column("maker", Text, nullable=False),
    Column("hash", Text, nullable=False),
    Column("text", Text, nullable=False),
    Index("entry_kind_trial", "kind", "trial"),
)
"""Every entry: the hashed text, and beside it the fields that are looked for."""

link = Table(
    "link",
    metadata,
    Column("entry", Text, ForeignKey("entry.id"), primary_key=True),
    Column("old", Text, primary_key=True),
)
"""What an entry supersedes, read out of its text. The older one may not be here yet."""

person = Table(
    "person",
    metadata,
    Column("maker", Text, primary_key=True),
    Column("name", Text, nullable=False),
)
"""Names of makers: hashed nowhere, left out of everything that is handed on."""

draft = Table(
    "draft",
    metadata,
    Column("key", Text, primary_key=True),
    Column("text", Text, nullable=False),
    Column("updated", Text, nullable=False),
)
"""What was typed and is not saved yet."""

book = Table(
    "book",
    metadata,
    Column("format", Integer, nullable=False),
    Column("maker", Text, nullable=False),
    Column("labkit", Text, nullable=False),
)
"""One row: format of these tables, the book's own maker id, the newest labkit that wrote in it."""

TABLES = frozenset(metadata.tables)


def _first_tables(connection: Connection) -> None:
    metadata.create_all(connection)
    connection.execute(insert(book).values(format=0, maker=new_maker(), labkit=__version__))


MIGRATIONS: list[Callable[[Connection], None]] = [_first_tables]
"""One step from each format to the next; a step that has been released is never edited."""


def found_format(connection: Connection) -> int:
    """Return the format of the tables that are there, 0 for none at all.

    Raises `LabError` where the tables are not those of a trial book.
    """
    names = set(inspect(connection).get_table_names())
    if not names:
        return 0
    if "book" not in names or "entry" not in names:
        raise LabError("This database holds other things and is no trial book. Choose an empty one.")
    return int(connection.execute(select(book.c.format)).scalar_one())


def refuse_newer_format(connection: Connection, format: int) -> None:
    """Raise `LabError` where a newer labkit has changed the tables."""
    if format > len(MIGRATIONS):
        version = connection.execute(select(book.c.labkit)).scalar_one()
        raise LabError(
            f"This trial book was written by a newer labkit than this one ({__version__}). "
            f"Nothing in it was changed. To open it, install {newer_than_this(version)}."
        )


def migrate(connection: Connection, format: int) -> int:
    """Take the next step from `format` and return the format after it."""
    MIGRATIONS[format](connection)
    connection.execute(update(book).values(format=format + 1))
    return format + 1
