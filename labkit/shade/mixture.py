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
    names, loads = _named_amounts(blend)
    return names, check_loads(loads, names)


def read_parts(parts: Mapping[str, float]) -> tuple[list[str], np.ndarray]:
    """Return the names of a ratio and the pigments' fractions of their sum, whatever that is.

    >>> read_parts({"ultramarine": 150, "carmine": 50})
    (['ultramarine', 'carmine'], array([0.75, 0.25]))
    """
    names, amounts = _named_amounts(parts)
    for name, amount in zip(names, amounts, strict=True):
        if not 0 <= amount < np.inf:
            raise LabError(f"{name}: {amount:g} parts cannot be; give 0 or more.")
    return names, shares(amounts)


def shares(amounts: np.ndarray) -> np.ndarray:
    """Return amounts as fractions of their sum; raise `LabError` where there is nothing.

    >>> shares(np.array([6.0, 2.0]))
    array([0.75, 0.25])
    """
    if not amounts.sum() > 0:
        raise LabError("There is no pigment in the blend: give at least one of them more than 0.")
    return amounts / amounts.sum()


def _named_amounts(blend: Mapping[str, float]) -> tuple[list[str], np.ndarray]:
    if not isinstance(blend, Mapping):
        raise LabError(
            f"the blend: {blend!r} is none. Give mass % by pigment, such as "
            '{"red iron oxide": 6, "titanium dioxide": 2}.'
        )
    names = [str(name) for name in blend]
    for name, load in blend.items():
        _check_number(name, load)
    return names, np.array([float(load) for load in blend.values()])


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


def density_of(loads: Any, density_g_ml: Any, medium: Medium) -> Any:
    """Return the density of the product [g/mL], shape (...), from mass % of shape (..., p).

    1/ρ = Σ (w_i/100)/ρ_i + (1 − Σ w_i/100)/ρ_base: volumes add up.

    >>> from labkit.shade.medium import Medium
    >>> round(float(density_of([20.0], [5.2], Medium(0.94, 1.465))), 3)
    1.124
    """
    loads = np.asarray(loads, float)
    return 100 / ((loads / density_g_ml).sum(-1) + (100 - loads.sum(-1)) / medium.density_g_ml)


def coefficients(loads: Any, pigments: Pigments, medium: Medium) -> tuple[np.ndarray, np.ndarray]:
    """Return K and S of blends [1/µm], shapes (..., 36): pigments add up, and the base is clear.

    D. R. Duncan, Proc. Phys. Soc. 52 (1940) 390: K = Σ φ_i k_i and S = Σ φ_i s_i.
    """
    fractions = volume_fractions(loads, pigments.density_g_ml, medium)
    return fractions @ pigments.k, fractions @ pigments.s
