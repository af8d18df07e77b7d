"""Iodine and saponification value of a fat, computed from its fatty acids."""

from collections.abc import Mapping
from typing import NamedTuple

from labkit.errors import LabError, did_you_mean

CARBON, HYDROGEN, OXYGEN = 12.011, 1.008, 15.999
IODINE_G_MOL = 2 * 126.904  # I2, which one double bond takes up
KOH_G_MOL = 56.106
GLYCERYL_G_MOL = 3 * CARBON + 2 * HYDROGEN  # what a triglyceride weighs beyond its three acids: C3H2


class Acid(NamedTuple):
    """A fatty acid: carbon atoms, double bonds, oxygen atoms.

    >>> round(Acid(18, 1).g_mol, 2)  # oleic acid
    282.47
    """

    carbons: int
    double_bonds: int
    oxygens: int = 2

    @property
    def g_mol(self) -> float:
        """Molar mass [g/mol]."""
        hydrogens = 2 * self.carbons - 2 * self.double_bonds
        return self.carbons * CARBON + hydrogens * HYDROGEN + self.oxygens * OXYGEN


ACIDS = {
    "caprylic": Acid(8, 0),
    "capric": Acid(10, 0),
    "lauric": Acid(12, 0),
    "myristic": Acid(14, 0),
    "palmitic": Acid(16, 0),
    "palmitoleic": Acid(16, 1),
    "stearic": Acid(18, 0),
    "oleic": Acid(18, 1),
    "linoleic": Acid(18, 2),
    "linolenic": Acid(18, 3),
    "ricinoleic": Acid(18, 1, 3),
    "arachidic": Acid(20, 0),
    "eicosenoic": Acid(20, 1),
    "behenic": Acid(22, 0),
    "docosenoic": Acid(22, 1),
    "docosadienoic": Acid(22, 2),
}
"""Fatty acids by name."""


def iodine_value(acids: Mapping[str, float], unsaponifiable_percent: float = 0.0) -> float:
    """Return the iodine value of a triglyceride [g iodine per 100 g], computed from its fatty acids.

    Each acid counts as its own triglyceride, as in AOCS Recommended Practice Cd 1c-85:
    IV = Σ wᵢ · 3 nᵢ M(I₂) / M(triglycerideᵢ), wᵢ in mass %, nᵢ double bonds. The shares are brought to
    100 %. What does not saponify counts as without double bonds, so the result is a lower bound there.

    Parameters
    ----------
    acids : mapping of str to float
        Mass % of all fatty acids, by name (`ACIDS`).
    unsaponifiable_percent : float
        Mass % of the oil that is no fat.

    Raises
    ------
    LabError
        For an acid that is not known, or shares that cannot be.

    Examples
    --------
    >>> round(iodine_value({"oleic": 100.0}), 1)  # triolein
    86.0
    """
    shares = _shares(acids)
    taken = sum(
        share * 3 * ACIDS[name].double_bonds * IODINE_G_MOL / _triglyceride_g_mol(ACIDS[name].g_mol)
        for name, share in shares.items()
    )
    return 100.0 * taken * _fat_share(unsaponifiable_percent)


def saponification_value(acids: Mapping[str, float], unsaponifiable_percent: float = 0.0) -> float:
    """Return the saponification value of a triglyceride [mg KOH per g], computed from its fatty acids.

    SV = 3 · 1000 · M(KOH) / (3 M̄ + M(C₃H₂)), M̄ the mean molar mass of the fatty acids, as in AOCS
    Recommended Practice Cd 3a-94. The shares are brought to 100 %.

    Raises
    ------
    LabError
        For an acid that is not known, or shares that cannot be.

    Examples
    --------
    >>> round(saponification_value({"stearic": 100.0}), 1)  # tristearin
    188.8
    """
    shares = _shares(acids)
    mean_g_mol = 1.0 / sum(share / ACIDS[name].g_mol for name, share in shares.items())
    return 3000.0 * KOH_G_MOL / _triglyceride_g_mol(mean_g_mol) * _fat_share(unsaponifiable_percent)


def _triglyceride_g_mol(acid_g_mol: float) -> float:
    return 3 * acid_g_mol + GLYCERYL_G_MOL


def _fat_share(unsaponifiable_percent: float) -> float:
    if not 0.0 <= unsaponifiable_percent < 100.0:
        raise LabError(
            f"unsaponifiable: {unsaponifiable_percent:g} % cannot be. Give 0 to less than 100, such as 1.5."
        )
    return 1.0 - unsaponifiable_percent / 100.0


def _shares(acids: Mapping[str, float]) -> dict[str, float]:
    if unknown := [name for name in acids if name not in ACIDS]:
        raise LabError(f"“{unknown[0]}” is no fatty acid known here. {did_you_mean(unknown[0], ACIDS)}")
    total = sum(acids.values())
    if not (total > 0 and all(0 <= share < float("inf") for share in acids.values())):
        raise LabError("Fatty acids: give each in %, 0 or more, and not all 0.")
    return {name: share / total for name, share in acids.items()}
