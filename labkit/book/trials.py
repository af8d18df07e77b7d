"""The trials of a book: each is a question, and its name is only what it is called."""

from datetime import datetime
from typing import TYPE_CHECKING
from unicodedata import normalize

from labkit.errors import LabError, did_you_mean

if TYPE_CHECKING:
    from labkit.book.book import TrialBook
    from labkit.book.entry import Entry
    from labkit.book.frame import Row
    from labkit.book.record import Record


def named_trials(book: "TrialBook", kind: str) -> dict[str, str]:
    """Return the first version of each trial's question by the trial's name, the newest first.

    ``kind`` is the kind of its question, such as "texture.question". Two trials of one name (one came in
    from another book) are told apart by their dates, and where those agree by the time.
    """
    rows = {row.entry: row for row in book.rows(kind)}
    newest = sorted(rows.values(), key=lambda row: row.entry, reverse=True)
    return {_told_apart(row, newest): row.entry for row in newest}


def find_trial(book: "TrialBook", kind: str, name: str | None) -> tuple[str, str]:
    """Return a trial's name and the entry of its question, by either of them; by default the newest.

    Raises
    ------
    LabError
        Where the book has no such trial.
    """
    known = named_trials(book, kind)
    room = kind.partition(".")[0]
    if not known:
        raise LabError(f"This book has no {room} trial yet. Start one.")
    names = {entry: called for called, entry in known.items()}
    if name is not None and name not in known and name not in names:
        raise LabError(f"There is no trial “{name}” in this book. {did_you_mean(name, known)}")
    entry = next(iter(known.values())) if name is None else known.get(name, name)
    return names[entry], entry


def refuse_taken(book: "TrialBook", kind: str, name: str) -> None:
    """Raise `LabError` where the book has a trial of this name and kind."""
    if folded(name) in {folded(each) for each in named_trials(book, kind)}:
        raise LabError(f"There is a trial “{name}” in this book already. Give this one another name.")


def free_name(book: "TrialBook", kind: str, name: str) -> str:
    """Return a name, with a number behind it where the book has a trial of this kind that is called so."""
    taken, number = {folded(each) for each in named_trials(book, kind)}, 1
    while folded(tried := name if number == 1 else f"{name} ({number})") in taken:
        number += 1
    return tried


def mend(book: "TrialBook", version: "Entry | str", record: "Record", id: str | None = None) -> None:
    """Correct the version that was shown, or what has this id; where it is forked, settle the fork."""
    forks = book.forks()
    by_id = isinstance(version, str)
    forked = version in forks if by_id else any(version in heads for heads in forks.values())
    (book.settle if forked else book.correct)(version, record, id=id)


def folded(name: str) -> str:
    """Return a name so that two that look alike are alike.

    >>> folded("Red   shade") == folded("red shade")
    True
    """
    return " ".join(normalize("NFC", name).split()).casefold()


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
