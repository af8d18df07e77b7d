"""A texture trial in a book: what was asked, planned, poured and felt, and what follows from it.

Everything that the panel does is one plain line here::

    trial = start_trial(book, {"shea butter": 12, "castor oil": 20, "beeswax": 6}, wrong="too soft")
    trial.log_pour(1)
    trial.log_note(1, "soft")
    trial.next_pour()
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

import pandas as pd

from labkit.errors import LabError, did_you_mean
from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel
from labkit.texture.plan import plan_pours
from labkit.texture.record import HELD, Note, PlannedPour, Pour, Question
from labkit.texture.region import Region
from labkit.texture.usual import base_shares, one_change
from labkit.texture.weigh import Weighing
from labkit.texture.wording import FAIR_AFTER_H, MAP_FROM_POURS

if TYPE_CHECKING:
    from labkit.book import Entry, TrialBook


def trial_names(book: "TrialBook") -> list[str]:
    """Return the names of the book's texture trials, the newest first."""
    entries = sorted(book.entries("texture.question"), key=lambda each: each.id, reverse=True)
    return list(dict.fromkeys(each.trial for each in entries))


def region_of(question: Question) -> Region:
    """Return the region of compositions that a question allows."""
    bounds = {part: (question.low[part], question.high[part]) for part in question.parts}
    return Region(bounds, rules=list(question.rules))


@dataclass(frozen=True)
class Cast:
    """A pour as it stands in the book: the id that notes refer to, and the version that is current."""

    entry: str
    version: "Entry"
    pour: Pour
    forked: bool


