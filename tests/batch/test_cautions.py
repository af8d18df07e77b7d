"""Cautions where the hand is."""

import pytest

from labkit.batch import cautions_for, where_cautions
from labkit.errors import LabError

SAID = {
    "hot fat": [
        "lowest flame", "hard maximum", "clipped", "No glass on the hob", "Never leave", "lid",
        "off the heat before you type",
    ],
    "water bath": ["No water near", "drips", "spits"],
    "burns": ["cool running water"],
    "powders": ["no dust", "mask", "flame"],
    "trying": ["No try on lip or skin"],
    "water in the melt": ["juice", "honey", "fresh plants", "preservative"],
    "cleaning": ["paper", "before any water", "light to dark"],
}  # fmt: skip


def test_every_place_is_checked():
    assert set(SAID) == set(where_cautions())


@pytest.mark.parametrize("where", SAID)
def test_what_must_be_said_is_said(where):
    text = " ".join(cautions_for(where))
    for words in SAID[where]:
        assert words in text


def test_all_of_them_where_nothing_is_named():
    assert len(cautions_for()) == sum(len(cautions_for(each)) for each in where_cautions())


def test_a_place_that_is_not_known_is_refused():
    with pytest.raises(LabError, match="powders"):
        cautions_for("powder")
