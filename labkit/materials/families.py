"""What people are allergic to or avoid, and which ingredients belong to it."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from labkit.errors import LabError, did_you_mean
from labkit.materials.material import Material

if TYPE_CHECKING:
    from labkit.materials.own_values import Own

FAMILIES = {
    "tree nut": "tree nuts",
    "peanut": "peanuts, groundnut, groundnuts, arachis",
    "sesame": "til",
    "soy": "soya, soybean, soja",
    "wheat": "gluten",
    "bee": "bees, bee products, honey, propolis, beeswax allergy",
    "castor": "ricinus",
    "wool": "lanolin allergy, wool wax allergy, wool alcohols",
    "carmine": "cochineal, insects, insect",
    "coconut": "coconuts",
    "cocoa": "chocolate",
    "mango": "mangoes",
    "avocado": "latex fruit",
    "sunflower": "composites, daisy family",
    "citrus": "citrus fruit",
    "animal": "animals, animal products, not vegan, non-vegan",
}
"""Families by name, with other words for them."""

_TOGETHER = {"tree nut", "peanut"}
_BOTH = {"nut", "nuts", "nut allergy", "all nuts"}  # whoever says nuts may mean either: both are left out


def families_of(avoid: str | Iterable[str], own: "Own" = None) -> frozenset[str]:
    """Return the families that somebody avoids, given as family or as an ingredient of it.

    Raises
    ------
    LabError
        Where a word is neither a family nor an ingredient of one.

    >>> sorted(families_of(["nuts", "castor oil"]))
    ['castor', 'peanut', 'tree nut']
    """
    asked = [avoid] if isinstance(avoid, str) else list(avoid)
    return frozenset(family for each in asked for family in _families(str(each), own))


def belongs(material: Material, avoided: Iterable[str]) -> str:
    """Return why a material is left out for those who avoid these families; "" where nothing is recorded.

    >>> from labkit.materials.material_names import find_material
    >>> belongs(find_material("beeswax"), {"bee"})
    'It belongs to what is avoided: bee.'
    """
    families = set(avoided)
    sure = [each for each in material.families if each in families]
    perhaps = [each[:-1] for each in material.families if each.endswith("?") and each[:-1] in families]
    if sure:
        return f"It belongs to what is avoided: {', '.join(sure)}."
    return f"It may come from or belong to {', '.join(perhaps)}: ask the supplier." if perhaps else ""


def _families(word: str, own: "Own") -> Sequence[str]:
    from labkit.materials.material_names import find_material

    plain = " ".join(word.casefold().split())
    if plain in _BOTH:
        return sorted(_TOGETHER)
    for family, others in FAMILIES.items():
        if plain == family or plain in others.split(", "):
            return [family]
    try:
        found = find_material(word, own)
    except LabError:
        raise LabError(f"avoid: “{word}” is not known. {did_you_mean(word, FAMILIES)}") from None
    families = [each.removesuffix("?") for each in found.families]
    if not families:
        raise LabError(
            f"avoid: no family of allergens is recorded of “{found.name}”, so what is kin to it cannot be "
            f"left out. Choose one of: {', '.join(FAMILIES)}."
        )
    return [each for each in families if each != "animal"] or families
