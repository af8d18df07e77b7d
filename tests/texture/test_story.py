"""What a notebook tells of a trial: sentences and tables that are fit to be read."""

import re

import pandas as pd
import pytest

from labkit.texture.region import Region
from labkit.texture.story import next_table, notes_table, pours_table, region_words

ID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}|\b[0-9a-f]{16,}")
TABLES = (pours_table, notes_table, next_table)


def test_a_region_is_told_in_percent_of_the_product():
    region = Region({"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)})
    assert region_words(region, 0.1) == (
        "You may pour butter 18 to 54 %, oil 18 to 54 %, wax 9 to 27 % of the finished product: 6 corners."
    )


def test_what_is_held_still_is_told_as_one_number():
    region = Region({"butter": (0.3, 0.3), "oil": (0.2, 0.65), "wax": (0.05, 0.4)})
    assert "butter 30 %, oil 30 to 65 %, wax 5 to 40 %" in region_words(region)
    point = Region({"oil": (0.8, 0.8), "wax": (0.2, 0.2)})
    assert region_words(point) == (
        "You may pour one composition alone: oil 80 %, wax 20 % of the finished product."
    )


def test_bounds_that_others_cut_are_told_as_they_work():
    assert "oil 60 to 90 %" in region_words(Region({"oil": (0.1, 1.0), "wax": (0.1, 0.4)}))


@pytest.mark.parametrize("table", TABLES)
def test_a_table_has_no_ids_no_long_decimals_and_is_not_cut(felt, table):
    shown = table(felt).to_html() + table(felt).to_string()
    assert not ID.search(shown)
    assert "forked" not in shown
    assert not re.search(r"\d\.\d{2,}", shown)
    assert "..." not in table(felt).to_html()


@pytest.mark.parametrize("table", [pours_table, notes_table])
def test_a_table_of_nothing_still_has_its_columns(trial, felt, table):
    assert list(table(trial.__class__(trial.book, trial.name)).columns) == list(table(felt).columns)
    empty = table(felt).head(0)
    assert len(empty) == 0


def test_pours_are_told_in_percent_of_the_product_first(felt):
    shown = pours_table(felt)
    assert list(shown.index) == [1, 2, 3, 4]
    product = [name for name in shown.columns if name.endswith("% of product")]
    assert shown.columns[0] == "poured"
    assert list(shown.columns[1 : 1 + len(product)]) == product
    assert shown[product].sum(axis=1).tolist() == pytest.approx([100] * 4, abs=0.2)
    base = [name for name in shown.columns if name.endswith("% of base")]
    assert shown[base].sum(axis=1).tolist() == pytest.approx([100] * 4, abs=0.2)


def test_notes_are_told_with_their_age(felt):
    shown = notes_table(felt)
    assert shown["felt after"].tolist() == ["2 h", "2 days"] * 4
    assert shown["what"].tolist()[-2:] == ["“just right”", "“firm”"]


def test_where_to_pour_next_says_why_in_full_and_chances_in_words(felt):
    shown = next_table(felt, pours=2)
    asked = felt.next_pour(2)
    assert shown["why"].tolist() == asked["why"].tolist()
    assert list(shown.index) == [1, 2]
    assert shown["chance of “just right”"].str.contains("in 10").all()
    assert shown["wax, % of product"].tolist() == pytest.approx(
        (100 * (1 - felt.question.held_fraction) * asked["wax"]).tolist(), abs=0.05
    )
    long = "to learn whether " + "more and more " * 12 + "wax helps"
    with pd.option_context("display.max_colwidth", 50):
        assert long in felt_why(felt, long).to_html()


def felt_why(trial, why):
    trial.__dict__["next_pour"] = lambda pours=1: type(trial).next_pour(trial, pours).assign(why=why)
    return next_table(trial)
