"""Hardness against composition: one hidden surface, seen through ordered words at any hour."""

from collections.abc import Hashable, Iterable, Sequence, Sized

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError, did_you_mean
from labkit.texture.names import hardens
from labkit.texture.notes import check_ladder, find_pours, find_rung, read_hours, read_pours, read_rungs
from labkit.texture.ordered import word_chances
from labkit.texture.priors import Priors, grid_of_priors
from labkit.texture.setting import SetCurve
from labkit.texture.shares import check_shares
from labkit.texture.surface import Build, Gaps, Notes, Surface, Terms, fit_surface
from labkit.texture.terms import Bend, Cast, Level, Sites, Slope

Floats = NDArray[np.float64]

# Judgement without a source, tried on simulated makers.
_EDGE_SD = 0.25  # rungs
_LEVEL_SD = 0.33  # of the ladder's length in rungs
_WAX_LEAN = (14.0, 7.0)  # rungs per unit of share: mean and sd
_SET_GAIN = (2.0, 1.5)  # rungs from pouring to set: mean and sd
JUDGED_AT_H = 48.0  # by then most sticks have set (common practice, no source)
_AT_ONCE = 1000  # points predicted together
_BAND = 0.9  # chance
_MOST_NOTES = 5_000
_MOST_POURS = 400  # the work grows with their cube


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
        (common practice, no source). By default parts whose name says wax, in any of
        several languages (see `labkit.texture.names.hardens`); () for none.
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
        self._parts: tuple[str, ...] = ()
        self._surface: Surface | None = None
        self._poured: Floats = np.empty((0, 0))
        self._labels: dict[Hashable, int] = {}

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
            sum to 1, lengths that differ, no rows, one pour with two compositions. More than
            5,000 notes or 400 pours.
        """
        _refuse_many(len(shares) if isinstance(shares, Sized) else 0, "notes", _MOST_NOTES)
        table, parts = check_shares(shares)
        if not len(table):
            raise LabError("There is no note to learn from yet: log a pour and how hard it felt.")
        rung = read_rungs(notes, self.scale, len(table))
        at_hours = read_hours(hours, len(table))
        cast, labels = read_pours(pour, table)
        poured = table[np.unique(cast, return_index=True)[1]]
        _refuse_many(len(poured), "pours", _MOST_POURS)
        at = Sites(poured, np.full(len(poured), np.inf), np.arange(len(poured)))
        build = self._builder(poured.mean(axis=0), parts)
        notes_read = Notes(cast, rung, at_hours)
        self._surface = fit_surface(build, self.priors, at, notes_read, len(self.scale), _EDGE_SD)
        self._parts, self._poured, self._labels = parts, poured, labels
        return self

    def _builder(self, centre: Floats, parts: Sequence[str]) -> Build:
        """Return what makes the terms from sets of priors."""
        leans, steps = self._leans(parts), len(self.scale) - 1

        def build(priors: Priors) -> Terms:
            level = Level(0.5 * steps, max(1.0, _LEVEL_SD * steps))
            slope = Slope(centre, _WAX_LEAN[0] * leans, priors.slope_sd, _WAX_LEAN[1] * leans)
            bend = Bend(priors.bend_sd, priors.length)
            return Terms(
                [level, slope, bend], SetCurve(*_SET_GAIN, priors.rate_per_h), [Cast(priors.cast_sd)]
            )

        return build

    def _leans(self, parts: Sequence[str]) -> Floats:
        """Return 1 for each part that is expected to harden, else 0."""
        if self.hardens is None:
            return np.array([hardens(part) for part in parts], float)
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

    def _sites(self, shares: object, hours: object, pour: object = None) -> tuple[Sites, pd.Index]:
        table, _ = check_shares(shares, parts=self.parts)
        index = shares.index if isinstance(shares, pd.DataFrame) else pd.RangeIndex(len(table))
        cast = find_pours(pour, self._labels, table, self._poured)
        return Sites(table, read_hours(hours, len(table)), cast), index

    def predict(self, shares: object, hours: object = JUDGED_AT_H, pour: object = None) -> pd.DataFrame:
        """Return what one more note would say, of a fresh pour or of one that was felt.

        Parameters
        ----------
        shares : DataFrame or array, one row per composition
            The parts of the fit.
        hours : None, a number, or one value per row [h]
            Since the pour; None or NaN for a set stick.
        pour : None, a label, or one label per row
            A label of the fit: that very cast, whose own notes count. None or NaN: a pour
            still to be made.

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
        at, index = self._sites(shares, hours, pour)
        read = [self.surface.read(_piece(at, start)) for start in range(0, max(len(at), 1), _AT_ONCE)]
        tables = [np.column_stack([word_chances(each.cumulative), each.mean, each.sd]) for each in read]
        table = np.concatenate(tables)
        return pd.DataFrame(table, columns=[*self.scale, "hardness", "sd"], index=index)

    def known(self, shares: object) -> Floats:
        """Return how far notes have narrowed the surface at 48 hours, 0 (not at all) to 1, shape (rows,).

        1 − variance of the surface there with the notes/without them, under each set of
        priors, averaged by their weights: what share of the doubt that was there is gone.
        A ladder of many words has more doubt to begin with and is measured against that.

        Raises
        ------
        LabError
            As `predict`.
        """
        at, _ = self._sites(shares, JUDGED_AT_H)
        pieces = [self.surface.known(_piece(at, start)) for start in range(0, max(len(at), 1), _AT_ONCE)]
        return np.clip(np.concatenate(pieces), 0.0, 1.0)

    def set_curve(self, shares: object, hours: object, pour: object = None) -> pd.DataFrame:
        """Return hardness of one composition against hours.

        Parameters
        ----------
        shares : DataFrame or array with one row
        hours : sequence of float [h]
        pour : label, optional
            A cast of the fit; else a pour still to be made.

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
        at, _ = self._sites(many, times, [pour] * len(times))
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

    def gaps(self, shares: object, wanted: str) -> Gaps:
        """Return the joint distances of compositions, at 48 hours, from the middle of the wanted rung.

        Raises
        ------
        LabError
            As `predict`, and for a word that is not on the ladder.
        """
        at, _ = self._sites(shares, JUDGED_AT_H)
        return self.surface.gaps(at, find_rung(wanted, self.scale))

    def nearly_best(self, shares: object, wanted: str, part: float) -> Floats:
        """Return how sure it is that compositions are nearly as right, at 48 hours, as any could be, (rows,).

        The weight of the sets of priors under which the chance of the word is at least
        `part` of what that set's own scatter of casts and notes leaves possible. While notes
        do not tell the scatter, sets with little of it ask for far more than others.

        Raises
        ------
        LabError
            As `gaps`.
        """
        at, _ = self._sites(shares, JUDGED_AT_H)
        rung = find_rung(wanted, self.scale)
        chance = word_chances(self.surface.cumulative(at))[..., rung]
        return self.surface.weight @ (chance >= part * self.surface.possible(rung)[:, None])


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


def _refuse_many(count: int, what: str, most: int) -> None:
    if count > most:
        raise LabError(
            f"A map learns from at most {most:,} {what}, and these are {count:,}: leave out the oldest, "
            "or look at a part of the trial."
        )


def _piece(at: Sites, start: int) -> Sites:
    rows = slice(start, start + _AT_ONCE)
    return Sites(at.shares[rows], at.hours[rows], at.pour[rows])
