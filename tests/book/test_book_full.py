"""A full disk: the press is refused plainly, the book stays sound, and the press saves once there is room."""

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path

import pytest

from labkit.book import TrialBook
from labkit.book.entry import new_id
from labkit.errors import LabError

BOX = "attic.box"
LONG = {"remark": "x" * 400_000}

pytestmark = pytest.mark.skipif(
    sys.platform != "linux", reason="a disk can be made full at will on Linux alone"
)


@contextmanager
def no_file_may_grow() -> Iterator[None]:
    """Let the system refuse every byte beyond the first 256 kB of any file, as a quota does."""
    import resource

    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (256_000, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.fixture
def small_drive(tmp_path) -> Iterator[Path]:
    """A drive of 2 MB in memory."""
    place = tmp_path / "drive"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(place)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no small drive: mounting one needs root")
    yield place
    subprocess.run(["umount", str(place)], check=True)


@contextmanager
def filled(drive: Path) -> Iterator[None]:
    """Write to a drive until nothing more goes onto it."""
    ballast = drive / "ballast"
    with ballast.open("wb", buffering=0) as file, suppress(OSError):
        while True:
            file.write(b"x" * 4096)
    try:
        yield
    finally:
        ballast.unlink()


def refused_and_then_saved(path: Path, full: Callable[[], AbstractContextManager[None]], words: str) -> None:
    with TrialBook(path) as book:
        first, press = book.append(BOX, {"n": 1}, trial="Full"), new_id()
        with full():
            for _ in range(2):
                with pytest.raises(LabError, match=words):
                    book.append(BOX, LONG, trial="Full", id=press)
            with pytest.raises(LabError, match=words):
                book.keep_draft("note", LONG)
            assert book.entries() == [first]
            assert book.check() == []
        saved = book.append(BOX, LONG, trial="Full", id=press)
        assert book.entries() == [first, saved]
        assert book.draft("note") is None
    with TrialBook(path) as book:
        assert book.entries() == [first, saved]
        assert book.check() == []


def test_a_file_that_may_not_grow(tmp_path):
    words = r"The disk took no more: nothing was saved\. Make room"
    refused_and_then_saved(tmp_path / "lab-book.db", no_file_may_grow, words)


def test_a_full_drive(small_drive):
    words = r"The disk is full: nothing was saved\. Make room"
    refused_and_then_saved(small_drive / "lab-book.db", lambda: filled(small_drive), words)


def test_no_book_is_begun_on_a_full_drive(small_drive):
    path = small_drive / "lab-book.db"
    with filled(small_drive):
        with pytest.raises(LabError, match="The disk"):
            TrialBook(path)
        assert [each.name for each in small_drive.iterdir()] == ["ballast"]
    with TrialBook(path) as book:
        assert book.check() == []
