"""What the scale's error does to pours from stock melts: some of it is shared, some each pour's own."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError
from labkit.texture.asked import read_grams
from labkit.texture.hardness import HardnessModel, check_model
from labkit.texture.shares import check_shares
from labkit.texture.stock import Stock, bases_of, check_stocks, parts_of

Floats = NDArray[np.float64]

_WAY = 0.005  # of the way to a part


@dataclass(frozen=True, eq=False)
class CompositionError:
    """How far compositions may be off, and together with which others.

    Attributes
    ----------
    parts : tuple of str
    shared, own : ndarray, shape (pours, parts, pours, parts)
        Covariance from weighing the stocks, which all their pours share, and from weighing
        each pour.
    """

    parts: tuple[str, ...]
    shared: Floats
    own: Floats

    @cached_property
    def covariance(self) -> Floats:
        """Covariance over (pours × parts), the parts of the first pour first, shape (pours·parts,)²."""
        size = self.shared.shape[0] * self.shared.shape[1]
        return (self.shared + self.own).reshape(size, size)

    def sd(self) -> pd.DataFrame:
        """Return the standard uncertainty of each share, a row a pour."""
        pours = len(self.shared)
        sd = np.sqrt(np.diagonal(self.covariance)).reshape(pours, len(self.parts))
        return pd.DataFrame(sd, columns=list(self.parts))


def weighing_sd(step_g: float, repeatability_g: float | None = None) -> float:
    """Return the standard uncertainty of one reading of a scale [g].

    step/√12, uniform within a step (JCGM 100:2008, 4.3.7 and F.2.2.1), and
    the scale's repeatability beside it where that is known.

    Examples
    --------
    >>> round(weighing_sd(0.1), 4)
    0.0289
    """
    own = 0.0 if repeatability_g is None else read_grams(repeatability_g, "scale's repeatability")
    return float(np.hypot(read_grams(step_g, "scale's step") / np.sqrt(12.0), own))


def composition_error(
    grams: object,
    stocks: Sequence[Stock],
    step_g: float,
    repeatability_g: float | None = None,
    parts: Sequence[str] | None = None,
) -> CompositionError:
    """Return the covariance of the compositions of pours from stocks, by first-order propagation.

    A pour of w_s g of stocks with shares S_s has x = Σ w_s S_s/W; a stock of g_j g of each
    part has S_j = g_j/G. So ∂x/∂w_s = (S_s − x)/W, own to the pour, and
    ∂x/∂g_j = (w_s/W)·(e_j − S_s)/G, shared by all pours from it (JCGM 100:2008, 5.1.2; covariance from
    inputs in common F.1.2.3; from memory). One reading of the scale counts for each weighing: g_j
    that was put together from n_j ingredients has n_j times the variance.

    Parameters
    ----------
    grams : DataFrame or array, shape (pours, stocks) [g]
        What was poured of each stock; a frame's columns are the stocks' names.
    stocks : sequence of 2 to 4 Stock
    step_g : float
    repeatability_g : float, optional
        Standard deviation of one reading of the scale, beside its step.
    parts : sequence of str, optional
        By default those of the stocks.

    Raises
    ------
    LabError
        Grams that cannot be, stocks that are missing.
    """
    stocks = check_stocks(stocks)
    parts = parts_of(stocks, parts)
    poured, bases = _read_grams(grams, stocks), bases_of(stocks, parts)
    ratios = poured / poured.sum(axis=1, keepdims=True)
    variance = weighing_sd(step_g, repeatability_g) ** 2
    return CompositionError(
        parts,
        variance * _shared(ratios, stocks, bases, parts),
        variance * _own(ratios, poured, bases),
    )


def _read_grams(grams: object, stocks: Sequence[Stock]) -> Floats:
    names = [stock.name for stock in stocks]
    if isinstance(grams, pd.DataFrame):
        if missing := [name for name in names if name not in grams.columns]:
            raise LabError(f"How many g of “{missing[0]}” were poured is missing: one column a stock.")
        grams = grams[names]
    poured = np.atleast_2d(np.asarray(grams, float))
    if poured.shape[1] != len(names):
        raise LabError(
            f"Each pour has a number of g for each of {', '.join(names)}: here are {poured.shape[1]}."
        )
    if not (np.isfinite(poured).all() and (poured >= 0).all() and (poured.sum(axis=1) > 0).all()):
        raise LabError("Each pour takes 0 g or more of every stock, and something of one.")
    return poured


def _shared(ratios: Floats, stocks: Sequence[Stock], bases: Floats, parts: Sequence[str]) -> Floats:
    size = (len(ratios), len(parts))
    total = np.zeros((*size, *size))
    for at, stock in enumerate(stocks):
        counts = np.array([stock.weighings(part) for part in parts])
        moves = (np.eye(len(parts)) - bases[at]) / stock.total_g
        total += np.einsum("p,q,ij->piqj", ratios[:, at], ratios[:, at], moves.T * counts @ moves)
    return total


def _own(ratios: Floats, poured: Floats, bases: Floats) -> Floats:
    pours, parts = len(poured), bases.shape[1]
    total = np.zeros((pours, parts, pours, parts))
    moves = (bases[None] - (ratios @ bases)[:, None]) / poured.sum(axis=1)[:, None, None]
    moves = moves * (poured > 0)[..., None]
    total[np.arange(pours), :, np.arange(pours), :] = np.einsum("psi,psj->pij", moves, moves)
    return total


# ---- in rungs --------------------------------------------------------------------


def slope_at(model: HardnessModel, shares: Mapping[str, float]) -> dict[str, float]:
    """Return the slope of hardness at a composition [rungs per unit of share], by part.

    Of a part: what moving the whole composition towards that part alone brings, per unit
    of the way. A change of shares that sums to 0 then costs Σ slope·change.

    Raises
    ------
    LabError
        As `HardnessModel.predict`.
    """
    model = check_model(model)
    here = check_shares(shares, model.parts)[0]
    there = np.vstack([here, here + _WAY * (np.eye(len(model.parts)) - here)])
    hardness = model.predict(pd.DataFrame(there, columns=list(model.parts)))["hardness"].to_numpy()
    return dict(zip(model.parts, ((hardness[1:] - hardness[0]) / _WAY).tolist(), strict=True))


@dataclass(frozen=True)
class RungError:
    """What errors of composition do to hardness [rungs, standard uncertainty].

    Attributes
    ----------
    together : float
        Of the mean of all pours, from the stocks: the whole map moves.
    apart : float
        Of the difference of two pours, from the stocks, root mean square over pairs.
    own : float
        Of the difference of two pours, from weighing each.
    """

    together: float
    apart: float
    own: float


def rung_error(error: CompositionError, slope: Mapping[str, float]) -> RungError:
    """Return what the weighing does to hardness, given its slope.

    Parameters
    ----------
    error : CompositionError
    slope : mapping of part to rungs per unit of share
        As `slope_at`; only differences between parts matter.
    """
    rungs = np.array([slope[part] for part in error.parts])
    shared, own = (np.einsum("i,piqj,j->pq", rungs, each, rungs) for each in (error.shared, error.own))
    return RungError(float(np.sqrt(max(shared.mean(), 0.0))), _between(shared), _between(own))


def _between(covariance: Floats) -> float:
    """Return the root mean square, over pairs of pours, of the sd of their difference."""
    if len(covariance) < 2:
        return 0.0
    variance = np.diagonal(covariance)
    pairs = variance[:, None] + variance - 2.0 * covariance
    return float(np.sqrt(max(pairs[np.triu_indices(len(covariance), 1)].mean(), 0.0)))


def error_words(error: RungError) -> str:
    """Return in a sentence what weighing stocks, and pours from them, does to a map.

    Examples
    --------
    >>> error_words(RungError(0.05, 0.004, 0.03))
    'Weighing the stocks moves the whole map by about 0.05 words and does not blur the differences \
between pours (0.004 words); weighing each pour blurs them by about 0.03 words.'
    """
    blurs = error.apart > 0.5 * error.own and error.apart > 0.01
    shared = (
        f"and blurs the differences between pours by about {error.apart:.2g} words"
        if blurs
        else f"and does not blur the differences between pours ({error.apart:.1g} words)"
    )
    return (
        f"Weighing the stocks moves the whole map by about {error.together:.2g} words {shared}; "
        f"weighing each pour blurs them by about {error.own:.2g} words."
    )
