"""A recipe as a whole: what may be sold where, limits against its shares, papers, testers, keeping."""

from datetime import date

import pytest

from labkit.errors import LabError
from labkit.materials import colourants, find_material, known_ingredients
from labkit.rules import (
    Plain,
    ask_testers,
    beyond_the_label,
    discard_by,
    impurity_limits,
    most_lead,
    papers_for,
    permit_recipe,
    permitted,
)
from labkit.rules.keeping import months_after
from labkit.rules.lines import read_lines


def with_colour(**percents):
    colours = {name.replace("_", " "): percent for name, percent in percents.items()}
    return Plain("stick", {"castor oil": 100 - sum(colours.values()), **colours})


def verdicts(recipe, **asked):
    table = permit_recipe(recipe, **asked)
    return dict(zip(zip(table["colourant"], table["market"], strict=True), table["verdict"], strict=True))


@pytest.mark.parametrize(
    ("colours", "verdict"),
    [
        # 21 CFR 74.2333: "not to exceed 3 percent total color by weight of the finished product", on lips
        ({"D&C Red No. 33": 3.0}, "only if certified"),
        ({"D&C Red No. 33": 3.1}, "over the limit"),
        ({"D&C Red No. 33": 1.6, "Red 33 lake": 1.5}, "over the limit"),  # a dye counts with its lake
        # 21 CFR 74.2255: "not exceeding 5.0 percent"
        ({"D&C Orange No. 5": 5.0}, "only if certified"),
        ({"D&C Orange No. 5": 5.01}, "over the limit"),
        # 21 CFR 73.2725 with 82.3(n): not on lips
        ({"ultramarine": 0.1}, "not allowed"),
        # 21 CFR 73.2250
        ({"CI 77491": 20.0}, "allowed"),
        # no rule recorded
        ({"kaolin": 3.0}, "unknown"),
    ],
)
def test_verdicts_in_the_united_states(colours, verdict):
    assert set(verdicts(with_colour(**colours), markets="US").values()) == {verdict}


def test_one_pigment_two_markets():
    found = verdicts(with_colour(ultramarine=2.0), markets=["US", "EU"])
    assert found == {("ultramarine", "US"): "not allowed", ("ultramarine", "EU"): "allowed"}


def test_annex_iv_limits_ci_12085():
    """CI 12085: at most 3 % (from memory)."""
    assert set(verdicts(with_colour(CI_12085=2.9), markets="EU").values()) == {"allowed"}
    assert set(verdicts(with_colour(CI_12085=3.2), markets="EU").values()) == {"over the limit"}


def test_every_market_and_use_has_its_row():
    table = permit_recipe(with_colour(CI_77491=5, CI_77891=3), ["US", "EU", "Japan"], ["lips", "eye"])
    assert len(table) == 2 * 3 * 2
    assert set(table["market"]) == {"US", "EU", "JP"}
    assert set(table["use"]) == {"lips", "eye area"}


@pytest.mark.parametrize("each", colourants(), ids=lambda each: each.name)
def test_unknown_is_never_shown_as_allowed(each):
    table = permit_recipe(Plain("s", {"castor oil": 99.9, each.name: 0.1}), ["US", "EU", "UK", "CA", "JP"])
    for row in table.to_dict("records"):
        ruling = permitted(each.name, row["market"])
        assert (row["verdict"] == "unknown") == (ruling.status == "unknown")
        assert (row["verdict"] == "allowed") == (ruling.status in ("allowed", "limited"))
        assert row["status"] == ruling.status
        assert row["citation"] == ruling.citation != ""
        assert row["papers"].startswith("Ask for: ")


def test_the_same_colourant_on_two_lines_counts_together():
    own = {"violet paste": {"made_of": {"castor oil": 50, "D&C Red No. 33": 50}}}
    recipe = Plain("v", {"castor oil": 93.5, "D&C Red No. 33": 1.5, "violet paste": 5.0})
    row = permit_recipe(recipe, "US", own=own).iloc[0]
    assert row["percent"] == pytest.approx(4.0)
    assert row["verdict"] == "over the limit"
    assert row["why"].startswith("This recipe has 4 %, and at most 3 % may be.")


