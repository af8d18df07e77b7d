"""The smallest batch for which a recipe repeats, and the pre-mix that makes a smaller one do."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from labkit.errors import LabError
from labkit.recipe.dispersion import Dispersion
from labkit.recipe.recipe import Recipe
from labkit.recipe.weighed_out import Colour, WeighingError, weighing_error
from labkit.recipe.weighing import Spoon

LARGEST_G = 1e5
_HALVINGS = 40


@dataclass(frozen=True)
class SmallestBatch:
    """The smallest batch that repeats as closely as is wanted.

    Attributes
    ----------
    batch_g : float [g]
        inf where no batch up to 100 kg does.
    error : WeighingError or None
        What weighing leaves then.
    worst : str
        The line whose error counts most.
    why : str
    """

    batch_g: float
    error: WeighingError | None
    worst: str
    why: str


def smallest_batch(
    recipe: Recipe,
    scale_step_g: float,
    *,
    delta_e: float | None = None,
    wax_share: float | None = None,
    colour: Colour | None = None,
    spoons: Sequence[str | Spoon] = (),
    repeat_sd_g: float = 0.0,
    dispersions: Mapping[str, Dispersion] | None = None,
) -> SmallestBatch:
    """Return the smallest batch whose weighing error stays within what is wanted, as standard deviations.

    Parameters
    ----------
    recipe : Recipe
    scale_step_g : float [g]
    delta_e : float, optional
        Root mean square ΔE00 of the colour; needs `colour`.
    wax_share : float, optional
        Standard deviation of the share of wax among butter, oil and wax, such as 0.005.

    Raises
    ------
    LabError
        Nothing wanted, or a colour wanted without a forecast.

    Examples
    --------
    >>> base = Recipe.from_percent("base", {"castor oil": 80, "beeswax": 20})
    >>> round(smallest_batch(base, 0.1, wax_share=0.005).batch_g, 1)
    6.7
    """
    if delta_e is None and wax_share is None:
        raise LabError("Say what shall repeat: delta_e (ΔE00), wax_share (such as 0.005), or both.")
    if delta_e is not None and colour is None:
        raise LabError("A colour that repeats needs its forecast: give colour, a function of the loads.")
    more = {"colour": colour, "spoons": spoons, "repeat_sd_g": repeat_sd_g, "dispersions": dispersions}

    def good(batch_g: float) -> WeighingError | None:
        try:
            found = weighing_error(recipe, batch_g, scale_step_g, **more)  # type: ignore[arg-type]
        except LabError:
            return None
        colours = delta_e is None or found.delta_e00 <= delta_e
        return found if colours and (wax_share is None or found.wax_share_sd <= wax_share) else None

    if good(LARGEST_G) is None:
        return SmallestBatch(float("inf"), None, "", "No batch up to 100 kg repeats so closely this way.")
    low, high = np.log(scale_step_g), np.log(LARGEST_G)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (low, middle) if good(float(np.exp(middle))) else (middle, high)
    batch = float(np.exp(high))
    error = good(batch)
    worst = error.worst if error else ""
    return SmallestBatch(batch, error, worst, f"From {batch:.3g} g on; the line that counts most is {worst}.")


def dispersion_for(
    recipe: Recipe, material: str, oil: str, batch_g: float, scale_step_g: float, steps: int = 50
) -> Dispersion:
    """Return a pre-mix of a material in an oil of the recipe that makes its line large enough to weigh.

    The pre-mix is as strong as lets its line be `steps` steps of the scale, and no more than half pigment; no
    more oil goes into it than the recipe holds.

    Raises
    ------
    LabError
        Where the recipe has not got one of the two, or the line needs no pre-mix.

    Examples
    --------
    >>> red = Recipe.from_percent("red", {"castor oil": 98.9, "beeswax": 1.0, "ultramarine": 0.1})
    >>> dispersion_for(red, "ultramarine", "castor oil", 50, 0.1).shares["ultramarine"]
    0.01
    """
    grams = recipe.grams(batch_g)
    for name in (material, oil):
        if name not in grams:
            raise LabError(f"“{name}” is not in this recipe.")
    wanted = steps * scale_step_g
    if grams[material] >= wanted:
        raise LabError(f"{material}: {grams[material]:.3g} g is {steps} steps of your scale or more already.")
    share = min(grams[material] / wanted, 0.5)
    least = grams[material] / (grams[material] + grams[oil])
    share = max(share, least)
    return Dispersion(f"{material} in {oil}", {material: share, oil: 1.0 - share})
