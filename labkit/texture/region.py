"""The compositions that a trial may pour: bounds on shares, and linear side rules."""

from collections.abc import Callable, Iterable, Mapping, Set
from dataclasses import dataclass, field
from functools import cached_property
from numbers import Real
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError
from labkit.texture import spread_points
from labkit.texture.conflict import Limit, empty_region, show_share
from labkit.texture.polytope import TOLERANCE, Flat, find_corners, touching, triangulate
from labkit.texture.rules import RegionError, Rule, parse_rule
from labkit.texture.shares import read_table

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_MOST_RULES = 16


@dataclass(frozen=True, init=False, repr=False)
class Region:
    """Compositions within a low and a high for each part, and within linear side rules.

    Parameters
    ----------
    bounds : mapping of part to (low, high)
        Mass fractions of the 2 to 6 varied parts; what is poured sums to 1. A part
        with low = high is held still.
    rules : sequence of str, or one rule
        Linear rules with <= or >=; names with spaces stand in backticks.

    Raises
    ------
    RegionError
        Bounds or rules that cannot be, or that leave nothing: says which contradict
        one another, and by how much each alone would have to move. Its `parts` and
        `rule` name them.

    Examples
    --------
    >>> bounds = {"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)}
    >>> region = Region(bounds, rules=["wax <= 0.5*butter"])
    >>> region.corners().round(3)
       butter  oil    wax
    0   0.267  0.6  0.133
    1   0.300  0.6  0.100
    2   0.533  0.2  0.267
    3   0.600  0.2  0.200
    4   0.600  0.3  0.100
    """

    parts: tuple[str, ...]
    lows: tuple[float, ...]
    highs: tuple[float, ...]
    rules: tuple[Rule, ...]
    _corners: Floats = field(compare=False)

    def __init__(self, bounds: Mapping[str, tuple[float, float]], rules: str | Iterable[str] = ()) -> None:
        parts = _check_parts(bounds)
        pairs = [_check_pair(part, bounds[part]) for part in parts]
        self._set(parts=parts, lows=tuple(low for low, _ in pairs), highs=tuple(high for _, high in pairs))
        self._set(rules=_read_rules(rules, parts))
        corners = find_corners(self._rows, self._most)
        if not len(corners):
            raise empty_region(self.limits)
        corners.setflags(write=False)
        self._set(_corners=corners)

    def _set(self, **values: object) -> None:
        for name, value in values.items():
            object.__setattr__(self, name, value)

    def __repr__(self) -> str:
        bounds = zip(self.parts, self.lows, self.highs, strict=True)
        shown = ", ".join(f"{part} {low:g}–{high:g}" for part, low, high in bounds)
        count = len(self.rules)
        return f"Region({shown}{f'; {count} rule' if count else ''}{'s' if count > 1 else ''})"

    # ------------------------------------------------------------ what limits it

    @cached_property
    def limits(self) -> tuple[Limit, ...]:
        """All lows, all highs and all rules, as ``row @ shares <= most``."""
        unit = np.eye(len(self.parts))
        bounds = list(zip(self.parts, unit, self.lows, self.highs, strict=True))
        lows = [Limit("low", part, -row, 0.0 - low) for part, row, low, _ in bounds]
        highs = [Limit("high", part, row, high) for part, row, _, high in bounds]
        rules = [Limit("rule", "", np.array(rule.coefficients), rule.limit, rule) for rule in self.rules]
        return (*lows, *highs, *rules)

    @cached_property
    def _sizes(self) -> Floats:
        return np.array([np.abs(limit.row).max() for limit in self.limits])

    @cached_property
    def _rows(self) -> Floats:
        return np.array([limit.row for limit in self.limits]) / self._sizes[:, None]

    @cached_property
    def _most(self) -> Floats:
        return np.array([limit.most for limit in self.limits]) / self._sizes

    @cached_property
    def touch(self) -> Bools:
        """Which corner lies on which limit, shape (corners, limits)."""
        return touching(self._corners, self._rows, self._most)

    @cached_property
    def flat(self) -> Flat:
        """Coordinates in the flat piece of space that the region fills."""
        return Flat.through(self._corners)

    @cached_property
    def simplices(self) -> Floats:
        """The region cut into simplices, in the coordinates of `flat`."""
        return triangulate(self.flat.inside(self._corners))

    # ------------------------------------------------------------ questions to it

    def corners(self) -> pd.DataFrame:
        """Return the corners, one row each, sorted by the first part, then the second, …"""
        return pd.DataFrame(self._corners.copy(), columns=list(self.parts))

    def centre(self) -> pd.Series:
        """Return the mean of the corners, by part."""
        return pd.Series(self._corners.mean(axis=0), index=list(self.parts))

    def contains(self, points: object) -> Bools:
        """Return which points lie inside, to 1e-9: an array of one value per point.

        Parameters
        ----------
        points : DataFrame with a column per part, array (points, parts), or a mapping
            Points that do not sum to 1, or hold NaN, do not lie inside.

        Raises
        ------
        LabError
            Where a part is missing or unknown, or the columns are not as many as the parts.
        """
        table, _ = read_table(points, self.parts)
        kept = (table @ self._rows.T <= self._most + TOLERANCE).all(axis=1)
        return kept & (np.abs(table.sum(axis=1) - 1) <= TOLERANCE)

    def gauge(self, points: Floats) -> Floats:
        """Return how far out points lie: 0 at the centre, 1 on the boundary, 2 twice as far out."""
        centre = self._corners.mean(axis=0)
        room = self._most - self._rows @ centre
        wide = room > 1e-7
        if not wide.any():
            return np.zeros(len(points))
        return np.maximum((points - centre) @ self._rows[wide].T / room[wide], 0).max(axis=1)

    def nearest(self, point: object) -> pd.Series:
        """Return the composition inside that is nearest to a point (Euclidean, in shares).

        Raises
        ------
        LabError
            Where it is not one point with a number for each part.
        """
        table, _ = read_table(point, self.parts)
        if len(table) != 1 or not np.isfinite(table).all():
            raise LabError(f"Ask for one point at a time, with a number for each of {', '.join(self.parts)}.")
        inside = self.contains(table)[0]
        found = table[0] if inside else spread_points.project(table[0], self.flat, self._rows, self._most)
        return pd.Series(found, index=list(self.parts))

    def grid(self, count: int = 500) -> Floats:
        """Return about so many points, evenly over the region, its corners and edges among them.

        The same for each call. Corners come first, then points along the edges, then the inside.

        Returns
        -------
        array of shape (about count, parts)
        """
        return spread_points.even_points(self, count)

    def remarks(self, product: float | None = None) -> list[str]:
        """Return, in plain sentences, which bounds and rules do nothing and what is held still.

        With ``product``, the fraction of the finished product that the parts are, numbers are % of
        that; without, shares of the parts together.
        """

        def shown(share: float) -> str:
            return show_share(share) if product is None else f"{100 * share * product:.1f} %"

        if len(self._corners) == 1:
            only = zip(self.parts, self._corners[0], strict=True)
            return [f"Only one composition is left: {', '.join(f'{part} {shown(x)}' for part, x in only)}."]
        return _held(self, shown) + _idle_bounds(self, shown) + _idle_rules(self)


