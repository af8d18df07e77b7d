"""What a day at the stove writes into the trial book."""

from typing import ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from labkit.batch.order import Ingredient, Kind
from labkit.book.record import Record, noted
from labkit.errors import LabError, did_you_mean
from labkit.quantities import HOTTEST_C
from labkit.times import Zoned

LONGEST_NAME = 200
WORDS = ("smears", "soft", "just right", "firm", "draggy")
"""Hardness words from soft to hard, where the maker has no own ones."""
Event = Literal[
    "heat on", "clear melt", "wax in", "pigment in", "clean streak", "heat off", "scent in", "reheated",
    "it clouds", "too thick", "poured",
]  # fmt: skip
OffColour = Literal["", "right", "too pale", "too dark", "too orange", "too pink", "too brown", "too purple"]
MOST_READINGS = 20_000


class Line(BaseModel):
    """A line of the batch's recipe, and how it bears heat."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    grams: float = Field(gt=0, le=1_000_000)
    kind: Kind
    melts_c: tuple[float, float] | None = None
    limit_c: float | None = None

    @model_validator(mode="after")
    def _can_be(self) -> Self:
        try:
            self.ingredient  # noqa: B018
        except LabError as error:
            raise ValueError(str(error)) from None
        return self

    @property
    def ingredient(self) -> Ingredient:
        """The line as `order_of_heating` takes it."""
        return Ingredient(self.name, self.kind, self.melts_c, self.limit_c)


class Question(Record):
    """What is to be made today: the recipe in grams, how it is heated, and what it is poured into."""

    kind: ClassVar[str] = "batch.question"

    lines: tuple[Line, ...] = noted("Recipe", min_length=1)
    heat: Literal["water bath", "direct heat"] = noted("Heated", default="water bath")
    elevation_m: float = noted(
        "Above the sea", unit="m", hint="Water boils cooler higher up.", default=0.0, ge=-430, le=5000
    )
    hottest_c: float = noted("Never hotter than", unit="°C", default=85.0, ge=40, le=120)
    pour_c: float | None = noted("Wanted pour temperature", unit="°C", default=None, ge=30, le=120)
    room_c: float | None = noted("Room", unit="°C", default=None, ge=-10, le=45)
    containers: int = noted("Tubes or pots to fill", default=0, ge=0, le=100_000)
    fill_g: float | None = noted("Nominal fill of each", unit="g", default=None, gt=0, le=10_000)
    mould_mm: float = noted("Height of the melt in it", unit="mm", default=50.0, gt=0, le=500)
    clump_um: float = noted(
        "Largest clumps of pigment", unit="µm", hint="After grinding or sieving.", default=20.0, gt=0, le=500
    )
    too_thick_c: float | None = noted(
        "Too thick to pour at",
        unit="°C",
        hint="Where you know it of this recipe.",
        default=None,
        ge=30,
        le=120,
    )
    step_g: float = noted("Step of the scale", unit="g", default=0.1, gt=0, le=10)
    words: tuple[str, ...] = noted("Hardness words, soft to hard", default=WORDS, min_length=2)

    @field_validator("lines")
    @classmethod
    def _each_once(cls, lines: tuple[Line, ...]) -> tuple[Line, ...]:
        folded = [each.name.casefold() for each in lines]
        if twice := [each.name for at, each in enumerate(lines) if folded[at] in folded[:at]]:
            raise ValueError(f"“{twice[0]}” stands there twice; put its grams into one line")
        return lines

    @field_validator("words")
    @classmethod
    def _rungs(cls, words: tuple[str, ...]) -> tuple[str, ...]:
        folded = [each.casefold() for each in words]
        if twins := [each for at, each in enumerate(words) if folded[at] in folded[:at]]:
            raise ValueError(f"“{twins[0]}” stands on the ladder twice; give each rung its own word")
        return words

    @property
    def grams(self) -> dict[str, float]:
        """What the recipe asks for, in g of each ingredient."""
        return {each.name: each.grams for each in self.lines}


class Added(Record):
    """Something that went into the pot."""

    kind: ClassVar[str] = "batch.added"

    question: str = noted("Batch")
    ingredient: str = noted("What", min_length=1, max_length=LONGEST_NAME)
    grams: float = noted("Weighed", unit="g", gt=0, le=1_000_000)
    lot: str = noted("Lot", default="", max_length=200)
    added_at: Zoned = noted("Added")
    remark: str = noted("Remark", default="", max_length=5000)


class Taken(Record):
    """Melt that was taken out of the pot before it was poured."""

    kind: ClassVar[str] = "batch.taken"

    question: str = noted("Batch")
    grams: float = noted("Taken out", unit="g", gt=0, le=1_000_000)
    why: Literal["drip", "test pour", "spilled", "other"] = noted("For", default="drip")
    taken_at: Zoned = noted("Taken")
    remark: str = noted("Remark", default="", max_length=5000)


class Reading(Record):
    """One temperature of the pot."""

    kind: ClassVar[str] = "batch.reading"

    question: str = noted("Batch")
    celsius: float = noted("Pot", unit="°C", ge=-30, le=HOTTEST_C)
    read_at: Zoned = noted("Read")
    remark: str = noted("Remark", default="", max_length=5000)


class Readings(Record):
    """What a logging thermometer wrote, from when it began."""

    kind: ClassVar[str] = "batch.readings"

    question: str = noted("Batch")
    began_at: Zoned = noted("First reading")
    minutes: tuple[float, ...] = noted("Minutes", min_length=1, max_length=MOST_READINGS)
    celsius: tuple[float, ...] = noted("Pot", unit="°C", min_length=1, max_length=MOST_READINGS)
    file: str = noted("File", default="", max_length=300)
    remark: str = noted("Remark", default="", max_length=5000)

    @model_validator(mode="after")
    def _paired(self) -> Self:
        if len(self.minutes) != len(self.celsius):
            raise ValueError("each temperature has its minute")
        if any(later < before for before, later in zip(self.minutes, self.minutes[1:], strict=False)):
            raise ValueError("the thermometer's clock goes back")
        return self


class Happened(Record):
    """An event on the day's clock."""

    kind: ClassVar[str] = "batch.event"

    question: str = noted("Batch")
    what: Event = noted("What")
    at: Zoned = noted("When")
    celsius: float | None = noted("Pot", unit="°C", default=None, ge=-30, le=HOTTEST_C)
    remark: str = noted("Remark", default="", max_length=5000)


