"""From mass % to volume fractions and to K and S: worked examples, additivity, and what cannot be."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import LabError
from labkit.shade.medium import USUAL, Medium
from labkit.shade.mixture import (
    check_loads,
    coefficients,
    density_of,
    read_blend,
    read_parts,
    shares,
    volume_fractions,
)
from labkit.shade.pigments import default_pigments

PIGMENTS = default_pigments()
LOADS = st.lists(st.floats(0, 100 / len(PIGMENTS)), min_size=len(PIGMENTS), max_size=len(PIGMENTS))


# ---- volume fractions ------------------------------------------------------------


@pytest.mark.parametrize(("base", "wanted"), [(0.92, 0.042), (0.95, 0.044)])
def test_a_fifth_by_mass_of_red_oxide_is_a_small_part_by_volume(base, wanted):
    """20 g at 5.2 g/mL are 3.85 mL in 80 g of base, which are 84 to 87 mL (oxide density from memory)."""
    assert volume_fractions([20.0], [5.2], Medium(base, 1.465)) == pytest.approx([wanted], abs=5e-4)


@given(LOADS)
def test_volumes_are_grams_over_densities(loads):
    millilitres = [grams / density for grams, density in zip(loads, PIGMENTS.density_g_ml, strict=True)]
    whole = sum(millilitres) + (100 - sum(loads)) / USUAL.density_g_ml
    found = volume_fractions(loads, PIGMENTS.density_g_ml, USUAL)
    assert found == pytest.approx([each / whole for each in millilitres], abs=1e-14)
    assert 0 <= found.sum() <= 1


def test_nothing_and_all():
    assert volume_fractions([0.0, 0.0], [5.2, 4.2], USUAL).tolist() == [0, 0]
    assert volume_fractions([100.0], [5.2], USUAL).tolist() == [1]
    assert volume_fractions([52.0, 48.0], [5.2, 4.8], USUAL) == pytest.approx([0.5, 0.5])


def test_a_pigment_as_dense_as_the_base_has_its_mass_as_its_volume():
    assert volume_fractions([7.0], [0.94], Medium(0.94, 1.465)) == pytest.approx([0.07])


def test_blends_may_stand_in_any_array():
    loads = np.random.default_rng(1).random((4, 3, 2))
    found = volume_fractions(loads, np.array([5.2, 1.6]), USUAL)
    assert found.shape == (4, 3, 2)
    assert found[2, 1] == pytest.approx(volume_fractions(loads[2, 1], [5.2, 1.6], USUAL))


# ---- K and S ---------------------------------------------------------------------


@given(LOADS)
def test_pigments_add_up(loads):
    """Duncan 1940: K and S of a mixture are the sums of its pigments', by volume."""
    K, S = coefficients(loads, PIGMENTS, USUAL)
    fractions = volume_fractions(loads, PIGMENTS.density_g_ml, USUAL)
    for at in (0, 17, 35):
        assert K[at] == pytest.approx(sum(f * k[at] for f, k in zip(fractions, PIGMENTS.k, strict=True)))
        assert S[at] == pytest.approx(sum(f * s[at] for f, s in zip(fractions, PIGMENTS.s, strict=True)))


def test_halves_of_one_pigment_are_the_whole():
    one = PIGMENTS.only(["red iron oxide"])
    doubled = replace(
        one,
        names=("a", "b"),
        density_g_ml=np.repeat(one.density_g_ml, 2),
        log_ks=np.repeat(one.log_ks, 2, axis=0),
    )
    for half, whole in zip(
        coefficients([3.0, 5.0], doubled, USUAL), coefficients([8.0], one, USUAL), strict=True
    ):
        assert half == pytest.approx(whole, rel=1e-12)


def test_the_base_alone_is_clear():
    K, S = coefficients(np.zeros((2, len(PIGMENTS))), PIGMENTS, USUAL)
    assert K.shape == S.shape == (2, 36)
    assert not K.any()
    assert not S.any()


# ---- what cannot be --------------------------------------------------------------


def test_a_blend_is_read():
    names, loads = read_blend({"red iron oxide": 6, "titanium dioxide": np.float64(2.5)})
    assert names == ["red iron oxide", "titanium dioxide"]
    assert loads.tolist() == [6.0, 2.5]
    names, loads = read_blend({})
    assert (names, loads.shape) == ([], (0,))


