"""A pre-mix of pigment in oil: taken in a recipe's place, and taken apart again."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from labkit.errors import LabError
from labkit.recipe.asked import read_above_0, read_name
from labkit.recipe.groups import called, same_material
from labkit.recipe.recipe import Recipe

_NOTHING = 1e-9


@dataclass(frozen=True)
class Dispersion:
    """A pre-mix that a recipe's lines are weighed from, or a paste that was bought.

    Attributes
    ----------
    name : str
    parts : mapping of str to float
        What it holds, in any measure: the ratio counts.
    made_g : float or None [g]
        How much of it was weighed together, on the scale of the recipe; None where its parts count as exact.

    Raises
    ------
    LabError
        For fewer than two parts, or amounts that cannot be.
    """

    name: str
    parts: Mapping[str, float]
    made_g: float | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "name", read_name(self.name, "A pre-mix"))
        if not isinstance(self.parts, Mapping) or len({called(each) for each in self.parts}) < 2:
            raise LabError(f"“{self.name}” needs two parts or more, each above 0, such as pigment and oil.")
        parts = {str(name): read_above_0(each, f"{self.name}, {name}") for name, each in self.parts.items()}
        object.__setattr__(self, "parts", parts)
        if self.made_g is not None:
            object.__setattr__(self, "made_g", read_above_0(self.made_g, f"{self.name}, made", "g"))

    @property
    def shares(self) -> dict[str, float]:
        """Mass fraction of each part, summing to 1."""
        total = sum(self.parts.values())
        return {name: each / total for name, each in self.parts.items()}


def with_dispersion(grams: Mapping[str, float], dispersion: Dispersion, of: str) -> dict[str, float]:
    """Return the lines to weigh where one material comes wholly from a pre-mix.

    Parameters
    ----------
    grams : mapping of material to g
    dispersion : Dispersion
    of : str
        The material that comes from it; the rest of the pre-mix is taken off its own lines.

    Raises
    ------
    LabError
        Where the recipe holds less of another part than comes with it.

    Examples
    --------
    >>> mix = Dispersion("blue in castor", {"ultramarine": 1.0, "castor oil": 3.0})
    >>> with_dispersion({"castor oil": 40.0, "ultramarine": 0.5}, mix, "ultramarine")
    {'castor oil': 38.5, 'blue in castor': 2.0}
    """
    shares = {called(name): share for name, share in dispersion.shares.items()}
    line = next((name for name in grams if same_material(name, of)), None)
    if line is None or called(of) not in shares:
        raise LabError(f"“{of}” is not both in the recipe and in “{dispersion.name}”.")
    taken = grams[line] / shares[called(of)]
    left = {name: each - taken * shares.get(called(name), 0.0) for name, each in grams.items()}
    for name, share in dispersion.shares.items():
        held = next((each for each in grams if same_material(each, name)), None)
        if held is None or left[held] < -_NOTHING * taken:
            raise LabError(
                f"“{dispersion.name}” brings {taken * share:.3g} g of {name}, and the recipe holds "
                f"{grams[held] if held else 0.0:.3g} g. Mix it with less {name}."
            )
    kept = {name: each for name, each in left.items() if each > _NOTHING * taken}
    return {**kept, dispersion.name: taken}


def taken_apart(grams: Mapping[str, float], dispersions: Iterable[Dispersion]) -> dict[str, float]:
    """Return what lines hold once each pre-mix is counted as its parts.

    >>> mix = Dispersion("blue in castor", {"ultramarine": 1.0, "castor oil": 3.0})
    >>> taken_apart({"castor oil": 38.5, "blue in castor": 2.0}, [mix])
    {'castor oil': 40.0, 'ultramarine': 0.5}
    """
    known = {called(each.name): each for each in dispersions}
    labels = {called(name): name for name in grams}
    found: dict[str, float] = {}
    for name, each in grams.items():
        parts = known[called(name)].shares if called(name) in known else {name: 1.0}
        for part, share in parts.items():
            label = labels.setdefault(called(part), part)
            found[label] = found.get(label, 0.0) + each * share
    return found


def in_parts(recipe: Recipe, dispersions: Iterable[Dispersion]) -> Recipe:
    """Return a recipe with its pastes and pre-mixes counted as what they hold: their oil as oil.

    Examples
    --------
    >>> paste = Dispersion("red paste", {"red iron oxide": 40, "castor oil": 60})
    >>> red = Recipe.from_grams("red", {"beeswax": 20, "castor oil": 70, "red paste": 10})
    >>> in_parts(red, [paste]).percent()
    {'beeswax': 20.0, 'castor oil': 76.0, 'red iron oxide': 4.0}
    """
    grams = taken_apart(recipe.weighed_g, dispersions)
    groups = {name: group for name, group in recipe.groups.items() if name in grams}
    return Recipe(recipe.name, grams, recipe.process, groups, recipe.came_from)
