"""All that is given to a fit, checked, and numbered by cast."""

from collections.abc import Hashable, Iterable, Sequence, Sized
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.errors import LabError
from labkit.texture.comparisons import read_comparisons
from labkit.texture.earlier import Recalled, read_earlier
from labkit.texture.notes import (
    listed,
    one_per_pour,
    read_hours,
    read_labels,
    read_loads,
    read_pours,
    read_rungs,
)
from labkit.texture.penetration import Instrument
from labkit.texture.readings import Readings, read_penetration
from labkit.texture.seen import Notes, Seen
from labkit.texture.shares import check_shares
from labkit.texture.terms import Sites

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]

_MOST_NOTES = 5_000
_MOST_POURS = 400  # the work grows with their cube


@dataclass(frozen=True)
class Gathered:
    """What a fit learns from.

    Attributes
    ----------
    parts : tuple of str
    own : Sites
        One's own casts, set; with their load and day.
    labels : mapping
        The number of each of them that has a label.
    seen : Seen
    recalled : Recalled
        The earlier trials.
    days, testers : int
        How many are named.
    """

    parts: tuple[str, ...]
    own: Sites
    labels: dict[Hashable, int]
    seen: Seen
    recalled: Recalled
    days: int
    testers: int

    @property
    def load(self) -> float:
        """Mean load of one's own casts."""
        return float(self.own.load.mean())

    @property
    def centre(self) -> Floats:
        """Mean shares of one's own casts, shape (parts,)."""
        return self.own.shares.mean(axis=0)

    def sites(self) -> Sites:
        """Return all casts, one's own first."""
        own, past = self.own, self.recalled
        more, total = len(past.poured), len(own) + len(past.poured)
        return Sites(
            np.concatenate([own.shares, past.poured]),
            np.full(total, np.inf),
            np.arange(total),
            np.append(own.load, np.full(more, self.load)),
            np.append(own.day, own.day.max() + 1 + np.arange(more)),
            np.append(own.trial, past.trial),
        )


def gather(
    scale: Sequence[str],
    shares: object,
    notes: Iterable[str | None] | None,
    hours: object,
    pour: object,
    penetration: object,
    day: object,
    tester: object,
    comparisons: object,
    earlier: object,
    instrument: Instrument | None,
    load: object,
) -> Gathered:
    """Return what a fit learns from; see `HardnessModel.fit`.

    Raises
    ------
    LabError
    """
    _refuse_many(len(shares) if isinstance(shares, Sized) else 0, "notes", _MOST_NOTES)
    table, parts = check_shares(shares)
    rows = len(table)
    if not rows:
        raise LabError("There is no note to learn from yet: log a pour and how hard it felt.")
    read = read_penetration(penetration, instrument, rows)
    cast, labels = read_pours(pour, table)
    compared = read_comparisons(comparisons, labels)
    rung = _read_words(notes, scale, read, np.isin(cast, [*compared.cast, *compared.than]))
    at_hours = read_hours(hours, rows)
    own, days = _own_casts(table, cast, labels, load, day)
    past = read_earlier(earlier, scale, parts)
    _refuse_many(len(own) + len(past.poured), "pours", _MOST_POURS)
    _refuse_many(rows + len(past.rung), "notes", _MOST_NOTES)
    hand, testers = _read_testers(tester, rows)
    told = _notes(cast, rung, at_hours, hand, past, len(own))
    casts = len(own) + len(past.poured)
    seen = Seen(told, _readings(cast, read, at_hours), compared, casts, testers if testers > 1 else 0)
    return Gathered(parts, own, labels, seen, past, days, testers)


def _read_words(
    notes: Iterable[str | None] | None, scale: Sequence[str], read: Floats, compared: NDArray[np.bool_]
) -> Ints:
    """Return the rung of every row; −1 where a reading or a comparison stands for the word."""
    optional = ~np.isnan(read) | compared
    words = listed([None] * len(read) if notes is None and optional.any() else notes, "note", len(read))
    return read_rungs(words, scale, len(read), optional)


def _own_casts(
    table: Floats, cast: Ints, labels: dict[Hashable, int], load: object, day: object
) -> tuple[Sites, int]:
    """Return one's own casts, and on how many named days they were poured."""
    shares = table[np.unique(cast, return_index=True)[1]]
    loads = one_per_pour(read_loads(load, len(table)), cast, "pigment load", labels)
    numbers, names = read_labels(day, "day", len(table))
    days = one_per_pour(numbers, cast, "day", labels, blank=-1)
    alone = np.flatnonzero(days < 0)  # each on a day of its own
    days[alone] = len(names) + np.arange(len(alone))
    count = len(shares)
    return Sites(shares, np.full(count, np.inf), np.arange(count), loads, days), len(names)


def _read_testers(tester: object, rows: int) -> tuple[Ints, int]:
    """Return who felt each row, and how many they are; rows without a name are one more."""
    hand, names = read_labels(tester, "tester", rows)
    if names and (hand < 0).any():
        return np.where(hand < 0, len(names), hand), len(names) + 1
    return hand, len(names)


def _notes(cast: Ints, rung: Ints, hours: Floats, hand: Ints, past: Recalled, own: int) -> Notes:
    said = rung >= 0
    return Notes(
        np.append(cast[said], past.cast + own),
        np.append(rung[said], past.rung),
        np.append(hours[said], past.hours),
        np.append(hand[said], np.full(len(past.rung), -1)),
        np.append(np.ones(said.sum()), past.weight),
    )


def _readings(cast: Ints, read: Floats, hours: Floats) -> Readings:
    there = np.flatnonzero(~np.isnan(read))
    centre = read[there].mean() if len(there) else 0.0
    return Readings(cast[there], read[there] - centre, hours[there])


def _refuse_many(count: int, what: str, most: int) -> None:
    if count > most:
        raise LabError(
            f"A map learns from at most {most:,} {what}, and these are {count:,}: leave out the oldest, "
            "or look at a part of the trial."
        )
