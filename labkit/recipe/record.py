"""What is written of a recipe in the trial book: it never changes; a changed one is another."""

from typing import ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from labkit.book.record import Record, noted
from labkit.recipe.groups import Group, same_material
from labkit.recipe.recipe import Recipe

LONGEST_NAME = 200
Market = Literal["US", "EU", "UK"]


class Line(BaseModel):
    """A line of a recipe: what, how many grams, what it counts as, and what it costs."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    grams: float = Field(gt=0, le=1_000_000)
    group: Group
    price_kg: float | None = Field(default=None, ge=0)


class Written(Record):
    """A recipe as it was poured, for which containers, scale and markets, and what a remaker has to know."""

    kind: ClassVar[str] = "recipe.recipe"

    lines: tuple[Line, ...] = noted("Recipe", min_length=1)
    containers: int = noted("Tubes or pots", default=12, ge=1, le=100_000)
    fill_g: float = noted("Fill of each", unit="g", default=4.5, gt=0, le=10_000)
    loss_percent: float = noted(
        "Stays in pan and tools", unit="%", hint="What your batches lose.", default=8.0, ge=0, le=90
    )
    step_g: float = noted("Step of the scale", unit="g", default=0.1, gt=0, le=10)
    spoons: tuple[str, ...] = noted("By the spoon", default=())
    markets: tuple[Market, ...] = noted("Worn or sold in", default=("EU",), min_length=1)
    container_price: float = noted("Price of an empty container", default=0.0, ge=0, le=1e6)
    hottest_c: float | None = noted("Never hotter than", unit="°C", default=None, ge=40, le=130)
    pour_c: float | None = noted("Pour at", unit="°C", default=None, ge=30, le=130)
    waiting_h: float | None = noted("Judge it after", unit="h", default=None, ge=0, le=2000)
    work: str = noted("Order of work", hint="A line for each step.", default="", max_length=5000)
    right: str = noted("A right result looks and feels", default="", max_length=2000)
    send_back: str = noted("Send a remake back to", default="", max_length=500)
    came_from: str = noted("Changed from", default="", max_length=64)
    source: str = noted("Poured as", default="", max_length=300)

    @field_validator("lines")
    @classmethod
    def _each_once(cls, lines: tuple[Line, ...]) -> tuple[Line, ...]:
        for at, line in enumerate(lines):
            if twin := next((each.name for each in lines[:at] if same_material(each.name, line.name)), None):
                raise ValueError(f"“{twin}” and “{line.name}” are one material: put them into one line")
        return lines

    def recipe(self, name: str) -> Recipe:
        """Return it as a recipe."""
        known = {"pour_c": self.pour_c, "hottest_c": self.hottest_c, "waiting_h": self.waiting_h}
        return Recipe(
            name,
            {each.name: each.grams for each in self.lines},
            {key: value for key, value in known.items() if value is not None},
            {each.name: each.group for each in self.lines},
            self.came_from,
        )
