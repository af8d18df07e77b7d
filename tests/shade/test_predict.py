"""The colour of one film: against a slow literal forecast, its limits, how sure it is, and what cannot be."""

import math
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.colour.cie import WAVELENGTHS, colour_science, hex_of_lab, lab_of, luminance, white
from labkit.errors import LabError
from labkit.shade import optics
from labkit.shade.backing import named, reflectance_of
from labkit.shade.film_colour import check_film, drawn_coefficients, inside, one_film, predict, readings
from labkit.shade.medium import USUAL, Medium
from labkit.shade.mixture import coefficients
from labkit.shade.pigments import Pigments, default_pigments

colour = colour_science()
ROSE = {"red iron oxide": 6.0, "titanium dioxide": 2.0, "ultramarine": 0.5}
BACKINGS = ["black card", "white card", "lip", "skin dark"]


def literal(blend, film_um, backing, pigments, medium):
    """Reflectance, one wavelength at a time, in Kubelka's words (sinh and cosh) and Saunderson's."""
    millilitres = {
        name: grams / pigments.density_g_ml[pigments.names.index(name)] for name, grams in blend.items()
    }
    whole = sum(millilitres.values()) + (100 - sum(blend.values())) / medium.density_g_ml
    k1 = ((medium.index - 1) / (medium.index + 1)) ** 2
    k2 = optics.internal_diffuse_reflectance(medium.index)
    read = []
    for at in range(36):
        K = sum(ml / whole * pigments.k[pigments.names.index(name), at] for name, ml in millilitres.items())
        S = sum(ml / whole * pigments.s[pigments.names.index(name), at] for name, ml in millilitres.items())
        below = backing[at] / ((1 - k1) * (1 - k2) + k2 * backing[at])
        a = 1 + K / S
        b = math.sqrt(a * a - 1)
        thick = b * S * film_um
        black = math.sinh(thick) / (a * math.sinh(thick) + b * math.cosh(thick))
        through = b / (a * math.sinh(thick) + b * math.cosh(thick))
        R = black + through**2 * below / (1 - black * below)
        read.append((1 - k1) * (1 - k2) * R / (1 - k2 * R))
    return np.array(read)


def grey(ratio=0.2, scattering=5.0, sd=0.0):
    """An invented pigment, the same at every wavelength: K/S = ratio."""
    level = np.log(np.array([ratio * scattering, scattering]))
    modes = np.zeros((2, 1, 2, 36))
    modes[0, 0, 0], modes[1, 0, 1] = sd, sd
    return Pigments(
        ("grey",), np.array([4.0]), level[None, :, None] * np.ones(36), modes[: 2 if sd else 0], ("estimate",)
    )


def coverage(blend, film_um, pigments=None):
    over = [
        luminance(predict(blend, film_um, card, pigments).reflectance)
        for card in ("black card", "white card")
    ]
    return over[0] / over[1]


# ---- the forecast ----------------------------------------------------------------


@pytest.mark.parametrize("film_um", [3.0, 10.0, 25.0])
@pytest.mark.parametrize("backing", BACKINGS)
def test_it_is_the_literal_forecast(film_um, backing):
    found = predict(ROSE, film_um, backing)
    wanted = literal(ROSE, film_um, reflectance_of(backing), default_pigments(), USUAL)
    assert found.reflectance == pytest.approx(wanted, abs=1e-12)


@pytest.mark.filterwarnings("ignore::colour.utilities.ColourRuntimeWarning")
@pytest.mark.filterwarnings("ignore::colour.utilities.ColourUsageWarning")
def test_its_colour_is_what_colour_science_makes_of_its_reflectance():
    found = predict(ROSE)
    xyz = colour.sd_to_XYZ(
        colour.SpectralDistribution(found.reflectance, WAVELENGTHS),
        colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"],
        colour.SDS_ILLUMINANTS["D65"],
    )
    assert found.lab == pytest.approx(colour.XYZ_to_Lab(xyz / 100, colour.XYZ_to_xy(white())), abs=1e-9)
    assert found.hex == hex_of_lab(found.lab)


def test_it_says_what_it_rests_on():
    found = predict({"ultramarine": 1, "Carmine": 2})
    assert found.basis == {"ultramarine": "published bands", "carmine": "estimate"}