def test_no_colour_no_rows():
    assert len(permit_recipe(Plain("balm", {"beeswax": 20, "castor oil": 80}))) == 0


@pytest.mark.parametrize(
    ("percents", "says"),
    [
        ({}, "no line in it"),
        ({"castor oil": 60, "beeswax": 20}, "come to 80 %"),
        ({"castor oil": 120, "beeswax": -20}, "-20 % cannot be"),
        ({"castor oil": float("nan")}, "cannot be"),
        ({"castor oil": 90, "Moonstruck 12": 10}, "CI number"),
        ({"castor oil": 90, "iron oxides": 10}, "Write which one"),
    ],
)
def test_recipes_that_cannot_be(percents, says):
    with pytest.raises(LabError, match=says):
        permit_recipe(Plain("r", percents))


def test_a_mixture_of_itself_is_refused():
    with pytest.raises(LabError, match="made of itself"):
        read_lines(Plain("r", {"paste": 100}), {"paste": {"made_of": {"paste": 100}}})


def test_no_market_asked():
    with pytest.raises(LabError, match="at least one"):
        permit_recipe(with_colour(CI_77491=5), [])


# ---- purity and papers ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "limits"),
    [
        # ppm of arsenic, lead, mercury, cadmium
        ("red iron oxide", (3, 10, 3, None)),  # 21 CFR 73.2250
        ("zinc oxide", (3, 20, 1, 15)),  # 21 CFR 73.2991
        ("manganese violet", (3, 20, 1, None)),  # 21 CFR 73.2775
        ("mica", (3, 20, 1, None)),  # 21 CFR 73.2496
        ("ultramarine", (3, 20, 1, None)),  # 21 CFR 73.2725
    ],
)
def test_impurity_limits(name, limits):
    found = {each.element: each.ppm for each in impurity_limits(name)}
    assert tuple(found.get(each) for each in ("arsenic", "lead", "mercury", "cadmium")) == limits


@pytest.mark.parametrize("name", ["red iron oxide", "zinc oxide", "manganese violet", "mica", "ultramarine"])
def test_impurity_limits_agree_with_the_rule(name):
    why = permitted(name, "US", "face").why
    for limit in impurity_limits(name):
        assert f"{limit.ppm:g} ppm {limit.element}" in why


def test_lead_that_the_limits_allow_by_hand():
    """10 % iron oxide at 10 ppm and 5 % mica at 20 ppm: 1 + 1 ppm; carmine's limit is not recorded."""
    found = most_lead(with_colour(CI_77491=6, CI_77499=4, mica=5, carmine=1))
    assert found.ppm == pytest.approx(2.0)
    assert found.not_counted == ("carmine",)
    assert found.says.endswith("no limit is recorded: carmine.")


def test_lead_above_the_advice_asks_for_better_lots():
    """60 % mica at 20 ppm: 12 ppm, and FDA guidance (draft of December 2016) advises at most 10."""
    assert "12 ppm lead" in most_lead(with_colour(mica=60)).says
    assert "lots that hold less" in most_lead(with_colour(mica=60)).says
    assert "lots that hold less" not in most_lead(with_colour(mica=50)).says


@pytest.mark.parametrize(
    ("name", "market", "asks"),
    [
        ("D&C Red No. 7", "US", "FDA certification number"),
        ("flavour oil", "EU", "IFRA category 1"),
        ("titanium dioxide (anatase)", "EU", "nanomaterial"),
        ("interference mica", "US", "CI number of each part"),
        ("grapeseed oil", "EU", "peroxide value"),
        ("talc", "US", "no asbestos"),
    ],
)
def test_papers(name, market, asks):
    assert asks in papers_for(find_material(name), market)


def test_certification_is_of_the_united_states():
    assert "certification" not in papers_for(find_material("D&C Red No. 7"), "EU")


# ---- testers ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("material", "about"),
    [("sweet almond oil", "tree nut"), ("carmine", "carmine"), ("beeswax", "bee"), ("castor oil", "castor"),
     ("hydrogenated castor oil", "castor"), ("lanolin", "wool"), ("sesame oil", "sesame")],
)  # fmt: skip
def test_testers_are_asked(material, about):
    asks = ask_testers(Plain("s", {"squalane": 90, material: 10}))
    assert [(each.about, each.because_of, each.sure) for each in asks if each.about == about] == [
        (about, (material,), True)
    ]


