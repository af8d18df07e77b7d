"""Grades of powder that have no place on lips."""

import re
from typing import NamedTuple


class _Grade(NamedTuple):
    name: str
    before_grade: str
    alone: str
    why: str


_GRADES = (
    _Grade(
        "Soap",
        "soap",
        r"soaps?|soap[- ]?making",
        "Soap is rinsed off, so its colours may be dyes that no rule allows on lips, "
        "and their lead, arsenic and mercury need not be tested.",
    ),
    _Grade(
        "Candle",
        "candle",
        r"candles?|candle[- ]?making",
        "Candle colours are dyes for burning: nothing shows that they are safe to swallow.",
    ),
    _Grade(
        "Art",
        r"arts?|artists?|artist's|artists'",
        r"artists?|artist's|art supplies",
        "Artists' colours may hold cadmium, cobalt, chromate or lead, which are poisonous.",
    ),
    _Grade(
        "Craft",
        r"crafts?|hobby|resin",
        r"crafts?|crafting|hobby|epoxy",
        "Craft powders need not be tested for lead, arsenic or mercury, nor for being swallowed.",
    ),
)
_NOT = r"(?<!\bnot )(?<!\bno )(?<!\bnot for )(?<!\bnon )(?<!\bnon-)"
_FOR_LIPS = re.compile(r"\b(?:cosmetics?|lips?|lipsticks?)\b")
_CURE = "Take a cosmetic grade whose supplier gives the CI number and a certificate of analysis."


def refused_grade(text: str) -> str | None:
    """Say why a powder described like this is refused for lips; None where nothing speaks against it.

    "Soap grade" and its like are always refused; a mere mention of soap, candles, art or
    craft is refused unless cosmetics or lips are mentioned as well. None is no approval.
    The reasons are common practice, no source.

    >>> refused_grade("Craft-grade mica")
    'Craft grade is refused for lips. Craft powders need not be tested for lead, arsenic or mercury, nor \
for being swallowed. Take a cosmetic grade whose supplier gives the CI number and a certificate of analysis.'
    >>> refused_grade("red iron oxide, cosmetic grade") is None
    True
    """
    plain = " ".join(text.casefold().replace("’", "'").split())
    for grade in _GRADES:
        named = re.search(rf"{_NOT}\b(?:{grade.before_grade})[- ]?(?:grade|quality)", plain)
        mentioned = re.search(rf"{_NOT}\b(?:{grade.alone})\b", plain)
        if named or (mentioned and not _FOR_LIPS.search(plain)):
            return f"{grade.name} grade is refused for lips. {grade.why} {_CURE}"
    return None
