"""Numbers as they are typed: none is read as something else without asking."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import LabError, did_you_mean
from labkit.quantities import decimals, in_ten, read_number, read_step, show_grams


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("2.5", 2.5),
        ("2,5", 2.5),
        (" 2,5 g ", 2.5),
        ("0,125", 0.125),
        (".5", 0.5),
        ("5.", 5.0),
        ("−3", -3.0),
        ("1,234.5", 1234.5),
        ("1.234,5", 1234.5),
        ("1,234,567", 1234567.0),
        ("1.234", 1.234),
        ("12,34", 12.34),
    ],
)
def test_what_is_typed_is_what_is_read(typed, number):
    assert read_number(typed, "wax", "g") == number


@pytest.mark.parametrize(
    "typed", ["", "abc", "1e5", "1.2.3", "1,,2", "nan", "inf", "12 %", "<b>2</b>", "2 2"]
)
def test_what_is_no_number_is_said(typed):
    with pytest.raises(LabError, match="wax"):
        read_number(typed, "wax", "g")


def test_a_number_that_could_be_two_is_asked():
    with pytest.raises(LabError, match=r"1\.234 or 1234"):
        read_number("1,234", "batch", "g")


@given(st.floats(min_value=0, max_value=1e6), st.integers(min_value=0, max_value=3))
def test_what_is_shown_reads_back_with_point_and_with_comma(number, places):
    shown = f"{number:.{places}f}"
    assert read_number(shown, "wax", "g") == float(shown)
    if places != 3 or number < 1 or number >= 1000:
        assert read_number(shown.replace(".", ","), "wax", "g") == float(shown)


@pytest.mark.parametrize("typed", ["0", "-1", "11"])
def test_a_step_that_no_scale_has_is_refused(typed):
    with pytest.raises(LabError, match="smallest change"):
        read_step(typed)


def test_grams_are_shown_as_the_scale_shows_them():
    assert show_grams(12.5, 0.01) == "12.50"
    assert show_grams(12.0, 1) == "12"
    assert [decimals(step) for step in (1, 0.5, 0.1, 0.05, 0.001)] == [0, 1, 1, 2, 3]


@given(st.floats(min_value=0, max_value=1))
def test_no_chance_is_shown_as_certain(chance):
    assert in_ten(chance) not in ("0 in 10", "10 in 10")


def test_near_names_are_offered_else_all():
    assert "“soft”" in did_you_mean("SOFFT", ["soft", "hard"])
    assert did_you_mean("zzz", ["soft", "hard"]) == "Known: “soft”, “hard”."
