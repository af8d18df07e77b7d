"""Corners and perspective."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.colour.place import CORNERS, ORDERS, SQUARE, homography, project, read_corners
from labkit.errors import LabError

SIZE = (400, 300)
UPRIGHT = [(0.1, 0.1), (0.6, 0.15), (0.65, 0.8), (0.12, 0.7)]

shift = st.floats(-0.2, 0.2)
places = st.lists(st.tuples(shift, shift), min_size=4, max_size=4).map(lambda by: SQUARE + np.array(by))
points = st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1)), min_size=1, max_size=9).map(np.array)


@given(places, places, points)
def test_there_and_back_is_where_one_was(source, target, these):
    there = project(homography(SQUARE, source), these)
    on = project(homography(source, target), there)
    back = project(homography(target, SQUARE), on)
    np.testing.assert_allclose(back, these, atol=1e-7)


@given(places)
def test_straight_lines_stay_straight(target):
    line = np.column_stack([np.linspace(0, 1, 7), 0.2 + 0.5 * np.linspace(0, 1, 7)])
    seen = project(homography(SQUARE, target), line)
    away, whole = seen - seen[0], seen[-1] - seen[0]
    np.testing.assert_allclose(away[:, 0] * whole[1] - away[:, 1] * whole[0], 0, atol=1e-9)


@given(places)
def test_the_diagonals_cross_in_the_image_of_the_middle(target):
    """The middle of the square is where its diagonals meet, and perspective keeps meetings."""
    middle = project(homography(SQUARE, target), np.array([0.5, 0.5]))
    for start, end in (target[[0, 2]], target[[1, 3]]):
        along, to = end - start, middle - start
        assert abs(along[0] * to[1] - along[1] * to[0]) < 1e-9


def test_fractions_and_pixels_say_the_same():
    pixels = np.array(UPRIGHT) * SIZE
    np.testing.assert_allclose(read_corners(UPRIGHT, SIZE, "chart"), pixels)
    np.testing.assert_allclose(read_corners(pixels, SIZE, "chart"), pixels)


def test_two_corners_are_a_rectangle_whichever_they_are():
    wanted = [[40, 30], [200, 30], [200, 240], [40, 240]]
    for first, second in [((0.1, 0.1), (0.5, 0.8)), ((0.5, 0.1), (0.1, 0.8)), ((0.5, 0.8), (0.1, 0.1))]:
        np.testing.assert_allclose(read_corners([first, second], SIZE, "patch"), wanted)


@pytest.mark.parametrize("at", range(4))
@pytest.mark.parametrize("outside", [(1.02, 0.5), (-0.01, 0.5), (0.5, 1.1)])
def test_a_corner_outside_is_named(at, outside):
    corners = list(UPRIGHT)
    corners[at] = outside
    with pytest.raises(LabError, match=f"The {CORNERS[at]} corner of the chart .* outside the photo"):
        read_corners(corners, SIZE, "chart")


def test_pixels_outside_are_named():
    with pytest.raises(LabError, match=r"bottom right corner of the patch \(401, 200\)"):
        read_corners([(10, 10), (390, 12), (401, 200), (12, 190)], SIZE, "patch")


@pytest.mark.parametrize("at", range(4))
def test_sides_that_cross_are_said_with_the_corners_to_swap(at):
    corners = list(UPRIGHT)
    other = (at + 1) % 4
    corners[at], corners[other] = corners[other], corners[at]
    with pytest.raises(LabError, match="cross") as refused:
        read_corners(corners, SIZE, "chart")
    assert CORNERS[at] in str(refused.value).split(" seem")[0]
    assert CORNERS[other] in str(refused.value).split(" seem")[0]


@pytest.mark.parametrize("at", range(4))
def test_a_corner_turned_in_is_named(at):
    corners = np.array(UPRIGHT)
    corners[at] = corners[at] + 0.75 * (corners[(at + 2) % 4] - corners[at])
    with pytest.raises(LabError, match=f"The {CORNERS[at]} corner of the chart is turned inwards"):
        read_corners(corners, SIZE, "chart")


@pytest.mark.parametrize(
    "corners",
    [
        [(0.1, 0.1), (0.3, 0.1), (0.5, 0.1), (0.7, 0.1)],
        [(0.5, 0.5)] * 4,
        [(0.2, 0.2), (0.2, 0.2), (0.6, 0.6), (0.2, 0.6)],
        [(0.2, 0.2), (0.2, 0.6)],
    ],
)
def test_a_shape_that_is_none_is_refused(corners):
    with pytest.raises(LabError, match="one line or too close"):
        read_corners(corners, SIZE, "chart")


@pytest.mark.parametrize(
    ("corners", "said"),
    [
        (UPRIGHT[:3], "needs four corners .*; 3 were given"),
        ([*UPRIGHT, (0.2, 0.2)], "5 were given"),
        ([], "0 were given"),
        (None, "two numbers"),
        ([1, 2, 3, 4], "two numbers"),
        ([("a", 1)] * 4, "two numbers"),
        ([(0.1, np.nan), *UPRIGHT[1:]], "is no number"),
        ([(0.1, np.inf), *UPRIGHT[1:]], "is no number"),
    ],
)
def test_what_is_no_corner_is_refused(corners, said):
    with pytest.raises(LabError, match=said):
        read_corners(corners, SIZE, "chart")


def test_every_order_goes_round_once():
    assert len(set(ORDERS)) == 8
    assert ORDERS[0] == (0, 1, 2, 3)
    for order in ORDERS:
        assert all((after - before) % 4 in (1, 3) for before, after in pairwise(order))
