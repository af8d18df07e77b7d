"""What is in the pot now, in grams."""

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from labkit.errors import LabError
from labkit.shade.pigments import Pigments

BASE = "base"
"""The name of the base among what may be added."""


@dataclass(frozen=True)
class Pot:
    """Grams of each pigment, and of everything else, in a pot."""

    grams: dict[str, float]
    base: float

    @property
    def pigment(self) -> float:
        """Grams of all pigments."""
        return sum(self.grams.values())

    @property
    def total(self) -> float:
        """Grams of everything."""
        return self.pigment + self.base

    @property
    def load(self) -> float:
        """Mass % of all pigments."""
        return 100 * self.pigment / self.total

    def load_of(self, name: str) -> float:
        """Mass % of one pigment."""
        return 100 * self.grams.get(name, 0.0) / self.total


def read_pot(pot: Mapping[str, float], pigments: Pigments) -> Pot:
    """Return what is in a pot: pigments by name, everything else is base.

    Raises
    ------
    LabError
        For grams that cannot be, an empty pot, a pigment that comes twice, one that is not forecast, and a
        name that looks like a pigment's and is none.

    >>> from labkit.shade.pigments import default_pigments
    >>> read_pot({"CI 77007": 2, "castor oil": 50, "beeswax": 10}, default_pigments())
    Pot(grams={'ultramarine': 2.0}, base=60.0)
    """
    if not isinstance(pot, Mapping):
        raise LabError(f'the pot: {pot!r} is none. Give grams by name: {{"red iron oxide": 4, "base": 96}}.')
    found: dict[str, float] = {}
    base = 0.0
    for name, grams in pot.items():
        known, mass = _pigment(str(name), pigments), _grams(str(name), grams)
        if known is None:
            base += mass
        elif known in found:
            raise LabError(f"the pot: “{name}” stands there twice; put its grams into one line.")
        else:
            found[known] = mass
    if not base + sum(found.values()) > 0:
        raise LabError("There is nothing in the pot: leave it out to begin a new blend.")
    return Pot(found, base)


def _pigment(name: str, pigments: Pigments) -> str | None:
    """Return the pigment that is meant, or None for a part of the base."""
    if name.strip().casefold() == BASE:
        return None
    try:
        return pigments.resolve(name)
    except LabError:
        if _is_colourant(name) or get_close_matches(name.strip().casefold(), pigments, n=1, cutoff=0.8):
            raise
        return None


def _is_colourant(name: str) -> bool:
    from labkit.materials import find

    try:
        find(name)
    except LabError:
        return False
    return True


def _grams(name: str, grams: Any) -> float:
    try:
        mass = float(grams)
    except (TypeError, ValueError):
        raise LabError(f"the pot, {name}: {grams!r} is no number of grams.") from None
    if not 0 <= mass < float("inf"):
        raise LabError(f"the pot, {name}: {mass:g} g cannot be; give 0 or more.")
    return mass
