"""From mass % of the finished product to the absorption and scattering of its film."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from labkit.errors import LabError
from labkit.shade.medium import Medium
from labkit.shade.pigments import Pigments


def read_blend(blend: Mapping[str, float]) -> tuple[list[str], np.ndarray]:
    """Return the names and the mass % of a blend; raise `LabError` where it cannot be.

    >>> read_blend({"ultramarine": 2})
    (['ultramarine'], array([2.]))
    """
    if not isinstance(blend, Mapping):
        raise LabError(
            f"the blend: {blend!r} is none. Give mass % by pigment, such as "
            '{"red iron oxide": 6, "titanium dioxide": 2}.'
        )
    names = [str(name) for name in blend]
    for name, load in blend.items():
        _check_number(name, load)
    return names, check_loads(np.array([float(load) for load in blend.values()]), names)


def _check_number(name: str, load: Any) -> None:
    try:
        float(load)
    except (TypeError, ValueError):
        raise LabError(
            f"{name}: {load!r} is no mass %. Give a number, such as 6 for 6 % of the product."
        ) from None


def check_loads(loads: np.ndarray, names: Sequence[str]) -> np.ndarray:
    """Return mass %, shape (..., p); raise `LabError` where a load cannot be.

    >>> check_loads(np.array([70.0, 40.0]), ["red iron oxide", "ultramarine"])
    Traceback (most recent call last):
    labkit.errors.LabError: the pigments add up to 110 % of the product, and 100 is all of it.
    """
    loads = np.asarray(loads, float)
    if loads.shape[-1:] != (len(names),):
        raise LabError(
            f"the loads have shape {loads.shape}, and there are {len(names)} pigments: one column for each."
        )
    wrong = ~np.isfinite(loads) | (loads < 0)
    if wrong.any():
        at = tuple(np.argwhere(wrong)[0])
        row = f" (row {at[0] + 1})" if len(at) > 1 else ""
        raise LabError(f"{names[at[-1]]}{row}: {loads[at]:g} % cannot be; a load is a number from 0 to 100.")
    total = loads.sum(-1).max(initial=0)
    if total > 100 + 1e-9:
        raise LabError(f"the pigments add up to {total:g} % of the product, and 100 is all of it.")
    return loads


def volume_fractions(loads: Any, density_g_ml: Any, medium: Medium) -> np.ndarray:
    """Return volume fractions of pigments, shape (..., p), from mass %.

    φ_i = (w_i/ρ_i) / (Σ w_j/ρ_j + (100 − Σ w_j)/ρ_base).

    >>> from labkit.shade.medium import Medium
    >>> volume_fractions([20.0], [5.2], Medium(0.95, 1.465)).round(3)
    array([0.044])
    """
    loads = np.asarray(loads, float)
    volumes = loads / density_g_ml
    base = (100 - loads.sum(-1, keepdims=True)) / medium.density_g_ml
    return volumes / (volumes.sum(-1, keepdims=True) + base)


def coefficients(loads: Any, pigments: Pigments, medium: Medium) -> tuple[np.ndarray, np.ndarray]:
    """Return K and S of blends [1/µm], shapes (..., 36): pigments add up, and the base is clear.

    D. R. Duncan, Proc. Phys. Soc. 52 (1940) 390: K = Σ φ_i k_i and S = Σ φ_i s_i.
    """
    fractions = volume_fractions(loads, pigments.density_g_ml, medium)
    return fractions @ pigments.k, fractions @ pigments.s
