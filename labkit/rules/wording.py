"""What a rule means for a maker, in plain words."""

from labkit.materials import Colourant
from labkit.rules.asked import MARKETS, USES
from labkit.rules.citations import WHERE_TO_LOOK
from labkit.rules.table import Rule

CAUTION = (
    "This is information, not legal advice. Rules change, and each one here carries the date of the text "
    "that it was read in: read the rule that is in force where you sell before you sell. Your local rules "
    "decide. Ask each supplier for the CI number, the grade (cosmetic, for lips), the lot's certificate of "
    "analysis with lead, arsenic and mercury, the safety data sheet and, for certified colours, the lot's "
    "certification number. In the United States the FDA advises at most 10 ppm lead in a lip product."
)
"""What to show wherever a status is shown. The advice on lead: FDA guidance, draft of December 2016."""

_SAYS = {
    "allowed": "It is listed for use {use} in {market}. No figure is set: use no more than the colour needs.",
    "not allowed": "It may not be used {use} in {market}.",
    "limited": "It may be used {use} in {market}, up to {limit:g} % of the finished product.",
    "certified only": "It may be used {use} in {market} only from a batch that the FDA has certified: "
    "ask for the lot's certification number.",
    "unknown": "Nothing certain is recorded about its use {use} in {market}. Do not take it as allowed.",
}
_LIP_ADVICE = {
    "titanium dioxide": "For lips: the European Union's scientific advisers (SCCS/1661/23, 2024) found the "
    "evidence too thin to rule out damage to genes for almost all grades in cosmetics that reach the mouth.",
}


def why(colourant: Colourant, market: str, use: str, rule: Rule) -> str:
    """Return what a rule, or the lack of one, means for a maker."""
    says = _SAYS[rule.status].format(use=USES[use], market=MARKETS[market], limit=rule.limit_percent)
    advice = _LIP_ADVICE.get(colourant.form_of or colourant.name, "") if use == "lips" else ""
    parts = (says, _limit_words(rule), rule.note, advice, _memory_words(market, rule))
    return " ".join(part for part in parts if part)


def _limit_words(rule: Rule) -> str:
    if rule.limit_percent is None or rule.status == "limited":
        return ""
    return f"At most {rule.limit_percent:g} % of the finished product may be this colour."


def _memory_words(market: str, rule: Rule) -> str:
    if rule.how != "memory" or rule.status == "unknown":
        return ""
    return f"This is recorded from memory: check it with the text of {WHERE_TO_LOOK[market]} before you sell."
