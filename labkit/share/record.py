"""What is logged of a remake: somebody's pour of a shared recipe."""

from typing import Annotated, ClassVar, Literal, Self

from pydantic import AfterValidator, model_validator

from labkit.book.record import Record, noted
from labkit.errors import did_you_mean
from labkit.quantities import HOTTEST_C
from labkit.times import Zoned

Lab = tuple[float, float, float]
LADDER = ("smears", "soft", "just right", "firm", "draggy")
"""Hardness words from soft to hard, where the recipe's maker has no own ones."""


def _colour(lab: Lab) -> Lab:
    if not 0 <= lab[0] <= 100 or max(abs(lab[1]), abs(lab[2])) > 150:
        raise ValueError(f"{lab[0]:g}, {lab[1]:g}, {lab[2]:g} is no L*a*b* of anything")
    return lab


Colour = Annotated[Lab, AfterValidator(_colour)]


class Remake(Record):
    """One pour of a shared recipe: what was done otherwise, how it went, and what was read of it.

    `recipe` is the first version of what is remade, `recipe_hash` the hash of the version that was
    followed. Who made it is the maker of the entry.
    """

    kind: ClassVar[str] = "share.remake"

    recipe: str = noted("Recipe", min_length=1, max_length=100)
    recipe_hash: str = noted("Its hash", default="", max_length=64)
    poured_at: Zoned = noted("Poured")
    changed: str = noted("Done otherwise", hint="What, and why.", default="", max_length=5000)
    batch_g: float | None = noted("Batch", unit="g", default=None, gt=0, le=1_000_000)
    step_g: float | None = noted("Step of the scale", unit="g", default=None, gt=0, le=10)
    heat: Literal["", "water bath", "direct heat"] = noted("Heated", default="")
    hottest_c: float | None = noted("Hottest temperature", unit="°C", default=None, ge=20, le=HOTTEST_C)
    hot_min: float | None = noted("How long hot", unit="min", default=None, ge=0, le=1440)
    stirred_min: float | None = noted("Stirred", unit="min", default=None, ge=0, le=1440)
    pour_c: float | None = noted("Pour temperature", unit="°C", default=None, ge=20, le=HOTTEST_C)
    room_c: float | None = noted("Room", unit="°C", default=None, ge=-10, le=50)
    set_where: Literal["", "on the bench", "in the cold"] = noted("Set", default="")
    judged_h: float | None = noted("Judged after", unit="h", default=None, ge=0, le=100_000)
    ladder: tuple[str, ...] = noted(
        "Hardness words, soft to hard", default=LADDER, min_length=2, max_length=20
    )
    words: tuple[str, ...] = noted(
        "Hardness", hint="One word for each piece that was felt.", default=(), max_length=200
    )
    labs: tuple[Colour, ...] = noted(
        "L*a*b*", hint="One for each piece that was read.", default=(), max_length=200
    )
    photo: str = noted("Photo", default="")
    remark: str = noted("Remark", default="", max_length=5000)

    @model_validator(mode="after")
    def _on_the_ladder(self) -> Self:
        folded = [each.casefold() for each in self.ladder]
        if twins := [each for at, each in enumerate(self.ladder) if folded[at] in folded[:at]]:
            raise ValueError(f"“{twins[0]}” stands on the ladder twice; give each rung its own word")
        if strange := [each for each in self.words if each not in self.ladder]:
            raise ValueError(f"“{strange[0]}” is not on the ladder. {did_you_mean(strange[0], self.ladder)}")
        if not self.words and not self.labs:
            raise ValueError("a remake says how hard it is, or what colour")
        return self
