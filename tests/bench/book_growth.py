"""How the trial book grows: append and load beside bare sqlite3 with the same fsyncs, and beside pandas.

python -m tests.bench.book_growth --sizes 1000 10000 100000 1000000 --plot growth.png

With --folder it goes on from the books that an earlier run left there.

Appended one by one, each entry is on the disk before the next (`synchronous=FULL`), in the book and in the
bare table alike; in batches, both write as many rows a transaction. Read back, the book gives entries that
were checked against their hash, and a frame with units; pandas reads the same rows and unpacks their text.
Seconds differ from machine to machine: read the ratios.
"""

import argparse
import json
import sqlite3
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from labkit.book import Entry, TrialBook
from labkit.book.entry import new_entry, new_maker
from labkit.book.exchange import BATCH

KIND = "cellar.pour"
SINGLY = 200
"""Entries that are appended one by one at each size: each costs an fsync."""
COLUMNS = ("id", "kind", "trial", "time", "maker", "hash", "text")
DRAWN = {
    "append one [ms]": ("append one", 1e-3, "o"),
    "keep in batches [µs each]": ("keep in batches, each", 1e-6, "s"),
    "load entries [s]": ("load all entries", 1.0, "^"),
    "load a frame [s]": ("load a frame of all", 1.0, "D"),
    "frame of one trial of 50 [s]": ("load a frame of one trial of 50", 1.0, "v"),
}
"""What is drawn: how it is called, in seconds, and its mark."""


def made(number: int, maker: str) -> Entry:
    grams = {"shea butter": 12.0, "castor oil": 20.0, "beeswax": 6 + number % 7 / 10}
    return new_entry(KIND, f"Trial {number % 50}", {"number": number, "weighed_g": grams}, maker)


def row(entry: Entry) -> tuple[str, ...]:
    return tuple(str(getattr(entry, name)) for name in COLUMNS)


def bare(path: Path) -> sqlite3.Connection:
    """Open a bare table with the book's columns, index and safety."""
    connection = sqlite3.connect(path, isolation_level=None)
    for setting in ("journal_mode=WAL", "synchronous=FULL"):
        connection.execute(f"PRAGMA {setting}")
    columns = ", ".join(f"{name} TEXT NOT NULL" for name in COLUMNS)
    connection.execute(f"CREATE TABLE IF NOT EXISTS entry ({columns}, PRIMARY KEY (id))")
    connection.execute("CREATE INDEX IF NOT EXISTS at ON entry (kind, trial)")
    return connection


def insert(connection: sqlite3.Connection, rows: list[tuple[str, ...]]) -> None:
    connection.execute("BEGIN IMMEDIATE")
    connection.executemany(f"INSERT INTO entry VALUES ({', '.join('?' * len(COLUMNS))})", rows)
    connection.execute("COMMIT")


def seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def best(work: Callable[[], object], size: int) -> float:
    """Return the better of two times; of a very large book the only one."""
    return min(seconds(work) for _ in range(1 if size > 200_000 else 2))


def of_pandas(path: Path) -> pd.DataFrame:
    with sqlite3.connect(path) as connection:
        rows = pd.read_sql_query("SELECT * FROM entry ORDER BY id", connection)
    connection.close()
    return rows.join(pd.json_normalize([json.loads(text)["payload"] for text in rows["text"]]))


def grown(folder: Path, size: int) -> dict[str, float]:
    """Let the two books in a folder grow to a size, and return seconds and ratios there."""
    maker, theirs = new_maker(), folder / "bare.db"
    connection = bare(theirs)
    begun = connection.execute("SELECT count(*) FROM entry").fetchone()[0]
    keep = plain = 0.0
    with TrialBook(folder / "book.db") as book:
        for start in range(begun, size - SINGLY, BATCH):
            batch = [made(number, maker) for number in range(start, min(start + BATCH, size - SINGLY))]
            rows = [row(each) for each in batch]
            keep += seconds(lambda batch=batch: book.keep(batch))
            plain += seconds(lambda rows=rows: insert(connection, rows))
        one, bare_one = singly(book, connection, range(size - SINGLY, size), maker)
        entries = best(lambda: sum(1 for _ in book.all_entries()), size)
        frame = best(lambda: book.frame(KIND), size)
        assert len(book.frame(KIND, "Trial 7")) == len(range(7, size, 50))
        of_one = seconds(lambda: book.frame(KIND, "Trial 7"))
    connection.close()
    pandas = best(lambda: of_pandas(theirs), size)
    return {
        "size": size,
        "append one [ms]": 1e3 * one,
        "append one / bare": one / bare_one,
        "keep in batches [µs each]": 1e6 * keep / (size - SINGLY - begun),
        "keep in batches / bare": keep / plain,
        "load entries [s]": entries,
        "load entries / pandas": entries / pandas,
        "load a frame [s]": frame,
        "load a frame / pandas": frame / pandas,
        "frame of one trial of 50 [s]": of_one,
    }


def singly(
    book: TrialBook, connection: sqlite3.Connection, numbers: range, maker: str
) -> tuple[float, float]:
    """Append entries one by one, in the book and in the bare table; return the median seconds of each."""
    ours, theirs = [], []
    for number in numbers:
        each = made(number, maker)
        ours.append(seconds(lambda each=each: book.append(KIND, each.payload, trial=each.trial)))
        theirs.append(seconds(lambda each=each: insert(connection, [row(each)])))
    return float(np.median(ours)), float(np.median(theirs))


def picture(table: pd.DataFrame, path: Path) -> None:
    """Draw the seconds against the size, both on log axes."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(6.5, 4.5), layout="constrained")
    axes = figure.add_subplot()
    for column, (name, scale, mark) in DRAWN.items():
        axes.plot(table["size"], scale * table[column], marker=mark, label=name)
    axes.set(xscale="log", yscale="log", xlabel="entries in the book", ylabel="seconds")
    axes.set_title("Append and load as the book grows")
    axes.legend()
    figure.savefig(path, dpi=80)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--sizes", type=int, nargs="+", default=[1_000, 10_000, 100_000])
    parser.add_argument("--folder", type=Path, help="keep the books here, and go on from where they are")
    parser.add_argument("--plot", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="labkit-growth-") as home:
        folder = asked.folder or Path(home)
        told = folder / "growth.json"
        rows = json.loads(told.read_text()) if told.exists() else []
        for size in asked.sizes:
            rows.append(grown(folder, size))
            told.write_text(json.dumps(rows))
    table = pd.DataFrame(rows)
    print(table.round(3).T.to_string(header=False))
    if asked.plot:
        picture(table, asked.plot)


if __name__ == "__main__":
    main()
