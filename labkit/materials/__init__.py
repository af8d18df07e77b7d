"""What goes into the pan: ingredients and colourants, and where each figure comes from."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.materials.colourant import Colourant, Span, colourants
    from labkit.materials.families import belongs, families_of
    from labkit.materials.fat_numbers import iodine_value, saponification_value
    from labkit.materials.grade import refused_grade
    from labkit.materials.look_up import find
    from labkit.materials.material import Material, Value, known_ingredients
    from labkit.materials.material_names import find_material, is_spelled_so
    from labkit.materials.substitute import substitutes

_HOMES = {
    "Colourant": "colourant",
    "Material": "material",
    "Span": "colourant",
    "Value": "material",
    "belongs": "families",
    "colourants": "colourant",
    "families_of": "families",
    "find": "look_up",
    "find_material": "material_names",
    "known_ingredients": "material",
    "iodine_value": "fat_numbers",
    "is_spelled_so": "material_names",
    "refused_grade": "grade",
    "saponification_value": "fat_numbers",
    "substitutes": "substitute",
}

__all__ = [
    "Colourant",
    "Material",
    "Span",
    "Value",
    "belongs",
    "colourants",
    "families_of",
    "find",
    "find_material",
    "iodine_value",
    "is_spelled_so",
    "known_ingredients",
    "refused_grade",
    "saponification_value",
    "substitutes",
]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
