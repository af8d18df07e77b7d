"""What each line of a batch becomes on scales of different steps."""

from collections.abc import Sequence

import pandas as pd

from labkit.quantities import decimals
from labkit.recipe.recipe import Recipe
from labkit.recipe.weighing import Scale

STEPS_G = (0.1, 0.01, 0.001)
MUCH_OFF = 0.05
"""A line that a scale can only show so far off is remarked on."""


def on_scales(recipe: Recipe, batch_g: float, steps_g: Sequence[float] = STEPS_G) -> pd.DataFrame:
    """Return a batch's lines as scales show them.

    Returns
    -------
    DataFrame
        material, wanted_g, and a column of text for each step, such as "0.1 g"; empty where a line is less
        than half a step. Last, remark: on which scales a line is less than a step, or shown 5 % off or more.

    Raises
    ------
    LabError
        For a batch or a step that cannot be.

    Examples
    --------
    >>> tint = Recipe.from_percent("tint", {"castor oil": 99.9, "carmine": 0.1})
    >>> on_scales(tint, 30)[["0.1 g", "0.01 g", "0.001 g", "remark"]].iloc[1].tolist()
    ['', '0.03', '0.030', 'less than a step of 0.1 g']
    """
    scales = [Scale(step) for step in steps_g]
    rows = []
    for name, grams in recipe.grams(batch_g).items():
        shown = [_shown(grams, each) for each in scales]
        rows.append((name, round(grams, 9), *shown, _remark(grams, scales)))
    columns = ["material", "wanted_g", *(f"{each.step_g:g} g" for each in scales), "remark"]
    return pd.DataFrame(rows, columns=columns)


def _shown(grams: float, scale: Scale) -> str:
    return f"{scale.shown(grams):.{decimals(scale.step_g)}f}" if grams >= scale.step_g / 2 else ""


def _remark(grams: float, scales: Sequence[Scale]) -> str:
    said = []
    for each in scales:
        off = each.shown(grams) / grams - 1.0
        if grams < each.step_g * (1.0 - 1e-9):
            said.append(f"less than a step of {each.step_g:g} g")
        elif abs(off) >= MUCH_OFF:
            said.append(f"{100 * off:+.0f} % on {each.step_g:g} g".replace("-", "\u2212"))
    return "; ".join(said)
