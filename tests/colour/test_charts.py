"""The charts' colours, against colour-science and against measured spectra."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from labkit.colour.charts import charts, find_chart, own_card, read_reference, to_d65
from labkit.colour.cie import colour_science, delta_e00, white
from labkit.errors import LabError
from tests.colour.cameras import chart_reflectance, lab_in_daylight

PUBLISHED = "cca2014"  # the key of colour-science's data set, charts made since November 2014


def published():
    colour = colour_science()
    return colour.CCS_COLOURCHECKERS[PUBLISHED]


def test_the_24_patches_are_those_of_colour_science():
    """xyY under D50, brought to D65 by colour-science's Bradford transform."""
    colour = colour_science()
    data = published()
    daylight = colour.xy_to_XYZ(data.illuminant)
    xyz = colour.chromatic_adaptation(
        colour.xyY_to_XYZ(np.array(list(data.data.values()))),
        daylight,
        white(),
        method="Von Kries",
        transform="Bradford",
    )
    wanted = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(white()))
    np.testing.assert_allclose(charts()["24-patch chart"].lab, wanted, atol=2e-4)


def test_the_patches_go_by_row_as_published():
    chart = charts()["24-patch chart"]
    assert (chart.rows, chart.columns) == (published().rows, published().columns)
    assert list(chart.patches) == [name.split(" (")[0] for name in published().data]


def test_they_agree_with_measured_spectra_under_d65():
    """Thirty other charts of the kind, measured as spectra: there adaptation is not needed."""
    off = delta_e00(charts()["24-patch chart"].lab, lab_in_daylight(chart_reflectance()))
    assert np.median(off) < 1
    assert off.max() < 3


def test_the_greys_are_the_last_row():
    chart = charts()["24-patch chart"]
    assert chart.grey.tolist() == [False] * 18 + [True] * 6
    assert not charts()["6-patch card"].grey.any()
    assert charts()["grey card"].grey.all()


def test_the_six_are_the_third_row():
    six, all_of_them = charts()["6-patch card"], charts()["24-patch chart"]
    np.testing.assert_array_equal(six.lab, all_of_them.lab[12:18])
    assert six.patches == ("blue", "green", "red", "yellow", "magenta", "cyan")
    assert (six.rows, six.columns) == (1, 6)


def test_a_grey_card_reflects_18_percent():
    np.testing.assert_allclose(charts()["grey card"].xyz[0], 0.18 * white(), atol=5e-4)


def test_d50_values_become_d65():
    """Published CIELAB under D50 of three patches (from memory), beside what the chart holds."""
    given = np.array([[37.54, 14.37, 14.92], [64.66, 19.27, 17.5], [95.19, -1.03, 2.93]])
    held = charts()["24-patch chart"].lab[[0, 1, 18]]
    assert delta_e00(to_d65(given, "D50"), held).max() < 0.1
    assert delta_e00(given, held).max() > 0.5


FOUR = [[38.0, 14.1, 14.9], [65.2, 18.8, 17.9], [50.0, -4.9, -21.9], [43.1, -13.1, 21.9]]


@pytest.mark.parametrize(
    "table",
    [
        FOUR,
        np.array(FOUR),
        pd.DataFrame(FOUR, columns=["L", "a", "b"]),
        pd.DataFrame(FOUR, columns=["L", "a", "b"])[["b", "L", "a"]],
        "L,a,b\n38,14.1,14.9\n65.2,18.8,17.9\n50,-4.9,-21.9\n43.1,-13.1,21.9\n",
        "38.0,14.1,14.9\n65.2,18.8,17.9\n50.0,-4.9,-21.9\n43.1,-13.1,21.9",
        "\ufeffpatch;b*;a*;L*\n1;14,9;14,1;38,0\n2;17,9;18,8;65,2\n3;-21,9;-4,9;50\n4;21,9;-13,1;43,1\n".encode(),
        "38\t14,1\t14,9\n\n65,2\t18,8\t17,9\n50\t-4,9\t-21,9\n43,1\t-13,1\t21,9",
    ],
)
def test_own_values_are_read_in_many_forms(table):
    np.testing.assert_allclose(read_reference(table), FOUR)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("", "is empty"),
        (b"PK\x03\x04", "spreadsheet"),
        ("38;14\n", "has 2 columns"),
        ("38,0,14,1,14,9\n", "has 6 columns.*semicolons"),
        ("L;a;b\n38;14,1;soft\n", "Row 1 .*“soft” is no number"),
        ("L;a;b\n38;14,1;14,9\n38;14,1\n", "Row 2 .*“” is no number"),
        ([[138.0, 0, 0]], "Row 1: L 138, a 0, b 0 cannot be a colour"),
        ([[38.0, 0, 0], [50, 0, 300]], "Row 2"),
        ([[38.0, np.nan, 0]], "Row 1 has a value missing"),
        ([[38.0, 1]], "columns L, a, b"),
        ([1, 2, 3], "columns L, a, b"),
        ([["x", 1, 2]], "no number"),
        (pd.DataFrame({"L": [1.0]}), "needs the columns L, a and b"),
        ("L;a;b\n", "columns L, a, b"),
    ],
)
def test_a_table_that_cannot_be_read_is_refused(table, said):
    with pytest.raises(LabError, match=said):
        read_reference(table)


def test_own_values_must_fit_the_chart():
    with pytest.raises(LabError, match="6-patch card has 6 patches, and the table has 4 rows"):
        find_chart("6-patch card", FOUR)
    own = find_chart("grey card", [[51.0, 0.5, -1.0]])
    assert own.lab.tolist() == [[51.0, 0.5, -1.0]]
    assert charts()["grey card"].lab.tolist() == [[49.5, 0.0, 0.0]]


def test_a_chart_is_its_own_name():
    made = replace(charts()["6-patch card"], name="mine")
    assert find_chart(made) is made


def test_an_unknown_chart_has_a_near_name():
    with pytest.raises(LabError, match="“24-patch chart”"):
        find_chart("24 patch chart")


def test_an_own_card_has_rows():
    card = own_card(np.tile(FOUR, (3, 1)), rows=2)
    assert (card.rows, card.columns, len(card)) == (2, 6, 12)
    with pytest.raises(LabError, match="needs 6 patches or more; the table has 4"):
        own_card(FOUR)
    with pytest.raises(LabError, match="12 patches do not fill 5 equal rows"):
        own_card(np.tile(FOUR, (3, 1)), rows=5)


def test_only_two_illuminants_are_known():
    with pytest.raises(LabError, match="not for “A”"):
        to_d65(np.array(FOUR), "A")
