"""What the streak panel shows: grades and chances, marked photos, ways of stirring, the log."""

from typing import TYPE_CHECKING

import pandas as pd

from labkit.errors import LabError
from labkit.streak.photo_read import PhotoRead
from labkit.streak.plot import clean_figure, grades_figure, marked_figure
from labkit.streak.survival import clean_rounds
from labkit.streak.wording import photo_words, slow_words, stopping_words
from labkit.times import spoken
from labkit.ui.figure import picture
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

if TYPE_CHECKING:
    from labkit.streak.trial import StreakTrial


def chances(trial: "StreakTrial", told: pd.DataFrame) -> Html:
    """Return the grades by round, and the chance that a look would still show a streak, drawn and said."""
    limit = trial.question.limit_percent / 100
    numbers = (100 * told[["chance_of_streak", "low", "high"]]).round().astype(int)
    spoken_rows = [
        f"{name}: {chance} % ({low} to {high} %)"
        for name, (chance, low, high) in zip(told["pigment"], numbers.to_numpy().tolist(), strict=True)
    ]
    alt = "Grades by round, and the chance that another look shows a streak: " + "; ".join(spoken_rows)
    said = sentences(stopping_words(trial, told), first=False)
    return joined([picture(grades_figure(trial.rounds(), told, limit), alt), said])


def photos(read: list[PhotoRead]) -> Html:
    """Return the newest photo with its streaks marked, and the numbers of all."""
    newest = read[-1]
    said = photo_words(newest)
    shown = (
        [] if newest.found is None else [picture(marked_figure(newest.path, newest.found), " ".join(said))]
    )
    rows = [_photo_row(each) for each in read]
    heads = ["round", "unevenness ΔE00", "off by over 1", "over 2", "beside other photos"]
    grid = html('<div class="labkit-wide">{}</div>', table(heads, rows, "Photos of this test"))
    return joined([*shown, sentences(said, first=False), grid])


def _photo_row(read: PhotoRead) -> list[str]:
    found = read.found
    if found is None:
        return [str(read.number), "cannot be read", "", "", ""]
    shares = (f"{100 * share:.1f} %" for share in (found.share_over_1, found.share_over_2))
    beside = "may be compared" if found.comparable else "not comparable"
    return [str(read.number), f"{found.index:.2f}", *shares, beside]


def between(trial: "StreakTrial") -> Html:
    """Return how ways of stirring differ over the book's tests."""
    runs = trial.runs()
    parts: list[Html] = []
    for unit in ("rounds", "minutes"):
        try:
            found = clean_rounds(runs, unit)
        except LabError as error:
            parts.append(sentences([str(error)], first=False))
            continue
        parts += [picture(clean_figure(found), " ".join(found.why)), sentences(found.why, first=False)]
    parts += [sentences([slow_words(runs)], first=False), _runs_table(runs)]
    return joined(parts)


def _runs_table(runs: pd.DataFrame) -> Html:
    rows = [
        [
            row["trial"], row["method"], row["rounds"], f"{row['minutes']:.1f}",
            "clean" if row["clean"] else "not clean so far", row["slow"],
        ]
        for _, row in runs.iterrows()
    ]  # fmt: skip
    heads = ["test", "way", "rounds", "minutes", "ended", "seen last"]
    return html('<div class="labkit-wide">{}</div>', table(heads, rows, "Streak tests of this book"))


def sticks(trial: "StreakTrial") -> Html:
    """Return the checks of set sticks, in sentences."""
    said = [f"{spoken(stick.read_at)}: {found.words}" for _, stick, found in trial.sticks()]
    return sentences(said or ["No stick was checked yet."], first=False)


def log(trial: "StreakTrial") -> Html:
    """Return the rounds, one row each."""
    rows = []
    for number, (row, look) in enumerate(trial.looks, 1):
        grades = [
            "?" if grade is None else str(grade) for grade in map(look.grades.get, trial.question.names)
        ]
        where = f"{look.where}, {look.how}"
        pot = "" if look.celsius is None else f"{look.celsius:g} °C"
        rest = "; ".join(each for each in (look.stirred, look.untold and f"untold: {look.untold}",
                                           "photo" if look.photo else "", look.remark) if each)  # fmt: skip
        mended = " (in two versions)" if row.forked else ""
        at = f"{spoken(look.graded_at)} ({trial.minutes(look.graded_at):.0f} min)"
        rows.append([f"{number}{mended}", at, *grades, where, pot, rest])
    heads = ["round", "looked", *trial.question.names, "spatula", "pot", "and"]
    return html('<div class="labkit-wide">{}</div>', table(heads, rows, "Rounds"))
