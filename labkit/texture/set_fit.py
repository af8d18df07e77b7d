"""Fit the set curve of one pour: hardness against hours since it was poured."""

from dataclasses import dataclass, field
from numbers import Real

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtri, stdtrit

from labkit.errors import LabError
from labkit.texture.set_search import (
    Floats,
    Found,
    Later,
    Seen,
    basis,
    best_rate,
    polish,
    rate_limits,
    rate_range,
    set_curve,
    solve,
    standard_errors,
)

NAMES = ("start", "final", "rate_per_h")
LATER_NAMES = ("later_per_h", "later_rate_per_h")
MOST_READINGS = 10_000
CLEARLY = 6.0  # AICc; a weight of 20 to 1 (Burnham and Anderson 2002, Model Selection, 2.6)


class NotKnownYetError(LabError):
    """The readings do not say yet how the pour sets; `measure_next_h` is when to read next."""

    def __init__(self, message: str, measure_next_h: float) -> None:
        super().__init__(message)
        self.measure_next_h = measure_next_h


@dataclass(frozen=True)
class SettingFit:
    """A fitted set curve.

    Attributes
    ----------
    start, final : float [hardness]
        At the pour, and where the setting leads (without the later change, if there is one).
    rate_per_h : float [1/h]
    stderr : dict
        Standard errors by those names (and later_per_h, later_rate_per_h), from the
        Jacobian and the residual degrees of freedom; 0 for a start that was given, inf
        where as many values were fitted as there are readings.
    later : Later or None
        A later change the other way, where the readings clearly ask for one.
    rss : float
        Residual sum of squares.
    dof : int
        Readings less fitted values.
    """

    start: float
    final: float
    rate_per_h: float
    stderr: dict[str, float]
    later: Later | None
    rss: float
    dof: int
    seen: Seen = field(repr=False, compare=False)

    @property
    def residual_sd(self) -> float:
        """Scatter of a reading about the curve; nan where nothing is left to tell it from."""
        return float(np.sqrt(self.rss / self.dof)) if self.dof else np.nan

    @property
    def fair_after_h(self) -> float:
        """Hours until 95 % of the setting is done, ln 20/rate: it is fair to judge from then on."""
        return float(np.log(20.0) / self.rate_per_h)

    def at(self, hours: ArrayLike) -> Floats:
        """Return the hardness at these hours, in their shape."""
        try:
            hours = np.asarray(hours, float)
        except (TypeError, ValueError):
            raise LabError(f"{hours!r} is no number of hours since the pour.") from None
        curve = set_curve(hours, self.start, self.final, self.rate_per_h)
        return curve if self.later is None else curve + self.later.at(hours)

    def interval(self, name: str, level: float = 0.9) -> tuple[float, float]:
        """Return limits of start, final or rate_per_h: by profile likelihood.

        Better than ± stderr where readings are few. All values for which the best fit has a
        residual sum of squares of at most rss·(1 + F/dof), F the `level` point of F(1, dof):
        Bates and Watts (1988), Nonlinear Regression Analysis, 6.1 (from memory). With a
        later change: ± t·stderr.

        Raises
        ------
        LabError
            For a name that was not fitted.

        Examples
        --------
        >>> fit = fit_setting([1, 3, 8, 24, 48], [1.3, 2.4, 3.6, 4.1, 4.0], start=0.5)
        >>> low, high = fit.interval("rate_per_h")
        >>> round(low, 2), round(high, 2)
        (0.24, 0.28)
        """
        fitted = [each for each in NAMES if each != "start" or self.seen.start is None]
        if name not in fitted:
            raise LabError(f"“{name}” was not fitted. Fitted: {', '.join(fitted)}.")
        if not self.dof:
            return -np.inf if name != "rate_per_h" else 0.0, np.inf
        if self.later is not None:
            reach = stdtrit(self.dof, 0.5 + level / 2.0) * self.stderr[name]
            return getattr(self, name) - reach, getattr(self, name) + reach
        return _profile(self.seen, name, self, _reach(self.rss, self.dof, level))


