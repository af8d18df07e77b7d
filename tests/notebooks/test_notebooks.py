"""Every template notebook runs from top to bottom, on the demo book and on an empty one (nbval)."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from labkit.assets import assets
from labkit.book import TrialBook, take_in_lines

SANITIZE = Path(__file__).with_name("sanitize.cfg")


@pytest.fixture(params=["demo", "empty"])
def book(request, tmp_path):
    path = tmp_path / "lab-book.db"
    with TrialBook(path) as made:
        for lines in assets().demo if request.param == "demo" else ():
            assert not take_in_lines(made, lines).refused
    return path


@pytest.mark.parametrize("notebook", assets().notebooks, ids=lambda path: path.stem)
def test_a_notebook_runs_and_its_marked_numbers_come_out_again(notebook, book, tmp_path):
    command = [
        sys.executable,
        "-m",
        "pytest",
        "--nbval-lax",
        "--nbval-current-env",
        "--nbval-cell-timeout=120",
    ]
    command += ["--nbval-sanitize-with", str(SANITIZE), "-p", "no:cacheprovider", "-q", "-c", os.devnull]
    env = os.environ | {"LABKIT_BOOK": str(book), "IPYTHONDIR": str(tmp_path / "ipython")}
    done = subprocess.run(
        [*command, str(notebook)], env=env, capture_output=True, encoding="utf-8", cwd=tmp_path
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "passed" in done.stdout


@pytest.mark.parametrize("notebook", assets().notebooks, ids=lambda path: path.stem)
def test_a_notebook_has_numbers_to_come_out_again(notebook):
    import nbformat

    cells = nbformat.read(notebook, as_version=4).cells
    marked = [cell for cell in cells if "nbval-check-output" in cell.metadata.get("tags", [])]
    assert marked
    assert all(cell.outputs for cell in marked)
