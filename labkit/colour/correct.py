"""From a camera's colours to true ones, by the patches of a chart in the same photo."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.colour.charts import Chart
from labkit.colour.cie import colour_science, delta_e00, lab_of_xyz
from labkit.colour.sample import Samples, linear_levels
from labkit.errors import LabError

Floats = NDArray[np.float64]

ENOUGH_FOR_CURVES = 15
"""Patches for a root polynomial of degree 2 (6 terms) and an exponent."""
FEWEST = 5
"""Patches for a 3×3 matrix."""
MOST_CLIPPED = 0.02
"""A patch with a larger share of clipped pixels is left out."""
_DARKEST = 0.005  # Y
_WITH_Y = 2 / 3  # dL* goes with dY/Y^⅔
_BLACK = 0.002  # of the light that the photo can hold
EXPONENTS = tuple(np.linspace(0.7, 1.3, 31).tolist())
# How far L*, a*, b* are off [sd] where only a grey card was there: simulated with published camera
# sensitivities under five published lights and four tone curves (tests/colour/cameras.py), rounded up.
_GREY_CARD_SD = np.array([3.0, 8.0, 6.0])


@dataclass(frozen=True, eq=False)
class Correction:
    """How the colours of one photo are put right.

    XYZ = terms(linear sRGB ^ exponent) @ matrix, with the terms of the method.

    Attributes
    ----------
    chart : Chart
    method : str
        “root polynomial of degree 2”, “3×3 matrix” or “white balance and exposure”.
    matrix : ndarray, shape (terms, 3)
    exponent : float
        What the camera's tone curve differs from that of sRGB by; 1 unless there are patches
        enough to tell.
    residual_de00 : float
        The mean ΔE00 of the patches, each read from all the others; nan for a grey card.
    residual_xyz : ndarray, shape (used, 3)
        X, Y, Z of each patch used, as read from all the others, less its true value.
    warnings : tuple of str
    used : bool ndarray, shape (patches,)
        Which patches were not left out.
    """

    chart: Chart
    method: str
    matrix: Floats
    exponent: float
    residual_de00: float
    residual_xyz: Floats
    warnings: tuple[str, ...]
    used: NDArray[np.bool_]
    gram: Floats = field(repr=False)
    """Inverse of the terms' products over the patches, shape (terms, terms): gives leverage."""
    deviations: Floats = field(repr=False)
    """Errors of XYZ over Y^⅔, whose squares sum to the variance of one colour, shape (used, 3)."""

    def apply(self, srgb: Any) -> Floats:
        """Return CIELAB of sRGB pixels, floats from 0 to 1 or uint8, shape (..., 3)."""
        return lab_of_xyz(self.xyz(linear_of(srgb)))

    def xyz(self, linear: Floats) -> Floats:
        """Return X, Y, Z (white has Y = 1) of linear sRGB, shape (..., 3)."""
        return self._terms(linear) @ self.matrix

    def lab_sd(self, linear: Floats) -> Floats:
        """Return how far L*, a*, b* of one colour, shape (3,), may be off by the correction [sd].

        What the patches are off by, taken to the colour's own lightness (errors of XYZ go with
        Y^⅔, as steps of L* do), times √(1 + h), where the leverage h says how far the colour
        lies from theirs. With 6 patches this is cautious: about twice the error of lip films.
        """
        if len(self.chart) == 1:
            return _GREY_CARD_SD
        at = self._terms(linear)
        xyz = at @ self.matrix
        size = max(float(xyz[1]), _DARKEST) ** _WITH_Y * np.sqrt(1 + at @ self.gram @ at)
        off = lab_of_xyz(xyz + size * self.deviations) - lab_of_xyz(xyz - size * self.deviations)
        return np.asarray(np.sqrt(((off / 2) ** 2).sum(axis=0)))

    def _terms(self, linear: Floats) -> Floats:
        return terms(linear, self.exponent, curves=len(self.matrix) > 3)


def linear_of(srgb: Any) -> Floats:
    """Return linear sRGB of sRGB, floats from 0 to 1 or uint8. Source: IEC 61966-2-1, by colour-science."""
    pixels = np.asarray(srgb)
    if pixels.dtype == np.uint8:
        return linear_levels()[pixels]
    colour = colour_science()
    return np.asarray(colour.cctf_decoding(np.clip(pixels.astype(float), 0.0, 1.0), function="sRGB"))


def terms(linear: Floats, exponent: float, curves: bool) -> Floats:
    """Return what the matrix is applied to, shape (..., 3) or (..., 6).

    R, G, B, and with curves also √RG, √GB, √RB: the root polynomial of degree 2, which keeps
    hue and saturation when the light gets stronger. Finlayson, Mackiewicz and Hurlbert 2015,
    IEEE Trans. Image Process. 24, 1460, as colour-science has it.
    """
    raised = linear if exponent == 1.0 else np.clip(linear, 0.0, None) ** exponent
    if not curves:
        return raised
    expand = colour_science().characterisation.polynomial_expansion_Finlayson2015
    return np.asarray(expand(raised, degree=2))


