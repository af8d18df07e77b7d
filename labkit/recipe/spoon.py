"""What level spoons make of a line: how many of which size, and how far they may be off."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from labkit.errors import LabError
from labkit.materials import find_material
from labkit.recipe.asked import read_above_0

TEASPOON_ML = 4.92892159375
"""NIST Handbook 44 (2024), appendix C: 1 teaspoon = 4.928 92 mL; a gallon of 231 cubic inches over 768."""
SIZES = {"1": 1.0, "1/2": 0.5, "1/4": 0.25, "1/8": 0.125, "1/16": 0.0625, "1/32": 0.03125}
"""Measuring spoons, in teaspoons."""
POWDER_SD = 0.4
"""Relative sd of spoons of a powder that nobody weighed: 30 to 50 % (common practice, no source).

USP <616> says why: the slightest disturbance changes the bulk density of a powder. One hand and one powder
repeat it, so more spoons do not make it smaller.
"""
LIQUID_SD = 0.1
"""Relative sd of one level spoon of an oil (a judgement)."""
MOST_SPOONS = 8
FARTHEST_OFF = 0.5
"""A line that no number of spoons comes nearer to than this share is refused."""
_FOR_EACH = 0.01


class Spooned(NamedTuple):
    """A line by the spoon: how many, their sd [g], what they hold [g], and how that is said."""

    spoons: int
    sd_g: float
    grams: float
    how: str


@dataclass(frozen=True)
class Spoon:
    """A material that is measured by the level spoon.

    Attributes
    ----------
    material : str
    ml : float or None [mL]
        Of one spoon; by default the measuring spoon that comes nearest is taken.
    weighed_g : sequence of float
        Grams of level spoons that the maker weighed one by one, ten at best, of a spoon of `ml`. Without any,
        the bulk density that is recorded counts, and with it how little it can be trusted.

    Raises
    ------
    LabError
        For a spoon that cannot be.
    """

    material: str
    ml: float | None = None
    weighed_g: Sequence[float] = ()

    def __post_init__(self) -> None:
        if self.ml is not None:
            object.__setattr__(self, "ml", read_above_0(self.ml, f"{self.material}, the spoon", "mL"))
        if isinstance(self.weighed_g, str) or not hasattr(self.weighed_g, "__len__"):
            raise LabError(f"{self.material}: give the grams of each spoon, such as [0.52, 0.49, 0.55].")
        weighed = tuple(
            read_above_0(each, f"{self.material}, a spoon weighed", "g") for each in self.weighed_g
        )
        if len(weighed) == 1:
            raise LabError(
                f"{self.material}: one spoon does not say how spoons differ. Weigh ten, one by one."
            )
        object.__setattr__(self, "weighed_g", weighed)

    def one_g(self, ml: float | None = None) -> tuple[float, float, float]:
        """Return grams of a spoon: the mean, its own sd, and the sd from spoon to spoon.

        Raises
        ------
        LabError
            Where no spoon was weighed and no density is recorded.
        """
        if self.weighed_g:
            weighed = np.asarray(self.weighed_g, dtype=float)
            each = float(weighed.std(ddof=1))
            return float(weighed.mean()), each / len(weighed) ** 0.5, each
        volume = ml or self.ml or TEASPOON_ML
        material = find_material(self.material)
        bulk = material.values.get("bulk_density_g_ml")
        if bulk is not None:
            mean = volume * bulk.middle
            return mean, max(POWDER_SD * mean, volume * (bulk.high - bulk.low) / 12**0.5), 0.0
        liquid = material.values.get("density_g_ml") if material.group in ("oil", "ester") else None
        if liquid is None:
            raise LabError(
                f"{self.material}: no bulk density is recorded. Weigh ten level spoons of it, one by one, "
                "and give their grams."
            )
        mean = volume * liquid.middle
        return mean, volume * (liquid.high - liquid.low) / 12**0.5, LIQUID_SD * mean

    @property
    def least_g(self) -> float:
        """The smallest line that it can measure [g]."""
        return min(self.one_g(ml)[0] for _, ml in self._sizes()) * (1.0 - FARTHEST_OFF)

    def measured(self, grams: float) -> Spooned:
        """Return how many spoons make these grams, of the size that comes nearest.

        Raises
        ------
        LabError
            Where even the smallest spoon is far too much.

        Examples
        --------
        >>> Spoon("red iron oxide", weighed_g=[0.26, 0.24, 0.25]).measured(0.76).how
        '3 level spoons'
        """
        spooned = [self._of_size(grams, name, ml) for name, ml in self._sizes()]
        best = min(spooned, key=lambda each: abs(each.grams / grams - 1.0) + _FOR_EACH * each.spoons)
        if best.grams * (1.0 - FARTHEST_OFF) > grams * (1.0 + 1e-9):
            raise LabError(
                f"{self.material}: {grams:.2g} g is less than half of the smallest spoon "
                f"({best.grams:.2g} g). Weigh it, make a larger batch, or take it from a pre-mix in oil."
            )
        return best

    def _sizes(self) -> list[tuple[str, float | None]]:
        if self.weighed_g or self.ml is not None:
            return [("" if self.ml is None else f" of {self.ml:.3g} mL", self.ml)]
        return [(f" of {name} teaspoon", part * TEASPOON_ML) for name, part in SIZES.items()]

    def _of_size(self, grams: float, name: str, ml: float | None) -> Spooned:
        mean, of_mean, each = self.one_g(ml)
        count = max(round(grams / mean), 1)
        sd = float(np.hypot(count * of_mean, np.sqrt(count) * each))
        return Spooned(count, sd, count * mean, f"{count} level spoon{'s' * (count != 1)}{name}")
