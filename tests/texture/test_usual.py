"""From a usual recipe and a complaint to a question, and what it is in the pan."""

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.book import RecordError
from labkit.errors import LabError
from labkit.texture.first import first_pours
from labkit.texture.record import HELD, Question
from labkit.texture.standing import region_of
from labkit.texture.usual import base_shares, default_bounds, guess_part, make_question, one_change
from labkit.texture.weigh import Weighing, apportion

USUAL = {"shea butter": 12.0, "cocoa butter": 6.0, "castor oil": 20.0, "beeswax": 6.0, "red iron oxide": 4.0}


@pytest.mark.parametrize(
    ("name", "part"),
    [
        ("Cera Alba", "wax"),
        ("BEESWAX", "wax"),
        ("mango butter", "butter"),
        ("squalane", "oil"),
        ("magnesium stearate", HELD),
        ("something else", HELD),
    ],
)
def test_a_part_is_guessed_from_the_name(name, part):
    assert guess_part(name) == part


def test_the_usual_lies_inside_its_default_bounds():
    question = make_question(USUAL, "too soft")
    assert region_of(question).contains(base_shares(question.usual))[0]


@given(st.lists(st.floats(min_value=0.5, max_value=80), min_size=3, max_size=3))
def test_default_bounds_never_leave_nothing(grams):
    question = make_question(dict(zip(["shea butter", "castor oil", "beeswax"], grams, strict=True)))
    assert len(region_of(question).corners())


def test_one_change_answers_the_complaint_and_changes_one_pair():
    for wrong, sign in (("too soft", 1), ("too hard", -1)):
        question = make_question(USUAL, wrong)
        before, after = base_shares(question.usual), one_change(question)
        assert sum(after.values()) == pytest.approx(1)
        assert (after["wax"] - before["wax"]) * sign > 0
        assert after["butter"] == before["butter"]


def test_the_change_of_a_complaint_in_ones_own_words_is_more_wax():
    question = make_question(USUAL, "not hard enough")
    assert one_change(question)["wax"] > base_shares(question.usual)["wax"]


@pytest.mark.parametrize(
    ("question", "why"),
    [
        ({"rules": "wax <= 0.14"}, "the nearest to one change"),
        ({"bounds": {"wax": (0.02, 6 / 44), "oil": (20 / 44, 0.9), "butter": (18 / 44, 0.9)}}, "no change"),
    ],
)
def test_a_first_change_that_the_bounds_forbid_is_not_called_one_change(question, why):
    asked = make_question(USUAL, **question)
    region = region_of(asked)
    changed = first_pours(asked, region)[2]
    assert why in changed.why
    assert region.contains(pd.DataFrame([changed.shares]))[0]


def test_bounds_may_be_given_for_one_part():
    question = make_question(USUAL, bounds={"wax": (0.05, 0.4)})
    assert (question.low["wax"], question.high["wax"]) == (0.05, 0.4)
    shares = base_shares(question.usual)
    assert (question.low["oil"], question.high["oil"]) == default_bounds(shares)["oil"]


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"usual": {"beeswax": 3.0, "pigment": 2.0}}, "2 to 6 parts"),
        ({"wanted": "jsut right"}, "just right"),
        ({"ladder": ("soft",), "wanted": "soft"}, "at least two words"),
        ({"step_g": 0.0}, "scale"),
        ({"step_g": float("nan")}, "scale"),
        ({"step_g": 10.0}, "less than one step of your scale"),
        ({"batch_g": 0.0}, "Finished product"),
        ({"batch_g": 0.5}, "Pour 0.8 g or more"),
        ({"ladder": "soft"}, "two words"),
        ({"ladder": ("soft", "Soft")}, "twice"),
        ({"ladder": ("soft", "sd"), "wanted": "sd"}, "name of a column"),
        ({"ladder": ("soft", ""), "wanted": "soft"}, "needs a word"),
        ({"parts": {"castor oil": "hours"}}, "cannot be called “hours”"),
        ({"parts": {"castor": "oil"}}, "castor oil"),
        ({"bounds": {"waxx": (0.1, 0.2)}}, "“wax”"),
        ({"bounds": {"wax": 0.1}}, "low and a high"),
        ({"bounds": (0.1, 0.2)}, "by part"),
        ({"usual": None}, "grams by ingredient"),
        ({"usual": {"beeswax": "6", "castor oil": 20}}, "beeswax: 6 g"),
        ({"usual": {"beeswax": None, "castor oil": 20}}, "beeswax"),
        ({"usual": {"": 6, "castor oil": 20}}, "name of an ingredient"),
        ({"usual": {"beeswax": 6, "Beeswax": 1, "castor oil": 20}}, "twice"),
    ],
)
def test_a_question_that_cannot_be_is_said_in_words(changes, message):
    with pytest.raises(LabError, match=message):
        make_question(**{"usual": USUAL, **changes})


