"""How thick a film is: the stick weighed before and after many swipes over a measured area."""

from dataclasses import dataclass

from labkit.errors import LabError

FEWEST_STEPS = 5
"""Steps of the scale that the swipes must take off a stick before a thickness is worth saying."""
_AREA_SD = 0.05
"""Relative standard deviation of an area measured with a ruler (judgement)."""


@dataclass(frozen=True)
class WeighedFilm:
    """Thickness of one swipe's film, and its standard deviation [µm]."""

    um: float
    sd_um: float


def weighed_film(
    before_g: float,
    after_g: float,
    swipes: int,
    area_cm2: float,
    density_g_ml: float = 0.95,
    step_g: float = 0.01,
) -> WeighedFilm:
    """Return the thickness of the film that one swipe leaves.

    X = Δm / (n·A·ρ): 1 g over 1 cm² at 1 g/mL is 1 cm. Its uncertainty is that of two readings of the scale
    (a step each, rectangular) and of the area.

    Parameters
    ----------
    before_g, after_g
        The stick before and after [g].
    swipes
        How many swipes, each over the same area. One alone cannot be weighed to 0.01 g: take twenty.
    area_cm2
        The area of one swipe [cm²].
    density_g_ml
        Density of the product [g/mL].
    step_g
        Step of the scale [g].

    Raises
    ------
    LabError
        Where a value cannot be, or the scale is too coarse for what was taken off.

    >>> film = weighed_film(4.20, 4.00, 20, 10.0, density_g_ml=1.0, step_g=0.01)
    >>> round(film.um, 3), round(film.sd_um, 2)
    (10.0, 0.54)
    """
    for what, value in (("swipes", swipes), ("area", area_cm2), ("density", density_g_ml), ("step", step_g)):
        if not value > 0:
            raise LabError(f"{what}: {value:g} cannot be; it is more than 0.")
    gone = before_g - after_g
    if not gone > 0:
        raise LabError(
            f"The stick weighed {before_g:g} g before and {after_g:g} g after: it must have lost something. "
            "Check which is which."
        )
    if gone < FEWEST_STEPS * step_g:
        raise LabError(
            f"The swipes took {gone:g} g off, and your scale shows steps of {step_g:g} g: too coarse to say "
            f"how thick the film is. Swipe until at least {FEWEST_STEPS * step_g:g} g are gone."
        )
    um = 1e4 * gone / (swipes * area_cm2 * density_g_ml)
    weighing = (2 * step_g**2 / 12) ** 0.5 / gone
    return WeighedFilm(um, um * (weighing**2 + _AREA_SD**2) ** 0.5)
