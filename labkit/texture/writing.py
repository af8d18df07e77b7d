"""Writing into a texture trial: its card, pours, stock melts, notes and looks, mended and taken back."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Self

from labkit.book.people import person_id
from labkit.errors import LabError, did_you_mean
from labkit.texture.record import REFERENCE, Look, Note, PlannedPour, Pour, StockMelt
from labkit.texture.standing import GONE_POUR, Standing
from labkit.texture.trials import trials
from labkit.times import mended_time, now, refuse_future, spoken

if TYPE_CHECKING:
    from labkit.book import Entry


class Writing(Standing):
    """A trial that can be written to; each method returns the trial as it stands afterwards."""

    def put_on_card(self, pours: Iterable[PlannedPour], id: str | None = None) -> Self:
        """Write planned pours into the book.

        Raises
        ------
        LabError
            Where a number is taken meanwhile, by another notebook or an earlier card.
        """
        listed = list(pours)
        if listed and min(pour.number for pour in listed) < (first := self.again().next_number):
            raise LabError(
                f"Pour {listed[0].number} is on the card already. The next free number is {first}."
            )
        payload = {"question": self.entry, "pours": [pour.model_dump() for pour in listed]}
        return self.write("texture.plan", payload, id)

    def take_off_card(self, number: int, id: str | None = None) -> Self:
        """Take a planned pour off the weigh card.

        Raises
        ------
        LabError
            Where it is not on the card.
        """
        if number not in (on_card := [pour.number for pour in self.again().waiting]):
            numbers = ", ".join(map(str, on_card)) or "nothing"
            raise LabError(f"Pour {number} is not on the weigh card. On it: {numbers}.")
        return self.write("texture.off_card", {"question": self.entry, "number": number}, id)

    def log_pour(
        self,
        number: int | None = None,
        weighed_g: Mapping[str, float] | None = None,
        id: str | None = None,
        stocks_g: Mapping[str, float] | None = None,
        **details: Any,
    ) -> Self:
        """Write down a pour: the planned grams where nothing else is given, now where no time is given.

        Without a number it is a pour that is not on the card, and takes the next free one. With
        ``stocks_g``, grams of stock melts by name, ``weighed_g`` is what was weighed beside them.

        Raises
        ------
        LabError
            Where the number was never planned and no grams are given, was poured
            already, or an ingredient is not of this trial.
        """
        trial = self.again()
        planned = {pour.number: pour for pour in trial.planned}
        if weighed_g is None and not stocks_g and number not in planned:
            missing = "A pour" if number is None else f"Pour {number}"
            raise LabError(f"{missing} is not on the weigh card: give the grams that were weighed.")
        for cast in trial.all_casts:
            if cast.pour.number == number:
                raise LabError(
                    f"Pour {number} is in your book already, poured {spoken(cast.pour.poured_at)}. "
                    f"Mend it there; if this is another pour, save it as one that is not on the card."
                )
        if stocks_g:
            weighed = trial.melts.ingredients(stocks_g, weighed_g or {})
        else:
            weighed = dict(trial.grams(planned[number]) if weighed_g is None else weighed_g)  # type: ignore[index]
        trial.weighing.check(weighed)
        pour = Pour.of(
            {
                "question": self.entry,
                "number": number or trial.next_number,
                "weighed_g": weighed,
                "stocks_g": trial.melts.entries(stocks_g or {}),
                "poured_at": now(),
                **details,
            }
        )
        refuse_future(pour.poured_at)
        return self.write("texture.pour", pour, id)

    def log_stock(
        self, name: str, weighed_g: Mapping[str, float], id: str | None = None, **details: Any
    ) -> Self:
        """Write down a stock melt: a base of varied ingredients that several pours are weighed from.

        Raises
        ------
        LabError
            Where the name is taken, or an ingredient is not one that is varied.
        """
        self.again().melts.check(name, weighed_g)
        payload = {"question": self.entry, "name": name, "weighed_g": dict(weighed_g), "melted_at": now()}
        return self.write("texture.stock", StockMelt.of({**payload, **details}), id)

    def log_note(self, number: int | str, word: str = "", id: str | None = None, **details: Any) -> Self:
        """Write down what was felt or read on a pour, felt now where no time is given.

        Details are the fields of `Note`; ``than`` is a pour's label, "pour 4", or the name of a kept
        reference stick, with ``new_stick=True`` where it is named for the first time, and ``tester`` a
        person's name.

        Raises
        ------
        LabError
            Where there is no such pour or stick, the word is not on the ladder, or the
            note lies before its pour or in the future.
        """
        details = self._named(details)
        note = Note.of({"pour": self.cast(number).entry, "word": word, "felt_at": now(), **details})
        self._refuse_note(number, note)
        return self.write("texture.note", note, id)

    def let_count(self, counts: Mapping[str, bool], id: str | None = None) -> Self:
        """Say which earlier trials count as knowledge, by name or by the id of their question.

        Raises
        ------
        LabError
            For a trial that is not in this book.
        """
        known = trials(self.book)
        if strange := [each for each in counts if each not in known and each not in known.values()]:
            raise LabError(
                f"There is no trial “{strange[0]}” in this book. {did_you_mean(strange[0], known)}"
            )
        by_entry = {known.get(each, each): bool(count) for each, count in counts.items()}
        return self.write("texture.old_trials", {"question": self.entry, "counts": by_entry}, id)

    def log_look(
        self, number: int | str, defects: Iterable[str] = (), id: str | None = None, **details: Any
    ) -> Self:
        """Write down how a pour looks some time after: the defects seen, none where it is still sound.

        Raises
        ------
        LabError
            Where there is no such pour, a defect is not on the list, or the look lies before
            its pour or in the future.
        """
        cast = self.cast(number)
        listed = (defects,) if isinstance(defects, str) else tuple(defects)
        look = Look.of({"pour": cast.entry, "looked_at": now(), "defects": listed, **details})
        refuse_future(look.looked_at)
        if look.looked_at < cast.pour.poured_at:
            raise LabError(
                f"Looked {spoken(look.looked_at)}, but pour {number} was poured "
                f"{spoken(cast.pour.poured_at)}. Mend the time."
            )
        return self.write("texture.look", look, id)

    def _named(self, details: dict[str, Any]) -> dict[str, Any]:
        """Return the details of a note with ids in place of a pour's label and a person's name."""
        named = dict(details)
        new_stick = bool(named.pop("new_stick", False))
        if than := str(named.get("than") or "").strip():
            named["than"] = self.compared_with(than, new_stick)
        if tester := str(named.get("tester") or "").strip():
            named["tester"] = person_id(self.book, tester)
        return named

    def compared_with(self, than: str, new_stick: bool = False) -> str:
        """Return what a comparison names: the entry of "pour 4" or "4", else a reference stick's name.

        Raises
        ------
        LabError
            For a pour that is not there, and a stick that is not known and not said to be new.
        """
        if than == GONE_POUR:
            raise LabError("That pour was taken back. Put it back, or empty the comparison.")
        entries = {cast.label: cast.entry for cast in self.casts}
        return than_entry(than, entries, self.sticks, new_stick)

    def _refuse_note(self, number: int | str, note: Note) -> None:
        cast = self.cast(number)
        poured_at = cast.pour.poured_at
        refuse_future(note.felt_at)
        if note.than == cast.entry:
            raise LabError(f"Pour {number} cannot be compared with itself. Name another one.")
        if note.word and note.word not in self.question.ladder:
            raise LabError(
                f"“{note.word}” is not on your ladder. {did_you_mean(note.word, self.question.ladder)}"
            )
        if note.felt_at < poured_at:
            raise LabError(
                f"Felt {spoken(note.felt_at)}, but pour {number} was poured {spoken(poured_at)}. "
                "A note comes after its pour: mend one of the two times."
            )

    def mend_pour(self, version: "Entry", id: str | None = None, **pour: Any) -> Self:
        """Correct the version of a pour that was shown; what stood there stays in its history."""
        before = Pour.of(version.payload)
        poured_at = mended_time(before.poured_at, pour.get("poured_at"))
        if stocks := pour.pop("stocks_g", None):
            pour["weighed_g"] = self.melts.ingredients(stocks, pour.get("weighed_g") or {})
            pour["stocks_g"] = self.melts.entries(stocks)
        after = Pour.of({**before.model_dump(), **pour, "poured_at": poured_at})
        self.weighing.check(after.weighed_g)
        refuse_future(after.poured_at)
        self._refuse_after_notes(version, after)
        return self.mend(version, after, id)

    def _refuse_after_notes(self, version: "Entry", pour: Pour) -> None:
        entry = next((cast.entry for cast in self.casts if cast.version.id == version.id), "")
        notes = self.notes()
        felt = notes[notes["cast"] == entry]["felt"]
        if len(felt) and felt.min() < pour.poured_at:
            raise LabError(
                f"Pour {pour.number} was felt {spoken(felt.min().to_pydatetime())}, before "
                f"{spoken(pour.poured_at)}. Mend the time of that note first, or give an earlier one here."
            )

    def mend_note(self, version: "Entry", number: int | str, id: str | None = None, **note: Any) -> Self:
        """Correct the version of a note that was shown; what stood there stays in its history."""
        before = Note.of(version.payload)
        felt_at = mended_time(before.felt_at, note.get("felt_at"))
        note = self._named(note)
        after = Note.of({**before.model_dump(), **note, "felt_at": felt_at, "pour": self.cast(number).entry})
        self._refuse_note(number, after)
        return self.mend(version, after, id)

    def put_back(self, version: "Entry", id: str | None = None) -> Self:
        """Put back what was taken back, as it stood; the notes of a pour come back with it.

        Raises
        ------
        LabError
            For a stock where there are too many by now, or one of its name.
        """
        if version.kind == StockMelt.kind:
            stock = StockMelt.of(version.payload)
            self.again().melts.check(stock.name, stock.weighed_g)
        return super().put_back(version, id)


def than_entry(than: str, entries: Mapping[str, str], sticks: Iterable[str], new_stick: bool) -> str:
    """Return what a comparison names: the entry of "pour 4" or "4", else the reference stick as it is known.

    Raises
    ------
    LabError
        For a pour that is not there, and a stick that is not known and not said to be new.

    Examples
    --------
    >>> than_entry("pour 4", {"4": "0190"}, [], False), than_entry("May stick", {}, ["may stick"], False)
    ('0190', 'may stick')
    """
    lead, _, rest = than.partition(" ")
    label = rest if lead.casefold() == "pour" else than
    if label in entries:
        return entries[label]
    if lead.casefold() == "pour" or than.isdigit():
        raise LabError(f"There is no pour {label} to compare with. {did_you_mean(label, entries)}")
    known = {each.casefold(): each for each in (*sticks, REFERENCE)}
    if than.casefold() in known:
        return known[than.casefold()]
    if new_stick:
        return than
    near = did_you_mean(than, [*(f"pour {each}" for each in entries), *known.values()])
    raise LabError(
        f"“{than}” is no pour and no reference stick so far. {near} "
        "Where you kept another stick to compare with, say that it is a new reference stick."
    )
