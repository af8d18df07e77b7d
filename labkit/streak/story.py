"""A streak test told line by line: sentences, tables and pictures for a notebook."""

from typing import TYPE_CHECKING

import pandas as pd

from labkit.errors import LabError
from labkit.streak import plot, wording
from labkit.streak.photo_read import LabOf, photos_read
from labkit.streak.survival import CleanRounds, clean_rounds
from labkit.streak.trial import StreakTrial

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def tell_streak(trial: StreakTrial) -> None:
    """Print whether to stir on, and on what that rests."""
    told = trial.told() if trial.graded else None
    rests_on = [] if told is None else wording.stopping_words(trial, told)
    for said in (*wording.standing(trial, told), *rests_on):
        print(said)


def stopping_figure(trial: StreakTrial) -> "Figure":
    """Draw the grades by round, and the chance that another look would show a streak."""
    return plot.grades_figure(trial.rounds(), trial.told(), trial.question.limit_percent / 100)


def photo_figure(trial: StreakTrial, lab_of: LabOf | None = None) -> "Figure":
    """Draw the newest photo with its streaks marked.

    Raises
    ------
    LabError
        Where there is no photo that can be read.
    """
    read = [each for each in photos_read(trial, lab_of) if each.found is not None]
    if not read or read[-1].found is None:
        raise LabError("No round of this test has a photo that can be read.")
    return plot.marked_figure(read[-1].path, read[-1].found)


def ways_of_stirring(trial: StreakTrial, unit: str = "rounds") -> CleanRounds:
    """Compare how many rounds or minutes the book's ways of stirring took to a clean look."""
    return clean_rounds(trial.runs(), unit)


def tell_ways(trial: StreakTrial) -> None:
    """Print how the book's ways of stirring differ, and which pigments are slow."""
    for said in (*ways_of_stirring(trial).why, wording.slow_words(trial.runs())):
        print(said)


def ways_figure(trial: StreakTrial, unit: str = "rounds") -> "Figure":
    """Draw the share of tests that was not clean yet, by way of stirring."""
    return plot.clean_figure(ways_of_stirring(trial, unit))


def rounds_table(trial: StreakTrial) -> pd.DataFrame:
    """Return the grades, a row for each round and a column for each pigment, with minutes."""
    table = trial.rounds()
    wide = table.pivot(index="round", columns="pigment", values="grade")[list(trial.question.names)]
    return wide.assign(minutes=table.groupby("round")["minutes"].first().round(1))


def stopping_summary(trial: StreakTrial) -> pd.DataFrame:
    """Return a few rounded figures of the test, to compare between runs."""
    told = trial.told()
    return told.assign(chance_of_streak=told["chance_of_streak"].round(2), low=told["low"].round(1),
                       high=told["high"].round(1))  # fmt: skip
