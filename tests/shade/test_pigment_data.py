"""The default optical data of pigments: as derived, plausible, and against what is published."""

import csv
from dataclasses import replace

import derive_pigment_optics as derive
import iadpython
import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad

from labkit.colour.cie import colour_science
from labkit.shade import optics

colour = colour_science()
NM = np.arange(380, 731, 10)
K1, K2 = 0.035, 0.573
BASE_DENSITY = 0.94
SHAPE = colour.SpectralShape(380, 730, 10)
OBSERVER = "CIE 1931 2 Degree Standard Observer"
NAMES = list(derive.PIGMENTS)
SUM_K, SUM_S, SUM_DENSITY = 1744.186875, 508.2105904, 44.64


@pytest.fixture(scope="module")
def spectra():
    return pd.read_csv(derive.SHADE / "pigment_spectra.csv")


@pytest.fixture(scope="module")
def pigments():
    return pd.read_csv(derive.SHADE / "pigments.csv", dtype={"ci": str}).set_index("pigment")


@pytest.fixture(scope="module")
def k_and_s(spectra):
    groups = spectra.groupby("pigment", sort=False)
    return {name: (rows["k_per_um"].to_numpy(), rows["s_per_um"].to_numpy()) for name, rows in groups}


def xyz(reflectance, illuminant="D65"):
    """CIE XYZ by colour-science, Y of white 1."""
    observer = colour.MSDS_CMFS[OBSERVER].copy().align(SHAPE)
    light = colour.SDS_ILLUMINANTS[illuminant].copy().align(SHAPE)
    return (
        colour.sd_to_XYZ(colour.SpectralDistribution(reflectance, NM), observer, light, method="Integration")
        / 100
    )


def lab(reflectance):
    return colour.XYZ_to_Lab(xyz(reflectance), colour.CCS_ILLUMINANTS[OBSERVER]["D65"])


def masstone_lab(K, S, include_specular=False):
    return lab(optics.saunderson(optics.masstone(K, S), K1, K2, include_specular))


def hue_and_chroma(colour_lab):
    return np.degrees(np.arctan2(colour_lab[2], colour_lab[1])) % 360, np.hypot(*colour_lab[1:])


def volume_fraction(mass_pct, density):
    pigment, base = mass_pct / density, (100 - mass_pct) / BASE_DENSITY
    return pigment / (pigment + base)


# The tables


@pytest.mark.parametrize("name", NAMES)
def test_the_spectra_are_what_the_derivation_gives(name, k_and_s):
    sample = [450, 600]
    K, S = derive.coefficients(derive.PIGMENTS[name], sample)
    at = np.searchsorted(NM, sample)
    np.testing.assert_allclose(k_and_s[name][0][at], K, rtol=1e-4)
    np.testing.assert_allclose(k_and_s[name][1][at], S, rtol=1e-4)


def test_the_pigments_table_is_what_the_derivation_writes():
    with (derive.SHADE / "pigments.csv").open(encoding="utf-8", newline="") as text:
        assert list(csv.reader(text)) == derive.pigment_rows()


def test_no_figure_was_edited_silently(spectra, pigments):
    """A change to the derivation changes these sums: look at what it does to colours, then write them."""
    assert spectra["k_per_um"].sum() == pytest.approx(SUM_K, rel=1e-9)
    assert spectra["s_per_um"].sum() == pytest.approx(SUM_S, rel=1e-9)
    assert pigments["density_g_ml"].sum() == pytest.approx(SUM_DENSITY, rel=1e-9)


def test_every_pigment_has_every_wavelength_once_and_in_order(spectra, pigments):
    assert list(spectra["pigment"].unique()) == list(pigments.index) == NAMES
    for _, rows in spectra.groupby("pigment"):
        assert list(rows["nm"]) == list(NM)


def test_k_and_s_are_finite_and_above_zero(spectra):
    values = spectra[["k_per_um", "s_per_um"]].to_numpy()
    assert np.isfinite(values).all()
    assert values.min() >= 1e-6


