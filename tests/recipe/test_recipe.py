"""A recipe: round trips, conservation, and what cannot be."""

import copy
import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit import Recipe
from labkit.errors import LabError
from labkit.recipe import Dispersion, ancestors, descent_table, on_scales, taken_apart, with_dispersion

NAMES = ("castor oil", "shea butter", "beeswax", "red iron oxide", "titanium dioxide", "tocopherol")
GRAMS = st.lists(st.floats(0.01, 500.0), min_size=2, max_size=6)
QUICK = settings(max_examples=60, deadline=None)


def made(grams):
    return Recipe.from_grams("invented", dict(zip(NAMES, grams, strict=False)))


@QUICK
@given(GRAMS)
def test_grams_percent_and_back(grams):
    recipe = made(grams)
    percent = recipe.percent()
    assert sum(percent.values()) == pytest.approx(100.0)
    again = Recipe.from_percent("again", percent)
    assert again.grams(recipe.total_g) == pytest.approx(recipe.grams())
    assert again.version == recipe.version


@QUICK
@given(GRAMS, st.floats(0.1, 1e5))
def test_scaling_keeps_the_parts_and_comes_back(grams, batch):
    recipe = made(grams)
    scaled = recipe.scaled(batch)
    assert scaled.total_g == pytest.approx(batch)
    assert scaled.percent() == pytest.approx(recipe.percent())
    assert scaled.scaled(recipe.total_g).grams() == pytest.approx(recipe.grams())
    assert scaled.version == recipe.version


@QUICK
@given(GRAMS, st.integers(1, 500), st.floats(0.5, 50.0), st.floats(0.0, 0.5))
def test_what_is_filled_and_lost_is_what_is_made(grams, containers, fill, loss):
    made_g = made(grams).scaled(containers=containers, fill_g=fill, loss=loss).total_g
    assert made_g * (1 - loss) == pytest.approx(containers * fill)


@QUICK
@given(GRAMS)
def test_the_three_shares_add_up(grams):
    assert sum(made([*grams, 1.0, 1.0, 1.0][:6]).shares().values()) == pytest.approx(1.0)


@QUICK
@given(st.floats(0.01, 5.0), st.floats(0.05, 0.9))
def test_a_dispersion_split_and_merged_conserves_every_gram(pigment, strength):
    grams = {"castor oil": 200.0, "beeswax": 40.0, "ultramarine": pigment}
    mix = Dispersion("blue in castor", {"ultramarine": strength, "castor oil": 1 - strength})
    lines = with_dispersion(grams, mix, "ultramarine")
    assert sum(lines.values()) == pytest.approx(sum(grams.values()))
    assert taken_apart(lines, [mix]) == pytest.approx(grams)


