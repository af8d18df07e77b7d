"""The texture trials of a book: each is a question, and its name is only what it is called."""

from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from labkit.book import TrialBook
    from labkit.book.frame import Row


def trials(book: "TrialBook") -> dict[str, str]:
    """Return the first version of each trial's question by the trial's name, the newest first.

    Two trials of one name (one came in from another book) are told apart by their
    dates, and where those agree by the time.
    """
    rows = {row.entry: row for row in book.rows("texture.question")}
    newest = sorted(rows.values(), key=lambda row: row.entry, reverse=True)
    return {_told_apart(row, newest): row.entry for row in newest}


def trial_names(book: "TrialBook") -> list[str]:
    """Return the names of the book's texture trials, the newest first."""
    return list(trials(book))


def _told_apart(row: "Row", among: list["Row"]) -> str:
    alike = [each for each in among if each.head.trial == row.head.trial]
    for name in (_plain, _dated, _timed):
        if [name(each) for each in alike].count(name(row)) == 1:
            return name(row)
    return f"{_timed(row)} ({alike.index(row) + 1})"


def _plain(row: "Row") -> str:
    return row.head.trial


def _dated(row: "Row") -> str:
    return f"{row.head.trial} ({_began(row):%d %b %Y})"


def _timed(row: "Row") -> str:
    return f"{row.head.trial} ({_began(row):%d %b %Y, %H:%M:%S})"


def _began(row: "Row") -> datetime:
    return row.first.when.astimezone()
