"""A texture trial in a book: what was asked, planned, poured and felt, and what follows from it.

Everything that the panel does is one plain line here::

    trial = start_trial(book, {"shea butter": 12, "castor oil": 20, "beeswax": 6}, wrong="too soft")
    trial = trial.log_pour(1).log_note(1, "soft")
    trial.next_pour()
"""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, Any

import pandas as pd

from labkit.book.people import person_id
from labkit.book.record import Record
from labkit.errors import LabError, did_you_mean
from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel
from labkit.texture.plan import plan_pours
from labkit.texture.record import Note, PlannedPour, Pour
from labkit.texture.standing import Standing
from labkit.texture.usual import base_shares
from labkit.texture.wording import FAIR_AFTER_H, MAP_FROM_POURS, spoken

if TYPE_CHECKING:
    from labkit.book import Entry


CLOCK_SLACK = timedelta(minutes=5)
"""The clocks of a tablet and of the lab may differ by this."""


class TextureTrial(Standing):
    """One trial of a book, read when it is made: make it again to see what is new.

    Parameters
    ----------
    book : TrialBook
    name : str, optional
        Its name, as in `trial_names`, or the id of its question; by default the newest.

    Raises
    ------
    LabError
        Where the book has no such trial.
    """

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
        return next_pour(
            self.fitted(), self.region, self.question.wanted, pours, explore, start, seed,
            waiting=self._waiting_shares(),
        )  # fmt: skip

    def _waiting_shares(self) -> pd.DataFrame | None:
        """Return the shares of what is on the card, or is poured and not felt yet."""
        felt = set(self.readings()["cast"])
        poured = [self.weighing.shares(cast.pour.weighed_g) for cast in self.casts if cast.entry not in felt]
        shares = [*(pour.shares for pour in self.waiting), *poured]
        return pd.DataFrame(shares, columns=list(self.question.parts)) if shares else None

    @cached_property
    def likeliest(self) -> "pd.Series[Any]":
        """What is most likely right as things stand: shares, "chance" and "why"."""
        return self.next_pour(explore=False).iloc[0]

    def plan(self, pours: int, repeats: int = 1, days: int = 1, seed: int = 0) -> pd.DataFrame:
        """Return pours that fill up the region around what was poured or is on the card; as `plan_pours`."""
        parts = list(self.question.parts)
        waiting = pd.DataFrame([each.shares for each in self.waiting], columns=parts)
        known = pd.concat([frame for frame in (self.pours()[parts], waiting) if len(frame)] or [waiting])
        return plan_pours(
            self.region, pours, repeats, days, given=known if len(known) else None,
            batch_g=self.weighing.base_g, step_g=self.question.step_g, seed=seed,
        )  # fmt: skip

    def for_card(self, compositions: pd.DataFrame) -> list[PlannedPour]:
        """Return the rows of `plan` or `next_pour` as numbered pours for the card."""
        whys = list(compositions.get("why", ["to learn the map"] * len(compositions)))
        days = list(compositions.get("day", [1] * len(compositions)))
        parts, first = list(self.question.parts), self.next_number
        shares = [dict(zip(parts, map(float, row), strict=True)) for row in compositions[parts].to_numpy()]
        return [
            PlannedPour(number=number, shares=each, day=int(day), why=why)
            for number, (each, day, why) in enumerate(zip(shares, days, whys, strict=True), first)
        ]

    # ------------------------------------------------------------ writing

    def put_on_card(self, pours: Iterable[PlannedPour], id: str | None = None) -> "TextureTrial":
        """Write planned pours into the book.

        Raises
        ------
        LabError
            Where a number is taken meanwhile, by another notebook or an earlier card.
        """
        listed = list(pours)
        if listed and min(pour.number for pour in listed) < (first := self._again().next_number):
            raise LabError(
                f"Pour {listed[0].number} is on the card already. The next free number is {first}."
            )
        payload = {"question": self.entry, "pours": [pour.model_dump() for pour in listed]}
        return self._write("texture.plan", payload, id)

    def take_off_card(self, number: int, id: str | None = None) -> "TextureTrial":
        """Take a planned pour off the weigh card.

        Raises
        ------
        LabError
            Where it is not on the card.
        """
        if number not in (on_card := [pour.number for pour in self._again().waiting]):
            numbers = ", ".join(map(str, on_card)) or "nothing"
            raise LabError(f"Pour {number} is not on the weigh card. On it: {numbers}.")
        return self._write("texture.off_card", {"question": self.entry, "number": number}, id)

    def log_pour(
        self,
        number: int | None = None,
        weighed_g: Mapping[str, float] | None = None,
        id: str | None = None,
        **details: Any,
    ) -> "TextureTrial":
        """Write down a pour: the planned grams where nothing else is given, now where no time is given.

        Without a number it is a pour that is not on the card, and takes the next free one.

        Raises
        ------
        LabError
            Where the number was never planned and no grams are given, was poured
            already, or an ingredient is not of this trial.
        """
        trial = self._again()
        planned = {pour.number: pour for pour in trial.planned}
        if weighed_g is None and number not in planned:
            missing = "A pour" if number is None else f"Pour {number}"
            raise LabError(f"{missing} is not on the weigh card: give the grams that were weighed.")
        for cast in trial.all_casts:
            if cast.pour.number == number:
                raise LabError(
                    f"Pour {number} is in your book already, poured {spoken(cast.pour.poured_at)}. "
                    f"Mend it there; if this is another pour, save it as one that is not on the card."
                )
        weighed = dict(trial.grams(planned[number]) if weighed_g is None else weighed_g)  # type: ignore[index]
        trial.weighing.check(weighed)
        pour = Pour.of(
            {
                "question": self.entry,
                "number": number or trial.next_number,
                "weighed_g": weighed,
                "poured_at": now(),
                **details,
            }
        )
        _refuse_future(pour.poured_at)
        return self._write("texture.pour", pour, id)

    def log_note(
        self, number: int | str, word: str = "", id: str | None = None, **details: Any
    ) -> "TextureTrial":
        """Write down what was felt or read on a pour, felt now where no time is given.

        Details are the fields of `Note`; ``than`` is a pour's label, "pour 4", or the name of a kept
        reference stick, and ``tester`` a person's name.

        Raises
        ------
        LabError
            Where there is no such pour, the word is not on the ladder, or the
            note lies before its pour or in the future.
        """
        details = self._named(details)
        note = Note.of({"pour": self.cast(number).entry, "word": word, "felt_at": now(), **details})
        self._refuse_note(number, note)
        return self._write("texture.note", note, id)

    def _named(self, details: dict[str, Any]) -> dict[str, Any]:
        """Return the details of a note with ids in place of a pour's label and a person's name."""
        named = dict(details)
        if than := str(named.get("than") or "").strip():
            named["than"] = than_entry(than, {cast.label: cast.entry for cast in self.casts})
        if tester := str(named.get("tester") or "").strip():
            named["tester"] = person_id(self.book, tester)
        return named

    def _write(self, kind: str, payload: Mapping[str, Any] | Record, id: str | None) -> "TextureTrial":
        self.book.append(kind, payload, trial=self.question_row.head.trial, id=id)
        return self._again()

    def _refuse_note(self, number: int | str, note: Note) -> None:
        poured_at = self.cast(number).pour.poured_at
        _refuse_future(note.felt_at)
        if note.word and note.word not in self.question.ladder:
            raise LabError(
                f"“{note.word}” is not on your ladder. {did_you_mean(note.word, self.question.ladder)}"
            )
        if note.felt_at < poured_at:
            raise LabError(
                f"Felt {spoken(note.felt_at)}, but pour {number} was poured {spoken(poured_at)}. "
                "A note comes after its pour: mend one of the two times."
            )

    def mend_pour(self, version: "Entry", id: str | None = None, **pour: Any) -> "TextureTrial":
        """Correct the version of a pour that was shown; what stood there stays in its history."""
        before = Pour.of(version.payload)
        poured_at = _mended(before.poured_at, pour.get("poured_at"))
        after = Pour.of({**before.model_dump(), **pour, "poured_at": poured_at})
        self.weighing.check(after.weighed_g)
        _refuse_future(after.poured_at)
        return self._mend(version, after, id)

    def mend_note(
        self, version: "Entry", number: int | str, id: str | None = None, **note: Any
    ) -> "TextureTrial":
        """Correct the version of a note that was shown; what stood there stays in its history."""
        before = Note.of(version.payload)
        felt_at = _mended(before.felt_at, note.get("felt_at"))
        note = self._named(note)
        after = Note.of({**before.model_dump(), **note, "felt_at": felt_at, "pour": self.cast(number).entry})
        self._refuse_note(number, after)
        return self._mend(version, after, id)

    def _mend(self, version: "Entry", record: Pour | Note, id: str | None) -> "TextureTrial":
        forked = any(version in heads for heads in self.book.forks().values())
        (self.book.settle if forked else self.book.correct)(version, record, id=id)
        return self._again()

    def take_back(self, version: "Entry", id: str | None = None) -> "TextureTrial":
        """Withdraw the version of a pour or a note that was shown; `put_back` undoes it."""
        self.book.withdraw(version, "taken back", id=id)
        return self._again()

    def put_back(self, version: "Entry", id: str | None = None) -> "TextureTrial":
        """Put back what was taken back, as it stood; the notes of a pour come back with it."""
        self.book.correct(self.book.history(version)[0].id, version.payload, id=id)
        return self._again()

    def _again(self) -> "TextureTrial":
        return TextureTrial(self.book, self.entry)

    def chance_when_set(self, number: int | str) -> float | None:
        """Return the chance that a pour gets the wanted word once it is fair to judge.

        Its own notes count; None before the trial's first note.
        """
        if self.model is None:
            return None
        cast = self.cast(number)
        shares = pd.DataFrame([self.weighing.shares(cast.pour.weighed_g)])
        label = cast.entry if cast.entry in set(self.readings()["cast"]) else None
        chances = self.model.predict(shares, hours=FAIR_AFTER_H, pour=[label])
        return float(chances[self.question.wanted].iloc[0])


def now() -> datetime:
    """Return the time, with its zone."""
    return datetime.now().astimezone()


def _refuse_future(when: datetime) -> None:
    if when > now() + CLOCK_SLACK:
        raise LabError(f"{spoken(when)} {when.astimezone().year} is still to come. Give an earlier time.")


def _mended(before: datetime, after: datetime | None) -> datetime:
    """Return the time to keep: a form shows minutes, so the same minute is the same time."""
    same = after is None or after.replace(second=0, microsecond=0) == before.replace(second=0, microsecond=0)
    return before if same or after is None else after


def than_entry(than: str, entries: Mapping[str, str]) -> str:
    """Return what a comparison names: the pour's entry for "pour 4", else the reference stick as named.

    Raises
    ------
    LabError
        For a pour that is not there.
    """
    lead, _, label = than.partition(" ")
    if lead.casefold() != "pour":
        return than
    if label not in entries:
        raise LabError(f"There is no pour {label} to compare with. {did_you_mean(label, entries)}")
    return entries[label]
