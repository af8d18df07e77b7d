"""The order of a label, on cases worked from the text of each paragraph.

21 CFR 701.3(a) and (b) were read in the edition of 1996-04-01; (c) to (g) and Article 19 of Regulation (EC)
No 1223/2009 are from memory. The recipes are invented.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import LabError
from labkit.rules import Plain, label
from labkit.rules.label_order import in_order

BASE = {"castor oil": 50.0, "cocoa butter": 20.0, "beeswax": 18.0, "candelilla wax": 2.0}


def recipe(**more):
    """A stick of 100 %: the base, what is given, and the rest squalane."""
    given = {**BASE, **{name.replace("_", " "): percent for name, percent in more.items()}}
    return Plain("stick", {**given, "squalane": 100 - sum(given.values())})


# ---- 21 CFR 701.3 ----------------------------------------------------------------


def test_701_3_a_descending_order_of_predominance():
    """(a) "the name of each ingredient in descending order of predominance"."""
    assert label(recipe(), "US").ingredients == [
        "Ricinus Communis (Castor) Seed Oil",  # 50
        "Theobroma Cacao (Cocoa) Seed Butter",  # 20
        "Beeswax",  # 18
        "Squalane",  # 10
        "Euphorbia Cerifera (Candelilla) Wax",  # 2
    ]


def test_701_3_a_flavor_may_be_listed_as_flavor():
    """(a) "except that fragrance or flavor may be listed as fragrance or flavor": two count as one."""
    found = label(recipe(flavour_oil=2.0, peppermint_oil=1.5), "US").ingredients
    assert found.count("Flavor") == 1
    assert found.index("Flavor") == found.index("Euphorbia Cerifera (Candelilla) Wax") - 1  # 3.5 before 2
    assert not any("Mentha" in name for name in found)


def test_701_3_b_letters_of_a_sixteenth_of_an_inch():
    """(b) "letters not less than 1/16 of an inch in height"."""
    assert any("1/16 inch" in note and "701.3(b)" in note for note in label(recipe(), "US").notes)


@pytest.mark.parametrize(
    ("material", "name"),
    [
        # (c): colour additives by the name under which they are listed
        ("CI 77491", "Iron Oxides"),  # 73.2250
        ("CI 77891", "Titanium Dioxide"),  # 73.2575
        ("CI 75470", "Carmine"),  # 73.2087
        ("CI 77742", "Manganese Violet"),  # 73.2775
        ("CI 77019", "Mica"),  # 73.2496
        ("CI 15850:1", "D&C Red No. 7"),  # 74.2307
        ("CI 42090", "FD&C Blue No. 1"),  # 74.2101
        ("Red 27 lake", "D&C Red No. 27 Aluminum Lake"),  # 82.51: colour, metal, Lake
    ],
)
def test_701_3_c_colour_additives_by_their_listed_names(material, name):
    assert label(recipe(**{material: 3.0}), "US").ingredients[-1] == name


def test_701_3_f_not_more_than_one_percent_in_any_order():
    """(f)(2) "present at a concentration of not more than 1 percent": exactly 1 % is among them."""
    found = label(recipe(tocopherol=1.0, silica=0.5, lecithin=1.1), "US")
    assert found.any_order_from == "Tocopherol"
    assert found.ingredients[-3:] == ["Lecithin", "Tocopherol", "Silica"]


def test_701_3_f_colour_additives_come_last_whatever_their_share():
    """(f)(3) colour additives "without respect to order of predominance", after the others."""
    found = label(recipe(CI_77491=8.0, tocopherol=0.2, CI_77891=0.1), "US").ingredients
    assert found[-3:] == ["Tocopherol", "Iron Oxides", "Titanium Dioxide"]


def test_701_3_g_may_contain():
    """(g) a colour additive that is not in the product may be named if "may contain" is said."""
    found = label(recipe(CI_77491=5.0), "US", may_contain=["CI 77492", "carmine", "mica"])
    assert found.may_contain == ["Carmine", "Mica"]  # Iron Oxides is in it already
    assert "Iron Oxides. MAY CONTAIN: Carmine, Mica." in found.text


def test_701_3_g_only_colour_additives_may_be_contained():
    with pytest.raises(LabError, match="may contain: beeswax is no colourant"):
        label(recipe(), "US", may_contain=["beeswax"])


# ---- Regulation (EC) No 1223/2009, Article 19(1)(g) ---------------------------------


@pytest.mark.parametrize("market", ["EU", "UK"])
def test_article_19_descending_by_weight(market):
    """ "in descending order of weight of the ingredients at the time they are added"."""
    assert label(recipe(), market).ingredients == [
        "Ricinus Communis Seed Oil",
        "Theobroma Cacao Seed Butter",
        "Cera Alba",
        "Squalane",
        "Euphorbia Cerifera Cera",
    ]


def test_article_19_below_one_percent_in_any_order():
    """ "less than 1 % may be listed in any order after those in concentrations of more than 1 %"."""
    found = label(recipe(tocopherol=1.0, silica=0.5, lecithin=0.9), "EU")
    assert found.any_order_from == "Lecithin"  # exactly 1 % keeps its place
    assert found.ingredients[-3:] == ["Tocopherol", "Lecithin", "Silica"]


def test_article_19_colorants_in_any_order_after_the_others_by_ci_number():
    """ "Colorants … may be listed in any order after the other cosmetic ingredients"; CI nomenclature."""
    found = label(recipe(CI_77491=8.0, tocopherol=0.2, Red_27_lake=0.5), "EU").ingredients
    assert found[-3:] == ["Tocopherol", "CI 77491", "CI 45410"]


def test_article_19_a_dye_and_its_lake_have_one_number():
    """0.5 % and 1.8 % make 2.3 % of CI 42090, before 2 % of CI 77491."""
    blue = {"CI 77491": 2.0, "FD&C Blue No. 1": 0.5, "FD&C Blue No. 1 lake": 1.8}
    assert label(recipe(**blue), "EU").ingredients[-2:] == ["CI 42090", "CI 77491"]


def test_article_19_may_contain_in_signs():
    """ "provided that the words ‘may contain’ or the symbol ‘+/-’ are added"."""
    found = label(recipe(CI_77491=5.0), "EU", may_contain=["CI 77492", "CI 77491", "CI 75470"])
    assert found.text.splitlines()[2].endswith("CI 77491 [+/- CI 77492, CI 75470]")


def test_article_19_nanomaterials():
    """ "the word ‘nano’ in brackets" after the name."""
    stick = recipe(titanium_dioxide=3.0)
    assert label(stick, "EU", nano=["titanium dioxide"]).ingredients[-1] == "CI 77891 (nano)"
    assert label(stick, "US", nano=["titanium dioxide"]).ingredients[-1] == "Titanium Dioxide"
    with pytest.raises(LabError, match="nano: “zinc oxide” is not in it"):
        label(stick, "EU", nano=["zinc oxide"])


def test_article_19_aroma():
    """ "Perfume and aromatic compositions and their raw materials" by the terms parfum or aroma."""
    found = label(recipe(flavour_oil=0.3, vanillin=0.0005), "EU").ingredients
    assert found[-1] == "Aroma"
    assert "Flavor" not in found


def test_article_19_fillers_keep_their_place():
    """Kaolin and mica as fillers: by weight, under their INCI names."""
    found = label(recipe(kaolin=3.0, mica=2.5, CI_77491=4.0), "EU").ingredients
    assert found[3:] == ["Kaolin", "Mica", "Euphorbia Cerifera Cera", "Squalane", "CI 77491"]


# ---- both ------------------------------------------------------------------------


def test_what_has_one_name_counts_together():
    """Two oils of one INCI name: 12 % and 9 % make 21 %, before 20 % of cocoa butter."""
    lines = {"castor oil": 50, "cocoa butter": 20, "sunflower oil": 12, "high-oleic sunflower oil": 9}
    two = Plain("two", {**lines, "beeswax": 9})
    assert label(two, "EU").ingredients[:3] == [
        "Ricinus Communis Seed Oil",
        "Helianthus Annuus Seed Oil",
        "Theobroma Cacao Seed Butter",
    ]


SHARES = st.dictionaries(st.text("abcdef", min_size=1, max_size=4), st.floats(0.001, 60), max_size=8)


@given(SHARES, SHARES, st.sampled_from(["US", "EU"]))
def test_the_full_descending_order_meets_every_rule(plain, colours, market):
    order = in_order(plain, colours, market)
    shares = [plain[name] for name in (*order.placed, *order.small)]
    assert shares == pytest.approx(sorted(plain.values(), reverse=True), abs=1e-8)
    assert all(plain[name] > 0.999 for name in order.placed)
    assert all(plain[name] < 1.001 for name in order.small)
    assert sorted(order.colourants) == sorted(colours)


@pytest.mark.parametrize("market", ["CA", "Japan"])
def test_markets_whose_label_rules_are_not_recorded(market):
    with pytest.raises(LabError, match="not recorded here, and nothing certain is known"):
        label(recipe(), market)
