"""How fast clumps of pigment sink in a melt."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.batch.asked import read_any
from labkit.errors import LabError

GRAVITY = 9.80665
MELT_KG_M3 = 900.0
"""Density of a melt of fats, for the Reynolds number only."""
CREEPING = 1.0
"""Reynolds number up to which Stokes's law is used: 15 % too fast there (Schiller and Naumann 1935)."""
HINDRANCE = 4.65
"""Exponent of Richardson and Zaki (1954) for slow flow."""
MOST_SOLID = 0.6


def settling_speed(
    diameter_um: ArrayLike,
    delta_density_kg_m3: ArrayLike,
    viscosity_mpa_s: ArrayLike,
    volume_fraction: ArrayLike = 0.0,
) -> float | NDArray[np.float64]:
    """Return how fast a sphere sinks [mm/min]; below 0 it rises.

    v = Δρ·g·d²/(18 η)·(1 − φ)^4.65: Stokes (1851), hindered by its neighbours after Richardson
    and Zaki, Trans. Inst. Chem. Eng. 32 (1954) 35. A clump is not a sphere and holds melt, so give
    the clump's own Δρ: for half melt, half that of the pigment.

    Parameters
    ----------
    diameter_um : float or array [µm]
        Of the clump, not of the single particle.
    delta_density_kg_m3 : float or array [kg/m³]
        Density of the clump less that of the melt.
    viscosity_mpa_s : float or array [mPa·s]
    volume_fraction : float or array
        Share of the volume that is solid, 0 to 0.6.

    Raises
    ------
    LabError
        For no number, a size or viscosity not above 0, too much solid, or a clump so large
        that Stokes's law no longer holds (Reynolds number above 1).

    Examples
    --------
    >>> [float(f"{settling_speed(d, 4300.0, 15.0):.2g}") for d in (1.0, 20.0, 60.0)]
    [0.0094, 3.7, 34.0]
    """
    diameter = read_any(diameter_um, "clump size", "µm", above_0=True)
    delta = read_any(delta_density_kg_m3, "difference in density", "kg/m³")
    viscosity = read_any(viscosity_mpa_s, "viscosity", "mPa·s", above_0=True)
    fraction = read_any(volume_fraction, "share of solid", "")
    bad = fraction[(fraction < 0.0) | (fraction > MOST_SOLID)]
    if bad.size:
        raise LabError(
            f"share of solid: {bad[0]:g} of the volume cannot settle freely. Give 0 to {MOST_SOLID:g}; "
            "20 % of red oxide by mass is about 0.04."
        )
    free = delta * GRAVITY * (diameter * 1e-6) ** 2 / (18.0 * viscosity * 1e-3)
    reynolds = np.abs(MELT_KG_M3 * free * diameter * 1e-6 / (viscosity * 1e-3))
    if (reynolds > CREEPING).any():
        raise LabError(
            f"Clumps of {np.max(diameter):g} µm in {np.min(viscosity):g} mPa·s fall too fast for Stokes's "
            f"law (Reynolds number {np.max(reynolds):.2g}, at most 1). They are on the bottom within "
            "seconds: sieve or grind first."
        )
    found = free * (1.0 - fraction) ** HINDRANCE * 60e3
    return float(found) if np.ndim(found) == 0 else found


def yield_stress_to_hold(diameter_um: float, delta_density_kg_m3: float) -> float:
    """Return the yield stress [Pa] that holds a sphere still: 0.0477·Δρ·g·d.

    Beris, Tsamopoulos, Armstrong and Brown, J. Fluid Mech. 158 (1985) 219.

    >>> round(yield_stress_to_hold(60.0, 4300.0), 3)
    0.121
    """
    diameter = read_any(diameter_um, "clump size", "µm", above_0=True)
    delta = read_any(delta_density_kg_m3, "difference in density", "kg/m³")
    return float(0.0477 * abs(delta) * GRAVITY * diameter * 1e-6)
