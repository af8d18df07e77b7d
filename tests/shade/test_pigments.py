"""The pigments' optics: names, choosing some, and draws of what is not known of them."""

import numpy as np
import pytest

from labkit.colour.cie import WAVELENGTHS
from labkit.errors import LabError
from labkit.shade.pigments import Pigments, default_pigments, sources, spectral_modes

PIGMENTS = default_pigments()
SOME = ["titanium dioxide", "red iron oxide", "ultramarine"]
BASES = {"published optical constants", "published bands", "estimate"}


def two(level_sd=0.3):
    """Two invented pigments that are known to within one level each, of k and of s."""
    modes = np.zeros((4, 2, 2, WAVELENGTHS.size))
    for at in range(4):
        modes[at, at // 2, at % 2] = level_sd
    return Pigments(
        names=("grey", "soot"),
        density_g_ml=np.array([4.0, 1.8]),
        log_ks=np.log(np.array([[0.5, 3.0], [9.0, 0.2]]))[:, :, None] * np.ones(WAVELENGTHS.size),
        modes=modes,
        basis=("estimate", "estimate"),
    )


# ---- the defaults ----------------------------------------------------------------


def test_every_default_pigment_has_its_optics_and_their_source():
    assert set(sources()) == set(PIGMENTS) == set(PIGMENTS.names)
    assert len(PIGMENTS) == len(PIGMENTS.density_g_ml) == len(PIGMENTS.basis)
    assert PIGMENTS.k.shape == PIGMENTS.s.shape == (len(PIGMENTS), WAVELENGTHS.size)
    assert np.isfinite(PIGMENTS.log_ks).all()
    assert all(sources().values())
    assert set(PIGMENTS.basis) <= BASES


def test_the_pigments_that_a_lip_maker_needs_are_there():
    oxides = {"red iron oxide", "yellow iron oxide", "black iron oxide", "titanium dioxide", "zinc oxide"}
    assert oxides | {"ultramarine", "manganese violet", "carmine", "red 7 lake", "mica"} <= set(PIGMENTS)


def test_an_estimate_is_less_sure_than_published_constants():
    spread = np.sqrt((PIGMENTS.modes**2).sum(0)).mean((1, 2))
    by_basis = {basis: spread[np.array(PIGMENTS.basis) == basis] for basis in BASES}
    assert by_basis["estimate"].mean() > by_basis["published optical constants"].mean()


def test_the_logarithms_are_those_of_k_and_s():
    assert np.log(PIGMENTS.k) == pytest.approx(PIGMENTS.log_ks[:, 0])
    assert np.log(PIGMENTS.s) == pytest.approx(PIGMENTS.log_ks[:, 1])


def test_pigments_are_not_known_independently_of_one_another():
    """Each mode moves one pigment's k or s alone."""
    moved = np.abs(PIGMENTS.modes).max(-1) > 0
    assert (moved.sum((1, 2)) == 1).all()
    assert moved.any(0).all()


# ---- choosing some ---------------------------------------------------------------


def test_some_stand_in_the_order_asked():
    some = PIGMENTS.only(SOME)
    assert some.names == tuple(some) == tuple(SOME)
    for at, name in enumerate(SOME):
        was = PIGMENTS.names.index(name)
        assert (some.k[at] == PIGMENTS.k[was]).all()
        assert (some.s[at] == PIGMENTS.s[was]).all()
        assert some.density_g_ml[at] == PIGMENTS.density_g_ml[was]
        assert some.basis[at] == PIGMENTS.basis[was]


def test_some_are_as_well_known_as_before():
    at = [PIGMENTS.names.index(name) for name in SOME]
    some = PIGMENTS.only(SOME)
    assert len(some.modes) < len(PIGMENTS.modes)
    assert (np.abs(some.modes).max((1, 2, 3)) > 0).all()
    flat, was = (
        some.modes.reshape(len(some.modes), -1),
        PIGMENTS.modes[:, at].reshape(len(PIGMENTS.modes), -1),
    )
    assert flat.T @ flat == pytest.approx(was.T @ was, abs=1e-15)


def test_all_are_the_same_as_before():
    whole = PIGMENTS.only(PIGMENTS.names)
    assert whole.names == PIGMENTS.names
    assert (whole.log_ks == PIGMENTS.log_ks).all()
    assert (whole.modes == PIGMENTS.modes).all()


def test_none_may_be_chosen():
    none = PIGMENTS.only([])
    assert none.names == ()
    k, s = none.draws(4)
    assert k.shape == s.shape == (4, 0, 36)


@pytest.mark.parametrize("typed", ["Red Iron Oxide", "  red iron oxide ", "RED IRON OXIDE"])
def test_case_and_spaces_do_not_matter(typed):
    assert PIGMENTS.resolve(typed) == "red iron oxide"


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("CI 77491", "red iron oxide"),
        ("C.I. 77007", "ultramarine"),
        ("77499", "black iron oxide"),
        ("1309-37-1", "red iron oxide"),
        ("CI 75470", "carmine"),
        ("12001-26-2", "mica"),
    ],
)
def test_a_pigment_is_found_by_its_register_numbers(typed, name):
    """CI and CAS numbers: 21 CFR 73 and the Colour Index, from memory."""
    assert PIGMENTS.resolve(typed) == name
    assert PIGMENTS.only([typed]).names == (name,)


