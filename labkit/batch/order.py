"""In what order things go into the pot, and what a water bath cannot melt as such."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, get_args

import pandas as pd

from labkit.batch.asked import read_between, read_celsius
from labkit.errors import LabError, did_you_mean

Kind = Literal["oil", "wax", "butter", "powder", "scent"]

POT_BELOW_BATH_C = 5.0
"""The pot stays about so far below the water of its bath (common practice, no source)."""
ABOVE_MELTING_C = 5.0
"""A melt is taken so far beyond its highest melting point to be clear (common practice, no source)."""

_FIRST, _LATER, _POWDER, _LAST = range(4)


@dataclass(frozen=True)
class Ingredient:
    """One thing that goes into the pot.

    Attributes
    ----------
    name : str
    kind : {"oil", "wax", "butter", "powder", "scent"}
    melts_c : (float, float) or None [°C]
        Melting range; None for what is liquid or is not meant to melt.
    limit_c : float or None [°C]
        It goes in only below this; None where the supplier gives no limit.

    Raises
    ------
    LabError
        For a kind that is not known, or temperatures that cannot be.

    Examples
    --------
    >>> Ingredient("beeswax", "wax", (61.0, 66.0)).melts_c
    (61.0, 66.0)
    """

    name: str
    kind: Kind
    melts_c: tuple[float, float] | None = None
    limit_c: float | None = None

    def __post_init__(self) -> None:
        if self.kind not in get_args(Kind):
            raise LabError(
                f"{self.name}: “{self.kind}” is no kind. {did_you_mean(self.kind, get_args(Kind))}"
            )
        if self.melts_c is not None:
            low, high = (
                read_between(each, f"{self.name}, melting", "°C", -60.0, 250.0) for each in self.melts_c
            )
            if low > high:
                raise LabError(
                    f"{self.name}: it cannot melt from {low:g} to {high:g} °C. Give the lower first."
                )
        if self.limit_c is not None:
            read_between(self.limit_c, f"{self.name}, heat limit", "°C", 0.0, 250.0)

    @property
    def melts_to_c(self) -> float:
        """Where it is all melted; −inf for what is liquid or is not meant to melt."""
        return self.melts_c[1] if self.melts_c and self.kind != "powder" else -math.inf


@dataclass(frozen=True, eq=False)
class HeatingOrder:
    """The order of adding.

    Attributes
    ----------
    rows : DataFrame
        One row an ingredient, in the order of adding: step, ingredient, when, why.
    clear_c : float [°C]
        To where the first melt is taken: clear, and no hotter.
    bath_c : float [°C]
        What a pot in the bath reaches.
    remarks : tuple of str
        What a bath cannot melt as such, and what to do.
    """

    rows: pd.DataFrame
    clear_c: float
    bath_c: float
    remarks: tuple[str, ...] = field(default=())


def order_of_heating(ingredients: Sequence[Ingredient], ceiling_c: float = 100.0) -> HeatingOrder:
    """Return in what order to add, from melting ranges and heat limits.

    Oil and what melts highest go first, downwards from there; what must stay below a limit under the
    heat that the melt needs waits until the pot has cooled below it; powders go into the clear melt;
    scent goes last. Common practice, no source; the limits are the suppliers'.

    Parameters
    ----------
    ingredients : sequence of Ingredient
    ceiling_c : float [°C]
        Of the bath's water, from `water_bath_ceiling`.

    Raises
    ------
    LabError
        Nothing to heat, one name twice, or a wax that has to melt above its own heat limit.

    Examples
    --------
    >>> found = order_of_heating([
    ...     Ingredient("vanilla oil", "scent", limit_c=60.0), Ingredient("beeswax", "wax", (61.0, 66.0)),
    ...     Ingredient("castor oil", "oil"), Ingredient("shea butter", "butter", (35.0, 40.0), 60.0)])
    >>> found.rows["ingredient"].tolist(), found.clear_c
    (['castor oil', 'beeswax', 'shea butter', 'vanilla oil'], 71.0)
    """
    asked = _checked(ingredients)
    bath = float(read_celsius([ceiling_c], "ceiling of the bath")[0]) - POT_BELOW_BATH_C
    highest = max((each.melts_to_c for each in asked), default=-math.inf)
    clear = highest + ABOVE_MELTING_C if math.isfinite(highest) else 40.0
    ordered = sorted(asked, key=lambda each: _place(each, clear))
    rows = [
        (step, each.name, _when(each, clear), _why(each, clear)) for step, each in enumerate(ordered, start=1)
    ]
    table = pd.DataFrame(rows, columns=["step", "ingredient", "when", "why"])
    return HeatingOrder(table, clear, bath, tuple(_remarks(asked, bath)))


def _checked(ingredients: Sequence[Ingredient]) -> list[Ingredient]:
    asked = list(ingredients)
    if not asked:
        raise LabError("There is nothing to heat. Give the recipe's ingredients.")
    names = [each.name for each in asked]
    if twice := [name for name in names if names.count(name) > 1]:
        raise LabError(f"“{twice[0]}” is there twice. Give it once.")
    for each in asked:
        if each.limit_c is not None and each.melts_to_c > each.limit_c:
            raise LabError(
                f"{each.name} melts up to {each.melts_to_c:g} °C, above its own limit of {each.limit_c:g} °C."
                " Look at both again."
            )
    return asked


def _place(each: Ingredient, clear: float) -> tuple[int, float, float]:
    melts = -each.melts_to_c if math.isfinite(each.melts_to_c) else -math.inf
    if each.kind == "scent":
        return _LAST, -_limit(each), 0.0
    if _limit(each) < clear:
        return _LATER if each.kind != "powder" else _POWDER, -_limit(each), melts
    return (_POWDER if each.kind == "powder" else _FIRST), 0.0, melts


def _limit(each: Ingredient) -> float:
    return math.inf if each.limit_c is None else each.limit_c


def _when(each: Ingredient, clear: float) -> str:
    if each.kind == "scent":
        return f"last, once the pot is below {each.limit_c:g} °C" if each.limit_c else "last, off the heat"
    if _limit(each) < clear:
        return f"off the heat, once the pot is below {each.limit_c:g} °C"
    return (
        "into the clear melt, off the flame"
        if each.kind == "powder"
        else f"from the start, up to {clear:.0f} °C"
    )


def _why(each: Ingredient, clear: float) -> str:
    if each.kind == "scent":
        limit = f" Its limit is {each.limit_c:g} °C." if each.limit_c else " Its supplier's limit counts."
        return "Heat drives it off and spoils it." + limit
    if _limit(each) < clear:
        return f"Its limit is {each.limit_c:g} °C, and the melt is taken to {clear:.0f} °C before that."
    if each.kind == "powder":
        return "It is dispersed, not melted: wet it in some of the oil first."
    if not math.isfinite(each.melts_to_c):
        return "Oil carries the heat to what melts, and dissolves it below its own melting point."
    return (
        f"It melts at {each.melts_c[0]:g} to {each.melts_c[1]:g} °C; what melts highest goes first."
        if each.melts_c
        else ""
    )


def _remarks(asked: list[Ingredient], bath: float) -> list[str]:
    found = []
    for each in asked:
        if each.melts_c is None or each.melts_c[1] <= bath:
            continue
        span = f"{each.melts_c[0]:g} to {each.melts_c[1]:g} °C"
        if each.kind == "powder":
            found.append(
                f"{each.name} melts at {span}, and a pot in the bath gets to about {bath:.0f} °C. It need "
                "not melt: disperse it as a powder, wetted in oil. It is no reason for an open flame."
            )
        else:
            found.append(
                f"A bath cannot melt {each.name} as such: it melts at {span}, and the pot stays at about "
                f"{bath:.0f} °C. In hot oil it dissolves below its own melting point, so give it time in the "
                "oil first, cut small."
            )
    return found
