"""What a texture trial writes into the trial book."""

from typing import Annotated, ClassVar, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, field_validator, model_validator

from labkit.book.record import Record, noted
from labkit.errors import did_you_mean
from labkit.texture.notes import check_ladder
from labkit.texture.penetration import Instrument, check_readings
from labkit.times import Zoned

HELD = "held constant"
LONGEST_NAME = 200
LADDER = ("smears", "soft", "just right", "firm", "draggy")
COLUMNS = frozenset(
    (
        "pour", "cast", "poured", "hours", "word", "form", "piece", "relation", "than", "read_with",
        "reading", "load_g", "angle_deg", "rod_mm", "glide", "drag", "payoff", "breakage", "warmth",
        "tester", "blind_code", "room_c", "felt", "remark", "instrument", "set_where", "reheats",
        "hottest_c", "pour_c", "lots", "load", "trial", "than_entry", "version", "entry", "forked", "day",
        "run", "chance", "why", "hardness", "sd",
    )
)  # fmt: skip
"""Names of columns beside the parts in the tables of a trial."""
DEFECTS = ("grainy", "sweating", "bloom", "bent", "cracked", "off smell")
"""What a stick is looked over for as it ages (common practice, no source)."""
MARKED = ("glide", "drag", "payoff", "breakage", "warmth")
REFERENCE = "my reference stick"
"""What a comparison may name instead of a pour: a stick kept for that, felt first each time."""
MARKS = "0 (none) to 10 (most), by your own measure."
TOO_SOFT, TOO_HARD = "too soft", "too hard"
COMPLAINTS = (TOO_SOFT, TOO_HARD, "nothing, I want to understand it")


def _weighed(weighed: dict[str, float]) -> dict[str, float]:
    if below := [name for name, grams in weighed.items() if grams < 0]:
        raise ValueError(f"“{below[0]}” weighs less than nothing")
    if not sum(weighed.values()) > 0:
        raise ValueError("nothing was weighed")
    return weighed


Weighed = Annotated[dict[str, float], AfterValidator(_weighed)]
"""Grams by ingredient: none below nothing, and something of one."""


class Ingredient(BaseModel):
    """A line of the usual recipe, and the part of the base that it counts as."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    grams: float = Field(gt=0)
    part: str = HELD


class PlannedPour(BaseModel):
    """A pour to be made: its shares of the base, on which pouring day, and why.

    The grams follow from the question as it stands when the card is read.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    number: int = Field(ge=1)
    shares: dict[str, float]
    day: int = Field(default=1, ge=1)
    why: str = ""


