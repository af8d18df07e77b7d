"""Which colourants may be used where, and what a label says. Information only, not legal advice."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.rules.beyond import beyond_the_label
    from labkit.rules.citations import rule_link
    from labkit.rules.keeping import discard_by
    from labkit.rules.labelling import Label, label
    from labkit.rules.lines import Plain
    from labkit.rules.overview import market_table
    from labkit.rules.pack import Pack
    from labkit.rules.papers import papers_for
    from labkit.rules.purity import impurity_limits, most_lead
    from labkit.rules.ruling import Ruling, permitted
    from labkit.rules.testers import ask_testers
    from labkit.rules.whole import permit_recipe
    from labkit.rules.wording import CAUTION

_HOMES = {
    "CAUTION": "wording",
    "Label": "labelling",
    "Pack": "pack",
    "Plain": "lines",
    "Ruling": "ruling",
    "ask_testers": "testers",
    "beyond_the_label": "beyond",
    "discard_by": "keeping",
    "impurity_limits": "purity",
    "label": "labelling",
    "market_table": "overview",
    "most_lead": "purity",
    "papers_for": "papers",
    "permit_recipe": "whole",
    "permitted": "ruling",
    "rule_link": "citations",
}

__all__ = [
    "CAUTION",
    "Label",
    "Pack",
    "Plain",
    "Ruling",
    "ask_testers",
    "beyond_the_label",
    "discard_by",
    "impurity_limits",
    "label",
    "market_table",
    "most_lead",
    "papers_for",
    "permit_recipe",
    "permitted",
    "rule_link",
]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