def test_the_same_question_has_the_same_answer():
    one, other = predict(ROSE), predict(ROSE)
    assert (one.lab == other.lab).all()
    assert (one.lab_sd == other.lab_sd).all()


def test_the_order_of_the_pigments_does_not_matter():
    turned = dict(reversed(ROSE.items()))
    assert predict(turned).lab == pytest.approx(predict(ROSE).lab, abs=1e-12)


def test_a_pigment_may_be_named_by_its_number():
    assert (
        predict({"CI 77491": 6, "77891": 2}).lab == predict({"red iron oxide": 6, "titanium dioxide": 2}).lab
    ).all()


def test_a_pigment_of_which_there_is_none_changes_nothing():
    assert predict({**ROSE, "carmine": 0}).lab == pytest.approx(predict(ROSE).lab, abs=1e-12)


def test_red_is_red_and_white_is_white():
    red, pale, blue = (
        predict({name: 20}, math.inf).lab for name in ("red iron oxide", "titanium dioxide", "ultramarine")
    )
    assert red[1] > 10
    assert red[2] > 0
    assert pale[0] > 90
    assert blue[2] < -20


# ---- its limits ------------------------------------------------------------------


@pytest.mark.parametrize("name", named())
def test_an_empty_blend_shows_the_backing(name):
    found = predict({}, backing=name)
    assert found.lab == pytest.approx(named()[name], abs=1e-9)
    assert found.lab_sd == pytest.approx([0, 0, 0], abs=1e-12)
    assert found.basis == {}


@pytest.mark.parametrize("blend", [{}, {"ultramarine": 0}, ROSE])
def test_no_film_shows_the_backing(blend):
    assert predict(blend, 0.0, [52, 21, 13]).lab == pytest.approx([52, 21, 13], abs=1e-9)
    assert predict(blend, 0.0, "white card").reflectance == pytest.approx(np.full(36, 0.8), abs=1e-12)


@pytest.mark.parametrize("backing", BACKINGS)
def test_an_endless_film_hides_every_backing(backing):
    K, S = coefficients([6.0, 2.0, 0.5], default_pigments().only(list(ROSE)), USUAL)
    masstone = optics.saunderson(optics.masstone(K, S), USUAL.k1, USUAL.k2)
    assert predict(ROSE, math.inf, backing).reflectance == pytest.approx(masstone, abs=1e-12)
    assert predict(ROSE, 1e5, backing).reflectance == pytest.approx(masstone, abs=1e-9)


def test_no_forecast_warns():
    with np.errstate(divide="raise", over="raise", invalid="raise"):
        for film_um in (0.0, 1e-300, 1e-9, 10.0, 1e9, 1e300, math.inf):
            for load in (0.0, 1e-300, 1e-9, 5.0, 100.0):
                for backing in (*BACKINGS, np.ones(36)):
                    found = predict({"titanium dioxide": load}, film_um, backing)
                    assert np.isfinite(found.lab).all()
                    assert np.isfinite(found.lab_sd).all()
                    assert ((found.reflectance >= 0) & (found.reflectance <= 1 + 1e-12)).all()


# ---- films between cards ---------------------------------------------------------


@pytest.mark.parametrize("ratio", [0.02, 0.2, 2.0])
def test_a_solid_grey_film_is_the_same_grey_on_both_cards(ratio):
    """Closed form: R∞ of K/S, read through the surface; no hue, and a contrast ratio of 1."""
    whole = 1 + ratio - math.sqrt(ratio**2 + 2 * ratio)
    read = (1 - USUAL.k1) * (1 - USUAL.k2) * whole / (1 - USUAL.k2 * whole)
    for card in ("black card", "white card"):
        found = predict({"grey": 20}, 1e4, card, grey(ratio))
        assert found.reflectance == pytest.approx(np.full(36, read), abs=1e-9)
        assert found.lab == pytest.approx([116 * read ** (1 / 3) - 16, 0, 0], abs=1e-6)
    assert coverage({"grey": 20}, 1e4, grey(ratio)) == pytest.approx(1.0)


def test_a_sheer_grey_film_lies_between_the_cards():
    over = [predict({"grey": 5}, 10.0, card, grey()).reflectance for card in ("black card", "white card")]
    assert (over[0] > 0).all()
    assert (over[0] < over[1]).all()
    assert (over[1] < 0.8).all()


