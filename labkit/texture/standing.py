"""A texture trial as it stands in a book: question, pours, notes and weigh card, as tables."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property, wraps
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from labkit.book.standing import Standing as BookStanding
from labkit.errors import LabError
from labkit.texture.first import first_pours
from labkit.texture.melts import Melts
from labkit.texture.record import HELD, MARKED, Look, Note, OldTrials, PlannedPour, Pour, Question, StockMelt
from labkit.texture.region import Region
from labkit.texture.trials import KIND
from labkit.texture.weigh import Weighing
from labkit.times import spoken

if TYPE_CHECKING:
    from labkit.book import Entry

NOTED = tuple(name for name in Note.model_fields if name not in ("pour", "felt_at"))
"""Fields of a note that its table shows as they stand."""
MENDED = ("texture.pour", "texture.note", "texture.look", "texture.stock")
"""Kinds of what can be taken back and put back."""
PROCESS = ("set_where", "reheats", "hottest_c", "pour_c", "lots")
"""Fields of a pour that may make it differ from another of the same composition."""
GONE_POUR = "a pour that was taken back"
"""What a comparison names where its pour is gone."""
FIRST_CARD = 3
"""How many pours the first card of a trial holds."""


def region_of(question: Question) -> Region:
    """Return the region of compositions that a question allows."""
    bounds = {part: (question.low[part], question.high[part]) for part in question.parts}
    return Region(bounds, rules=list(question.rules))


@dataclass(frozen=True)
class Cast:
    """A pour as it stands in the book: the id that notes refer to, and the version that is current.

    `label` is its number, with its time where two pours came to have one number.
    """

    entry: str
    version: "Entry"
    pour: Pour
    forked: bool
    label: str


Made = Callable[["Standing"], pd.DataFrame]


def cached_table(make: Made) -> Made:
    """Return a method that makes its table once for each trial that is read, and hands out copies."""

    @wraps(make)
    def get(trial: "Standing") -> pd.DataFrame:
        kept = trial.__dict__.setdefault("_tables", {})
        if make.__name__ not in kept:
            kept[make.__name__] = make(trial)
        return kept[make.__name__].copy()

    return get


class SeenLook(NamedTuple):
    """A later look at a pour: when, after which turn, what was seen, and the pour's label."""

    looked_at: datetime
    after: str
    defects: tuple[str, ...]
    pour: str


