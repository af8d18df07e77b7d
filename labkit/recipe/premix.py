"""Whether a pre-mix of pigment in oil mends what weighing small lines does, and what that pre-mix is."""

from dataclasses import dataclass

from labkit.errors import LabError, did_you_mean
from labkit.materials import find_material
from labkit.recipe.asked import read_above_0
from labkit.recipe.dispersion import Dispersion
from labkit.recipe.groups import same_material
from labkit.recipe.handed import Colour
from labkit.recipe.lines import batch_of, group_in
from labkit.recipe.recipe import Recipe
from labkit.recipe.weighed_out import WeighingError, error_of
from labkit.recipe.weighing import Scale

STRENGTHS = (0.5, 0.4, 0.3, 0.25, 0.2, 0.15, 0.1, 0.05, 0.02, 0.01)
"""Shares of pigment that are easily mixed."""
WANTED_SD = 0.05
"""A twentieth of a pigment more or less is hardly seen (a judgement)."""
FLUID = 1.5
"""A pre-mix that can be stirred has so many times the oil that its pigments take up to a paste (a guess)."""
NOT_KNOWN_UPTAKE = 0.7
"""Oil absorption [g/g] where none is recorded: that of mica, which is high."""
_FLOOR = 1e-12


@dataclass(frozen=True)
class Mended:
    """Whether a pre-mix mends the lines that err too much.

    Attributes
    ----------
    mends : bool
        Whether every pigment's part in the batch is then within what is wanted.
    lines : tuple of str
        The pigments that err too much without it.
    mix : Dispersion or None
        None where none is needed, or none can be made.
    mix_g : dict of str to float [g]
        What to weigh for the pre-mix.
    dose_g : float [g]
        How much of it a batch takes; nan without one.
    batches : float
        For how many batches it lasts; nan without one.
    before, after : WeighingError or None
        None where a line is too little to be weighed at all, or there is no pre-mix.
    why : str
    """

    mends: bool
    lines: tuple[str, ...]
    mix: Dispersion | None
    mix_g: dict[str, float]
    dose_g: float
    batches: float
    before: WeighingError | None
    after: WeighingError | None
    why: str


def dispersion_for(
    recipe: Recipe,
    batch_g: float,
    scale_step_g: float,
    wanted_sd: float = WANTED_SD,
    oil: str = "",
    colour: Colour | None = None,
    repeat_sd_g: float = 0.0,
) -> Mended:
    """Return whether a pre-mix of the small pigments in oil mends their weighing, and what it is.

    All pigments whose line errs by more than is wanted go into one pre-mix, in the recipe's ratio. It is made
    so large, and so weak, that weighing its parts and weighing it out each err by at most wanted_sd/√2. It
    takes no more oil than the recipe has, and enough to be stirred (`FLUID`). What its own weighing leaves is
    the same in every batch made from it.

    Parameters
    ----------
    recipe : Recipe
    batch_g, scale_step_g : float [g]
    wanted_sd : float
        Relative standard deviation of each pigment's grams.
    oil : str, optional
        By default the recipe's largest oil.
    colour : callable, optional
        As in `weigh_out`.
    repeat_sd_g : float [g]

    Raises
    ------
    LabError
        Where the recipe has no pigment, or has not got the oil.

    Examples
    --------
    >>> red = Recipe.from_percent("red", {"castor oil": 79.9, "beeswax": 20.0, "ultramarine": 0.1})
    >>> found = dispersion_for(red, 50, 0.01, wanted_sd=0.02)
    >>> found.mends, found.mix_g, round(found.dose_g, 3), round(found.batches)
    (True, {'ultramarine': 0.29, 'castor oil': 1.64}, 0.333, 6)
    """
    scale, grams = Scale(scale_step_g, repeat_sd_g), recipe.grams(batch_g)
    wanted = read_above_0(wanted_sd, "wanted") / 2.0**0.5
    pigments = {name: each for name, each in grams.items() if group_in(recipe, name) == "pigment"}
    if not pigments:
        raise LabError("There is no pigment in this recipe.")
    if oil:
        oil = _carrier(recipe, grams, oil)
    small = {name: each for name, each in pigments.items() if scale.sd_g > wanted_sd * each}
    before = _error(recipe, batch_g, scale, colour)
    if not small:
        said = f"No pre-mix is needed: every pigment is within {100 * wanted_sd:g} % already."
        return Mended(True, (), None, {}, float("nan"), float("nan"), before, None, said)
    carrier = _carrier(recipe, grams, oil)
    strength = _strength(small, grams[carrier], scale.sd_g / wanted)
    if strength is None:
        said = f"There is too little {carrier} in the recipe to stir {' and '.join(small)} into."
        return Mended(False, tuple(small), None, {}, float("nan"), float("nan"), before, None, said)
    return _mended(recipe, batch_g, scale, colour, small, carrier, strength, wanted_sd, before)


