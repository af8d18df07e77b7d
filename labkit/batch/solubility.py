"""At what temperature wax begins to leave solution as a melt cools."""

from dataclasses import dataclass

import numpy as np

from labkit.batch.asked import read_above_0, read_celsius
from labkit.batch.viscosity import GAS_J_MOL_K, ZERO_C
from labkit.errors import LabError, did_you_mean

TRIGLYCERIDE_G_MOL = 885.4
"""Triolein; common oils lie near it."""
CASTOR_G_MOL = 930.0

IDEAL_OFF_C = 8.0
"""How far an ideal estimate may lie off what is seen (a judgement, no source)."""


@dataclass(frozen=True)
class Crystal:
    """What melts: heat of fusion [J/g], molar mass [g/mol], melting temperature [°C], and the source."""

    heat_j_g: float
    molar_g: float
    melts_c: float
    source: str


CRYSTALS = {
    "tristearin": Crystal(221.6, 891.5, 72.5, "β form; heat 221.6 ± 1 J/g and melting temperature published"),
    "beeswax": Crystal(
        185.0, 677.0, 64.0, "heat published, 168 to 203 J/g; counted as one ester of 677 g/mol, from memory"
    ),
    "rice bran wax": Crystal(190.5, 760.0, 78.0, "heat and melting range published; molar mass from memory"),
    "carnauba wax": Crystal(137.6, 820.0, 83.0, "heat published, melting range USP; molar mass from memory"),
    "candelilla wax": Crystal(
        129.0, 450.0, 70.0, "heat published; half of it hydrocarbons near C31, so molar mass from memory"
    ),
}


@dataclass(frozen=True)
class CloudPoint:
    """Where wax begins to leave solution.

    Attributes
    ----------
    celsius : float [°C]
    low_c, high_c : float [°C]
        What it may be.
    how : {"ideal", "observed"}
    why : str
        In words.
    """

    celsius: float
    low_c: float
    high_c: float
    how: str
    why: str


def ideal_solution_temperature(
    share: float, crystal: Crystal, solvent_g_mol: float = TRIGLYCERIDE_G_MOL
) -> float:
    """Return the temperature [°C] at which a share by mass just dissolves: Schröder and van Laar.

    ln x = (ΔH/R)(1/Tm − 1/T) with the mole fraction x; no heat of mixing, one kind of crystal.

    Parameters
    ----------
    share : float
        Of the wax by mass, above 0 to 1.
    crystal : Crystal
    solvent_g_mol : float [g/mol]
        Mean molar mass of the oil.

    Raises
    ------
    LabError
        For a share that cannot be.

    Examples
    --------
    >>> round(ideal_solution_temperature(0.10, CRYSTALS["tristearin"]), 1)
    61.3
    """
    if not 0.0 < read_above_0(share, "share of wax", "") <= 1.0:
        raise LabError(f"share of wax: {share:g} cannot be. Give more than 0 to 1, such as 0.2 for 20 %.")
    wax = share / crystal.molar_g
    mole = wax / (wax + (1.0 - share) / read_above_0(solvent_g_mol, "molar mass of the oil", "g/mol"))
    heat_j_mol = crystal.heat_j_g * crystal.molar_g
    inverse = 1.0 / (crystal.melts_c + ZERO_C) - np.log(mole) * GAS_J_MOL_K / heat_j_mol
    return float(1.0 / inverse - ZERO_C)


def cloud_point(
    wax: str,
    share: float,
    observed_c: float | None = None,
    solvent_g_mol: float = TRIGLYCERIDE_G_MOL,
) -> CloudPoint:
    """Return where a wax begins to leave solution: as the maker saw it, else the ideal estimate.

    Raises
    ------
    LabError
        For a wax that is not recorded and was not observed, or a share that cannot be.

    Examples
    --------
    >>> found = cloud_point("beeswax", 0.20, solvent_g_mol=CASTOR_G_MOL)
    >>> round(found.celsius), found.how
    (54, 'ideal')
    >>> cloud_point("beeswax", 0.20, observed_c=57.5).celsius
    57.5
    """
    if observed_c is not None:
        seen = float(read_celsius([observed_c], "cloud point seen")[0])
        return CloudPoint(seen, seen - 1.0, seen + 1.0, "observed", "Your own cloud point, to about 1 °C.")
    _refuse_stearate(wax)
    if wax not in CRYSTALS:
        near = did_you_mean(str(wax), CRYSTALS)
        raise LabError(
            f"No heat of melting of “{wax}” is recorded. {near} Or cool a little, and note when it clouds."
        )
    ideal = ideal_solution_temperature(share, CRYSTALS[wax], solvent_g_mol)
    return CloudPoint(
        ideal,
        ideal - IDEAL_OFF_C,
        min(ideal + IDEAL_OFF_C, max(CRYSTALS[wax].melts_c, ideal)),
        "ideal",
        "Ideal estimate: it counts the wax as one pure kind of crystal in an oil that neither likes nor "
        f"dislikes it, and may be {IDEAL_OFF_C:.0f} °C off. Note when your melt clouds: that counts instead. "
        f"Figures: {CRYSTALS[wax].source}.",
    )


def _refuse_stearate(wax: str) -> None:
    if "stearate" in str(wax).casefold():
        raise LabError(
            f"“{wax}” is a soap that swells and gels in oil; it does not dissolve like a wax, and this "
            "estimate does not hold for it."
        )
