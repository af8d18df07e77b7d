"""How far one ingredient lies from another in what matters for its role."""

import math
from collections.abc import Mapping
from typing import NamedTuple

from labkit.materials.material import Material, Value

MATTERS: Mapping[str, Mapping[str, tuple[float, float]]] = {
    # property: weight, and the difference that a maker would notice
    "butter": {"melting_c": (1.0, 4.0), "acids": (0.7, 20.0), "iodine_value": (0.5, 12.0)},
    "wax": {"melting_c": (1.0, 6.0), "gels_oil_percent": (0.5, 1.0), "saponification_value": (0.5, 40.0)},
    "oil": {
        "viscosity_mpa_s": (1.0, math.log(1.5)),
        "iodine_value": (0.7, 20.0),
        "acids": (0.5, 30.0),
        "saponification_value": (0.4, 40.0),
        "density_g_ml": (0.2, 0.03),
    },
    "powder": {"density_g_ml": (0.5, 0.5), "bulk_density_g_ml": (0.5, 0.2), "refractive_index": (0.5, 0.1)},
}
"""What matters for a role: weights and noticeable differences are judgement (common practice, no source)."""

ALIKE = {"ester": "oil"}
FARTHEST = 4.0
"""Beyond so many noticeable differences something is simply different."""
NOT_KNOWN = 3.0
"""What is not known of one of the two counts as so many."""
OTHER_ROLE = 1.5
"""Added where nothing of the role is the same; a part of it where a part is."""


class Difference(NamedTuple):
    """How far apart two materials are in noticeable differences, and which share of the weight is known."""

    noticeable: float
    known: float


def stands_beside(one: Material, other: Material) -> bool:
    """Return whether a material may stand in for another at all: the same group, oils with esters."""
    return ALIKE.get(one.group, one.group) == ALIKE.get(other.group, other.group)


def difference(one: Material, other: Material) -> Difference:
    """Return the weighted root mean square of the differences, each in units that a maker would notice.

    d = √(Σ w (Δ/δ)² / Σ w), Δ the gap between the middles of two ranges (of viscosities the logarithm of
    their ratio; of fatty acids half the sum of |differences| in %), δ the noticeable difference.

    >>> from labkit.materials.material_names import find_material
    >>> shea, mango, illipe = map(find_material, ("shea butter", "mango butter", "illipe butter"))
    >>> difference(shea, mango).noticeable < difference(shea, illipe).noticeable
    True
    """
    matters = MATTERS.get(ALIKE.get(one.group, one.group), {})
    squares, known, weights = 0.0, 0.0, 0.0
    for prop, (weight, noticeable) in matters.items():
        gap = _gap(prop, one, other)
        squares += weight * (NOT_KNOWN if gap is None else min(gap / noticeable, FARTHEST)) ** 2
        known += weight if gap is not None else 0.0
        weights += weight
    apart = math.sqrt(squares / weights) if weights else NOT_KNOWN
    lost = OTHER_ROLE * _role_lost(one.role, other.role)
    return Difference(apart + lost, known / weights if weights else 0.0)


def _role_lost(one: str, other: str) -> float:
    wanted = set(one.split(", "))
    return len(wanted - set(other.split(", "))) / len(wanted)


def rests_on(one: Material, other: Material) -> frozenset[str]:
    """Return how the figures that were compared are known: "published", "memory", "practice", "own"."""
    how = {
        material.values[prop].how
        for prop in MATTERS.get(ALIKE.get(one.group, one.group), {})
        if prop in one.values and prop in other.values
        for material in (one, other)
    }
    sources = (one.acids_source, other.acids_source) if one.fatty_acids and other.fatty_acids else ()
    return frozenset(how | {Value(0.0, 0.0, source).how for source in sources})


def _gap(prop: str, one: Material, other: Material) -> float | None:
    if prop == "acids":
        return _acids_apart(one.fatty_acids, other.fatty_acids)
    if prop not in one.values or prop not in other.values:
        return None
    first, second = one.values[prop].middle, other.values[prop].middle
    if prop == "viscosity_mpa_s":
        return abs(math.log(second / first)) if first > 0 and second > 0 else None
    return abs(second - first)


def _acids_apart(one: Mapping[str, float], other: Mapping[str, float]) -> float | None:
    if not one or not other:
        return None
    first, second = sum(one.values()), sum(other.values())
    return 50.0 * sum(
        abs(one.get(acid, 0.0) / first - other.get(acid, 0.0) / second) for acid in {*one, *other}
    )
