"""Hostile bundles: refused, or harmless."""

import hashlib
import re
import time
import zipfile

import pytest

from labkit.book import TrialBook
from labkit.book.entry import entry_from_line
from labkit.errors import LabError
from labkit.share import bundle, verify
from labkit.share.cells import as_written, safe_text
from labkit.share.outputs_apart import results_apart
from labkit.share.personal import Personal

from .conftest import NAME, filled, told, written_notebook
from .hostile import KINDS, SCRIPT, forged, lines_of, with_lines, zipped


@pytest.fixture(scope="module")
def files(tmp_path_factory) -> dict[str, bytes]:
    """The files of a good bundle."""
    home = tmp_path_factory.mktemp("good")
    notebook = written_notebook(home / "told.ipynb", ("print(1.5)", told("1.5\n")))
    with TrialBook(home / "lab-book.db") as book:
        bundle(filled(book), NAME, [notebook], home / "good.zip")
    with zipfile.ZipFile(home / "good.zip") as good:
        return {name: good.read(name) for name in good.namelist()}


@pytest.fixture
def kept(tmp_path):
    """A book to take a bundle in, in a folder of its own."""
    (tmp_path / "lab").mkdir()
    with TrialBook(tmp_path / "lab" / "lab-book.db") as book:
        yield book


def taken_in(book: TrialBook, path) -> int | None:
    """Take a bundle in; return how many entries came, None where all of it was refused."""
    try:
        return book.take_in(path).new
    except LabError:
        return None


def names_below(folder) -> set[str]:
    """Return the names of all files below a folder but photos of the name that their content has."""
    found = {each for each in folder.rglob("*") if each.is_file() or each.is_symlink()}
    photos = {each for each in found if each.parent.parent.name == "lab-book.photos" and is_photo(each)}
    return {str(each.relative_to(folder)) for each in found - photos}


def is_photo(path) -> bool:
    return path.stem == hashlib.sha256(path.read_bytes()).hexdigest() and path.suffix == ".png"


def test_the_good_one_is_good(files, kept, tmp_path):
    path = tmp_path / "good.zip"
    path.write_bytes(zipped(files))
    assert verify(path).problems == ()
    assert str(kept.take_in(path)) == "5 new, 0 already here, 0 refused, 1 photo kept"
    assert kept.check() == []


def test_there_are_as_many_kinds_as_were_promised():
    assert len(KINDS) >= 60


@pytest.mark.parametrize("name", KINDS)
def test_it_is_refused_or_harmless(name, files, kept, tmp_path, monkeypatch):
    kind = KINDS[name]
    path = tmp_path / "hostile.zip"
    path.write_bytes(kind.build(dict(files)))
    monkeypatch.chdir(tmp_path)
    before = {*names_below(tmp_path), "lab/lab-book.db-shm", "lab/lab-book.db-wal"}

    found = verify(path)
    assert found.ok == (not kind.said), found.problems
    assert kind.said in "\n".join(found.problems)
    assert len(str(found)) < 20_000

    assert taken_in(kept, path) == kind.taken
    again = taken_in(kept, path)
    assert again == (None if kind.taken is None else 0)
    assert names_below(tmp_path) <= before
    known = ("photo is missing", "not in this book", "in a circle")
    assert [each for each in kept.check() if not any(words in each for words in known)] == []


def test_who_has_the_first_history_finds_the_second_one_out(files, kept, tmp_path):
    path = tmp_path / "good.zip"
    path.write_bytes(zipped(files))
    kept.take_in(path)
    before = [each.line for each in kept.all_entries()]
    path.write_bytes(KINDS["writes_another_history_under_new_hashes"].build(dict(files)))
    report, called = kept.take_in(path), entry_from_line(lines_of(files)[0].decode()).called
    assert [each.why for each in report.refused] == [
        f"The {called} is here already with other content, which stays."
    ]
    assert [each.line for each in kept.all_entries()] == before


def test_a_forged_correction_is_a_fork_that_a_person_settles(files, kept, tmp_path):
    """Anybody may write a correction; it stands beside the maker's own, and does not take its place."""
    path = tmp_path / "good.zip"
    path.write_bytes(zipped(files))
    kept.take_in(path)
    first, correction = (
        next(e for e in lines_of(files) if word in e) for word in (b'"first"', b"read again")
    )
    other = "018f0000-0000-7000-8000-000000000001"
    path.write_bytes(with_lines(files, [first, forged(correction, id=other, payload={"grams": 1})]))
    assert kept.take_in(path).new == 1
    assert [len(heads) for heads in kept.forks().values()] == [2]


def test_texts_stay_the_texts_that_they_are(files, kept, tmp_path):
    path = tmp_path / "hostile.zip"
    path.write_bytes(KINDS["has_scripts_and_formulas_in_every_text"].build(dict(files)))
    kept.take_in(path)
    entry = next(each for each in kept.entries() if SCRIPT in each.payload)
    assert entry.payload[SCRIPT] == SCRIPT
    bundle(kept, NAME, to=tmp_path / "again.zip")
    with zipfile.ZipFile(tmp_path / "again.zip") as again:
        table = again.read("tables/attic.box.csv").decode()
    assert "'=cmd|" in table
    assert "'=1+1" in table.splitlines()[0]
    assert not any(cell.strip('"').startswith("=") for line in table.splitlines() for cell in line.split(","))


@pytest.mark.parametrize(
    "text",
    [
        "=1",
        "+1",
        "-1",
        "@x",
        "\t=1",
        "\r=1",
        "a;=1",
        "a\n=1",
        " =1",
        "＝1",
        "'=1",
        "''=1",
        "'",
        "a;'-b",
        "soft",
    ],
)
def test_no_cell_is_a_formula_and_every_text_comes_back(text):
    safe = safe_text(text)
    assert not re.search(r"(^|[;\t\r\n])\s*[=+\-@＝＋－＠]", safe)
    assert as_written(safe) == text


def test_the_bytes_of_a_zip_in_any_order_never_break_the_check(files, tmp_path):
    """Every eighth byte of the list at the end turned over, one at a time: said, never a traceback."""
    content, path = zipped(files), tmp_path / "turned.zip"
    start = content.index(b"PK\x01\x02")
    for place in range(start, len(content), 8):
        turned = bytearray(content)
        turned[place] ^= 0xFF
        path.write_bytes(bytes(turned))
        verify(path)


@pytest.mark.parametrize(
    "text",
    ["a" * 240_000, "+1" * 100_000, "a@" * 100_000, "<style" * 40_000, "<" * 240_000, "; " * 100_000,
     "/home/" * 40_000, "1." * 100_000, "\\Users\\" * 24_000, "ipykernel_" * 24_000, "2026-" * 40_000],
    ids=lambda text: text[:8],
)  # fmt: skip
def test_no_text_keeps_the_lab_busy(text):
    """Long texts of whatever a pattern begins with: minutes where each try looks at all the rest again."""
    personal = Personal({"x": "Somebody Invented"})
    began = time.process_time()
    personal.found_in(text)
    personal.without(text)
    safe_text(text)
    shown = [{"output_type": "display_data", "data": {"text/html": text}}]
    notebook = {"cells": [{"cell_type": "code", "source": "x", "outputs": shown}]}
    results_apart("n", notebook, notebook)
    assert time.process_time() - began < 3.0
