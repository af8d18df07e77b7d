"""Reflectance to CIELAB and to the screen, against colour-science, the standards' figures and formulas."""

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.colour.cie import (
    WAVELENGTHS,
    colour_science,
    delta_e00,
    hex_of_lab,
    lab_of,
    lab_of_srgb,
    lab_of_xyz,
    luminance,
    on_screen,
    srgb_of_lab,
    weights,
    white,
    xyz_of_lab,
)

colour = colour_science()
OBSERVER = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
D65 = colour.SDS_ILLUMINANTS["D65"]
HEXES = st.tuples(*[st.integers(0, 255)] * 3).map("#{0[0]:02x}{0[1]:02x}{0[2]:02x}".format)


def some(*shape, seed=1):
    return np.random.default_rng(seed).random((*shape, WAVELENGTHS.size))


def literal_lab(X, Y, Z):
    """CIE 15, one number at a time, as the standard writes it."""

    def f(t):
        return t ** (1 / 3) if t > (24 / 116) ** 3 else (841 / 108) * t + 16 / 116

    x, y, z = (each / whole for each, whole in zip((X, Y, Z), white(), strict=True))
    return 116 * f(y) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))


# ---- from reflectance to X, Y, Z -------------------------------------------------


def test_the_wavelengths_are_380_to_730_in_steps_of_10():
    assert WAVELENGTHS.tolist() == list(range(380, 731, 10))
    with pytest.raises(ValueError, match="read-only"):
        WAVELENGTHS[0] = 1.0


@pytest.mark.filterwarnings("ignore::colour.utilities.ColourRuntimeWarning")
@pytest.mark.filterwarnings("ignore::colour.utilities.ColourUsageWarning")
def test_xyz_is_what_colour_science_makes_of_the_spectrum():
    for reflectance in some(8):
        spectrum = colour.SpectralDistribution(reflectance, WAVELENGTHS)
        wanted = colour.sd_to_XYZ(spectrum, OBSERVER, D65) / 100
        assert reflectance @ weights() == pytest.approx(wanted, abs=1e-12)


def test_xyz_is_what_a_sum_over_every_nanometre_gives():
    """CIE 15: X = Σ R·E·x̄ / Σ E·ȳ at 1 nm, of smooth reflectances; 10 nm steps are good to 0.001."""
    nm = np.arange(360, 831)
    power, bars = D65.copy().align(colour.SpectralShape(360, 830, 1)).values, OBSERVER.values
    for middle, width in [(450, 60), (550, 80), (620, 50)]:
        fine = 0.1 + 0.7 * np.exp(-(((nm - middle) / width) ** 2))
        coarse = 0.1 + 0.7 * np.exp(-(((WAVELENGTHS - middle) / width) ** 2))
        wanted = (fine * power) @ bars / (power @ bars[:, 1])
        assert coarse @ weights() == pytest.approx(wanted, abs=1e-3)


def test_the_white_is_the_published_one_of_d65():
    """CIE 15: D65, 2°: X 0.95047, Y 1, Z 1.08883 (ASTM E308, table for 10 nm: 0.95047, 1, 1.08883)."""
    assert white() == pytest.approx([0.95047, 1.0, 1.08883], abs=1e-5)


def test_weights_and_white_cannot_be_written_over():
    with pytest.raises(ValueError, match="read-only"):
        weights()[0] = 0.0


def test_luminance_is_y():
    spectra = some(3, 4)
    assert luminance(spectra) == pytest.approx((spectra @ weights())[..., 1])
    assert luminance(np.ones(36)) == pytest.approx(1.0, abs=1e-12)


# ---- CIELAB ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("grey", "lightness"), [(0.0, 0.0), (0.0088564517, 8.0), (0.1841865, 50.0), (0.8, 91.6849), (1.0, 100.0)]
)
def test_a_flat_grey_has_its_lightness_and_no_hue(grey, lightness):
    """CIE 15: L* = 116 Y^⅓ − 16, and below Y = 216/24389 a straight line to 0 that meets it at L* 8."""
    assert lab_of(np.full(36, grey)) == pytest.approx([lightness, 0, 0], abs=1e-4)


