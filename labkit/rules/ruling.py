"""May this colourant be used there?"""

from dataclasses import dataclass
from datetime import date

from labkit.materials import Colourant, find
from labkit.rules.asked import read_market, read_use
from labkit.rules.table import How, Status, rule_for
from labkit.rules.wording import why


@dataclass(frozen=True)
class Ruling:
    """What is recorded about one colourant in one market for one use.

    Attributes
    ----------
    colourant : Colourant
        Which colourant it is about.
    market, use : str
        "US", "EU", "UK", "CA" or "JP"; "lips", "eye area" or "face".
    status : str
        "allowed", "not allowed", "limited", "certified only" or "unknown".
    limit_percent : float or None
        The most that is allowed [mass % of the finished product]; None where the rule names no figure.
    citation : str
        Where the rule stands; where to look, if it is not recorded.
    why : str
        What it means, in a maker's words.
    source : str
        The text that it was read in, or "from memory"; "" where there is no rule.
    recorded : datetime.date or None
        The date of the text it was read in, or, from memory or where that text is not dated, the day it
        was written down here; None where there is no rule.
    how : str
        "published", "memory", or "not recorded".
    """

    colourant: Colourant
    market: str
    use: str
    status: Status
    limit_percent: float | None
    citation: str
    why: str
    source: str
    recorded: date | None
    how: How


def permitted(colourant: str | Colourant, market: str, use: str = "lips") -> Ruling:
    """Return whether a colourant may be used in a market, as far as it is recorded.

    What is not recorded is "unknown", never "allowed". Information only, not legal
    advice: show `CAUTION` beside it.

    Parameters
    ----------
    colourant
        A CI number, CAS number or common name, as `labkit.materials.find` reads it.
    market
        "US", "EU", "UK" (Great Britain), "CA", "JP", or the country in plain words.
    use
        "lips", "eye area" or "face".

    Raises
    ------
    LabError
        Where the colourant, the market or the use is not known.

    >>> on_lips = permitted("CI 77007", "US")
    >>> on_lips.status, on_lips.citation
    ('not allowed', '21 CFR 73.2725; 21 CFR 82.3(n)')
    >>> permitted("CI 77007", "US", "eye area").status, permitted("CI 77007", "JP").status
    ('allowed', 'unknown')
    """
    found = colourant if isinstance(colourant, Colourant) else find(colourant)
    market, use = read_market(market), read_use(use)
    rule = rule_for(found, market, use)
    return Ruling(
        colourant=found,
        market=market,
        use=use,
        status=rule.status,
        limit_percent=rule.limit_percent,
        citation=rule.citation,
        why=why(found, market, use, rule),
        source=rule.source,
        recorded=rule.recorded,
        how=rule.how,
    )