class TextureTrial:
    """One trial of a book, read when it is made: make it again to see what is new.

    Raises
    ------
    LabError
        Where the book has no such trial.
    """

    def __init__(self, book: "TrialBook", name: str | None = None) -> None:
        names = trial_names(book)
        if not names:
            raise LabError("This book has no texture trial yet. Start one with your usual recipe.")
        if name is not None and name not in names:
            raise LabError(f"There is no trial “{name}” in this book. {did_you_mean(name, names)}")
        self.book, self.name = book, name or names[0]

    @cached_property
    def question(self) -> Question:
        """What this trial asks: the version written last, where two notebooks changed it at once."""
        return Question.of(self.book.rows("texture.question", self.name)[-1].head.payload)

    @cached_property
    def region(self) -> Region:
        """The compositions that are allowed."""
        return region_of(self.question)

    @cached_property
    def weighing(self) -> Weighing:
        """Shares of the base to grams of each ingredient, and back."""
        return Weighing(self.question)

    @cached_property
    def casts(self) -> list[Cast]:
        """The pours, in the order of their numbers."""
        found = [
            Cast(row.entry, row.head, Pour.of(row.head.payload), row.forked)
            for row in self.book.rows("texture.pour", self.name)
        ]
        return sorted(found, key=lambda each: (each.pour.number, each.pour.poured_at))

    @cached_property
    def planned(self) -> list[PlannedPour]:
        """All pours that were ever put on the weigh card."""
        entries = self.book.entries("texture.plan", self.name)
        return [PlannedPour.model_validate(pour) for each in entries for pour in each.payload["pours"]]

    @property
    def waiting(self) -> list[PlannedPour]:
        """The weigh card: planned pours that have not been poured."""
        poured = {cast.pour.number for cast in self.casts}
        return [pour for pour in self.planned if pour.number not in poured]

    # ------------------------------------------------------------ tables

    def pours(self) -> pd.DataFrame:
        """Return the pours: number, when, % of the finished product, shares of the base."""
        rows = [
            {
                "pour": cast.pour.number,
                "poured": cast.pour.poured_at,
                **{f"{part} %": 100 * share for part, share in self._product(cast).items()},
                **self.weighing.shares(cast.pour.weighed_g),
                "entry": cast.entry,
                "forked": cast.forked,
            }
            for cast in self.casts
        ]
        parts = list(self.question.parts)
        columns = ["pour", "poured", *(f"{part} %" for part in [*parts, HELD]), *parts, "entry", "forked"]
        return pd.DataFrame(rows, columns=columns)

    def _product(self, cast: Cast) -> dict[str, float]:
        return self.weighing.fractions(cast.pour.weighed_g)

    def notes(self) -> pd.DataFrame:
        """Return the notes: pour, hours since that pour, word, stick or pot, which piece, room."""
        casts = {cast.entry: cast.pour for cast in self.casts}
        rows = []
        for row in self.book.rows("texture.note", self.name):
            note = Note.of(row.head.payload)
            pour = casts.get(note.pour)
            if pour is not None:
                hours = (note.felt_at - pour.poured_at).total_seconds() / 3600
                rows.append([pour.number, note.pour, hours, note.word, note.form, note.piece, note.room_c,
                             note.felt_at, note.remark, row.head.id])  # fmt: skip
        columns = ["pour", "cast", "hours", "word", "form", "piece", "room_c", "felt", "remark", "version"]
        return pd.DataFrame(rows, columns=columns).sort_values(["pour", "hours"], ignore_index=True)

    def readings(self) -> pd.DataFrame:
        """Return the notes that count for the map, with shares: sticks or pots, words on the ladder."""
        notes = self.notes()
        notes = notes[(notes["hours"] >= 0) & notes["word"].isin(self.question.ladder)]
        if notes["form"].nunique() > 1:
            notes = notes[notes["form"] == self.form]
        pours = self.pours().drop_duplicates("entry", keep="last").set_index("entry")
        return notes.join(pours[list(self.question.parts)], on="cast").reset_index(drop=True)

    @property
    def form(self) -> str:
        """Stick or pot: the one that was felt more often, since their rungs are not mixed."""
        counts = self.notes()["form"].value_counts()
        return str(counts.index[0]) if len(counts) else "stick"

    # ------------------------------------------------------------ what follows

    @cached_property
    def model(self) -> HardnessModel | None:
        """The fitted surface, or None before the first note."""
        readings = self.readings()
        if readings.empty:
            return None
        return HardnessModel(list(self.question.ladder)).fit(
            readings[list(self.question.parts)], readings["word"], readings["hours"], readings["cast"]
        )

    def fitted(self) -> HardnessModel:
        """Return the model, or raise `LabError` before the first note."""
        if self.model is None:
            raise LabError("Nothing has been felt yet: pour, wait, and write down the first word.")
        return self.model

    @property
    def has_map(self) -> bool:
        """Whether enough pours were felt for a map of one's own."""
        return self.readings()["cast"].nunique() >= MAP_FROM_POURS

    def next_pour(self, pours: int = 1, explore: bool = True, seed: int = 0) -> pd.DataFrame:
        """Return where to pour next: shares, chance of the wanted word, and why.

        Raises
        ------
        LabError
            Before the first note.
        """
        start = base_shares(self.question.usual)
        return next_pour(self.fitted(), self.region, self.question.wanted, pours, explore, start, seed)

    @cached_property
    def likeliest(self) -> "pd.Series[Any]":
        """What is most likely right as things stand: shares, "chance" and "why"."""
        return self.next_pour(explore=False).iloc[0]

    def first_pours(self) -> list[PlannedPour]:
        """Return the usual, the usual again, and one change."""
        usual, changed = base_shares(self.question.usual), one_change(self.question)
        if not self.region.contains(pd.DataFrame([changed]))[0]:
            changed = dict(self.region.nearest(changed))
        compositions = [usual, usual, changed]
        return self._numbered(compositions, whys=["the usual", "the usual again", "one change"])

    def plan(self, pours: int, repeats: int = 1, days: int = 1, seed: int = 0) -> pd.DataFrame:
        """Return pours that fill up the region around what was poured or is on the card; as `plan_pours`."""
        parts = list(self.question.parts)
        waiting = pd.DataFrame([self.weighing.shares(each.grams) for each in self.waiting], columns=parts)
        known = pd.concat([frame for frame in (self.pours()[parts], waiting) if len(frame)] or [waiting])
        return plan_pours(
            self.region, pours, repeats, days, given=known if len(known) else None,
            batch_g=self.weighing.base_g, step_g=self.question.step_g, seed=seed,
        )  # fmt: skip

    def for_card(self, compositions: pd.DataFrame) -> list[PlannedPour]:
        """Return the rows of `plan` or `next_pour` as numbered pours in grams."""
        why = list(compositions.get("why", ["to learn the map"] * len(compositions)))
        parts = list(self.question.parts)
        shares = [dict(zip(parts, row, strict=True)) for row in compositions[parts].to_numpy()]
        return self._numbered(shares, why, list(compositions.get("day", [])))

    def _numbered(
        self, compositions: Sequence[Mapping[str, float]], whys: Sequence[str], days: Sequence[int] = ()
    ) -> list[PlannedPour]:
        taken = [pour.number for pour in self.planned] + [cast.pour.number for cast in self.casts]
        first = max(taken, default=0) + 1
        return [
            PlannedPour(number=first + index, grams=self.weighing.grams(shares), day=int(day), why=why)
            for index, (shares, why, day) in enumerate(
                zip(compositions, whys, days or [1] * len(whys), strict=True)
            )
        ]

    # ------------------------------------------------------------ writing

    def put_on_card(self, pours: Iterable[PlannedPour], id: str | None = None) -> "TextureTrial":
        """Write planned pours into the book."""
        payload = {"pours": [pour.model_dump() for pour in pours]}
        self.book.append("texture.plan", payload, trial=self.name, id=id)
        return self._again()

    def log_pour(
        self, number: int, weighed_g: Mapping[str, float] | None = None, id: str | None = None, **details: Any
    ) -> "TextureTrial":
        """Write down a pour: the planned grams where nothing else is given, now where no time is given.

        Raises
        ------
        LabError
            Where the number was never planned and no grams are given, or an
            ingredient is not of this trial.
        """
        planned = {pour.number: pour.grams for pour in self.planned}
        if weighed_g is None and number not in planned:
            raise LabError(f"Pour {number} is not on the weigh card: give the grams that were weighed.")
        weighed = dict(weighed_g if weighed_g is not None else planned[number])
        self.weighing.check(weighed)
        pour = Pour.of({"number": number, "weighed_g": weighed, "poured_at": now(), **details})
        self.book.append("texture.pour", pour, trial=self.name, id=id)
        return self._again()

    def log_note(self, number: int, word: str, id: str | None = None, **details: Any) -> "TextureTrial":
        """Write down a hardness word for a pour, felt now where no time is given.

        Raises
        ------
        LabError
            Where there is no such pour, the word is not on the ladder, or the
            note lies before its pour.
        """
        details = {"felt_at": now(), **details}
        self._refuse_note(number, word, details["felt_at"])
        note = Note.of({"pour": self.cast(number).entry, "word": word, **details})
        self.book.append("texture.note", note, trial=self.name, id=id)
        return self._again()

    def _refuse_note(self, number: int, word: str, felt_at: datetime) -> None:
        poured_at = self.cast(number).pour.poured_at
        if word not in self.question.ladder:
            raise LabError(f"“{word}” is not on your ladder. {did_you_mean(word, self.question.ladder)}")
        if felt_at < poured_at:
            raise LabError(
                f"Felt {felt_at.astimezone():%A %H:%M}, but pour {number} was poured "
                f"{poured_at.astimezone():%A %H:%M}. A note comes after its pour: mend one of the two times."
            )

    def mend_pour(self, version: "Entry", id: str | None = None, **pour: Any) -> "TextureTrial":
        """Correct the version of a pour that was shown; what stood there stays in its history."""
        before = Pour.of(version.payload)
        poured_at = _mended(before.poured_at, pour.get("poured_at"))
        after = Pour.of({**before.model_dump(), **pour, "poured_at": poured_at})
        self.weighing.check(after.weighed_g)
        return self._mend(version, after, id)

    def mend_note(self, version: "Entry", number: int, id: str | None = None, **note: Any) -> "TextureTrial":
        """Correct the version of a note that was shown; what stood there stays in its history."""
        before = Note.of(version.payload)
        felt_at = _mended(before.felt_at, note.get("felt_at"))
        after = Note.of({**before.model_dump(), **note, "felt_at": felt_at, "pour": self.cast(number).entry})
        self._refuse_note(number, after.word, after.felt_at)
        return self._mend(version, after, id)

    def _mend(self, version: "Entry", record: Pour | Note, id: str | None) -> "TextureTrial":
        forked = any(version in heads for heads in self.book.forks().values())
        (self.book.settle if forked else self.book.correct)(version, record, id=id)
        return self._again()

    def cast(self, number: int) -> Cast:
        """Return the pour with this number, or raise `LabError`."""
        found = [cast for cast in self.casts if cast.pour.number == number]
        if not found:
            numbers = ", ".join(str(cast.pour.number) for cast in self.casts) or "none yet"
            raise LabError(f"There is no pour {number} in this trial. Poured: {numbers}.")
        return found[-1]

    def _again(self) -> "TextureTrial":
        return TextureTrial(self.book, self.name)

    def chance_when_set(self, number: int) -> float | None:
        """Return the chance that a pour gets the wanted word once it is fair to judge."""
        if self.model is None:
            return None
        shares = pd.DataFrame([self.weighing.shares(self.cast(number).pour.weighed_g)])
        return float(self.model.predict(shares, hours=FAIR_AFTER_H)[self.question.wanted].iloc[0])


def now() -> datetime:
    """Return the time, with its zone."""
    return datetime.now().astimezone()


def _mended(before: datetime, after: datetime | None) -> datetime:
    """Return the time to keep: a form shows minutes, so the same minute is the same time."""
    same = after is None or after.replace(second=0, microsecond=0) == before.replace(second=0, microsecond=0)
    return before if same or after is None else after