@given(st.tuples(*[st.floats(0, 1.2)] * 3))
def test_lab_is_the_standards_formula(xyz):
    assert lab_of_xyz(np.array(xyz)) == pytest.approx(literal_lab(*xyz), abs=1e-9)


def test_lab_is_what_colour_science_makes_of_it():
    xyz = some(50) @ weights()
    wanted = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(white()))
    assert lab_of_xyz(xyz) == pytest.approx(wanted, abs=1e-9)


@given(st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100)))
def test_xyz_of_lab_turns_it_round(lab):
    assert lab_of_xyz(xyz_of_lab(lab)) == pytest.approx(lab, abs=1e-9)


@pytest.mark.parametrize("shape", [(), (1,), (0,), (5,), (2, 3, 4)])
def test_shapes_are_kept(shape):
    lab = lab_of(some(*shape))
    assert lab.shape == (*shape, 3)
    assert xyz_of_lab(lab).shape == srgb_of_lab(lab).shape == (*shape, 3)
    assert luminance(some(*shape)).shape == np.shape(on_screen(lab)) == np.shape(delta_e00(lab, lab)) == shape
    assert np.shape(hex_of_lab(lab)) == shape


def test_black_and_white_give_no_warning():
    with np.errstate(all="raise"):
        assert lab_of(np.zeros(36)).tolist() == [0, 0, 0]
        assert lab_of(np.stack([np.zeros(36), np.ones(36)]))[:, 0] == pytest.approx([0, 100])


# ---- the screen ------------------------------------------------------------------


