"""The smallest batch for which a recipe repeats."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from labkit.errors import LabError
from labkit.recipe.asked import read_above_0
from labkit.recipe.dispersion import Dispersion
from labkit.recipe.drawn import draw
from labkit.recipe.handed import Colour, Hardness
from labkit.recipe.lines import Batch, batch_of, least_batch_g
from labkit.recipe.recipe import Recipe
from labkit.recipe.spoon import Spoon
from labkit.recipe.weighed_out import WeighingError, alone_of, error_of
from labkit.recipe.weighing import Scale
from labkit.recipe.words_off import words_off

LARGEST_G = 1e5
_NEAR = 1e-4
WISHES = {"colour": "colour", "wax": "share of wax", "hardness": "hardness"}


@dataclass(frozen=True)
class SmallestBatch:
    """The smallest batch that repeats as closely as is wanted.

    Attributes
    ----------
    batch_g : float [g]
        inf where no batch up to 100 kg does.
    error : WeighingError or None
        What weighing leaves then; None where no batch does.
    worst : str
        The line whose error does most to what decides.
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
    words: float | None = None,
    colour: Colour | None = None,
    hardness: Hardness | None = None,
    spoons: Sequence[str | Spoon] = (),
    repeat_sd_g: float = 0.0,
    dispersions: Mapping[str, Dispersion] | None = None,
) -> SmallestBatch:
    """Return the smallest batch whose weighing error stays within what is wanted, as standard deviations.

    What scale and spoons can show of a line is not in it: see shown_percent of `weigh_out` at that batch.

    Parameters
    ----------
    recipe : Recipe
    scale_step_g : float [g]
    delta_e : float, optional
        Root mean square ΔE00 of the colour; needs `colour`.
    wax_share : float, optional
        Standard deviation of the share of wax among butter, oil and wax, such as 0.005.
    words : float, optional
        Standard deviation of hardness in words of the ladder, such as 0.25; needs `hardness`.
    colour, hardness : callable, optional
        As `labkit.recipe.handed` takes them.
    spoons, repeat_sd_g, dispersions
        As in `weigh_out`.

    Raises
    ------
    LabError
        Nothing wanted, a colour or hardness wanted without a forecast, or one that does not know the recipe.

    Examples
    --------
    >>> base = Recipe.from_percent("base", {"castor oil": 80, "beeswax": 20})
    >>> found = smallest_batch(base, 0.1, wax_share=0.005)
    >>> round(found.batch_g, 1), found.worst
    (6.7, 'beeswax')
    """
    given = {"colour": delta_e, "wax": wax_share, "hardness": words}
    wishes = {name: read_above_0(each, WISHES[name]) for name, each in given.items() if each is not None}
    if not wishes:
        raise LabError("Say what shall repeat: delta_e (ΔE00), wax_share (such as 0.005), or words.")
    for name, forecast in (("colour", colour), ("hardness", hardness)):
        if name in wishes and forecast is None:
            raise LabError(f"A {name} that repeats needs its forecast: give {name}, a function.")
    way = _Way(recipe, Scale(scale_step_g, repeat_sd_g), spoons, dispersions, wishes, colour, hardness)
    least_g, line = least_batch_g(recipe, way.scale, spoons, dispersions)
    if least_g >= LARGEST_G or way.farthest(LARGEST_G)[0] > 1.0:
        wish, worst = way.farthest(LARGEST_G)[1], way.worst(LARGEST_G)
        said = f"No batch up to 100 kg repeats its {WISHES[wish]} this closely: {worst} errs too much."
        return SmallestBatch(float("inf"), None, worst, f"{said} Weigh it, or on a finer scale.")
    if way.farthest(least_g)[0] <= 1.0:
        said = f"From {least_g:.3g} g on: before that, {line} is too little to be measured."
        return SmallestBatch(least_g, error_of(way.batch(least_g), colour), line, said)
    batch_g = way.where_just_right(least_g)
    worst = way.worst(batch_g)
    said = f"From {batch_g:.3g} g on; the line that counts most is {worst}."
    return SmallestBatch(batch_g, error_of(way.batch(batch_g), colour), worst, said)


@dataclass(frozen=True, eq=False)
class _Way:
    """A way of weighing out, and what is wanted of it."""

    recipe: Recipe
    scale: Scale
    spoons: Sequence[str | Spoon]
    dispersions: Mapping[str, Dispersion] | None
    wishes: Mapping[str, float]
    colour: Colour | None
    hardness: Hardness | None

    def batch(self, batch_g: float) -> Batch:
        return batch_of(self.recipe, batch_g, self.scale, self.spoons, self.dispersions)

    def farthest(self, batch_g: float) -> tuple[float, str]:
        """Return the error beside what is wanted where it is largest, and of which wish that is."""
        batch = self.batch(batch_g)
        found = error_of(batch, self.colour if "colour" in self.wishes else None)
        off = {"colour": found.delta_e00, "wax": found.wax_share_sd}
        if "hardness" in self.wishes:
            off["hardness"] = float(np.linalg.norm(self._words(batch)))
        if "wax" in self.wishes and np.isnan(off["wax"]):
            raise LabError("There is no butter, oil or wax in this recipe, and so no share of wax.")
        return max((off[wish] / wanted, wish) for wish, wanted in self.wishes.items())

    def worst(self, batch_g: float) -> str:
        """Return the line whose error does most to the wish that is farthest off."""
        batch, wish = self.batch(batch_g), self.farthest(batch_g)[1]
        if wish == "hardness":
            sizes = self._words(batch)
        else:
            wax, _, away = alone_of(batch, draw(batch), self.colour if wish == "colour" else None)
            sizes = away if wish == "colour" else wax
        return batch.lines[int(np.argmax(sizes))].name

    def _words(self, batch: Batch) -> np.ndarray:
        assert self.hardness is not None
        return words_off(self.hardness, batch)

    def where_just_right(self, least_g: float) -> float:
        """Return the batch between the least and the largest where the error is just what is wanted."""
        from scipy.optimize import brentq

        def too_much(log_g: float) -> float:
            return float(np.log(self.farthest(float(np.exp(log_g)))[0]))

        low, high = float(np.log(least_g)), float(np.log(LARGEST_G))
        return float(np.exp(brentq(too_much, low, high, xtol=_NEAR)))
