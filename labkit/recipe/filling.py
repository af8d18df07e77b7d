"""Containers and batches: what to make to fill so many, and how many a batch fills."""

from typing import Any, NamedTuple

from labkit.errors import LabError
from labkit.materials import find_material
from labkit.recipe.asked import Loss, read_above_0, read_band
from labkit.recipe.recipe import Recipe, filled_g

UNKNOWN_PERCENT = 5.0
"""So much of a recipe may be of unknown density, and is left out of it."""


class ToMake(NamedTuple):
    """What to make so that so many containers are filled [g].

    Attributes
    ----------
    filled_g : float
        What the containers hold.
    usual_g, sure_g : float
        With the usual loss, and with the largest that past batches lead to expect (19 in 20); inf where so
        few batches promise nothing.
    why : str
    """

    filled_g: float
    usual_g: float
    sure_g: float
    why: str


class Fills(NamedTuple):
    """How many containers a batch fills: usually, and surely (19 in 20)."""

    usual: int
    sure: int


class Density(NamedTuple):
    """Density of a product [g/mL], middle and ends, and what it rests on."""

    middle: float
    low: float
    high: float
    why: str


def to_make(
    containers: int,
    fill_g: float | None = None,
    *,
    fill_ml: float | None = None,
    density_g_ml: float | None = None,
    loss: Any = 0.0,
) -> ToMake:
    """Return what to make to fill containers.

    Parameters
    ----------
    containers, fill_g, fill_ml, density_g_ml
        As in `Recipe.scaled`.
    loss : float, or anything with share, low and high
        The share that ends in no container, such as what `labkit.batch.usual_loss` returns of past batches.

    Raises
    ------
    LabError
        For what cannot be.

    Examples
    --------
    >>> to_make(20, 4.5, loss=0.1).usual_g
    100.0
    """
    filled, band = filled_g(containers, fill_g, fill_ml, density_g_ml), read_band(loss)
    usual = filled / (1.0 - band.share)
    sure = filled / (1.0 - band.high) if band.high < 1.0 else float("inf")
    return ToMake(filled, usual, sure, _loss_words(band, usual, sure))


def _loss_words(band: Loss, usual: float, sure: float) -> str:
    said = f"Make {usual:.1f} g: about {100 * band.share:.0f} % stays in pan and tools."
    if band.high <= band.share:
        return f"{said} One figure does not say how the next batch may fall: write down what yours lose."
    if sure == float("inf"):
        return f"{said} So few batches do not say how much would be surely enough."
    return f"{said} To be 95 % sure of enough, {sure:.1f} g."


def fills(
    batch_g: float,
    fill_g: float | None = None,
    *,
    fill_ml: float | None = None,
    density_g_ml: float | None = None,
    loss: Any = 0.0,
) -> Fills:
    """Return how many containers a batch fills; arguments as in `to_make`.

    Examples
    --------
    >>> fills(100, 4.5, loss=0.1)
    Fills(usual=20, sure=20)
    """
    batch, each = read_above_0(batch_g, "the batch", "g"), filled_g(1, fill_g, fill_ml, density_g_ml)
    band = read_band(loss)
    usual, sure = (
        int(batch * (1.0 - lost) / each + 1e-9) for lost in (band.share, max(band.share, band.high))
    )
    return Fills(usual, sure)


def density_of(recipe: Recipe) -> Density:
    """Return the density of a recipe from those of its materials, as if their volumes add up.

    ρ = Σ w / Σ (w/ρᵢ), wᵢ the shares. The densities are those that are recorded, mostly at 20 °C and some of
    a melt: a full container that was weighed says better, and a hot melt is lighter by about 0.0006 g/mL for
    each °C (from memory). Fats shrink as they set: fill up to the mark while it is liquid.

    Raises
    ------
    LabError
        Where more than 5 % of it is of unknown density.

    Examples
    --------
    >>> density = density_of(Recipe.from_percent("base", {"castor oil": 80, "beeswax": 20}))
    >>> round(density.low, 3), round(density.high, 3)
    (0.952, 0.964)
    """
    known, unknown = [], []
    for name, percent in recipe.percent().items():
        value = _density(name)
        known += [(percent, value)] if value else []
        unknown += [] if value else [(percent, name)]
    missing = sum(percent for percent, _ in unknown)
    if missing > UNKNOWN_PERCENT:
        most = max(unknown)[1]
        raise LabError(
            f"The density of {most} is not recorded. Weigh a full container, and give the density of the "
            "product: what is in it [g] by what it holds [mL]."
        )
    low, high = ((100.0 - missing) / sum(w / value[end] for w, value in known) for end in (0, 1))
    aside = f"; {', '.join(name for _, name in unknown)} left out" if unknown else ""
    why = f"from the recorded densities of its materials, as if their volumes add up{aside}"
    return Density((low + high) / 2.0, low, high, why)


def _density(name: str) -> tuple[float, float] | None:
    try:
        value = find_material(name).values.get("density_g_ml")
    except LabError:
        return None
    return None if value is None else (value.low, value.high)