@settings(deadline=None)
@given(HEXES)
def test_a_screen_code_comes_back(code):
    srgb = [int(code[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    lab = lab_of_srgb(srgb)
    assert hex_of_lab(lab) == code
    assert srgb_of_lab(lab) == pytest.approx(srgb, abs=5e-4)
    assert on_screen(lab)


@pytest.mark.parametrize(
    ("srgb", "lab"),
    [
        ((1, 0, 0), (53.24, 80.09, 67.20)),
        ((0, 1, 0), (87.73, -86.18, 83.18)),
        ((0, 0, 1), (32.30, 79.19, -107.86)),
        ((0, 0, 0), (0, 0, 0)),
    ],
    ids=["red", "green", "blue", "black"],
)
def test_the_screens_primaries(srgb, lab):
    """sRGB (IEC 61966-2-1) primaries in CIELAB, D65 (from memory, where the second decimal varies)."""
    assert lab_of_srgb(srgb) == pytest.approx(lab, abs=0.03)


def test_srgb_is_the_standards_formula():
    """IEC 61966-2-1: linear below 0.0031308, else 1.055·v^(1/2.4) − 0.055, by its rounded matrix."""
    matrix = [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
    for lab in ([52, 21, 13], [20, 5, -10], [91, 1, 4], [2, 0, 0]):
        linear = np.array(matrix) @ xyz_of_lab(lab)
        wanted = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.abs(linear) ** (1 / 2.4) - 0.055)
        assert srgb_of_lab(lab) == pytest.approx(wanted, abs=1e-6)


def test_a_colour_that_no_screen_shows_is_clipped_and_told():
    wild = np.array([[50.0, 100.0, -100.0], [50.0, 10.0, 10.0], [30.0, -45.0, 0.0], [70.0, 10.0, 90.0]])
    assert on_screen(wild).tolist() == [False, True, False, False]
    assert ((srgb_of_lab(wild) >= 0) & (srgb_of_lab(wild) <= 1)).all()


def test_codes_of_many_are_an_object_array_of_text():
    codes = hex_of_lab([[[0, 0, 0], [100, 0, 0]], [[50, 0, 0], [52, 21, 13]]])
    assert codes.dtype == object
    assert codes[0].tolist() == ["#000000", "#ffffff"]
    assert type(codes[1, 1]) is type(hex_of_lab([52, 21, 13])) is str


# ---- ΔE00 ------------------------------------------------------------------------

# Sharma, Wu and Dalal 2005, Color Res. Appl. 30, 21, table 1: L*, a*, b* twice, ΔE00. The numbers are those
# that colour-science has in its own tests; pair 14, which it leaves out, is apart below.
SHARMA = """
50.0000 2.6772 -79.7751 50.0000 0.0000 -82.7485 2.0425
50.0000 3.1571 -77.2803 50.0000 0.0000 -82.7485 2.8615
50.0000 2.8361 -74.0200 50.0000 0.0000 -82.7485 3.4412
50.0000 -1.3802 -84.2814 50.0000 0.0000 -82.7485 1.0000
50.0000 -1.1848 -84.8006 50.0000 0.0000 -82.7485 1.0000
50.0000 -0.9009 -85.5211 50.0000 0.0000 -82.7485 1.0000
50.0000 0.0000 0.0000 50.0000 -1.0000 2.0000 2.3669
50.0000 -1.0000 2.0000 50.0000 0.0000 0.0000 2.3669
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0009 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0010 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0011 7.2195
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0012 7.2195
50.0000 -0.0010 2.4900 50.0000 0.0009 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0011 -2.4900 4.7461
50.0000 2.5000 0.0000 50.0000 0.0000 -2.5000 4.3065
50.0000 2.5000 0.0000 73.0000 25.0000 -18.0000 27.1492
50.0000 2.5000 0.0000 61.0000 -5.0000 29.0000 22.8977
50.0000 2.5000 0.0000 56.0000 -27.0000 -3.0000 31.9030
50.0000 2.5000 0.0000 58.0000 24.0000 15.0000 19.4535
50.0000 2.5000 0.0000 50.0000 3.1736 0.5854 1.0000
50.0000 2.5000 0.0000 50.0000 3.2972 0.0000 1.0000
50.0000 2.5000 0.0000 50.0000 1.8634 0.5757 1.0000
50.0000 2.5000 0.0000 50.0000 3.2592 0.3350 1.0000
60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630
61.2901 3.7196 -5.3901 61.4292 2.2480 -4.9620 1.8731
35.0831 -44.1164 3.7933 35.0232 -40.0716 1.5901 1.8645
22.7233 20.0904 -46.6940 23.0331 14.9730 -42.5619 2.0373
36.4612 47.8580 18.3852 36.2715 50.5065 21.2231 1.4146
90.8027 -2.0831 1.4410 91.1528 -1.6435 0.0447 1.4441
90.9257 -0.5406 -0.9208 88.6381 -0.8985 -0.7239 1.5381
6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.1350 0.9033 -0.0636 -0.5514 0.9082
"""
PAIRS = np.array([line.split() for line in SHARMA.split("\n") if line], float)


def test_the_published_pairs_of_ciede2000():
    assert len(PAIRS) == 33
    one, other, wanted = PAIRS[:, :3], PAIRS[:, 3:6], PAIRS[:, 6]
    assert delta_e00(one, other) == pytest.approx(wanted, abs=1e-4)
    assert delta_e00(other, one) == pytest.approx(wanted, abs=1e-4)


def test_the_published_pair_whose_hues_are_opposite():
    """Pair 14 (from memory): 180° apart, so the last bit decides for 4.8045, as published, or 4.7461."""
    found = float(delta_e00([50, -0.0010, 2.4900], [50, 0.0010, -2.4900]))
    assert min(abs(found - 4.8045), abs(found - 4.7461)) < 1e-4


def test_a_colour_has_no_difference_from_itself():
    assert delta_e00([[50, 20, 10], [0, 0, 0]], [[50, 20, 10], [0, 0, 0]]).tolist() == [0, 0]


def test_differences_broadcast():
    assert delta_e00(np.zeros((4, 1, 3)), np.ones((5, 3))).shape == (4, 5)


# ---- what it leaves alone --------------------------------------------------------


def fresh(code):
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_how_numpy_prints_stays_as_it_was():
    """Colour-science sets numpy's printing to that of version 1.13 where it is imported plainly."""
    code = (
        "import numpy as np; from labkit.colour.cie import colour_science; colour_science(); "
        "print(np.get_printoptions()['legacy'], np.array([0.5, 1.0]))"
    )
    assert fresh(code) == "False [0.5 1. ]"


def test_colour_science_is_loaded_only_when_it_is_used():
    assert fresh("import sys, labkit.colour.cie; print('colour' in sys.modules)") == "False"
