"""Which book a notebook opens."""

import pytest

from labkit.book import TrialBook, book_here
from labkit.book.here import NAME


@pytest.fixture(autouse=True)
def nothing_named(monkeypatch):
    monkeypatch.delenv("LABKIT_BOOK", raising=False)


def test_the_book_that_was_named_comes_first(tmp_path, monkeypatch):
    TrialBook(tmp_path / NAME).close()
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("LABKIT_BOOK", str(tmp_path / "other.db"))
    with book_here() as book:
        assert book.path == tmp_path / "other.db"


def test_the_book_above_the_notebook(tmp_path, monkeypatch):
    TrialBook(tmp_path / NAME).close()
    (tmp_path / "notebooks" / "old").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "notebooks" / "old")
    with book_here() as book:
        assert book.path == tmp_path / NAME
    assert not list((tmp_path / "notebooks").rglob("*.db"))


def test_a_new_book_where_there_is_none(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with book_here() as book:
        assert book.path == tmp_path / NAME
        assert book.entries() == []