def test_percents_that_do_not_reach_100_are_asked_about():
    percent = {"castor oil": 70, "beeswax": 20}
    with pytest.raises(LabError, match="make 90 %, not 100 %"):
        Recipe.from_percent("short", percent)
    assert Recipe.from_percent("short", percent, rescale=True).percent()["beeswax"] == pytest.approx(200 / 9)
    assert Recipe.from_percent("short", percent, rest="castor oil").percent()["castor oil"] == 80.0
    with pytest.raises(LabError, match="nothing is left"):
        Recipe.from_percent("full", {"castor oil": 80, "beeswax": 20}, rest="shea butter")


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Recipe.from_grams("x", {"beeswax": 5, "Cera Alba": 2}), "are one material"),
        (lambda: Recipe.from_percent("x", {"castor oil": "80 g", "beeswax": 20}), "this is in %"),
        (lambda: Recipe.from_percent("x", {"castor oil": 250, "beeswax": 20}), "use Recipe.from_grams"),
        (lambda: Recipe.from_grams("x", {"castor oil": "1,234"}), "could be 1.234 or 1234"),
        (lambda: Recipe.from_grams("x", {"castor oil": 0}), "Leave the line out"),
        (lambda: Recipe.from_grams("x", {"castor oil": -1}), "cannot be"),
        (lambda: Recipe.from_grams("x", {"castor oil": "much"}), "no number"),
        (lambda: Recipe.from_grams("x", {"castor oil": float("nan")}), "no number"),
        (lambda: Recipe.from_grams("x", {}), "Give grams by material"),
        (lambda: Recipe.from_grams(" ", {"castor oil": 1}), "needs a name"),
        (lambda: Recipe.from_grams("x", {"castor oil": 1}).grams(0), "more than 0"),
        (lambda: Recipe.from_grams("x", {"castor oil": 1}).scaled(), "one of the two"),
        (lambda: Recipe.from_grams("x", {"castor oil": 1}).scaled(10, containers=3), "one of the two"),
        (lambda: Recipe.from_grams("x", {"castor oil": 1}).scaled(containers=3), "What goes into each"),
        (lambda: Recipe.from_grams("x", {"castor oil": 1}).scaled(containers=3, fill_ml=4), "density"),
        (
            lambda: Recipe.from_grams("x", {"castor oil": 1}).scaled(containers=3, fill_g=4, loss=1),
            "the loss",
        ),
        (lambda: Recipe.from_grams("x", {"castor oil": 1}).scaled(containers=2.5, fill_g=4), "whole number"),
        (lambda: Recipe.from_grams("x", {"castor oil": 1}).scaled("ten"), "no number"),
        (lambda: Recipe.from_grams("x", {"castor oil": True}), "no number"),
        (lambda: Recipe.from_grams("x" * 201, {"castor oil": 1}), "too long"),
        (lambda: Recipe.from_grams("x", {"castor \ud800": 1}), "cannot be kept"),
        (lambda: Recipe.from_grams("x", {"castor oil": 1}, process={"pour_c": 168}), "If that is °F"),
        (lambda: Recipe.from_grams("x", {"castor oil": 1}, process={"pour_c": float("nan")}), "no number"),
        (lambda: Recipe.from_grams("x", {"a": 1}, groups={"a": "fat"}), "is no group"),
        (lambda: Recipe.from_grams("x", {"a": 1}, groups={"b": "oil"}), "not in this recipe"),
        (
            lambda: Recipe.from_grams("x", {"castor oil": 1}).changed(weighed_g={"castor oil": -1}),
            "-1 g cannot",
        ),
        (lambda: Recipe("x", {}), "Give grams by material"),
        (
            lambda: Recipe.from_grams("x", {"castor oil": 1}).changed(percent={"castor oil": 0}),
            "Give percents",
        ),
        (
            lambda: Recipe.from_percent("x", {"castor oil": 0, "beeswax": 90}, rest="shea butter"),
            "0 % cannot",
        ),
        (lambda: Recipe.from_grams("x", {"my secret": 1}).shares(), "What does “my secret” count as"),
        (lambda: Recipe.from_grams("x", {"carmine": 1}).shares(), "no butter, oil or wax"),
    ],
)
def test_what_cannot_be_is_refused_in_words(make, said):
    with pytest.raises(LabError, match=said):
        make()


def test_decimal_commas_are_read():
    assert Recipe.from_grams("x", {"castor oil": "7,5", "beeswax": "2.5 g"}).percent()["beeswax"] == 25.0


def test_a_group_that_the_maker_says_counts():
    recipe = Recipe.from_grams("x", {"my secret": 1, "beeswax": 1}, groups={"my secret": "oil"})
    assert recipe.shares() == {"butter": 0.0, "oil": 0.5, "wax": 0.5}


def test_a_volume_is_filled_by_its_density():
    recipe = Recipe.from_grams("x", {"castor oil": 1}).scaled(containers=10, fill_ml=5.0, density_g_ml=0.95)
    assert recipe.total_g == pytest.approx(47.5)


def test_a_version_follows_from_what_is_in_it_and_where_it_came_from():
    first = Recipe.from_percent("first", {"castor oil": 80, "beeswax": 20})
    assert first.version == Recipe.from_percent("other name", {"beeswax": 20, "castor oil": 80}).version
    second = first.changed("second", weighed_g={"castor oil": 78, "beeswax": 22})
    assert second.came_from == first.version
    assert second.version != first.version
    assert first.changed(process={"pour_c": 66.0}).version != first.version
    assert first.changed("the same again").version != first.version