def _mended(
    recipe: Recipe,
    batch_g: float,
    scale: Scale,
    colour: Colour | None,
    small: dict[str, float],
    carrier: str,
    strength: float,
    wanted_sd: float,
    before: WeighingError | None,
) -> Mended:
    pigment_g = sum(small.values())
    dose_g = pigment_g / strength
    parts = {name: strength * each / pigment_g for name, each in small.items()}
    parts[carrier] = 1.0 - strength
    least = min(parts[name] for name in small)
    least_g = _up(max(scale.sd_g / (wanted_sd / 2.0**0.5), dose_g * least), scale.step_g)
    mix_g = {name: round(scale.shown(least_g * share / least), 9) for name, share in parts.items()}
    name = f"{' and '.join(small)} in {carrier}"
    mix = Dispersion(name, parts, made_g=sum(mix_g.values()))
    batch = batch_of(recipe, batch_g, scale, dispersions={next(iter(small)): mix})
    after = error_of(batch, colour)
    off = max(after.percent_sd[each] / (100.0 * small[each] / batch_g) for each in small)
    mends = off <= wanted_sd * 1.02
    names, recipe_of = " and ".join(small), ", ".join(f"{each:g} g {what}" for what, each in mix_g.items())
    within = "as is wanted" if mends else f"more than the {100 * wanted_sd:g} % that is wanted"
    is_, errs = ("is", "errs") if len(small) == 1 else ("are", "err")
    said = (
        f"{names} {is_} small for your scale. Mix {recipe_of} once, and take {dose_g:.3g} g of it a batch. "
        f"{names} then {errs} by {100 * off:.2g} %, {within}; mixing it once leaves the same error in every "
        "batch from it. Wear a dust mask while the powder is dry, and stir the pre-mix before each weighing: "
        "pigment settles."
    )
    return Mended(mends, tuple(small), mix, mix_g, dose_g, sum(mix_g.values()) / dose_g, before, after, said)


def _error(recipe: Recipe, batch_g: float, scale: Scale, colour: Colour | None) -> WeighingError | None:
    try:
        batch = batch_of(recipe, batch_g, scale)
    except LabError:
        return None
    return error_of(batch, colour)


def _carrier(recipe: Recipe, grams: dict[str, float], oil: str) -> str:
    oils = [name for name in grams if group_in(recipe, name) == "oil"]
    if not oil:
        if not oils:
            raise LabError("There is no oil in this recipe to mix a pigment into.")
        return max(oils, key=lambda name: grams[name])
    found = next((name for name in grams if same_material(name, oil)), None)
    if found is None:
        raise LabError(f"“{oil}” is not in this recipe. {did_you_mean(oil, grams)}")
    return found


def _strength(small: dict[str, float], oil_g: float, least_dose_g: float) -> float | None:
    """Return the share of pigment: weak enough to weigh, strong enough for the oil; None where none is."""
    pigment_g = sum(small.values())
    most = pigment_g / (pigment_g + FLUID * sum(_uptake(name) * each for name, each in small.items()))
    least = pigment_g / (pigment_g + oil_g)
    if least > most:
        return None
    wanted = min(most, pigment_g / least_dose_g)
    neat = [each for each in STRENGTHS if least <= each <= wanted + _FLOOR]
    return max(neat, default=max(min(wanted, most), least))


def _uptake(name: str) -> float:
    """Return the oil that a pigment takes up to a paste [g/g], the high end of what is recorded."""
    try:
        colourant = find_material(name).colourant
    except LabError:
        return NOT_KNOWN_UPTAKE
    if colourant is None or colourant.oil_absorption is None:
        return NOT_KNOWN_UPTAKE
    return colourant.oil_absorption.high / 100.0


def _up(grams: float, step_g: float) -> float:
    """Return grams rounded up to what the scale shows."""
    steps = -int(-grams / step_g * (1.0 - 1e-9) // 1)
    return round(steps * step_g, 9)