@pytest.mark.parametrize(
    ("blend", "told"),
    {
        "a list": (["red iron oxide"], "Give mass % by pigment"),
        "a number": (6.0, "Give mass % by pigment"),
        "none": (None, "Give mass % by pigment"),
        "a name": ("red iron oxide", "Give mass % by pigment"),
        "text": ({"ultramarine": "a spoon"}, "ultramarine: 'a spoon' is no mass %"),
        "no load": ({"ultramarine": None}, "ultramarine: None is no mass %"),
        "a list of loads": ({"ultramarine": [1, 2]}, r"ultramarine: \[1, 2\] is no mass %"),
        "negative": ({"carmine": 1, "ultramarine": -2}, "ultramarine: -2 % cannot be"),
        "missing": ({"ultramarine": float("nan")}, "ultramarine: nan % cannot be"),
        "endless": ({"ultramarine": float("inf")}, "ultramarine: inf % cannot be"),
        "too much": ({"ultramarine": 60, "carmine": 50}, "add up to 110 % of the product"),
        "one too much": ({"ultramarine": 100.1}, "add up to 100.1 % of the product"),
    }.values(),
)
def test_a_blend_that_cannot_be_is_refused(blend, told):
    with pytest.raises(LabError, match=told):
        read_blend(blend)


def test_a_hundred_percent_can_be():
    assert read_blend({"ultramarine": 33.3, "carmine": 33.3, "mica": 33.4})[1].sum() == pytest.approx(100)


@pytest.mark.parametrize(
    ("loads", "told"),
    [
        ([[1.0, 2.0], [3.0, -1.0]], r"b \(row 2\): -1 % cannot be"),
        ([[np.nan, 2.0], [3.0, 1.0]], r"a \(row 1\): nan % cannot be"),
        ([[1.0, 2.0], [60.0, 60.0]], "add up to 120 %"),
        ([[1.0, 2.0, 3.0]], "there are 2 pigments: one column for each"),
        ([1.0], "there are 2 pigments: one column for each"),
    ],
)
def test_loads_that_cannot_be_are_refused_with_their_row(loads, told):
    with pytest.raises(LabError, match=told):
        check_loads(np.array(loads), ["a", "b"])


# ---- the base --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("density", "index", "told"),
    [
        (0.2, 1.465, "density: 0.2 g/mL cannot be"),
        (2.0, 1.465, "density: 2 g/mL cannot be"),
        (float("nan"), 1.465, "density: nan g/mL cannot be"),
        (0.94, 1.0, "refractive index: 1 cannot be"),
        (0.94, 2.4, "refractive index: 2.4 cannot be"),
        (0.94, float("nan"), "refractive index: nan cannot be"),
    ],
)
def test_a_base_that_cannot_be_is_refused(density, index, told):
    with pytest.raises(LabError, match=told):
        Medium(density, index)


def test_the_surface_of_a_base():
    """Index 1.5: k1 0.0400, k2 0.5963 (Fresnel; integrated in test_optics)."""
    assert Medium(0.94, 1.5).k1 == pytest.approx(0.04)
    assert Medium(0.94, 1.5).k2 == pytest.approx(0.5963, abs=5e-5)


@pytest.mark.parametrize("n_d", [1.44, 1.4648, 1.479])
def test_the_usual_base_lies_among_waxes_and_oils(n_d):
    """Beeswax melt 1.440–1.445 and jojoba 1.4648 (from memory), castor oil 1.477–1.481 (Ph. Eur.)."""
    assert USUAL.index == pytest.approx(n_d, abs=0.03)
    assert 0.90 <= USUAL.density_g_ml <= 0.97


# ---- ratios ----------------------------------------------------------------------


def test_shares_add_up_to_one():
    assert shares(np.array([3.0, 1.0])).tolist() == [0.75, 0.25]


@pytest.mark.parametrize(
    "parts", [{"carmine": -1.0}, {"carmine": np.nan}, {"carmine": np.inf}, {}, {"carmine": 0}]
)
def test_parts_that_are_none_are_refused(parts):
    with pytest.raises(LabError):
        read_parts(parts)


def test_the_density_of_a_product_is_its_mass_over_its_volume():
    """20 g of red iron oxide (5.2 g/mL) in 80 g of a base of 0.94 g/mL, by hand: 3.846 mL and 85.106 mL."""
    by_hand = 100 / (3.84615 + 85.10638)
    assert density_of([20.0], [5.2], Medium(0.94, 1.465)) == pytest.approx(by_hand, rel=1e-5)
    assert density_of([0.0], [5.2], Medium(0.94, 1.465)) == pytest.approx(0.94)
