"""Kubelka–Munk and surfaces: closed forms, differential equations, transport theory, Fresnel integrals."""

import iadpython
import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from labkit.shade.optics import (
    film,
    internal_diffuse_reflectance,
    masstone,
    normal_reflectance,
    saunderson,
    unsaunderson,
)

SHARES = st.floats(0, 1)
COEFFICIENTS = st.one_of(st.just(0.0), st.floats(1e-12, 1e6))
THICKNESSES = st.one_of(st.sampled_from([0.0, np.inf]), st.floats(1e-9, 1e9))


def hyperbolic(K, S, X, R_g):
    """Kubelka 1948 as he writes it, with coth, for K, S, X > 0."""
    a = (S + K) / S
    b = np.sqrt(a * a - 1)
    coth = 1 / np.tanh(b * S * X)
    return (1 - R_g * (a - b * coth)) / (a - R_g + b * coth)


def integrated(K, S, X, R_g):
    """Reflectance and transmittance over R_g from dI/dx = −(K + S)I + SJ, dJ/dx = (K + S)J − SI.

    I goes down and J up; the solution is followed from the backing, where I = 1 and J = R_g, to the top.
    """

    def upwards(_, fluxes):
        I, J = fluxes  # noqa: E741
        return [(K + S) * I - S * J, S * I - (K + S) * J]

    done = solve_ivp(upwards, (0, X), [1.0, R_g], rtol=1e-10, atol=1e-13, method="DOP853")
    I, J = done.y[:, -1]  # noqa: E741
    return J / I, 1 / I


# ---- the layer, in closed form ---------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "wanted"),
    [
        (0.01, 0.868226),
        (0.1, 0.641742),
        (0.25, 0.5),
        (0.5, 0.381966),
        (1, 0.267949192431),
        (2, 0.171573),
        (10, 0.045549),
    ],
)
def test_masstone_by_the_ratio_of_absorption_to_scattering(ratio, wanted):
    """Closed form: R∞ = 1 + K/S − √((K/S)² + 2K/S); K/S 0.25, 1, 0.5 are ½, 2 − √3, (3 − √5)/2."""
    assert masstone(ratio, 1.0) == pytest.approx(wanted, abs=6e-7)
    assert masstone(7 * ratio, 7.0) == pytest.approx(1 + ratio - np.sqrt(ratio**2 + 2 * ratio), abs=1e-12)


@pytest.mark.parametrize(
    ("K", "S", "X", "black", "white", "through"),
    [(0.5, 1, 1, 0.346546066, 0.435599835, 0.283647630), (0.1, 2, 3, 0.722441971, 0.731529620, 0.069240613)],
)
def test_a_film_over_black_and_over_white(K, S, X, black, white, through):
    """Closed form (Kubelka 1948): R₀ = sinh/(a sinh + b cosh), T = b/(a sinh + b cosh) of bSX."""
    assert film(K, S, X, 0.0) == pytest.approx(black, abs=1e-9)
    assert film(K, S, X, 0.8) == pytest.approx(white, abs=1e-9)
    assert film(K, S, X, 0.8) == pytest.approx(black + through**2 * 0.8 / (1 - black * 0.8), abs=1e-8)


@pytest.mark.parametrize("R_g", [0.0, 0.3, 0.8, 1.0])
@pytest.mark.parametrize(
    ("K", "S", "X"), [(0.5, 1, 1), (0.1, 2, 3), (1, 0.02, 2), (1e-4, 0.3, 10), (0, 0.4, 5)]
)
def test_a_film_solves_the_differential_equations(K, S, X, R_g):
    assert film(K, S, X, R_g) == pytest.approx(integrated(K, S, X, R_g)[0], abs=1e-8)


def test_the_integration_gives_the_closed_transmittance():
    assert integrated(0.5, 1, 1, 0.0)[1] == pytest.approx(0.283647630, abs=1e-8)
    assert integrated(0.1, 2, 3, 0.0)[1] == pytest.approx(0.069240613, abs=1e-8)


@given(st.floats(1e-3, 1e3), st.floats(1e-3, 1e3), st.floats(1e-3, 1e3), SHARES)
def test_a_film_is_the_hyperbolic_solution(K, S, X, R_g):
    assert film(K, S, X, R_g) == pytest.approx(hyperbolic(K, S, X, R_g), abs=1e-9)