def check_region(region: object) -> Region:
    """Return the region, or say that it is none.

    Raises
    ------
    LabError
    """
    if isinstance(region, Region):
        return region
    found = "nothing" if region is None else f"a {type(region).__name__}"
    raise LabError(
        f"The bounds are {found}, and a region is needed: "
        'Region({"oil": (0.5, 0.9), "wax": (0.1, 0.5)}), a low and a high for each part.'
    )


def _check_parts(bounds: object) -> tuple[str, ...]:
    if not isinstance(bounds, Mapping):
        raise RegionError('A region needs a low and a high for each part, such as {"oil": (0.5, 0.9), …}.')
    for part in bounds:
        if not isinstance(part, str) or not part.strip():
            shown = "An empty name" if part is None or not str(part).strip() else f"“{part}”"
            raise RegionError(f"{shown} is no name for a part. Give each part a name, such as “wax”.")
    if not 2 <= len(bounds) <= 6:
        count = f"A region varies 2 to 6 parts, and this one has {len(bounds)}."
        raise RegionError(f"{count} Put parts together." if len(bounds) > 6 else f"{count} Add one to vary.")
    return tuple(bounds)


def _check_pair(part: str, pair: object) -> tuple[float, float]:
    def refuse(what: str) -> RegionError:
        return RegionError(f"{part}: {what}", parts=(part,))

    values = _two(pair)
    if values is None:
        raise refuse(f"give a low and a high, such as (0.2, 0.6); found {pair!r}.")
    for value in values:
        if isinstance(value, bool) or not isinstance(value, Real) or not np.isfinite(float(value)):
            raise refuse(f"{value!r} is no share. Write a number from 0 to 1, such as 0.2.")
    low, high = (float(value) + 0.0 for value in values)
    if low < 0:
        raise refuse(f"its low is {low:g}, and no share can be below 0.")
    if (most := max(low, high)) > 1:
        raise refuse(
            f"{most:g} is more than 1, the whole. Shares run from 0 to 1: "
            f"if {most:g} % is meant, write {most / 100:g}."
        )
    if low > high:
        raise refuse(f"its low of {low:g} is above its high of {high:g}. Swap them.")
    return low, high


