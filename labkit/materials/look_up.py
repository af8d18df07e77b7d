"""Which colourant is meant by a name or a number that somebody typed."""

import re
import unicodedata
from collections.abc import Sequence
from difflib import get_close_matches
from functools import cache

from labkit.errors import LabError, did_you_mean
from labkit.materials.colourant import Colourant, colourants

_LONGEST = 200  # characters
_DASHES = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2212", "-"))
_CI = re.compile(r"(?:colou?r index|c\.? ?i\.?)?[ .:#]*(?:no\.? ?)?(\d{2} ?\d{3})(?: ?: ?(\d))?")
_CAS = re.compile(r"(?:cas)?[ .:#]*(?:no\.? ?)?(\d{2,7}) ?- ?(\d\d) ?- ?(\d)")
_PREFIX = re.compile(r"\b(?:f ?d ?(?:&|and) ?c|d ?(?:&|and) ?c|fdc|dc)\b")
_SAME_WORD = {"aluminum": "aluminium", "color": "colour", "sulphosilicate": "sulfosilicate"}
_LEFT_OUT = {"no", "number", "ci", "the"}


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


# Words of shades and finishes, and of what they are put on: common practice, no source.
_SHADES = _words(
    """
    amber apricot beige berry black blue blush bordeaux brick bronze brown burgundy champagne cherry
    chocolate copper coral cream cranberry crimson dark deep dream fuchsia garnet glitter gold golden
    green grey gray hot ivory lavender light lilac magenta mauve metallic mulberry neon nude orange
    peach pearl pink plum poppy purple raspberry red rose rosy ruby rust salmon sand satin scarlet
    shimmer silk silver sparkle sunset tan taupe terracotta violet warm white wine yellow
    """
)
_GOODS = _words("colour dye lake mica oxide pigment pigments powder")
_ASK = "Look for the CI number on the supplier's sheet, such as CI 77491."


def find(text: str) -> Colourant:
    """Return the colourant of a CI number, a CAS number or a name, whatever its case and spaces.

    Where a number is that of a colourant and of a form of it (titanium dioxide as rutile or
    anatase), the colourant itself is meant.

    Raises
    ------
    LabError
        Where it is unknown (near names are offered), could be two things, or is a shade name.

    >>> find("C.I. 77007").name, find("77007").name, find("d&c red 7").ci
    ('ultramarine', 'ultramarine', 'CI 15850:1')
    >>> find("ruby shimmer")
    Traceback (most recent call last):
    labkit.errors.LabError: “ruby shimmer” is a shade or trade name: it does not say what is in the pot. \
Look for the CI number on the supplier's sheet, such as CI 77491.
    """
    typed = str(text).strip()
    if len(typed) > _LONGEST:
        raise LabError(f"“{typed[:40]}…” is too long for the name of a colourant. {_ASK}")
    key = _key(typed)
    found = _index().get(key, ())
    if not found:
        raise _unknown(typed, key)
    return _the_one(found, typed)


def _the_one(found: Sequence[Colourant], typed: str) -> Colourant:
    names = {each.name for each in found}
    meant = [each for each in found if each.form_of not in names]
    if len(meant) > 1:
        could = " or ".join(f"“{each.name}”" for each in meant)
        raise LabError(f"“{typed}” could be {could}. Write which one you have.")
    return meant[0]


def _key(typed: str) -> str:
    """Return "ci 77491", a CAS number, or the plain words of a name in small letters."""
    small = unicodedata.normalize("NFKC", typed).casefold().translate(_DASHES)
    plain = " ".join(small.split())
    if ci := _CI.fullmatch(plain):
        return f"ci {ci[1].replace(' ', '')}" + (f":{ci[2]}" if ci[2] else "")
    if cas := _CAS.fullmatch(plain):
        return "-".join(cas.groups())
    words = re.findall(r"[^\W_]+", _PREFIX.sub(" ", plain))
    return " ".join(_SAME_WORD.get(each, each) for each in words if each not in _LEFT_OUT)


@cache
def _index() -> dict[str, tuple[Colourant, ...]]:
    """Return the colourants of every key that one is found by."""
    index: dict[str, dict[str, Colourant]] = {}
    for each in colourants():
        for name in _names(each):
            index.setdefault(_key(name), {})[each.name] = each
    return {key: tuple(found.values()) for key, found in index.items()}


def _names(each: Colourant) -> list[str]:
    return [name for name in (each.name, each.ci, each.cas, each.inci, *each.other_names) if name]


def _unknown(typed: str, key: str) -> LabError:
    if not key:
        return LabError("No colourant is named. Type its CI number, such as CI 77491, or its common name.")
    words = set(key.split())
    if words & _SHADES and words <= _SHADES | _GOODS:
        shade = "is a shade or trade name: it does not say what is in the pot"
        return LabError(f"“{typed}” {shade}. {_ASK}")
    near = _near_hint(key)
    return LabError(f"“{typed}” is not among the colourants recorded here. {near}{_ASK}")


def _near_hint(key: str) -> str:
    """Return 'Did you mean “…”? ' where a name, or for a number a number, looks like the key; else ""."""
    spelled = {name for each in colourants() for name in _names(each)}
    is_number = key.startswith("ci ")
    known = sorted(name for name in spelled if _key(name).startswith("ci ") == is_number)
    near = get_close_matches(key, [name.casefold() for name in known], n=1)
    return did_you_mean(key, known) + " " if near else ""
