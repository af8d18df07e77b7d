"""A trial as it stands in its book: its question, what was written about it, and writing more."""

from collections.abc import Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Any, ClassVar, Self

from labkit.book.trials import find_trial, free_name, mend, named_trials, refuse_taken

if TYPE_CHECKING:
    from labkit.book.book import TrialBook
    from labkit.book.entry import Entry
    from labkit.book.frame import Row
    from labkit.book.record import Record


class Standing:
    """One trial of a room, as it stands in its book when this is made.

    A room says what kind its question is, and which kinds can be taken back.

    Parameters
    ----------
    book : TrialBook
    name : str, optional
        Its name or the id of its question; by default the newest.

    Raises
    ------
    LabError
        Where the book has no such trial.
    """

    question_kind: ClassVar[str]
    mended_kinds: ClassVar[tuple[str, ...]]

    def __init__(self, book: "TrialBook", name: str | None = None) -> None:
        self.book = book
        self.name, self.entry = find_trial(book, self.question_kind, name)

    @classmethod
    def known(cls, book: "TrialBook") -> dict[str, str]:
        """Return the first version of each trial's question by the trial's name, the newest first."""
        return named_trials(book, cls.question_kind)

    @classmethod
    def begin(
        cls, book: "TrialBook", question: "Record", name: str, usual_name: str, id: str | None = None
    ) -> Self:
        """Write a trial's question and return the trial; without a name it is called by its usual one.

        Raises
        ------
        LabError
            Where the name is taken.
        """
        name = name or free_name(book, cls.question_kind, usual_name)
        refuse_taken(book, cls.question_kind, name)
        return cls(book, book.append(cls.question_kind, question, trial=name, id=id).id)

    @cached_property
    def question_row(self) -> "Row":
        """The version written last, where two notebooks changed the question at once."""
        return [row for row in self.book.rows(self.question_kind) if row.entry == self.entry][-1]

    def rows(self, kind: str) -> "list[Row]":
        """Return what was written of a kind about this trial, or about something of it."""
        rows = self.book.rows(kind, self.question_row.head.trial)
        return [row for row in rows if row.head.payload.get("question", self.entry) == self.entry]

    def write(self, kind: str, payload: "Mapping[str, Any] | Record", id: str | None = None) -> Self:
        """Write an entry about this trial, and return the trial as it stands afterwards."""
        self.book.append(kind, payload, trial=self.question_row.head.trial, id=id)
        return self.again()

    def mend(self, version: "Entry | str", record: "Record", id: str | None = None) -> Self:
        """Correct the version that was shown; what stood there stays in its history."""
        mend(self.book, version, record, id)
        return self.again()

    def take_back(self, version: "Entry", id: str | None = None) -> Self:
        """Withdraw the version that was shown; `put_back` undoes it."""
        self.book.withdraw(version, "taken back", id=id)
        return self.again()

    def put_back(self, version: "Entry", id: str | None = None) -> Self:
        """Put back what was taken back, as it stood."""
        self.book.correct(self.book.history(version)[0].id, version.payload, id=id)
        return self.again()

    def gone(self) -> "list[Entry]":
        """Return what was taken back of this trial, as it stood last."""
        gone = self.book.taken_back(self.question_row.head.trial)
        return [
            each
            for each in gone
            if each.kind in self.mended_kinds and each.payload.get("question", self.entry) == self.entry
        ]

    def again(self) -> Self:
        """Return the trial as it stands now."""
        return type(self)(self.book, self.entry)
