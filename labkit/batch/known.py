"""What is recorded of an ingredient's heating: of which kind it is, where it melts, what it bears."""

import re
from dataclasses import dataclass

from labkit.batch.order import Kind
from labkit.errors import LabError
from labkit.materials import find_material
from labkit.materials.material import Material, Value
from labkit.materials.name_words import guess_part, is_pigment

KINDS: dict[str, Kind] = {
    "butter": "butter", "oil": "oil", "ester": "oil", "wax": "wax", "powder": "powder",
    "colourant": "powder", "flavour": "scent", "antioxidant": "oil", "aid": "oil",
}  # fmt: skip
"""Kind in the pot by group of material."""
_LIQUID_C = 20.0
_SCENTS = re.compile(r"flavou?r|fragrance|scent|perfume|essential|vanilla|mint")
_POWDERS = re.compile(r"stearate|powder|clay|starch|silica|talc|kaolin")


@dataclass(frozen=True)
class Known:
    """What is recorded of an ingredient; None where nothing is.

    Attributes
    ----------
    kind : {"oil", "wax", "butter", "powder", "scent"} or None
    melts_c : (float, float) or None [°C]
        None for what is liquid in a kitchen.
    limit_c : float or None [°C]
    why : str
        Where the figures come from, in words; "" without figures.
    """

    kind: Kind | None
    melts_c: tuple[float, float] | None = None
    limit_c: float | None = None
    why: str = ""


def known_of(name: str) -> Known:
    """Return what is recorded of an ingredient; its kind at least where the name says it.

    >>> known_of("beeswax").melts_c, known_of("rose flavour").kind, known_of("my secret").kind
    ((61.0, 66.0), 'scent', None)
    """
    try:
        material = find_material(name)
    except LabError:
        return Known(_kind_in(name))
    melts, limit = material.values.get("melting_c"), material.values.get("heat_limit_c")
    liquid = melts is None or melts.high < _LIQUID_C
    return Known(
        KINDS[material.group],
        None if liquid or melts is None else (melts.low, melts.high),
        None if limit is None else limit.low,
        _why(material, None if liquid else melts, limit),
    )


def _kind_in(name: str) -> Kind | None:
    """Return the kind that a name says."""
    if _SCENTS.search(name.casefold()):
        return "scent"
    if is_pigment(name) or _POWDERS.search(name.casefold()):
        return "powder"
    return guess_part(name)


def _why(material: Material, melts: Value | None, limit: Value | None) -> str:
    said = []
    if melts is not None:
        said.append(f"melts at {melts} °C ({melts.source})")
    if limit is not None:
        said.append(f"heat limit {limit} °C ({limit.source})")
    return f"{material.name}: {'; '.join(said)}" if said else ""
