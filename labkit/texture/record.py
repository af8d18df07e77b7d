"""What a texture trial writes into the trial book."""

from datetime import datetime
from typing import ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from labkit.book.record import Record, noted
from labkit.errors import LabError, did_you_mean
from labkit.texture.notes import check_ladder

HELD = "held constant"
LONGEST_NAME = 200
LADDER = ("smears", "soft", "just right", "firm", "draggy")
COLUMNS = frozenset(
    (
        "pour", "cast", "poured", "hours", "word", "form", "piece", "room_c", "felt", "remark", "version",
        "entry", "forked", "day", "run", "chance", "why", "hardness", "sd",
    )
)  # fmt: skip
"""Names of columns beside the parts in the tables of a trial."""
TOO_SOFT, TOO_HARD = "too soft", "too hard"
COMPLAINTS = (TOO_SOFT, TOO_HARD, "nothing, I want to understand it")


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
    weighed_g: dict[str, float] = noted("Weighed", unit="g")
    poured_at: datetime = noted("Poured")
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

    @field_validator("poured_at")
    @classmethod
    def _zoned(cls, when: datetime) -> datetime:
        return zoned(when)

    @field_validator("weighed_g")
    @classmethod
    def _something_weighed(cls, weighed: dict[str, float]) -> dict[str, float]:
        below = [name for name, grams in weighed.items() if grams < 0]
        if below:
            raise ValueError(f"“{below[0]}” weighs less than nothing")
        if not sum(weighed.values()) > 0:
            raise ValueError("nothing was weighed")
        return weighed


class Note(Record):
    """One hardness word for one piece of a pour."""

    kind: ClassVar[str] = "texture.note"

    pour: str = noted("Pour")
    felt_at: datetime = noted("Felt")
    word: str = noted("Hardness", min_length=1)
    form: Literal["stick", "pot"] = noted("Stick or pot", default="stick")
    piece: Literal["", "first poured", "last poured", "in between"] = noted(
        "Which piece", hint="A spot that was felt is spoiled: take another piece each time.", default=""
    )
    room_c: float | None = noted("Room", unit="°C", default=None, ge=-10, le=50)
    remark: str = noted("Remark", hint="Glide, drag, grain, sweat.", default="", max_length=5000)

    @field_validator("felt_at")
    @classmethod
    def _zoned(cls, when: datetime) -> datetime:
        return zoned(when)


def zoned(when: datetime) -> datetime:
    """Return ``when`` if it says its zone; raise `LabError` if not."""
    if when.tzinfo is None:
        raise LabError(f"the time {when:%Y-%m-%d %H:%M} does not say its zone")
    return when
