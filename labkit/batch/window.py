"""The pour window: when clumps no longer settle before it sets, and until when it still flows."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from labkit.batch.asked import Floats, read_above_0, read_between
from labkit.batch.cooling import CoolingFit
from labkit.batch.course import Path, limits
from labkit.batch.settling import settling_speed
from labkit.errors import LabError
from labkit.quantities import HOTTEST_C

SETTLED_SHARE = 0.02
"""A clear layer of this share of the mould's height is seen (a judgement, no source)."""

_STEPS = 800
_COURSES = 200


@dataclass(frozen=True)
class PourWindow:
    """When to pour, on the clock of the cooling's readings.

    Attributes
    ----------
    opens_min, closes_min : float [min]
        The window; both nan where there is none.
    opens_limits, closes_limits : tuple of float [min]
        95 % limits, from what the cooling curve may be; what the viscosity and the clumps may be
        is not in them.
    opens_c, closes_c : float [°C]
        Temperatures then; nan where there is none.
    why : str
        In words.
    """

    opens_min: float
    closes_min: float
    opens_limits: tuple[float, float]
    closes_limits: tuple[float, float]
    opens_c: float
    closes_c: float
    why: str

    @property
    def is_open(self) -> bool:
        """Whether there is a window at all."""
        return bool(np.isfinite(self.opens_min))


def pour_window(
    cooling: CoolingFit,
    viscosity: Callable[[float], float],
    *,
    clump_um: float,
    delta_density_kg_m3: float,
    volume_fraction: float,
    mould_mm: float,
    too_thick_mpa_s: float,
    settled_share: float = SETTLED_SHARE,
) -> PourWindow:
    """Return when to pour so that clumps do not settle before it sets, and it still flows.

    It closes when the melt is too thick to pour, or when it begins to set (the plateau of the
    cooling curve), whichever comes first. It opens as soon as what settles from the pour until it
    sets, ∫ v dt with v of `settling_speed`, is at most `settled_share` of the mould's height; where
    no plateau was seen, settling is counted until it is too thick. Stirring keeps clumps up in the
    pot, so what settles counts from the pour.

    The mould is taken to cool like the pot; a small mould cools faster, and then less settles.

    Parameters
    ----------
    cooling : CoolingFit
        From `fit_cooling`.
    viscosity : callable, °C → mPa·s
        Of the melt as it is poured, pigment in it.
    clump_um, delta_density_kg_m3, volume_fraction
        As in `settling_speed`.
    mould_mm : float [mm]
        Height that the melt stands in the mould.
    too_thick_mpa_s : float [mPa·s]
        The maker's own limit.
    settled_share : float
        Share of the height that may settle out, by default 0.02.

    Raises
    ------
    LabError
        For a size that cannot be, or a viscosity that is no number or rises with warmth.

    Examples
    --------
    >>> from labkit.batch.cooling import fit_cooling
    >>> clock = np.arange(0.0, 10.0)
    >>> cooling = fit_cooling(clock, 22.0 + 58.0 * np.exp(-clock / 12.0), room_c=22.0)
    >>> found = pour_window(
    ...     cooling, lambda c: 15.0 * np.exp((80.0 - c) / 12.0), clump_um=20.0,
    ...     delta_density_kg_m3=4300.0, volume_fraction=0.04, mould_mm=50.0, too_thick_mpa_s=150.0)
    >>> round(found.opens_c), round(found.closes_c)
    (59, 52)
    """
    if not isinstance(cooling, CoolingFit):
        raise LabError("Give the cooling curve from fit_cooling(minutes, celsius).")
    thick = read_above_0(too_thick_mpa_s, "too thick", "mPa·s")
    height = read_above_0(mould_mm, "height of the mould", "mm")
    share = read_between(settled_share, "share that may settle", "", 1e-4, 1.0)
    table = _Viscosity.read(viscosity, cooling)
    slowed = float(settling_speed(clump_um, delta_density_kg_m3, 1e6, volume_fraction)) * 1e6
    settling_speed(clump_um, delta_density_kg_m3, float(table.mpa_s.min()), volume_fraction)
    thick_c = table.celsius_of(thick)

    point, drawn = cooling.course.point, cooling.course.draws.some(_COURSES)
    times = [
        _Times.of(path, cooling.since_min, table, abs(slowed), thick_c, share * height)
        for path in (point, drawn)
    ]
    return _told(cooling, times[0], times[1], share * height)


@dataclass(frozen=True, eq=False)
class _Viscosity:
    """The maker's viscosities on a fine scale of temperature."""

    celsius: Floats
    mpa_s: Floats

    @classmethod
    def read(cls, viscosity: Callable[[float], float], cooling: CoolingFit) -> "_Viscosity":
        low = min(cooling.room_c, cooling.limits["room_c"][0], cooling.course.readings.min()) - 1.0
        high = min(max(cooling.course.readings.max(), cooling.start_c) + 5.0, HOTTEST_C)
        celsius = np.linspace(low, high, 400)
        try:
            found = np.array([float(viscosity(float(each))) for each in celsius])
        except (TypeError, ValueError) as error:
            raise LabError(
                "The viscosity has to be a function of °C that gives mPa·s, such as a viscosity_curve. "
                f"It said: {error}"
            ) from None
        if not (found > 0.0).all():
            raise LabError("The viscosity has to be above 0 mPa·s at every temperature between pot and room.")
        if (np.diff(found) > 1e-9 * found[:-1]).any():
            raise LabError("The viscosity rises as it gets warmer. A melt gets thinner: look at it again.")
        return cls(celsius, found)

    def at(self, celsius: Floats) -> Floats:
        found: Floats = np.exp(np.interp(celsius, self.celsius, np.log(self.mpa_s)))
        return found

    def celsius_of(self, mpa_s: float) -> float:
        """Return the warmest temperature at which it is as thick; −inf where it never is."""
        if mpa_s > self.mpa_s[0]:
            return -np.inf
        return float(np.interp(-np.log(mpa_s), -np.log(self.mpa_s), self.celsius))


