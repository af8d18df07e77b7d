"""A label's text, to be set by hand."""

from labkit.rules.label_order import Ordered
from labkit.rules.pack import Pack


def written(name: str, order: Ordered, may_contain: list[str], pack: Pack, market: str) -> str:
    """Return the text of a label; what is missing stands in brackets.

    >>> order = Ordered(("Beeswax",), (), ("Iron Oxides",))
    >>> print(written("Rose", order, ["Mica"], Pack(net_g=4.25, batch="B12"), "US"))
    Rose
    Lip colour
    INGREDIENTS: Beeswax, Iron Oxides. MAY CONTAIN: Mica.
    Net Wt. 0.14 oz (4.2 g)
    Lot B12
    [name, place of business and contact]
    """
    of_us = market == "US"
    answers = "[name, place of business and contact]" if of_us else "[responsible person, with the address]"
    lines = [name, pack.function, _ingredients(order, may_contain, market)]
    lines.append(pack.net_content(market) or "[net content]")
    lines.append(f"{'Lot' if of_us else 'Batch'} {pack.batch or '[code]'}")
    lines += [] if of_us else [pack.durability() or "[durability]"]
    return "\n".join([*lines, *pack.cautions, pack.responsible or answers])


def _ingredients(order: Ordered, may_contain: list[str], market: str) -> str:
    """Return the list: "may contain" in words in the United States (701.3(g)), +/− in Europe (19(1)(g))."""
    names = ", ".join([*order.placed, *order.small, *order.colourants])
    others = ", ".join(may_contain)
    if market == "US":
        return f"INGREDIENTS: {names}." + (f" MAY CONTAIN: {others}." if others else "")
    return f"Ingredients: {names}" + (f" [+/- {others}]" if others else "")
