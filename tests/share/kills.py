"""Sudden death in the middle of appends, merges and the writing of bundles, as often as is asked for.

Run by hand: python -m tests.share.kills --times 1000

A child of this process does the work and is killed (SIGKILL) at a moment drawn over the whole of it. Then:
every entry whose append had returned is there; the book opens and is whole; what a merge left out comes
with the next one; a bundle is there whole or not at all.
"""

import argparse
import os
import shutil
import signal
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np

from labkit.book import TrialBook
from labkit.share import bundle, verify

from .conftest import BOX, NAME, picture

ENTRIES, PHOTOS, BATCH = 240, 12, 40
FOREVER_S = 1e9


def source_of(folder: Path) -> Path:
    """Make a book to hand on and to take in, with photos, corrections and withdrawals."""
    path = folder / "source.db"
    with TrialBook(path) as book:
        entries = [book.append(BOX, {"n": n, "remark": "x" * 300}, trial=NAME) for n in range(ENTRIES - 40)]
        for n in range(PHOTOS):
            book.append(BOX, {"photo": book.add_photo(picture((n, 20, 30)))}, trial=NAME)
        for each in entries[:20]:
            book.correct(each, {"n": -1})
        for each in entries[20:28]:
            book.withdraw(each)
    return path


def killed(work: Callable[[int], None], after_s: float) -> tuple[list[str], bool]:
    """Run work in a child and kill it; return what it had said was done, and whether it was still at work."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            work(writing)
            os._exit(0)
        except BaseException as error:
            os.write(writing, f"\nfailed: {error!r}\n".encode())
            os._exit(1)
    os.close(writing)
    if after_s < FOREVER_S:
        time.sleep(after_s)
        os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    with os.fdopen(reading, "rb") as pipe:
        said = pipe.read().decode()
    assert "failed:" not in said, said
    whole = said[: said.rfind("\n") + 1]
    return whole.split(), os.WIFSIGNALED(status)


def appends(folder: Path, source: Path, after_s: float) -> bool:
    path = folder / "appended.db"

    def work(say: int) -> None:
        with TrialBook(path) as book:
            for n in range(150):
                entry = book.append(BOX, {"n": n}, trial=NAME)
                os.write(say, f"{entry.id}\n".encode())

    before = ids_in(path) if path.exists() else set()
    returned, struck = killed(work, after_s)
    here = ids_in(path) if path.exists() else set()
    assert here >= before | set(returned), "an entry is lost whose append had returned"
    assert len(here - before) <= len(returned) + 1
    if len(here) > 1_000:
        forget(path)
    return struck


def merges(folder: Path, source: Path, after_s: float) -> bool:
    path = folder / "merged.db"

    def work(say: int) -> None:
        import labkit.book.exchange

        labkit.book.exchange.BATCH = BATCH
        with TrialBook(path) as book:
            book.take_in(folder / "source.zip")

    _, struck = killed(work, after_s)
    with TrialBook(path) as book:
        assert book.check() == [], "the book is not whole"
        assert len(list(book.all_entries())) % BATCH in (0, ENTRIES % BATCH), "a batch is half there"
        again = book.take_in(folder / "source.zip")
        assert again.new + again.already == ENTRIES
        assert not again.refused
        assert book.check() == []
    forget(path)
    return struck


def bundles(folder: Path, source: Path, after_s: float) -> bool:
    target = folder / "written.zip"

    def work(say: int) -> None:
        with TrialBook(source) as book:
            bundle(book, NAME, to=target)

    _, struck = killed(work, after_s)
    if target.exists():
        found = verify(target)
        assert found.ok, found.problems
        assert found.entries == ENTRIES
        target.unlink()
    for left in folder.glob(".written.zip.*.part"):
        left.unlink()
    assert not [each for each in folder.iterdir() if "written" in each.name]
    return struck


WORKS = {"appends": appends, "merges": merges, "bundles": bundles}


def ids_in(path: Path) -> set[str]:
    with TrialBook(path) as book:
        assert book.check() == []
        return {each.id for each in book.all_entries()}


def forget(path: Path) -> None:
    for each in path.parent.glob(f"{path.name}*"):
        each.unlink()
    shutil.rmtree(path.with_suffix(".photos"), ignore_errors=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--times", type=int, default=1000, help="kills of all three sorts together")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rng, struck = np.random.default_rng(asked.seed), Counter[str]()
    with tempfile.TemporaryDirectory(prefix="labkit-kills-") as home:
        folder = Path(home)
        source = source_of(folder)
        with TrialBook(source) as book:
            assert bundle(book, NAME, to=folder / "source.zip").entries == ENTRIES
        lasts = {name: lasting(work, folder, source) for name, work in WORKS.items()}
        for number in range(asked.times):
            name = list(WORKS)[number % len(WORKS)]
            moment = float(rng.uniform(0.0, lasts[name]))
            struck[name] += WORKS[name](folder, source, moment)
    for name in WORKS:
        print(f"{name}: {struck[name]} killed at work within {lasts[name]:.2f} s; nothing lost or half there")
    print(f"{sum(struck.values())} of {asked.times} were still at work when they were killed")


def lasting(work: Callable[[Path, Path, float], bool], folder: Path, source: Path) -> float:
    """Return how long a work lasts when nothing kills it [s]."""
    began = time.monotonic()
    assert not work(folder, source, FOREVER_S)
    return time.monotonic() - began


if __name__ == "__main__":
    main()
