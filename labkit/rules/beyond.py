"""What a sold lip product asks beyond its label: a list to take to somebody licensed."""

from typing import NamedTuple

from labkit.rules.asked import read_market

FROM_MEMORY = "from memory"


class Duty(NamedTuple):
    """One thing to see to: what, where the rule stands, and how that is known."""

    what: str
    citation: str
    how: str = FROM_MEMORY


_ACT = "FD&C Act, section"

_US = (
    Duty(
        "Register the place where it is made, unless the small-business exemption holds.",
        f"{_ACT}s 607 and 612 (MoCRA 2022)",
    ),
    Duty(
        "List the product and its ingredients with the FDA, unless the small-business exemption holds.",
        f"{_ACT} 607(c)",
    ),
    Duty("Keep records that show that it is safe.", f"{_ACT} 608"),
    Duty(
        "Put a United States address, telephone number or website for adverse events on the label.",
        f"{_ACT} 609(a)",
    ),
    Duty("Report a serious adverse event within 15 business days, and keep records.", f"{_ACT} 605"),
    Duty("Say who makes or distributes it, with the place of business.", "21 CFR 701.12"),
    Duty("Where its safety has not been shown, the label has to warn of that.", "21 CFR 740.10"),
    Duty("Ask whether the FDA's list of fragrance allergens is in force.", f"{_ACT} 609(b)"),
    Duty("Ask about State law: some States restrict ingredients beyond the federal rules.", "State law"),
)


def _european(who: str, portal: str, tail: str) -> tuple[Duty, ...]:
    law = "Regulation (EC) No 1223/2009"
    return (
        Duty(
            f"Name a responsible person in {who}, with the address on the label.",
            f"{law}, Articles 4 and 5{tail}",
        ),
        Duty(
            "Have a qualified assessor write the safety report before it is sold.",
            f"{law}, Article 10, Annex I{tail}",
        ),
        Duty(
            "Keep the product information file for ten years after the last batch.",
            f"{law}, Article 11{tail}",
        ),
        Duty(f"Notify the product on {portal} before it is sold.", f"{law}, Article 13{tail}"),
        Duty("Make it under good manufacturing practice (ISO 22716).", f"{law}, Article 8{tail}"),
        Duty("Report serious undesirable effects without delay.", f"{law}, Article 23{tail}"),
        Duty("Name the country of origin of what is imported.", f"{law}, Article 19(1)(a){tail}"),
        Duty("Claims have to be true and supported.", f"{law}, Article 20{tail}"),
        Duty(
            "Weigh each pack: the content is that of the law on prepacked goods.",
            f"{law}, Article 19(1)(b){tail}",
        ),
    )


_BEYOND = {
    "US": _US,
    "EU": _european("the European Union", "the Cosmetic Products Notification Portal (CPNP)", ""),
    "UK": _european(
        "the United Kingdom", "the service Submit a Cosmetic Product Notification (SCPN)", " (Great Britain)"
    ),
}


def beyond_the_label(market: str) -> tuple[Duty, ...]:
    """Return what a market asks of a sold product beyond its label; () where nothing certain is recorded.

    All from memory: a list of questions for somebody licensed there, no legal advice.

    Raises
    ------
    LabError
        Where the market is not known.

    >>> [each.what[:42] for each in beyond_the_label("EU")][:2]
    ['Name a responsible person in the European ', 'Have a qualified assessor write the safety']
    >>> beyond_the_label("Japan")
    ()
    """
    return _BEYOND.get(read_market(market), ())
