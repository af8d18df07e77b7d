"""Sudden death with other processes about: nothing that was acknowledged is lost, nothing is half there."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from labkit.book import TrialBook, write_lines
from labkit.book.entry import new_entry, new_maker

BOX = "attic.box"

TWO_OPENINGS = """
import sys
from labkit.book import TrialBook
panel, cell = TrialBook(sys.argv[1]), TrialBook(sys.argv[1])
for word in sys.stdin:
    for book in (panel, cell):
        print(book.append("attic.box", {"word": word.strip()}, trial="Killed").id, flush=True)
"""
KILLED_IN_A_BATCH = """
import os, signal, sys
from labkit.book import TrialBook, read_lines
from labkit.book.store import Store
import labkit.book.store
labkit.book.store.CHUNK = 2
real, done = Store._add_chunk, []
def killed(self, connection, chunk):
    if done:
        print("half", flush=True)
        os.kill(os.getpid(), signal.SIGKILL)
    done.append(real(self, connection, chunk))
    return done[-1]
Store._add_chunk = killed
TrialBook(sys.argv[1]).keep(list(read_lines(sys.argv[2])))
"""


@pytest.fixture
def path(tmp_path) -> Path:
    return tmp_path / "lab-book.db"


@pytest.fixture
def kernel(path) -> Iterator[subprocess.Popen]:
    """A process that has the book open twice, as a panel and a cell of its notebook do."""
    with subprocess.Popen(
        [sys.executable, "-c", TWO_OPENINGS, str(path)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as process:  # fmt: skip
        yield process
        process.kill()


def told(kernel: subprocess.Popen, word: str) -> list[str]:
    """Have both openings append; return the ids, which are acknowledged."""
    kernel.stdin.write(word + "\n")
    kernel.stdin.flush()
    return [kernel.stdout.readline().strip() for _ in range(2)]


def labkit(folder: Path, *words: str) -> str:
    command = [sys.executable, "-m", "labkit", "--lab", str(folder), *words]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_killed_after_others_looked_in_and_wrote(kernel, path, tmp_path, monkeypatch):
    """The commands open and close the book between the appends of a process that is then killed."""
    monkeypatch.delenv("LABKIT_BOOK", raising=False)
    theirs = new_entry(BOX, "Theirs", {"n": 1}, new_maker())
    with TrialBook(tmp_path / "theirs.db") as other:
        other.keep([theirs])
        write_lines(other, tmp_path / "theirs.jsonl")
    acknowledged = told(kernel, "before")
    assert "Everything is whole." in labkit(tmp_path, "check")
    acknowledged += told(kernel, "between")
    assert labkit(tmp_path, "take-in", str(tmp_path / "theirs.jsonl")).startswith("1 entry taken in")
    acknowledged += told(kernel, "after")
    kernel.kill()
    kernel.wait()
    with TrialBook(path) as book:
        assert [each.id for each in book.entries(trial="Killed")] == acknowledged
        assert book.get(theirs.id) == theirs
        assert book.check() == []


def test_killed_in_the_middle_of_a_batch_keeps_none_of_it(path, tmp_path):
    """What belongs together is kept together: all entries of one call or none."""
    entries = [new_entry(BOX, "Batch", {"n": n}, new_maker()) for n in range(5)]
    with TrialBook(path) as book, TrialBook(tmp_path / "theirs.db") as other:
        other.keep(entries)
        write_lines(other, tmp_path / "batch.jsonl")
        command = [sys.executable, "-c", KILLED_IN_A_BATCH, str(path), str(tmp_path / "batch.jsonl")]
        done = subprocess.run(command, capture_output=True, text=True)
        assert (done.stdout, done.returncode) == ("half\n", -9), done.stderr
        assert list(book.all_entries()) == book.check() == []
        assert book.keep(entries) == (5, [])
        assert book.entries() == entries
