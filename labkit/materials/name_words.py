"""What an ingredient's name says about it: butter, oil or wax, in a few languages and in Latin."""

import re
import unicodedata
from typing import Literal

Part = Literal["butter", "oil", "wax"]


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


# Whole words, folded and without accents. From memory, as are the solid and the liquid of each name.
_OTHER = _set("""
    alcohol alkohol alcool acid ester esters glyceride glycerides lecithin emulsifier emulsifying peg free
    without pigment pigments lake oxide oxides mica dye colour color colorant colourant dispersion ci silica
    kaolin clay powder starch flour flavour flavor fragrance parfum aroma essential vitamin tocopherol
    tocopheryl bht preservative extract water gum resin stearate stearates stearat
""")
_PIGMENT = _set("""
    pigment pigments lake oxide oxides mica dye colour color colorant colourant ultramarine ultramarines
    carmine titanium ci violet umber sienna ochre
""")
_SCENT = _set("peppermint spearmint mentha vanilla cinnamon clove orange lemon lime citrus rose lavender")
_BUTTER = _set("butter butters butyrum beurre burro manteca manteiga")
_WAX = _set("""
    wax waxes wachs wachse cera ceras cire cires candelilla carnauba ozokerite ozokerit ceresin ceresine
    microcrystalline
""")
_OIL = _set("""
    oil oils oel oleum huile huiles olio aceite oleo squalane squalan squalene octyldodecanol olein
    liquidum
""")
_ALONE: dict[str, Part] = {
    **dict.fromkeys(("shea", "karite", "kokum", "illipe", "murumuru"), "butter"),
    **dict.fromkeys(("castor", "jojoba"), "oil"),
    "paraffin": "wax",
}
_BESIDE = _set("organic refined unrefined raw virgin cold pressed filtered pure deodorised deodorized nut")
_HYDROGENATED = re.compile(r"\bhydr(ogene?|ier)")
_WAX_ONCE_HYDROGENATED = ("castor", "ricinus", "rizinus", "ricin", "jojoba", "simmondsia")


def guess_part(name: str) -> Part | None:
    """Guess from an ingredient's name whether it is a butter, an oil or a wax; None where unsure.

    Only whole words count, and the ends of German compounds, whatever their case and
    accents: "cholesterol" is no oil. A word for something else ("stearate", "alcohol",
    "esters", "pigment") leaves it open, as do names that say neither (lanolin, petrolatum).

    A hydrogenated oil is solid, but its name does not say how hard: None, save castor and
    jojoba, which are sold as waxes then (melting above 80 °C and about 70 °C; from memory).

    Examples
    --------
    >>> [guess_part(name) for name in ("Beeswax", "Butyrospermum Parkii Butter", "Rizinusöl", "lanolin")]
    ['wax', 'butter', 'oil', None]
    """
    folded = _folded(name)
    words = frozenset(re.findall(r"[^\W\d_]+", folded))
    if words & _OTHER or any(word.endswith("stearate") for word in words):
        return None
    said = _said(words)
    if said == "oil" and _HYDROGENATED.search(folded):
        return "wax" if any(word.startswith(_WAX_ONCE_HYDROGENATED) for word in words) else None
    return said


def hardens(name: str) -> bool:
    """Return whether a part of that name is expected to harden: it says wax (common practice, no source).

    Examples
    --------
    >>> hardens("Cera Alba"), hardens("macerated oil")
    (True, False)
    """
    return guess_part(name) == "wax"


def _folded(name: str) -> str:
    """Return the name in small letters without accents; "öl" ends as "oel", for many a word ends in "ol"."""
    small = unicodedata.normalize("NFC", name).casefold()
    apart = unicodedata.normalize("NFKD", re.sub(r"öl\b", "oel", small))
    return "".join(sign for sign in apart if not unicodedata.combining(sign))


def _said(words: frozenset[str]) -> Part | None:
    """Return the part that the words say, the first that they do."""
    if words & _BUTTER or any(word.endswith("butter") for word in words):
        return "butter"
    if words & _WAX or any(word.endswith(("wax", "wachs")) for word in words):
        return "wax"
    if words & _OIL or any(word.endswith("oel") for word in words) or _is_light_triglyceride(words):
        return None if words & _SCENT else "oil"
    alone = words - _BESIDE
    return _ALONE.get(next(iter(alone))) if len(alone) == 1 else None


def _is_light_triglyceride(words: frozenset[str]) -> bool:
    """Return whether the words name the liquid triglyceride; longer ones may be solid."""
    return bool(words & {"triglyceride", "triglycerides"} and words & {"caprylic", "capric", "medium", "mct"})


def is_pigment(name: str) -> bool:
    """Return whether an ingredient's name says pigment: a powder that stiffens.

    >>> [is_pigment(name) for name in ("red iron oxide", "CI 77491", "magnesium stearate")]
    [True, True, False]
    """
    return bool(frozenset(re.findall(r"[^\W\d_]+", _folded(name))) & _PIGMENT)
