"""The colour of a film of pigments over a backing, forecast."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from labkit.colour.cie import hex_of_lab, lab_of
from labkit.errors import LabError
from labkit.shade import optics
from labkit.shade.backing import reflectance_of
from labkit.shade.medium import USUAL, Medium
from labkit.shade.mixture import coefficients, read_blend, volume_fractions
from labkit.shade.pigments import Pigments, default_pigments

DRAWS = 200
"""Draws of the pigments' optics that a band rests on."""


@dataclass(frozen=True)
class Forecast:
    """The forecast colour of a film.

    Attributes
    ----------
    lab
        CIELAB (D65, 2°, specular excluded), shape (3,).
    hex
        The screen's code of it.
    reflectance
        Reflectance on `labkit.colour.cie.WAVELENGTHS`, shape (36,).
    lab_sd
        Standard deviation of L*, a*, b* from what is not known of the pigments, shape (3,).
    basis
        For each pigment what its optics rest on.
    drawn
        CIELAB under draws of what is not known of the pigments, shape (`DRAWS`, 3).
    """

    lab: np.ndarray
    hex: str
    reflectance: np.ndarray
    lab_sd: np.ndarray
    basis: dict[str, str]
    drawn: np.ndarray = field(repr=False)


def predict(
    blend: Mapping[str, float],
    film_um: float = 10.0,
    backing: Any = "lip",
    pigments: Pigments | None = None,
    medium: Medium | None = None,
) -> Forecast:
    """Forecast the colour of a film.

    Parameters
    ----------
    blend
        Mass % of the finished product by pigment.
    film_um
        Thickness of the film [µm], 0 to ∞.
    backing
        A name ("lip", "white card", "skin dark" …), a CIELAB triple, or a reflectance of shape (36,).
    pigments, medium
        What `calibrate` learned, and the base; the defaults where None.

    Raises
    ------
    LabError
        For an unknown pigment or backing, and for a load or film that cannot be.

    >>> predict({}, backing=[52, 21, 13]).lab.round(6)
    array([52., 21., 13.])
    """
    names, loads = read_blend(blend)
    own = (pigments or default_pigments()).only(names)
    base = medium or USUAL
    below = inside(reflectance_of(backing), base)
    thickness = one_film(film_um)
    reflectance = readings(*coefficients(loads, own, base), thickness, below, base)
    lab = lab_of(reflectance)
    drawn = lab_of(readings(*drawn_coefficients(loads, own, base), thickness, below, base))
    basis = dict(zip(own.names, own.basis, strict=True))
    return Forecast(lab, hex_of_lab(lab), reflectance, drawn.std(0), basis, drawn)


def inside(reflectance: np.ndarray, medium: Medium) -> np.ndarray:
    """Return a backing's reflectance as the base that wets it sees it."""
    return optics.unsaunderson(reflectance, medium.k1, medium.k2)


def readings(K: np.ndarray, S: np.ndarray, film_um: Any, below: np.ndarray, medium: Medium) -> np.ndarray:
    """Return what is read of films of K and S over a backing seen from `inside`, specular excluded."""
    return optics.saunderson(optics.film(K, S, film_um, below), medium.k1, medium.k2)


def drawn_coefficients(
    loads: np.ndarray, pigments: Pigments, medium: Medium, draws: int = DRAWS
) -> tuple[np.ndarray, np.ndarray]:
    """Return draws of K and S [1/µm], shapes (draws, ..., 36), of blends of shape (..., p)."""
    fractions = volume_fractions(loads, pigments.density_g_ml, medium)
    k, s = pigments.draws(draws)
    K, S = (np.einsum("dpw,...p->d...w", each, fractions, optimize=True) for each in (k, s))
    return K, S


def one_film(film_um: Any) -> float:
    """Return the thickness of one film [µm]; raise `LabError` where it cannot be, or is several."""
    thickness = check_film(film_um)
    if thickness.ndim:
        raise LabError(
            f"the film: {film_um!r} is more than one thickness. Give one here; `sweep` takes several."
        )
    return float(thickness)


def check_film(film_um: Any) -> np.ndarray:
    """Return thicknesses of films [µm]; raise `LabError` where one cannot be."""
    try:
        thickness = np.asarray(film_um, float)
    except (TypeError, ValueError):
        raise LabError(f"the film: {film_um!r} is no thickness. Give µm, such as 10.") from None
    if np.isnan(thickness).any() or (thickness < 0).any():
        raise LabError(f"the film: {film_um} µm cannot be. A swipe on lips is 3 to 25 µm thick.")
    return thickness
