"""Powders for soap, candles, art and craft are refused for lips."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.materials import colourants, refused_grade


@pytest.mark.parametrize(
    ("typed", "grade"),
    [
        ("soap grade", "Soap"),
        ("Soap-Grade ultramarine", "Soap"),
        ("mica for soap making", "Soap"),
        ("soap grade, seller says lip safe", "Soap"),  # the seller's word does not outweigh the grade
        ("candle dye", "Candle"),
        ("candle-grade", "Candle"),
        ("art grade", "Art"),
        ("artist’s pigment", "Art"),
        ("artists' quality red oxide", "Art"),
        ("craft mica", "Craft"),
        ("CRAFT  GRADE", "Craft"),
        ("hobby pigment for epoxy", "Craft"),
    ],
)
def test_refused_with_a_reason_and_a_cure(typed, grade):
    refused = refused_grade(typed)
    assert refused.startswith(f"{grade} grade is refused for lips. ")
    assert "certificate of analysis" in refused


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "cosmetic grade",
        "red iron oxide, lip safe",
        "cosmetic grade, also used in soap",
        "not craft grade",
        "non-soap grade",
        "soapstone",
        "fine particles, smart tin",
        "state of the art dispersion",
    ],
)
def test_not_refused(typed):
    assert refused_grade(typed) is None


@pytest.mark.parametrize("each", colourants(), ids=lambda each: each.name)
def test_no_colourant_is_refused_for_its_name(each):
    assert refused_grade(each.name) is None


@given(st.text(max_size=80))
def test_any_text_gets_an_answer(text):
    assert refused_grade(text) is None or "refused for lips" in refused_grade(text)
