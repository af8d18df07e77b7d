"""What could stand in: what is avoided goes first, the maker's trials come before any table."""

import pandas as pd
import pytest

from labkit.errors import LabError
from labkit.materials import belongs, families_of, find_material, known_ingredients, substitutes
from labkit.materials.families import FAMILIES
from labkit.materials.likely_change import likely_changes
from labkit.materials.nearness import MATTERS, difference


def names(table):
    return table["material"].tolist()


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize(
    "material", ["beeswax", "castor oil", "sweet almond oil", "shea butter", "tocopherol"]
)
def test_nothing_that_is_or_may_be_avoided_is_offered(material, family):
    table = substitutes(material, avoid=family)
    for name in names(table):
        assert not {family, f"{family}?"} & set(find_material(name).families)
    for name, why in table.attrs["left_out"].items():
        assert name not in names(table)
        assert family in why


@pytest.mark.parametrize(
    ("avoid", "gone"),
    [
        (
            "nuts",
            {"shea butter", "macadamia oil", "hazelnut oil", "argan oil", "apricot kernel oil", "peanut oil"},
        ),
        ("tree nut", {"shea butter", "hazelnut oil"}),
        ("castor oil", {"hydrogenated castor oil"}),  # the ingredient stands for its family
        ("soy", {"soybean oil", "tocopherol", "lecithin"}),  # what may come from soya too
        (["bee products", "lanolin"], {"beeswax", "lanolin"}),
        ("Cochineal", set()),
    ],
)
def test_avoided_by_source(avoid, gone):
    left_out = substitutes("olive oil", avoid=avoid).attrs["left_out"]
    assert gone <= set(left_out)


def test_tree_nuts_alone_keep_the_peanut():
    assert "peanut oil" in names(substitutes("olive oil", avoid="tree nut"))
    assert "peanut oil" not in names(substitutes("olive oil", avoid="nuts"))


def test_families_in_other_words():
    assert families_of(["Gluten", "not vegan", "sesame oil"]) == {"wheat", "animal", "sesame"}
    assert families_of("beeswax") == {"bee"}  # not every animal
    assert "ask the supplier" in belongs(find_material("lecithin"), {"soy"})


@pytest.mark.parametrize(
    ("avoid", "says"), [("nutz", "Did you mean"), ("ozokerite", "no family of allergens")]
)
def test_what_cannot_be_avoided_says_so(avoid, says):
    with pytest.raises(LabError, match=says):
        substitutes("beeswax", avoid=avoid)


@pytest.mark.parametrize(
    ("material", "best"),
    [
        # common practice, no source, for the first two; the others by the figures of the table
        ("beeswax", "candelilla wax"),
        ("cocoa butter", "illipe butter"),
        ("rice bran wax", "sunflower wax"),
        ("sunflower oil", "soybean oil"),
        ("magnesium stearate", "zinc stearate"),
        ("high-oleic sunflower oil", "high-oleic safflower oil"),
    ],
)
def test_the_nearest_comes_first(material, best):
    table = substitutes(material)
    assert names(table)[0] == best
    assert table["difference"].is_monotonic_increasing


@pytest.mark.parametrize("each", known_ingredients(), ids=lambda each: each.name)
def test_only_what_can_stand_in_is_offered(each):
    table = substitutes(each.name)
    alike = {"oil": {"oil", "ester"}, "ester": {"oil", "ester"}}.get(each.group, {each.group})
    assert set(table["group"]) <= alike
    assert each.name not in names(table)
    assert (table["likely_change"] != "").all()
    assert (table["how_sure"] != "").all()


def test_side_by_side_with_what_is_replaced():
    table = substitutes("cocoa butter")
    illipe = table.set_index("material").loc["illipe butter"]
    assert (illipe["melting_c"], table.attrs["replaced"]["melting_c"]) == ("28 to 37", "28 to 36")
    assert illipe["fatty_acids"].startswith("stearic 42 %, oleic 36 %")


TRIALS = [
    {"instead_of": "beeswax", "used": "carnauba wax", "saw": "hard, drags"},
    {"instead_of": "Cera Alba", "used": "cetyl palmitate", "saw": "soft"},
    {"instead_of": "beeswax", "used": "cetyl palmitate", "saw": ""},
    {"instead_of": "beeswax", "used": "shea butter", "saw": "no stick at all"},  # another group: it was tried
    {"instead_of": "castor oil", "used": "jojoba oil", "saw": "thin"},
]


