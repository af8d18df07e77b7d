import copy
import pickle
import re
from fractions import Fraction
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.spatial import ConvexHull, HalfspaceIntersection

from labkit.errors import LabError
from labkit.texture.polytope import averaging_nodes, find_edges, triangulate, volumes
from labkit.texture.region import Region

USUAL = {"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)}
RULES = ["wax <= 0.5*butter", "0.8*butter + wax >= 0.4"]
NAMES = ("a", "b", "c", "d", "e", "f")


def make(lows, highs, rules=()):
    return Region({name: (low, high) for name, low, high in zip(NAMES, lows, highs, strict=False)}, rules)


# ---------------------------------------------------------------- corners


def exact_corners(rows, limits):
    """Corners by exact fractions: slow, and no tolerance anywhere."""
    parts = len(rows[0])
    found = set()
    for chosen in combinations(range(len(rows)), parts - 1):
        point = solve(
            [*(rows[each] for each in chosen), [1] * parts], [*(limits[each] for each in chosen), 1]
        )
        if point and all(
            sum(a * x for a, x in zip(row, point, strict=True)) <= most
            for row, most in zip(rows, limits, strict=True)
        ):
            found.add(tuple(point))
    return sorted(found)


def solve(rows, values):
    """Gauss–Jordan elimination in fractions; None where the rows depend on one another."""
    table = [[Fraction(each) for each in (*row, value)] for row, value in zip(rows, values, strict=True)]
    for column in range(len(table)):
        pivot = next((each for each in range(column, len(table)) if table[each][column]), None)
        if pivot is None:
            return None
        table[column], table[pivot] = table[pivot], table[column]
        table[column] = [each / table[column][column] for each in table[column]]
        for other in range(len(table)):
            if other != column:
                factor = table[other][column]
                table[other] = [a - factor * b for a, b in zip(table[other], table[column], strict=True)]
    return [row[-1] for row in table]


@st.composite
def twentieths(draw):
    """Bounds in twentieths and rules in halves: corners meet, faces touch, regions are flat or empty."""
    parts = draw(st.integers(2, 4))
    pairs = [sorted(draw(st.tuples(st.integers(0, 12), st.integers(0, 20)))) for _ in range(parts)]
    rules = draw(st.lists(st.tuples(*[st.integers(-2, 2)] * parts, st.integers(-10, 20)), max_size=3))
    return pairs, [rule for rule in rules if len(set(rule[:-1])) > 1]


@settings(max_examples=150, deadline=None)
@given(twentieths())
def test_corners_against_exact_fractions(drawn):
    pairs, rules = drawn
    parts = len(pairs)
    unit = np.eye(parts, dtype=int).tolist()
    rows = [[-each for each in row] for row in unit] + unit + [list(rule[:-1]) for rule in rules]
    limits = [Fraction(-low, 20) for low, _ in pairs] + [Fraction(high, 20) for _, high in pairs]
    limits += [Fraction(rule[-1], 20) for rule in rules]
    expected = exact_corners(rows, limits)
    texts = [
        " + ".join(f"{weight}*{name}" for weight, name in zip(rule[:-1], NAMES, strict=False))
        + f" <= {rule[-1] / 20}"
        for rule in rules
    ]
    lows, highs = [low / 20 for low, _ in pairs], [high / 20 for _, high in pairs]
    if not expected:
        with pytest.raises(LabError):
            make(lows, highs, texts)
        return
    corners = make(lows, highs, texts).corners().to_numpy()
    assert corners.shape == (len(expected), parts)
    np.testing.assert_allclose(corners, np.array(expected, float), atol=1e-10)


@st.composite
def wide_regions(draw):
    parts = draw(st.integers(3, 6))
    lows = [draw(st.integers(0, 15)) / 100 for _ in range(parts)]
    highs = [min(low + draw(st.integers(5, 80)) / 100, 1.0) for low in lows]
    weights = st.integers(-30, 30).map(lambda each: each / 10)
    rules = []
    for _ in range(draw(st.integers(0, 3))):
        row = [draw(weights) for _ in range(parts)]
        limit = np.dot(row, np.full(parts, 1 / parts)) + draw(st.integers(-5, 40)) / 100
        rules.append((row, round(float(limit), 3)))
    return lows, highs, [(row, limit) for row, limit in rules if any(row) and abs(limit) <= 1]


def to_texts(rules):
    return [
        " + ".join(f"{each}*{name}" for each, name in zip(row, NAMES, strict=False)) + f" <= {most}"
        for row, most in rules
    ]


def built(drawn):
    lows, highs, rules = drawn
    try:
        return make(lows, highs, to_texts(rules))
    except LabError:
        return None


@settings(max_examples=60, deadline=None)
@given(wide_regions())
def test_corners_against_half_space_intersection(drawn):
    """scipy's Qhull, on the first parts with the last one put in as the rest."""
    lows, highs, rules = drawn
    region = built(drawn)
    assume(region is not None)
    parts = len(lows)
    rows = np.array([*(-np.eye(parts)), *np.eye(parts), *(row for row, _ in rules)])
    most = np.array([*(-low for low in lows), *highs, *(limit for _, limit in rules)])
    halves, offsets = rows[:, :-1] - rows[:, -1:], most - rows[:, -1]
    lengths = np.linalg.norm(halves, axis=1)
    halves, offsets, lengths = (each[lengths > 1e-9] for each in (halves, offsets, lengths))
    ball = linprog([*[0] * (parts - 1), -1], np.column_stack([halves, lengths]), offsets, bounds=(None, None))
    assume(ball.x[-1] > 1e-4)
    found = HalfspaceIntersection(np.column_stack([halves, -offsets]), ball.x[:-1]).intersections
    found = np.column_stack([found, 1 - found.sum(axis=1)])
    gaps = np.abs(found[:, None] - region.corners().to_numpy()[None]).max(axis=2)
    assert gaps.min(axis=0).max() < 1e-7
    assert gaps.min(axis=1).max() < 1e-7


def test_corners_are_sorted_and_named():
    corners = Region(USUAL, RULES).corners()
    assert list(corners.columns) == ["butter", "oil", "wax"]
    assert corners.equals(corners.sort_values(["butter", "oil", "wax"], ignore_index=True))
    assert Region(USUAL, RULES).contains(corners).all()


def test_corners_given_back_can_be_changed():
    region = Region(USUAL)
    corners = region.corners()
    corners.iloc[0] = 0.0
    assert region.corners().iloc[0].sum() == pytest.approx(1)


def test_fixed_part_leaves_a_line():
    region = make((0.3, 0.1, 0.1), (0.3, 0.5, 0.6))
    np.testing.assert_allclose(region.corners(), [[0.3, 0.1, 0.6], [0.3, 0.5, 0.2]])
    assert region.remarks()[0] == "a is held still at 0.30."
    assert region.contains(region.grid(20)).all()


def test_rules_can_hold_a_proportion():
    region = make((0, 0, 0), (1, 1, 1), ["a <= 2*b", "a >= 2*b"])
    np.testing.assert_allclose(region.corners(), [[0, 0, 1], [2 / 3, 1 / 3, 0]], atol=1e-12)


def test_region_of_a_single_point():
    region = make((0.3, 0.3, 0.4), (0.5, 0.5, 0.5))
    np.testing.assert_allclose(region.corners(), [[0.3, 0.3, 0.4]])
    assert region.remarks() == ["Only one composition is left: a 0.30, b 0.30, c 0.40."]
    np.testing.assert_allclose(region.grid(50), [[0.3, 0.3, 0.4]])
    np.testing.assert_allclose(region.nearest([1, 0, 0]), [0.3, 0.3, 0.4])
    assert region.contains([0.3, 0.3, 0.4])


# ---------------------------------------------------------------- emptiness


@pytest.mark.parametrize(
    ("lows", "highs", "rules", "told"),
    [
        (
            (0.5, 0.4, 0.2), (0.6, 0.6, 0.3), (),
            "The lows add up to 1.10, more than 1: lower a's low by at least 0.10, to 0.40; "
            "or lower b's low by at least 0.10, to 0.30; or lower c's low by at least 0.10, to 0.10.",
        ),
        (
            (0.2, 0.2, 0.1), (0.3, 0.3, 0.3), (),
            "The highs add up to 0.90, less than 1: raise a's high by at least 0.10, to 0.40; "
            "or raise b's high by at least 0.10, to 0.40; or raise c's high by at least 0.10, to 0.40.",
        ),
        ((0.9, 0.9, 0.9), (1, 1, 1), (), "more than 1: lower several of them, by 1.70 together."),
        (
            (0.2, 0.2, 0.1), (0.6, 0.6, 0.3), ["c >= 0.4"],
            "No composition keeps the rule “c >= 0.4” and c's high of 0.30 all at once: "
            "ease the rule “c >= 0.4” by at least 0.10: “c >= 0.4 - 0.1”; "
            "or raise c's high by at least 0.10, to 0.40.",
        ),
        ((0, 0), (1, 1), ["a + b <= 0.9"], "The rule “a + b <= 0.9” leaves no composition at all: ease"),
        ((0.2, 0.2, 0.1), (0.6, 0.6, 0.3), ["c >= 0.9", "a >= 0.8"], "no single move is enough"),
    ],
)  # fmt: skip
def test_empty_region_tells_what_clashes_and_the_mend(lows, highs, rules, told):
    with pytest.raises(LabError) as error:
        make(lows, highs, rules)
    assert told in str(error.value)


@st.composite
def clashing(draw):
    parts = draw(st.integers(2, 4))
    pairs = [sorted(draw(st.tuples(st.integers(0, 100), st.integers(0, 100)))) for _ in range(parts)]
    rules = []
    for _ in range(draw(st.integers(0, 2))):
        row = draw(st.tuples(*[st.integers(-3, 3)] * parts).filter(any))
        sign = draw(st.sampled_from(["<=", ">="]))
        text = " + ".join(f"{each}*{name}" for each, name in zip(row, NAMES, strict=False))
        rules.append(f"{text} {sign} {draw(st.integers(-70, 70)) / 100}")
    return {name: (low / 100, high / 100) for name, (low, high) in zip(NAMES, pairs, strict=False)}, rules


@settings(max_examples=150, deadline=None)
@given(clashing())
def test_every_mend_that_is_offered_mends_and_none_is_larger_than_needed(drawn):
    bounds, rules = drawn
    try:
        Region(bounds, rules)
    except LabError as error:
        told = str(error)
    else:
        assume(False)
    moves = re.findall(r"(?:lower|raise) (\w)'s (low|high) by at least (\d\.\d+), to (\d\.\d+)", told)
    eased = re.findall(r"ease the rule “([^”]*)” by at least (\d\.\d+): “([^”]*)”", told)
    assert moves or eased or "several of them" in told or "no single move" in told
    for part, kind, by, to in moves:
        low, high = bounds[part]
        step = 0.002 if kind == "low" else -0.002
        moved = (float(to), high) if kind == "low" else (low, float(to))
        Region({**bounds, part: moved}, rules)
        if float(by) > 0.002:
            short = (moved[0] + step, high) if kind == "low" else (low, moved[1] + step)
            with pytest.raises(LabError):
                Region({**bounds, part: short}, rules)
    for old, by, new in eased:
        index = rules.index(old)
        Region(bounds, [*rules[:index], new, *rules[index + 1 :]])
        if float(by) > 0.002:
            step = "- 0.002" if "<=" in new else "+ 0.002"
            with pytest.raises(LabError):
                Region(bounds, [*rules[:index], f"{new} {step}", *rules[index + 1 :]])


# ---------------------------------------------------------------- remarks


def test_bounds_and_rules_that_do_nothing_are_remarked():
    region = Region(
        {"butter": (0.2, 0.7), "oil": (0.35, 0.6), "wax": (0.1, 0.3)},
        ["wax <= 0.9", "wax <= 0.5*butter", "2*wax <= butter", "butter <= 0.55"],
    )
    assert region.remarks() == [
        "butter can never go below 0.2667 here, so its low of 0.20 does nothing.",
        "butter can never go above 0.55 here, so its high of 0.70 does nothing.",
        "wax can never go above 0.2167 here, so its high of 0.30 does nothing.",
        "The rule “wax <= 0.9” does nothing: the others see to it already.",
        "The rule “2*wax <= butter” says nothing that the rule “wax <= 0.5*butter” does not say already.",
        "The rule “butter <= 0.55” does nothing: the others see to it already.",
    ]


@settings(max_examples=60, deadline=None)
@given(wide_regions())
def test_leaving_out_what_is_said_to_do_nothing_changes_nothing(drawn):
    region = built(drawn)
    assume(region is not None)
    lows, highs, rules = drawn
    texts = to_texts(rules)
    for said in region.remarks():
        bound = re.match(r"(\w) can never go (below|above)", said)
        if bound:
            index, low = NAMES.index(bound[1]), bound[2] == "below"
            less_low = [0.0 if low and each == index else value for each, value in enumerate(lows)]
            less_high = [1.0 if not low and each == index else value for each, value in enumerate(highs)]
            other = make(less_low, less_high, texts)
        elif "does nothing" in said or "says nothing" in said:
            text = re.search("“([^”]*)”", said)[1]
            other = make(lows, highs, [each for each in texts if each != text])
        else:
            continue
        np.testing.assert_allclose(other.corners(), region.corners(), atol=1e-8)


def test_nothing_to_remark():
    assert Region({"oil": (0.6, 0.9), "wax": (0.1, 0.4)}).remarks() == []


# ---------------------------------------------------------------- bad input


@pytest.mark.parametrize(
    ("bounds", "told"),
    [
        ({"oil": (0.6, 0.2), "wax": (0.1, 0.4)}, "oil: its low of 0.6 is above its high of 0.2"),
        ({"oil": (-0.1, 0.2), "wax": (0.1, 0.4)}, "oil: its low is -0.1, and no share can be below 0"),
        ({"oil": (20, 60), "wax": (0.1, 0.4)}, "if 60 % is meant, write 0.6"),
        ({"oil": (0.2, float("nan")), "wax": (0.1, 0.4)}, "oil: nan is no share"),
        ({"oil": (0.2, None), "wax": (0.1, 0.4)}, "oil: None is no share"),
        ({"oil": (0.2, "0.4"), "wax": (0.1, 0.4)}, "oil: '0.4' is no share"),
        ({"oil": (0.2, True), "wax": (0.1, 0.4)}, "True is no share"),
        ({"oil": 0.2, "wax": (0.1, 0.4)}, "oil: give a low and a high"),
        ({"oil": "ab", "wax": (0.1, 0.4)}, "oil: give a low and a high"),
        ({"oil": (0.1, 0.2, 0.3), "wax": (0.1, 0.4)}, "oil: give a low and a high"),
        ({"oil": (0.1, 0.9)}, "2 to 6 parts, and this one has 1"),
        (dict.fromkeys("abcdefg", (0, 1)), "2 to 6 parts, and this one has 7"),
        ({" ": (0, 1), "wax": (0, 1)}, "no name for a part"),
        ({1: (0, 1), "wax": (0, 1)}, "no name for a part"),
        ([(0, 1), (0, 1)], "needs a low and a high for each part"),
    ],
)
def test_bounds_that_cannot_be(bounds, told):
    with pytest.raises(LabError, match=re.escape(told)):
        Region(bounds)


@pytest.mark.parametrize(
    ("rules", "told"),
    [
        (3, "a list of lines"),
        ([3], "3 is no rule"),
        (["wax <= 0.3"] * 17, "at most 16 rules"),
        (["x <= 1"], "“x”"),
    ],
)
def test_rules_that_cannot_be(rules, told):
    with pytest.raises(LabError, match=told):
        Region(USUAL, rules)


def test_one_rule_may_stand_without_a_list():
    assert Region(USUAL, "wax <= 0.2") == Region(USUAL, ["wax <= 0.2"])


def test_quotes_and_tags_in_names_are_only_names():
    region = Region(
        {"<b>oil</b>": (0.6, 0.9), 'cook\'s "wax"': (0.1, 0.4)}, ['`<b>oil</b>` >= 2*`cook\'s "wax"`']
    )
    assert list(region.corners().columns) == ["<b>oil</b>", 'cook\'s "wax"']
    with pytest.raises(LabError, match="<b>oil</b>'s low"):
        Region({"<b>oil</b>": (0.9, 1.0), "wax": (0.2, 1.0)})


# ---------------------------------------------------------------- what it is


def test_frozen_hashable_short_and_copied_whole():
    region = Region(USUAL, RULES)
    assert region == Region(USUAL, RULES)
    assert hash(region) == hash(Region(USUAL, RULES))
    assert region != Region(USUAL)
    assert repr(region) == "Region(butter 0.2–0.6, oil 0.2–0.6, wax 0.1–0.3; 2 rules)"
    assert pickle.loads(pickle.dumps(region)).corners().equals(region.corners())
    assert copy.deepcopy(region) == region
    with pytest.raises(AttributeError):
        region.parts = ()


def test_contains_reads_frames_arrays_and_mappings():
    region = Region(USUAL, RULES)
    inside, outside = {"butter": 0.5, "oil": 0.3, "wax": 0.2}, {"butter": 0.3, "oil": 0.4, "wax": 0.3}
    assert region.contains(inside).tolist() == [True]
    assert region.contains(pd.Series(outside)).tolist() == [False]
    frame = pd.DataFrame([inside, outside])[["wax", "oil", "butter"]].assign(day=1)
    assert region.contains(frame).tolist() == [True, False]
    assert region.contains([[0.5, 0.3, 0.2], [0.5, 0.3, 0.1], [0.5, np.nan, 0.2]]).tolist() == [
        True,
        False,
        False,
    ]
    assert region.contains(np.empty((0, 3))).tolist() == []
    with pytest.raises(LabError, match="“wax” is missing"):
        region.contains(frame.drop(columns="wax"))
    with pytest.raises(LabError, match="“ink” is not one of the parts"):
        region.contains(frame.assign(ink=0.1))


def test_contains_is_exact_to_a_billionth():
    region = Region({"oil": (0.6, 0.9), "wax": (0.1, 0.4)})
    edge = np.array([[0.9, 0.1]])
    shift = np.array([[1.0, -1.0]])
    assert region.contains(edge + 0.9e-9 * shift)
    assert not region.contains(edge + 1.2e-9 * shift)


# ---------------------------------------------------------------- points


@settings(max_examples=60, deadline=None)
@given(wide_regions(), st.lists(st.integers(-50, 150), min_size=6, max_size=6))
def test_nearest_is_the_projection(drawn, weights):
    """A point p inside is nearest to x just where (x − p)·(c − p) ≤ 0 for every corner c."""
    region = built(drawn)
    assume(region is not None)
    point = np.array(weights[: len(region.parts)]) / 100
    nearest = region.nearest(point)
    assert list(nearest.index) == list(region.parts)
    assert region.contains(nearest).all()
    assert ((region.corners().to_numpy() - nearest.to_numpy()) @ (point - nearest.to_numpy())).max() < 1e-8


def test_nearest_to_a_point_inside_or_just_outside():
    region = Region(USUAL, RULES)
    inside = region.centre()
    assert region.nearest(inside).tolist() == inside.tolist()
    corner = region.corners().iloc[0].to_numpy()
    just = corner + 3e-8 * (corner - inside.to_numpy())
    np.testing.assert_allclose(region.nearest(just), corner, atol=1e-7)
    with pytest.raises(LabError, match="one point at a time"):
        region.nearest([[0.5, 0.3, 0.2]] * 2)
    with pytest.raises(LabError, match="with a number for each"):
        region.nearest([0.5, np.nan, 0.2])


@settings(max_examples=30, deadline=None)
@given(wide_regions(), st.integers(60, 600))
def test_grid_lies_inside_with_corners_and_edges(drawn, count):
    region = built(drawn)
    assume(region is not None)
    grid = region.grid(count)
    corners = region.corners().to_numpy()
    assert region.contains(grid).all()
    np.testing.assert_allclose(grid[: len(corners)], corners, atol=1e-12)
    np.testing.assert_array_equal(grid, region.grid(count))
    if len(region.flat.axes) > 0:
        assert 0.6 * count <= len(grid) <= 1.4 * count + len(corners)


def test_grid_of_a_triangle_is_even():
    """No two points nearer than a third of the usual gap, and no hole wider than it."""
    region = Region(USUAL, RULES)
    grid = region.grid(400)
    gaps = np.linalg.norm(grid[:, None] - grid[None], axis=2)
    np.fill_diagonal(gaps, np.inf)
    usual = np.median(gaps.min(axis=0))
    assert gaps.min() > usual / 4
    rng = np.random.default_rng(0)
    mixed = rng.dirichlet(np.ones(len(region.corners())), 2000) @ region.corners().to_numpy()
    assert np.linalg.norm(mixed[:, None] - grid[None], axis=2).min(axis=1).max() < 1.1 * usual


def test_scattered_points_average_as_the_region_does():
    """Mean and covariance come nearer to the exact ones than as many random points would."""
    region = make([0.05] * 5, [0.5, 0.4, 0.6, 0.5, 0.3], ["a <= b"])
    grid = region.grid(4000)
    inside = grid[region.gauge(grid) < 1 - 1e-6]
    assert len(inside) > 2000
    nodes, weights = averaging_nodes(region.simplices)
    exact = region.flat.outside(nodes)
    off = exact - weights @ exact
    covariance = (off * weights[:, None]).T @ off
    error = np.sqrt(np.diag(covariance) / len(inside))
    assert (np.abs(inside.mean(axis=0) - weights @ exact) < error).all()
    square_error = np.sqrt((weights @ off**4 - np.diag(covariance) ** 2) / len(inside))
    assert (np.abs(inside.var(axis=0) - np.diag(covariance)) < square_error).all()


@pytest.mark.parametrize("dimensions", [1, 2, 3, 4, 5])
def test_averages_are_exact_to_the_fifth_degree(dimensions):
    """Moments of Dirichlet(1, …, 1): E Π xᵢ^aᵢ = d! Π aᵢ! / (d + Σ aᵢ)!"""
    from math import factorial, prod

    simplex = np.vstack([np.zeros(dimensions), np.eye(dimensions)])[None]
    points, weights = averaging_nodes(simplex)
    for powers in np.ndindex(*[6] * dimensions):
        if sum(powers) <= 5:
            expected = (
                factorial(dimensions) * prod(map(factorial, powers)) / factorial(dimensions + sum(powers))
            )
            assert weights @ (points**powers).prod(axis=1) == pytest.approx(expected, rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(wide_regions())
def test_simplices_fill_the_region_and_edges_are_those_of_the_hull(drawn):
    region = built(drawn)
    assume(region is not None and len(region.flat.axes) == len(region.parts) - 1)
    inside = region.flat.inside(region.corners().to_numpy())
    hull = ConvexHull(inside)
    assert volumes(triangulate(inside)).sum() == pytest.approx(hull.volume, rel=1e-6)
    if inside.shape[1] == 2:
        assert {tuple(sorted(edge)) for edge in hull.simplices} == set(
            map(tuple, find_edges(region.touch).tolist())
        )


def test_gauge_counts_from_the_centre_outwards():
    region = Region(USUAL, RULES)
    corners, centre = region.corners().to_numpy(), region.centre().to_numpy()
    np.testing.assert_allclose(region.gauge(corners), 1)
    np.testing.assert_allclose(region.gauge(2 * corners - centre), 2)
    np.testing.assert_allclose(region.gauge(centre[None]), 0, atol=1e-12)
