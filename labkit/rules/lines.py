"""A recipe's lines, each with the material that it names, mixtures taken apart."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, Protocol

from labkit.errors import LabError
from labkit.materials import Material, find_material, is_spelled_so

if TYPE_CHECKING:
    from labkit.materials.own_values import Own

OFF_100 = 0.5
"""So far may a recipe's percents lie off 100, for rounding."""


class Named(Protocol):
    """Anything with a name and percents: a recipe."""

    @property
    def name(self) -> str:
        """What the recipe is called."""

    def percent(self) -> Mapping[str, float]:
        """Return {material: mass % of the finished product}."""


@dataclass(frozen=True)
class Plain:
    """A name with its percents, where no more is known of a recipe.

    >>> Plain("balm", {"shea butter": 60, "beeswax": 40}).percent()
    {'shea butter': 60, 'beeswax': 40}
    """

    name: str
    percents: Mapping[str, float]

    def percent(self) -> dict[str, float]:
        """Return {material: mass % of the finished product}."""
        return dict(self.percents)


class Line(NamedTuple):
    """One material of a recipe: as it was typed, what it is, and its mass % of the finished product."""

    typed: str
    material: Material
    percent: float


def read_lines(recipe: Named, own: "Own" = None) -> list[Line]:
    """Return a recipe's lines; a mixture that the maker recorded is taken apart into what it is made of.

    Raises
    ------
    LabError
        For an unknown name, percents that cannot be, or that do not come to 100.
    """
    percents = dict(recipe.percent())
    if not percents:
        raise LabError(f"{recipe.name}: there is no line in it yet.")
    for name, percent in percents.items():
        if not (math.isfinite(percent) and percent >= 0):
            raise LabError(f"{recipe.name}, {name}: {percent:g} % cannot be. Give 0 or more.")
    total = sum(percents.values())
    if abs(total - 100) > OFF_100:
        raise LabError(
            f"{recipe.name}: its lines come to {total:g} %, and should come to 100 %. "
            "Bring them to 100 %, or say which line is the rest."
        )
    lines = (each for name, percent in percents.items() for each in _taken_apart(name, percent, own, ()))
    return [each for each in lines if each.percent > 0]


def read_as(lines: list[Line]) -> list[str]:
    """Return a sentence for each name that was found although it is spelled in another way."""
    return [
        f"“{each.typed}” is taken as {each.material.name}."
        for each in lines
        if not is_spelled_so(each.typed, each.material)
    ]


def _taken_apart(name: str, percent: float, own: "Own", within: tuple[str, ...]) -> list[Line]:
    material = find_material(name, own)
    if not material.made_of:
        return [Line(name, material, percent)]
    if material.name in within:
        raise LabError(f"{material.name}: it is made of itself. Look at what it is made of.")
    whole = sum(material.made_of.values())
    return [
        line
        for part, share in material.made_of.items()
        for line in _taken_apart(part, percent * share / whole, own, (*within, material.name))
    ]
