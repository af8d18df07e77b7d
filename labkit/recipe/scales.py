"""What each line of a batch becomes on scales of different steps."""

import pandas as pd

from labkit.quantities import decimals
from labkit.recipe.recipe import Recipe

STEPS_G = (0.1, 0.01, 0.001)


def on_scales(recipe: Recipe, batch_g: float, steps_g: tuple[float, ...] = STEPS_G) -> pd.DataFrame:
    """Return a batch's lines as scales show them.

    Returns
    -------
    DataFrame
        material, wanted_g, and a column of text for each step, such as "0.1 g"; empty where a line is less
        than half a step.

    Examples
    --------
    >>> tint = Recipe.from_percent("tint", {"castor oil": 99.9, "carmine": 0.1})
    >>> on_scales(tint, 30)[["0.1 g", "0.01 g", "0.001 g"]].iloc[1].tolist()
    ['', '0.03', '0.030']
    """
    rows = []
    for name, grams in recipe.grams(batch_g).items():
        shown = [f"{grams:.{decimals(step)}f}" if grams >= step / 2 else "" for step in steps_g]
        rows.append((name, round(grams, 9), *shown))
    return pd.DataFrame(rows, columns=["material", "wanted_g", *(f"{step:g} g" for step in steps_g)])
