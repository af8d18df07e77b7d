"""Several colourants in one market, as a table for a panel."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from labkit.materials import Colourant
from labkit.rules.citations import rule_link
from labkit.rules.ruling import Ruling, permitted

if TYPE_CHECKING:
    from pandas import DataFrame

_COLUMNS = ["colourant", "ci", "status", "limit_percent", "citation", "link", "why", "recorded", "how"]


def market_table(names: Iterable[str | Colourant], market: str, use: str = "lips") -> "DataFrame":
    """Return one row a colourant: colourant, ci, status, limit_percent, citation, link, why, recorded, how.

    Rows stand in the order of `names`, which may be names, CI numbers or CAS numbers.

    Raises
    ------
    LabError
        Where a colourant, the market or the use is not known.

    >>> market_table(["CI 77491", "ultramarine"], "US")[["colourant", "status"]]
              colourant       status
    0    red iron oxide      allowed
    1       ultramarine  not allowed
    """
    import pandas as pd

    return pd.DataFrame([_row(permitted(each, market, use)) for each in names], columns=_COLUMNS)


def _row(ruling: Ruling) -> dict[str, object]:
    return {
        "colourant": ruling.colourant.name,
        "ci": ruling.colourant.ci,
        "status": ruling.status,
        "limit_percent": ruling.limit_percent,
        "citation": ruling.citation,
        "link": rule_link(ruling.citation),
        "why": ruling.why,
        "recorded": ruling.recorded,
        "how": ruling.how,
    }
