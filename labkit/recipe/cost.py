"""What a filled container costs: ingredients by lot price, the container, and what stays in the pan."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from labkit.errors import LabError
from labkit.recipe.groups import same_material
from labkit.recipe.recipe import Recipe


@dataclass(frozen=True, eq=False)
class Cost:
    """What a batch and each container of it cost, in the currency of the prices.

    Attributes
    ----------
    table : DataFrame
        what, grams, cost, share (of the whole); the dearest first.
    total, each : float
        Of the batch, and of a filled container.
    lost : float
        Of it what stays in pan and tools.
    containers : int
    why : str
        What drives it.
    """

    table: pd.DataFrame
    total: float
    each: float
    lost: float
    containers: int
    why: str


def cost_of(
    recipe: Recipe,
    price_kg: Mapping[str, float],
    *,
    containers: int,
    fill_g: float,
    container_price: float = 0.0,
    loss: float = 0.0,
) -> Cost:
    """Return what a batch costs.

    Parameters
    ----------
    recipe : Recipe
    price_kg : mapping of material to price per kg
        Of the lots that are used.
    containers : int
    fill_g : float [g]
    container_price : float
        Of one empty container.
    loss : float
        Share of what is made that ends in no container.

    Raises
    ------
    LabError
        Where a price is missing or cannot be.

    Examples
    --------
    >>> base = Recipe.from_percent("base", {"castor oil": 80, "beeswax": 20})
    >>> found = cost_of(base, {"castor oil": 10, "beeswax": 20}, containers=20, fill_g=4.5,
    ...                 container_price=0.5, loss=0.1)
    >>> round(found.total, 2), round(found.each, 3), round(found.lost, 2)
    (11.2, 0.56, 0.12)
    """
    grams = recipe.scaled(containers=containers, fill_g=fill_g, loss=loss).grams()
    prices = {name: _price(name, price_kg) for name in grams}
    if not np.isfinite(container_price) or container_price < 0.0:
        raise LabError(f"A container for {container_price} cannot be. Give its price, 0 or more.")
    rows = [(name, each, each / 1000.0 * prices[name]) for name, each in grams.items()]
    if container_price:
        rows.append(("container", float("nan"), containers * container_price))
    table = pd.DataFrame(rows, columns=["what", "grams", "cost"])
    total = float(table["cost"].sum())
    share = table["cost"] / total if total else 0.0
    table = table.assign(share=share).sort_values("cost", ascending=False, ignore_index=True)
    in_pan = loss * float(sum(each / 1000.0 * prices[name] for name, each in grams.items()))
    first = table.iloc[0]
    why = (
        f"{first['what']} is {100 * first['share']:.0f} % of it." if total else "Nothing has a price above 0."
    )
    return Cost(table, total, total / containers, in_pan, containers, why)


def _price(name: str, prices: Mapping[str, float]) -> float:
    found = next((each for given, each in prices.items() if same_material(given, name)), None)
    if found is None:
        raise LabError(f"{name}: no price. Give its price per kg.")
    if not np.isfinite(found) or found < 0.0:
        raise LabError(f"{name}: {found} a kg cannot be. Give 0 or more.")
    return float(found)
