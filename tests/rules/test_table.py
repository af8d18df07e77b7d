"""The table of rules: well formed, each with a citation that can be followed, and no silent edit."""

import csv
import re
from collections import Counter
from datetime import date
from pathlib import Path

import pytest

import labkit.rules
from labkit.materials import colourants
from labkit.rules import CAUTION, market_table, rule_link
from labkit.rules.asked import MARKETS, USES
from labkit.rules.citations import WHERE_TO_LOOK

with (Path(labkit.rules.__file__).parent / "colourants.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
NAMES = {each.name for each in colourants()}
EVERY = pytest.mark.parametrize(
    "row", ROWS, ids=[f"{row['colourant']} {row['market']} {row['uses']}" for row in ROWS]
)

US_SECTION = r"21 CFR \d{2}\.\d{1,4}(\([a-z]\))?"
CITATION = {
    "US": rf"{US_SECTION}(; {US_SECTION})*",
    "EU": r"Regulation \(EC\) No 1223/2009, Annex IV(, entry \d+)?",
    "UK": r"Regulation \(EC\) No 1223/2009, Annex IV \(Great Britain\)",
}


@EVERY
def test_a_rule_is_well_formed(row):
    assert row["colourant"] in NAMES
    assert row["market"] in MARKETS
    assert set(row["uses"].split("; ")) <= set(USES)
    assert row["status"] in ("allowed", "not allowed", "limited", "certified only", "unknown")
    assert (row["status"] != "limited") or float(row["limit_percent"]) > 0
    assert (row["limit_percent"] == "") or row["status"] in ("limited", "certified only")
    assert date.fromisoformat(row["recorded"]) > date(1990, 1, 1)


@EVERY
def test_a_citation_is_well_formed_and_can_be_followed(row):
    assert re.fullmatch(CITATION[row["market"]], row["citation"])
    assert rule_link(row["citation"]).startswith("https://")


@EVERY
def test_a_source_is_named_or_it_is_from_memory(row):
    assert (row["source"] == "from memory") == (row["how"] == "memory")
    assert row["how"] in ("published", "memory")
    assert row["source"]


@EVERY
def test_certified_batches_are_an_american_rule(row):
    assert row["status"] != "certified only" or row["market"] == "US"


def test_a_use_has_one_rule():
    keys = Counter((row["colourant"], row["market"], use) for row in ROWS for use in row["uses"].split("; "))
    assert [key for key, times in keys.items() if times > 1] == []


def test_great_britain_is_recorded_as_the_union_is():
    """Retained law: the same statuses and limits, all from memory."""

    def rules(market):
        return {
            (row["colourant"], row["uses"], row["status"], row["limit_percent"], row["note"])
            for row in ROWS
            if row["market"] == market
        }

    assert rules("UK") == rules("EU")


def test_no_rule_was_edited_silently():
    """Rules for lips, eye area and face by status, and the sum of the limits: changes need a source."""
    found = Counter((row["market"], row["status"], use) for row in ROWS for use in row["uses"].split("; "))
    counts = {
        ("US", "allowed"): (12, 17, 17),
        ("US", "not allowed"): (6, 16, 1),
        ("US", "certified only"): (21, 6, 21),
        ("US", "unknown"): (3, 3, 3),
        ("EU", "allowed"): (27, 27, 27),
        ("EU", "limited"): (1, 1, 1),
        ("EU", "unknown"): (5, 5, 5),
        ("UK", "allowed"): (27, 27, 27),
        ("UK", "limited"): (1, 1, 1),
        ("UK", "unknown"): (5, 5, 5),
    }
    assert found == {
        (*key, use): n for key, each in counts.items() for use, n in zip(USES, each, strict=True)
    }
    assert sum(float(row["limit_percent"] or 0) for row in ROWS) == 25.0


@pytest.mark.parametrize(
    ("citation", "link"),
    [
        ("21 CFR 73.2725; 21 CFR 82.3(n)", "https://www.ecfr.gov/current/title-21/section-73.2725"),
        ("21 CFR 82.3(n)", "https://www.ecfr.gov/current/title-21/section-82.3"),
        (WHERE_TO_LOOK["US"], "https://www.ecfr.gov/current/title-21"),
        (WHERE_TO_LOOK["EU"], "https://eur-lex.europa.eu/eli/reg/2009/1223/oj"),
        (WHERE_TO_LOOK["UK"], "https://www.legislation.gov.uk/eur/2009/1223/annex/IV"),
        (WHERE_TO_LOOK["JP"], ""),
        ("", ""),
    ],
)
def test_links(citation, link):
    assert rule_link(citation) == link


def test_a_table_for_a_panel():
    table = market_table(["CI 77007", "D&C Red No. 33", "77491"], "usa")
    assert table["colourant"].tolist() == ["ultramarine", "D&C Red No. 33", "red iron oxide"]
    assert table["ci"].tolist() == ["CI 77007", "CI 17200", "CI 77491"]
    assert table["status"].tolist() == ["not allowed", "certified only", "allowed"]
    assert table["limit_percent"].isna().tolist() == [True, False, True]
    assert table["limit_percent"][1] == 3.0
    assert table["link"][0].endswith("section-73.2725")
    assert table["how"].tolist() == ["published"] * 3


def test_an_empty_table_has_its_columns():
    assert {"colourant", "status", "why"} <= set(market_table([], "EU").columns)


def test_the_caution_defers_to_local_rules_and_asks_for_papers():
    for words in ("not legal advice", "local rules decide", "certificate of analysis", "10 ppm lead"):
        assert words in CAUTION
