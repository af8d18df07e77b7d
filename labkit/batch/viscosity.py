"""How thick an oil or a melt is: against temperature, mixed, and with solids in it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.batch.asked import read_above_0, read_any, read_celsius
from labkit.errors import LabError, did_you_mean

Floats = NDArray[np.float64]

GAS_J_MOL_K = 8.314462618
ZERO_C = 273.15
COMMON_KJ_MOL = 25.5
"""Activation energy of common oils, 21 to 30 kJ/mol; taken where there is one reading only."""
PACKING, INTRINSIC = 0.64, 2.5

_VOGEL_K = np.linspace(0.0, 230.0, 231)


@dataclass(frozen=True)
class ViscosityCurve:
    """Viscosity against temperature: call it with °C, get mPa·s.

    ln η = A + B/(T − C), T in kelvin: Andrade and Arrhenius where C is 0, else Vogel (1921).

    Attributes
    ----------
    a, b_k, c_k : float
        A [ln mPa·s], B [K], C [K].
    low_c, high_c : float [°C]
        Range of the readings; outside it the curve is a guess.
    worst_pct : float [%]
        The farthest that a reading lies off the curve.
    source : str
    """

    a: float
    b_k: float
    c_k: float
    low_c: float
    high_c: float
    worst_pct: float
    source: str = ""

    def __call__(self, celsius: ArrayLike) -> float | Floats:
        """Return mPa·s at °C: a number, or an array of the same shape."""
        kelvin = np.asarray(celsius, dtype=float) + ZERO_C
        found = np.exp(self.a + self.b_k / (kelvin - self.c_k))
        return float(found) if found.ndim == 0 else found

    def activation_kj_mol(self, celsius: float) -> float:
        """Return the activation energy [kJ/mol] at a temperature: R·B·(T/(T − C))²."""
        kelvin = celsius + ZERO_C
        return float(GAS_J_MOL_K * self.b_k * (kelvin / (kelvin - self.c_k)) ** 2 / 1e3)


def viscosity_curve(
    readings: Mapping[float, float], source: str = "", activation_kj_mol: float = COMMON_KJ_MOL
) -> ViscosityCurve:
    """Return the curve through readings of viscosity [mPa·s] by temperature [°C].

    One reading takes the activation energy as given, two are met exactly (Arrhenius), three or more
    are fitted by least squares of ln η with a bend (Vogel), which thick oils such as castor need.

    Raises
    ------
    LabError
        No readings, a viscosity not above 0, or one that does not fall as it gets warmer.

    Examples
    --------
    >>> curve = viscosity_curve({20.0: 65.0, 80.0: 12.0})
    >>> round(curve(20.0), 1), round(curve.activation_kj_mol(50.0), 1)
    (65.0, 24.2)
    """
    if not isinstance(readings, Mapping) or not readings:
        raise LabError("Give viscosities by temperature, such as {20.0: 65.0, 50.0: 25.0}: °C and mPa·s.")
    warm = np.argsort(celsius := read_celsius(list(readings), "temperature of a viscosity"))
    viscosity = read_any(list(readings.values()), "viscosity", "mPa·s", above_0=True)[warm]
    celsius = celsius[warm]
    if (np.diff(viscosity) >= 0).any():
        raise LabError("An oil gets thinner as it gets warmer; these readings do not. Look at them again.")
    if len(celsius) == 1:
        b = read_above_0(activation_kj_mol, "activation energy", "kJ/mol") * 1e3 / GAS_J_MOL_K
        a = float(np.log(viscosity[0]) - b / (celsius[0] + ZERO_C))
        return ViscosityCurve(a, b, 0.0, float(celsius[0]), float(celsius[0]), 0.0, source)
    a, b, c, off = _least_squares(celsius, np.log(viscosity))
    low, high = float(celsius[0]), float(celsius[-1])
    return ViscosityCurve(a, b, c, low, high, float(100.0 * np.expm1(np.abs(off).max())), source)


def _least_squares(celsius: Floats, log_viscosity: Floats) -> tuple[float, float, float, Floats]:
    found = []
    for c in _VOGEL_K if len(celsius) > 2 else _VOGEL_K[:1]:
        across = 1.0 / (celsius + ZERO_C - c)
        b, a = np.polyfit(across, log_viscosity, 1)
        off = log_viscosity - a - b * across
        found.append((float(off @ off), float(a), float(b), float(c), off))
    _, a, b, c, off = min(found, key=lambda each: each[0])
    return a, b, c, off


# ---- oils of the handbooks -------------------------------------------------------

_MEMORY = "from memory"
_OILS: dict[str, tuple[dict[float, float], str]] = {
    "castor oil": (
        {20.0: 986.0, 30.0: 451.0, 40.0: 231.0, 100.0: 16.9},
        "CRC Handbook of Chemistry and Physics, viscosity of liquids; figures from memory",
    ),
    "sunflower oil": ({20.0: 65.0, 35.0: 42.0, 50.0: 25.0, 80.0: 12.0}, _MEMORY),
    "caprylic/capric triglyceride": (
        {20.0: 29.0},
        "middle of 25 to 33 mPa·s at 20 °C, Ph. Eur., medium-chain triglycerides; "
        "its fall with warmth as that of common oils",
    ),
}


def oil_names() -> tuple[str, ...]:
    """Return the oils whose viscosity is recorded.

    >>> oil_names()[0]
    'castor oil'
    """
    return tuple(_OILS)


def oil_viscosity(name: str) -> ViscosityCurve:
    """Return the recorded curve of an oil, its source with it; lots differ by a tenth and more.

    Raises
    ------
    LabError
        For an oil that is not recorded.

    Examples
    --------
    >>> castor = oil_viscosity("castor oil")
    >>> round(castor(70.0)), castor.low_c, castor.high_c
    (50, 20.0, 100.0)
    """
    if name not in _OILS:
        raise LabError(f"No viscosity of “{name}” is recorded. {did_you_mean(str(name), _OILS)}")
    readings, source = _OILS[name]
    return viscosity_curve(readings, source)


# ---- mixtures and suspensions ----------------------------------------------------


def grunberg_nissan(shares: Sequence[float], viscosities_mpa_s: Sequence[float]) -> float:
    """Return the viscosity of a mixture [mPa·s]: ln η = Σ x ln η, without an interaction term.

    Grunberg and Nissan, Nature 164 (1949) 799. Shares by mass serve for oils.

    >>> round(grunberg_nissan([0.5, 0.5], [231.0, 31.0]), 1)
    84.6
    """
    share, viscosity = _mixture(shares, viscosities_mpa_s)
    return float(np.exp(share @ np.log(viscosity)))


def kendall_monroe(shares: Sequence[float], viscosities_mpa_s: Sequence[float]) -> float:
    """Return the viscosity of a mixture [mPa·s]: η^⅓ = Σ x η^⅓.

    Kendall and Monroe, J. Am. Chem. Soc. 39 (1917) 1787. What the two rules differ by is a
    fair guess at how wrong either may be.

    >>> round(kendall_monroe([0.5, 0.5], [231.0, 31.0]), 1)
    99.8
    """
    share, viscosity = _mixture(shares, viscosities_mpa_s)
    return float((share @ np.cbrt(viscosity)) ** 3)


def _mixture(shares: Sequence[float], viscosities: Sequence[float]) -> tuple[Floats, Floats]:
    share = np.atleast_1d(read_any(shares, "shares", ""))
    viscosity = np.atleast_1d(read_any(viscosities, "viscosity", "mPa·s", above_0=True))
    if share.shape != viscosity.shape:
        raise LabError(f"There are {share.size} shares and {viscosity.size} viscosities. Give one for each.")
    if (share < 0.0).any() or not share.sum() > 0.0:
        raise LabError("shares: give shares of 0 or more, not all 0.")
    return share / share.sum(), viscosity


def krieger_dougherty(
    volume_fraction: float, packing: float = PACKING, intrinsic: float = INTRINSIC
) -> float:
    """Return by how much solids thicken a melt: (1 − φ/φm)^(−[η]·φm).

    Krieger and Dougherty, Trans. Soc. Rheol. 3 (1959) 137; φm 0.64 and [η] 2.5 for spheres. Clumps
    hold melt and thicken more than this.

    Raises
    ------
    LabError
        For a share of solid below 0, or so high that nothing flows.

    Examples
    --------
    >>> round(krieger_dougherty(0.042), 3)
    1.115
    """
    fraction = float(read_any(volume_fraction, "share of solid", ""))
    if not 0.0 <= fraction < packing:
        raise LabError(
            f"share of solid: {fraction:g} of the volume does not flow. Give 0 to less than {packing:g}."
        )
    return float((1.0 - fraction / packing) ** (-intrinsic * packing))


def solid_fraction(mass_share: float, solid_kg_m3: float, melt_kg_m3: float = 900.0) -> float:
    """Return the share of the volume that a share of the mass takes up.

    >>> round(solid_fraction(0.20, 5200.0), 3)  # red iron oxide
    0.041
    """
    share = float(read_any(mass_share, "share of mass", ""))
    if not 0.0 <= share <= 1.0:
        raise LabError(f"share of mass: {share:g} cannot be. Give 0 to 1, such as 0.2 for 20 %.")
    solid = share / read_above_0(solid_kg_m3, "density of the solid", "kg/m³")
    return solid / (solid + (1.0 - share) / read_above_0(melt_kg_m3, "density of the melt", "kg/m³"))
