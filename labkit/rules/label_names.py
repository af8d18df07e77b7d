"""What an ingredient is called on a label, and which of them count as colourants there."""

from labkit.errors import LabError
from labkit.materials import Colourant, Material

FLAVOUR = {"US": "Flavor", "EU": "Aroma", "UK": "Aroma"}


def colour_name(material: Material, market: str) -> str:
    """Return what a colourant is called on a label; "" for what is an ordinary ingredient there.

    In the European Union and Great Britain by its CI number, without what stands behind the colon (Regulation
    (EC) No 1223/2009, Article 19(1)(g)); in the United States by the name under which it is listed (21 CFR
    701.3(c), parts 73, 74 and 82). Fillers are ordinary ingredients, mica apart, which
    the United States list as a colour additive (21 CFR 73.2496).

    Raises
    ------
    LabError
        For a mixture whose parts are not recorded.

    >>> from labkit.materials import find_material
    >>> red7 = find_material("D&C Red No. 7")
    >>> colour_name(red7, "US"), colour_name(red7, "EU"), colour_name(find_material("mica"), "EU")
    ('D&C Red No. 7', 'CI 15850', '')
    """
    colourant = material.colourant
    if colourant is None or (
        colourant.kind == "filler" and not (market == "US" and colourant.name == "mica")
    ):
        return ""
    if not colourant.ci:
        raise LabError(
            f"{material.name} is a mixture, and a label names each of its parts. Ask the supplier what is in "
            f'it, and write it in your own values: {{"{material.name}": {{"made_of": {{"mica": 60, …}}}}}}.'
        )
    return _listed_name(colourant) if market == "US" else colourant.ci.split(":")[0]


def plain_name(material: Material, market: str) -> str:
    """Return what an ingredient other than a colourant is called on a label.

    Raises
    ------
    LabError
        Where no INCI name is recorded.

    >>> from labkit.materials import find_material
    >>> [plain_name(find_material("beeswax"), market) for market in ("US", "EU")]
    ['Beeswax', 'Cera Alba']
    """
    if material.group == "flavour":
        return FLAVOUR[market]
    name = material.us_name if market == "US" else material.inci
    if not name:
        raise LabError(f"{material.name}: its INCI name is missing. Add it to your own values, as “inci”.")
    return name


def _listed_name(colourant: Colourant) -> str:
    """Return the name of 21 CFR part 73 or 74; a lake is called after colour, metal and "Lake" (82.51)."""
    if colourant.kind == "lake" and colourant.form_of:
        return f"{colourant.form_of} Aluminum Lake"
    return colourant.name if "D&C" in colourant.name else colourant.inci
