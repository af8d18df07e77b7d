"""Which material is meant by a name that somebody typed."""

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from difflib import SequenceMatcher
from functools import cache
from typing import TYPE_CHECKING, Any

from labkit.errors import LabError
from labkit.materials.colourant import colourants
from labkit.materials.look_up import find
from labkit.materials.material import Material, from_colourant, known_ingredients
from labkit.materials.own_values import new_material, read_own, with_own

if TYPE_CHECKING:
    from labkit.materials.own_values import Own

_NEAR, _APART = 0.84, 0.06
"""A misspelling is at least so like the name; two names less far apart than the other are both asked."""
_BESIDE = {
    "organic",
    "refined",
    "unrefined",
    "raw",
    "virgin",
    "extra",
    "cold",
    "pressed",
    "pure",
    "deodorised",
}
_LONGEST = 200


def find_material(text: str, own: "Own" = None) -> Material:
    """Return the ingredient or colourant that a name means, the maker's own values in it.

    Found by INCI name, common name, CAS or CI number, whatever the case; "organic", "refined" and
    the like do not matter. A misspelling is found where one name alone is near; two near names are asked.

    Parameters
    ----------
    text : str
    own : mapping or DataFrame, optional
        The maker's own values, as `labkit.materials.own_values.read_own` reads them; a name that is only
        there is a material of its own.

    Raises
    ------
    LabError
        Where it is unknown, or could be two things; of a shade or trade name the CI number is asked.

    Examples
    --------
    >>> find_material("Cera alba").name, find_material("organic kokum buter").name
    ('beeswax', 'kokum butter')
    >>> find_material("CI 77491").group
    'colourant'
    """
    typed = " ".join(str(text).split())
    if not typed:
        raise LabError("An ingredient has no name. Type its INCI name or its common name.")
    if len(typed) > _LONGEST:
        raise LabError(f"“{typed[:40]}…” is too long for the name of an ingredient.")
    mine = read_own(own)
    own_key = {_key(name): name for name in mine}
    if (key := _key(typed)) in own_key:
        return _own_material(own_key[key], mine[own_key[key]])
    found = _recorded(typed, own_key)
    if isinstance(found, str):
        return _own_material(found, mine[found])
    again = next((name for name in mine if _is_name_of(name, found)), None)
    return with_own(found, mine[again]) if again else found


def is_spelled_so(text: str, material: Material) -> bool:
    """Return whether a material is called so, or was found by a near name only.

    >>> is_spelled_so("kokum buter", find_material("kokum buter"))
    False
    """
    if _is_name_of(text, material):
        return True
    return material.colourant is not None and _colourant(text) is not None


def _is_name_of(text: str, material: Material) -> bool:
    return _key(text) in {_key(name) for name in _names(material)}


def _own_material(name: str, fields: Mapping[str, Any]) -> Material:
    found = _exactly(_key(name))
    colour = None if found else _colourant(name)
    if colour:
        return with_own(colour, fields)
    if found:
        return with_own(_the_one(found, name), fields)
    return new_material(name, fields)


def _recorded(typed: str, own_key: Mapping[str, str]) -> Material | str:
    key = _key(typed)
    if exact := _exactly(key):
        return _the_one(exact, typed)
    if colour := _colourant(typed):
        return colour
    near = _begun(key, [*_index(), *own_key]) or _near(key, [*_index(), *own_key])
    meant = {own_key[each] if each in own_key else _first(each) for each in near}
    if len(meant) == 1 and not any(each in _colourant_keys() for each in near):
        only = next(iter(meant))
        return only if only in own_key.values() else _the_one(_exactly(_key(only)), typed)
    raise _unknown(typed, sorted(meant))


def _first(key: str) -> str:
    return _index()[key][0].name


def _colourant(typed: str) -> Material | None:
    """Return the colourant of a name or a number; None where none is called so."""
    try:
        return from_colourant(find(typed))
    except LabError as error:
        if "Write which one" in str(error):
            raise
        return None


def _the_one(found: Sequence[Material], typed: str) -> Material:
    if len(found) > 1:
        plain = [each for each in found if _key(each.name) == _key(typed)]
        if len(plain) == 1:
            return plain[0]
        could = " or ".join(f"“{each.name}”" for each in found)
        raise LabError(f"“{typed}” could be {could}. Write which one you have.")
    return found[0]


def _unknown(typed: str, near: Sequence[str]) -> LabError:
    if len(near) > 1:
        could = " or ".join(f"“{each}”" for each in near)
        return LabError(f"“{typed}” could be {could}. Write which one you have.")
    if near:
        return LabError(
            f"“{typed}” is not known. Did you mean “{near[0]}”? A colourant is never guessed: "
            "type its name, or its CI number, such as CI 77491."
        )
    return LabError(
        f"“{typed}” is not among the ingredients and colourants recorded here. Is it a colour, a shade or a "
        "trade name? Then it cannot be known what is in the pot: look for the CI number on the supplier's "
        "sheet, such as CI 77491. Any other ingredient: type its INCI name, or add it with its group and "
        "INCI name to your own values."
    )


def _begun(key: str, known: Iterable[str]) -> list[str]:
    """Return the keys that begin with the whole words that were typed: "castor" is "castor oil"."""
    return [each for each in known if each.startswith(f"{key} ")] if len(key) > 3 else []


def _near(key: str, known: Iterable[str]) -> list[str]:
    """Return the keys that are as near as the nearest, or hardly less; [] where none is near."""
    if len(key) < 4:
        return []
    like = {each: SequenceMatcher(None, key, each).ratio() for each in known}
    best = max(like.values(), default=0.0)
    if best < _NEAR:
        return []
    return [each for each, ratio in like.items() if ratio >= max(best - _APART, _NEAR)]


def _exactly(key: str) -> tuple[Material, ...]:
    found = _index().get(key, ())
    return tuple(each for each in found if each.colourant is None)


def _key(text: str) -> str:
    small = unicodedata.normalize("NFKD", text).casefold()
    plain = "".join(sign for sign in small if not unicodedata.combining(sign))
    words = re.findall(r"[^\W_]+", plain)
    kept = [word for word in words if word not in _BESIDE]
    return " ".join(kept or words)


def _names(each: Material) -> list[str]:
    ci = each.colourant.ci if each.colourant else ""
    return [name for name in (each.name, each.inci, each.us_name, each.cas, ci, *each.other_names) if name]


@cache
def _index() -> dict[str, tuple[Material, ...]]:
    index: dict[str, dict[str, Material]] = {}
    for each in (*known_ingredients(), *map(from_colourant, colourants())):
        for name in _names(each):
            index.setdefault(_key(name), {})[each.name] = each
    return {key: tuple(found.values()) for key, found in index.items()}


@cache
def _colourant_keys() -> frozenset[str]:
    return frozenset(key for key, found in _index().items() if found[0].colourant)
