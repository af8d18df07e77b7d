"""The recorded rules: one for each colourant, market and use."""

import csv
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Literal, cast

from labkit.materials import Colourant
from labkit.rules.citations import WHERE_TO_LOOK

Status = Literal["allowed", "not allowed", "limited", "certified only", "unknown"]
How = Literal["published", "memory", "not recorded"]


@dataclass(frozen=True)
class Rule:
    """One rule, as it was read or remembered; "unknown" and not recorded where there is none."""

    status: Status
    limit_percent: float | None
    citation: str
    note: str
    source: str
    recorded: date | None
    how: How


def rule_for(colourant: Colourant, market: str, use: str) -> Rule:
    """Return the rule for a colourant, else for what it is a form of, else "unknown".

    In the European Union and Great Britain a listed colourant includes its lakes (preamble
    of Annex IV). Elsewhere a lake has its own rule or none.
    """
    rules = _rules()
    own = rules.get((colourant.name, market, use))
    counts_as_parent = colourant.kind != "lake" or market in ("EU", "UK")
    parent = rules.get((colourant.form_of, market, use)) if counts_as_parent else None
    return own or parent or _not_recorded(market)


def _not_recorded(market: str) -> Rule:
    look = f"Look in: {WHERE_TO_LOOK[market]}."
    return Rule("unknown", None, WHERE_TO_LOOK[market], look, "", None, "not recorded")


@cache
def _rules() -> dict[tuple[str, str, str], Rule]:
    text = files("labkit.rules").joinpath("colourants.csv").read_text(encoding="utf-8")
    return {
        (row["colourant"], row["market"], use): _rule(row)
        for row in csv.DictReader(text.splitlines())
        for use in row["uses"].split("; ")
    }


def _rule(row: dict[str, str]) -> Rule:
    return Rule(
        status=cast(Status, row["status"]),
        limit_percent=float(row["limit_percent"]) if row["limit_percent"] else None,
        citation=row["citation"],
        note=row["note"],
        source=row["source"],
        recorded=date.fromisoformat(row["recorded"]),
        how=cast(How, row["how"]),
    )
