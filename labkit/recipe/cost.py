"""What a filled container costs: ingredients by lot price, the container, and what stays in the pan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import pandas as pd

from labkit.errors import LabError
from labkit.recipe.asked import read_0_or_more, read_above_0, read_band
from labkit.recipe.groups import same_material
from labkit.recipe.recipe import Recipe

_MORE = 0.1


class Lot(NamedTuple):
    """A lot of a material: what was paid for it, and how many grams it is."""

    paid: float
    grams: float


@dataclass(frozen=True, eq=False)
class Cost:
    """What a batch and each container of it cost, in the currency of the prices.

    Attributes
    ----------
    table : DataFrame
        what, grams, cost, share (of the whole), if_10_percent_dearer (of each container); the dearest first.
    total, each : float
        Of the batch, and of a filled container.
    lost : float
        Of it what stays in pan and tools.
    containers : int
    why : str
        What drives it.
    each_limits : (low, high)
        90 % limits of a container's cost from the loss of the next batch; both the same where that is one
        figure, inf where so few batches promise nothing. What prices may do is not in it.
    """

    table: pd.DataFrame
    total: float
    each: float
    lost: float
    containers: int
    why: str
    each_limits: tuple[float, float]


def cost_of(
    recipe: Recipe,
    price_kg: Mapping[str, Any],
    *,
    containers: int,
    fill_g: float,
    container_price: float = 0.0,
    loss: Any = 0.0,
    batch_price: float = 0.0,
) -> Cost:
    """Return what a batch costs.

    Parameters
    ----------
    recipe : Recipe
    price_kg : mapping of material to price per kg
        Or to a `Lot`, or to several of which it is taken (their mean by grams).
    containers : int
    fill_g : float [g]
    container_price : float
        Of one empty container.
    loss : float, or anything with share, low and high
        Share of what is made that ends in no container, as in `to_make`.
    batch_price : float
        What a batch costs whatever its size, such as heat, gloves, and hours.

    Raises
    ------
    LabError
        Where prices are missing or cannot be.

    Examples
    --------
    >>> base = Recipe.from_percent("base", {"castor oil": 80, "beeswax": 20})
    >>> prices = {"castor oil": Lot(paid=5, grams=500), "beeswax": 20}
    >>> found = cost_of(base, prices, containers=20, fill_g=4.5, container_price=0.5, loss=0.1)
    >>> round(found.total, 2), round(found.each, 3), round(found.lost, 2)
    (11.2, 0.56, 0.12)
    """
    band = read_band(loss)
    grams = recipe.scaled(containers=containers, fill_g=fill_g, loss=band).grams()
    prices = _prices(grams, price_kg)
    fixed = {
        "container": containers * read_0_or_more(container_price, "a container"),
        "batch": read_0_or_more(batch_price, "a batch"),
    }
    rows = [(name, each, each / 1000.0 * prices[name]) for name, each in grams.items()]
    stuff = sum(cost for _, _, cost in rows)
    rows += [(name, float("nan"), cost) for name, cost in fixed.items() if cost]
    total = stuff + sum(fixed.values())
    low, high = (
        (stuff * (1.0 - band.share) / (1.0 - end) + total - stuff) / containers if end < 1.0 else float("inf")
        for end in (band.low, band.high)
    )
    table = _table(rows, total, containers)
    lost = band.share * stuff
    return Cost(table, total, total / containers, lost, containers, _why(table, total, lost), (low, high))


def _table(rows: list[tuple[str, float, float]], total: float, containers: int) -> pd.DataFrame:
    table = pd.DataFrame(rows, columns=["what", "grams", "cost"])
    share = table["cost"] / total if total else 0.0
    table = table.assign(share=share, if_10_percent_dearer=_MORE * table["cost"] / containers)
    return table.sort_values("cost", ascending=False, ignore_index=True)


def _why(table: pd.DataFrame, total: float, lost: float) -> str:
    if not total:
        return "Nothing has a price above 0."
    first = table.iloc[0]
    said = f"{first['what']} is {100 * first['share']:.0f} % of it"
    return f"{said}; what stays in the pan is {100 * lost / total:.0f} %." if lost else f"{said}."


def _prices(grams: Mapping[str, float], given: Mapping[str, Any]) -> dict[str, float]:
    found = {
        name: next((each for other, each in given.items() if same_material(other, name)), None)
        for name in grams
    }
    if missing := [name for name, each in found.items() if each is None]:
        raise LabError(f"{', '.join(missing)}: no price. Give it per kg, or what was paid for how much.")
    return {name: _per_kg(name, each) for name, each in found.items()}


def _per_kg(name: str, price: Any) -> float:
    lots = [price] if isinstance(price, Lot) else price
    if isinstance(lots, str) or not isinstance(lots, Sequence):
        return read_0_or_more(lots, f"{name}, a kg")
    if not lots or not all(isinstance(each, Lot) for each in lots):
        raise LabError(f"{name}: give lots as Lot(paid=…, grams=…).")
    paid = sum(read_0_or_more(each.paid, f"{name}, paid") for each in lots)
    return 1000.0 * paid / sum(read_above_0(each.grams, f"{name}, the lot", "g") for each in lots)
