"""What a recipe's melt is like: how thick by temperature, what its pigment weighs, where wax leaves it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from labkit.batch.order import Kind
from labkit.batch.solubility import CASTOR_G_MOL, CRYSTALS, TRIGLYCERIDE_G_MOL, CloudPoint, cloud_point
from labkit.batch.viscosity import (
    ViscosityCurve,
    kendall_monroe,
    krieger_dougherty,
    oil_names,
    oil_viscosity,
    solid_fraction,
)
from labkit.errors import LabError
from labkit.materials import find_material

USUAL_OIL = "sunflower oil"
"""Stands for a fluid without a recorded viscosity: melted fats are about as thin (a judgement)."""
MELT_KG_M3 = 900.0
_POWDER_KG_M3 = 3000.0
_GLASSY = 0.6


@dataclass(frozen=True)
class Melt:
    """What a recipe's melt is like.

    Attributes
    ----------
    viscosity : callable, °C → mPa·s
        With its powder in it, and no wax crystallised.
    volume_fraction : float
        Of powder.
    delta_density_kg_m3 : float
        By which its powder is heavier than the melt; 0 without powder.
    cloud : CloudPoint or None
        Where the wax that there is most of begins to leave solution.
    why : tuple of str
        On what that rests, in words.
    """

    viscosity: "Thickened"
    volume_fraction: float
    delta_density_kg_m3: float
    cloud: CloudPoint | None
    why: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Thickened:
    """The viscosity of a mixture of fluids with powder in it, °C → mPa·s."""

    curves: tuple[ViscosityCurve, ...]
    shares: tuple[float, ...]
    times: float

    def __call__(self, celsius: float) -> float:
        """Return mPa·s at a temperature [°C]."""
        each = [float(curve(celsius)) for curve in self.curves]
        return self.times * kendall_monroe(self.shares, each)


def melt_of(grams: Mapping[str, float], kinds: Mapping[str, Kind], cloud_seen_c: float | None = None) -> Melt:
    """Return what the melt of these grams is like.

    Fluids are mixed by Kendall and Monroe, powder thickens by Krieger and Dougherty; a fluid without a
    recorded viscosity counts as a common oil.

    Parameters
    ----------
    grams : mapping of ingredient to g
    kinds : mapping of ingredient to kind
    cloud_seen_c : float [°C], optional
        Where the maker saw this melt cloud.

    Raises
    ------
    LabError
        Nothing in it that melts.

    Examples
    --------
    >>> grams = {"castor oil": 80.0, "red iron oxide": 20.0}
    >>> found = melt_of(grams, {"castor oil": "oil", "red iron oxide": "powder"})
    >>> round(found.volume_fraction, 3), round(found.viscosity(70.0) / oil_viscosity("castor oil")(70.0), 2)
    (0.042, 1.11)
    """
    fluids = {name: each for name, each in grams.items() if kinds[name] != "powder" and each > 0}
    powders = {name: each for name, each in grams.items() if kinds[name] == "powder" and each > 0}
    if not fluids:
        raise LabError(
            "There is nothing in this recipe that melts or is liquid. Name its oils, butters and waxes."
        )
    recorded = {name: _recorded_oil(name) for name in fluids}
    guessed = [name for name, oil in recorded.items() if oil is None]
    curves = tuple(oil_viscosity(oil or USUAL_OIL) for oil in recorded.values())
    total = sum(grams.values())
    density = _density(powders)
    fraction = solid_fraction(sum(powders.values()) / total, density, MELT_KG_M3) if powders else 0.0
    times = krieger_dougherty(fraction) if fraction < _GLASSY else np.inf
    cloud, cloud_why = _cloud(fluids, kinds, cloud_seen_c)
    why = [_fluid_words(recorded, guessed), *cloud_why]
    thickened = Thickened(curves, tuple(fluids.values()), float(times))
    return Melt(thickened, fraction, density - MELT_KG_M3 if powders else 0.0, cloud, tuple(why))


def _recorded_oil(name: str) -> str | None:
    try:
        found = find_material(name).name
    except LabError:
        found = name
    return found if found in oil_names() else None


def _density(powders: Mapping[str, float]) -> float:
    """Return the mean density of powders by their volume [kg/m³]."""
    if not powders:
        return _POWDER_KG_M3
    volumes = [grams / _density_of(name) for name, grams in powders.items()]
    return float(sum(powders.values()) / sum(volumes))


def _density_of(name: str) -> float:
    try:
        value = find_material(name).values.get("density_g_ml")
    except LabError:
        value = None
    return 1000.0 * value.middle if value is not None else _POWDER_KG_M3


def _cloud(
    fluids: Mapping[str, float], kinds: Mapping[str, Kind], seen_c: float | None
) -> tuple[CloudPoint | None, list[str]]:
    waxes = {name: grams for name, grams in fluids.items() if kinds[name] == "wax"}
    if not waxes:
        return None, []
    most = max(waxes, key=lambda name: waxes[name])
    total = sum(fluids.values())
    castor = sum(grams for name, grams in fluids.items() if _recorded_oil(name) == "castor oil") / total
    solvent = CASTOR_G_MOL if castor > 0.5 else TRIGLYCERIDE_G_MOL
    try:
        found = cloud_point(_wax_name(most), waxes[most] / total, seen_c, solvent)
    except LabError as error:
        return None, [str(error)]
    said = f"{most} begins to leave solution at about {found.celsius:.0f} °C"
    return found, [f"{said} ({found.low_c:.0f} to {found.high_c:.0f} °C). {found.why}"]


def _wax_name(name: str) -> str:
    try:
        found = find_material(name).name
    except LabError:
        return name
    return found if found in CRYSTALS else name


def _fluid_words(recorded: Mapping[str, str | None], guessed: list[str]) -> str:
    known = [name for name, oil in recorded.items() if oil]
    sources = "; ".join(dict.fromkeys(oil_viscosity(oil).source for oil in recorded.values() if oil))
    said = f"Viscosity from {', '.join(known)} ({sources})" if known else "No viscosity is recorded of these"
    if not guessed:
        return f"{said}."
    return f"{said}; {', '.join(guessed)} counted as a common oil, since melted fats are about as thin."
