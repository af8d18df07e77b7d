"""A book and a trial for the tests of the texture room."""

from datetime import timedelta

import pytest
from recipes import MONDAY, USUAL

from labkit.book import TrialBook
from labkit.texture.begin import start_trial


@pytest.fixture
def book(tmp_path):
    with TrialBook(tmp_path / "lab-book.db") as opened:
        yield opened


@pytest.fixture
def trial(book):
    return start_trial(book, USUAL, "Firmer", wrong="too soft", step_g=0.1)


@pytest.fixture
def felt(trial):
    """The trial with four pours, each felt at two hours and after two days."""
    trial = trial.put_on_card(trial.for_card(trial.plan(1, repeats=0)))
    for number, (early, late) in enumerate(
        [("smears", "soft"), ("smears", "soft"), ("soft", "just right"), ("just right", "firm")], 1
    ):
        poured = MONDAY + timedelta(hours=number)
        trial = trial.log_pour(number, poured_at=poured, sticks=4)
        trial = trial.log_note(number, early, felt_at=poured + timedelta(hours=2))
        trial = trial.log_note(number, late, felt_at=poured + timedelta(hours=50))
    return trial
