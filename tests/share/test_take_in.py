"""Taking in a bundle or a book: a union, whichever way the entries came, on both stores."""

import tempfile
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit.book import TrialBook, take_in, write_lines
from labkit.book.entry import WITHDRAWAL
from labkit.errors import LabError
from labkit.share import bundle
from tests.book.test_book_exchange import histories, state

from .conftest import NAME, filled, picture

LAWS = settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def bundled(new_book, entries, folder: Path, name: str) -> Path:
    """Write entries into a bundle, by way of a book that holds them alone."""
    book = new_book()
    take_in(book, entries)
    bundle(book, "First", to=folder / name)
    return folder / name


@LAWS
@given(history=histories(), data=st.data())
def test_laws_of_the_merge_by_bundles(new_book, history, data):
    """Idempotent, commutative, associative, nothing lost: corrections of corrections too."""
    some = st.lists(st.sampled_from(history), unique=True, min_size=1)
    parts = {name: data.draw(some) for name in "abc"}
    with tempfile.TemporaryDirectory() as home:
        files = {name: bundled(new_book, part, Path(home), name) for name, part in parts.items()}
        left, right, twice = new_book(), new_book(), new_book()
        for name in "abc":
            left.take_in(files[name])
        for name in "cba":
            right.take_in(files[name])
        between = new_book()
        between.take_in(files["b"])
        between.take_in(files["c"])
        twice.take_in(files["a"])
        twice.take_in(between)
        assert state(left) == state(right), "commutative"
        assert state(left) == state(twice), "associative, and a book is taken in as a bundle is"
        assert {each.id for each in left.all_entries()} == {
            each.id for part in parts.values() for each in part
        }
        before = state(left)
        assert [left.take_in(each).new for each in files.values()] == [0, 0, 0], "idempotent"
        assert state(left) == before


def test_from_file_to_server_and_back(new_book, tmp_path):
    """On PostgreSQL where there is one: a copy is a merge, and photos go along."""
    with TrialBook(tmp_path / "file.db") as file:
        filled(file)
        there, again = new_book(), new_book()
        assert there.take_in(file).new == 6
        assert again.take_in(there).new == 6
        assert [each.line for each in again.all_entries()] == [each.line for each in file.all_entries()]
        assert file.take_in(again).new == 0
        assert again.check() == there.check() == []


def test_a_book_is_taken_in_by_its_file_and_by_its_url(book, tmp_path):
    for number, place in enumerate((book.path, f"sqlite:///{book.path}")):
        with TrialBook(tmp_path / f"{number}.db") as other:
            assert str(other.take_in(place)) == "6 new, 0 already here, 0 refused, 1 photo kept"
            assert other.check() == []


def test_a_file_of_lines_is_taken_in(book, tmp_path):
    write_lines(book, tmp_path / "lines.jsonl")
    with TrialBook(tmp_path / "other.db") as other:
        assert other.take_in(tmp_path / "lines.jsonl").new == 6


def test_photos_come_again_where_one_is_missing(book, tmp_path):
    bundle(book, NAME, to=tmp_path / "x.zip")
    with TrialBook(tmp_path / "other.db") as other:
        other.take_in(tmp_path / "x.zip")
        name = next(each.payload["photo"] for each in other.entries() if "photo" in each.payload)
        other.photo_path(name).unlink()
        report = other.take_in(tmp_path / "x.zip")
        assert (report.new, report.photos) == (0, 1)
        assert other.photo_path(name).read_bytes() == book.photo_path(name).read_bytes()
        assert other.take_in(tmp_path / "x.zip").photos == 0


def test_a_photo_that_is_missing_there_is_told_and_the_entry_is_taken(book, tmp_path):
    name = next(each.payload["photo"] for each in book.entries() if "photo" in each.payload)
    bundle(book, NAME, to=tmp_path / "x.zip")
    with zipfile.ZipFile(tmp_path / "x.zip") as whole, zipfile.ZipFile(tmp_path / "less.zip", "w") as less:
        for each in whole.namelist():
            if each != f"photos/{name}":
                less.writestr(each, whole.read(each))
    with TrialBook(tmp_path / "other.db") as other:
        report = other.take_in(tmp_path / "less.zip")
        assert report.new == 5
        assert [each.why for each in report.refused] == ["This photo is not in the bundle."]
        assert report.refused[0].name.startswith("the photo of the box of")