def test_every_row_says_where_it_comes_from(pigments):
    assert set(pigments["basis"]) == {"published optical constants", "published bands", "estimate"}
    assert (pigments["source"].str.len() > 100).all()
    assert pigments["source"].str.contains("from memory").all()
    assert pigments["note"].notna().all()
    estimates = pigments[pigments["basis"] == "estimate"]
    assert estimates["source"].str.startswith("No published optics used").all()
    published = pigments[pigments["basis"] != "estimate"]
    assert published["source"].str.contains(r"(?:18|19|20)\d\d").all()


def test_uncertainty_is_wide_where_nothing_is_published(pigments):
    sds = pigments[["k_sd", "s_sd", "k_shape_sd", "s_shape_sd"]]
    assert sds.min().min() >= 0.1
    assert sds.max().max() <= 0.7
    assert pigments["shape_nm"].between(20, 100).all()
    estimates = pigments[pigments["basis"] == "estimate"]
    assert estimates["k_sd"].min() >= 0.5
    assert estimates["k_shape_sd"].min() >= 0.3


def test_densities_of_gettens_and_stout(pigments):
    """Gettens & Stout, Painting Materials: ultramarine 2.34, anatase 3.9, rutile 4.2."""
    density = pigments["density_g_ml"]
    assert density["ultramarine"] == 2.34
    assert density["titanium dioxide anatase"] == 3.9
    assert density["titanium dioxide"] == 4.2
    assert density.between(1.4, 6).all()


# Colour of a thick layer


@pytest.mark.parametrize(
    ("name", "low", "high", "chroma"),
    [
        ("red iron oxide", 25, 50, 30),
        ("yellow iron oxide", 60, 90, 40),
        ("ultramarine", 270, 310, 30),
        ("manganese violet", 295, 335, 30),
        ("carmine", 0, 35, 30),
        ("red 7 lake", 5, 40, 35),
        ("red 6 lake", 20, 50, 45),
        ("yellow 5 lake", 80, 105, 60),
        ("blue 1 lake", 240, 290, 30),
    ],
)
def test_a_masstone_has_the_hue_of_its_name(name, low, high, chroma, k_and_s):
    """Sectors of CIELAB hue: red about 0–50°, yellow 60–105°, blue 240–310°, violet 295–335° (practice)."""
    hue, found = hue_and_chroma(masstone_lab(*k_and_s[name]))
    assert low < hue < high
    assert found > chroma


@pytest.mark.parametrize("name", ["titanium dioxide", "titanium dioxide anatase", "zinc oxide"])
def test_a_white_is_white(name, k_and_s):
    """L* of a white paint with its surface about 96–98 (from memory)."""
    L, a, b = masstone_lab(*k_and_s[name], include_specular=True)
    assert 94 < L < 98.5
    assert np.hypot(a, b) < 4


@pytest.mark.parametrize(
    ("name", "expected", "within"),
    [
        ("red iron oxide", (37.5, 27.5, 21.5), (2.5, 2.5, 3.5)),
        ("yellow iron oxide", (58, 20, 50), (4, 4, 6)),
        ("black iron oxide", (25, 0, 0), (3, 2, 2)),
    ],
)
def test_masstones_of_iron_oxides_in_a_binder(name, expected, within, k_and_s):
    """Read with the surface included; from memory."""
    found = masstone_lab(*k_and_s[name], include_specular=True)
    assert np.all(np.abs(found - expected) <= within)


def test_manganese_violet_comes_near_the_published_colour(k_and_s):
    """Gypsum & Lime 1986 (202) 162: complementary wavelength 554.4 nm, Y 10.6 %, excitation purity 48.7 %."""
    white = colour.CCS_ILLUMINANTS[OBSERVER]["C"]
    XYZ = xyz(optics.masstone(*k_and_s["manganese violet"]), "C")
    xy = colour.XYZ_to_xy(XYZ)
    assert colour.complementary_wavelength(xy, white)[0] == pytest.approx(554.4, abs=7)
    assert XYZ[1] == pytest.approx(0.106, abs=0.02)
    assert colour.excitation_purity(xy, white) == pytest.approx(0.487, abs=0.05)


