"""Reflectance to CIELAB, and CIELAB to the screen: CIE 1931 2° observer, illuminant D65."""

import warnings
from functools import cache
from typing import Any

import numpy as np

WAVELENGTHS = np.arange(380.0, 731.0, 10.0)
"""The wavelengths of every reflectance here, in nm: 380 to 730 in steps of 10."""
WAVELENGTHS.setflags(write=False)


@cache
def colour_science() -> Any:
    """Return the package colour-science, loaded here (1 s) and without its change to how numpy prints."""
    with np.printoptions():
        import colour

    return colour


@cache
def weights() -> np.ndarray:
    """Return what each wavelength gives to X, Y and Z, shape (36, 3); a perfect white has Y = 1.

    Colour-science's ASTM E308 weighting of the CIE 1931 2° observer and D65.

    >>> weights().sum(0).round(3)
    array([0.95 , 1.   , 1.089])
    """
    colour = colour_science()
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    daylight = colour.SDS_ILLUMINANTS["D65"]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", colour.utilities.ColourRuntimeWarning)
        warnings.simplefilter("ignore", colour.utilities.ColourUsageWarning)
        rows = [
            colour.sd_to_XYZ(colour.SpectralDistribution(one, WAVELENGTHS), observer, daylight)
            for one in np.eye(WAVELENGTHS.size)
        ]
    table = np.array(rows) / 100
    table.setflags(write=False)
    return table


@cache
def white() -> np.ndarray:
    """Return X, Y, Z of a perfect white, shape (3,)."""
    return weights().sum(0)


def lab_of_xyz(xyz: np.ndarray) -> np.ndarray:
    """Return CIELAB of X, Y, Z (white has Y = 1), shape (..., 3). Source: CIE 15, ISO/CIE 11664-4.

    >>> lab_of_xyz(white() * 0.18).round(2) + 0.0
    array([49.5,  0. ,  0. ])
    """
    ratio = xyz / white()
    dark = ratio <= 216 / 24389
    root = np.cbrt(ratio)
    if dark.any():
        root[dark] = (ratio[dark] * 24389 / 27 + 16) / 116
    lab = np.empty_like(root)
    lab[..., 0] = 116 * root[..., 1] - 16
    lab[..., 1] = 500 * (root[..., 0] - root[..., 1])
    lab[..., 2] = 200 * (root[..., 1] - root[..., 2])
    return lab


def lab_of(reflectance: np.ndarray) -> np.ndarray:
    """Return CIELAB of reflectances on `WAVELENGTHS`, shape (..., 36) to (..., 3).

    >>> lab_of(np.full(36, 0.8)).round(1) + 0.0
    array([91.7,  0. ,  0. ])
    """
    return lab_of_xyz(np.asarray(reflectance, float) @ weights())


def luminance(reflectance: np.ndarray) -> np.ndarray:
    """Return Y of reflectances on `WAVELENGTHS`, 1 for a perfect white."""
    return np.asarray(reflectance, float) @ weights()[:, 1]


def xyz_of_lab(lab: Any) -> np.ndarray:
    """Return X, Y, Z (white has Y = 1) of CIELAB, shape (..., 3)."""
    lab = np.asarray(lab, float)
    y = (lab[..., 0] + 16) / 116
    root = np.stack([y + lab[..., 1] / 500, y, y - lab[..., 2] / 200], axis=-1)
    return white() * np.where(root > 6 / 29, root**3, (116 * root - 16) * 27 / 24389)


def srgb_of_lab(lab: Any) -> np.ndarray:
    """Return sRGB, 0 to 1, of CIELAB, shape (..., 3); colours that a screen cannot show are clipped.

    Source: IEC 61966-2-1, as colour-science has it.
    """
    colour = colour_science()
    return np.clip(colour.XYZ_to_sRGB(xyz_of_lab(lab)), 0, 1)


def lab_of_srgb(srgb: Any) -> np.ndarray:
    """Return CIELAB of sRGB, 0 to 1, shape (..., 3). Source: IEC 61966-2-1, as colour-science has it.

    >>> lab_of_srgb([1.0, 1.0, 1.0]).round(1) + 0.0
    array([100.,   0.,   0.])
    """
    colour = colour_science()
    return lab_of_xyz(colour.sRGB_to_XYZ(np.asarray(srgb, float)))


def on_screen(lab: Any) -> Any:
    """Return whether a screen (sRGB) can show CIELAB colours, shape (..., 3) to (...)."""
    colour = colour_science()
    srgb = colour.XYZ_to_sRGB(xyz_of_lab(lab))
    return ((srgb > -1e-3) & (srgb < 1 + 1e-3)).all(-1)


def hex_of_lab(lab: Any) -> Any:
    """Return the screen's code of CIELAB colours: a str for shape (3,), an object array for (..., 3).

    >>> hex_of_lab([50, 0, 0])
    '#777777'
    """
    levels = np.rint(srgb_of_lab(lab) * 255).astype(int)
    return np.frompyfunc("#{:06x}".format, 1, 1)(levels @ np.array([1 << 16, 1 << 8, 1]))


def delta_e00(a: Any, b: Any) -> Any:
    """Return the colour difference ΔE00 of CIELAB colours, shapes (..., 3) to (...).

    Source: CIE 142, ISO/CIE 11664-6, as colour-science has it.

    >>> round(float(delta_e00([50, 2.6772, -79.7751], [50, 0, -82.7485])), 4)
    2.0425
    """
    colour = colour_science()
    return colour.delta_E(np.asarray(a, float), np.asarray(b, float), method="CIE 2000")