def _two(pair: object) -> list[Any] | None:
    """Return a low and a high in the order given; None where it is something else."""
    if isinstance(pair, str | Mapping | Set) or not isinstance(pair, Iterable):
        return None
    if isinstance(pair, np.ndarray) and pair.ndim != 1:
        return None
    values = list(pair)
    return values if len(values) == 2 else None


def _read_rules(rules: object, parts: tuple[str, ...]) -> tuple[Rule, ...]:
    if isinstance(rules, str):
        rules = [rules]
    if not isinstance(rules, Iterable) or isinstance(rules, Mapping):
        raise RegionError('Rules are a list of lines, such as ["wax <= 0.5*oil"].')
    found: list[Rule] = []
    for text in rules:
        if not isinstance(text, str):
            raise RegionError(f'{text!r} is no rule. Write a line such as "wax <= 0.5*oil".')
        found.extend(parse_rule(text, parts))
    if len(found) > _MOST_RULES:
        raise RegionError(f"A region takes at most {_MOST_RULES} rules; here are {len(found)}.")
    return tuple(found)


def _held(region: Region, shown: Callable[[float], str]) -> list[str]:
    corners = region.corners()
    still = corners.columns[corners.max() - corners.min() < 1e-7]
    return [f"{part} is held still at {shown(corners[part][0])}." for part in still]


def _idle_bounds(region: Region, shown: Callable[[float], str]) -> list[str]:
    corners = region.corners()
    said = []
    for part, low, high in zip(region.parts, region.lows, region.highs, strict=True):
        least, most = corners[part].min(), corners[part].max()
        if low and least > low + 1e-7:
            idle = f"its low of {shown(low)} does nothing"
            said.append(f"{part} can never go below {shown(least)} here, so {idle}.")
        if high < 1 and most < high - 1e-7:
            idle = f"its high of {shown(high)} does nothing"
            said.append(f"{part} can never go above {shown(most)} here, so {idle}.")
    return said


def _idle_rules(region: Region) -> list[str]:
    """A rule works where it cuts a face of its own; on all corners it holds something still."""
    said = []
    faces = [tuple(on) for on in region.touch.T]
    for index, limit in enumerate(region.limits):
        if limit.rule is None or region.touch[:, index].all():
            continue
        on = region._corners[region.touch[:, index]]
        if len(on) == 0 or len(Flat.through(on).axes) < len(region.flat.axes) - 1:
            said.append(f"The rule “{limit.rule.text}” does nothing: the others see to it already.")
        elif faces[index] in faces[:index]:
            same = region.limits[faces.index(faces[index])]
            said.append(f"The rule “{limit.rule.text}” says nothing that {same.name()} does not say already.")
    return said
