"""What a scale makes of a line."""

from dataclasses import dataclass

import numpy as np

from labkit.errors import LabError
from labkit.recipe.asked import read_0_or_more, read_real


@dataclass(frozen=True)
class Scale:
    """A scale: its step [g], and the standard deviation of a repeated reading beside that [g].

    A line is weighed after taring, so that two readings make it, each even over its step (variance step²/12
    each; JCGM 100:2008, 4.3.7). A scale that shows all weights too large by the same share changes no recipe,
    and is not counted.

    Raises
    ------
    LabError
        For a step or a deviation that cannot be.

    Examples
    --------
    >>> round(Scale("0,1").sd_g, 4)
    0.0408
    """

    step_g: float
    repeat_sd_g: float = 0.0

    def __post_init__(self) -> None:
        step = read_real(self.step_g, "your scale's step", "g")
        if not 0.0 < step <= 100.0:
            raise LabError(
                f"A scale with a step of {step:g} g cannot be. It is the smallest change that it shows, "
                "mostly 1, 0.1, 0.01 or 0.001 g."
            )
        object.__setattr__(self, "step_g", step)
        repeats = read_0_or_more(self.repeat_sd_g, "how your scale repeats", "g")
        object.__setattr__(self, "repeat_sd_g", repeats)

    @property
    def sd_g(self) -> float:
        """Standard deviation of one line's weight [g]."""
        return float(np.sqrt(2.0 * (self.step_g**2 / 12.0 + self.repeat_sd_g**2)))

    def shown(self, grams: float) -> float:
        """Return grams as the scale can show them."""
        return round(round(grams / self.step_g) * self.step_g, 9)

    def errors(self, draws: int, rng: np.random.Generator) -> np.ndarray:
        """Return draws of what a line may be off, in units of `sd_g`, shape (draws,)."""
        even = rng.uniform(-0.5, 0.5, (2, draws)).sum(axis=0)
        grams = self.step_g * even + np.sqrt(2.0) * self.repeat_sd_g * rng.standard_normal(draws)
        return np.asarray(grams / self.sd_g)