@pytest.mark.parametrize(
    ("whole", "wanted"), [(0.95, 10.809), (0.9, 9.143), (0.8, 6.501), (0.6, 3.709), (0.3, 1.637)]
)
def test_how_thick_a_film_hides(whole, wanted):
    """S·X at which R over black / R over white (0.80) is 0.98, by R∞; closed form, solved by brentq."""
    K = (1 - whole) ** 2 / (2 * whole)

    def short(X):
        return film(K, 1.0, X, 0.0) / film(K, 1.0, X, 0.80) - 0.98

    assert masstone(K, 1.0) == pytest.approx(whole)
    assert brentq(short, 0.1, 100) == pytest.approx(wanted, abs=6e-4)


# ---- the layer, at its limits ----------------------------------------------------


def test_a_film_that_only_scatters():
    """K = 0 (closed form): R = (SX(1 − R_g) + R_g)/(1 + SX(1 − R_g))."""
    for SX in (1e-6, 0.1, 1.0, 30.0, 1e6):
        for R_g in (0.0, 0.4, 1.0):
            wanted = (SX * (1 - R_g) + R_g) / (1 + SX * (1 - R_g))
            assert film(0.0, SX, 1.0, R_g) == pytest.approx(wanted, rel=1e-12)
            assert film(1e-14 * SX, SX, 1.0, R_g) == pytest.approx(wanted, abs=1e-6)


def test_a_film_that_only_absorbs():
    """S = 0 (closed form): light goes down and up once, R = R_g e^(−2KX)."""
    for KX in (1e-6, 0.1, 1.0, 30.0):
        assert film(KX, 0.0, 1.0, 0.8) == pytest.approx(0.8 * np.exp(-2 * KX), abs=1e-15)
    assert masstone(1.0, 0.0) == 0.0


def test_a_clear_film_shows_what_is_below():
    assert film(0.0, 0.0, [0.0, 1.0, 1e9, np.inf], 0.37) == pytest.approx([0.37] * 4, rel=1e-15)
    assert film(3.0, 2.0, 0.0, 0.37) == pytest.approx(0.37, rel=1e-15)
    assert masstone(0.0, 0.0) == 0.0


@pytest.mark.parametrize("scale", [1e-100, 1e-12, 1.0, 1e12, 1e300])
def test_an_endless_film_is_the_masstone_whatever_the_unit(scale):
    """A film of K = S = 1e-12 and endless thickness once showed its backing."""
    for K, S in [(1.0, 1.0), (0.01, 1.0), (1.0, 0.0), (0.0, 1.0)]:
        whole = masstone(K * scale, S * scale)
        assert whole == pytest.approx(masstone(K, S), rel=1e-12)
        assert film(K * scale, S * scale, np.inf, [0.0, 0.5]) == pytest.approx([whole, whole], abs=1e-12)


@given(COEFFICIENTS, COEFFICIENTS, THICKNESSES, SHARES)
@example(0.0, 1e-12, np.inf, 1.0)
@example(0.0, 1e6, np.inf, 1.0)
@example(1e6, 1e6, 1e9, 1.0)
def test_a_film_reflects_between_its_masstone_and_its_backing(K, S, X, R_g):
    with np.errstate(divide="raise", over="raise", invalid="raise"):
        found = film(K, S, X, R_g)
    ends = sorted([R_g, masstone(K, S) if K + S else R_g])
    assert ends[0] - 1e-12 <= found <= ends[1] + 1e-12


@given(COEFFICIENTS, COEFFICIENTS, st.floats(1e-6, 1e6), st.floats(1e-6, 1e6), SHARES)
def test_two_films_make_one(K, S, X, more, R_g):
    """A film over a film of the same stuff is the thicker film."""
    assert film(K, S, X, film(K, S, more, R_g)) == pytest.approx(film(K, S, X + more, R_g), abs=1e-9)


