"""What lies below a film: a card, a lip, skin, or the maker's own."""

import csv
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from labkit.colour.cie import WAVELENGTHS, colour_science, on_screen, weights, xyz_of_lab
from labkit.errors import LabError, did_you_mean

BLACK_CARD, WHITE_CARD = "black card", "white card"
CARDS = {BLACK_CARD: 0.0, WHITE_CARD: 0.80}
"""Reflectance of the two halves of a drawdown card (ISO 6504-1: white 0.80)."""


@cache
def named() -> dict[str, tuple[float, float, float]]:
    """Return CIELAB of the lips and skins that have a name; the table says what each rests on.

    >>> sorted(named())[0]
    'lip'
    """
    with (files("labkit.shade") / "backings.csv").open(encoding="utf-8") as lines:
        return {
            row["backing"]: (float(row["L"]), float(row["a"]), float(row["b"]))
            for row in csv.DictReader(lines)
        }


def names() -> tuple[str, ...]:
    """Return every backing that has a name."""
    return (*CARDS, *named())


def reflectance_of(backing: Any) -> np.ndarray:
    """Return the reflectance of a backing on `WAVELENGTHS`, as measured in air, shape (36,).

    Parameters
    ----------
    backing
        One of `names`, a CIELAB triple (D65, 2°), or a reflectance on `WAVELENGTHS`, 0 to 1. A lip or
        skin is known by its colour only: its reflectance is one of the smooth ones that have that colour
        (Mallett and Yuksel 2019, as colour-science has it), not a measurement.

    Raises
    ------
    LabError
        Where it is none of the three.

    >>> float(reflectance_of("white card")[0])
    0.8
    """
    if isinstance(backing, str):
        return _of_name(backing)
    values = _numbers(backing)
    if values.shape == (3,):
        return of_lab(tuple(values))
    if values.ndim > 1:
        raise LabError(f"the backing: its shape is {values.shape}. Give one backing at a time.")
    return check_reflectance(values, "the backing")


def _of_name(backing: str) -> np.ndarray:
    name = backing.strip().casefold()
    if name in CARDS:
        return np.full(WAVELENGTHS.size, CARDS[name])
    if name in named():
        return of_lab(named()[name])
    raise LabError(f"“{backing}” is no backing that labkit knows. {did_you_mean(backing, names())}")


def _numbers(backing: Any) -> np.ndarray:
    try:
        return np.asarray(backing, float)
    except (TypeError, ValueError):
        raise LabError(
            f"the backing: {backing!r} is no backing. Give a name such as “lip”, three numbers L*, a*, b*, "
            f"or {WAVELENGTHS.size} reflectances from 380 to 730 nm."
        ) from None


def check_reflectance(values: np.ndarray, what: str) -> np.ndarray:
    """Return reflectances on `WAVELENGTHS`; raise `LabError` where they cannot be that."""
    if values.shape[-1:] != (WAVELENGTHS.size,):
        raise LabError(
            f"{what}: a reflectance has {WAVELENGTHS.size} values, 380 to 730 nm in steps of 10; here the "
            f"shape is {values.shape}. A colour has three: L*, a*, b*."
        )
    if not np.isfinite(values).all() or (values < 0).any():
        raise LabError(f"{what}: every reflectance is a number from 0 to 1; one is missing or below 0.")
    if (values > 1).any():
        cure = "They look like percent: divide them by 100." if values.max() > 2 else "Check the white tile."
        raise LabError(f"{what}: the highest reflectance is {values.max():g}, and 1 is all light. {cure}")
    return values


@cache
def of_lab(lab: tuple[float, float, float]) -> np.ndarray:
    """Return a smooth reflectance with this CIELAB colour (D65, 2°), shape (36,)."""
    L, a, b = lab
    if not (np.isfinite(lab).all() and 0 <= L <= 100 and on_screen(lab)):
        raise LabError(
            f"the backing: L* {L:g}, a* {a:g}, b* {b:g} is no colour of a skin, lip or card: no screen shows "
            "it. L* goes from 0 to 100; a* and b* of lips lie between 5 and 35."
        )
    reflectance = _smooth(lab)
    reflectance.setflags(write=False)
    return reflectance


def _smooth(lab: tuple[float, float, float]) -> np.ndarray:
    colour = colour_science()

    basis = colour.recovery.MSDS_BASIS_FUNCTIONS_sRGB_MALLETT2019[WAVELENGTHS].T
    return np.clip(xyz_of_lab(lab) @ np.linalg.inv(basis @ weights()) @ basis, 0, 1)
