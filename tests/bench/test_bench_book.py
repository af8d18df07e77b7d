"""What reading one trial of a large book costs, beside reading the same lines with pandas: read the ratio.

20,000 entries of 50 trials, every twentieth of them corrected; the panel of a trial reads its pours.
"""

import time

import pandas as pd
import pytest

from labkit.book import TrialBook, write_lines
from labkit.book.entry import new_entry

ENTRIES, TRIALS, KIND = 20_000, 50, "cellar.pour"
TRIAL = "Trial 7"


@pytest.fixture(scope="module")
def large(tmp_path_factory):
    """The book, and the file of its lines."""
    folder = tmp_path_factory.mktemp("large")
    with TrialBook(folder / "lab-book.db") as book:
        entries = [made(book.maker, number) for number in range(ENTRIES)]
        book.keep(entries)
        book.keep([mended(each) for each in entries[::20]])
        write_lines(book, folder / "lines.jsonl")
        yield book, folder / "lines.jsonl"


def made(maker, number):
    grams = {"shea butter": 12.0, "castor oil": 20.0, "beeswax": 6 + number % 7 / 10}
    kind = KIND if number % 3 else "cellar.note"
    return new_entry(kind, f"Trial {number % TRIALS}", {"number": number, "weighed_g": grams}, maker)


def mended(entry):
    changed = {**entry.payload, "remark": "mended"}
    return new_entry(entry.kind, entry.trial, changed, entry.maker, supersedes=(entry.id,))


def of_pandas(path):
    lines = pd.read_json(path, lines=True)
    return lines[(lines["kind"] == KIND) & (lines["trial"] == TRIAL)]


def seconds(function, *arguments):
    start = time.perf_counter()
    function(*arguments)
    return time.perf_counter() - start


READS = {
    "rows of a trial": lambda book: book.rows(KIND, TRIAL),
    "entries of a trial": lambda book: book.entries(KIND, TRIAL),
    "frame of a trial": lambda book: book.frame(KIND, TRIAL),
    "frame of all trials": lambda book: book.frame(KIND),
}


@pytest.mark.benchmark(group="a book of 20,000 entries")
@pytest.mark.parametrize("read", READS.values(), ids=READS)
def test_reading(benchmark, large, read):
    book, path = large
    pairs = [(seconds(read, book), seconds(of_pandas, path)) for _ in range(3)]
    ratios = sorted(ours / theirs for ours, theirs in pairs)
    benchmark.extra_info["ratio to pandas.read_json of the same lines (median of 3 pairs)"] = round(
        ratios[1], 3
    )
    found = benchmark.pedantic(read, (book,), rounds=3)
    wanted = [number for number in range(ENTRIES) if number % 3]
    of_trial = [number for number in wanted if f"Trial {number % TRIALS}" == TRIAL]
    assert len(found) == len(wanted if read is READS["frame of all trials"] else of_trial)
