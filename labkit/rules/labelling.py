"""What a label says: ingredients in order, and what stands beside them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labkit.errors import LabError, did_you_mean
from labkit.materials import find_material
from labkit.rules.allergen_sheet import Sheets, in_product
from labkit.rules.asked import MARKETS, read_market
from labkit.rules.citations import WHERE_TO_LOOK
from labkit.rules.label_names import FLAVOUR, colour_name, plain_name
from labkit.rules.label_notes import missing_from, notes_on
from labkit.rules.label_order import Ordered, in_order, summed
from labkit.rules.label_text import written
from labkit.rules.lines import Line, Named, read_lines
from labkit.rules.pack import Pack

if TYPE_CHECKING:
    from labkit.materials.own_values import Own


@dataclass(frozen=True)
class Label:
    """A label as far as it can be written.

    Attributes
    ----------
    name, market : str
    ingredients : list of str
        Names in the order of the label, colourants last; what it may contain apart.
    may_contain : list of str
        Colourants of other shades that share the label.
    any_order_from : str
        The first name of those so small that any order is right from there up to the colourants; "" if none.
    allergens : mapping of str to float
        Allergens that are named [mass % of the finished product].
    text : str
        The label, to be set by hand.
    missing : list of str
        What the market asks and nothing was given for.
    notes : list of str
        What to know before it is used; what may not be sold first.
    """

    name: str
    market: str
    ingredients: list[str]
    may_contain: list[str]
    any_order_from: str
    allergens: Mapping[str, float]
    text: str
    missing: list[str]
    notes: list[str]


def label(
    recipe: Named,
    market: str,
    *,
    pack: Pack | None = None,
    own: "Own" = None,
    sheets: Sheets | None = None,
    limits: Mapping[str, float] | None = None,
    may_contain: Iterable[str] = (),
    nano: Iterable[str] = (),
) -> Label:
    """Return what a label has to say in a market, and what is missing for it.

    The order is that of 21 CFR 701.3(f) and of Article 19(1)(g) of Regulation (EC) No 1223/2009. A recipe
    that may not be sold there gets a label all the same, and its notes say so first. Information only, not
    legal advice: show `labkit.rules.CAUTION` beside it.

    Parameters
    ----------
    recipe
        Anything with `.name` and `.percent()`.
    market : str
        "US", "EU" or "UK".
    pack : Pack, optional
        Net content, batch, durability and so on.
    own : mapping or DataFrame, optional
        The maker's own materials and values.
    sheets : mapping of str to mapping, optional
        The supplier's allergen sheet by flavour: {"flavour oil": {"Limonene": 2.0}}, mass % of the flavour.
    limits : mapping of str to float, optional
        The supplier's limit of a flavour in products on the lips [mass % of the finished product].
    may_contain : iterable of str
        Colourants of other shades that share the label.
    nano : iterable of str
        Lines of the recipe that are nanomaterials.

    Raises
    ------
    LabError
        For a market whose label rules are not recorded, a line that is not known or has no INCI name, a
        mixture whose parts are not recorded, or something that may be contained and is no colourant.

    Examples
    --------
    >>> from labkit.rules.lines import Plain
    >>> rose = Plain("rose", {"castor oil": 70, "beeswax": 20, "tocopherol": 0.5, "CI 77491": 9.5})
    >>> label(rose, "EU").ingredients
    ['Ricinus Communis Seed Oil', 'Cera Alba', 'Tocopherol', 'CI 77491']
    """
    where = _read_market(market)
    lines, on_pack = read_lines(recipe, own), pack or Pack()
    allergens = in_product(lines, sheets or {})
    named = {} if where == "US" else allergens.named
    marked = _nano(nano, lines, where)
    order = _ordered(lines, where, named, marked)
    others = _other_shades(may_contain, where, own, order)
    notes = notes_on(lines, where, on_pack, allergens, sheets or {}, limits or {}, list(may_contain))
    return Label(
        name=recipe.name,
        market=where,
        ingredients=[*order.placed, *order.small, *order.colourants],
        may_contain=others,
        any_order_from=order.small[0] if len(order.small) > 1 else "",
        allergens=named,
        text=written(recipe.name, order, others, on_pack, where),
        missing=missing_from(lines, where, on_pack, sheets or {}),
        notes=notes,
    )


def _read_market(market: str) -> str:
    where = read_market(market)
    if where not in FLAVOUR:
        raise LabError(
            f"How a label is written in {MARKETS[where]} is not recorded here, and nothing certain is known. "
            f"Look in: {WHERE_TO_LOOK[where]}."
        )
    return where


def _ordered(lines: list[Line], market: str, allergens: Mapping[str, float], nano: set[str]) -> Ordered:
    plain: list[tuple[str, float]] = []
    colours: list[tuple[str, float]] = []
    for each in lines:
        colour = colour_name(each.material, market)
        name = colour or plain_name(each.material, market)
        marked = f"{name} (nano)" if each.material.name in nano else name
        (colours if colour else plain).append((marked, each.percent))
    return in_order(summed([*plain, *allergens.items()]), summed(colours), market)


def _other_shades(names: Iterable[str], market: str, own: "Own", order: Ordered) -> list[str]:
    found = []
    for name in names:
        material = find_material(name, own)
        if not (colour := colour_name(material, market)):
            raise LabError(
                f"may contain: {material.name} is no colourant there, and only colourants may stand so."
            )
        found.append(colour)
    return [each for each in dict.fromkeys(found) if each not in order.colourants]


def _nano(names: Iterable[str], lines: list[Line], market: str) -> set[str]:
    found = set()
    for name in names:
        meant = [each.material.name for each in lines if name in (each.typed, each.material.name)]
        if not meant:
            raise LabError(
                f"nano: “{name}” is not in it. {did_you_mean(name, [each.typed for each in lines])}"
            )
        found.add(meant[0])
    return found if market != "US" else set()
