"""Hardness read with an instrument: a needle or a cone that sinks in, or a rod pushed in over a scale."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.errors import LabError, did_you_mean

Floats = NDArray[np.float64]
Kind = Literal["needle", "cone", "rod"]

# ASTM D1321 reads needles to 250; the scale of ASTM D217 goes to 620 (from memory).
DEEPEST_01MM = {"needle": 250.0, "cone": 620.0}
# K of C = K·W/p^1.6 by cone angle [°]: Haighton (1959), figure from memory.
CONE_FACTORS = {40.0: 5840.0}
CONE_ANGLES = (15.0, 90.0)
YIELD_RANGE = (45.0, 8300.0)
FALL_S = 5.0


@dataclass(frozen=True)
class Instrument:
    """What a reading was taken with; readings of two instruments are never mixed.

    Attributes
    ----------
    kind : {"needle", "cone", "rod"}
        Needle and cone are read in 0.1 mm of depth (deeper is softer), the rod in grams
        on a kitchen scale (more is harder).
    load_g : float [g], needle and cone only
        Everything that falls: needle or cone, shaft and weight. ASTM D1321: 100 g;
        ASTM D217 and D937: 150 g.
    angle_deg : float [°], cone only
        The full angle at its tip, 15 to 90.
    seconds : float [s]
        How long it sinks.
    deepest_01mm : float [0.1 mm]
        The deepest that can be read, such as the height of the cone; 250 for a needle
        (ASTM D1321) and 620 for a cone (ASTM D217, from memory) where it is not given.
    rod_mm : float [mm], rod only
        The rod's width.
    depth_mm : float [mm], rod only
        How deep it is pushed.

    Raises
    ------
    LabError
        For a kind that is not known, or a size that is missing or cannot be.

    Examples
    --------
    >>> Instrument("cone", load_g=150.0, angle_deg=40.0).name
    'cone of 40°, 150 g, 5 s'
    >>> Instrument("rod", rod_mm=4.0).name
    'rod of 4 mm, pushed in 5 mm'
    """

    kind: Kind
    load_g: float | None = None
    angle_deg: float | None = None
    seconds: float = FALL_S
    deepest_01mm: float | None = None
    rod_mm: float | None = None
    depth_mm: float = 5.0

    def __post_init__(self) -> None:
        if self.kind not in get_args(Kind):
            raise LabError(f"“{self.kind}” is no instrument. {did_you_mean(self.kind, get_args(Kind))}")
        for size in ("load_g", "angle_deg", "seconds", "deepest_01mm", "rod_mm", "depth_mm"):
            value = getattr(self, size)
            if value is not None and not 0.0 < value < np.inf:
                raise LabError(f"{self.kind}: {_words(size)} is {value:g}, and it must be more than 0.")
        needed = {"needle": ("load_g",), "cone": ("load_g", "angle_deg"), "rod": ("rod_mm",)}[self.kind]
        for size in needed:
            if getattr(self, size) is None:
                raise LabError(
                    f"{self.kind}: {_words(size)} is missing, and readings mean nothing without it."
                )
        if self.angle_deg is not None and not CONE_ANGLES[0] <= self.angle_deg <= CONE_ANGLES[1]:
            raise LabError(
                f"A cone of {self.angle_deg:g}° is outside 15° to 90°: give the full angle at its tip."
            )

    @property
    def unit(self) -> str:
        """Unit of its readings."""
        return "g" if self.kind == "rod" else "0.1 mm"

    @property
    def most(self) -> float:
        """The largest reading that can be."""
        if self.kind == "rod":
            return np.inf
        return DEEPEST_01MM[self.kind] if self.deepest_01mm is None else self.deepest_01mm

    @property
    def name(self) -> str:
        """Its name in words."""
        if self.kind == "rod":
            return f"rod of {self.rod_mm:g} mm, pushed in {self.depth_mm:g} mm"
        tip = f"cone of {self.angle_deg:g}°" if self.kind == "cone" else "needle"
        return f"{tip}, {self.load_g:g} g, {self.seconds:g} s"


def _words(size: str) -> str:
    return {
        "load_g": "the load (g)",
        "angle_deg": "the angle of the cone (°)",
        "seconds": "the time (s)",
        "deepest_01mm": "the deepest reading (0.1 mm)",
        "rod_mm": "the width of the rod (mm)",
        "depth_mm": "how deep it is pushed (mm)",
    }[size]


def one_instrument(instruments: Iterable[Instrument]) -> Instrument:
    """Return the instrument that all readings were taken with.

    Raises
    ------
    LabError
        For none, or more than one.
    """
    each = list(dict.fromkeys(instruments))
    if not each:
        raise LabError("No instrument is named for these readings.")
    if len(each) > 1:
        raise LabError(
            f"These readings are from two instruments: {each[0].name}; {each[1].name}. "
            "They cannot be mixed: learn from one at a time."
        )
    return each[0]


def _shown(reading: float, instrument: Instrument) -> str:
    return f"{reading:g} g" if instrument.kind == "rod" else f"{reading:g} × 0.1 mm"


def check_readings(readings: ArrayLike, instrument: Instrument) -> Floats:
    """Return readings as numbers, nan where there is none.

    Parameters
    ----------
    readings : array_like, shape (n,) [instrument.unit]
        None or nan where nothing was read.

    Raises
    ------
    LabError
        For a reading that is no number, 0 or less, or deeper than the instrument goes.

    Examples
    --------
    >>> check_readings([62, None], Instrument("needle", load_g=100.0)).tolist()
    [62.0, nan]
    """
    try:
        found = np.atleast_1d(np.asarray(readings, float))
    except (TypeError, ValueError):
        raise LabError(f"The readings are not all numbers. Write {instrument.unit}, such as 62.") from None
    for row in np.flatnonzero(found <= 0.0):
        raise LabError(
            f"Reading {row + 1} is {_shown(found[row], instrument)}. At 0 nothing was touched or pushed: "
            "read it again, with more load if it does not go in."
        )
    for row in np.flatnonzero((found > instrument.most) | np.isposinf(found)):
        raise LabError(
            f"Reading {row + 1} is {_shown(found[row], instrument)}, beyond the {instrument.most:g} that a "
            f"{instrument.kind} like yours can show. Read it again with less load."
        )
    return found


def log_hardness(readings: ArrayLike, instrument: Instrument) -> Floats:
    """Return readings on a log scale on which more is harder: −ln(depth), or ln(grams) for a rod.

    A cone's yield value falls with p^1.6, so its logarithm is 1.6 times this and a constant:
    for a model with a slope of its own the two are the same. For needle and rod the
    logarithm is common practice, no source.

    Parameters
    ----------
    readings : array_like, shape (n,) [instrument.unit]

    Raises
    ------
    LabError
        As `check_readings`.

    Examples
    --------
    >>> log_hardness([1.0, None], Instrument("rod", rod_mm=4.0)).tolist()
    [0.0, nan]
    """
    found = np.log(check_readings(readings, instrument))
    return found if instrument.kind == "rod" else -found


def yield_value(readings: ArrayLike, instrument: Instrument, cone_factor: float | None = None) -> Floats:
    """Return the yield value C = K·W/p^1.6 [g/cm²] of cone readings.

    Haighton (1959), Journal of the American Oil Chemists' Society 36, 345,
    doi:10.1007/BF02640051: for cones of 15° to 90°, falling 5 s, and for 45 to 8300 g/cm²,
    in margarine, fat, shortening and butter (abstract). K is 5840 for 40° (from memory).
    A lip colour with wax was not among them: use it to compare, not as a standard.

    Parameters
    ----------
    readings : array_like, shape (n,) [0.1 mm]
    cone_factor : float, optional
        K of another angle.

    Raises
    ------
    LabError
        For a needle or a rod, another time than 5 s, an angle whose K is not given, and a
        result outside the range of the formula.

    Examples
    --------
    100 g on a 40° cone that sinks in 5 mm:

    >>> yield_value(50.0, Instrument("cone", load_g=100.0, angle_deg=40.0)).round().tolist()
    [1117.0]
    """
    if instrument.kind != "cone":
        raise LabError(f"A yield value is for cones only; these readings are from a {instrument.kind}.")
    if instrument.seconds != FALL_S:
        raise LabError(
            f"The yield value is for cones that sink for 5 s; yours sank for {instrument.seconds:g} s."
        )
    factor = CONE_FACTORS.get(instrument.angle_deg or 0.0) if cone_factor is None else cone_factor
    if factor is None or not factor > 0.0:
        raise LabError(
            f"The factor of a {instrument.angle_deg:g}° cone is not known here, only that of 40°. "
            "Give the one that came with your cone."
        )
    found = factor * (instrument.load_g or 0.0) / check_readings(readings, instrument) ** 1.6
    for row in np.flatnonzero((found < YIELD_RANGE[0]) | (found > YIELD_RANGE[1])):
        raise LabError(
            f"Reading {row + 1} gives {found[row]:.0f} g/cm², outside the 45 to 8300 that the formula was "
            "tried on. It still counts as a depth."
        )
    return found
