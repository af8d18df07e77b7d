"""Cautions for the stove: common practice, no source. Local rules and the suppliers' sheets come first."""

from labkit.errors import LabError, did_you_mean

_CAUTIONS = {
    "hot fat": (
        "Hot fat burns worse than hot water, for it sticks. Pan off the heat before you type.",
        "Direct heat: the lowest flame, a thermometer clipped to the pan, and a hard maximum that you set "
        "before you light it. Above about 85 °C beeswax browns; smoke means off at once.",
        "No glass on the hob. Never leave it. Keep children and animals out.",
        "Keep a lid that fits within reach: if it catches fire, lid on, heat off, leave it shut. "
        "Never put water on burning fat.",
    ),
    "water bath": (
        "No water near the melt: a drop in hot fat spits. Wipe the pot's underside before you pour, for the "
        "bath drips. Do not let the bath boil dry or over.",
    ),
    "burns": (
        "A burn: cool running water for twenty minutes, rings off, no butter, no ice. Larger than your palm, "
        "blistered, or on face or hand: call for medical help.",
    ),
    "powders": (
        "Fine powders: raise no dust, wear a mask that fits, wet them in oil before you stir. None near a "
        "flame, no fan, and wipe up damp rather than sweep.",
    ),
    "trying": (
        "No try on lip or skin from a hot melt. Judge a drip on a chilled tile; wear a stick only once it "
        "has set and cooled, and is made of what may go on lips.",
    ),
    "water in the melt": (
        "No water, juice, honey or fresh plants in a melt without preservative: they bring mould and germs, "
        "which you cannot see at first.",
    ),
    "cleaning": (
        "Wipe colour out with paper while it is warm, before any water; then hot water and soap. No fat down "
        "the drain. Work from light to dark shades.",
    ),
}


def where_cautions() -> tuple[str, ...]:
    """Return what there are cautions for.

    >>> where_cautions()[0]
    'hot fat'
    """
    return tuple(_CAUTIONS)


def cautions_for(*where: str) -> tuple[str, ...]:
    """Return the cautions for what is being done; all of them where nothing is named.

    Raises
    ------
    LabError
        For something that there are none for.

    Examples
    --------
    >>> cautions_for("powders")[0][:12]
    'Fine powders'
    """
    for each in where:
        if each not in _CAUTIONS:
            raise LabError(f"There are no cautions for “{each}”. {did_you_mean(each, _CAUTIONS)}")
    return tuple(text for each in where or _CAUTIONS for text in _CAUTIONS[each])
