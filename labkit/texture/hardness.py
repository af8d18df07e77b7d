"""Hardness against composition: one hidden surface, seen through ordered words at any hour."""

import re
from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError, did_you_mean
from labkit.texture.notes import check_ladder, find_rung, read_hours, read_pours, read_rungs
from labkit.texture.ordered import word_chances
from labkit.texture.priors import Priors, grid_of_priors
from labkit.texture.setting import SetCurve
from labkit.texture.shares import check_shares
from labkit.texture.surface import Build, Gaps, Surface, fit_surface
from labkit.texture.terms import Bend, Cast, Level, Sites, Slope, Term

Floats = NDArray[np.float64]

# Judgement without a source, tried on simulated makers.
_EDGE_SD = 0.25  # rungs
_LEVEL_SD = 0.33  # of the ladder's length in rungs
_WAX_LEAN = (14.0, 7.0)  # rungs per unit of share: mean and sd
_SET_GAIN = (2.0, 1.5)  # rungs from pouring to set: mean and sd
_WAX = re.compile(r"wax|wachs|\b(cera|cire)\b|candelilla|carnauba|ozokerite|ceresin", re.IGNORECASE)
JUDGED_AT_H = 48.0  # by then most sticks have set (common practice, no source)
_AT_ONCE = 1000  # points predicted together


