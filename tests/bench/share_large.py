"""A book of 100,000 entries and 10,000 photos: how long handing it on, checking it and taking it in take.

python -m tests.bench.share_large --entries 100000 --photos 10000

The photos are small: what is timed is their number, and not the speed of the disk. Beside each time stands
that of the plain thing that it cannot be faster than: reading, zipping and hashing the same bytes.
"""

import argparse
import hashlib
import io
import tempfile
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image

from labkit.book import TrialBook
from labkit.book.entry import new_entry
from labkit.share import bundle, verify
from tests.bench.book_growth import KIND, made

AT_ONCE = 2_000


def large(path: Path, entries: int, photos: int) -> None:
    """Make the book; every tenth entry has a photo, every twentieth is corrected."""
    rng = np.random.default_rng(1)
    with TrialBook(path) as book:
        names = [photo(book, rng) for _ in range(photos)]
        for start in range(0, entries, AT_ONCE):
            batch = [made(number, book.maker) for number in range(start, min(start + AT_ONCE, entries))]
            book.keep(batch)
            changed = [{**each.payload, "remark": "mended"} for each in batch[::20]]
            pairs = zip(batch[::20], changed, strict=True)
            book.keep([new_entry(KIND, one.trial, it, one.maker, supersedes=(one.id,)) for one, it in pairs])
        for start in range(0, photos, AT_ONCE):
            some = names[start : start + AT_ONCE]
            book.keep([new_entry("cellar.look", "Trial 7", {"photo": name}, book.maker) for name in some])


def photo(book: TrialBook, rng: np.random.Generator) -> str:
    """Keep a small photo that is like no other."""
    out = io.BytesIO()
    Image.fromarray(rng.integers(0, 255, (24, 24, 3), dtype=np.uint8)).save(out, "JPEG")
    content = out.getvalue()
    name = f"{hashlib.sha256(content).hexdigest()}.jpg"
    assert book.path
    place = book.path.with_suffix(".photos") / name[:2] / name
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(content)
    return name


def seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def whole(path: Path) -> None:
    found = verify(path)
    assert found.ok, found.problems[:3]


def plainly(source: Path, target: Path) -> None:
    """Zip and hash the files of a bundle again."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        for info in old.infolist():
            content = old.read(info)
            hashlib.sha256(content)
            new.writestr(info, content)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--entries", type=int, default=100_000)
    parser.add_argument("--photos", type=int, default=10_000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="labkit-large-") as home:
        folder = Path(home)
        large(folder / "large.db", asked.entries, asked.photos)
        with TrialBook(folder / "large.db") as book:
            one = seconds(lambda: bundle(book, "Trial 3", to=folder / "one.zip"))
            all = seconds(lambda: bundle(book, book.trials(), to=folder / "all.zip"))
        plain = seconds(lambda: plainly(folder / "all.zip", folder / "plain.zip"))
        print(f"bundle of one trial of 50: {one:.1f} s")
        print(f"bundle of all: {all:.1f} s, {all / plain:.1f} times zipping and hashing the same files")
        checked = seconds(lambda: whole(folder / "all.zip"))
        print(f"verify: {checked:.1f} s")
        with TrialBook(folder / "other.db") as other:
            taken = seconds(lambda: other.take_in(folder / "all.zip"))
            again = seconds(lambda: other.take_in(folder / "all.zip"))
        print(f"take in: {taken:.1f} s; again, with nothing new: {again:.1f} s")


if __name__ == "__main__":
    main()
