"""What a scale and a spoon make of each line: its grams, and how far they may be off."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from labkit.errors import LabError
from labkit.materials import find_material

TEASPOON_ML = 4.92892159375
"""NIST Handbook 44 (2024), appendix C: 1 teaspoon = 4.928 92 mL."""
SPOON_SD = 0.10
"""Relative sd of a level spoon of one powder by one hand, where nobody weighed any (a judgement)."""


@dataclass(frozen=True)
class Scale:
    """A scale: its step [g], and the standard deviation of a repeated reading beside that [g].

    A line is weighed after taring, so that two readings make it, each even over its step (variance step²/12
    each; JCGM 100:2008, 4.3.7).
    """

    step_g: float
    repeat_sd_g: float = 0.0

    def __post_init__(self) -> None:
        if not 0.0 < self.step_g <= 100.0 or not self.repeat_sd_g >= 0.0:
            raise LabError(
                f"A scale with a step of {self.step_g} g cannot be. It is the smallest change that it shows, "
                "mostly 1, 0.1, 0.01 or 0.001 g."
            )

    @property
    def sd_g(self) -> float:
        """Standard deviation of one line's weight [g]."""
        return float(np.sqrt(2.0 * (self.step_g**2 / 12.0 + self.repeat_sd_g**2)))

    def shown(self, grams: float) -> float:
        """Return grams as the scale can show them."""
        return round(grams / self.step_g) * self.step_g


@dataclass(frozen=True)
class Spoon:
    """A material that is measured by the level spoon.

    Attributes
    ----------
    material : str
    ml : float [mL]
        Of one spoon.
    weighed_g : sequence of float
        Grams of level spoons that the maker weighed, ten at best; without any the bulk density counts.
    """

    material: str
    ml: float = TEASPOON_ML
    weighed_g: Sequence[float] = ()

    def one_g(self) -> tuple[float, float, float]:
        """Return grams of a spoon: the mean, its own sd, and the sd from spoon to spoon.

        Raises
        ------
        LabError
            Where no spoon was weighed and no bulk density is recorded.
        """
        if len(self.weighed_g) >= 2:
            weighed = np.asarray(self.weighed_g, dtype=float)
            each = float(weighed.std(ddof=1))
            return float(weighed.mean()), each / len(weighed) ** 0.5, each
        value = find_material(self.material).values.get("bulk_density_g_ml")
        if value is None:
            raise LabError(
                f"{self.material}: no bulk density is recorded. Weigh ten level spoons of it, one by one, "
                "and give their grams."
            )
        mean = self.ml * value.middle
        return mean, self.ml * (value.high - value.low) / 12**0.5, SPOON_SD * mean

    def measured(self, grams: float) -> tuple[float, float]:
        """Return how many spoons make these grams, to a quarter, and the sd of what they hold [g]."""
        mean, of_mean, each = self.one_g()
        spoons = max(round(4.0 * grams / mean) / 4.0, 0.25)
        return spoons, float(np.hypot(spoons * of_mean, np.sqrt(spoons) * each))