def test_photos_are_kept_before_the_entries_that_name_them(book, tmp_path, monkeypatch):
    bundle(book, NAME, to=tmp_path / "x.zip")
    with TrialBook(tmp_path / "other.db") as other:
        real = other.keep

        def keep(entries):
            for each in entries:
                if "photo" in each.payload:
                    assert other.photo_path(each.payload["photo"]).is_file()
            return real(entries)

        monkeypatch.setattr(other, "keep", keep)
        assert other.take_in(tmp_path / "x.zip").new == 5


def test_a_tampered_entry_is_refused_by_its_name_and_the_others_taken_in(book, tmp_path):
    bundle(book, NAME, to=tmp_path / "x.zip")
    with zipfile.ZipFile(tmp_path / "x.zip") as whole, zipfile.ZipFile(tmp_path / "bad.zip", "w") as bad:
        for each in whole.namelist():
            bad.writestr(each, whole.read(each).replace(b'"remark":"first"', b'"remark":"worst"'))
    with TrialBook(tmp_path / "other.db") as other:
        report = other.take_in(tmp_path / "bad.zip")
        assert (report.new, [each.name for each in report.refused]) == (4, ["line 1"])
        assert "The box of" in report.refused[0].why


def test_what_was_withdrawn_and_corrected_stands_as_it_stood(book, tmp_path):
    bundle(book, NAME, to=tmp_path / "x.zip")
    with TrialBook(tmp_path / "other.db") as other:
        other.take_in(tmp_path / "x.zip")
        assert other.entries(trial=NAME) == book.entries(trial=NAME)
        assert [each.kind for each in other.all_entries()].count(WITHDRAWAL) == 1
        assert other.taken_back(NAME) == book.taken_back(NAME)


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("none.zip", "cannot be found"),
        (".", "is a folder"),
        ("", "Name the book or bundle to take in"),
        (None, "Name the book or bundle to take in"),
        ("other.txt", "is no trial book that was written out"),
        ("mysql://x/y", "is neither"),
    ],
)
def test_what_cannot_be_taken_in(book, tmp_path, monkeypatch, place, words):
    monkeypatch.chdir(tmp_path)
    Path("other.txt").write_text("butter 12\n")
    with pytest.raises(LabError, match=words):
        book.take_in(place)


def test_a_closed_book_takes_nothing_in(tmp_path):
    with TrialBook(tmp_path / "a.db") as book:
        pass
    with pytest.raises(LabError, match="was closed"):
        book.take_in(tmp_path / "a.db")


def test_a_kept_photo_must_be_the_one_that_its_name_stands_for(book):
    import hashlib

    content = picture((1, 2, 3))
    name = hashlib.sha256(content).hexdigest()
    with pytest.raises(LabError, match="This photo was altered"):
        book.keep_photo("0" * 64 + ".png", lambda: content)
    with pytest.raises(LabError, match=r"not of the form that its name says \(\.jpg\)"):
        book.keep_photo(f"{name}.jpg", lambda: content)
    assert book.keep_photo(f"{name}.png", lambda: content)
    assert not book.keep_photo(f"{name}.png", lambda: pytest.fail("asked again"))


@pytest.mark.parametrize(
    "change",
    ["text = '{}'", "text = replace(text, 'first', 'worst')", "hash = 'x'", "text = x'00ff'", "text = '['"],
)
def test_an_altered_row_of_another_book_is_refused_and_hides_no_other(book, tmp_path, change):
    import sqlite3

    first = next(iter(book.all_entries()))
    with sqlite3.connect(book.path) as connection:
        connection.execute(f"UPDATE entry SET {change} WHERE id = ?", (first.id,))
    connection.close()
    with TrialBook(tmp_path / "other.db") as other:
        report = other.take_in(book)
        assert (report.new, [each.name for each in report.refused]) == (5, [first.id])
        assert not other.has(first.id)
