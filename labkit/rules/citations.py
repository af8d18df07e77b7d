"""Where a rule stands, and where to read it."""

import re

ANNEX_IV = "Regulation (EC) No 1223/2009, Annex IV"

WHERE_TO_LOOK = {
    "US": "21 CFR parts 73, 74, 81 and 82",
    "EU": ANNEX_IV,
    "UK": f"{ANNEX_IV} (Great Britain)",
    "CA": "Cosmetic Regulations (C.R.C., c. 869) and the Cosmetic Ingredient Hotlist",
    "JP": "Standards for Cosmetics (Notification No. 331 of 2000) and Ordinance No. 30 of 1966",
}
"""The law that lists colourants, for each market."""

_EUR_LEX = "https://eur-lex.europa.eu/eli/reg/2009/1223/oj"
_BRITISH = "https://www.legislation.gov.uk/eur/2009/1223/annex/IV"
_SECTION = re.compile(r"21 CFR (\d+\.\d+)")


def rule_link(citation: str) -> str:
    """Return the address at which the first rule of a citation can be read; "" where none is known.

    >>> rule_link("21 CFR 73.2725; 21 CFR 82.3(n)")
    'https://www.ecfr.gov/current/title-21/section-73.2725'
    """
    if section := _SECTION.match(citation):
        return f"https://www.ecfr.gov/current/title-21/section-{section[1]}"
    if citation.startswith("21 CFR"):
        return "https://www.ecfr.gov/current/title-21"
    if citation.startswith(ANNEX_IV):
        return _BRITISH if citation.endswith("(Great Britain)") else _EUR_LEX
    return ""
