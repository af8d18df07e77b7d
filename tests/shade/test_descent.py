"""The descent to the nearest colour: its slopes, its bounds, and the set of starts."""

from itertools import combinations

import numpy as np
import pytest

from labkit.colour.cie import delta_e00
from labkit.shade.descent import descend
from labkit.shade.nearest import WORTH, nearest
from labkit.shade.reach import reach_of
from labkit.shade.wish import Wish

NAMES = ("one", "two", "three")
SLOPES = np.array([[-4.0, 2.0, 0.5], [-1.0, -2.0, 3.0], [-2.0, 0.0, -3.0]])


def straight(x):
    """A colour that goes straight with what is added, so that the answers are known."""
    return np.array([60.0, 10.0, 10.0]) + x @ SLOPES


@pytest.fixture
def reach():
    return reach_of(NAMES, NAMES, 6.0, {"two": 1.5})


@pytest.mark.parametrize("lab", [(50.0, 40.0, 20.0), (30.0, -20.0, -40.0), (70.0, 0.0, 0.0)])
def test_slope_and_bend_are_those_of_half_the_square(lab):
    """Against wider central differences of ΔE00 itself."""
    wish, at, h = Wish(np.array(lab)), np.array([45.0, 25.0, 10.0]), 0.05
    half = lambda each: float(delta_e00(each, wish.lab)) ** 2 / 2  # noqa: E731
    value, slope, bend = (each[0] for each in wish.half_square(at[None]))
    assert value == pytest.approx(half(at))
    wide = [(half(at + h * e) - half(at - h * e)) / (2 * h) for e in np.eye(3)]
    assert slope == pytest.approx(wide, rel=1e-2, abs=1e-2)
    assert (np.linalg.eigvalsh(bend) > 0).all()


def test_the_bend_at_the_wanted_colour_is_the_metric():
    """½ ΔE00² of a small step is half the step's square in the metric."""
    wish = Wish(np.array([50.0, 40.0, 20.0]))
    bend = wish.half_square(wish.lab[None])[2][0]
    for step in 0.1 * np.random.default_rng(0).standard_normal((5, 3)):
        half = float(delta_e00(wish.lab + step, wish.lab)) ** 2 / 2
        assert step @ bend @ step / 2 == pytest.approx(half, rel=0.02)


def test_colour_difference_jumps_where_it_is_said_to():
    wish = Wish(np.array([60.0, 30.0, 10.0]))
    opposite = np.array([60.0, -3.0, -1.0])
    either_side = opposite + 1e-6 * np.array([[1.0], [-1.0]]) * wish.across
    near, far = wish.distance(either_side)
    assert abs(near - far) > 0.1
    assert wish.is_opposite(either_side).all()
    assert not Wish(np.array([60.0, 0.0, 0.0])).across.any()


def test_every_row_ends_within_the_bounds_and_no_worse(reach):
    rng = np.random.default_rng(0)
    x = rng.dirichlet(np.ones(4), 50)[:, :3] * [4.0, 1.4, 4.0]
    used = np.ones_like(x, bool)
    for lab in rng.uniform([20, -40, -40], [90, 60, 60], (6, 3)):
        wish = Wish(lab)
        found = descend(x, used, reach, straight, wish)
        assert reach.holds(np.maximum(found, 0)).all()
        assert (found > -1e-12).all()
        assert (wish.distance(straight(found)) <= wish.distance(straight(x)) + 0.05).all()


@pytest.mark.parametrize("x", [(1.0, 0.5, 2.0), (5.9, 0.0, 0.0), (0.0, 1.5, 0.0), (2.0, 1.5, 2.5)])
def test_a_colour_that_can_be_reached_is_reached(reach, x):
    found, apart = nearest(reach, straight, Wish(straight(np.array(x))), seed=0)
    assert apart.min() <= WORTH * 3
    assert np.abs(found[apart.argmin()] - x).max() < 0.05


def test_what_a_row_may_not_use_stays_out(reach):
    used = np.array([[True, False, True], [False, True, False]])
    found = descend(np.where(used, 0.5, 0.0), used, reach, straight, Wish(np.array([40.0, 15, 0])))
    assert (found[~used] == 0).all()
    assert (found[used] > 0).all()


def test_a_descent_ends_where_scipy_does(reach):
    """SciPy's SLSQP from the same start, under the same bounds, on a smooth piece of ΔE00."""
    from scipy.optimize import minimize

    wish = Wish(np.array([35.0, 45.0, 30.0]))
    start = np.array([[1.0, 0.5, 1.0]])
    found = descend(start, np.ones_like(start, bool), reach, straight, wish)
    theirs = minimize(
        lambda x: wish.distance(straight(x[None]))[0],
        start[0],
        method="SLSQP",
        bounds=[(0, None), (0, 1.5), (0, None)],
        constraints={"type": "ineq", "fun": lambda x: 6 - x.sum()},
    )
    assert theirs.success
    assert wish.distance(straight(found))[0] == pytest.approx(theirs.fun, abs=1e-4)


def test_every_set_of_additions_has_its_chance(reach):
    """The best of each set alone is no better than what is kept of it or of a part of it."""
    wish = Wish(np.array([48.0, 20.0, 5.0]))
    kept, apart = nearest(reach, straight, wish, seed=0)
    for size in (1, 2, 3):
        for names in combinations(range(3), size):
            within = ~(kept[:, [i for i in range(3) if i not in names]] > 0).any(1)
            grid = np.zeros((4000, 3))
            grid[:, names] = np.random.default_rng(size).dirichlet(np.ones(size + 1), 4000)[:, :-1] * 6
            grid = grid[reach.holds(grid)]
            assert apart[within].min() <= wish.distance(straight(grid)).min() + 3 * WORTH