@dataclass(frozen=True, eq=False)
class _Times:
    """When several courses open, get too thick and set, and what settles after closing [mm]: (courses,)."""

    opens: Floats
    thick: Floats
    sets: Floats
    after_close: Floats

    @property
    def closes(self) -> Floats:
        return np.minimum(self.thick, self.sets)

    @classmethod
    def of(
        cls, path: Path, since: float, table: _Viscosity, slowed: float, thick_c: float, allowed_mm: float
    ) -> "_Times":
        """Follow what settles; `slowed` is its speed times the viscosity [mm/min·mPa·s]."""
        thick, sets = path.until(thick_c), path.before.until(path.level)
        until = np.where(np.isfinite(sets), sets, thick)
        if not np.isfinite(until[0]):
            return cls(until, thick, sets, np.full(len(until), np.inf))
        lasts = np.where(np.isfinite(until), until - since, 20.0 * path.before.tau)
        minutes = since + lasts[:, None] * np.linspace(0.0, 1.0, _STEPS)
        speed = slowed / table.at(path.celsius(minutes))
        step = (speed[:, 1:] + speed[:, :-1]) / 2.0 * lasts[:, None] / (_STEPS - 1)
        to_come = np.pad(np.cumsum(step[:, ::-1], axis=1)[:, ::-1], ((0, 0), (0, 1)))
        opens = np.where(np.isfinite(until), _falls_to(allowed_mm, to_come, minutes), np.inf)
        last = np.minimum(np.minimum(thick, sets), minutes[:, -1])
        after = np.array([np.interp(*each) for each in zip(last, minutes, to_come, strict=True)])
        return cls(opens, thick, sets, after)


def _falls_to(level: float, falling: Floats, minutes: Floats) -> Floats:
    """Return when each falling row comes down to a level that it ends below."""
    above = (falling > level).sum(axis=1)
    rows, before, after = np.arange(len(falling)), np.maximum(above - 1, 0), above
    drop = falling[rows, before] - falling[rows, after]
    part = np.where(drop > 0.0, (falling[rows, before] - level) / np.where(drop > 0.0, drop, 1.0), 0.0)
    between = minutes[rows, before] + np.clip(part, 0.0, 1.0) * (minutes[rows, after] - minutes[rows, before])
    return np.where(above > 0, between, minutes[:, 0])


def _told(cooling: CoolingFit, point: _Times, drawn: _Times, allowed_mm: float) -> PourWindow:
    opens, closes = float(point.opens[0]), float(point.closes[0])
    why = _never(cooling, point, allowed_mm)
    if why:
        nan = float("nan")
        return PourWindow(nan, nan, (nan, nan), (nan, nan), nan, nan, why)
    return PourWindow(
        opens,
        closes,
        limits(drawn.opens),
        limits(drawn.closes),
        float(cooling.celsius_at(opens)),
        float(cooling.celsius_at(closes)),
        _why(cooling, point, allowed_mm),
    )


def _never(cooling: CoolingFit, point: _Times, allowed_mm: float) -> str:
    """Say why there is no window; "" where there is one."""
    opens, closes = float(point.opens[0]), float(point.closes[0])
    if closes <= cooling.since_min:
        return "It is too thick to pour, or sets, from the start of this cooling. Warm it and begin again."
    if not np.isfinite(closes):
        return (
            f"On its way to the room's {cooling.room_c:.0f} °C it neither gets too thick nor was it seen to "
            "set, so clumps go on settling. Cool the mould, or read on until it sets."
        )
    if opens > closes:
        return (
            f"There is no window: poured at the last moment ({closes:.1f} min), clumps still settle "
            f"{point.after_close[0]:.1f} mm before it sets, and {allowed_mm:.1f} mm is what may be. "
            "Grind or sieve the pigment finer, or cool the mould so that it sets sooner."
        )
    return ""


def _why(cooling: CoolingFit, point: _Times, allowed_mm: float) -> str:
    opens, closes = float(point.opens[0]), float(point.closes[0])
    shut = "it begins to set" if point.sets[0] < point.thick[0] else "it is too thick to pour"
    seen = "before it sets" if np.isfinite(point.sets[0]) else "before it is too thick to flow"
    if opens <= cooling.since_min:
        first = f"Pour from the start: at most {allowed_mm:.1f} mm settles {seen}."
    else:
        first = (
            f"Stir until {opens:.1f} min: poured sooner, clumps settle more than {allowed_mm:.1f} mm {seen}."
        )
    return (
        f"{first} Pour before {closes:.1f} min, at about {cooling.celsius_at(closes):.0f} °C: then {shut}. "
        "The mould is taken to cool like the pot."
    )