def fit_setting(hours: ArrayLike, hardness: ArrayLike, start: float | None = None) -> SettingFit:
    """Fit hardness = start + (final − start)·(1 − exp(−rate·hours)) by least squares.

    For each rate the rest is linear, so the rate alone is searched, over all that the hours
    can show, and no first guess is needed (variable projection: Golub and Pereyra 1973,
    SIAM J. Numer. Anal. 10, 413). A later, slower change is added only where the curve then
    turns within the hours seen, AICc falls by more than 6, and three readings are to spare.

    Parameters
    ----------
    hours : array_like, shape (readings,) [h]
        Since the pour; repeated readings at one time are welcome.
    hardness : array_like, shape (readings,)
        In any unit: rungs, grams, the logarithm of a penetration. May fall with the hours.
    start : float, optional
        Hardness at the pour where it is known, such as 0; else it is fitted.

    Raises
    ------
    NotKnownYetError
        Where the readings lie on a straight line (90 %), so that no end is in sight, or the
        pour had set before the first one; it says when to read next.
    LabError
        For too few readings, at one time only, before the pour, all alike or no numbers.

    Examples
    --------
    Misra1a of the NIST reference data sets, four of fourteen points:

    >>> fit = fit_setting([77.6, 239.9, 477.3, 760.0], [10.07, 29.61, 55.05, 81.78], start=0.0)
    >>> round(fit.final, 1), round(fit.rate_per_h, 7)
    (241.9, 0.0005425)
    """
    seen = _read(hours, hardness, start)
    plain = polish(seen, np.array([best_rate(seen)]))
    found = _turning(seen, plain)
    if found is plain:
        _check_known(seen, plain)
    return _result(seen, found)


def _turning(seen: Seen, plain: Found) -> Found:
    """Return the fit with a later change where the readings clearly ask for it, else the plain one."""
    readings = len(seen.hours)
    if plain.rss <= seen.nothing or readings < plain.values(seen) + 4:
        return plain
    drifts = [solve(seen, np.exp([each]), drift=True) for each in rate_range(seen, 80)]
    tried = [polish(seen, min(drifts, key=lambda each: each.rss).rates, drift=True)]
    if readings >= plain.values(seen) + 5:
        tried.append(_two_rates(seen))
    asked = [each for each in tried if _turns(seen, each)]
    best = min(asked, key=lambda each: _aicc(seen, each), default=plain)
    return best if _aicc(seen, best) < _aicc(seen, plain) - CLEARLY else plain


def _two_rates(seen: Seen) -> Found:
    grid = np.exp(rate_range(seen, 24))
    pairs = [np.array([fast, slow]) for place, fast in enumerate(grid) for slow in grid[:place]]
    return polish(seen, min((solve(seen, each) for each in pairs), key=lambda each: each.rss).rates)


def _turns(seen: Seen, found: Found) -> bool:
    """Whether the slower change is the later one and turns the curve within the hours seen."""
    if len(found.rates) == 2 and found.rates[1] >= found.rates[0]:
        return False
    hours = np.linspace(seen.hours.min(), seen.hours.max(), 400)
    steps = np.diff(basis(hours, found.rates, found.drift) @ found.linear)
    rise = found.linear[1] - found.linear[0]
    return bool(rise * steps[0] > 0.0 > rise * steps[-1])


def _aicc(seen: Seen, found: Found) -> float:
    """Return Akaike's criterion with the small-sample term (Hurvich and Tsai 1989)."""
    readings, values = len(seen.hours), found.values(seen) + 1
    rss = max(found.rss, seen.nothing)
    return readings * np.log(rss / readings) + 2.0 * values * readings / (readings - values - 1)


def _check_known(seen: Seen, found: Found) -> None:
    last = float(seen.hours.max())
    if found.rates[0] * seen.first_gap > 7.0:
        by = seen.first_known + seen.first_gap
        sooner = seen.first_known + seen.first_gap / 4.0
        raise NotKnownYetError(
            f"It had set by the reading at {by:g} h, so how fast is not known. "
            f"Read the next pour sooner, at about {sooner:.2g} h.",
            sooner,
        )
    if _straight(seen, found):
        raise NotKnownYetError(
            f"How it sets is not known yet: up to {last:g} h the readings lie on a straight line as well. "
            f"Read it again at about {2.0 * last:.3g} h.",
            2.0 * last,
        )


def _straight(seen: Seen, found: Found) -> bool:
    """Whether a straight line does as well (F test at 90 %); with nothing to spare, before 63 % is done."""
    spare = len(seen.hours) - found.values(seen)
    if not spare:
        return bool(found.rates[0] * seen.hours.max() < 1.0)
    return _line_rss(seen) <= _reach(max(found.rss, seen.nothing), spare, 0.9)


def _line_rss(seen: Seen) -> float:
    if seen.start is None:
        columns, wanted = np.column_stack([np.ones_like(seen.hours), seen.hours]), seen.hardness
    else:
        columns, wanted = seen.hours[:, None], seen.hardness - seen.start
    off = wanted - columns @ np.linalg.lstsq(columns, wanted, rcond=None)[0]
    return float(off @ off)