class Drip(Record):
    """A drip on a chilled tile, felt and looked at."""

    kind: ClassVar[str] = "batch.drip"

    question: str = noted("Batch")
    felt: Literal["", "too soft", "right", "too hard"] = noted("Felt", default="")
    colour: OffColour = noted("Colour", default="")
    dripped_at: Zoned = noted("Dripped")
    at_hand: tuple[str, ...] = noted("Other pigments at hand", default=())
    photo: str = noted("Photo", default="")
    remark: str = noted("Remark", default="", max_length=5000)

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not (self.felt or self.colour):
            raise ValueError("a drip says how it felt, or how its colour is")
        return self


class Filled(Record):
    """What was filled, and what was left in the pan and on the tools."""

    kind: ClassVar[str] = "batch.filled"

    question: str = noted("Batch")
    fills_g: tuple[float, ...] = noted("In each, full less empty", unit="g", min_length=1)
    pan_g: float = noted("Left in the pan", unit="g", default=0.0, ge=0, le=1_000_000)
    tools_g: float = noted("Left on tools", unit="g", default=0.0, ge=0, le=1_000_000)
    filled_at: Zoned = noted("Filled")
    container: str = noted("Container", default="", max_length=200)
    remark: str = noted("Remark", default="", max_length=5000)

    @field_validator("fills_g")
    @classmethod
    def _can_be(cls, fills: tuple[float, ...]) -> tuple[float, ...]:
        if any(each <= 0 for each in fills):
            raise ValueError("a fill weighs more than nothing: full less empty")
        return fills


class Judged(Record):
    """How the sticks of the batch are a day or more later."""

    kind: ClassVar[str] = "batch.judged"

    question: str = noted("Batch")
    word: str = noted("Hardness", default="", max_length=200)
    streaks: int | None = noted("Streaks", hint="0 none seen to 4 everywhere.", default=None, ge=0, le=4)
    sink_holes: int | None = noted("With a sink hole", hint="How many.", default=None, ge=0, le=100_000)
    looked_at: int | None = noted("Of how many", default=None, ge=1, le=100_000)
    judged_at: Zoned = noted("Judged")
    photo: str = noted("Photo", default="")
    remark: str = noted("Remark", default="", max_length=5000)

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not self.word and self.streaks is None and self.sink_holes is None:
            raise ValueError("say how hard they are, how streaked, or how many have a sink hole")
        if (self.sink_holes is None) != (self.looked_at is None):
            raise ValueError("sink holes are counted in how many sticks")
        if self.sink_holes is not None and self.sink_holes > (self.looked_at or 0):
            raise ValueError(f"{self.sink_holes} of {self.looked_at} cannot have a sink hole")
        return self


def refuse_word(word: str, words: tuple[str, ...]) -> None:
    """Raise `LabError` for a hardness word that is not on the ladder."""
    if word and word not in words:
        raise LabError(f"“{word}” is not on your ladder. {did_you_mean(word, words)}")
