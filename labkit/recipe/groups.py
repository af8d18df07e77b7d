"""What a material counts as in a recipe: butter, oil, wax, pigment, or something else."""

from functools import cache
from typing import Literal

from labkit.errors import LabError
from labkit.materials import find_material
from labkit.materials.name_words import guess_part, is_pigment

Group = Literal["butter", "oil", "wax", "pigment", "other"]
BASE_GROUPS: tuple[Group, ...] = ("butter", "oil", "wax")
_OF: dict[str, Group] = {
    "butter": "butter", "oil": "oil", "ester": "oil", "wax": "wax", "colourant": "pigment",
    "powder": "other", "aid": "other", "antioxidant": "other", "flavour": "other",
}  # fmt: skip


@cache
def group_of(name: str) -> Group:
    """Return what a material counts as.

    Raises
    ------
    LabError
        Where neither the table nor its name says it.

    Examples
    --------
    >>> group_of("castor oil"), group_of("CI 77491"), group_of("my cousin's beeswax")
    ('oil', 'pigment', 'wax')
    """
    try:
        return _OF[find_material(name).group]
    except LabError:
        pass
    if is_pigment(name):
        return "pigment"
    part = guess_part(name)
    if part is None:
        raise LabError(
            f"What does “{name}” count as? Say it: groups={{{name!r}: 'oil'}}, or 'butter', 'wax', "
            "'pigment', 'other'."
        )
    return part


@cache
def called(name: str) -> str:
    """Return the name that a material is recorded under, else the name itself, folded."""
    try:
        return find_material(name).name
    except LabError:
        return " ".join(name.split()).casefold()


def same_material(one: str, other: str) -> bool:
    """Return whether two names are one material.

    >>> same_material("Cera Alba", "beeswax"), same_material("shea butter", "cocoa butter")
    (True, False)
    """
    return called(one) == called(other)
