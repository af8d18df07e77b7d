"""The market and the use that somebody asks about."""

from collections.abc import Mapping

from labkit.errors import LabError

MARKETS = {
    "US": "the United States",
    "EU": "the European Union",
    "UK": "Great Britain",
    "CA": "Canada",
    "JP": "Japan",
}
"""Markets by code, as a sentence names them."""

USES = {"lips": "on lips", "eye area": "in the area of the eye", "face": "on the face"}
"""Uses, as a sentence names them."""

_MARKET_WORDS = {
    "US": "us, usa, united states, united states of america, america",
    "EU": "eu, european union, europe",
    "UK": "uk, gb, united kingdom, great britain, britain, england, scotland, wales",
    "CA": "ca, canada",
    "JP": "jp, japan",
}
_USE_WORDS = {
    "lips": "lips, lip, lipstick, lip balm, lip gloss",
    "eye area": "eye area, eye, eyes, area of the eye, eyeshadow",
    "face": "face, cheek, cheeks, blush",
}


def read_market(text: str) -> str:
    """Return the code of a market, "US", "EU", "UK", "CA" or "JP", typed as code or in plain words.

    Raises
    ------
    LabError
        Where no rules of that market are recorded.

    >>> read_market("u.s."), read_market("Great Britain"), read_market("japan")
    ('US', 'UK', 'JP')
    """
    code = _heard(text, _MARKET_WORDS)
    if code is None:
        known = ", ".join(f"{each} ({name.removeprefix('the ')})" for each, name in MARKETS.items())
        raise LabError(f"“{text}” is no market whose rules are recorded here. Choose one of: {known}.")
    return code


def read_use(text: str) -> str:
    """Return the use, "lips", "eye area" or "face", however it is typed.

    Raises
    ------
    LabError
        Where it is none of these.

    >>> read_use("Lip balm")
    'lips'
    """
    use = _heard(text, _USE_WORDS)
    if use is None:
        raise LabError(f"“{text}” is no use that rules are recorded for. Choose one of: {', '.join(USES)}.")
    return use


def _heard(text: str, words: Mapping[str, str]) -> str | None:
    plain = " ".join(str(text).casefold().replace(".", "").replace("_", " ").split()).removeprefix("the ")
    return next((code for code, spoken in words.items() if plain in spoken.split(", ")), None)
