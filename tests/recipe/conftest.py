"""A book for the tests of the recipe room."""

import pytest

from labkit.book import TrialBook


@pytest.fixture
def book(tmp_path):
    with TrialBook(tmp_path / "lab-book.db") as opened:
        yield opened