@pytest.mark.parametrize(
    ("typed", "told"),
    {
        "near": ("red iron oxyde", "Did you mean “red iron oxide”"),
        "near by a letter": ("ultramarin", "Did you mean “ultramarine”"),
        "far": ("zzz", "“zzz” is no pigment that labkit can forecast. Known: “red iron oxide”"),
        "empty": ("", "is no pigment that labkit can forecast"),
        "no CI of a pigment here": ("CI 99999", "is no pigment that labkit can forecast"),
    }.values(),
)
def test_an_unknown_pigment_is_refused_with_near_names(typed, told):
    with pytest.raises(LabError, match=told):
        PIGMENTS.only(["ultramarine", typed])


@pytest.mark.parametrize("twice", ["carmine", "Carmine ", "CI 75470"])
def test_a_pigment_that_comes_twice_is_refused(twice):
    with pytest.raises(LabError, match=f"“{twice}” stands there twice"):
        PIGMENTS.only(["carmine", "ultramarine", twice])


# ---- draws of what is not known --------------------------------------------------


def test_draws_have_the_logarithms_mean_exactly():
    k, s = PIGMENTS.draws(50)
    assert k.shape == s.shape == (50, len(PIGMENTS), 36)
    assert np.log(k).mean(0) == pytest.approx(PIGMENTS.log_ks[:, 0], abs=1e-12)
    assert np.log(s).mean(0) == pytest.approx(PIGMENTS.log_ks[:, 1], abs=1e-12)


def test_draws_have_the_covariance_of_the_modes():
    """20,000 draws, half of them mirrored: a standard deviation is good to 0.7 %, a correlation to 0.01."""
    some = PIGMENTS.only(SOME)
    logs = np.log(np.stack(some.draws(20_000), axis=2))[..., ::7].reshape(20_000, -1)
    modes = some.modes[..., ::7].reshape(len(some.modes), -1)
    wanted = modes.T @ modes
    sd = np.sqrt(np.diag(wanted))
    found = np.cov(logs, rowvar=False)
    assert np.sqrt(np.diag(found)) == pytest.approx(sd, rel=0.035)
    assert found / np.outer(sd, sd) == pytest.approx(wanted / np.outer(sd, sd), abs=0.06)


def test_draws_are_lognormal():
    """ln k has quantiles −1.645, 0 and 1.645 standard deviations from its mean at 5, 50 and 95 %."""
    k, _ = two(level_sd=0.3).draws(20_000)
    wanted = np.log(0.5) + 0.3 * np.array([-1.645, 0, 1.645])
    assert np.quantile(np.log(k[:, 0, 0]), [0.05, 0.5, 0.95]) == pytest.approx(wanted, abs=0.02)


def test_a_seed_gives_the_same_draws_and_another_does_not():
    assert (two().draws(10)[0] == two().draws(10)[0]).all()
    assert (two().draws(10, seed=1)[0] != two().draws(10, seed=2)[0]).any()


def test_an_odd_number_of_draws():
    assert two().draws(7)[0].shape == (7, 2, 36)
    assert two().draws(1)[1].shape == (1, 2, 36)


# ---- the ways in which a spectrum is not known -----------------------------------


@pytest.mark.parametrize(("level", "shape", "nm"), [(0.35, 0.25, 40.0), (0.5, 0.3, 80.0), (0.0, 0.4, 60.0)])
def test_modes_make_up_the_covariance(level, shape, nm):
    """A level and a squared-exponential deviation; the modes leave out 0.5 % of the variance or less."""
    modes = spectral_modes(level, shape, nm)
    apart = WAVELENGTHS[:, None] - WAVELENGTHS
    wanted = level**2 + shape**2 * np.exp(-(apart**2) / (2 * nm**2))
    left = wanted - modes.T @ modes
    assert 0 <= np.trace(left) <= 0.005 * np.trace(wanted)
    assert np.linalg.eigvalsh(left).min() > -1e-12


def test_modes_are_independent_and_the_widest_is_first():
    modes = spectral_modes(0.3, 0.2, 50.0)
    across = modes @ modes.T
    sizes = np.diag(across)
    assert across == pytest.approx(np.diag(sizes), abs=1e-12)
    assert (np.diff(sizes) < 0).all()
    assert (modes[:, 0] > 0).all()


def test_a_level_alone_is_one_flat_mode():
    assert spectral_modes(0.4, 0.0, 50.0) == pytest.approx(np.full((1, 36), 0.4))
