"""Comparisons of two sticks: against brute force, what they tell, and what cannot be."""

import numpy as np
import pandas as pd
import pytest

from labkit.errors import LabError
from labkit.texture.comparisons import SAME_WITHIN, ComparisonRows, find_ring, read_comparisons
from labkit.texture.hardness import HardnessModel
from labkit.texture.touch import Touch
from tests.texture import brute
from tests.texture.literal import note_chance

SET = [
    {"shares": row, "hours": np.inf, "pour": name} for row, name in zip(brute.ROWS, brute.POURS, strict=True)
]


def fit(comparisons, notes=brute.WORDS, priors=None):
    model = HardnessModel(brute.WORDS, priors=priors)
    return model.fit(brute.shares(), notes, brute.HOURS, brute.POURS, comparisons=comparisons)


# ---- against brute force ---------------------------------------------------------


@pytest.mark.parametrize("notes", [(0, 1, 2), (None, 1, None)])
def test_against_draws_from_the_prior(notes):
    """Two pours, the same feel, and two comparisons with one reference stick of unknown hardness."""
    given = [("c", "harder", "a"), ("c", "same", "b"), ("a", "softer", "old"), ("b", "harder", "old")]
    fitted = fit(given, [None if each is None else brute.WORDS[each] for each in notes], brute.two_sets())
    compared = [(5, "harder", 3), (5, "same", 4), (3, "softer", -1), (4, "harder", -1)]
    places, priors = [{}, {}, {}, *SET], brute.two_sets()
    brute.check(fitted, priors, list(notes), places=places, compared=compared, sticks=1)


def test_at_hours_against_draws_from_the_prior():
    """Felt at three hours, both with what is left of their own change; the start that they share cancels."""
    places = [{}, {}, {}, *({**place, "hours": 3.0} for place in SET)]
    fitted = fit([("c", "softer", "a", 3.0)], priors=brute.two_sets())
    brute.check(fitted, brute.two_sets(), [0, 1, 2], places=places, compared=[(5, "softer", 3)])


@pytest.mark.parametrize("relation", [0, 1, 2])
def test_rows_against_the_literal_chance_and_by_differences(relation):
    touch = Touch([np.array([0]), np.array([1])], [np.ones((1, 1)), -np.ones((1, 1))])
    made = ComparisonRows(touch, np.array([relation]), 2, np.array([0.6]))
    at, step = np.array([[2.0, 1.3]]), 1e-5
    expected = note_chance(0.7, [-SAME_WITHIN, SAME_WITHIN], relation, 0.6)
    assert made.value(at)[0] == pytest.approx(np.log(expected), rel=1e-12)
    gradient, curvature = made.slopes(at)
    for each in range(2):
        off = step * np.eye(2)[each]
        by_value = (made.value(at + off) - made.value(at - off)) / (2 * step)
        np.testing.assert_allclose(gradient[:, each], by_value, rtol=1e-6)
        by_slope = (made.slopes(at + off)[0] - made.slopes(at - off)[0]) / (2 * step)
        np.testing.assert_allclose(-curvature[:, each], by_slope, rtol=1e-6)


# ---- what they tell --------------------------------------------------------------


def hardness(model):
    found = model.predict(brute.shares(), pour=brute.POURS)["hardness"]
    return dict(zip(brute.POURS, found, strict=True))


def test_harder_lifts_the_one_and_lowers_the_other():
    words = ["right"] * 3
    before, after = hardness(fit(None, words)), hardness(fit([("a", "harder", "b")] * 2, words))
    assert after["a"] > before["a"]
    assert after["b"] < before["b"]
    turned = hardness(fit([("b", "softer", "a")] * 2, words))
    np.testing.assert_allclose(list(turned.values()), list(after.values()), atol=1e-9)


def test_a_reference_stick_joins_pours_that_were_never_side_by_side():
    words = ["right"] * 3
    after = hardness(fit([("a", "harder", "old"), ("b", "softer", "old")] * 2, words))
    before = hardness(fit(None, words))
    assert after["a"] - after["b"] > before["a"] - before["b"] + 0.3
    assert "“old” counts as a kept reference stick" in fit([("a", "harder", "old")]).cautions[0]


