"""Opening a book twice in one process leaves the locks of the first opening alone."""

from pathlib import Path

from labkit.book import TrialBook


def test_an_open_book_is_not_read_beside_its_connections(tmp_path, monkeypatch):
    """Closing a plain handle on the file dropped SQLite's locks; another process then removed the log."""
    with TrialBook(tmp_path / "lab-book.db") as first:
        first.append("attic.note", {"word": "soft"}, trial="locks")
        monkeypatch.setattr(Path, "open", lambda *_: (_ for _ in ()).throw(AssertionError("read beside")))
        with TrialBook(tmp_path / "lab-book.db") as second:
            assert len(second.entries()) == 1
