"""Sudden death, a full disk and a read-only folder while a bundle is written or taken in."""

import os
import pwd
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from labkit.book import TrialBook
from labkit.errors import LabError
from labkit.share import bundle, verify
from tests.book.test_book_full import filled as full
from tests.book.test_book_full import no_file_may_grow, small_drive  # noqa: F401

from .conftest import BOX, NAME, filled

ROOT = Path(__file__).resolve().parents[2]

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="forks, and fills disks, as Linux does")


def test_fifteen_kills_lose_nothing():
    """A thousand of them: python -m tests.share.kills --times 1000."""
    command = [sys.executable, "-m", "tests.share.kills", "--times", "15"]
    done = subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, env=os.environ | {"PYTHONPATH": str(ROOT)}
    )
    assert done.returncode == 0, done.stdout + done.stderr
    struck = re.search(r"(\d+) of 15 were still at work", done.stdout)
    assert struck
    assert int(struck[1]) >= 3, done.stdout  # on a busy machine some end before they are struck


@pytest.fixture
def large(tmp_path):
    """A book whose bundle does not fit into 256 kB."""
    with TrialBook(tmp_path / "lab-book.db") as book:
        for number in range(12):
            book.append(BOX, {"noise": os.urandom(30_000).hex(), "n": number}, trial=NAME)
        yield book


def test_a_bundle_that_does_not_fit_is_not_there(large, tmp_path):
    with (
        no_file_may_grow(),
        pytest.raises(LabError, match=r"The disk is full: “x\.zip” could not be written\. Make"),
    ):
        bundle(large, NAME, to=tmp_path / "x.zip")
    assert not list(tmp_path.glob("*.zip")) + list(tmp_path.glob(".*"))
    bundle(large, NAME, to=tmp_path / "x.zip")
    assert verify(tmp_path / "x.zip").ok


def test_a_bundle_on_a_full_drive_is_not_there(large, small_drive):  # noqa: F811
    with full(small_drive), pytest.raises(LabError, match="The disk is full"):
        bundle(large, NAME, to=small_drive / "x.zip")
    assert list(small_drive.iterdir()) == []


def test_a_bundle_that_does_not_fit_into_the_book_is_taken_in_later(large, tmp_path):
    bundle(large, NAME, to=tmp_path / "x.zip")
    with TrialBook(tmp_path / "other.db") as other:
        mine = other.append(BOX, {"n": 1}, trial="Mine")
        with no_file_may_grow(), pytest.raises(LabError, match="The disk took no more: nothing was saved"):
            other.take_in(tmp_path / "x.zip")
        assert other.entries() == [mine]
        assert other.check() == []
        assert other.take_in(tmp_path / "x.zip").new == 12


AS_NOBODY = """
import os, sys, tempfile
from labkit.book import TrialBook
from labkit.errors import LabError
from labkit.share import bundle, verify
with tempfile.TemporaryDirectory() as folder:  # everything is imported before root is given up
    with TrialBook(folder + "/warm.db") as book:
        book.append("attic.box", {}, trial="Warm")
        bundle(book, "Warm", to=folder + "/warm.zip")
        assert verify(folder + "/warm.zip").ok
book = TrialBook(sys.argv[1])
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(int(sys.argv[3]))
    os.setuid(int(sys.argv[3]))
assert os.geteuid() != 0
try:
    bundle(book, "Invented trial", to=sys.argv[2])
except LabError as error:
    print(error)
"""


def test_a_read_only_folder_is_told(tmp_path):
    folder = Path(subprocess.check_output(["mktemp", "-d"], text=True).strip())
    with TrialBook(folder / "lab-book.db") as book:
        filled(book)
    (folder / "closed").mkdir()
    (folder / "closed").chmod(0o555)
    for each in (folder, *folder.rglob("*")):
        each.chmod(0o777 if each.is_dir() and each.name != "closed" else 0o555 if each.is_dir() else 0o666)
    nobody = str(pwd.getpwnam("nobody").pw_uid)
    places = [str(folder / "lab-book.db"), str(folder / "closed" / "x.zip"), nobody]
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", AS_NOBODY, *places], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert (
        "cannot be written: the folder or the file is read-only. Choose a folder of your own." in done.stdout
    )
    assert list((folder / "closed").iterdir()) == []
    (folder / "closed").chmod(0o755)
    shutil.rmtree(folder)
