"""Which colourants may be used where. Information only, not legal advice."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.rules.citations import rule_link
    from labkit.rules.overview import market_table
    from labkit.rules.ruling import Ruling, permitted
    from labkit.rules.wording import CAUTION

_HOMES = {
    "CAUTION": "wording",
    "Ruling": "ruling",
    "market_table": "overview",
    "permitted": "ruling",
    "rule_link": "citations",
}

__all__ = ["CAUTION", "Ruling", "market_table", "permitted", "rule_link"]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