class Question(Record):
    """What a trial asks: the usual recipe, what is wrong with it, and within which bounds to look."""

    kind: ClassVar[str] = "texture.question"

    usual: tuple[Ingredient, ...] = noted("Usual recipe", min_length=2)
    complaint: str = noted("What is wrong with it")
    step_g: float = noted("Step of the scale", unit="g", gt=0, le=10)
    batch_g: float = noted("Finished product a pour", unit="g", gt=0)
    low: dict[str, float] = noted("Lowest share of the base")
    high: dict[str, float] = noted("Highest share of the base")
    rules: tuple[str, ...] = noted("Side rules", default=())
    ladder: tuple[str, ...] = noted("Hardness words, soft to hard", default=LADDER)
    wanted: str = noted("The wanted word")

    @field_validator("usual")
    @classmethod
    def _each_once(cls, usual: tuple[Ingredient, ...]) -> tuple[Ingredient, ...]:
        folded = [each.name.casefold() for each in usual]
        twice = [each.name for at, each in enumerate(usual) if folded[at] in folded[:at]]
        if twice:
            raise ValueError(f"“{twice[0]}” stands there twice; put its grams into one line")
        parts = {each.part for each in usual} - {HELD}
        if not 2 <= len(parts) <= 6:
            raise ValueError(f"2 to 6 parts can be varied; here are {len(parts)}")
        if taken := [part for part in parts if part.casefold() in COLUMNS or part.endswith("%")]:
            raise ValueError(
                f"a part cannot be called “{taken[0]}”: a column of the tables is; call it otherwise"
            )
        return usual

    @field_validator("ladder")
    @classmethod
    def _rungs(cls, ladder: tuple[str, ...]) -> tuple[str, ...]:
        folded = [word.casefold() for word in ladder]
        if twins := [word for at, word in enumerate(ladder) if folded[at] in folded[:at]]:
            raise ValueError(f"“{twins[0]}” stands on the ladder twice; give each rung its own word")
        return check_ladder(ladder)

    @model_validator(mode="after")
    def _on_the_ladder(self) -> Self:
        if self.wanted not in self.ladder:
            raise ValueError(
                f"“{self.wanted}” is not on your ladder. {did_you_mean(self.wanted, self.ladder)}"
            )
        if set(self.low) != set(self.parts) or set(self.high) != set(self.parts):
            raise ValueError("every part needs a low and a high")
        return self

    @property
    def parts(self) -> tuple[str, ...]:
        """The varied parts in the order of the recipe."""
        return tuple(dict.fromkeys(each.part for each in self.usual if each.part != HELD))

    @property
    def usual_g(self) -> float:
        """Mass of the usual recipe, in g."""
        return sum(each.grams for each in self.usual)

    @property
    def held_fraction(self) -> float:
        """Mass fraction of the finished product that is held constant."""
        return sum(each.grams for each in self.usual if each.part == HELD) / self.usual_g


class Plan(Record):
    """Pours put on the weigh card."""

    kind: ClassVar[str] = "texture.plan"

    question: str = noted("Question")
    pours: tuple[PlannedPour, ...] = noted("Planned pours", min_length=1)


class StockMelt(Record):
    """A melted base that several pours are weighed from."""

    kind: ClassVar[str] = "texture.stock"

    question: str = noted("Question")
    name: str = noted("Stock", hint="Its name, such as “soft”.", min_length=1, max_length=60)
    weighed_g: Weighed = noted("Weighed", unit="g")
    melted_at: Zoned = noted("Melted")
    remark: str = noted("Remark", default="", max_length=5000)


class OldTrials(Record):
    """Which earlier trials, by their questions, count as knowledge for this one."""

    kind: ClassVar[str] = "texture.old_trials"

    question: str = noted("Question")
    counts: dict[str, bool] = noted("Counts")


class OffCard(Record):
    """A planned pour that will not be poured."""

    kind: ClassVar[str] = "texture.off_card"

    question: str = noted("Question")
    number: int = noted("Pour", ge=1)


class Pour(Record):
    """One cast of one composition; `question` is the first version of the question that it answers."""

    kind: ClassVar[str] = "texture.pour"

    question: str = noted("Question")
    number: int = noted("Pour", ge=1)
    weighed_g: Weighed = noted("Weighed", unit="g")
    stocks_g: dict[str, float] = noted(
        "Of it from stock melts", unit="g", hint="Counted in what was weighed.", default={}
    )
    poured_at: Zoned = noted("Poured")
    sticks: int = noted(
        "Sticks", hint="How many were poured: a felt spot is spoiled.", default=0, ge=0, le=1000
    )
    pots: int = noted("Pots", default=0, ge=0, le=1000)
    hottest_c: float | None = noted("Hottest temperature", unit="°C", default=None, ge=20, le=200)
    hot_min: float | None = noted("How long hot", unit="min", default=None, ge=0, le=1440)
    pour_c: float | None = noted("Pour temperature", unit="°C", default=None, ge=20, le=150)
    set_where: Literal["", "on the bench", "in the cold"] = noted("Set", default="")
    mould: str = noted("Mould", default="", max_length=200)
    lots: str = noted("Lots", hint="Which lot of which ingredient.", default="", max_length=2000)
    photo: str = noted("Photo", default="")
    remark: str = noted("Remark", hint="What a later you should know.", default="", max_length=5000)
    reheats: int = noted("Melted again before this pour", hint="How often.", default=0, ge=0, le=50)


