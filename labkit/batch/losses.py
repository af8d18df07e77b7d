"""What past batches lost, in words, and how much to make so that enough is filled."""

import numpy as np
import pandas as pd

from labkit.batch.balance import UsualLoss, usual_loss

FEWEST = 2
"""Batches of one recipe from which its own loss is taken; before that, of all."""


def past_loss(table: pd.DataFrame, recipe: str | None = None) -> tuple[UsualLoss | None, str]:
    """Return the usual loss over past batches, and of which batches that is.

    Parameters
    ----------
    table : DataFrame
        As `labkit.batch.past_batches` returns it.
    recipe : str, optional
        Its letter; where it has fewer than two batches, all count.
    """
    known = table[table["loss"].notna()]
    own = known[known["recipe"] == recipe]
    chosen, whose = (own, "of this recipe") if len(own) >= FEWEST else (known, "of any recipe")
    if chosen.empty:
        return None, "No batch before this one was filled and weighed, so its loss is not known."
    return usual_loss(chosen["made_g"].tolist(), chosen["filled_g"].tolist()), whose


def loss_words(table: pd.DataFrame, wanted_g: float | None = None, recipe: str | None = None) -> str:
    """Return what past batches lost, and what to make to fill `wanted_g`.

    >>> table = pd.DataFrame({"recipe": ["A"] * 3, "made_g": [100.0, 100.0, 120.0],
    ...     "filled_g": [91.0, 90.0, 110.4]}).assign(loss=lambda t: 1 - t["filled_g"] / t["made_g"])
    >>> loss_words(table, 85.0, "A")
    '3 batches of this recipe lost 9 % in pan, tools and drips; the next one 6 to 12 % (9 in 10). To fill \
85 g, make 93.4 g; to be 95 % sure of it, 97.0 g.'
    """
    found, whose = past_loss(table, recipe)
    if found is None:
        return whose
    count = f"{found.batches} batch{'es' * (found.batches > 1)} {whose}"
    lead = f"{count} lost {100 * found.share:.0f} % in pan, tools and drips"
    if found.batches < FEWEST:
        said = f"{lead}; one batch does not say how the next one may fall."
    else:
        said = f"{lead}; the next one {100 * found.low:.0f} to {100 * found.high:.0f} % (9 in 10)."
    return f"{said}{_to_make(found, wanted_g)}" if wanted_g else said


def _to_make(found: UsualLoss, wanted_g: float) -> str:
    usual, sure = found.to_weigh_g(wanted_g)
    safe = f"; to be 95 % sure of it, {sure:.1f} g." if np.isfinite(sure) else "."
    return f" To fill {wanted_g:g} g, make {usual:.1f} g{safe}"