def test_a_pour_without_a_word_counts_where_its_shares_are_known():
    fitted = fit([("c", "harder", "b")], ["softish", "right", None])
    assert fitted.pours == 3
    assert hardness(fitted)["c"] > hardness(fit([("c", "softer", "b")], ["softish", "right", None]))["c"]


def test_tables_and_tuples_say_the_same():
    rows = [("a", "softer", "b", 3.0), ("c", "same", "b", None)]
    table = pd.DataFrame(rows, columns=["pour", "relation", "than", "hours"])
    for given in (table, table[["hours", "than", "pour", "relation"]], rows, [list(row) for row in rows]):
        assert hardness(fit(given)) == hardness(fit(rows))
    assert hardness(fit([])) == hardness(fit(None))


# ---- what cannot be --------------------------------------------------------------

BAD = {
    "with itself": ([("a", "same", "a")], "Comparison 1 compares “a” with itself"),
    "a ring": (
        [("a", "harder", "b"), ("b", "harder", "c"), ("a", "softer", "c")],
        "ring: “a” harder than “b”, “b” harder than “c”, “c” harder than “a”.*which of them do you take back",
    ),
    "both ways": ([("a", "harder", "b"), ("b", "harder", "a")], "in a ring: “a” harder than “b”, “b” harder"),
    "a ring through a stick": (
        [("a", "harder", "old"), ("b", "softer", "old"), ("b", "harder", "a")],
        "“old”",
    ),
    "another word": ([("a", "hardr", "b")], "Comparison 1: “hardr” is none of.*“harder”"),
    "no relation": ([("a", None, "b")], "Comparison 1: “None” is none of"),
    "a pour without shares": ([("d", "harder", "a")], "“d”, and its shares are not known: add a row"),
    "no pour": ([(None, "harder", "a")], "Comparison 1 names None"),
    "two cells": ([("a", "harder")], "write pour, relation, than"),
    "a text": ("a harder b", "Comparisons are rows"),
    "a row of text": (["a harder b"], "Comparison 1 is 'a harder b'"),
    "hours before the pour": ([("a", "harder", "b", -2)], "before its pour"),
    "very many": ([("a", "same", "b")] * 5001, "at most 5,000 comparisons.*5,001"),
}


@pytest.mark.parametrize(("given", "said"), BAD.values(), ids=BAD)
def test_comparisons_that_cannot_be(given, said):
    with pytest.raises(LabError, match=said):
        fit(given)


def test_comparisons_need_names_of_pours():
    with pytest.raises(LabError, match="say with pour=… which pour each row is"):
        HardnessModel(brute.WORDS).fit(brute.shares(), brute.WORDS, comparisons=[(1, "harder", 2)])


def test_no_ring_where_hours_differ_or_chains_meet():
    """Softer at first and harder when set is no contradiction, nor are two ways down to one pour."""
    fit([("a", "harder", "b", 2.0), ("a", "softer", "b", 48.0)])
    fit([("a", "harder", "b"), ("b", "harder", "c"), ("a", "harder", "c"), ("a", "same", "b")])
    assert find_ring({1: [2, 3], 2: [4], 3: [4], 4: [5]}) == []
    assert find_ring({1: [2], 2: [3, 4], 4: [2]}) == [2, 4, 2]


def test_a_long_chain_is_read_at_once():
    """No recursion: a chain of thousands would pass Python's limit."""
    chain = {at: [at + 1] for at in range(5000)}
    assert find_ring(chain) == []
    assert len(find_ring(chain | {5000: [0]})) == 5002


def test_labels_are_numbered():
    found = read_comparisons([(2, "harder", "x"), (1, "same", "y"), (1, "same", "x")], {1: 0, 2: 1})
    assert (found.than.tolist(), found.sticks) == ([-1, -2, -1], ("x", "y"))
