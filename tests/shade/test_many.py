"""Many blends at once are the same as each alone."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import LabError
from labkit.shade.backing import names as backing_names
from labkit.shade.film_colour import predict
from labkit.shade.many import predict_many
from labkit.shade.medium import Medium
from labkit.shade.pigments import default_pigments

PIGMENTS = default_pigments()
NAMES = ["red iron oxide", "titanium dioxide", "ultramarine", "carmine"]
FILMS = st.one_of(st.sampled_from([0.0, math.inf]), st.floats(0.01, 1000))
BACKINGS = st.one_of(
    st.sampled_from(backing_names()),
    st.tuples(st.floats(30, 80), st.floats(0, 20), st.floats(0, 20)),
    st.lists(st.floats(0, 1), min_size=36, max_size=36),
)
BLENDS = st.dictionaries(st.sampled_from(PIGMENTS.names), st.floats(0, 30), min_size=1, max_size=3)


def some(n, seed=3):
    return np.random.default_rng(seed).uniform(0, 10, (n, len(NAMES)))


@settings(deadline=None, max_examples=60)
@given(BLENDS, FILMS, BACKINGS)
def test_one_of_many_is_the_one_alone(blend, film_um, backing):
    found = predict_many([list(blend.values())], list(blend), film_um, backing)
    assert found.shape == (1, 3)
    assert found[0] == pytest.approx(predict(blend, film_um, backing).lab, abs=1e-8)


@pytest.mark.parametrize("load", [0.0, 1e-12, 1e-6, 100.0])
@pytest.mark.parametrize("film_um", [0.0, 1e-9, 10.0, 1e9, math.inf])
def test_the_limits_are_those_of_the_one_alone(load, film_um):
    """A trace of pigment in an endless film once showed its backing."""
    with np.errstate(divide="raise", over="raise", invalid="raise"):
        found = predict_many([[load]], ["titanium dioxide"], film_um, "lip")
    assert found[0] == pytest.approx(predict({"titanium dioxide": load}, film_um, "lip").lab, abs=1e-8)


@pytest.mark.parametrize("n", [1, 499, 500, 501, 1203])
def test_every_row_is_computed_whatever_their_number(n):
    """Blends are taken some hundreds at a time; rows beside a border are as any other."""
    loads = some(n)
    found = predict_many(loads, NAMES)
    assert found.shape == (n, 3)
    rows = sorted({0, n // 2, n - 1} | {at for at in (498, 499, 500, 501, 999, 1000) if at < n})
    for at in rows:
        alone = predict(dict(zip(NAMES, loads[at], strict=True)))
        assert found[at] == pytest.approx(alone.lab, abs=1e-9)
    assert found[:1] == pytest.approx(predict_many(loads[:1], NAMES), abs=1e-9)


def test_no_blend_gives_no_colour():
    assert predict_many(np.empty((0, 2)), NAMES[:2]).shape == (0, 3)


def test_a_single_row_may_be_given_plainly():
    assert (predict_many([6.0, 2.0], NAMES[:2]) == predict_many([[6.0, 2.0]], NAMES[:2])).all()


def test_the_order_of_the_columns_does_not_matter():
    loads = some(20)
    turned = predict_many(loads[:, ::-1], NAMES[::-1])
    assert turned == pytest.approx(predict_many(loads, NAMES), abs=1e-9)


def test_a_column_of_nothing_changes_nothing():
    loads = some(20)
    loads[:, 3] = 0
    assert predict_many(loads, NAMES) == pytest.approx(predict_many(loads[:, :3], NAMES[:3]), abs=1e-9)


def test_the_loads_stay_as_they_were():
    loads = some(20)
    before = loads.copy()
    predict_many(loads, NAMES)
    assert (loads == before).all()


def test_a_pigment_may_be_named_by_its_number():
    assert (predict_many(some(3)[:, :1], ["CI 77491"]) == predict_many(some(3)[:, :1], NAMES[:1])).all()


def test_own_pigments_and_base_are_used():
    own, base = PIGMENTS.only(NAMES[::-1]), Medium(1.1, 1.5)
    found = predict_many(some(2), NAMES, 5.0, "skin dark", own, base)
    for at, loads in enumerate(some(2)):
        alone = predict(dict(zip(NAMES, loads, strict=True)), 5.0, "skin dark", own, base)
        assert found[at] == pytest.approx(alone.lab, abs=1e-9)


@pytest.mark.parametrize(
    ("loads", "names", "told"),
    {
        "unknown": ([[1.0]], ["carmin"], "Did you mean “carmine”"),
        "twice": ([[1.0, 2.0]], ["carmine", "Carmine"], "stands there twice"),
        "negative": ([[1.0], [-0.5]], ["carmine"], r"carmine \(row 2\): -0.5 % cannot be"),
        "missing": ([[1.0], [2.0], [math.nan]], ["carmine"], r"carmine \(row 3\): nan % cannot be"),
        "past 100": ([[60.0, 60.0]], ["carmine", "mica"], "add up to 120 %"),
        "columns": ([[1.0, 2.0]], ["carmine"], "there are 1 pigments: one column for each"),
        "text": ([["a bit"]], ["carmine"], "not all are numbers. Give mass %"),
        "ragged": ([[1.0], [1.0, 2.0]], ["carmine"], "not all are numbers. Give mass %"),
        "three-dimensional": ([[[1.0]]], ["carmine"], "a row for each blend"),
    }.values(),
)
def test_blends_that_cannot_be_are_refused(loads, names, told):
    with pytest.raises(LabError, match=told):
        predict_many(loads, names)


@pytest.mark.parametrize(
    ("film_um", "told"), [(-1, "cannot be"), (math.nan, "cannot be"), ([5, 10], "more than one thickness")]
)
def test_a_film_that_cannot_be_is_refused(film_um, told):
    with pytest.raises(LabError, match=told):
        predict_many([[1.0]], ["carmine"], film_um)


@pytest.mark.parametrize("backing", ["lipp", np.full((2, 36), 0.5), np.full(36, 50.0)])
def test_a_backing_that_is_none_is_refused(backing):
    with pytest.raises(LabError, match="backing"):
        predict_many([[1.0]], ["carmine"], backing=backing)


def test_columns_of_a_table_are_found_by_their_names():
    table = pd.DataFrame({"carmine": [1.0, 2.0], "mica": [3.0, 0.0]})
    wanted = predict_many(table.to_numpy(), ["carmine", "mica"])
    assert predict_many(table[["mica", "carmine"]], ["carmine", "mica"]) == pytest.approx(wanted)
