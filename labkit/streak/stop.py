"""When to stop stirring."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from labkit.errors import LabError
from labkit.quantities import in_ten
from labkit.streak.fading import outlook
from labkit.streak.rounds import Course, read_rounds

MOST_TO_GO = 60
"""More rounds than this are not counted."""
_FEW = 4  # grades; under this the forecast leans on what is usual


def stirring(rounds: pd.DataFrame, limit: float = 0.05, earlier: pd.DataFrame | None = None) -> pd.DataFrame:
    """Return how likely a streak of each pigment would still be seen, and the rounds to go.

    A hidden amount falls by the round, and a grade reads it with scatter (`labkit.streak.fading`).
    Earlier trials say how a pigment usually starts, how fast it falls and how much looks
    scatter: those of the same pigment where there are any, else those of all; those stirred the
    same way where there are any. Without any, wide usual values stand in: a start of 3 grades,
    0.6 grades a round (a pigment's own usual: 0.15 to 2.4 for 95 in 100), looks that scatter by half a grade.

    Parameters
    ----------
    rounds : DataFrame
        A row for each round and pigment: round, pigment, grade (0 to 4; None or NaN for "don't
        know"), optional minutes, trial, method. One trial.
    limit : float
        The chance that is small enough to stop.
    earlier : DataFrame, optional
        The same of earlier trials, with the column trial.

    Returns
    -------
    DataFrame
        A row for each pigment: pigment; chance_of_streak, that another look after the last round
        would show it; low and high, its 90 % interval; rounds_to_go, the fewest further rounds
        after which the chance is under the limit (inf for more than 60).

    Raises
    ------
    LabError
        See `labkit.streak.rounds.read_rounds`; and for a limit that is no chance.

    Examples
    --------
    >>> seen = pd.DataFrame({"round": [1, 2, 3, 4], "pigment": "red", "grade": [3, 2, 1, 0]})
    >>> stirring(seen).round(2)
      pigment  chance_of_streak  low  high  rounds_to_go
    0     red              0.21  0.0  0.75           1.0
    """
    if not 0.0 < limit < 1.0:
        raise LabError(f"The limit is a chance between 0 and 1, such as 0.05; {limit:g} is none.")
    courses = read_rounds(rounds)
    before = [] if earlier is None else _earlier(earlier, courses)
    rows = []
    for course in courses:
        told = outlook(course, _alike(course, before))
        low, high = told.limits()
        rows.append((course.pigment, told.chance(), low, high, told.rounds_to_go(limit, MOST_TO_GO)))
    return pd.DataFrame(rows, columns=["pigment", "chance_of_streak", "low", "high", "rounds_to_go"])


def _earlier(earlier: pd.DataFrame, courses: Sequence[Course]) -> list[Course]:
    if "trial" not in getattr(earlier, "columns", ()):
        raise LabError("Earlier rounds need a column “trial”, to tell one trial from the next.")
    now = {course.trial for course in courses} - {""}
    return [each for each in read_rounds(earlier, several=True) if each.trial not in now]


def _alike(course: Course, before: Sequence[Course]) -> list[Course]:
    """Return the earlier courses of the same pigment, else of all; stirred the same way, else any way."""
    same = [each for each in before if each.pigment.casefold() == course.pigment.casefold()] or list(before)
    return [each for each in same if course.method and each.method == course.method] or same


def slowest(table: pd.DataFrame) -> str:
    """Return the pigment that takes the most rounds still, or has the highest chance among equals.

    "" where two are alike in both.

    >>> table = pd.DataFrame({"pigment": ["red", "white"], "rounds_to_go": 2.0})
    >>> slowest(table.assign(chance_of_streak=[0.3, 0.4])), slowest(table.assign(chance_of_streak=0.3))
    ('white', '')
    """
    by = ["rounds_to_go", "chance_of_streak"]
    worst = table.sort_values(by, ascending=False, kind="stable", ignore_index=True)
    alike = len(worst) > 1 and np.allclose(worst.loc[0, by].to_numpy(float), worst.loc[1, by].to_numpy(float))
    return "" if alike else str(worst["pigment"].iloc[0])


def tell_stirring(table: pd.DataFrame, limit: float = 0.05, looks: int | None = None) -> tuple[str, ...]:
    """Return in sentences what `stirring` found.

    Parameters
    ----------
    table : DataFrame
        What `stirring` returned.
    limit : float
        The one that it was asked with.
    looks : int, optional
        How many rounds were graded.
    """
    columns = (table[each].tolist() for each in ("chance_of_streak", "rounds_to_go", "pigment"))
    said = [_told(*row) for row in zip(*columns, strict=True)]
    slow = slowest(table)
    if slow and len(table) > 1 and table["rounds_to_go"].max() > 0:
        said.append(f"The slow one is {slow}.")
    if not table["rounds_to_go"].max() > 0:
        said.append(f"Each is under your limit of {100 * limit:g} %: you can stop.")
    if looks is not None and looks < _FEW:
        rounds = f"{looks} round{'s' * (looks != 1)}"
        said.append(f"With {rounds} this leans on what is usual; each further round tells more.")
    return tuple(said)


def _told(chance: float, to_go: float, pigment: str) -> str:
    seen = f"{pigment}: another look would show a streak {in_ten(chance)} times"
    if to_go == 0:
        return f"{seen}."
    if np.isinf(to_go):
        return f"{seen}; it would take more than {MOST_TO_GO} rounds. Change how it is stirred."
    return f"{seen}; about {to_go:.0f} round{'s' if to_go > 1 else ''} to go."
