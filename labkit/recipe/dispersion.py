"""A pre-mix of pigment in oil: taken in a recipe's place, and taken apart again."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from labkit.errors import LabError


@dataclass(frozen=True)
class Dispersion:
    """A pre-mix that a recipe's lines are weighed from.

    Attributes
    ----------
    name : str
    parts : mapping of str to float
        What it holds, in any measure: the ratio counts.
    """

    name: str
    parts: Mapping[str, float]

    def __post_init__(self) -> None:
        if len(self.parts) < 2 or not all(each > 0.0 for each in self.parts.values()):
            raise LabError(f"“{self.name}” needs two parts or more, each above 0, such as pigment and oil.")

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
    shares = dispersion.shares
    if of not in shares or of not in grams:
        raise LabError(f"“{of}” is not both in the recipe and in “{dispersion.name}”.")
    taken = grams[of] / shares[of]
    left = dict(grams)
    for name, share in shares.items():
        left[name] = left.get(name, 0.0) - taken * share
        if left[name] < -1e-9:
            raise LabError(
                f"“{dispersion.name}” brings {taken * share:.3g} g of {name}, and the recipe holds "
                f"{grams.get(name, 0.0):.3g} g. Mix it with less {name}."
            )
    kept = {name: each for name, each in left.items() if each > 1e-9}
    return {**kept, dispersion.name: taken}


def taken_apart(grams: Mapping[str, float], dispersions: Iterable[Dispersion]) -> dict[str, float]:
    """Return what lines hold once each pre-mix is counted as its parts.

    >>> mix = Dispersion("blue in castor", {"ultramarine": 1.0, "castor oil": 3.0})
    >>> taken_apart({"castor oil": 38.5, "blue in castor": 2.0}, [mix])
    {'castor oil': 40.0, 'ultramarine': 0.5}
    """
    known = {each.name: each for each in dispersions}
    found: dict[str, float] = {}
    for name, each in grams.items():
        parts = known[name].shares if name in known else {name: 1.0}
        for part, share in parts.items():
            found[part] = found.get(part, 0.0) + each * share
    return found
