"""A day at the stove as it stands in a book: what was planned, added, read, filled; and writing into it."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any, Self

import numpy as np
import pandas as pd

from labkit.batch.asked import read_celsius
from labkit.batch.cooling import CoolingFit, fit_cooling
from labkit.batch.pot import Pot
from labkit.batch.record import (
    Added,
    Drip,
    Filled,
    Happened,
    Judged,
    Question,
    Reading,
    Readings,
    Taken,
    refuse_word,
)
from labkit.book.standing import Standing
from labkit.errors import LabError
from labkit.times import mended_time, now, refuse_future, spoken

if TYPE_CHECKING:
    from labkit.batch.thermometer import ThermometerLog
    from labkit.book import Entry, TrialBook

KIND = "batch.question"
LOGGED = (Added, Taken, Reading, Readings, Happened, Drip, Filled, Judged)
"""What is logged on a day and after it; each has one time."""
TIMES = {
    "batch.added": "added_at", "batch.taken": "taken_at", "batch.reading": "read_at",
    "batch.readings": "began_at", "batch.event": "at", "batch.drip": "dripped_at",
    "batch.filled": "filled_at", "batch.judged": "judged_at",
}  # fmt: skip
"""The time of each kind."""
MOST_KEPT = 5000
"""Readings of a thermometer's file that are kept: one a second for more than an hour."""
Logged = Added | Taken | Reading | Readings | Happened | Drip | Filled | Judged


def trials(book: "TrialBook") -> dict[str, str]:
    """Return the first version of each batch's plan by the batch's name, the newest first."""
    return BatchTrial.known(book)


def ask(book: "TrialBook", question: Question, name: str = "", id: str | None = None) -> "BatchTrial":
    """Write what is to be made and return the batch; without a name it is called after the day."""
    return BatchTrial.begin(book, question, name, f"Batch of {now().day} {now():%b %Y}", id)


def start_batch(
    book: "TrialBook", lines: Sequence[Mapping[str, Any]], name: str = "", **question: Any
) -> "BatchTrial":
    """Start a batch from the lines of its recipe; further arguments are the fields of `Question`.

    Each line has name, grams, kind ("oil", "wax", "butter", "powder" or "scent"), and optionally
    melts_c, a pair, and limit_c, in °C.

    Raises
    ------
    LabError
        Where a line or a figure cannot be, or the name is taken.
    """
    return ask(book, Question.of({"lines": [dict(line) for line in lines], **question}), name)