def test_an_ingredient_stands_once():
    question = make_question(USUAL).payload()
    with pytest.raises(RecordError, match="twice"):
        Question.of({**question, "usual": [*question["usual"], question["usual"][0]]})


# ---------------------------------------------------------------- in the pan


@given(
    st.integers(min_value=0, max_value=500),
    st.dictionaries(
        st.text(min_size=1, max_size=3), st.floats(min_value=0.01, max_value=9), min_size=1, max_size=5
    ),
)
def test_apportioning_loses_no_step_and_strays_by_less_than_one(total, weights):
    split, whole = apportion(total, weights), sum(weights.values())
    assert sum(split.values()) == total
    assert all(abs(split[name] - total * weight / whole) < 1 + 1e-6 for name, weight in weights.items())


@pytest.mark.parametrize("step", [1.0, 0.1, 0.01])
def test_grams_are_whole_steps_and_come_back_as_the_shares(step):
    question = make_question(USUAL, step_g=step, batch_g=48.0)
    weighing, shares = Weighing(question), base_shares(make_question(USUAL).usual)
    grams = weighing.grams(shares)
    assert all(abs(each / step - round(each / step)) < 1e-6 for each in grams.values())
    assert sum(grams.values()) == pytest.approx(48.0, abs=step)
    for part, share in weighing.shares(grams).items():
        assert share == pytest.approx(shares[part], abs=step / weighing.base_g)


def test_what_the_scale_is_too_coarse_for_is_said_and_not_weighed_as_nothing():
    weighing = Weighing(make_question({**USUAL, "tocopherol": 0.3}, step_g=1.0))
    assert weighing.grams(base_shares(weighing.question.usual))["tocopherol"] == 0.3
    coarse, blurred = weighing.remarks()
    assert coarse.startswith("0.3 g tocopherol: less than a step of your scale")
    assert blurred.startswith("One step of your scale is 2.3 % of this base")
    assert Weighing(make_question(USUAL, step_g=0.1)).remarks() == []


def test_a_group_keeps_its_inner_ratio():
    grams = Weighing(make_question(USUAL, step_g=0.01)).grams({"butter": 0.3, "oil": 0.5, "wax": 0.2})
    assert grams["shea butter"] / grams["cocoa butter"] == pytest.approx(2, abs=0.01)


def test_what_is_held_keeps_its_part_of_the_product():
    weighing = Weighing(make_question(USUAL, step_g=0.01))
    fractions = weighing.fractions(weighing.grams({"butter": 0.3, "oil": 0.5, "wax": 0.2}))
    assert fractions[HELD] == pytest.approx(4 / 48, abs=0.001)
    assert sum(fractions.values()) == pytest.approx(1)


def test_an_ingredient_of_another_trial_is_refused_by_name():
    with pytest.raises(LabError, match=r"candelilla.*start another trial"):
        Weighing(make_question(USUAL)).check({"candelilla wax": 3.0})
    with pytest.raises(LabError, match="beeswax"):
        Weighing(make_question(USUAL)).check({"beeswaxx": 3.0})


def test_pigment_alone_is_no_pour():
    with pytest.raises(LabError, match="varies"):
        Weighing(make_question(USUAL)).check({"red iron oxide": 3.0})
