"""What stands on a label beside the ingredients: allergens, content, durability, notes, what is missing."""

from datetime import date

import pytest

from labkit.errors import LabError
from labkit.rules import Pack, Plain, label
from labkit.rules.allergen_sheet import LEAVE_ON_PERCENT, allergens, in_product
from labkit.rules.lines import read_lines
from labkit.rules.pack import G_PER_OZ

ROSE = Plain(
    "Rose",
    {"castor oil": 60, "beeswax": 20, "cocoa butter": 12.5, "flavour oil": 0.5, "CI 77491": 4, "CI 77891": 3},
)
SHEET = {"flavour oil": {"d-limonene": 3.0, "Linalool": 0.2, "Eugenol": 0.19}}


# ---- allergens: Annex III as amended by Regulation (EU) 2023/1545 -----------------------


def test_an_allergen_above_the_leave_on_threshold_is_named():
    """0.001 % of a leave-on product: 0.5 % · 3 % is 0.015 %; 0.5 % · 0.2 % is 0.001 %, not above it."""
    found = label(ROSE, "EU", sheets=SHEET)
    assert found.allergens == {"Limonene": pytest.approx(0.015)}
    assert found.ingredients == [
        "Ricinus Communis Seed Oil",
        "Cera Alba",
        "Theobroma Cacao Seed Butter",
        "Aroma",
        "Limonene",
        "CI 77491",
        "CI 77891",
    ]


def test_the_threshold_is_that_of_leave_on_products():
    assert LEAVE_ON_PERCENT == 0.001  # rinse-off products: 0.01 %


def test_an_allergen_of_two_flavours_counts_together():
    two = Plain("two", {"castor oil": 98, "flavour oil": 1, "sweet orange oil": 1})
    found = in_product(
        read_lines(two), {"flavour oil": {"Limonene": 0.06}, "sweet orange oil": {"Limonene": 0.06}}
    )
    assert found.shares["Limonene"] == pytest.approx(0.0012)
    assert "Limonene" in found.named


def test_a_flavour_that_is_itself_an_allergen_is_named():
    """Mentha Piperita Oil and menthol are on the list themselves; menthol from the sheet is added."""
    mint = Plain("mint", {"castor oil": 98.7, "peppermint oil": 1, "menthol": 0.3})
    found = label(mint, "EU", sheets={"peppermint oil": {"Menthol": 40.0}})
    assert found.allergens == {"Menthol": pytest.approx(0.7), "Mentha Piperita Oil": pytest.approx(1.0)}
    assert "Aroma" in found.ingredients


def test_what_is_on_the_sheet_and_not_on_the_list_is_said():
    found = label(ROSE, "EU", sheets={"flavour oil": {"Zingerone": 5.0}})
    assert "Zingerone" not in found.ingredients
    assert any("“Zingerone” is on the sheet" in note and "2023/1545" in note for note in found.notes)


def test_the_united_states_have_no_such_list():
    found = label(ROSE, "US", sheets=SHEET)
    assert found.allergens == {}
    assert "Limonene" not in found.text


@pytest.mark.parametrize(
    ("sheets", "says"),
    [
        ({"rose oil": {"Citronellol": 20}}, "it is not in this recipe"),
        ({"flavour oil": {"Limonene": 120}}, "120 % cannot be"),
    ],
)
def test_sheets_that_cannot_be(sheets, says):
    with pytest.raises(LabError, match=says):
        label(ROSE, "EU", sheets=sheets)


def test_the_list_of_allergens_is_as_long_as_the_regulation_says():
    """80 entries after the amendment, 24 of them before (from summaries of Regulation (EU) 2023/1545)."""
    assert len(allergens()) == 80
    assert sum("1223/2009" in each.source for each in allergens()) == 24
    names = [name.casefold() for each in allergens() for name in (each.name, *each.other_names)]
    assert len(names) == len(set(names))


def test_a_missing_sheet_is_asked_in_europe():
    assert any("allergen sheet of flavour oil" in what for what in label(ROSE, "EU").missing)
    assert any("without its allergen sheet" in note for note in label(ROSE, "UK").notes)
    assert not any("allergen sheet" in what for what in label(ROSE, "US").missing)


@pytest.mark.parametrize(
    ("limit", "says"), [(0.4, "is over the supplier's limit"), (0.5, "is within the supplier's")]
)
def test_the_suppliers_limit_for_lips(limit, says):
    assert any(says in note for note in label(ROSE, "US", limits={"flavour oil": limit}).notes)


def test_without_a_limit_it_is_asked():
    """IFRA category 1: products applied to the lips."""
    assert any("IFRA category 1" in note for note in label(ROSE, "US").notes)


# ---- what may not be sold --------------------------------------------------------


def test_what_may_not_be_sold_is_said_first():
    """Ultramarines: 21 CFR 73.2725 leaves the lips out; Annex IV does not."""
    violet = Plain("violet", {"castor oil": 93, "ultramarine": 5, "CI 15850:1": 2})
    found = label(violet, "US")
    assert found.notes[0].startswith("May not be sold so: ultramarine.")
    assert "21 CFR 73.2725" in found.notes[0]
    assert found.notes[1].startswith("D&C Red No. 7: write it as the lot's certificate names it.")
    assert not any("May not be sold" in note for note in label(violet, "EU").notes)