class Note(Record):
    """What was felt or read on one piece of a pour: a word, a reading, a comparison, marks out of ten."""

    kind: ClassVar[str] = "texture.note"

    pour: str = noted("Pour")
    felt_at: Zoned = noted("Felt")
    word: str = noted("Hardness", default="", max_length=200)
    form: Literal["stick", "pot"] = noted("Stick or pot", default="stick")
    piece: Literal["", "first poured", "last poured", "in between"] = noted(
        "Which piece", hint="A spot that was felt is spoiled: take another piece each time.", default=""
    )
    relation: Literal["", "harder", "same", "softer"] = noted(
        "Compared", hint="Felt one right after the other.", default=""
    )
    than: str = noted("with", default="", max_length=200)
    read_with: Literal["", "needle", "cone", "rod"] = noted(
        "Read with", hint="A rod is pushed 5 mm in over a kitchen scale.", default=""
    )
    reading: float | None = noted(
        "Reading", hint="Needle and cone: 0.1 mm. Rod: grams.", default=None, gt=0, le=100_000
    )
    load_g: float | None = noted("Load of needle or cone", unit="g", default=None, gt=0, le=10_000)
    angle_deg: float | None = noted("Angle of the cone", unit="°", default=None, ge=15, le=90)
    rod_mm: float | None = noted("Width of the rod", unit="mm", default=None, gt=0, le=50)
    glide: int | None = noted("Glide", hint=MARKS, default=None, ge=0, le=10)
    drag: int | None = noted("Drag", default=None, ge=0, le=10)
    payoff: int | None = noted("Payoff", default=None, ge=0, le=10)
    breakage: int | None = noted("Breakage", default=None, ge=0, le=10)
    warmth: int | None = noted("Stands up in warmth", default=None, ge=0, le=10)
    tester: str = noted("Felt by", default="", max_length=100)
    blind_code: str = noted(
        "Blind code", hint="What the tester saw instead of the pour's number.", default="", max_length=40
    )
    room_c: float | None = noted("Room", unit="°C", default=None, ge=-10, le=50)
    remark: str = noted("Remark", hint="Glide, drag, grain, sweat.", default="", max_length=5000)

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        marks = [getattr(self, mark) for mark in MARKED]
        if not (self.word or self.relation or self.reading is not None or any(m is not None for m in marks)):
            raise ValueError("a note needs a word, a reading, a comparison or a mark")
        if bool(self.relation) != bool(self.than):
            raise ValueError("a comparison says harder, same or softer, and with what")
        if (self.reading is None) != (not self.read_with):
            raise ValueError("a reading says what it was read with, and what it showed")
        if self.reading is not None:
            check_readings([self.reading], self.instrument)
        return self

    @property
    def instrument(self) -> Instrument:
        """What the reading was taken with; `LabError` where its sizes are missing."""
        return Instrument(self.read_with, self.load_g, self.angle_deg, rod_mm=self.rod_mm)  # type: ignore[arg-type]


class Look(Record):
    """What a piece of a pour looked like later on, and which defects it had."""

    kind: ClassVar[str] = "texture.look"

    pour: str = noted("Pour")
    looked_at: Zoned = noted("Looked")
    after: Literal["", "a warm turn", "a cold turn", "a warm and a cold turn"] = noted("After", default="")
    defects: tuple[str, ...] = noted("Seen", default=())
    photo: str = noted("Photo", default="")
    remark: str = noted("Remark", default="", max_length=5000)

    @field_validator("defects")
    @classmethod
    def _known(cls, defects: tuple[str, ...]) -> tuple[str, ...]:
        if unknown := [each for each in defects if each not in DEFECTS]:
            raise ValueError(f"“{unknown[0]}” is no defect on the list. {did_you_mean(unknown[0], DEFECTS)}")
        return defects
