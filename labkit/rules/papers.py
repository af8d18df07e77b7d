"""Which papers to ask a supplier for: common practice, no source, where no rule is named."""

from labkit.materials import Material

_EVERY = "safety data sheet and the lot's certificate of analysis"
_METALS = "lead, arsenic and mercury in the lot's certificate of analysis"
_SPECIAL = {
    "titanium dioxide": "which crystal, coating and particle size it is, whether it is a nanomaterial, and "
    "whether this grade is one that the European advisers (SCCS/1661/23, 2024) could clear for the mouth",
    "carmine": "purity as a food colour (E 120)",
    "mica": "purity, and where it is mined",
    "talc": "a test of the lot that finds no asbestos",
    "interference mica": "all that is in it, with the share and the CI number of each part",
    "peanut oil": "how little protein is in it",
    "lecithin": "which plant it comes from",
    "tocopherol": "which plant it comes from",
    "squalane": "whether it comes from plants",
    "magnesium stearate": "whether it comes from plants",
    "zinc stearate": "whether it comes from plants",
}


def papers_for(material: Material, market: str) -> str:
    """Return what to ask the supplier of a material for, as one sentence.

    >>> from labkit.materials import find_material
    >>> papers_for(find_material("D&C Red No. 7"), "US")
    "Ask for: safety data sheet and the lot's certificate of analysis; the lot's FDA certification number; \
lead, arsenic and mercury in the lot's certificate of analysis."
    """
    asked = [_EVERY]
    colourant = material.colourant
    if colourant and "D&C" in colourant.name and market == "US":
        asked.append("the lot's FDA certification number")
    if colourant:
        asked.append(_METALS)
    if material.group == "flavour":
        asked.append("the allergen sheet, and its limit for products on the lips (IFRA category 1)")
    if material.group in ("oil", "butter"):
        asked.append("peroxide value and best-before date of the lot")
    special = _SPECIAL.get(material.name) or _SPECIAL.get(colourant.form_of if colourant else "")
    return "Ask for: " + "; ".join(asked + ([special] if special else [])) + "."
