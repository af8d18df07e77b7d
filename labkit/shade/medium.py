"""What the pigment lies in: density and refractive index of the base."""

from dataclasses import dataclass
from functools import cached_property

from labkit.errors import LabError
from labkit.shade import optics


@dataclass(frozen=True)
class Medium:
    """A base: its density [g/mL] and its refractive index.

    >>> round(Medium(0.94, 1.5).k2, 4)
    0.5963
    """

    density_g_ml: float
    index: float

    def __post_init__(self) -> None:
        if not 0.6 <= self.density_g_ml <= 1.5:
            raise LabError(
                f"the base's density: {self.density_g_ml:g} g/mL cannot be; fats and waxes have 0.8 to 1.0."
            )
        if not 1.3 <= self.index <= 1.7:
            raise LabError(
                f"the base's refractive index: {self.index:g} cannot be; oils and waxes have 1.43 to 1.50."
            )

    @property
    def k1(self) -> float:
        """Share of light that the surface reflects from outside."""
        return optics.normal_reflectance(self.index)

    @cached_property
    def k2(self) -> float:
        """Share of diffuse light that the surface throws back inside."""
        return optics.internal_diffuse_reflectance(self.index)


USUAL = Medium(density_g_ml=0.94, index=1.465)
"""A base of castor oil, butters and waxes: between their handbook densities and indices."""
