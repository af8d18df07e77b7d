"""Regions and blending models against published mixture experiments."""

import numpy as np
import pytest

from labkit.texture.blends import Blends, scheffe
from labkit.texture.exchange import Search
from labkit.texture.plan import plan_pours
from labkit.texture.polytope import find_faces
from labkit.texture.region import Region

# Three fibres of a yarn, {3,2} lattice with repeats: elongation. Cornell, Experiments with Mixtures.
YARN = {
    (1, 0, 0): [11.0, 12.4],
    (0.5, 0.5, 0): [15.0, 14.8, 16.1],
    (0, 1, 0): [8.8, 10.0],
    (0, 0.5, 0.5): [10.0, 9.7, 11.8],
    (0, 0, 1): [16.8, 16.0],
    (0.5, 0, 0.5): [17.7, 16.4, 16.6],
}

# Snee and Marquardt (1974), Technometrics 16, 399: figures from memory, confirmed by enumeration.
THREE = Region({"x1": (0.1, 0.7), "x2": (0.0, 0.7), "x3": (0.1, 0.6)})
THREE_CORNERS = [
    [0.1, 0.3, 0.6],
    [0.1, 0.7, 0.2],
    [0.2, 0.7, 0.1],
    [0.4, 0, 0.6],
    [0.7, 0, 0.3],
    [0.7, 0.2, 0.1],
]

# McLean and Anderson (1966), Technometrics 8, 447: flares; bounds and counts from memory.
FLARE = Region({"x1": (0.4, 0.6), "x2": (0.1, 0.5), "x3": (0.1, 0.5), "x4": (0.03, 0.08)})


@pytest.fixture(scope="module")
def yarn():
    shares = np.array([blend for blend, values in YARN.items() for _ in values], float)
    return scheffe(shares), np.array([value for values in YARN.values() for value in values])


def test_yarn_coefficients(yarn):
    terms, elongation = yarn
    coefficients = np.linalg.lstsq(terms, elongation, rcond=None)[0]
    np.testing.assert_allclose(coefficients, [11.7, 9.4, 16.4, 19.0, 11.4, -9.6], atol=1e-9)


def test_yarn_standard_errors_and_press(yarn):
    terms, elongation = yarn
    hat = terms @ np.linalg.pinv(terms)
    residual = elongation - hat @ elongation
    spread = residual @ residual
    assert spread == pytest.approx(6.56, abs=1e-9)
    variance = spread / 9
    assert variance**0.5 == pytest.approx(0.85375, abs=5e-6)
    errors = np.sqrt(variance * np.diag(np.linalg.inv(terms.T @ terms)))
    np.testing.assert_allclose(errors, [0.603692] * 3 + [2.608249] * 3, atol=5e-7)
    assert 1 - spread / ((elongation - elongation.mean()) ** 2).sum() == pytest.approx(0.95136, abs=5e-6)
    assert ((residual / (1 - np.diag(hat))) ** 2).sum() == pytest.approx(18.295, abs=5e-4)


def test_orthonormal_terms_fit_the_yarn_alike(yarn):
    """What a plan counts in is the same model: fitted values agree."""
    terms, elongation = yarn
    shares = terms[:, :3]
    mine = Blends.over(Region({"a": (0, 1), "b": (0, 1), "c": (0, 1)})).terms(shares)
    np.testing.assert_allclose(
        mine @ np.linalg.lstsq(mine, elongation, rcond=None)[0],
        terms @ np.linalg.lstsq(terms, elongation, rcond=None)[0],
        atol=1e-10,
    )


def test_corners_of_a_bounded_triangle():
    np.testing.assert_allclose(THREE.corners().to_numpy(), THREE_CORNERS, atol=1e-12)


def test_corners_and_faces_of_the_flare_region():
    corners = FLARE.corners()
    assert len(corners) == 8
    assert sorted(set(corners["x1"])) == [0.4, 0.6]
    assert len(find_faces(FLARE.touch)) == 6
    expected = {(a, b, round(1 - a - b - d, 12), d) for a in (0.4, 0.6) for b in (0.1,) for d in (0.03, 0.08)}
    expected |= {(a, c, b, d) for a, b, c, d in expected}
    assert {tuple(row) for row in corners.round(12).to_numpy().tolist()} == expected


NINE = Region({"butter": (0.2, 0.5), "oil": (0.35, 0.65), "wax": (0.1, 0.3)})


def _lattice(steps: int) -> np.ndarray:
    first, second = np.meshgrid(np.arange(steps + 1), np.arange(steps + 1), indexing="ij")
    lattice = np.stack([first, second, steps - first - second], axis=-1).reshape(-1, 3) / steps
    return lattice[NINE.contains(lattice)]


def test_search_finds_the_probed_variance():
    """An earlier probe of the same task found 0.4391; it averaged over the lattice of step 0.01."""
    terms = scheffe((_lattice(100) - [0.2, 0.35, 0.1]) / 0.35)
    terms = np.linalg.solve(np.linalg.cholesky(terms.T @ terms / len(terms)), terms.T).T
    search = Search(terms, np.zeros((6, 6)))
    found = search.best(np.ones(9), False, np.random.default_rng(1), 20, [])
    assert search.variance(found, np.ones(9)) == pytest.approx(0.4391, abs=5e-5)


def test_nine_pours_come_below_the_probed_variance():
    """The exact average is lower than that of a lattice whose boundary counts too much."""
    plan = plan_pours(NINE, 9)
    assert plan.attrs["average_variance"] < 0.4391
    inside = scheffe(_lattice(1000))
    terms = scheffe(plan[["butter", "oil", "wax"]].to_numpy())
    average = np.einsum("ij,jk,ik->i", inside, np.linalg.inv(terms.T @ terms), inside).mean()
    assert average == pytest.approx(plan.attrs["average_variance"], rel=0.005)
