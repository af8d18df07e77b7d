"""Hardness against composition: one hidden surface, seen through ordered words at any hour."""

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError
from labkit.texture.cautions import cautions
from labkit.texture.effects import EDGE_SD, builder, widen
from labkit.texture.gather import Gathered, gather
from labkit.texture.notes import check_ladder, find_pours, find_rung, read_hours, read_loads
from labkit.texture.ordered import word_chances
from labkit.texture.penetration import Instrument
from labkit.texture.priors import Priors, grid_of_priors
from labkit.texture.setting import SET_BY_H
from labkit.texture.shares import check_shares
from labkit.texture.surface import Gaps, Surface, fit_surface
from labkit.texture.terms import Sites

Floats = NDArray[np.float64]

JUDGED_AT_H = SET_BY_H
_AT_ONCE = 1000  # points predicted together
_BAND = 0.9  # chance


class HardnessModel:
    """Hardness of a trial's sticks from the words that were noted.

    Hidden hardness in rungs (0 the softest word) = level + effect of the parts + straight
    effect of pigment + a smooth bend + cast + day − (D + the cast's own)·exp(−rate·hours)
    + s·ln(hours/48) after 48 hours. Parts act straight; those that harden may also do so
    steeply at little and hardly more at much, and both are averaged over. A note is the rung
    in which hardness plus tester plus the scatter of one note falls; a reading is straight in
    hardness on a log scale; a comparison is about a difference. Sizes that are not known
    beforehand are averaged over; see `Priors` and `labkit.texture.effects`.

    Parameters
    ----------
    scale : sequence of str
        Words of the hardness ladder, softest first.
    hardens : sequence of str, optional
        Parts that are expected to harden, as a leaning that notes can overrule
        (common practice, no source). By default parts whose name says wax, in any of
        several languages (see `labkit.materials.name_words.hardens`); () for none.
    priors : Priors, optional
        Sizes to average over.

    Raises
    ------
    LabError
        A ladder of fewer than two words, or with a word twice; priors of another kind.

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
        self.hardens = (
            (hardens,) if isinstance(hardens, str) else hardens if hardens is None else tuple(hardens)
        )
        self.priors = _check_priors(priors)
        self._gathered: Gathered | None = None
        self._surface: Surface | None = None

    def fit(
        self,
        shares: pd.DataFrame,
        notes: Iterable[str | None] | None,
        hours: object = None,
        pour: object = None,
        penetration: object = None,
        day: object = None,
        tester: object = None,
        comparisons: object = None,
        earlier: object = None,
        *,
        instrument: Instrument | None = None,
        load: object = None,
    ) -> "HardnessModel":
        """Learn from what was noted, read and compared, and return the model itself.

        Parameters
        ----------
        shares : DataFrame, one row per word or reading
            A column per part, mass fractions summing to 1.
        notes : one word of the ladder per row
            None where the row has a reading, or where its pour is in `comparisons`.
        hours : None, a number, or one value per row [h]
            Since the pour; None or NaN for a set stick, as it is at about 48 hours.
        pour : one label per row, optional
            Rows that share it are one cast. Without it every row is a cast of its own.
        penetration : one reading or None per row [0.1 mm; g for a rod], optional
            All with one instrument.
        day : one label per row, optional
            The day it was poured; None: a day of its own. Predictions are for a fresh day.
        tester : one label per row, optional
            Who felt it. Predictions are for the average of those named.
        comparisons : DataFrame or rows (pour, "harder"/"same"/"softer", than[, hours]), optional
            `than` is another pour, or any other label: a reference stick that is kept.
            Hours of both since their pour; without: both set.
        earlier : list of Earlier, optional
            Earlier trials; see `labkit.texture.earlier.Earlier`.
        instrument : Instrument, optional
            By default a plain depth in 0.1 mm.
        load : a number or one value per row [mass fraction of the finished product], optional
            Pigment; by default none.

        Raises
        ------
        LabError
            With the row: a word that is not on the ladder, hours below 0, shares that do not
            sum to 1, lengths that differ, no rows, one pour with two compositions, days or
            loads; a reading of 0 or beyond the range; a comparison with itself, in a ring, or
            about a pour without shares; an earlier trial with other words or parts. More
            than 5,000 notes or 400 pours.
        """
        given = (notes, hours, pour, penetration, day, tester, comparisons, earlier, instrument, load)
        gathered = gather(self.scale, shares, *given)
        words = len(self.scale)
        build, priors = builder(gathered, self.hardens, words), widen(self.priors, gathered)
        self._surface = fit_surface(build, priors, gathered.sites(), gathered.seen, words, EDGE_SD)
        self._gathered = gathered
        return self

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
    def gathered(self) -> Gathered:
        """What the fit learnt from, by number.

        Raises
        ------
        LabError
            Before `fit`.
        """
        _ = self.surface
        assert self._gathered is not None
        return self._gathered

    @property
    def parts(self) -> tuple[str, ...]:
        """Names of the parts, in the order of the fitted shares."""
        return self.gathered.parts

    @property
    def poured(self) -> pd.DataFrame:
        """The composition of every cast, one row each, in order of appearance; no earlier trial's."""
        return pd.DataFrame(self.gathered.own.shares, columns=list(self.parts))

    @property
    def pours(self) -> int:
        """How many casts the notes are about."""
        return len(self.poured)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to know before believing the chances, a sentence each."""
        return cautions(self.gathered)

    def _sites(
        self, shares: object, hours: object, pour: object = None, load: object = None
    ) -> tuple[Sites, pd.Index]:
        table, _ = check_shares(shares, parts=self.parts)
        index = shares.index if isinstance(shares, pd.DataFrame) else pd.RangeIndex(len(table))
        own = self.gathered.own
        cast = find_pours(pour, self.gathered.labels, table, own.shares)
        felt = cast >= 0
        if load is None:
            loads = np.where(felt, own.load[cast], self.gathered.load)
        else:
            loads = read_loads(load, len(table))
        at_hours = read_hours(hours, len(table))
        return Sites(table, at_hours, cast, loads, np.where(felt, own.day[cast], -1)), index

    def predict(
        self, shares: object, hours: object = JUDGED_AT_H, pour: object = None, load: object = None
    ) -> pd.DataFrame:
        """Return what one more note would say, of a fresh pour or of one that was felt.

        Parameters
        ----------
        shares : DataFrame or array, one row per composition
            The parts of the fit.
        hours : None, a number, or one value per row [h]
            Since the pour; None or NaN for a set stick, as it is at about 48 hours. Later
            hours say so with their own uncertainty: fats may soften or harden on.
        pour : None, a label, or one label per row
            A label of the fit: that very cast, whose own notes count. None or NaN: a pour
            still to be made, on a fresh day.
        load : a number or one value per row [mass fraction of the finished product], optional
            Pigment; by default the mean load of the fit, or the labelled cast's.

        Returns
        -------
        DataFrame, the index of `shares`
            The chance of each word of the ladder, softest first; "hardness" [rungs, 0 the
            softest word] and "sd" [rungs] of the surface itself, without the scatter of
            casts and notes; of a labelled row, of that cast, without the scatter of notes.

        Raises
        ------
        LabError
            Before `fit`; other parts than the fit's; shares or hours that cannot be; a label
            that the fit did not have, or with another composition.
        """
        at, index = self._sites(shares, hours, pour, load)
        read = [
            self.surface.read(at.take(slice(start, start + _AT_ONCE)))
            for start in range(0, max(len(at), 1), _AT_ONCE)
        ]
        tables = [np.column_stack([word_chances(each.cumulative), each.mean, each.sd]) for each in read]
        table = np.concatenate(tables)
        return pd.DataFrame(table, columns=[*self.scale, "hardness", "sd"], index=index)

    def known(self, shares: object, load: object = None) -> Floats:
        """Return how far notes have narrowed the surface at 48 hours, 0 (not at all) to 1, shape (rows,).

        1 − variance of the surface there with the notes/without them, under each set of
        priors, averaged by their weights: what share of the doubt that was there is gone.
        A ladder of many words has more doubt to begin with and is measured against that.

        Raises
        ------
        LabError
            As `predict`.
        """
        at, _ = self._sites(shares, JUDGED_AT_H, load=load)
        pieces = [
            self.surface.known(at.take(slice(start, start + _AT_ONCE)))
            for start in range(0, max(len(at), 1), _AT_ONCE)
        ]
        return np.clip(np.concatenate(pieces), 0.0, 1.0)

    def set_curve(
        self, shares: object, hours: object, pour: object = None, load: object = None
    ) -> pd.DataFrame:
        """Return hardness of one composition against hours.

        Parameters
        ----------
        shares : DataFrame or array with one row
        hours : sequence of float [h]
        pour : label, optional
            A cast of the fit; else a pour still to be made.
        load : float, optional
            As in `predict`.

        Returns
        -------
        DataFrame
            "hours", "hardness" [rungs]; "low", "high": a band that holds the surface (or the
            labelled cast) with 90 % chance; "note_low", "note_high": one that holds one note
            with 90 % chance, the scatter of notes (and of casts, unless labelled) in it.

        Raises
        ------
        LabError
            As `predict`, and for more than one row of shares.
        """
        table, _ = check_shares(shares, parts=self.parts)
        if len(table) != 1:
            raise LabError(f"A set curve is about one composition; {len(table)} were given.")
        times = np.atleast_1d(np.asarray(hours, dtype=object)).tolist()
        many = np.repeat(table, len(times), axis=0)
        at, _ = self._sites(many, times, [pour] * len(times), load)
        read, (note_low, note_high) = self.surface.read(at), self.surface.note_band(at, _BAND)
        reach = 1.6448536 * read.sd
        return pd.DataFrame(
            {
                "hours": at.hours,
                "hardness": read.mean,
                "low": read.mean - reach,
                "high": read.mean + reach,
                "note_low": note_low,
                "note_high": note_high,
            }
        )

    def gaps(self, shares: object, wanted: str, load: object = None) -> Gaps:
        """Return the joint distances of compositions, at 48 hours, from the middle of the wanted rung.

        Raises
        ------
        LabError
            As `predict`, and for a word that is not on the ladder.
        """
        at, _ = self._sites(shares, JUDGED_AT_H, load=load)
        return self.surface.gaps(at, find_rung(wanted, self.scale))

    def nearly_best(self, shares: object, wanted: str, part: float, load: object = None) -> Floats:
        """Return how sure it is that compositions are nearly as right, at 48 hours, as any could be, (rows,).

        The weight of the sets of priors under which the chance of the word is at least
        `part` of what that set's own scatter of casts and notes leaves possible. While notes
        do not tell the scatter, sets with little of it ask for far more than others.

        Raises
        ------
        LabError
            As `gaps`.
        """
        at, _ = self._sites(shares, JUDGED_AT_H, load=load)
        rung = find_rung(wanted, self.scale)
        chance = word_chances(self.surface.cumulative(at))[..., rung]
        return self.surface.weight @ (chance >= part * self.surface.possible(rung)[:, None])

    def possible(self, wanted: str) -> float:
        """Return the chance of the word at a fresh pour known to lie amid its rung, averaged over the priors.

        Raises
        ------
        LabError
            Before `fit`; a word that is not on the ladder.
        """
        return float(self.surface.weight @ self.surface.possible(find_rung(wanted, self.scale)))


def check_model(model: object) -> HardnessModel:
    """Return the model, or say that it is none.

    Raises
    ------
    LabError
    """
    if isinstance(model, HardnessModel):
        return model
    found = "nothing" if model is None else f"a {type(model).__name__}"
    raise LabError(f"A fitted HardnessModel is needed, and {found} was given: HardnessModel(words).fit(…).")


def _check_priors(priors: object) -> Priors:
    if priors is None:
        return grid_of_priors()
    if not isinstance(priors, Priors):
        raise LabError(f"priors are made by grid_of_priors(…); {priors!r} is something else.")
    return priors
