"""What a streak test writes into the trial book."""

from typing import ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from labkit.book.record import Record, noted
from labkit.quantities import COLDEST_C, HOTTEST_C
from labkit.streak.rounds import MOST, WORDS
from labkit.times import Zoned

Lab = tuple[float, float, float]
LONGEST_NAME = 200
WAYS = ("dry powder", "wetted in oil first", "sieved", "ground on a slab", "blended by a machine")
"""Ways of stirring that are offered; the maker's own words count too."""
Where = Literal["melt", "paste", "set stick"]
How = Literal["drawn", "rubbed"]


class Pigment(BaseModel):
    """A pigment of the recipe, and its full colour where it is known."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    lab: Lab | None = None


class Question(Record):
    """What is being stirred: its pigments, how, since when, and how small a chance of a streak will do."""

    kind: ClassVar[str] = "streak.question"

    pigments: tuple[Pigment, ...] = noted("Pigments", min_length=1)
    method: str = noted("How it is stirred", hint="In your own words, or one of the list.", max_length=200)
    began_at: Zoned = noted("Stirring began")
    limit_percent: float = noted(
        "Stop once a streak would be seen in fewer than", unit="%", hint="Of the looks, for each pigment.",
        default=5.0, gt=0, le=50,
    )  # fmt: skip
    remark: str = noted("Remark", default="", max_length=5000)

    @field_validator("pigments")
    @classmethod
    def _each_once(cls, pigments: tuple[Pigment, ...]) -> tuple[Pigment, ...]:
        folded = [each.name.casefold() for each in pigments]
        if twice := [each.name for at, each in enumerate(pigments) if folded[at] in folded[:at]]:
            raise ValueError(f"“{twice[0]}” stands there twice")
        return pigments

    @property
    def names(self) -> tuple[str, ...]:
        """The pigments' names, in the order of the recipe."""
        return tuple(each.name for each in self.pigments)


class Round(Record):
    """One look: how many streaks of each pigment's colour were seen."""

    kind: ClassVar[str] = "streak.round"

    question: str = noted("Streak test")
    graded_at: Zoned = noted("Looked")
    grades: dict[str, int | None] = noted("Streaks")
    where: Where = noted("In the", default="melt")
    how: How = noted(
        "Spatula", hint="Rubbing out under pressure shows clumps that drawing hides.", default="drawn"
    )
    celsius: float | None = noted("Pot", unit="°C", default=None, ge=COLDEST_C, le=HOTTEST_C)
    stirred: str = noted("Stirred since the last look", default="", max_length=200)
    untold: Literal["", "dark", "red", "don't know"] = noted(
        "A streak whose pigment you cannot tell looks", default=""
    )
    photo: str = noted("Photo", default="")
    width_mm: float | None = noted("What the photo shows is wide", unit="mm", default=None, gt=0, le=2000)
    remark: str = noted("Remark", default="", max_length=5000)

    @field_validator("grades")
    @classmethod
    def _can_be(cls, grades: dict[str, int | None]) -> dict[str, int | None]:
        said = ", ".join(f"{grade} {word}" for grade, word in enumerate(WORDS))
        for name, grade in grades.items():
            if grade is not None and not 0 <= grade <= MOST:
                raise ValueError(f"{name}: {grade} is no grade. Grades are {said}, or don't know")
        return grades

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if all(grade is None for grade in self.grades.values()) and not (self.photo or self.untold):
            raise ValueError(
                "press a grade for one pigment at least, or add a photo: “don't know” alone says nothing"
            )
        return self


class Stick(Record):
    """The colour of a set stick at its top and at its bottom, as a check afterwards."""

    kind: ClassVar[str] = "streak.stick"

    question: str = noted("Streak test")
    top_lab: Lab = noted("Top, L*a*b*")
    bottom_lab: Lab = noted("Bottom, L*a*b*")
    repeat_sd: float = noted(
        "Repeats of one spot differ by", hint="Standard deviation in L*, a* or b*.", default=0.5, gt=0, le=20
    )
    read_at: Zoned = noted("Read")
    remark: str = noted("Remark", default="", max_length=5000)