def test_unknown_is_said_and_not_taken_as_allowed():
    assert label(Plain("s", {"castor oil": 98, "silver": 2}), "EU").notes[0].startswith("Not known: silver.")


def test_colourants_that_it_may_contain_are_judged_too():
    found = label(ROSE, "US", may_contain=["ferric ferrocyanide"])
    assert found.notes[0].startswith("May not be sold so: ferric ferrocyanide.")


def test_titanium_dioxide_carries_the_advice_of_2024():
    for market in ("US", "EU", "UK"):
        assert any("SCCS/1661/23" in note for note in label(ROSE, market).notes)


def test_a_mixture_has_to_be_taken_apart():
    pearl = Plain("pearl", {"castor oil": 90, "interference mica": 10})
    with pytest.raises(LabError, match="is a mixture, and a label names each of its parts"):
        label(pearl, "EU")
    own = {"interference mica": {"made_of": {"mica": 60, "titanium dioxide": 40}}}
    assert label(pearl, "EU", own=own).ingredients == ["Ricinus Communis Seed Oil", "Mica", "CI 77891"]


def test_a_paste_is_named_by_its_parts():
    own = {"red paste": {"made_of": {"castor oil": 60, "CI 77491": 40}}}
    found = label(Plain("r", {"castor oil": 40, "cocoa butter": 45, "red paste": 15}), "US", own=own)
    assert found.ingredients[0] == "Ricinus Communis (Castor) Seed Oil"  # 40 + 9, before 45
    assert found.ingredients[-1] == "Iron Oxides"


def test_an_own_ingredient_without_an_inci_name():
    with pytest.raises(LabError, match="tallow: its INCI name is missing"):
        label(Plain("t", {"tallow": 100}), "EU", own={"tallow": {"group": "butter"}})


def test_a_misspelt_name_is_told():
    found = label(Plain("b", {"castor oil": 60, "carnuba wax": 40}), "EU")
    assert "“carnuba wax” is taken as carnauba wax." in found.notes


# ---- the pack -----------------------------------------------------------------------


def test_net_content_never_says_more_than_there_is():
    """NIST HB 44: 1 oz is 28.349523125 g. 21 CFR 701.13: not more than two decimals."""
    for grams in (3.5, 4.25, 4.2524284687, 12.345, 28.349523125):
        text = Pack(net_g=grams).net_content("US")
        ounces = float(text.split()[2])
        assert grams / G_PER_OZ - 0.01 < ounces <= grams / G_PER_OZ + 1e-9
    assert Pack(net_g=28.349523125).net_content("US") == "Net Wt. 1 oz (28 g)"


def test_below_five_grams_the_content_need_not_be_given():
    """Article 19(1)(b): "except in the case of packaging containing less than five grams"."""
    assert any("Below 5 g" in note for note in label(ROSE, "EU", pack=Pack(net_g=4.9)).notes)
    assert not any("Below 5 g" in note for note in label(ROSE, "EU", pack=Pack(net_g=5.0)).notes)


@pytest.mark.parametrize(
    ("months", "opened", "says"),
    [
        # Article 19(1)(c): a date of minimum durability; above 30 months the time after opening instead
        (18, None, "Best used before the end of 05/2028"),
        (30, 12, "Best used before the end of 05/2029"),
        (31, 12, "12M (in the open jar of Annex VII)"),
        (31, None, ""),
    ],
)
def test_durability(months, opened, says):
    pack = Pack(made=date(2026, 11, 27), durable_months=months, opened_months=opened)
    assert pack.durability() == says
    assert any("durability" in what for what in label(ROSE, "EU", pack=pack).missing) == (says == "")


def test_a_date_needs_the_day_it_was_made():
    assert Pack(durable_months=12).durability() == ""


FULL = Pack(
    net_g=5.5,
    batch="B7",
    made=date(2026, 11, 27),
    durable_months=12,
    responsible="A. Maker (invented), 1 Lane",
    cautions=("Stop using it if it irritates.",),
)


@pytest.mark.parametrize("market", ["US", "EU", "UK"])
def test_a_full_label_misses_nothing(market):
    found = label(ROSE, market, pack=FULL, sheets=SHEET)
    assert found.missing == []
    assert "[" not in found.text
    for words in ("Rose", "B7", "A. Maker (invented), 1 Lane", "Stop using it if it irritates.", "5.5 g"):
        assert words in found.text


@pytest.mark.parametrize(
    "paragraph",
    [
        "19(1)(a)",  # responsible person
        "19(1)(b)",  # nominal content
        "19(1)(c)",  # durability
        "19(1)(d)",  # precautions
        "19(1)(e)",  # batch number
    ],
)
def test_an_empty_pack_misses_each_paragraph_of_article_19(paragraph):
    assert sum(paragraph in what for what in label(ROSE, "EU").missing) == 1


@pytest.mark.parametrize("rule", ["701.13", "701.12", "609(a)"])
def test_an_empty_pack_misses_what_the_united_states_ask(rule):
    assert sum(rule in what for what in label(ROSE, "US").missing) == 1


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("net_g", 0.0, "net content: 0 g"),
        ("net_g", float("nan"), "net content"),
        ("durable_months", -3, "-3 months"),
        ("opened_months", 2.5, "2.5 months"),
    ],
)
def test_packs_that_cannot_be(field, value, says):
    with pytest.raises(LabError, match=says):
        Pack(**{field: value})
