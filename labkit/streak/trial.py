"""A streak test as it stands in a book: its rounds, when to stop, how ways differ; and writing into it."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any, Self

import pandas as pd

from labkit.book.standing import Standing
from labkit.errors import LabError, did_you_mean
from labkit.streak.record import Question, Round, Stick
from labkit.streak.stick import TopBottom, top_bottom
from labkit.streak.stop import stirring
from labkit.times import CLOCK_SLACK, mended_time, now, refuse_future, spoken

if TYPE_CHECKING:
    from labkit.book import Entry, TrialBook
    from labkit.book.frame import Row

KIND, ROUND, STICK = "streak.question", "streak.round", "streak.stick"
COLUMNS = ["round", "pigment", "grade", "minutes", "trial", "method"]


def trials(book: "TrialBook") -> dict[str, str]:
    """Return the first version of each streak test's question by the test's name, the newest first."""
    return StreakTrial.known(book)


def ask(book: "TrialBook", question: Question, name: str = "", id: str | None = None) -> "StreakTrial":
    """Write what is stirred and return the test; without a name it is called after pigments and day."""
    refuse_future(question.began_at)
    usual = f"{question.pigments[0].name.capitalize()} streaks, {now().day} {now():%b %Y}"
    return StreakTrial.begin(book, question, name, usual, id)


def start_streak(
    book: "TrialBook",
    pigments: Iterable[str] | Mapping[str, Any],
    method: str,
    name: str = "",
    **question: Any,
) -> "StreakTrial":
    """Start a streak test, now where no ``began_at`` is given; further arguments as in `Question`.

    ``pigments`` are names, or L*a*b* by name.

    Raises
    ------
    LabError
        Where a field cannot be, or the name is taken.
    """
    known = pigments if isinstance(pigments, Mapping) else dict.fromkeys(pigments)
    listed = [{"name": each, "lab": None if lab is None else tuple(lab)} for each, lab in known.items()]
    fields = {"pigments": listed, "method": method, "began_at": now(), **question}
    return ask(book, Question.of(fields), name)


class StreakTrial(Standing):
    """One streak test: what is stirred, its looks, and what follows from them."""

    question_kind = KIND
    mended_kinds = (ROUND, STICK)

    # ------------------------------------------------------------ reading

    @cached_property
    def question(self) -> Question:
        """What is stirred."""
        return Question.of(self.question_row.head.payload)

    @cached_property
    def looks(self) -> "list[tuple[Row, Round]]":
        """The rounds in the order of their times; the first is round 1.

        Of a round that was mended in two places at once, the version written last stands here.
        """
        last = {row.entry: row for row in self.rows(ROUND)}
        found = [(row, Round.of(row.head.payload)) for row in last.values()]
        return sorted(found, key=lambda each: (each[1].graded_at, each[0].entry))

    def minutes(self, when: datetime) -> float:
        """Return a time in minutes since stirring began; a second where two clocks put it before."""
        return max((when - self.question.began_at).total_seconds(), 1.0) / 60.0

    def rounds(self) -> pd.DataFrame:
        """Return the grades as `stirring` takes them: a row for each round and pigment of the recipe."""
        rows = [
            (
                number,
                name,
                look.grades.get(name),
                self.minutes(look.graded_at),
                self.entry,
                self.question.method,
            )
            for number, (_, look) in enumerate(self.looks, 1)
            for name in self.question.names
        ]
        table = pd.DataFrame(rows, columns=COLUMNS)
        return table.assign(grade=table["grade"].astype(float))

    def others(self) -> "list[StreakTrial]":
        """Return the book's other streak tests that have rounds, the oldest first."""
        entries = sorted(each for each in trials(self.book).values() if each != self.entry)
        found = [type(self)(self.book, each) for each in entries]
        return [each for each in found if each.looks]

    @cached_property
    def earlier(self) -> pd.DataFrame | None:
        """The rounds of the tests that began before this one; None without any."""
        before = [each.rounds() for each in self.others() if each.question.began_at < self.question.began_at]
        before = [each for each in before if each["grade"].notna().any()]
        return pd.concat(before, ignore_index=True) if before else None

    @cached_property
    def graded(self) -> int:
        """How many rounds have a grade of some pigment."""
        return sum(any(grade is not None for grade in look.grades.values()) for _, look in self.looks)

    def told(self) -> pd.DataFrame:
        """Return for each pigment the chance of a streak and the rounds to go, see `stirring`.

        Raises
        ------
        LabError
            Where nothing was graded yet.
        """
        if not self.graded:
            raise LabError("Nothing is graded yet: draw the spatula through, and grade what you see.")
        return stirring(self.rounds(), self.question.limit_percent / 100, self.earlier)

    @cached_property
    def clean(self) -> int | None:
        """The number of the first round that showed no streak of any pigment; None before it."""
        for number, (_, look) in enumerate(self.looks, 1):
            grades = [look.grades.get(name) for name in self.question.names]
            if grades and all(grade == 0 for grade in grades) and not look.untold:
                return number
        return None

    def runs(self) -> pd.DataFrame:
        """Return the book's streak tests as `clean_rounds` takes them, with their names.

        A test without a clean round is censored at its last one.
        """
        tests = sorted([*self.others(), self] if self.looks else self.others(), key=lambda each: each.entry)
        return pd.DataFrame([each.run() for each in tests], columns=[*RUN])

    def run(self) -> dict[str, Any]:
        """Return this test as one run: rounds and minutes to a clean look, or to the last one."""
        count = self.clean or len(self.looks)
        took = self.minutes(self.looks[count - 1][1].graded_at)
        values = (self.name, self.question.method, count, took, self.clean is not None, self.slow())
        return dict(zip(RUN, values, strict=True))

    def slow(self) -> str:
        """Return the pigment that was seen last; "" where none was seen, or several in the same round."""
        seen = {
            name: max((n for n, (_, look) in enumerate(self.looks, 1) if look.grades.get(name)), default=0)
            for name in self.question.names
        }
        latest = [name for name, number in seen.items() if number == max(seen.values())]
        return latest[0] if len(latest) == 1 and seen[latest[0]] else ""

    def sticks(self) -> "list[tuple[Row, Stick, TopBottom]]":
        """Return the checks of set sticks, each with what it says."""
        found = [(row, Stick.of(row.head.payload)) for row in self.rows(STICK)]
        return [
            (row, stick, top_bottom(stick.top_lab, stick.bottom_lab, stick.repeat_sd)) for row, stick in found
        ]

    def forked(self) -> int:
        """Return how many rounds were mended in two places at once."""
        return len({row.entry for row in self.rows(ROUND) if row.forked})

    # ------------------------------------------------------------ writing

    def log_round(self, grades: Mapping[str, int | None], id: str | None = None, **details: Any) -> Self:
        """Write down a look, now where no time is given; details are the fields of `Round`.

        Raises
        ------
        LabError
            For a pigment that is not in the recipe, a grade that is none, or a time before stirring
            began or in the future.
        """
        made = Round.of({"question": self.entry, "grades": dict(grades), "graded_at": now(), **details})
        self._refuse(made)
        return self.write(ROUND, made, id)

    def mend_round(self, version: "Entry", id: str | None = None, **details: Any) -> Self:
        """Correct the version of a round that was shown; what stood there stays in its history."""
        before = Round.of(version.payload)
        at = mended_time(before.graded_at, details.get("graded_at"))
        after = Round.of({**before.model_dump(), **details, "graded_at": at})
        self._refuse(after)
        return self.mend(version, after, id)

    def log_stick(
        self, top_lab: Sequence[float], bottom_lab: Sequence[float], id: str | None = None, **details: Any
    ) -> Self:
        """Write down the colour of a set stick's top and bottom; details are the fields of `Stick`."""
        fields = {"question": self.entry, "top_lab": tuple(top_lab), "bottom_lab": tuple(bottom_lab)}
        made = Stick.of({**fields, "read_at": now(), **details})
        refuse_future(made.read_at)
        top_bottom(made.top_lab, made.bottom_lab, made.repeat_sd)
        return self.write(STICK, made, id)

    def change(self, question: Question, id: str | None = None) -> Self:
        """Write a changed question; rounds keep their grades.

        Raises
        ------
        LabError
            Where stirring would begin after a round.
        """
        refuse_future(question.began_at)
        if self.looks and question.began_at > self.looks[0][1].graded_at:
            raise LabError(
                f"Round 1 was {spoken(self.looks[0][1].graded_at)}, before {spoken(question.began_at)}. "
                "Stirring begins before the first look: mend one of the two times."
            )
        at = mended_time(self.question.began_at, question.began_at)
        return self.mend(self.entry, question.model_copy(update={"began_at": at}), id)

    def _refuse(self, made: Round) -> None:
        refuse_future(made.graded_at)
        if strange := [name for name in made.grades if name not in self.question.names]:
            raise LabError(
                f"“{strange[0]}” is not in this recipe. {did_you_mean(strange[0], self.question.names)}"
            )
        if made.graded_at < self.question.began_at - CLOCK_SLACK:
            raise LabError(
                f"This look is of {spoken(made.graded_at)}, and stirring began "
                f"{spoken(self.question.began_at)}. Mend one of the two times."
            )


RUN = ("trial", "method", "rounds", "minutes", "clean", "slow")
"""Columns of the table of runs."""