@pytest.mark.parametrize("each", known_ingredients(), ids=lambda each: each.name)
def test_every_family_is_asked_about(each):
    about = {ask.about for ask in ask_testers(Plain("s", {each.name: 100}))}
    assert {family.removesuffix("?") for family in each.families} - {"animal"} <= about


def test_what_may_come_from_soya_is_asked_as_a_perhaps():
    asks = {each.about: each.sure for each in ask_testers(Plain("s", {"squalane": 99, "tocopherol": 1}))}
    assert asks["soy"] is False


def test_flavours_are_asked_with_what_is_on_their_sheet():
    recipe = Plain("s", {"squalane": 99, "flavour oil": 1})
    assert ask_testers(recipe)[-1].about == "flavours and scents"
    assert ask_testers(recipe, sheets={"flavour oil": {"Eugenol": 1}})[-1].about == "flavours: Eugenol"


# ---- keeping ---------------------------------------------------------------------------

MADE = date(2026, 11, 27)


def test_the_first_fat_to_turn_decides():
    """Grapeseed keeps 6 to 12 months, jojoba 24 and more (common practice, no source)."""
    found = discard_by(Plain("s", {"jojoba oil": 50, "grapeseed oil": 10, "beeswax": 40}), MADE)
    assert (found.by, found.decided_by) == (date(2027, 5, 27), "grapeseed oil")
    assert "no stability test" in found.why


def test_a_lots_date_counts_instead():
    recipe = Plain("s", {"jojoba oil": 60, "grapeseed oil": 40})
    found = discard_by(recipe, MADE, {"grapeseed oil": date(2028, 1, 1), "jojoba oil": date(2027, 3, 1)})
    assert (found.by, found.decided_by) == (date(2027, 3, 1), "jojoba oil")


def test_the_makers_own_time_counts_before_the_tables():
    own = {"grapeseed oil": {"keeps_months": 15}}
    assert discard_by(Plain("s", {"grapeseed oil": 100}), MADE, own=own).by == date(2028, 2, 27)


def test_what_is_not_known_is_said():
    found = discard_by(Plain("s", {"lanolin": 60, "ozokerite": 40}), MADE)
    assert (found.by, found.not_known) == (None, ("lanolin",))


@pytest.mark.parametrize(
    ("dates", "says"),
    [
        ({"olive oil": date(2027, 1, 1)}, "not in this recipe"),
        ({"jojoba oil": date(2026, 1, 1)}, "Look at both again"),
    ],
)
def test_dates_that_cannot_be(dates, says):
    with pytest.raises(LabError, match=says):
        discard_by(Plain("s", {"jojoba oil": 100}), MADE, dates)


@pytest.mark.parametrize(
    ("start", "months", "end"),
    [
        (date(2024, 1, 31), 1, date(2024, 2, 29)),
        (date(2026, 12, 1), 1, date(2027, 1, 1)),
        (date(2026, 11, 30), 15, date(2028, 2, 29)),
    ],
)
def test_months_after(start, months, end):
    assert months_after(start, months) == end


# ---- beyond the label --------------------------------------------------------------


@pytest.mark.parametrize(
    ("market", "words", "citation"),
    [
        ("US", "Register", "607"),
        ("US", "List the product", "607(c)"),
        ("US", "adverse event", "605"),
        ("US", "safe", "608"),
        ("EU", "responsible person", "Article"),
        ("EU", "safety report", "Article 10"),
        ("EU", "CPNP", "Article 13"),
        ("UK", "SCPN", "Article 13 (Great Britain)"),
        ("UK", "undesirable effects", "Article 23 (Great Britain)"),
    ],
)
def test_beyond_the_label(market, words, citation):
    assert any(words in each.what and citation in each.citation for each in beyond_the_label(market))


def test_duties_are_from_memory_and_say_so():
    for market in ("US", "EU", "UK"):
        assert {each.how for each in beyond_the_label(market)} == {"from memory"}