@given(st.floats(1e-6, 1e3), st.floats(1e-6, 1e3))
def test_coverage_grows_with_thickness(K, S):
    thickness = np.geomspace(1e-3, 1e3, 40)
    gap = film(K, S, thickness, 0.8) - film(K, S, thickness, 0.0)
    assert (np.diff(gap) <= 1e-12).all()
    assert (np.diff(film(K, S, thickness, 0.0)) >= -1e-12).all()


@pytest.mark.parametrize("tiny", [1e-300, 1e-30])
@pytest.mark.parametrize("huge", [1e30, 1e300])
def test_the_extremes_of_floats_give_no_warning(tiny, huge):
    with np.errstate(divide="raise", over="raise", invalid="raise"):
        for K in (0.0, tiny, 1.0, huge):
            for S in (0.0, tiny, 1.0, huge):
                found = film(K, S, [0.0, tiny, 1.0, np.inf], np.array([[0.0], [tiny], [0.5], [1.0]]))
                assert ((found >= 0) & (found <= 1 + 1e-12)).all()
                assert 0 <= masstone(K, S) <= 1


def test_arrays_broadcast():
    K, S, X, R_g = np.ones((5, 1, 1, 1)), np.ones((4, 1, 1)), np.ones((3, 1)), np.ones(2)
    assert film(K, S, X, R_g).shape == (5, 4, 3, 2)
    assert film(list(K), 1, 1, 0.5).shape == (5, 1, 1, 1)
    assert masstone(np.ones((3, 1)), np.zeros(4)).shape == (3, 4)
    assert np.ndim(film(1, 1, 1, 0)) == np.ndim(masstone(1, 1)) == 0
    assert saunderson(np.ones((3, 1)), 0.04, np.full(4, 0.6)).shape == (3, 4)


# ---- against transport theory ----------------------------------------------------


def by_transport(absorbed, scattered, X, R_g, g):
    """Adding–doubling (iadpython) in diffuse light without surfaces, over a Lambertian backing."""
    along = scattered / (1 - g)
    sample = iadpython.Sample(a=along / (along + absorbed), b=(along + absorbed) * X, g=g, n=1, quad_pts=16)
    _, _, R, T = sample.rt()
    return R + T * T * R_g / (1 - R * R_g)


def apart(ratio, X, R_g, g):
    """Kubelka–Munk less transport, with K = 2μa and S = ¾μs' (Gate 1974, Appl. Opt. 13, 236), for μs' = 1."""
    return abs(film(2 * ratio, 0.75, X, R_g) - by_transport(ratio, 1.0, X, R_g, g))


@pytest.mark.parametrize(("g", "up_to"), [(0.0, 0.1), (0.5, 0.15), (0.8, 0.15)])
def test_hiding_films_follow_transport_theory(g, up_to):
    """Within 0.007 for weak absorption and X of 6 scattering lengths or more, over any backing."""
    for ratio in (0.0, 0.01, 0.05, up_to):
        for X in (6.0, 30.0):
            for R_g in (0.0, 0.4, 0.8):
                assert apart(ratio, X, R_g, g) < 0.007


def test_sheer_or_dark_films_stray_from_transport_theory():
    """It is a two-flux theory: 0.0085 at μa/μs' 0.2, 0.015 sheer over mid grey, 0.035 sheer over black."""
    assert 0.0065 < max(apart(0.2, X, R_g, g) for X in (6, 30) for R_g in (0, 0.8) for g in (0, 0.8)) < 0.0085
    sheer = [(ratio, X, g) for ratio in (0.0, 0.1, 0.2) for X in (0.1, 0.3, 1.0) for g in (0.0, 0.8)]
    assert 0.01 < max(apart(ratio, X, 0.4, g) for ratio, X, g in sheer) < 0.0155
    assert 0.03 < max(apart(ratio, X, 0.0, g) for ratio, X, g in sheer) < 0.0355


# ---- surfaces --------------------------------------------------------------------


def fresnel(cosine, n):
    """Share of unpolarised light reflected from index 1 to n at this cosine (Born and Wolf 1.5.2)."""
    sine = np.sqrt(1 - cosine**2) / n
    if sine >= 1:
        return 1.0
    beyond = np.sqrt(1 - sine**2)
    across = (cosine - n * beyond) / (cosine + n * beyond)
    along = (n * cosine - beyond) / (n * cosine + beyond)
    return (across**2 + along**2) / 2


