"""Stock melts: a few melted bases poured in ratios, instead of weighing every pour afresh."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from numbers import Real

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError, did_you_mean
from labkit.texture.asked import read_count
from labkit.texture.polytope import Flat
from labkit.texture.region import Region, check_region
from labkit.texture.rounding import whole_steps
from labkit.texture.shares import check_shares

Floats = NDArray[np.float64]

MOST_STOCKS = 4
REACHED = 0.0005
"""This near to what the stocks can give is reached [share of the base] (a judgement, no source)."""

_COVERED = 0.005  # share; nearer than this is the same composition
_EVEN = 250  # points by which cover is judged


@dataclass(frozen=True)
class Stock:
    """A melted base and what went into it.

    Parameters
    ----------
    name : str
    weighed_g : mapping of part to g
        What was weighed; parts that are not in it are not there.
    lines : mapping of part to int, optional
        In how many weighings a part of several ingredients went in; 1 by default.

    Raises
    ------
    LabError
        No name, grams or weighings that cannot be.

    Examples
    --------
    >>> soft = Stock("soft", {"oil": 75.0, "wax": 25.0})
    >>> soft.total_g, soft.shares(("butter", "oil", "wax")).tolist()
    (100.0, [0.0, 0.75, 0.25])
    """

    name: str
    weighed_g: Mapping[str, float]
    lines: Mapping[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            raise LabError("A stock needs a name, such as “soft”.")
        for part, grams in self.weighed_g.items():
            if isinstance(grams, bool) or not isinstance(grams, Real) or not 0 <= float(grams) < np.inf:
                raise LabError(
                    f"Stock “{self.name}”: {grams} g of {part} cannot be. Give grams of 0 or more."
                )
        for part, count in self.lines.items():
            read_count(count, f"weighings of {part}", 1)
        if not self.total_g > 0:
            raise LabError(f"Stock “{self.name}” has nothing in it. Write down what was weighed.")

    @property
    def total_g(self) -> float:
        """Mass of what was melted, in g."""
        return float(sum(self.weighed_g.values()))

    def weighings(self, part: str) -> int:
        """Return in how many weighings a part went in: 0 where it is not there."""
        return self.lines.get(part, 1) if self.weighed_g.get(part, 0.0) > 0 else 0

    def shares(self, parts: Sequence[str]) -> Floats:
        """Return the share of each part, shape (parts,)."""
        if unknown := [part for part in self.weighed_g if part not in parts]:
            near = did_you_mean(unknown[0], parts)
            raise LabError(f"Stock “{self.name}”: “{unknown[0]}” is none of the parts. {near}")
        return np.array([self.weighed_g.get(part, 0.0) for part in parts]) / self.total_g


def check_stocks(stocks: Sequence[Stock]) -> tuple[Stock, ...]:
    """Return the stocks, or raise `LabError` for too few, too many, or two of one name."""
    found = tuple(stocks)
    if not 2 <= len(found) <= MOST_STOCKS:
        raise LabError(f"Pour from 2 to {MOST_STOCKS} stocks; here are {len(found)}.")
    names = [stock.name for stock in found]
    if twice := [name for name in names if names.count(name) > 1]:
        raise LabError(f"Two stocks are called “{twice[0]}”: give each its own name.")
    return found


def parts_of(stocks: Sequence[Stock], parts: Sequence[str] | None) -> tuple[str, ...]:
    """Return the parts that were given, or those of the stocks in order of appearance."""
    return tuple(
        dict.fromkeys(part for stock in stocks for part in stock.weighed_g) if parts is None else parts
    )


def bases_of(stocks: Sequence[Stock], parts: Sequence[str]) -> Floats:
    """Return the shares of each stock, shape (stocks, parts)."""
    return np.array([stock.shares(parts) for stock in stocks])


# ---- what can be reached ---------------------------------------------------------


def stocks_region(stocks: Sequence[Stock], parts: Sequence[str] | None = None) -> Region:
    """Return the compositions that stocks can give: the convex hull of their shares, as a region.

    Two stocks give a line, three a triangle; its sides are linear rules over the parts.

    Parameters
    ----------
    stocks : sequence of 2 to 4 Stock
    parts : sequence of str, optional
        Of the trial, in its order; by default those of the stocks.

    Raises
    ------
    LabError
        Too few or too many stocks, a name twice, a part that is none, stocks that are all alike.

    Examples
    --------
    >>> stocks = [Stock("soft", {"oil": 90.0, "wax": 10.0}), Stock("hard", {"oil": 60.0, "wax": 40.0})]
    >>> stocks_region(stocks).corners()
       oil  wax
    0  0.6  0.4
    1  0.9  0.1
    """
    stocks = check_stocks(stocks)
    parts = parts_of(stocks, parts)
    bases = bases_of(stocks, parts)
    flat = Flat.through(bases)
    if not len(flat.axes):
        raise LabError("These stocks are all alike: in whatever ratio, they give one composition.")
    low, high = bases.min(axis=0).round(12) + 0.0, bases.max(axis=0).round(12)
    bounds = {part: (float(a), float(b)) for part, a, b in zip(parts, low, high, strict=True)}
    rows, most = _sides(flat, bases)
    return Region(bounds, [_line(row, limit, parts) for row, limit in zip(rows, most, strict=True)])


def _sides(flat: Flat, bases: Floats) -> tuple[Floats, Floats]:
    """Return the limits of the hull as ``rows @ shares <= most``: its facets, and what keeps it flat."""
    across = np.linalg.svd(np.vstack([flat.axes, np.ones(bases.shape[1])]))[2][len(flat.axes) + 1 :]
    still = np.vstack([across, -across])
    inner, reach = _facets(flat.inside(bases))
    outer = inner @ flat.axes
    rows = np.vstack([outer, still])
    return rows, np.concatenate([reach + outer @ flat.centre, still @ flat.centre])


def _facets(points: Floats) -> tuple[Floats, Floats]:
    """Return ``normals @ z <= reach`` of the hull of points in the space that they fill."""
    if points.shape[1] == 1:
        return np.array([[1.0], [-1.0]]), np.array([points.max(), -points.min()])
    from scipy.spatial import ConvexHull

    sides = ConvexHull(points).equations
    return sides[:, :-1], -sides[:, -1]


def _line(row: Floats, most: float, parts: Sequence[str]) -> str:
    """Return a limit as a rule about compositions that sum to 1."""
    row, most = row - row.mean(), most - row.mean()
    size = np.abs(row).max()
    terms = zip(row / size, parts, strict=True)
    left = " + ".join(f"{each:.12f}*`{part}`" for each, part in terms if abs(each) > 1e-12)
    return f"{left} <= {most / size:.12f}"


def _nearest(points: Floats, bases: Floats) -> tuple[Floats, Floats]:
    """Return the nearest points of a hull (Euclidean, in shares), and the ratios that give them.

    Each face of the hull is tried: the nearest point of its plane counts where no ratio is below 0.

    Returns
    -------
    nearest : ndarray, shape (points, parts)
    ratios : ndarray, shape (points, stocks)
    """
    stocks = len(bases)
    best, ratios = np.full(len(points), np.inf), np.zeros((len(points), stocks))
    for count in range(1, stocks + 1):
        for face in map(list, combinations(range(stocks), count)):
            edges = (bases[face[1:]] - bases[face[0]]).T
            along = (points - bases[face[0]]) @ np.linalg.pinv(edges).T
            shares = np.column_stack([1.0 - along.sum(axis=1), along])
            apart = np.linalg.norm(shares @ bases[face] - points, axis=1)
            nearer = (shares >= -1e-9).all(axis=1) & (apart < best - 1e-12)
            best[nearer] = apart[nearer]
            ratios[nearer] = 0.0
            ratios[np.ix_(nearer, face)] = np.maximum(shares[nearer], 0.0)
    return ratios @ bases, ratios


# ---- grams -----------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Mix:
    """One pour from stocks.

    Attributes
    ----------
    grams : dict of stock to g
        On the scale's step, adding up to the batch.
    shares : dict of part to share of the base
        What really results.
    off : float
        Largest difference of a part from what was asked for [share of the base].
    """

    grams: dict[str, float]
    shares: dict[str, float]
    off: float


def stock_grams(shares: Mapping[str, float], stocks: Sequence[Stock], batch_g: float, step_g: float) -> Mix:
    """Return how many g of each stock give a composition, and what then really results.

    Parameters
    ----------
    shares : mapping of part to share of the base
    stocks : sequence of 2 to 4 Stock
    batch_g, step_g : float
        Base in one pour, and step of the scale.

    Raises
    ------
    LabError
        A composition that the stocks cannot give (says the nearest that they can), a batch
        that is no whole number of steps, or more of a stock than was melted.

    Examples
    --------
    >>> stocks = [Stock("soft", {"oil": 90.0, "wax": 10.0}), Stock("hard", {"oil": 60.0, "wax": 40.0})]
    >>> stock_grams({"oil": 0.8, "wax": 0.2}, stocks, 20.0, 0.1)
    Mix(grams={'soft': 13.3, 'hard': 6.7}, shares={'oil': 0.7995, 'wax': 0.2005}, off=0.0005)
    """
    stocks, parts = check_stocks(stocks), tuple(shares)
    wanted, bases = check_shares(shares, parts)[0], bases_of(stocks, parts)
    nearest, ratios = _nearest(wanted, bases)
    if np.abs(nearest - wanted).max() > REACHED:
        raise LabError(_out_of_reach(wanted[0], nearest[0], parts, stocks))
    split = _whole(ratios[0], whole_steps(batch_g, step_g) or 0)
    grams = {stock.name: round(step_g * int(each), 6) for stock, each in zip(stocks, split, strict=True)}
    for stock in stocks:
        if grams[stock.name] > stock.total_g + 1e-9:
            raise LabError(
                f"This pour takes {grams[stock.name]:g} g of “{stock.name}”, and {stock.total_g:g} g were "
                "melted. Melt more, or make the pour smaller."
            )
    poured = split @ bases / split.sum()
    given = {part: round(float(share), 9) for part, share in zip(parts, poured, strict=True)}
    return Mix(grams, given, round(float(np.abs(poured - wanted[0]).max()), 9))


def _whole(ratios: Floats, steps: int) -> NDArray[np.int64]:
    """Return whole steps in about those ratios, the largest remainders rounded up."""
    split = np.floor(steps * ratios + 1e-9).astype(np.int64)
    order = np.argsort(split - steps * ratios, kind="stable")
    split[order[: steps - split.sum()]] += 1
    return split


def _out_of_reach(wanted: Floats, nearest: Floats, parts: Sequence[str], stocks: Sequence[Stock]) -> str:
    off = int(np.abs(nearest - wanted).argmax())
    side = "less" if nearest[off] < wanted[off] else "more"
    shown = ", ".join(f"{100 * each:.1f} % {part}" for part, each in zip(parts, nearest, strict=True))
    names = ", ".join(f"“{stock.name}”" for stock in stocks)
    return (
        f"{names} cannot give it in any ratio: they hold {side} {parts[off]} for that. The nearest that "
        f"they can give is {shown} of the base. Pour that, or weigh this one afresh."
    )


# ---- which stocks to melt --------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Cover:
    """Stocks to melt for a region, and how much of it they reach.

    Attributes
    ----------
    stocks : DataFrame
        One row a stock: its share of each part.
    covered : float
        Part of the region that they reach, 0 to 1, to 0.005 of share.
    farthest : float
        How far the worst composition of the region lies from what they reach: largest
        change of a part [share of the base].
    """

    stocks: pd.DataFrame
    covered: float
    farthest: float


def choose_stocks(region: Region, count: int = 3, beyond: bool = False) -> Cover:
    """Return which stocks reach a region best: those from which its compositions lie least far.

    Parameters
    ----------
    region : Region
    count : int
        How many stocks, 2 to 4.
    beyond : bool
        Whether a stock may lie outside the region; else they are some of its corners. With as
        many stocks as parts, each the lows and then all of one part, everything within the
        lows is reached (pseudocomponents, Cornell, Experiments with Mixtures; from memory).

    Raises
    ------
    LabError
        Another count; a region of one composition.

    Examples
    --------
    >>> region = Region({"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)})
    >>> found = choose_stocks(region, 2)
    >>> found.stocks.round(2).values.tolist(), round(found.farthest, 2)
    ([[0.2, 0.6, 0.2], [0.6, 0.2, 0.2]], 0.1)
    """
    region, count = check_region(region), read_count(count, "stocks", 2)
    if count > MOST_STOCKS:
        raise LabError(f"Melt 2 to {MOST_STOCKS} stocks; {count} were asked for.")
    corners, points = region.corners().to_numpy(), region.grid(_EVEN)
    if len(corners) < 2:
        raise LabError("Only one composition is allowed here: one melt is enough.")
    tried = [corners[list(each)] for each in combinations(range(len(corners)), min(count, len(corners)))]
    if beyond and count == len(region.parts):
        lows = corners.min(axis=0)
        tried.append(lows + (1.0 - lows.sum()) * np.eye(count))
    gaps = [np.abs(_nearest(points, bases)[0] - points).max(axis=1) for bases in tried]
    best = int(np.argmin([np.sqrt(np.mean(gap**2)) for gap in gaps]))
    table = pd.DataFrame(tried[best], columns=list(region.parts))
    return Cover(table, float(np.mean(gaps[best] <= _COVERED)), float(gaps[best].max()))