@pytest.mark.parametrize("name", ["red iron oxide", "titanium dioxide", "ultramarine", "mica", "carmine"])
def test_coverage_grows_with_the_film_and_with_the_load(name):
    by_film = [coverage({name: 8}, film) for film in (0.0, 1.0, 3.0, 10.0, 25.0, 100.0)]
    by_load = [coverage({name: load}, 10.0) for load in (0.0, 0.5, 1.0, 3.0, 8.0, 20.0)]
    for each in (by_film, by_load):
        assert each[0] == pytest.approx(0, abs=1e-12)
        assert (np.diff(each) > 0).all()
        assert each[-1] < 1


@settings(deadline=None, max_examples=30)
@given(st.floats(0.01, 5), st.floats(0.1, 20), st.floats(0.1, 50), st.floats(1, 25))
def test_any_grey_covers_more_where_there_is_more_of_it(ratio, scattering, load, film_um):
    """K and S grow with the load, so a load is as good as a film."""
    own = grey(ratio, scattering)
    less = coverage({"grey": load}, film_um, own)
    assert coverage({"grey": load}, 1.5 * film_um, own) >= less - 1e-12
    assert coverage({"grey": 1.5 * load}, film_um, own) >= less - 1e-12


# ---- the base --------------------------------------------------------------------


def test_the_base_changes_surface_and_volume():
    heavy = Medium(1.2, 1.5)
    wanted = literal(ROSE, 10.0, reflectance_of("lip"), default_pigments(), heavy)
    assert predict(ROSE, medium=heavy).reflectance == pytest.approx(wanted, abs=1e-12)
    assert predict({}, backing=[52, 21, 13], medium=heavy).lab == pytest.approx([52, 21, 13], abs=1e-9)


def test_inside_the_base_a_backing_is_lighter():
    """A wet lip keeps light in: what is read in air as 0.2 is 0.2/((1 − k1)(1 − k2) + 0.2·k2) inside."""
    k1, k2 = USUAL.k1, USUAL.k2
    assert inside(np.full(36, 0.2), USUAL)[0] == pytest.approx(0.2 / ((1 - k1) * (1 - k2) + 0.2 * k2))
    assert inside(np.zeros(36), USUAL).tolist() == [0] * 36


# ---- how sure it is --------------------------------------------------------------


def moved(pigments, by):
    return replace(pigments, log_ks=pigments.log_ks + by)


def lab_with(blend, pigments, film_um=10.0, backing="lip"):
    """Lab of pigments taken as they are, through the literal forecast."""
    return lab_of(literal(blend, film_um, reflectance_of(backing), pigments, USUAL))


def test_the_spread_is_what_brute_force_gives():
    """1,500 pigments drawn from the modes, each forecast literally; the 200 draws are good to about 7 %."""
    own = default_pigments().only(list(ROSE))
    rng = np.random.default_rng(7)
    by = np.tensordot(rng.standard_normal((1500, len(own.modes))), own.modes, 1)
    drawn = np.array([lab_with(ROSE, moved(own, each)) for each in by])
    assert predict(ROSE).lab_sd == pytest.approx(drawn.std(0), rel=0.2)


def test_a_small_spread_is_the_one_of_first_order():
    """Σ (∂Lab/∂mode)², by central differences; 200 draws are good to about 7 %."""
    own = default_pigments().only(list(ROSE))
    own = replace(own, modes=own.modes * 0.02)
    slopes = [
        (lab_with(ROSE, moved(own, each)) - lab_with(ROSE, moved(own, -each))) / 2 for each in own.modes
    ]
    wanted = np.sqrt((np.array(slopes) ** 2).sum(0))
    assert predict(ROSE, pigments=own).lab_sd == pytest.approx(wanted, rel=0.2)


def test_a_grey_that_is_not_sure_is_unsure_of_its_lightness_alone():
    sd = predict({"grey": 5}, 10.0, "white card", grey(sd=0.3)).lab_sd
    assert sd[0] > 0.5
    assert sd[1:] == pytest.approx([0, 0], abs=1e-9)
    assert predict({"grey": 5}, 10.0, "white card", grey()).lab_sd == pytest.approx([0, 0, 0], abs=1e-12)


def test_a_pigment_left_out_makes_nothing_less_sure():
    alone = default_pigments().only(["ultramarine"])
    assert (predict({"ultramarine": 3}).lab_sd == predict({"ultramarine": 3}, pigments=alone).lab_sd).all()


