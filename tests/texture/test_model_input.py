"""What a maker may hand to the map, the plan and the bounds by mistake, and what is said then."""

import numpy as np
import pandas as pd
import pytest

import labkit.texture
from labkit.errors import LabError
from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel
from labkit.texture.plan import plan_pours
from labkit.texture.region import Region
from labkit.texture.rules import RegionError
from labkit.texture.shares import check_shares, rescale

LADDER = ["soft", "right", "hard"]
REGION = Region({"oil": (0.6, 0.9), "wax": (0.1, 0.4)})
SHARES = pd.DataFrame({"oil": [0.8, 0.7], "wax": [0.2, 0.3]})


@pytest.fixture
def model():
    return HardnessModel(LADDER).fit(SHARES, ["soft", "hard"], pour=["Mon", "Tue"])


# ---- what is taken ---------------------------------------------------------------


def test_hours_without_a_dimension_are_one_number(model):
    expected = model.predict(SHARES, 12.0)
    for hours in (np.array(12.0), np.float64(12.0), 12, [12.0, 12.0]):
        pd.testing.assert_frame_equal(model.predict(SHARES, hours), expected)
    pd.testing.assert_frame_equal(model.predict(SHARES, np.array(np.nan)), model.predict(SHARES, None))
    pd.testing.assert_frame_equal(model.predict(SHARES, pd.NA), model.predict(SHARES, None))
    assert model.set_curve(SHARES[:1], np.array(12.0))["hardness"][0] == pytest.approx(
        expected["hardness"][0]
    )


def test_a_numbered_table_counts_as_bare_rows():
    """It was a bare KeyError."""
    bare, numbered = SHARES.to_numpy(), pd.DataFrame(SHARES.to_numpy())
    models = [HardnessModel(LADDER).fit(given, ["soft", "hard"]) for given in (bare, numbered)]
    assert models[0].parts == models[1].parts == ("part 1", "part 2")
    for asked in (bare, numbered, bare.tolist(), numbered.iloc[0]):
        pd.testing.assert_frame_equal(models[0].predict(asked), models[1].predict(asked))
    named = HardnessModel(LADDER).fit(SHARES, ["soft", "hard"])
    np.testing.assert_allclose(named.predict(numbered), named.predict(SHARES))


def test_answers_can_be_given_back(model):
    """Plans and suggestions carry "day", "chance" and "why" beside the parts."""
    told = next_pour(model, REGION, "right", 2)
    plan = plan_pours(REGION, 3, days=2)
    for answer in (told, plan):
        assert len(model.predict(answer)) == len(answer)
        assert REGION.contains(answer).all()
        assert len(plan_pours(REGION, 2, given=answer)) == 2
        assert check_shares(answer)[1] == ("oil", "wax")
    assert next_pour(model, REGION, "right", start=told.iloc[0], waiting=plan)["chance"][0] > 0
    pd.testing.assert_frame_equal(rescale(told), told)


def test_one_rule_may_be_given_as_one_text():
    assert Region({"oil": (0.6, 0.9), "wax": (0.1, 0.4)}, rules="wax <= 0.3").highs == (0.9, 0.4)
    assert Region({"oil": (0, 1), "wax": (0, 1)}, "wax <= 0.3") == Region(
        {"oil": (0, 1), "wax": (0, 1)}, ["wax <= 0.3"]
    )


def test_one_part_that_hardens_may_be_given_as_one_text():
    assert HardnessModel(LADDER, hardens="wax").hardens == ("wax",)


def test_rescale_is_where_messages_say():
    assert labkit.texture.rescale is rescale
    assert labkit.texture.RegionError is RegionError


# ---- what is refused -------------------------------------------------------------

FIT = {
    "notes of nothing": ((SHARES, None), "One note per row is needed, and there is none"),
    "a note missing": ((SHARES, ["soft", pd.NA]), "Row 2: there is no word"),
    "a note NaN": ((SHARES, ["soft", np.nan]), "Row 2: there is no word"),
    "a note that is a list": ((SHARES, ["soft", ["hard"]]), "Row 2: .* is not on the ladder"),
    "notes as a table": ((SHARES, SHARES), "as a list or one column"),
    "notes as an array without a dimension": ((SHARES, np.array("soft")), "is a single one"),
    "a pour that is a list": ((SHARES, ["soft", "hard"], None, [["a"], "b"]), "Row 1: .* no label of a pour"),
    "a pour missing": ((SHARES, ["soft", "hard"], None, ["a", pd.NA]), "Row 2 does not say which pour"),
    "a part without a name": ((SHARES.rename(columns={"oil": " "}), ["soft"]), "is no name for a part"),
    "a part with a number": ((SHARES.rename(columns={"oil": 3}), ["soft"]), "“3”, which is no name"),
    "shares off": ((SHARES * 0.9, ["soft", "hard"]), "Row 1 adds up to 0.9"),
    "no shares": ((None, ["soft"]), "There are no shares: give a table"),
}


@pytest.mark.parametrize(("given", "said"), FIT.values(), ids=FIT)
def test_notes_that_cannot_be_learnt_from(given, said):
    with pytest.raises(LabError, match=said):
        HardnessModel(LADDER).fit(*given)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"scale": None}, "a list of words from soft to hard; None"),
        ({"scale": 5}, "a list of words from soft to hard; 5"),
        ({"scale": LADDER, "priors": 3}, "grid_of_priors"),
    ],
)
def test_what_makes_no_model(given, said):
    with pytest.raises(LabError, match=said):
        HardnessModel(**given)