def test_tints_of_the_certified_reds_differ_as_their_names_do(k_and_s, pigments):
    """Red 6 is the yellower of the two (common practice, no source)."""

    def tint(name):
        white, red = volume_fraction(10, 4.2), volume_fraction(1, pigments.loc[name, "density_g_ml"])
        K, S = (white * w + red * r for w, r in zip(k_and_s["titanium dioxide"], k_and_s[name], strict=True))
        return masstone_lab(K, S)

    assert tint("red 6 lake")[2] > tint("red 7 lake")[2] + 5


def test_red_oxide_hides_as_modelled_before(pigments):
    """10 % by mass, 10 µm: contrast ratio 0.75 (efficiency 0.4) to 0.95 (1.0), from another model."""
    share = volume_fraction(10, pigments.loc["red iron oxide", "density_g_ml"])
    backings = np.array([[0.0], [optics.unsaunderson(0.8, K1, K2)]])
    ratios = []
    for efficiency in (0.4, 1.0):
        K, S = derive.coefficients(replace(derive.PIGMENTS["red iron oxide"], efficiency=efficiency))
        read = optics.saunderson(optics.film(share * K, share * S, 10, backings), K1, K2)
        ratios.append(xyz(read[0])[1] / xyz(read[1])[1])
    assert ratios == pytest.approx([0.75, 0.95], abs=0.08)


# Bands


def test_ultramarine_has_its_published_bands(k_and_s):
    """S3⁻ near 595–604 nm, 0.45 eV wide; S2⁻ near 370–407 nm; clear between them (see the row's source)."""
    K = k_and_s["ultramarine"][0]
    assert 590 <= NM[K.argmax()] <= 610
    ev = np.linspace(1.6, 2.6, 2001)
    k = derive.PIGMENTS["ultramarine"].rays(derive.EV_NM / ev)[0][1].imag
    assert np.ptp(ev[k > k.max() / 2]) == pytest.approx(0.45, abs=0.02)
    assert 380 <= NM[K[NM < 450].argmax()] <= 410
    assert K[NM == 460] < 0.1 * K.max()


@pytest.mark.parametrize(("name", "published"), [("yellow 5 lake", 426), ("blue 1 lake", 630)])
def test_dyes_on_lakes_absorb_where_the_dye_does(name, published, k_and_s):
    """Belitz, Food Chemistry, table 8.12: tartrazine 426 nm, brilliant blue 630 nm, in water."""
    assert NM[k_and_s[name][0].argmax()] == pytest.approx(published, abs=10)


def test_carmine_absorbs_green_and_lets_red_through(k_and_s):
    """Swatland 2014 (doi 10.1002/col.21838): absorbs at 520–560 nm, reflects above 640 nm."""
    K = k_and_s["carmine"][0]
    assert 520 <= NM[K.argmax()] <= 560
    assert K[NM > 640].max() < 0.05 * K.max()


def test_the_height_of_ultramarine_follows_from_its_chromophores():
    """A third of cages (Liu & Fleet 2010), two cages in a cube of 0.907 nm, 4,500 L/(mol cm): from memory."""
    mol_per_l = 0.33 * 2 / 0.907**3 * 1e24 / 6.022e23
    per_um = np.log(10) * 4500 * mol_per_l * 1e-4
    nm = np.array([600.0])
    assert derive.PIGMENTS["ultramarine"].rays(nm)[0][1][0].imag == pytest.approx(
        per_um * 0.6 / (4 * np.pi), rel=0.1
    )


def test_the_index_of_a_band_is_its_hilbert_transform():
    """Kramers–Kronig integral by scipy, at, above and below a band."""
    band = (2.3, 0.4, 0.2)
    for ev in (1.9, 2.2, 2.3, 2.6):
        k = lambda e: derive.bands_k(derive.EV_NM / e, (band,))  # noqa: E731
        integral, _ = quad(k, 0.5, 4.5, weight="cauchy", wvar=ev)
        n = derive.bands_n(np.array([derive.EV_NM / ev]), (band,))[0]
        assert n == pytest.approx(integral / np.pi, abs=1e-4)


