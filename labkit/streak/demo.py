"""The invented streak test that shows what one looks like; it never feeds a maker's own forecast."""

from functools import cache

from labkit.book.example import example_book, open_or_example
from labkit.streak.plot import grades_figure
from labkit.streak.trial import StreakTrial
from labkit.ui.figure import picture
from labkit.ui.text import Html, html


@cache
def example_trial() -> StreakTrial:
    """Return the demo test."""
    return StreakTrial(example_book())


def open_streak(name: str | None = None) -> StreakTrial:
    """Return a streak test of this lab's book, by default the newest.

    Where the book has none yet, the invented example is returned and said to be that. Raises `LabError` where
    there is no test of this name.
    """
    return open_or_example(StreakTrial, name, "streak test")


@cache
def example_streak() -> Html:
    """Return the grades and chances of the invented example, small."""
    trial = example_trial()
    drawn = grades_figure(trial.rounds(), trial.told(), trial.question.limit_percent / 100)
    return html(
        '<div class="labkit-small">{}</div>',
        picture(drawn, "Invented example: streaks by round, and the chance that another look shows one."),
    )