def fit_correction(samples: Samples, chart: Chart, exponents: tuple[float, ...] = EXPONENTS) -> Correction:
    """Fit the correction that the chart allows.

    15 patches or more: a root polynomial of degree 2 and an exponent; 5 or more: a 3×3
    matrix (Cheung, Westland, Connah and Ripamonti 2004, three terms); a grey card: white
    balance and exposure only. Clipped patches are left out. Of the exponents that one is taken
    which reads each patch best from the others.

    Raises
    ------
    LabError
        Where too many patches are clipped, or too dark to tell one from another.
    """
    used = samples.clipped <= MOST_CLIPPED
    _refuse_clipped(chart, used)
    _refuse_black(chart, samples)
    if len(chart) == 1:
        return _by_grey_card(samples, chart)
    curves = int(used.sum()) >= ENOUGH_FOR_CURVES
    linear, xyz = samples.linear[used], chart.xyz[used]
    fits = [_Fit.of(linear, xyz, exponent, curves) for exponent in (exponents if curves else (1.0,))]
    best = min(fits, key=lambda fit: float((fit.residual_lab**2).sum()))
    return Correction(
        chart,
        "root polynomial of degree 2" if curves else "3×3 matrix",
        best.matrix,
        best.exponent,
        float(delta_e00(lab_of_xyz(best.left_out), lab_of_xyz(xyz)).mean()),
        best.left_out - xyz,
        _left_out(chart, used, curves),
        used,
        best.gram,
        best.deviations,
    )


@dataclass(frozen=True, eq=False)
class _Fit:
    """One least-squares fit, and each patch as read from all the others."""

    matrix: Floats
    exponent: float
    gram: Floats
    leverage: Floats
    xyz: Floats
    left_out: Floats

    @classmethod
    def of(cls, linear: Floats, xyz: Floats, exponent: float, curves: bool) -> "_Fit":
        design = terms(linear, exponent, curves)
        inverse = np.linalg.pinv(design)
        matrix = inverse @ xyz
        leverage = np.clip(np.einsum("ij,ji->i", design, inverse), 0.0, 0.999)
        left_out = xyz - (xyz - design @ matrix) / (1 - leverage)[:, None]
        return cls(matrix, exponent, inverse @ inverse.T, leverage, xyz, left_out)

    @property
    def residual_lab(self) -> Floats:
        return lab_of_xyz(self.left_out) - lab_of_xyz(self.xyz)

    @property
    def deviations(self) -> Floats:
        """A patch read from the others is off by s·Y^⅔/√(1 − h): return each share of s, shape (used, 3)."""
        light = np.maximum(self.xyz[:, 1], _DARKEST) ** _WITH_Y
        return (self.left_out - self.xyz) * (np.sqrt((1 - self.leverage) / len(light)) / light)[:, None]


def _by_grey_card(samples: Samples, chart: Chart) -> Correction:
    """Return one gain per channel: the card becomes its own colour."""
    colour = colour_science()
    to_xyz = np.asarray(colour.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ)
    wanted = chart.xyz[0] @ np.linalg.inv(to_xyz).T
    matrix = np.diag(wanted / samples.linear[0]) @ to_xyz.T
    said = (
        "A grey card sets white and exposure only: the colour can still be off by several ΔE00. "
        "A chart with colours in the photo would tell more.",
    )
    none = np.empty((0, 3))
    method = "white balance and exposure"
    return Correction(chart, method, matrix, 1.0, np.nan, none, said, np.ones(1, bool), np.eye(3), none)


def _refuse_clipped(chart: Chart, used: NDArray[np.bool_]) -> None:
    if len(chart) == 1 and not used.all():
        raise LabError("The grey card is too light for the photo to hold. Take it again with less exposure.")
    if len(chart) > 1 and used.sum() < FEWEST:
        raise LabError(
            f"Only {used.sum()} of {len(chart)} patches are usable: the others are too light for the photo "
            "to hold (overexposed). Take it again with less exposure, away from direct sun."
        )


def _refuse_black(chart: Chart, samples: Samples) -> None:
    if samples.linear.max(axis=0).min() < _BLACK:
        raise LabError(f"The {chart.name} is black in this photo. Take it again with more light.")


def _left_out(chart: Chart, used: NDArray[np.bool_], curves: bool) -> tuple[str, ...]:
    said = []
    if not used.all():
        names = ", ".join(name for name, kept in zip(chart.patches, used, strict=True) if not kept)
        said.append(f"Too light for the photo to hold, and left out: {names}. Less exposure would help.")
    if not curves:
        said.append(
            f"{used.sum()} patches allow only a simple correction (a 3×3 matrix): strong colours can be "
            "off by several ΔE00."
        )
    return tuple(said)