@pytest.mark.parametrize(
    ("pour", "said"),
    [
        ("Mom", "Row 1: no note is about the pour “Mom”. Did you mean “Mon”"),
        ([None, "Wed"], "Row 2: no note is about the pour “Wed”"),
        (["Mon"], "2 rows of shares but 1 pour"),
        (["Mon", "Mon"], "Row 2 gives pour “Mon” other shares"),
        ([["Mon"], None], "Row 1: .* no label of a pour"),
        (3, "no note is about the pour “3”"),
    ],
)
def test_pours_that_no_note_is_about(model, pour, said):
    with pytest.raises(LabError, match=said):
        model.predict(SHARES, pour=pour)


def test_a_model_without_labels_knows_no_pour():
    bare = HardnessModel(LADDER).fit(SHARES, ["soft", "hard"])
    with pytest.raises(LabError, match=r"“Mon”\. The notes were given without pours"):
        bare.predict(SHARES, pour="Mon")


def test_names_that_came_for_the_second_table_only():
    bare = HardnessModel(LADDER).fit(SHARES.to_numpy(), ["soft", "hard"])
    with pytest.raises(LabError, match="names its parts “oil”, “wax”, but the first rows came without"):
        bare.predict(SHARES)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"region": None}, "The bounds are nothing"),
        ({"region": {"oil": (0.6, 0.9)}}, "The bounds are a dict"),
        ({"pours": True}, "number of pours is True"),
        ({"pours": 2.0}, "number of pours is 2.0"),
        ({"batch_g": "40", "step_g": 0.5}, "The batch is '40': give grams as a number"),
        ({"batch_g": 40, "step_g": True}, "The scale's step is True: give grams"),
        ({"batch_g": 0, "step_g": 0.5}, "The batch of 0 g cannot be"),
        ({"batch_g": 40, "step_g": float("nan")}, "The scale's step of nan g cannot be"),
        ({"seed": -1}, "The seed is -1"),
        ({"seed": "seven"}, "The seed is 'seven'"),
        ({"given": [[0.5, 0.4]]}, "Row 1 adds up to 0.9"),
    ],
)
def test_plans_that_cannot_be_made(given, said):
    with pytest.raises(LabError, match=said):
        plan_pours(**{"region": REGION, "pours": 3} | given)


# ---- what a form can mark --------------------------------------------------------

OIL, WAX = (0.6, 0.9), (0.1, 0.4)
BOUNDS = {
    "a scalar": ({"oil": 0.5, "wax": WAX}, [], ("oil",), None),
    "an array without a dimension": ({"oil": np.array(0.5), "wax": WAX}, [], ("oil",), None),
    "a table": ({"oil": np.ones((2, 2)), "wax": WAX}, [], ("oil",), None),
    "a set": ({"oil": {0.5, 0.6}, "wax": WAX}, [], ("oil",), None),
    "nothing": ({"oil": None, "wax": WAX}, [], ("oil",), None),
    "no number": ({"oil": OIL, "wax": ("a", 0.4)}, [], ("wax",), None),
    "below 0": ({"oil": OIL, "wax": (-0.1, 0.4)}, [], ("wax",), None),
    "percent": ({"oil": OIL, "wax": (10, 40)}, [], ("wax",), None),
    "swapped": ({"oil": (0.9, 0.6), "wax": WAX}, [], ("oil",), None),
    "an empty name": ({"": OIL, "wax": WAX}, [], (), None),
    "a name that is none": ({None: OIL, "wax": WAX}, [], (), None),
    "one part": ({"oil": OIL}, [], (), None),
    "lows too high": ({"oil": (0.7, 0.9), "wax": (0.4, 0.5)}, [], ("oil", "wax"), None),
    "a rule that cannot be read": ({"oil": OIL, "wax": WAX}, ["wax <="], (), "wax <="),
    "a rule on no part": ({"oil": OIL, "wax": WAX}, ["wax <= 0.3", "wacks <= 0.3"], (), "wacks <= 0.3"),
    "a rule that is too long": ({"oil": OIL, "wax": WAX}, "wax <= " + "1" * 400, (), "wax <= " + "1" * 400),
    "a rule that leaves nothing": ({"oil": OIL, "wax": WAX}, ["oil<=0.5"], ("oil",), "oil<=0.5"),
    "a chain that leaves nothing": (
        {"oil": OIL, "wax": WAX},
        ["0.45 <= wax <= 0.5"],
        ("oil",),
        "0.45 <= wax <= 0.5",
    ),
    "rules that are a mapping": ({"oil": OIL, "wax": WAX}, {"wax": 0.3}, (), None),
}


@pytest.mark.parametrize(("bounds", "rules", "parts", "rule"), BOUNDS.values(), ids=BOUNDS)
def test_an_error_says_which_parts_or_rule_it_is_about(bounds, rules, parts, rule):
    with pytest.raises(RegionError) as caught:
        Region(bounds, rules)
    assert (caught.value.parts, caught.value.rule) == (parts, rule)
    assert all(part in str(caught.value) for part in parts)