class BatchTrial(Standing):
    """One batch: what was to be made, and what happened on the day and after it."""

    question_kind = KIND
    mended_kinds = tuple(TIMES)

    # ------------------------------------------------------------ reading

    @cached_property
    def question(self) -> Question:
        """What is to be made."""
        return Question.of(self.question_row.head.payload)

    @cached_property
    def logged(self) -> "list[tuple[Entry, Logged]]":
        """Everything logged, in the order of its times; where it was mended twice at once, both."""
        found = [
            (row.head, record.of(row.head.payload)) for record in LOGGED for row in self.rows(record.kind)
        ]
        return sorted(found, key=lambda each: (time_of(each[1]), each[0].id))

    def of(self, record: type[Any]) -> list[Any]:
        """Return what was logged of a kind, such as `Added`, in the order of its times."""
        return [each for _, each in self.logged if isinstance(each, record)]

    def pot(self) -> Pot | None:
        """Return what is really in the pot: what went in, less what was taken out; None where it is empty."""
        pot: Pot | None = None
        for _, each in self.logged:
            if isinstance(each, Added):
                pot = (
                    Pot({each.ingredient: each.grams})
                    if pot is None
                    else pot.add(each.ingredient, each.grams)
                )
            elif isinstance(each, Taken) and pot is not None:
                pot = pot.take(each.grams) if each.grams < pot.total_g else None
        return pot

    def went_in(self) -> dict[str, float]:
        """Return the grams of each ingredient that went into the pot, whatever was taken out."""
        grams: dict[str, float] = {}
        for each in self.of(Added):
            grams[each.ingredient] = grams.get(each.ingredient, 0.0) + each.grams
        return grams

    @cached_property
    def clock(self) -> datetime | None:
        """When the day's clock starts: the first thing logged before the batch was filled."""
        times = [time_of(each) for _, each in self.logged if not isinstance(each, Filled | Judged)]
        return min(times, default=None)

    def minutes(self, when: datetime) -> float:
        """Return a time in minutes on the day's clock."""
        return (when - (self.clock or when)).total_seconds() / 60.0

    def temperatures(self) -> pd.DataFrame:
        """Return every temperature of the pot: minutes on the day's clock, celsius, where it is from."""
        rows: list[tuple[float, float, str]] = []
        for _, each in self.logged:
            if isinstance(each, Readings):
                start = self.minutes(each.began_at)
                rows += [(start + at, c, "file") for at, c in zip(each.minutes, each.celsius, strict=True)]
            elif isinstance(each, Reading):
                rows.append((self.minutes(each.read_at), each.celsius, "typed"))
            elif isinstance(each, Happened) and each.celsius is not None:
                rows.append((self.minutes(each.at), each.celsius, each.what))
        table = pd.DataFrame(rows, columns=["minutes", "celsius", "from"])
        return table.sort_values("minutes", kind="stable", ignore_index=True)

    @cached_property
    def cooling(self) -> CoolingFit:
        """The cooling curve since the heat went off last, or the pot was warmest.

        Raises
        ------
        LabError
            Where too little was read to say.
        """
        table = self.temperatures()
        off = [self.minutes(each.at) for each in self.of(Happened) if each.what == "heat off"]
        clock, celsius = table["minutes"].to_numpy(float), table["celsius"].to_numpy(float)
        since = off[0] if off else clock[celsius.argmax()] if len(clock) else 0.0
        read = clock >= since - 1e-9
        return fit_cooling(clock[read], celsius[read], self.question.room_c)

    @property
    def poured(self) -> Happened | None:
        """When it was poured, or None."""
        return next((each for each in self.of(Happened) if each.what == "poured"), None)

    @property
    def filled(self) -> Filled | None:
        """What was filled, or None before that."""
        return next(iter(reversed(self.of(Filled))), None)

    def forked(self) -> int:
        """Return how many entries of this batch were mended in two places at once."""
        return len({row.entry for kind in TIMES for row in self.rows(kind) if row.forked})

    # ------------------------------------------------------------ writing

    def log(self, record: type[Logged], id: str | None = None, **fields: Any) -> Self:
        """Write down something of a kind, such as `Added`, now where no time is given.

        Raises
        ------
        LabError
            Where it cannot be, lies in the future, takes more than the pot holds, or is a
            temperature that can only be in °F.
        """
        if "ingredient" in fields:
            fields["ingredient"] = self._as_planned(str(fields["ingredient"]))
        made = record.of({"question": self.entry, TIMES[record.kind]: now(), **fields})
        self._refuse(made)
        return self.write(record.kind, made, id)

    def log_file(
        self, log: "ThermometerLog", began_at: datetime, file: str = "", id: str | None = None
    ) -> Self:
        """Write down the readings of a logging thermometer, whose first one was read at a time.

        Of a very long log only some are kept, evenly, and the remark says how many.
        """
        every = -(-len(log.minutes) // MOST_KEPT)
        minutes = np.asarray(log.minutes, dtype=float)[::every]
        remark = f"1 reading in {every} of {len(log.minutes)}." if every > 1 else ""
        return self.log(
            Readings, id, began_at=began_at, minutes=(minutes - minutes[0]).round(4).tolist(),
            celsius=np.round(log.celsius[::every], 3).tolist(), file=file, remark=remark,
        )  # fmt: skip

    def mend_logged(self, version: "Entry", id: str | None = None, **fields: Any) -> Self:
        """Correct the version that was shown; what stood there stays in its history."""
        record = next(each for each in LOGGED if each.kind == version.kind)
        before: Any = record.of(version.payload)
        at = TIMES[record.kind]
        when = mended_time(getattr(before, at), fields.get(at))
        after = record.of({**before.model_dump(), **fields, at: when})
        self._refuse(after, version)
        return self.mend(version, after, id)

    def change(self, question: Question, id: str | None = None) -> Self:
        """Write a changed plan; what was logged stays as it is."""
        for each in self.of(Judged):
            refuse_word(each.word, question.words)
        return self.mend(self.entry, question, id)

    def _as_planned(self, name: str) -> str:
        """Return an ingredient's name as the plan spells it."""
        folded = " ".join(name.split()).casefold()
        return next((each for each in self.question.grams if each.casefold() == folded), name.strip())

    def _refuse(self, made: Any, instead_of: "Entry | None" = None) -> None:
        refuse_future(time_of(made))
        if isinstance(made, Judged):
            refuse_word(made.word, self.question.words)
        if isinstance(made, Readings):
            read_celsius(made.celsius)
        if isinstance(made, Taken):
            self._refuse_more_than_there_is(made, instead_of)
        if isinstance(made, Filled | Judged) and (poured := self.poured) and time_of(made) < poured.at:
            raise LabError(
                f"It was poured {spoken(poured.at)}, and this says {spoken(time_of(made))}. "
                "Mend one of the two times."
            )

    def _refuse_more_than_there_is(self, made: Taken, instead_of: "Entry | None") -> None:
        inside = sum(each.grams for each in self.of(Added) if each.added_at <= made.taken_at) - sum(
            each.grams
            for entry, each in self.logged
            if isinstance(each, Taken)
            and each.taken_at <= made.taken_at
            and (instead_of is None or entry.id != instead_of.id)
        )
        if made.grams >= inside:
            raise LabError(
                f"{made.grams:g} g cannot be taken from a pot of {max(inside, 0.0):g} g. "
                "Look at the weight, or write down first what went in."
            )


def time_of(logged: Any) -> datetime:
    """Return when something logged was."""
    when: datetime = getattr(logged, TIMES[logged.kind])
    return when