def diffuse(n):
    """∫ 2μ·R(μ) dμ: what a surface reflects of Lambertian light."""
    edge = [np.sqrt(1 - n * n)] if n < 1 else None
    return quad(lambda cosine: 2 * cosine * fresnel(cosine, n), 0, 1, points=edge, epsabs=1e-11)[0]


@pytest.mark.parametrize(
    ("n", "wanted"),
    [
        (1.33, 0.4719),
        (1.40, 0.5290),
        (1.44, 0.5577),
        (1.46, 0.5711),
        (1.48, 0.5840),
        (1.5, 0.5963),
        (1.55, 0.6250),
        (1.60, 0.6509),
    ],
)
def test_diffuse_light_inside(n, wanted):
    """Fresnel's equations, integrated."""
    assert internal_diffuse_reflectance(n) == pytest.approx(wanted, abs=6e-5)
    assert internal_diffuse_reflectance(n) == pytest.approx(diffuse(1 / n), abs=1e-8)


@pytest.mark.parametrize("n", [1.001, 1.01, 1.1, 1.7, 2.0, 2.7, 4.0])
def test_diffuse_light_inside_other_indices(n):
    assert internal_diffuse_reflectance(n) == pytest.approx(diffuse(1 / n), abs=1e-7)


def test_no_surface_reflects_nothing():
    assert internal_diffuse_reflectance(1.0) == normal_reflectance(1.0) == 0.0


def test_diffuse_light_outside():
    """Walsh 1926: 0.09178 at n 1.5; it follows from the inside by (1 − k2)n² = 1 − r."""
    assert 1 - (1 - internal_diffuse_reflectance(1.5)) * 1.5**2 == pytest.approx(0.09178, abs=5e-6)
    assert diffuse(1.5) == pytest.approx(0.09178, abs=5e-6)


@pytest.mark.parametrize(("n", "wanted"), [(1.5, 0.0400), (1.46, 0.0350), (1.33, 0.0201)])
def test_light_along_the_normal(n, wanted):
    """((n − 1)/(n + 1))², Fresnel at normal incidence."""
    assert normal_reflectance(n) == pytest.approx(wanted, abs=5e-5)
    assert normal_reflectance(n) == pytest.approx(fresnel(1.0, n), rel=1e-12)


@pytest.mark.parametrize(("R", "read"), [(0.1, 0.08085), (0.5, 0.31429), (0.9, 0.79130)])
def test_what_an_instrument_reads(R, read):
    """Saunderson 1942, k1 0.04, k2 0.6: k1 + (1 − k1)(1 − k2)R/(1 − k2R); k1 less, specular excluded."""
    assert saunderson(R, 0.04, 0.6, include_specular=True) == pytest.approx(read, abs=6e-6)
    assert saunderson(R, 0.04, 0.6) == pytest.approx(read - 0.04, abs=6e-6)


def test_what_an_instrument_reads_is_the_sum_of_all_bounces():
    """(1 − k1)·R·(1 − k2) leaves at first, k2·R of the rest at every later bounce."""
    k1, k2, R = 0.035, 0.571, 0.6
    bounces = [(1 - k1) * R * (1 - k2) * (k2 * R) ** bounce for bounce in range(100)]
    assert saunderson(R, k1, k2) == pytest.approx(sum(bounces), rel=1e-12)


def test_a_reading_of_black_and_of_white():
    assert saunderson(0.0, 0.04, 0.6) == 0.0
    assert saunderson(0.0, 0.04, 0.6, include_specular=True) == 0.04
    assert saunderson(1.0, 0.04, 0.6, include_specular=True) == pytest.approx(1.0)
    assert unsaunderson(0.0, 0.04, 0.6) == 0.0


@given(SHARES, st.floats(0, 0.1), st.floats(0, 0.8), st.booleans())
def test_a_reading_goes_back(R, k1, k2, specular):
    read = saunderson(R, k1, k2, specular)
    assert 0 <= read <= 1 + 1e-12
    assert unsaunderson(read, k1, k2, specular) == pytest.approx(R, abs=1e-12)
