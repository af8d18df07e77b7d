"""Kubelka–Munk optics of a pigmented film, and of its surface.

K and S are the absorption and scattering of the film [1/µm]; R∞ and R_g the reflectance of an endlessly
thick film and of the backing. Arrays broadcast everywhere. Source: P. Kubelka, J. Opt. Soc. Am. 38
(1948) 448.
"""

from typing import Any

import numpy as np

from labkit.errors import LabError

CLEAR = 1e-200
"""The least γ [1/µm]: far below any film's, and far enough above 0 to divide by."""


def masstone(K: Any, S: Any) -> Any:
    """Return the reflectance R∞ of a film that is thick enough to hide everything.

    R∞ = S / (K + S + √(K² + 2KS)), which is 1 + K/S − √((K/S)² + 2K/S) without losing digits.

    Parameters
    ----------
    K, S
        Absorption and scattering in one unit, 0 or more. Where both are 0 nothing comes back: R∞ is 0.

    >>> round(float(masstone(1.0, 1.0)), 6)
    0.267949
    """
    K, S = np.asarray(K, float), np.asarray(S, float)
    below = K + S + np.sqrt(K) * np.sqrt(K + 2 * S)
    return np.divide(S, below, out=np.zeros_like(below), where=below > 0)[()]


def film(K: Any, S: Any, thickness: Any, backing: Any) -> Any:
    """Return the reflectance of a film over a backing, both without their surface.

    R = (γR_g + t(S(1 − R_g) − K·R_g)) / (γ + t(K + S(1 − R_g))) with t = tanh(γX) and γ = √(K² + 2KS): the
    hyperbolic solution, in the form that holds where K, S or X is 0 and where X is ∞.

    Parameters
    ----------
    K, S
        Absorption and scattering [1/µm], 0 or more.
    thickness
        Thickness X [µm], 0 to ∞.
    backing
        Reflectance R_g of what lies below, 0 to 1.

    >>> round(float(film(0.5, 1.0, 1.0, 0.8)), 9)
    0.435599835
    """
    K, S, X, R_g = (np.asarray(each, float) for each in (K, S, thickness, backing))
    gamma = np.maximum(np.sqrt(K) * np.sqrt(K + 2 * S), K + CLEAR)
    t = np.tanh(gamma * X)
    scattered = S * (1 - R_g)
    return (gamma * R_g + t * (scattered - K * R_g)) / (gamma + t * (K + scattered))


def saunderson(R: Any, k1: float, k2: Any, include_specular: bool = False) -> Any:
    """Return what an instrument reads of a film whose reflectance below its surface is R.

    R_m = (1 − k1)(1 − k2)R / (1 − k2·R), and k1 more where the specular share is read too. Source: J. L.
    Saunderson, J. Opt. Soc. Am. 32 (1942) 727.

    Parameters
    ----------
    R
        Reflectance inside the medium, 0 to 1.
    k1, k2
        Share reflected at the surface from outside, and from inside (`internal_diffuse_reflectance`).

    >>> round(float(saunderson(0.5, 0.04, 0.6)), 5)
    0.27429
    """
    R = np.asarray(R, float)
    return (1 - k1) * (1 - k2) * R / (1 - k2 * R) + (k1 if include_specular else 0.0)


def unsaunderson(R: Any, k1: float, k2: Any, include_specular: bool = False) -> Any:
    """Return the reflectance inside the medium for a reading R: `saunderson` turned round.

    >>> round(float(unsaunderson(saunderson(0.5, 0.04, 0.6), 0.04, 0.6)), 12)
    0.5
    """
    R = np.asarray(R, float) - (k1 if include_specular else 0.0)
    return R / ((1 - k1) * (1 - k2) + k2 * R)


def normal_reflectance(n: float) -> float:
    """Return the share k1 that a surface of refractive index n reflects at normal incidence (Fresnel).

    >>> round(normal_reflectance(1.5), 4)
    0.04
    """
    return ((n - 1) / (n + 1)) ** 2


def internal_diffuse_reflectance(n: float) -> float:
    """Return the share k2 of diffuse light that a surface throws back into a medium of index n.

    From Walsh's formula for diffuse light from outside and (1 − k2)·n² = 1 − r. Source: J. W. T. Walsh,
    Dept. Sci. Ind. Res. Illum. Res. Tech. Paper 2 (1926); reciprocity as in D. B. Judd, J. Res. Natl. Bur.
    Stand. 29 (1942) 329. For n = 1 (no surface, 0) and from 1.001 upwards.

    >>> round(internal_diffuse_reflectance(1.5), 4)
    0.5963
    """
    if not n >= 1:
        raise LabError(f"a refractive index of {n:g} cannot be: no base has one below 1.")
    if n == 1:
        return 0.0
    square = n * n
    outside = (
        0.5
        + (n - 1) * (3 * n + 1) / (6 * (n + 1) ** 2)
        + square * (square - 1) ** 2 / (square + 1) ** 3 * np.log((n - 1) / (n + 1))
        - 2 * n**3 * (square + 2 * n - 1) / ((square + 1) * (square**2 - 1))
        + 8 * square**2 * (square**2 + 1) / ((square + 1) * (square**2 - 1) ** 2) * np.log(n)
    )
    return float(1 - (1 - outside) / square)