def test_a_sheer_film_is_surer_than_a_full_one():
    sheer, full = (np.linalg.norm(predict({"carmine": load}).lab_sd) for load in (0.1, 5.0))
    assert 0 < sheer < full / 3


def test_drawn_coefficients_are_those_of_drawn_pigments():
    own = default_pigments().only(list(ROSE))
    loads = np.array([[6.0, 2.0, 0.5], [0.0, 1.0, 3.0]])
    K, S = drawn_coefficients(loads, own, USUAL, draws=4)
    k, s = own.draws(4)
    assert K.shape == S.shape == (4, 2, 36)
    for at in range(4):
        drawn = replace(own, log_ks=np.log(np.stack([k[at], s[at]], axis=1)))
        wanted = coefficients(loads, drawn, USUAL)
        assert K[at] == pytest.approx(wanted[0], rel=1e-12)
        assert S[at] == pytest.approx(wanted[1], rel=1e-12)


def test_readings_broadcast_over_films_and_backings():
    K, S = coefficients(np.array([6.0, 2.0, 0.5]), default_pigments().only(list(ROSE)), USUAL)
    below = np.stack([inside(reflectance_of(each), USUAL) for each in BACKINGS])
    found = readings(K, S, np.array([3.0, 10.0])[:, None, None], below, USUAL)
    assert found.shape == (2, 4, 36)
    assert found[1, 2] == pytest.approx(predict(ROSE).reflectance, abs=1e-12)


# ---- what cannot be --------------------------------------------------------------


@pytest.mark.parametrize(
    ("film_um", "told"),
    [
        (float("nan"), "nan µm cannot be"),
        (-1, "-1 µm cannot be. A swipe on lips is 3 to 25 µm thick"),
        (-math.inf, "-inf µm cannot be"),
        (None, "None µm cannot be"),
        ("thick", "'thick' is no thickness. Give µm, such as 10"),
        ([5, 10], r"\[5, 10\] is more than one thickness"),
        ({"um": 10}, "is no thickness"),
    ],
)
def test_a_film_that_cannot_be_is_refused(film_um, told):
    with pytest.raises(LabError, match=told):
        predict(ROSE, film_um)


def test_films_are_checked_together():
    assert check_film([0, 3, math.inf]).tolist() == [0, 3, math.inf]
    assert one_film(10) == 10.0
    with pytest.raises(LabError, match="cannot be"):
        check_film([3.0, -2.0])


@pytest.mark.parametrize(
    ("blend", "told"),
    {
        "unknown": ({"red iron oxid": 6}, "Did you mean “red iron oxide”"),
        "past 100": ({"red iron oxide": 70, "titanium dioxide": 40}, "add up to 110 %"),
        "negative": ({"red iron oxide": -1}, "red iron oxide: -1 % cannot be"),
        "missing": ({"red iron oxide": math.nan}, "nan % cannot be"),
        "text": ({"red iron oxide": "some"}, "'some' is no mass %"),
        "no blend": ("red iron oxide", "Give mass % by pigment"),
        "twice": ({"red iron oxide": 1, "CI 77491": 1}, "stands there twice"),
        "a pearl": ({"titanium dioxide coated mica": 3}, "is not forecast: pearls"),
        "a dye": ({"red 27": 3}, "is not forecast: pearls"),
        "no optics": ({"chromium oxide green": 3}, "has no optics here yet"),
    }.values(),
)
def test_a_blend_that_cannot_be_is_refused(blend, told):
    with pytest.raises(LabError, match=told):
        predict(blend)


@pytest.mark.parametrize("backing", ["lipp", np.full(36, 55.0), np.full(31, 0.5), [52, 21], None])
def test_a_backing_that_is_none_is_refused(backing):
    with pytest.raises(LabError, match="backing"):
        predict(ROSE, backing=backing)


# ---- what it loads ---------------------------------------------------------------


def loaded_by(statement):
    code = f"import sys; {statement}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_a_forecast_loads_no_widget_no_picture_and_no_database():
    """And colour-science, scipy and pandas, which take a second, only where they are used."""
    loaded = loaded_by("import labkit.shade.film_colour, labkit.shade.many, labkit.shade.optics")
    heavy = {"ipywidgets", "anywidget", "matplotlib", "sqlalchemy", "colour", "scipy", "pandas"}
    assert loaded.isdisjoint(heavy | {"labkit.book", "labkit.ui"})