class HardnessModel:
    """Hardness of a trial's sticks from the words that were noted.

    Hidden hardness in rungs (0 the softest word) = level + straight effect of the
    parts + a smooth bend + cast − D·exp(−rate·hours); a note is the rung in which
    hardness plus the scatter of one note falls. Sizes that are not known beforehand
    are averaged over; see `Priors`.

    Parameters
    ----------
    scale : sequence of str
        Words of the hardness ladder, softest first.
    hardens : sequence of str, optional
        Parts that are expected to harden, as a leaning that notes can overrule
        (common practice, no source). By default parts whose name says wax; () for none.
    priors : Priors, optional
        Sizes to average over.

    Raises
    ------
    LabError
        A ladder of fewer than two words, or with a word twice.

    Examples
    --------
    >>> shares = pd.DataFrame({"oil": [0.8, 0.7], "wax": [0.2, 0.3]})
    >>> model = HardnessModel(["soft", "right", "hard"]).fit(shares, ["soft", "hard"])
    >>> model.predict(shares).round(1).columns.tolist()
    ['soft', 'right', 'hard', 'hardness', 'sd']
    """

    def __init__(
        self, scale: Sequence[str], *, hardens: Sequence[str] | None = None, priors: Priors | None = None
    ) -> None:
        self.scale = check_ladder(scale)
        self.hardens = hardens if hardens is None else tuple(hardens)
        self.priors = grid_of_priors() if priors is None else priors
        self._parts: tuple[str, ...] = ()
        self._surface: Surface | None = None
        self._poured: Floats = np.empty((0, 0))

    def fit(
        self, shares: pd.DataFrame, notes: Iterable[str], hours: object = None, pour: object = None
    ) -> "HardnessModel":
        """Learn from notes and return the model itself.

        Parameters
        ----------
        shares : DataFrame, one row per reading
            A column per part, mass fractions summing to 1.
        notes : one word of the ladder per row
        hours : None, a number, or one value per row [h]
            Since the pour; None or NaN for a set stick.
        pour : one label per row, optional
            Rows that share it are one cast. Without it every row is a cast of its own.

        Raises
        ------
        LabError
            With the row: a word that is not on the ladder, hours below 0, shares that do not
            sum to 1, lengths that differ, no rows, one pour with two compositions.
        """
        table, parts = check_shares(shares)
        if not len(table):
            raise LabError("There is no note to learn from yet: log a pour and how hard it felt.")
        rung = read_rungs(notes, self.scale, len(table))
        at_hours = read_hours(hours, len(table))
        cast = read_pours(pour, table)
        first, site = _distinct(cast, at_hours)
        at = Sites(table[first], at_hours[first], cast[first])
        poured = table[np.unique(cast, return_index=True)[1]]
        build = self._builder(poured.mean(axis=0), parts)
        self._surface = fit_surface(build, self.priors, at, (site, rung), len(self.scale), _EDGE_SD)
        self._parts, self._poured = parts, poured
        return self

    def _builder(self, centre: Floats, parts: Sequence[str]) -> Build:
        """Return what makes the terms from sets of priors."""
        leans, steps = self._leans(parts), len(self.scale) - 1

        def build(priors: Priors) -> tuple[Sequence[Term], Sequence[Term]]:
            level = Level(0.5 * steps, max(1.0, _LEVEL_SD * steps))
            slope = Slope(centre, _WAX_LEAN[0] * leans, priors.slope_sd, _WAX_LEAN[1] * leans)
            bend = Bend(priors.bend_sd, priors.length)
            return [level, slope, bend, SetCurve(*_SET_GAIN, priors.rate_per_h)], [Cast(priors.cast_sd)]

        return build

    def _leans(self, parts: Sequence[str]) -> Floats:
        """Return 1 for each part that is expected to harden, else 0."""
        if self.hardens is None:
            return np.array([_WAX.search(part) is not None for part in parts], float)
        if unknown := [part for part in self.hardens if part not in parts]:
            raise LabError(f"“{unknown[0]}” is to harden but is no part. {did_you_mean(unknown[0], parts)}")
        return np.array([part in self.hardens for part in parts], float)

    @property
    def surface(self) -> Surface:
        """The fitted surface.

        Raises
        ------
        LabError
            Before `fit`.
        """
        if self._surface is None:
            raise LabError("The map knows no notes yet: call fit with shares and notes first.")
        return self._surface

    @property
    def parts(self) -> tuple[str, ...]:
        """Names of the parts, in the order of the fitted shares."""
        _ = self.surface
        return self._parts

    @property
    def poured(self) -> pd.DataFrame:
        """The composition of every cast, one row each, in order of appearance."""
        return pd.DataFrame(self._poured, columns=list(self.parts))

    @property
    def pours(self) -> int:
        """How many casts the notes are about."""
        return len(self.poured)

    def _sites(self, shares: object, hours: object) -> tuple[Sites, pd.Index]:
        table, _ = check_shares(shares, parts=self.parts)
        index = shares.index if isinstance(shares, pd.DataFrame) else pd.RangeIndex(len(table))
        return Sites(table, read_hours(hours, len(table)), np.full(len(table), -1)), index

    def predict(self, shares: object, hours: object = JUDGED_AT_H) -> pd.DataFrame:
        """Return what a note of a fresh pour would say.

        Parameters
        ----------
        shares : DataFrame or array, one row per composition
            The parts of the fit.
        hours : None, a number, or one value per row [h]
            Since the pour; None or NaN for a set stick.

        Returns
        -------
        DataFrame, the index of `shares`
            The chance of each word of the ladder, softest first; "hardness" [rungs, 0 the
            softest word] and "sd" [rungs] of the surface itself, without the scatter of
            casts and notes.

        Raises
        ------
        LabError
            Before `fit`; other parts than the fit's; shares or hours that cannot be.
        """
        at, index = self._sites(shares, hours)
        read = [self.surface.read(_piece(at, start)) for start in range(0, max(len(at), 1), _AT_ONCE)]
        tables = [np.column_stack([word_chances(each.cumulative), each.mean, each.sd]) for each in read]
        table = np.concatenate(tables)
        return pd.DataFrame(table, columns=[*self.scale, "hardness", "sd"], index=index)

    def known(self, shares: object) -> Floats:
        """Return how far notes have narrowed the surface at 48 hours, 0 (not at all) to 1, shape (rows,).

        1 − sd²/sd² of a hardness that might be any rung alike, (words² − 1)/12.

        Raises
        ------
        LabError
            As `predict`.
        """
        sd = self.predict(shares)["sd"].to_numpy()
        return np.clip(1.0 - sd**2 * 12.0 / (len(self.scale) ** 2 - 1), 0.0, 1.0)

    def set_curve(self, shares: object, hours: Sequence[float]) -> pd.DataFrame:
        """Return hardness of one composition against hours.

        Parameters
        ----------
        shares : DataFrame or array with one row
        hours : sequence of float [h]

        Returns
        -------
        DataFrame
            "hours", "hardness", "low", "high": a band that holds the surface with 90 % chance.

        Raises
        ------
        LabError
            As `predict`, and for more than one row of shares.
        """
        table, _ = check_shares(shares, parts=self.parts)
        if len(table) != 1:
            raise LabError(f"A set curve is about one composition; {len(table)} were given.")
        many = pd.DataFrame(np.repeat(table, len(hours), axis=0), columns=list(self.parts))
        found = self.predict(many, hours)
        reach = 1.6448536 * found["sd"]
        return pd.DataFrame(
            {
                "hours": np.asarray(hours, float),
                "hardness": found["hardness"],
                "low": found["hardness"] - reach,
                "high": found["hardness"] + reach,
            }
        )

    def gaps(self, shares: object, wanted: str) -> Gaps:
        """Return the joint distances of compositions, at 48 hours, from the middle of the wanted rung.

        Raises
        ------
        LabError
            As `predict`, and for a word that is not on the ladder.
        """
        at, _ = self._sites(shares, JUDGED_AT_H)
        return self.surface.gaps(at, find_rung(wanted, self.scale))


def _distinct(cast: NDArray[np.int_], hours: Floats) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """Return the first row of each distinct (cast, hours), and which of them every row is."""
    pairs = np.stack([cast, hours], axis=1)
    _, first, site = np.unique(pairs, axis=0, return_index=True, return_inverse=True)
    return first, site.reshape(-1)


def _piece(at: Sites, start: int) -> Sites:
    rows = slice(start, start + _AT_ONCE)
    return Sites(at.shares[rows], at.hours[rows], at.pour[rows])