@pytest.mark.parametrize("trials", [TRIALS, pd.DataFrame(TRIALS)], ids=["rows", "table"])
def test_the_makers_own_trials_stand_in_front(trials):
    table = substitutes("beeswax", trials=trials)
    assert names(table)[0] == "cetyl palmitate"
    assert set(names(table)[1:3]) == {"carnauba wax", "shea butter"}
    assert table["your_trials"].tolist()[:4] == [2, 1, 1, 0]
    assert table["you_saw"].tolist()[0] == "soft"
    assert table["how_sure"][0].startswith("you tried it")
    assert "jojoba oil" not in names(table)


def test_a_trial_does_not_outweigh_an_allergy():
    table = substitutes(
        "castor oil", avoid="castor", trials=[{"instead_of": "castor oil", "used": "castor wax"}]
    )
    assert "hydrogenated castor oil" in table.attrs["left_out"]


def test_a_trial_without_names_is_refused():
    with pytest.raises(LabError, match="trial 1: “used” is missing"):
        substitutes("beeswax", trials=[{"instead_of": "beeswax"}])


def test_own_values_and_own_materials_count():
    own = {
        "my wax": {
            "group": "wax",
            "inci": "Wax",
            "role": "structure, flexible",
            "melting_c": (61, 66),
            "gels_oil_percent": 1.5,
            "saponification_value": 95,
        }
    }
    table = substitutes("beeswax", own=own)
    assert names(table)[0] == "my wax"
    assert table["how_sure"][0].startswith("fairly")


def test_memory_is_not_called_published():
    """Where nothing changes, what was compared still says how it is known."""
    table = substitutes("sweet almond oil").set_index("material")
    assert table.loc["rice bran oil", "how_sure"].startswith("roughly")
    assert table.loc["mineral oil", "how_sure"].startswith("a guess")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("beeswax", "carnauba wax", "harder"),
        ("candelilla wax", "beeswax", "softer"),
        ("sweet almond oil", "grapeseed oil", "more prone to turn rancid"),
        ("sunflower oil", "high-oleic sunflower oil", "keeps longer"),
        ("sunflower oil", "castor oil", "more drag"),
        ("castor oil", "olive oil", "wets pigments less well"),
        ("mango butter", "shea butter", "grainy"),
        ("carnauba wax", "sunflower wax", "less of it sets oil (it begins at about 1 %)"),
    ],
)
def test_likely_changes(old, new, says):
    assert says in "; ".join(likely_changes(find_material(old), find_material(new)))


def test_changes_turn_round_with_the_swap():
    words = {"harder": "softer", "more prone": "keeps longer", "thicker": "thinner"}
    for one in known_ingredients():
        for other in known_ingredients():
            if one.group == other.group == "oil":
                there, back = ("; ".join(likely_changes(*pair)) for pair in ((one, other), (other, one)))
                for word, opposite in words.items():
                    assert (word in there) == (opposite in back), (one.name, other.name)


def test_two_liquids_do_not_melt():
    assert "melts" not in "; ".join(likely_changes(find_material("castor oil"), find_material("olive oil")))


def test_a_difference_by_hand():
    """Beeswax and carnauba: 19.5 °C / 6 and 2.5 % / 1 are 3.25 and 2.5, saponification 9 / 40; roles 1.5."""
    assert MATTERS["wax"] == {
        "melting_c": (1.0, 6.0), "gels_oil_percent": (0.5, 1.0), "saponification_value": (0.5, 40.0)
    }  # fmt: skip
    by_hand = ((3.25**2 + 0.5 * 2.5**2 + 0.5 * 0.225**2) / 2) ** 0.5 + 1.5
    apart = difference(find_material("beeswax"), find_material("carnauba wax"))
    assert apart.noticeable == pytest.approx(by_hand, rel=1e-6)
    assert apart.known == 1.0


def test_an_ingredient_is_no_way_from_itself():
    for each in known_ingredients():
        apart = difference(each, each)
        assert apart.noticeable == 0 or apart.known < 1


def test_a_colourant_has_the_shade_room():
    with pytest.raises(LabError, match="shade room"):
        substitutes("CI 77491")
