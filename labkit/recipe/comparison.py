"""Two recipes side by side: what differs, and what it is likely to do."""

from collections.abc import Mapping
from typing import Any, Protocol

import pandas as pd

from labkit.errors import LabError, did_you_mean
from labkit.recipe.by_models import Models, by_models, colour_told, hardness_told, read_models
from labkit.recipe.line_changes import line_changes
from labkit.recipe.process_changes import process_changes
from labkit.recipe.ratio_changes import ratio_changes
from labkit.recipe.recipe import Recipe
from labkit.recipe.told import Told

COLUMNS = ["what", "a", "b", "change", "likely effect"]
SEEN = {
    "softer": ("softer", "less body"),
    "harder": ("harder", "drag", "firmer", "stiffer"),
    "streaky": ("more streaks", "streaks and lines", "wets pigments less"),
    "different shade": (
        "shade leans", "sheerer", "fuller", "lighter", "darker", "redder", "greener", "yellower", "bluer",
        "colour suffers", "another shade",
    ),
    "grainy": ("grainy", "coarser"),
    "sink holes": ("more sink holes",),
    "rancid": ("prone to turn rancid",),
}  # fmt: skip
"""What may be seen of a remake, and the words of an effect that lead to it."""


class Named(Protocol):
    """Anything with a name and percents: a recipe, or somebody's remake."""

    @property
    def name(self) -> str:
        """What it is called."""

    def percent(self) -> Mapping[str, float]:
        """Return {material: mass % of the finished product}."""


def compare(recipe_a: Named, recipe_b: Named, models: Models | None = None) -> pd.DataFrame:
    """Return what differs between two recipes, the likeliest causes of a difference first.

    Each difference is ranked by its size beside what is noticed, by the maker's own models where they are
    given and know it (half a word of hardness, ΔE00 1), else by general trade knowledge (2 % of the product
    for a line, a tenth for a ratio; judgements).

    Parameters
    ----------
    recipe_a, recipe_b : Recipe
        Or anything with a name and percent(), such as somebody's remake.
    models : mapping, optional
        The maker's fitted models: "hardness", from the share of each material to (words of the ladder, sd)
        or None; "colour", from the load of each pigment [% of the product] to CIELAB, to (CIELAB,
        sd), or to None.

    Returns
    -------
    DataFrame
        what; a and b (% of the product, ratios, process figures; nan where there is none); change (b less a);
        likely effect, of b beside a. What the models say of the wholes comes first.

    Raises
    ------
    LabError
        For a model that is none of those, or what is no recipe.

    Examples
    --------
    >>> a = Recipe.from_percent("a", {"castor oil": 80, "beeswax": 20})
    >>> b = Recipe.from_percent("b", {"castor oil": 85, "beeswax": 15})
    >>> compare(a, b)[["what", "change"]].round(2).values.tolist()[0]
    ['wax to oil', -0.07]
    """
    one, other, known = _read(recipe_a), _read(recipe_b), read_models(models)
    lines = by_models(line_changes(one, other), one, other, known)
    rows = [*lines, *ratio_changes(one, other), *process_changes(one, other)]
    wholes = []
    if "hardness" in known:
        wholes.append(hardness_told(one, other, known["hardness"]))
    if "colour" in known:
        wholes.append(colour_told(one, other, known["colour"]))
    return _table([*wholes, *sorted(rows, key=lambda each: -each.size)])


def likely_causes(recipe_a: Named, recipe_b: Named, seen: str, models: Models | None = None) -> pd.DataFrame:
    """Return those differences that may be why b came out so, likeliest first.

    Parameters
    ----------
    recipe_a, recipe_b, models
        As in `compare`.
    seen : str
        What b is beside a: "softer", "harder", "streaky", "different shade", "grainy", "sink holes" or
        "rancid".

    Raises
    ------
    LabError
        For something else that is seen, and as `compare`.

    Examples
    --------
    >>> a = Recipe.from_percent("a", {"castor oil": 80, "beeswax": 20}, process={"pour_c": 70})
    >>> b = Recipe.from_percent("b", {"castor oil": 80, "beeswax": 20}, process={"pour_c": 62})
    >>> likely_causes(a, b, "streaky")["likely effect"].tolist()
    ['poured cooler: streaks and lines of flow (general trade knowledge, no source)']
    """
    words = SEEN.get(seen.strip().casefold())
    if words is None:
        raise LabError(f"“{seen}” is nothing that causes are known of. {did_you_mean(seen, SEEN)}")
    table = compare(recipe_a, recipe_b, models)
    table = table[~table["what"].isin(["hardness", "hardness, words", "colour", "colour, ΔE00"])]
    leads = table["likely effect"].map(lambda effect: any(word in effect for word in words)).astype(bool)
    return table[leads].reset_index(drop=True)


def _table(rows: list[Told]) -> pd.DataFrame:
    return pd.DataFrame([each[:-1] for each in rows], columns=COLUMNS)


def _read(given: Any) -> Recipe:
    if isinstance(given, Recipe):
        return given
    if not hasattr(given, "name") or not callable(getattr(given, "percent", None)):
        raise LabError("Compare two recipes: make one with Recipe.from_grams or Recipe.from_percent.")
    made = getattr(given, "process", None)
    process = made if isinstance(made, Mapping) else {}
    return Recipe.from_percent(
        str(given.name),
        given.percent(),
        rescale=True,
        process=process,
    )
