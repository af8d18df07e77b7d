"""Verifying a bundle: what is said of a good one, that nothing is run unasked, and what a rerun finds."""

import json
import sys
import zipfile

import pytest

from labkit.book import TrialBook
from labkit.errors import LabError
from labkit.share import bundle, verify
from labkit.share.checking import explained
from labkit.share.outputs_apart import results_apart
from labkit.share.software import apart, versions_here

from .conftest import NAME, filled, told, written_notebook
from .hostile import document, zipped

HARM = "from pathlib import Path\nPath('harm.txt').write_text('ran')\nprint(7)"


def files_of(path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as made:
        return {name: made.read(name) for name in made.namelist()}


@pytest.fixture
def good(book, tmp_path):
    notebook = written_notebook(
        tmp_path / "told.ipynb", (HARM, told("7\n")), ("  ", []), ("print(1)", told("1\n"))
    )
    bundle(book, NAME, [notebook], tmp_path / "x.zip")
    return tmp_path / "x.zip"


def test_a_good_one(good):
    found = verify(good)
    assert found.ok
    assert (found.entries, found.trials, found.problems, found.versions_apart) == (5, (NAME,), (), ())
    assert "Everything is as it was written." in str(found)
    assert found.sha256 in str(found)
    assert found.same is None


def test_it_says_what_it_would_run_and_runs_nothing(good, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setitem(sys.modules, "nbclient", None)
    found = verify(good)
    assert [(each.notebook, each.cell, each.text) for each in found.would_run] == [
        ("told", 1, HARM), ("told", 3, "print(1)"),
    ]  # fmt: skip
    assert "A rerun runs the code of “told” (2 cells) on this computer, with your rights" in str(found)
    assert not (tmp_path / "harm.txt").exists()


def test_what_is_needed_for_a_rerun_is_said(good, monkeypatch):
    monkeypatch.setitem(sys.modules, "nbclient", None)
    with pytest.raises(LabError, match="pip install nbclient"):
        verify(good, rerun=True)


def test_a_bundle_in_which_something_is_wrong_is_not_run(good, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    good.write_bytes(zipped(files_of(good) | {"READ-ME.txt": b"altered"}))
    said: list[str] = []
    found = verify(good, rerun=True, say=said.append)
    assert not found.ok
    assert said == []
    assert "Nothing was run again, because something is wrong in it." in found.remarks
    assert not (tmp_path / "harm.txt").exists()


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(LabError, match="cannot be found"):
        verify(tmp_path / "none.zip")


def test_other_versions_are_told_and_a_bundle_of_another_labkit_is_read(good):
    def older(it: dict) -> dict:
        return it | {"versions": it["versions"] | {"numpy": "1.0", "labkit": "0.0.1"}}

    good.write_bytes(document(files_of(good), "versions.json", older))
    found = verify(good)
    assert found.ok, found.problems
    now = versions_here()
    assert set(found.versions_apart) == {f"numpy 1.0 → {now['numpy']}", f"labkit 0.0.1 → {now['labkit']}"}
    assert "Other versions here than where it was made" in str(found)


def test_tables_of_another_labkit_are_a_remark_and_of_this_one_a_problem(good):
    files = files_of(good)
    other = files["tables/attic.box.csv"].replace(b"with a picture", b"with two pictures")
    good.write_bytes(document(files | {"tables/attic.box.csv": other}, "versions.json", lambda it: it))
    assert verify(good).problems == (
        "tables/attic.box.csv: not what this labkit makes of the entries, so altered.",
    )
    changed = {"labkit": "0.0.1"}
    older = document(
        files | {"tables/attic.box.csv": other},
        "versions.json",
        lambda it: it | {"versions": it["versions"] | changed},
    )
    good.write_bytes(older)
    found = verify(good)
    assert found.ok
    assert "another labkit made the bundle. The entries are what counts." in str(found)


def test_whether_versions_explain_a_difference():
    assert "numpy 1 → 2 may" not in explained(("machine Linux → Windows",))
    assert explained(("machine Linux → Windows",)).startswith("All that computes has the same version")
    assert "numpy 1 → 2" in explained(("Python 3.11 → 3.12", "numpy 1 → 2"))
    assert apart({"a": "1"}, {"a": "1", "b": "2"}) == ["b missing → 2"]


# A rerun

PHOTOS = (
    "print([book.photo_path(e.payload['photo']).is_file() for e in book.entries() if 'photo' in e.payload])"
)
NOW = "import datetime\nprint(datetime.datetime.now().isoformat(' '))"
FILE = "from pathlib import Path\nPath('harm.txt').write_text('x')\nprint(Path.cwd() != HOME)"
CELLS = {
    "book": ("from labkit.book import book_here\nbook = book_here()\nprint(len(book.entries()))", "2\n"),
    "maker": ("import uuid\nprint(book.maker == MAKER)", "True\n"),
    "photo": (PHOTOS, "[True]\n"),
    "rounding": ("print('share', 0.3049)", "share 0.30\n"),
    "number": ("print('hardness', 2.5, 'of', 5)", "hardness 1.5 of 5\n"),
    "words": ("print('soft')", "hard\n"),
    "passing": (NOW, "2020-01-01 10:00:00.123456\n"),
    "failing": ("1 / 0", "fine\n"),
    "file": (FILE, "True\n"),
}  # fmt: skip


@pytest.fixture(scope="module")
def again(tmp_path_factory):
    """What a rerun found in a notebook with a cell of each sort, and where it was called."""
    home = tmp_path_factory.mktemp("again")
    with TrialBook(home / "lab-book.db") as book:
        filled(book)
        first = f"from pathlib import Path\nMAKER, HOME = {book.maker!r}, Path({str(home)!r})"
        cells = [(first, []), *((code, told(out)) for code, out in CELLS.values())]
        notebook = written_notebook(home / "all.ipynb", *cells, kernelspec={"name": "evil"})
        bundle(book, NAME, [notebook], home / "x.zip", keep_personal=True)
    said: list[str] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(home)
        found = verify(home / "x.zip", rerun=True, say=said.append)
    return found, said, home


def number_of(name: str) -> int:
    return list(CELLS).index(name) + 2


def test_a_rerun_says_before_what_it_runs_and_leaves_nothing_where_it_was_called(again):
    found, said, home = again
    assert said == [found.plan]
    assert not (home / "harm.txt").exists()


def test_a_rerun_reads_the_entries_and_photos_of_the_bundle_as_their_maker(again):
    wrong = {each.cell for each in again[0].apart}
    assert wrong.isdisjoint({number_of(each) for each in ("book", "maker", "photo", "passing", "file")})


def test_a_rerun_says_which_numbers_differ_and_by_how_much(again):
    found = again[0]
    numbers = {each.cell: each for each in found.apart}
    assert numbers.keys() == {number_of(each) for each in ("rounding", "number", "words", "failing")}
    number, rounding = numbers[number_of("number")], numbers[number_of("rounding")]
    assert (number.stored, number.now, number.difference, number.rounding) == ("1.5", "2.5", 1.0, False)
    assert (rounding.stored, rounding.now, rounding.rounding) == ("0.30", "0.3049", True)
    assert rounding.difference == pytest.approx(0.0049)
    assert found.same == 2


def test_a_rerun_finds_words_that_differ_and_cells_that_fail(again):
    problems = "\n".join(again[0].problems)
    assert f"cell {number_of('words')}: it says “soft” now, where “hard” is stored." in problems
    assert f"cell {number_of('failing')}: it says “ZeroDivisionError: division by zero” now" in problems
    assert f"cell {number_of('number')}, at “hardness”: 1.5 is stored, 2.5 comes out now (+1)." in problems
    assert len(again[0].problems) == 3
    assert not again[0].ok


def test_a_rerun_leaves_no_kernel_running(again):
    import psutil

    children = psutil.Process().children(recursive=True)
    assert not [each for each in children if any("ipykernel" in word for word in each.cmdline())]


def test_a_rerun_says_that_versions_do_not_explain_it(again):
    assert "All that computes has the same version here and there" in "\n".join(again[0].remarks)


# Comparing results


def notebook(*outputs: list[dict]) -> dict:
    return {"cells": [{"cell_type": "code", "source": "x", "outputs": each} for each in outputs]}


def html(text: str) -> list[dict]:
    return [{"output_type": "display_data", "data": {"text/html": text, "text/plain": "?"}}]


@pytest.mark.parametrize(
    ("stored", "now", "differing", "same"),
    [
        (told("a 1 b 2"), told("a 1 b 2"), [], 2),
        (told("a 1 b 2"), told("a 1 b 3"), ["2"], 1),
        (told("1e-3"), told("0.001"), [], 1),
        (told("−2"), told("-2"), [], 1),
        (told("0.61"), told("0.62"), ["0.61"], 0),
        (told("nan"), told("nan"), [], 1),
        (told("nan"), told("3"), ["nan"], 0),
        (told("x1 v2.3"), told("x1 v2.3"), [], 0),
        (html("<td>0.5</td><td>1</td>"), html("<th>0.5</th> <td>2</td>"), ["1"], 1),
        (html("<style>a{1}</style>1"), html("<style>a{2}</style>1"), [], 1),
        (told("Thu 5 Mar, 19:20: 7"), told("Mon 15 Jun, 08:00: 7"), [], 1),
        (told("at 0x7f00aa11bb22"), told("at 0x7f00aa11bb33"), [], 0),
        (told("(name left out) felt it"), told("maker 2 felt it"), [], 0),
        (told("1 2"), told("1"), ["2"], 0),
        ([], told("new"), [], 0),
    ],
)  # fmt: skip
def test_numbers_and_words_are_compared(stored, now, differing, same):
    found, agreed = results_apart("n", notebook(stored), notebook(now))
    assert [each.stored for each in found] == differing
    assert agreed == same


def test_pictures_panels_and_warnings_are_not_compared():
    stored = [
        {"output_type": "display_data", "data": {"image/png": "AAA", "text/plain": "<Figure 1>"}},
        {"output_type": "stream", "name": "stderr", "text": "warning 3"},
        {
            "output_type": "display_data",
            "data": {"application/vnd.jupyter.widget-view+json": {}, "text/plain": "P(1)"},
        },
    ]
    now = json.loads(json.dumps(stored).replace("AAA", "BBB").replace("3", "4").replace("P(1)", "P(2)"))
    assert results_apart("n", notebook(stored), notebook(now)) == ([], 0)