def _reach(rss: float, dof: int, level: float) -> float:
    """Return the residual sum of squares that is still no worse at this level."""
    return float(rss * (1.0 + fdtri(1, dof, level) / dof))


def _result(seen: Seen, found: Found) -> SettingFit:
    dof = len(seen.hours) - found.values(seen)
    fitted = NAMES[seen.start is not None : 2] + LATER_NAMES[: len(found.linear) - 2]
    fitted += ("rate_per_h", "later_rate_per_h")[: len(found.rates)]
    start, final = found.linear[:2].tolist()
    return SettingFit(
        start,
        final,
        float(found.rates[0]),
        ({} if seen.start is None else {"start": 0.0})
        | dict(zip(fitted, standard_errors(seen, found, dof), strict=True)),
        found.later,
        found.rss,
        dof,
        seen,
    )


def _profile(seen: Seen, name: str, best: SettingFit, limit: float) -> tuple[float, float]:
    """Return the least and the largest value of `name` with a fit no worse than `limit`."""
    low, high = rate_limits(seen, best.rate_per_h, limit)
    if name == "rate_per_h":
        return low, high
    least, most = np.exp(rate_range(seen, 2)).tolist()
    rates = np.geomspace(max(low, least), min(high, most), 120)
    reached = np.array([_around(seen, name, rate, limit) for rate in rates])
    lowest, highest = float(reached[:, 0].min()), float(reached[:, 1].max())
    open_end = (name == "final" and low == 0.0) or (name == "start" and high == np.inf)
    upwards = (best.final > best.start) == (name == "final")
    if open_end:
        return (lowest, np.inf) if upwards else (-np.inf, highest)
    return lowest, highest


def _around(seen: Seen, name: str, rate: float, limit: float) -> tuple[float, float]:
    """Return the limits of start or final at one rate: value ± √((limit − rss)·variance)."""
    found = solve(seen, np.array([rate]))
    columns = basis(seen.hours, found.rates, False)[:, seen.start is not None :]
    place = NAMES.index(name)
    variance = (np.linalg.pinv(columns) ** 2).sum(axis=1)[place - (seen.start is not None)]
    reach = np.sqrt(max(limit - found.rss, 0.0) * variance)
    return float(found.linear[place] - reach), float(found.linear[place] + reach)


def _read(hours: ArrayLike, hardness: ArrayLike, start: float | None) -> Seen:
    at, felt = _floats(hours, "hours"), _floats(hardness, "hardness")
    if len(at) != len(felt):
        raise LabError(
            f"{len(at)} hours and {len(felt)} hardness readings: there must be one of each a reading."
        )
    if len(at) > MOST_READINGS:
        raise LabError(f"{len(at)} readings of one pour are too many: {MOST_READINGS} at most.")
    if (at < 0.0).any():
        row = int(np.flatnonzero(at < 0.0)[0])
        raise LabError(
            f"Reading {row + 1} is at {at[row]:g} h, before the pour. Hours count from the pour, 0 or more."
        )
    if start is not None and not (isinstance(start, Real) and np.isfinite(float(start))):
        raise LabError(f"The start is {start}, which is no number. Leave it out where it is not known.")
    seen = Seen(at, felt, None if start is None else float(start))
    _check_enough(seen)
    return seen


def _check_enough(seen: Seen) -> None:
    needed = 3 if seen.start is None else 2
    times = np.unique(seen.hours if seen.start is None else seen.hours[seen.hours > 0.0])
    if len(times) < needed:
        raise LabError(
            f"A set curve needs readings at {needed} different hours or more; here are {len(times)}. "
            "Read the pour again later."
        )
    if seen.nothing == 0.0:
        raise LabError(
            f"All readings are {seen.hardness[0]:g}: nothing is seen of it setting. "
            "Read the next pour sooner, or with something finer."
        )


def _floats(cells: ArrayLike, what: str) -> Floats:
    try:
        found = np.atleast_1d(np.asarray(cells, float))
    except (TypeError, ValueError):
        raise LabError(f"The {what} are not all numbers. Write numbers such as 2.5.") from None
    if found.ndim > 1:
        raise LabError(f"The {what} are a table; one pour has one row of readings.")
    bad = np.flatnonzero(~np.isfinite(found))
    if len(bad):
        raise LabError(f"Reading {bad[0] + 1} has no {what}. Fill it in, or leave the reading out.")
    return found
