"""A streak test in the book: rounds in and out, what is refused, what earlier tests teach."""

from datetime import timedelta

import numpy as np
import pytest

from labkit.book import TrialBook
from labkit.errors import LabError
from labkit.streak import start_streak, stirring
from labkit.streak.trial import StreakTrial, trials
from labkit.times import now

PIGMENTS = ("red iron oxide", "titanium dioxide")


def started(book, minutes_ago=60, method="dry powder", **more):
    return start_streak(book, PIGMENTS, method, began_at=now() - timedelta(minutes=minutes_ago), **more)


def graded(trial, *rounds):
    for at, grades in enumerate(rounds, 1):
        when = trial.question.began_at + timedelta(minutes=3 * at)
        trial = trial.log_round(dict(zip(PIGMENTS, grades, strict=True)), graded_at=when)
    return trial


def test_rounds_are_the_table_that_stirring_takes(book):
    trial = graded(started(book), (3, 4), (2, None), (0, 2))
    table = trial.rounds()
    assert table["round"].tolist() == [1, 1, 2, 2, 3, 3]
    assert table["minutes"].round(6).tolist() == [3, 3, 6, 6, 9, 9]
    assert np.array_equal(table["grade"], [3, 4, 2, np.nan, 0, 2], equal_nan=True)
    assert trial.told().equals(stirring(table, 0.05))


def test_a_round_that_was_forgotten_takes_its_place_by_its_time(book):
    trial = graded(started(book), (3, 4), (0, 1))
    between = trial.question.began_at + timedelta(minutes=4)
    trial = trial.log_round(dict.fromkeys(PIGMENTS, 2), graded_at=between)
    assert trial.rounds()["grade"].tolist() == [3, 4, 2, 2, 0, 1]


def test_everything_is_there_when_the_book_is_opened_again(book, tmp_path):
    graded(started(book), (3, 4), (1, 2))
    book.close()
    with TrialBook(tmp_path / "lab-book.db") as again:
        assert StreakTrial(again).rounds()["grade"].tolist() == [3, 4, 1, 2]


@pytest.mark.parametrize(
    ("grades", "more", "said"),
    [
        ({"red iron oxide": 7}, {}, "7 is no grade. Grades are 0 none seen, 1 few"),
        ({"red iron oxyde": 1}, {}, "not in this recipe. Did you mean “red iron oxide”"),
        ({"red iron oxide": 1}, {"graded_at": timedelta(hours=-3)}, "stirring began"),
        ({"red iron oxide": 1}, {"graded_at": timedelta(hours=3)}, "still to come"),
        ({"red iron oxide": None}, {}, "press a grade for one pigment"),
        ({"red iron oxide": 1}, {"celsius": 167.0}, "130"),
    ],
)
def test_what_cannot_be_is_refused_in_words(book, grades, more, said):
    trial = started(book)
    if "graded_at" in more:
        more = {"graded_at": now() + more["graded_at"]}
    with pytest.raises(LabError, match=said):
        trial.log_round(grades, **more)
    assert not trial.again().looks


def test_earlier_tests_of_the_book_count_and_later_ones_do_not(book):
    graded(started(book, 3000, name="first"), (4, 4), (3, 3), (2, 2), (1, 1), (0, 0))
    second = graded(started(book, 2000, name="second"), (4, 4), (3, 3))
    graded(started(book, 60, name="third"), (1, 1), (0, 0))
    first = StreakTrial(book, "first")
    assert second.again().earlier["trial"].unique().tolist() == [first.entry]
    assert first.earlier is None
    assert not second.again().told().equals(stirring(second.rounds(), 0.05))


def test_runs_are_censored_where_no_look_was_clean(book):
    graded(started(book, 3000, name="clean", method="sieved"), (2, 3), (0, 1), (0, 0), (0, 0))
    graded(started(book, 2000, name="stopped"), (4, 4), (3, 3))
    table = StreakTrial(book).runs()
    rows = table[["trial", "method", "rounds", "clean", "slow"]].to_numpy().tolist()
    assert rows == [
        ["clean", "sieved", 3, True, "titanium dioxide"],
        ["stopped", "dry powder", 2, False, ""],
    ]
    assert table["minutes"].round(6).tolist() == [9, 6]


def test_a_look_with_a_streak_that_could_not_be_told_is_not_clean(book):
    trial = graded(started(book), (2, 2))
    trial = trial.log_round(dict.fromkeys(PIGMENTS, 0), untold="dark")
    assert trial.clean is None
    assert trial.log_round(dict.fromkeys(PIGMENTS, 0)).clean == 3


def test_a_round_is_mended_taken_back_and_put_back(book):
    trial = graded(started(book), (3, 4), (1, 2))
    row = trial.looks[1][0]
    trial = trial.mend_round(row.head, grades={"red iron oxide": 2, "titanium dioxide": 2})
    assert trial.rounds()["grade"].tolist() == [3, 4, 2, 2]
    version = trial.looks[0][0].head
    trial = trial.take_back(version)
    assert trial.rounds()["grade"].tolist() == [2, 2]
    assert [each.id for each in trial.gone()] == [version.id]
    assert trial.put_back(version).rounds()["grade"].tolist() == [3, 4, 2, 2]


def test_two_notebooks_mending_one_round_leave_one_that_counts(book):
    trial = graded(started(book), (3, 4))
    version = trial.looks[0][0].head
    for grade in (2, 1):
        record = trial.looks[0][1].model_copy(update={"grades": dict.fromkeys(PIGMENTS, grade)})
        book.correct(version, record)
    trial = trial.again()
    assert trial.forked() == 1
    assert trial.rounds()["grade"].tolist() == [1, 1]
    assert trial.mend_round(trial.looks[0][0].head, remark="settled").forked() == 0


def test_stirring_cannot_begin_after_its_first_look(book):
    trial = graded(started(book), (3, 4))
    later = trial.question.model_copy(update={"began_at": now()})
    with pytest.raises(LabError, match="Stirring begins before the first look"):
        trial.change(later)
    assert (
        trial.change(trial.question.model_copy(update={"limit_percent": 10.0})).question.limit_percent == 10
    )


def test_a_pigment_added_on_the_way_is_not_known_before(book):
    trial = graded(started(book), (3, 4))
    pigments = (
        *trial.question.pigments,
        trial.question.pigments[0].model_copy(update={"name": "ultramarine"}),
    )
    trial = trial.change(trial.question.model_copy(update={"pigments": pigments}))
    assert np.isnan(trial.rounds()["grade"].iloc[2])
    trial = trial.log_round({**dict.fromkeys(PIGMENTS, 1), "ultramarine": 3})
    assert trial.told()["pigment"].tolist() == [*PIGMENTS, "ultramarine"]


def test_a_stick_whose_foot_is_darker_is_told(book):
    trial = started(book).log_stick((40.0, 30.0, 20.0), (36.0, 31.0, 20.0), repeat_sd=0.4)
    ((_, _, found),) = trial.sticks()
    assert found.real
    with pytest.raises(LabError, match="between 0 and 100"):
        trial.log_stick((140.0, 30.0, 20.0), (36.0, 31.0, 20.0))


def test_names_that_are_taken_and_days_to_come_are_refused(book):
    started(book, name="mine")
    with pytest.raises(LabError, match="in this book already"):
        started(book, name="Mine ")
    with pytest.raises(LabError, match="still to come"):
        started(book, minutes_ago=-300)
    assert list(trials(book)) == ["mine"]
