"""What is likely to change where one ingredient stands in for another, in a maker's words."""

from collections.abc import Callable

from labkit.materials.material import Material, Value

_NOTICED = {"melting_c": 3.0, "iodine_value": 15.0, "gels_oil_percent": 0.9}
_TIMES_AS_THICK = 1.5
_ROOM_C = 20.0


def likely_changes(old: Material, new: Material) -> list[str]:
    """Return what is likely to change; two ranges that hold each other's middle say nothing.

    The directions are common practice, no source; how much each matters in one recipe only a pour shows.

    >>> from labkit.materials.material_names import find_material
    >>> likely_changes(find_material("beeswax"), find_material("carnauba wax"))
    ['harder, and it melts later: more drag', 'more of it is needed to set oil (it begins at about 4 %)']
    """
    return [words for rule in _RULES if (words := rule(old, new))]


def _melting(old: Material, new: Material) -> str:
    if old.group in ("powder", "antioxidant") or (_is_liquid(old) and _is_liquid(new)):
        return ""
    gap = _clear_gap(old, new, "melting_c")
    return _either(gap, "harder, and it melts later: more drag", "softer, and it melts sooner")


def _is_liquid(material: Material) -> bool:
    melting = material.values.get("melting_c")
    return melting is not None and melting.high < _ROOM_C


def _thickness(old: Material, new: Material) -> str:
    if "viscosity_mpa_s" not in old.values or "viscosity_mpa_s" not in new.values:
        return ""
    ratio = new.values["viscosity_mpa_s"].middle / old.values["viscosity_mpa_s"].middle
    if ratio > _TIMES_AS_THICK:
        return "thicker: more drag and cushion"
    return "thinner: more glide, and pigment settles sooner" if ratio < 1 / _TIMES_AS_THICK else ""


def _oxidation(old: Material, new: Material) -> str:
    gap = _clear_gap(old, new, "iodine_value")
    return _either(gap, "more prone to turn rancid", "keeps longer before it turns rancid")


def _gelling(old: Material, new: Material) -> str:
    gap = _clear_gap(old, new, "gels_oil_percent")
    words = _either(gap, "more of it is needed to set oil", "less of it sets oil")
    return f"{words} (it begins at about {new.values['gels_oil_percent'].low:g} %)" if words else ""


def _wetting(old: Material, new: Material) -> str:
    lost = "wets pigments" in old.role and "wets pigments" not in new.role
    return "wets pigments less well" if lost else ""


def _grain(old: Material, new: Material) -> str:
    return "may turn grainy" if "grainy" in new.note and "grainy" not in old.note else ""


_RULES: tuple[Callable[[Material, Material], str], ...] = (
    _melting,
    _thickness,
    _oxidation,
    _gelling,
    _wetting,
    _grain,
)


def _either(gap: float, if_more: str, if_less: str) -> str:
    return "" if gap == 0.0 else if_more if gap > 0 else if_less


def _clear_gap(old: Material, new: Material, prop: str) -> float:
    """Return the gap between the middles; 0 where it is small, not known, or the ranges hold both middles."""
    if prop not in old.values or prop not in new.values:
        return 0.0
    first, second = old.values[prop], new.values[prop]
    gap = second.middle - first.middle
    alike = _holds(first, second) and _holds(second, first)
    return 0.0 if alike or abs(gap) < _NOTICED[prop] else gap


def _holds(one: Value, other: Value) -> bool:
    return one.low <= other.middle <= one.high