def test_a_recipe_cannot_be_changed():
    recipe = Recipe.from_grams("x", {"castor oil": 1})
    with pytest.raises(TypeError):
        recipe.weighed_g["castor oil"] = 2
    with pytest.raises(AttributeError):
        recipe.name = "y"


def test_a_recipe_is_copied_kept_and_counted_as_one():
    recipe = Recipe.from_percent(
        "x", {"my secret": 1, "beeswax": 99}, groups={"my secret": "oil"}, process={"pour_c": "66,5"}
    )
    assert recipe.process["pour_c"] == 66.5
    for again in (copy.deepcopy(recipe), pickle.loads(pickle.dumps(recipe))):
        assert again == recipe
        assert again.version == recipe.version
    assert len({recipe, copy.copy(recipe)}) == 1


def test_numbers_of_a_table_are_numbers():
    weighed = {"castor oil": np.float64(30.0), "beeswax": np.int64(10)}
    recipe = Recipe.from_grams("x", weighed)
    assert recipe.scaled(containers=np.int64(10), fill_g=np.float64(4)).total_g == pytest.approx(40)
    assert recipe.version == Recipe.from_percent("y", {"castor oil": "75 %", "beeswax": "25"}).version


@QUICK
@given(GRAMS, st.floats(0.5, 20.0))
def test_a_changed_line_leaves_the_batch_and_the_ratio_of_the_rest(grams, new):
    recipe = made([*grams, 20.0, 20.0][:6])
    changed = recipe.changed(percent={"beeswax": new}, rescale=True)
    assert changed.total_g == pytest.approx(recipe.total_g)
    ratio = [each.percent()["castor oil"] / each.percent()["shea butter"] for each in (recipe, changed)]
    assert ratio[0] == pytest.approx(ratio[1])
    assert changed.came_from == recipe.version


def test_a_line_of_0_percent_is_taken_out_with_its_group():
    first = Recipe.from_percent("x", {"my secret": 10, "beeswax": 90}, groups={"my secret": "oil"})
    second = first.changed(percent={"my secret": 0}, rest="Cera Alba")
    assert dict(second.percent()) == {"beeswax": 100.0}
    assert not second.groups
    assert first.changed(process={"pour_c": 70}).groups == first.groups


def test_the_line_of_descent_stops_where_an_ancestor_is_missing():
    first = Recipe.from_percent("first", {"castor oil": 80, "beeswax": 20})
    second = first.changed("second", percent={"beeswax": 22}, rest="castor oil")
    third = second.changed("third", process={"cooling": "in the cold"})
    stranger = Recipe.from_percent("stranger", {"castor oil": 70, "beeswax": 30})
    line, missing = ancestors(third, [stranger, second])
    assert [each.name for each in line] == ["second", "third"]
    assert missing == first.version
    table = descent_table(third, [first, stranger, second])
    assert table["name"].tolist() == ["first", "second", "third"]
    assert table["came_from"].tolist() == ["", first.version, second.version]
    assert table["changed"].iloc[2].startswith("cooling: not said against in the cold")
    assert "not here" in descent_table(third, [second])["changed"].iloc[0]
    assert descent_table(first.changed("other"), [first])["changed"].iloc[1] == "another name"


def test_the_lines_on_three_scales():
    table = on_scales(Recipe.from_grams("x", {"castor oil": 40, "carmine": 0.04}), 40.04)
    assert table.iloc[1].tolist()[2:] == ["", "0.04", "0.040", "less than a step of 0.1 g"]
    table = on_scales(Recipe.from_grams("x", {"castor oil": 40, "carmine": 0.26}), 40.26, ("0,1", 0.5))
    assert table.iloc[1].tolist()[2:] == ["0.3", "0.5", "+15 % on 0.1 g; less than a step of 0.5 g"]
    with pytest.raises(LabError, match="smallest change"):
        on_scales(Recipe.from_grams("x", {"castor oil": 40}), 40, (0,))
