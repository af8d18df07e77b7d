"""What is really in the pot: what went in, less what was taken out."""

from collections.abc import Mapping
from dataclasses import dataclass

from labkit.batch.asked import read_above_0, read_grams
from labkit.errors import LabError


@dataclass(frozen=True)
class Pot:
    """What is in the pot now.

    Attributes
    ----------
    grams : mapping of ingredient to g

    Raises
    ------
    LabError
        Grams that cannot be.

    Examples
    --------
    >>> pot = Pot({"castor oil": 60.0, "beeswax": 40.0}).take(10.0).add("beeswax", 2.0)
    >>> pot.grams, round(pot.percent["beeswax"], 1)
    ({'castor oil': 54.0, 'beeswax': 38.0}, 41.3)
    """

    grams: Mapping[str, float]

    def __post_init__(self) -> None:
        if not sum(read_grams(self.grams, "the pot").values()) > 0.0:
            raise LabError("The pot is empty. Write down what went in.")

    @property
    def total_g(self) -> float:
        """Everything in the pot, in g."""
        return float(sum(self.grams.values()))

    @property
    def shares(self) -> dict[str, float]:
        """Share of each ingredient, summing to 1."""
        total = self.total_g
        return {name: grams / total for name, grams in self.grams.items()}

    @property
    def percent(self) -> dict[str, float]:
        """The same in %."""
        return {name: 100.0 * share for name, share in self.shares.items()}

    @property
    def colourants(self) -> tuple[str, ...]:
        """Ingredients whose names are those of pigments, lakes or pearls.

        >>> Pot({"castor oil": 90.0, "CI 77491": 8.0, "kaolin": 2.0}).colourants
        ('CI 77491',)
        """
        return tuple(name for name in self.grams if _colours(name))

    def add(self, name: str, grams: float) -> "Pot":
        """Return the pot with more of an ingredient, or with a new one."""
        more = read_above_0(grams, f"{name}, added", "g")
        return Pot({**self.grams, name: self.grams.get(name, 0.0) + more})

    def take(self, grams: float) -> "Pot":
        """Return the pot after some of the stirred melt was taken out."""
        out = read_above_0(grams, "taken out", "g")
        if out >= self.total_g:
            raise LabError(
                f"{out:g} g cannot be taken from a pot of {self.total_g:g} g. Look at the weight again."
            )
        kept = 1.0 - out / self.total_g
        return Pot({name: each * kept for name, each in self.grams.items()})


def _colours(name: str) -> bool:
    from labkit.materials import find

    try:
        return find(name).kind != "filler"
    except LabError:
        return False