def test_hematite_keeps_querry_below_the_tail_and_never_absorbs_more():
    nm = NM.astype(float)
    for ray, page in zip(derive.hematite(nm), ("Querry-o", "Querry-e"), strict=True):
        published = derive.published("Fe2O3", page, nm, with_k=True)
        kept = nm <= derive.TAIL_FROM_NM
        np.testing.assert_array_equal(ray[1][kept], published[kept])
        np.testing.assert_array_equal(ray[1].real, published.real)
        assert (ray[1].imag <= published.imag).all()
        assert (ray[1].imag > 0).all()


def test_querrys_own_tail_makes_a_dull_masstone(k_and_s, monkeypatch):
    monkeypatch.setattr(derive, "TAIL_FROM_NM", 800.0)
    dull = masstone_lab(*derive.coefficients(derive.PIGMENTS["red iron oxide"]))
    assert hue_and_chroma(dull)[1] < 0.6 * hue_and_chroma(masstone_lab(*k_and_s["red iron oxide"]))[1]


# Mie theory and what Kubelka–Munk makes of it


def test_rutile_scatters_as_by_mie_in_oil(k_and_s):
    """About 8.1 per µm and unit volume fraction by Mie; practice sees 0.3–0.5 of it (both from memory)."""
    alone = derive.coefficients(replace(derive.PIGMENTS["titanium dioxide"], efficiency=1.0), [550])[1][0]
    assert alone == pytest.approx(8.1, rel=0.05)
    assert 0.3 <= k_and_s["titanium dioxide"][1][NM == 550][0] / alone <= 0.51


def test_a_tiny_sphere_absorbs_as_rayleigh_says():
    """Absorption per volume 6π n_m/λ · Im((m² − 1)/(m² + 2)) (Bohren & Huffman 1983, eq. 5.11)."""
    m, nm = 2.9 + 0.4j, 550.0
    relative = (m / derive.MEDIUM_INDEX) ** 2
    expected = 6 * np.pi * derive.MEDIUM_INDEX / (nm / 1000) * ((relative - 1) / (relative + 2)).imag
    absorbed, scattered = derive.mie(m, nm, np.array([0.004]), np.array([1.0]))
    assert absorbed == pytest.approx(expected, rel=2e-3)
    assert scattered < 1e-3 * absorbed


def test_a_faint_sphere_of_the_mediums_index_absorbs_as_its_substance_does():
    """4πk/λ (Beer–Lambert)."""
    absorbed, _ = derive.mie(derive.MEDIUM_INDEX + 1e-4j, 500.0, np.array([0.5]), np.array([1.0]))
    assert absorbed == pytest.approx(4 * np.pi * 1e-4 / 0.5, rel=1e-2)


def test_shares_of_sizes_add_to_one_around_the_median():
    diameters, shares = derive.lognormal(0.3, 1.5)
    assert shares.sum() == pytest.approx(1)
    assert np.exp(shares @ np.log(diameters)) == pytest.approx(0.3)
    assert np.sqrt(shares @ np.log(diameters / 0.3) ** 2) == pytest.approx(np.log(1.5), rel=0.02)


@pytest.mark.parametrize("g", [0.0, 0.6])
@pytest.mark.parametrize("absorption", [0.01, 0.05, 0.1, 0.2])
def test_kubelka_munk_follows_adding_doubling_where_absorption_is_weak(absorption, g):
    """Thick layers, diffuse light, μa/μs' up to 0.2, by iadpython; K = 2 μa and S = ¾ μs'.

    Below two mean free paths Kubelka–Munk falls short by up to 0.02; that is not asserted here.
    """
    scattering, thickness = 1 / (1 - g), 10.0
    extinction = scattering + absorption
    sample = iadpython.Sample(a=scattering / extinction, b=extinction * thickness, g=g, n=1, quad_pts=16)
    diffuse = sample.rt()[2]
    assert optics.film(2 * absorption, 0.75, thickness, 0.0) == pytest.approx(diffuse, abs=0.009)
