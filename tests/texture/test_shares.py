import numpy as np
import pandas as pd
import pytest

from labkit.errors import LabError
from labkit.texture.shares import check_shares, rescale

PARTS = ("butter", "oil", "wax")


def test_columns_are_read_by_name_and_day_is_left_aside():
    frame = pd.DataFrame({"wax": [0.2], "day": [1], "butter": [0.3], "oil": [0.5]})
    table, parts = check_shares(frame, PARTS)
    assert parts == PARTS
    np.testing.assert_array_equal(table, [[0.3, 0.5, 0.2]])
    assert check_shares(frame)[1] == ("wax", "butter", "oil")


@pytest.mark.parametrize(
    "shares", [{"wax": 0.2, "butter": 0.3, "oil": 0.5}, [0.3, 0.5, 0.2], [[0.3, 0.5, 0.2]]]
)
def test_one_composition_in_several_shapes(shares):
    np.testing.assert_array_equal(check_shares(shares, PARTS)[0], [[0.3, 0.5, 0.2]])
    np.testing.assert_array_equal(check_shares(pd.Series(shares), PARTS)[0], [[0.3, 0.5, 0.2]]) if isinstance(
        shares, dict
    ) else None


def test_no_rows_are_no_error():
    assert check_shares(np.empty((0, 3)), PARTS)[0].shape == (0, 3)
    assert check_shares(pd.DataFrame(columns=list(PARTS)), PARTS)[0].shape == (0, 3)


@pytest.mark.parametrize(
    ("shares", "told"),
    [
        ([[0.3, 0.5, 0.2], [0.3, 0.5, 0.17]], "Row 2 adds up to 0.97, 0.03 short of 1"),
        ([[0.4, 0.5, 0.2]], "1.1, 0.1 over 1.*rescale"),
        ([[30, 50, 20]], "looks like percent.*divide each by 100"),
        ([[0.6, 0.6, -0.2]], "wax is -0.2, and no share can be below 0"),
        ([[0.6, np.nan, 0.4]], "oil is missing or no number"),
        ([[0.6, None, 0.4]], "oil is missing or no number"),
        ([[0.6, np.inf, 0.4]], "oil is missing or no number"),
        ([[0.6, "much", 0.4]], "Row 1: oil is “much”, which is no number"),
        ([[0.5, 0.5]], "a row of 3 shares"),
        ([[0.5, 0.5], [1.0]], "no number|a row of 3 shares"),
        (np.zeros((2, 2, 3)), "a row of 3 shares"),
    ],
)
def test_what_is_wrong_is_told_with_its_row(shares, told):
    with pytest.raises(LabError, match=told):
        check_shares(shares, PARTS)


@pytest.mark.parametrize(
    ("columns", "told"),
    [
        (["butter", "oil", "wacks"], "“wax” is missing.*“wacks” is there instead"),
        (["butter", "oil"], "“wax” is missing"),
        (["butter", "oil", "wax", "ink"], "“ink” is not one of the parts"),
        (["butter", "oil", "wax", "wax"], "“wax” stands there twice"),
    ],
)
def test_columns_that_are_not_the_parts(columns, told):
    with pytest.raises(LabError, match=told):
        check_shares(pd.DataFrame([[0.25] * len(columns)], columns=columns), PARTS)


def test_missing_number_of_pandas_is_told():
    frame = pd.DataFrame({"oil": pd.array([0.5, None], dtype="Float64"), "wax": [0.5, 0.5]})
    with pytest.raises(LabError, match="Row 2: oil is missing"):
        check_shares(frame)


def test_rescaled_shares_pass():
    frame = pd.DataFrame({"oil": [50.0, 0.3], "wax": [30.0, 0.3], "day": [1, 2]}, index=["a", "b"])
    scaled = rescale(frame)
    np.testing.assert_allclose(scaled[["oil", "wax"]].to_numpy(), [[0.625, 0.375], [0.5, 0.5]])
    assert scaled["day"].tolist() == [1, 2]
    assert scaled.index.tolist() == ["a", "b"]
    check_shares(scaled, ("oil", "wax"))
    assert rescale(np.array([1.0, 3.0])).tolist() == [0.25, 0.75]


@pytest.mark.parametrize(("shares", "told"), [([[0.0, 0.0]], "adds up to 0"), ([[1.0, -0.5]], "below 0")])
def test_what_cannot_be_rescaled(shares, told):
    with pytest.raises(LabError, match=told):
        rescale(np.array(shares))
