"""Opening a book twice in one process leaves the locks of the first opening alone.

A plain handle on the file, once closed, dropped SQLite's locks on it. The next process to
open and close the book took itself for the last one and removed the log beside it, and
what the first process wrote from then on went into a file without a name.
"""

import sqlite3
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from labkit.book import TrialBook, take_in_lines, write_lines
from labkit.errors import LabError

BOX = "attic.box"
COUNT = """
import sqlite3, sys
book = sqlite3.connect(sys.argv[1])
print(book.execute("SELECT count(*) FROM entry").fetchone()[0])
book.close()
"""


@pytest.fixture
def path(tmp_path) -> Path:
    return tmp_path / "lab-book.db"


def seen_by_another_process(path: Path) -> int:
    """Open the book with none of our code, count its entries, and close it again."""
    return int(subprocess.check_output([sys.executable, "-S", "-c", COUNT, str(path)], text=True))


def test_what_two_openings_write_is_seen_by_another_process(path):
    with TrialBook(path) as panel, TrialBook(path) as cell:
        panel.append(BOX, {"n": 1}, trial="Locks")
        assert len(cell.entries()) == seen_by_another_process(path) == 1
        assert path.with_name("lab-book.db-wal").exists(), "the log is there as long as the book is open"
        panel.append(BOX, {"n": 2}, trial="Locks")
        cell.append(BOX, {"n": 3}, trial="Locks")
        assert seen_by_another_process(path) == 3
    with TrialBook(path) as book:
        assert sorted(each.payload["n"] for each in book.entries()) == [1, 2, 3]
        assert book.check() == []
    with sqlite3.connect(path) as plain:
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    plain.close()


def test_an_open_book_is_not_read_beside_its_connections(path, tmp_path, monkeypatch):
    with TrialBook(path) as first:
        first.append(BOX, {"n": 1}, trial="Locks")
        real = Path.open
        monkeypatch.setattr(Path, "open", lambda file, *args: real(file, *args) if file != path else 1 / 0)
        with TrialBook(path) as second:
            assert len(second.entries()) == 1
        for call in (take_in_lines, write_lines):
            with pytest.raises(LabError, match="is itself the file of a trial book"):
                call(first, path)
        assert write_lines(first, tmp_path / "out.jsonl") == 1
        assert len(first.entries()) == 1


def test_threads_that_open_at_once_read_the_file_once(path, monkeypatch):
    TrialBook(path).close()
    read, real = [], Path.open

    def slowly(file, *args):
        read.append(file)
        time.sleep(0.05)
        return real(file, *args)

    monkeypatch.setattr("labkit.book.engine._KNOWN_BOOKS", set())
    monkeypatch.setattr(Path, "open", slowly)
    with ThreadPoolExecutor(8) as pool:
        for book in list(pool.map(lambda _: TrialBook(path), range(8))):
            book.close()
    assert read == [path]