class Standing(BookStanding):
    """One texture trial: its question, pours, notes and card."""

    question_kind = KIND
    mended_kinds = MENDED

    @cached_property
    def question(self) -> Question:
        """What this trial asks."""
        return Question.of(self.question_row.head.payload)

    @cached_property
    def region(self) -> Region:
        """The compositions that are allowed."""
        return region_of(self.question)

    @cached_property
    def weighing(self) -> Weighing:
        """Shares of the base to grams of each ingredient, and back."""
        return Weighing(self.question)

    @cached_property
    def all_casts(self) -> list[Cast]:
        """All pours, strays too."""
        rows = [(row, Pour.of(row.head.payload)) for row in self.rows("texture.pour")]
        rows = sorted(rows, key=lambda each: (each[1].number, each[1].poured_at))
        labels = _labels({row.entry: pour for row, pour in rows})
        return [Cast(row.entry, row.head, pour, row.forked, labels[row.entry]) for row, pour in rows]

    @cached_property
    def casts(self) -> list[Cast]:
        """The pours of this trial's ingredients, in the order of their numbers."""
        return [cast for cast in self.all_casts if self.weighing.fits(cast.pour.weighed_g)]

    @property
    def labels(self) -> list[str]:
        """What the pours are called, in the order of their numbers."""
        return list(dict.fromkeys(cast.label for cast in self.casts))

    @property
    def strays(self) -> list[Cast]:
        """Pours of other ingredients, which do not count: two books changed one trial differently."""
        return [cast for cast in self.all_casts if not self.weighing.fits(cast.pour.weighed_g)]

    @cached_property
    def planned(self) -> list[PlannedPour]:
        """All pours that were ever put on the weigh card, of the parts that the question has now."""
        entries = [row.head for row in self.rows("texture.plan")]
        later = [PlannedPour.model_validate(pour) for each in entries for pour in each.payload["pours"]]
        return [
            *first_pours(self.question, self.region),
            *(each for each in later if set(each.shares) == set(self.question.parts)),
        ]

    @cached_property
    def waiting(self) -> list[PlannedPour]:
        """The weigh card: planned pours that have not been poured or taken off."""
        gone = {cast.pour.number for cast in self.all_casts} | {
            int(row.head.payload["number"]) for row in self.rows("texture.off_card")
        }
        return [pour for pour in self.planned if pour.number not in gone]

    def grams(self, pour: PlannedPour) -> dict[str, float]:
        """Return what to weigh for a planned pour, in g of each ingredient."""
        return self.weighing.grams(pour.shares)

    @property
    def next_number(self) -> int:
        """The first number that no pour and no place on the card has had."""
        entries = [row.head for row in self.rows("texture.plan")]
        planned = [int(pour["number"]) for each in entries for pour in each.payload["pours"]]
        poured = [cast.pour.number for cast in self.all_casts]
        return max([*planned, *poured, FIRST_CARD]) + 1

    @cached_table
    def pours(self) -> pd.DataFrame:
        """Return the pours: number, when, % of the finished product, shares of the base, how it was done."""
        rows = [
            {
                "pour": cast.pour.number,
                "poured": cast.pour.poured_at,
                **{f"{part} %": 100 * share for part, share in self._product(cast).items()},
                **self.weighing.shares(cast.pour.weighed_g),
                **{name: getattr(cast.pour, name) for name in PROCESS},
                "entry": cast.entry,
                "forked": cast.forked,
            }
            for cast in self.casts
        ]
        parts = list(self.question.parts)
        product = [f"{part} %" for part in [*parts, HELD]]
        columns = ["pour", "poured", *product, *parts, *PROCESS, "entry", "forked"]
        return pd.DataFrame(rows, columns=columns)

    def _product(self, cast: Cast) -> dict[str, float]:
        return self.weighing.fractions(cast.pour.weighed_g)

    @cached_table
    def notes(self) -> pd.DataFrame:
        """Return the notes, one row each: pour, hours since that pour, and all that was written down.

        "cast" is the pour's entry, "felt" the time, "instrument" what a reading was taken with in
        words; "entry" and "version" are the note's. One that was mended in two ways stands there
        twice, "forked".
        """
        casts, testers = {cast.entry: cast for cast in self.casts}, self.testers
        rows = []
        for row in self.book.rows("texture.note", self.question_row.head.trial):
            note = Note.of(row.head.payload)
            cast = casts.get(note.pour)
            if cast is not None:
                rows.append(
                    {
                        "pour": cast.pour.number,
                        "cast": note.pour,
                        "hours": (note.felt_at - cast.pour.poured_at).total_seconds() / 3600,
                        **{name: getattr(note, name) for name in NOTED},
                        "tester": testers.get(note.tester, note.tester),
                        "than": self.than_words(note.than),
                        "than_entry": note.than,
                        "instrument": note.instrument.name if note.read_with else "",
                        "felt": note.felt_at,
                        "version": row.head.id,
                        "entry": row.entry,
                        "forked": row.forked,
                    }
                )
        columns = ["pour", "cast", "hours", *NOTED, "than_entry", "instrument", "felt", "version", "entry",
                   "forked"]  # fmt: skip
        table = pd.DataFrame(rows, columns=columns)
        return table.sort_values(["pour", "cast", "hours"], ignore_index=True)

    @property
    def testers(self) -> dict[str, str]:
        """What those who felt are called, by their ids; a number where the book has no name."""
        rows = self.book.rows("texture.note", self.question_row.head.trial)
        ids = dict.fromkeys(str(row.head.payload.get("tester") or "") for row in rows)
        people = self.book.people()
        return {id: people.get(id, f"tester {at}") for at, id in enumerate(filter(None, ids), 1)}

    @cached_property
    def stock_versions(self) -> "dict[str, Entry]":
        """The current version of each stock melt, by its entry."""
        return {row.entry: row.head for row in self.rows("texture.stock")}

    @cached_property
    def melts(self) -> Melts:
        """The stock melts of this trial."""
        melts = {entry: StockMelt.of(head.payload) for entry, head in self.stock_versions.items()}
        return Melts(self.weighing, melts)

    def looks(self) -> pd.DataFrame:
        """Return the later looks, one row each: pour, hours since it, after what, defects, remark."""
        casts = {cast.entry: cast for cast in self.casts}
        rows = []
        for row in self.book.rows("texture.look", self.question_row.head.trial):
            look = Look.of(row.head.payload)
            if cast := casts.get(look.pour):
                hours = (look.looked_at - cast.pour.poured_at).total_seconds() / 3600
                rows.append([cast.pour.number, look.pour, hours, look.after, look.defects, look.remark,
                             look.looked_at, row.head.id])  # fmt: skip
        columns = ["pour", "cast", "hours", "after", "defects", "remark", "looked_at", "version"]
        return pd.DataFrame(rows, columns=columns).sort_values(["pour", "cast", "hours"], ignore_index=True)

    @property
    def counted(self) -> dict[str, bool]:
        """What was last said about earlier trials, by their questions: whether they count."""
        said: dict[str, bool] = {}
        for row in self.rows("texture.old_trials"):
            said |= OldTrials.of(row.head.payload).counts
        return said

    def gone(self) -> "list[Entry]":
        """Return the pours, stocks, notes and looks that were taken back, as they stood last."""
        own = [each for each in self._taken_back if each.payload.get("question") == self.entry]
        here = {each.id for each in own} | {cast.entry for cast in self.all_casts}
        here |= {self.book.history(each)[0].id for each in own}
        rest = [each for each in self._taken_back if each.payload.get("pour") in here]
        return [each for each in [*own, *rest] if each.kind in self.mended_kinds]

    @cached_property
    def _taken_back(self) -> "list[Entry]":
        return self.book.taken_back(self.question_row.head.trial)

    @property
    def sticks(self) -> list[str]:
        """The reference sticks that pours were compared with."""
        notes = self.notes()
        named = notes.loc[notes["relation"] != "", "than_entry"]
        return [than for than in dict.fromkeys(map(str, named)) if not self.book.has(than)]

    def than_words(self, than: str) -> str:
        """Return what a comparison names, in words: "pour 4", or the reference stick."""
        called = {cast.entry: f"pour {cast.label}" for cast in self.casts}
        return called.get(than) or (GONE_POUR if than and self.book.has(than) else than)

    @property
    def last_reading(self) -> Note | None:
        """The latest note that has a reading, or None."""
        read = self.notes().query("read_with != ''").sort_values("felt")
        return Note.of(self.book.get(read["version"].iloc[-1]).payload) if len(read) else None

    @cached_table
    def readings(self) -> pd.DataFrame:
        """Return the notes that count for the map, with shares.

        Of sticks or pots; with a word of the ladder, a reading of the instrument that was used most,
        or a comparison. What does not count of a note is empty in its row.
        """
        notes = self.notes().sort_values("version").drop_duplicates("entry", keep="last").sort_index()
        notes = notes[notes["hours"] >= 0]
        if notes["form"].nunique() > 1:
            notes = notes[notes["form"] == self.form]
        used = notes.loc[notes["instrument"] != "", "instrument"].value_counts()
        read = notes["instrument"].isin(used.index[:1])
        said = notes["word"].isin(self.question.ladder)
        notes = notes.assign(
            word=notes["word"].where(said, ""), reading=notes["reading"].astype(float).where(read)
        )
        notes = notes[said | read | (notes["relation"] != "")]
        pours = self.pours().drop_duplicates("entry", keep="last").set_index("entry")
        return notes.join(pours[list(self.question.parts)], on="cast").reset_index(drop=True)

    def words(self) -> pd.DataFrame:
        """Return the `readings` that hold a word of the ladder."""
        readings = self.readings()
        return readings[readings["word"] != ""].reset_index(drop=True)

    def marks(self) -> pd.DataFrame:
        """Return the notes that hold a mark out of ten, with shares."""
        notes = self.notes().sort_values("version").drop_duplicates("entry", keep="last").sort_index()
        notes = notes[notes[list(MARKED)].notna().any(axis=1)]
        pours = self.pours().drop_duplicates("entry", keep="last").set_index("entry")
        return notes.join(pours[list(self.question.parts)], on="cast").reset_index(drop=True)

    @property
    def form(self) -> str:
        """Stick or pot: the one that was felt more often, since their rungs are not mixed."""
        counts = self.notes()["form"].value_counts()
        return str(counts.index[0]) if len(counts) else "stick"

    def cast(self, number: int | str) -> Cast:
        """Return the pour with this number, or raise `LabError`."""
        labels = {cast.label: cast for cast in self.casts}
        found = [each for label, each in labels.items() if str(number) in (label, str(each.pour.number))]
        if not found:
            numbers = ", ".join(labels) or "none yet"
            raise LabError(f"There is no pour {number} in this trial. Poured: {numbers}.")
        if str(number) not in labels and len(found) > 1:
            which = " or ".join(f"“{each.label}”" for each in found)
            raise LabError(f"Two pours have the number {number}. Say which: {which}.")
        return labels.get(str(number), found[0])


def _labels(pours: dict[str, Pour]) -> dict[str, str]:
    """Return what each pour is called: its number, with its time where two came to have one number."""
    called: dict[str, str] = {}
    for entry, pour in pours.items():
        label = str(pour.number)
        if [each.number for each in pours.values()].count(pour.number) > 1:
            label = f"{pour.number} ({spoken(pour.poured_at)})"
        twins = list(called.values())
        tried = [label, *(f"{label} ({at})" for at in range(2, len(twins) + 2))]
        called[entry] = next(each for each in tried if each not in twins)
    return called
