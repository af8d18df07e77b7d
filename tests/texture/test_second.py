"""A second question: what it allows, what it says, and what is refused in the maker's words."""

import numpy as np
import pandas as pd
import pytest

from labkit.errors import LabError
from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel
from labkit.texture.region import Region
from labkit.texture.rules import RegionError
from labkit.texture.second import NEAR, answer
from tests.bench import second_question

LADDER = ["soft", "softish", "right", "firm", "hard"]
PARTS = ["butter", "oil", "wax"]
USUAL = {"butter": 0.4, "oil": 0.45, "wax": 0.15}
REGION = Region({"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)})


def trial(shares, right_at=0.2, notes=2, seed=0):
    """Words from a surface that rises 20 rungs per unit of wax, right at a given share of it."""
    rng = np.random.default_rng(seed)
    table = pd.DataFrame(np.repeat(shares, notes, axis=0), columns=PARTS)
    felt = 2 + 20 * (table["wax"] - right_at) + rng.normal(0, 0.3, len(table))
    words = [LADDER[int(each)] for each in np.clip(np.round(felt), 0, 4)]
    return HardnessModel(LADDER).fit(table, words, pour=np.repeat(np.arange(len(shares)), notes))


WIDE = REGION.grid(60)[::5][:12]


@pytest.fixture(scope="module")
def model():
    return trial(WIDE)


def ask(model, wanted="right", **limits):
    return answer(model, REGION, wanted, start=USUAL, **limits)


# ---- what is answered ------------------------------------------------------------


def test_the_same_question_gets_the_same_answer(model):
    told, found = next_pour(model, REGION, "right", explore=False, start=USUAL).iloc[0], ask(model)
    np.testing.assert_allclose(list(found.shares.values()), told[PARTS].to_numpy(float), atol=1e-12)
    assert found.chance == found.first_chance == told["chance"]
    assert "about as likely as the best answer to your first question" in found.sentences[1]


def test_another_rung_lies_where_the_surface_says(model):
    """Wax alone hardens, 20 rungs per unit: a rung is 0.05 of wax."""
    wax = [ask(model, word, first="right").shares["wax"] for word in ("softish", "right", "firm")]
    np.testing.assert_allclose(wax, [0.15, 0.2, 0.25], atol=0.02)


@pytest.mark.parametrize("fraction", [1.0, 0.8])
def test_limits_are_of_the_finished_product(model, fraction):
    limits = {"low": {"butter": 0.4}, "high": {"oil": 0.32}, "rules": ["wax <= 0.14"]}
    found = ask(model, product_fraction=fraction, **limits)
    assert found.product["butter"] >= 0.4 - 1e-9
    assert found.product["oil"] <= 0.32 + 1e-9
    assert found.product["wax"] <= 0.14 + 1e-9
    assert sum(found.product.values()) == pytest.approx(fraction)
    corners = fraction * found.region.corners()
    assert corners["butter"].min() == pytest.approx(
        max(0.4, fraction * (1 - 0.32 / fraction - 0.14 / fraction))
    )


def test_a_rule_keeps_its_meaning_in_the_base(model):
    """Of the product: wax ≤ 0.3·butter − 0.02, with 0.8 of it varied."""
    region = ask(model, product_fraction=0.8, rules="wax <= 0.3*butter - 0.02").region
    at = REGION.grid(400)
    gap = 0.8 * at[:, 2] - (0.3 * 0.8 * at[:, 0] - 0.02)
    clear = np.abs(gap) > 1e-6
    assert (region.contains(at) == (gap <= 0))[clear].all()


def test_the_trials_own_rules_go_on_holding(model):
    ruled = Region({"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)}, rules="oil <= butter")
    found = answer(model, ruled, "firm", high={"butter": 0.35})
    assert found.shares["oil"] <= found.shares["butter"] + 1e-9
    assert found.shares["butter"] <= 0.35 + 1e-9


def test_the_chance_is_the_best_of_the_narrowed_region(model):
    found = ask(model, low={"butter": 0.45})
    at = pd.DataFrame(found.region.grid(500), columns=PARTS)
    best = model.predict(at)["right"].max()
    assert found.chance >= best - 0.02
    assert found.chance == pytest.approx(
        model.predict(pd.DataFrame([found.shares]))["right"].iloc[0], abs=1e-6
    )


# ---- known or not ----------------------------------------------------------------


def test_what_was_poured_and_felt_right_is_known():
    right = np.array([[0.4, 0.4, 0.2]] * 6)
    found = ask(trial(np.concatenate([WIDE, right])))
    assert found.known
    assert found.pour is None
    assert found.apart <= NEAR
    assert "You know it already" in found.sentences[2]
    assert not any("To find out" in each for each in found.sentences)


def test_the_nearest_pour_is_named():
    model = trial(np.concatenate([WIDE, [[0.4, 0.4, 0.2]] * 6]))
    names = [f"pour {at}" for at in range(1, model.pours + 1)]
    found = ask(model, names=names)
    off = np.abs(model.poured[PARTS].to_numpy() - list(found.shares.values())).max(axis=1)
    assert off[found.nearest] == off.min() == pytest.approx(found.apart)
    assert names[found.nearest] in found.sentences[2]


def test_far_from_all_pours_it_is_not_known_and_something_is_poured():
    """All pours hold little butter; the wish lies beyond them."""
    low = REGION.grid(400)
    found = ask(trial(low[low[:, 0] < 0.3][:8]), low={"butter": 0.5}, product_fraction=0.9)
    assert not found.known
    assert found.apart > NEAR
    points = 90 * found.apart
    assert f"differs by {points:.1f}".removesuffix(".0") in found.sentences[2]
    assert found.region.contains(found.pour[PARTS]).all()
    assert found.sentences[-1].startswith("To find out, pour ")
    assert found.pour["why"].iloc[0] in found.sentences[-1]


def test_near_pours_that_were_never_right_are_not_called_known():
    """Softest words only, and the hardest is asked for: near the pours, and no chance of it."""
    soft = np.array([[0.6, 0.3, 0.1], [0.55, 0.35, 0.1], [0.5, 0.4, 0.1]])
    region = Region({"butter": (0.5, 0.6), "oil": (0.28, 0.4), "wax": (0.1, 0.12)})
    found = answer(trial(soft), region, "hard", first="right")
    assert found.apart <= NEAR
    assert not found.known
    assert "do not say yet" in found.sentences[2]


# ---- left out --------------------------------------------------------------------


def test_a_part_left_out_is_at_nothing_and_the_guess_is_called_one(model):
    found = ask(model, without="wax", product_fraction=0.9)
    assert found.shares["wax"] == 0.0
    assert sum(found.shares.values()) == pytest.approx(1.0)
    assert not found.known
    assert (found.pour["wax"] == 0.0).all()
    least = 90 * model.poured["wax"].min()
    always = next(each for each in found.sentences if each.startswith("Every pour of yours held"))
    assert f"{least:.1f}".removesuffix(".0") in always
    assert "only carries on its trend" in always
    assert found.asked == "“right” without wax"


def test_the_chance_far_from_all_pours_is_that_of_a_guess(model):
    """The surface is less sure there than anywhere in the region."""
    found = ask(model, without="butter")
    at = model.predict(pd.DataFrame([found.shares]))
    inside = model.predict(pd.DataFrame(REGION.grid(200), columns=PARTS))
    assert at["sd"].iloc[0] > inside["sd"].max()
    assert found.chance < found.first_chance


def test_where_the_rest_cannot_make_up_for_it_the_bounds_are_widened_and_that_is_said(model):
    """Oil to 0.6 and wax to 0.3 never fill a base without butter."""
    found = ask(model, without=["butter"])
    assert any("up to 100 % oil and 50 % wax were allowed" in each for each in found.sentences)
    found = ask(model, without=["wax"])  # butter and oil to 0.6 do
    assert not any("were allowed" in each for each in found.sentences)


def test_a_part_that_was_left_out_before_is_no_guess():
    shares = np.array([[0.4, 0.6, 0.0], [0.5, 0.5, 0.0], [0.4, 0.4, 0.2], [0.3, 0.5, 0.2]])
    region = Region({"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.0, 0.3)})
    found = answer(trial(shares, right_at=0.0), region, "right", without="wax")
    assert found.apart <= 0.1
    assert not any("Every pour" in each for each in found.sentences)


# ---- what cannot be --------------------------------------------------------------


@pytest.mark.parametrize(
    ("limits", "said", "parts"),
    {
        "beyond the bounds": (
            {"low": {"butter": 0.6}},
            "Within the bounds of this trial, butter is 18 to 54 % of the finished product, so at least "
            "60 % butter cannot be had. Ask for at most 54 % butter, or widen the bounds of the trial.",
            ("butter",),
        ),
        "two lows": (
            {"low": {"butter": 0.45, "oil": 0.4}},
            "With at least 45 % butter, oil is 18 to 36 % of the finished product, so at least 40 % oil "
            "cannot be had. Ask for at most 36 % oil, or change the other wishes.",
            ("oil",),
        ),
        "turned round": (
            {"low": {"butter": 0.4}, "high": {"butter": 0.3}},
            "With at least 40 % butter, butter is 40 to 54 % of the finished product, so at most 30 % butter "
            "cannot be had.",
            ("butter",),
        ),
        "left out and asked for": (
            {"without": "wax", "low": {"wax": 0.1}}, "wax is left out and asked for", ("wax",)
        ),
        "all left out": ({"without": PARTS}, "nothing remains to pour", tuple(PARTS)),
        "a rule": (
            {"rules": ["wax >= 0.25", "oil + wax <= 0.4"]},
            "With “wax >= 0.25”, the rule “oil + wax <= 0.4” cannot be kept: it misses by at least 3 % of "
            "the finished product.",
            (),
        ),
    }.values(),
)  # fmt: skip
def test_contradictions_are_told_in_percent_of_the_product(model, limits, said, parts):
    with pytest.raises(RegionError) as caught:
        ask(model, product_fraction=0.9, **limits)
    assert said in str(caught.value)
    assert caught.value.parts == parts
    assert caught.value.rule == ("oil + wax <= 0.4" if not parts else None)


def test_what_is_offered_instead_can_be_had(model):
    assert ask(model, product_fraction=0.9, low={"butter": 0.45, "oil": 0.36}).region.corners().shape[0] == 1
    assert ask(model, product_fraction=0.9, rules=["wax >= 0.25", "oil + wax <= 0.4 + 0.0301"])


def test_a_rule_of_the_trial_that_needs_the_part_is_named(model):
    ruled = Region({"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)}, rules="wax >= 0.2*butter")
    with pytest.raises(RegionError, match=r"Without wax nothing is left .*“wax >= 0.2\*butter”"):
        answer(model, ruled, "right", without="wax")


@pytest.mark.parametrize(
    ("limits", "said"),
    {
        "a word": ({"wanted": "firmm"}, "Did you mean “firm”"),
        "the first word": ({"first": "firmm"}, "Did you mean “firm”"),
        "a part": ({"low": {"buter": 0.3}}, "Did you mean “butter”"),
        "a part left out": ({"without": "waxx"}, "Did you mean “wax”"),
        "percent": ({"low": {"butter": 40}}, "For 40 % write 0.4"),
        "no number": ({"high": {"butter": "much"}}, "give a fraction"),
        "no mapping": ({"low": 0.4}, "fraction of the finished product"),
        "nothing varied": ({"product_fraction": 0.0}, "fraction above 0"),
        "a rule": ({"rules": ["wax < 0.2"]}, "Write “<=”"),
        "too many rules": ({"rules": [f"wax <= 0.2{at}" for at in range(20)]}, "at most 16 rules"),
        "no rule": ({"rules": [0.2]}, "list of lines"),
    }.values(),
)
def test_bad_input_is_told(model, limits, said):
    with pytest.raises(LabError, match=said):
        ask(model, **limits)


# ---- simulated makers ------------------------------------------------------------


@pytest.fixture(scope="module")
def makers():
    """Three makers at the normal noise; the script has the many."""
    return second_question.run(range(1000, 1004), (1.0,))


def test_the_answer_beats_the_log_alone_and_is_near_the_best(makers):
    assert len(makers) >= 9
    assert makers["answer"].between(0.0, 1.0 + 1e-2).all()
    assert makers["answer"].mean() > 0.8
    assert makers["answer"].mean() > makers["log alone"].mean()
    told = makers["known"] == 1.0
    assert (makers["one more"] == makers["answer"])[told].all()


def test_the_report_says_whether_the_goal_is_met(makers):
    assert second_question.verdict(pd.Series([0.85, 0.86, 0.87])).endswith(", met")
    assert second_question.verdict(pd.Series([0.6, 1.0, 1.0])).endswith(", not met")  # a wide interval
    assert second_question.verdict(pd.Series([0.82, 0.83, 0.84])).endswith(", not met")
    lines = second_question.report(makers)
    assert {line.count("|") for line in lines} == {14}
    assert any("right with at least 40 % butter | all | ×1" in line for line in lines)


def test_the_log_alone_is_judged_as_told():
    """The pour nearest to the word; where none is allowed, the nearest moved; of equals the mean."""
    maker = second_question.make_quest(1000, 1.0).maker
    shares = np.array([[0.55, 0.3, 0.15], [0.3, 0.5, 0.2], [0.25, 0.5, 0.25]])
    log = second_question.Log(shares, ["soft", "soft", "right", "right", "right", "right"], None)
    both = maker.chances(shares[1:])[:, 2].mean()
    assert second_question.from_the_log(log, second_question.Ask("", "right"), maker) == (both, True)
    rich = maker.chances(shares[:1])[0, 2]
    assert second_question.from_the_log(log, second_question.Ask("", "right", 0.5), maker) == (rich, True)
    region = Region({"butter": (0.58, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)})
    moved = np.array([region.nearest(row).to_numpy() for row in shares[1:]])
    found, had = second_question.from_the_log(log, second_question.Ask("", "right", 0.58), maker)
    assert not had
    assert found == pytest.approx(maker.chances(moved)[:, 2].mean())
