"""Comparisons of two sticks, “harder / same / softer than”, as a likelihood of the same hidden hardness."""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError, did_you_mean
from labkit.texture.notes import is_missing, read_hours
from labkit.texture.ordered import interval_slopes, log_interval
from labkit.texture.touch import Touch, put

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]

RELATIONS = ("softer", "same", "harder")
_COLUMNS = ("pour", "relation", "than", "hours")
_MOST = 5_000

# Judgement without a source.
SAME_WITHIN = 0.5  # rungs; less apart feels the same
NOISE = 1.0  # of a comparison, over the noise of one note: both sticks are in the hand


@dataclass(frozen=True)
class Compared:
    """Comparisons, read.

    Attributes
    ----------
    cast : int ndarray, shape (rows,)
        Which cast was compared.
    than : int ndarray, shape (rows,)
        With which cast; −1 − k with the reference stick k.
    relation : int ndarray, shape (rows,)
        Its place in `RELATIONS`: the cast is 0 softer, 1 the same, 2 harder.
    hours : ndarray, shape (rows,)
        Of both since their pour [h]; inf for set sticks.
    sticks : tuple
        Labels of the reference sticks.
    """

    cast: Ints
    than: Ints
    relation: Ints
    hours: Floats
    sticks: tuple[Hashable, ...]

    def __len__(self) -> int:
        return len(self.cast)


def read_comparisons(comparisons: object, labels: Mapping[Hashable, int]) -> Compared:
    """Return comparisons by number of cast and stick.

    Parameters
    ----------
    comparisons : None, DataFrame, or rows (pour, relation, than) or (pour, relation, than, hours)
        `relation` is "harder", "same" or "softer"; `than` a pour of the fit, or any other
        label: a kept reference stick. Hours since the pour, of both; None or NaN: both set.
    labels : mapping
        The number of each pour that has a row of shares.

    Raises
    ------
    LabError
        With the row: another relation, a pour without shares, one compared with itself. A
        ring, such as 1 harder than 2, 2 harder than 3 and 3 harder than 1, which it names.

    Examples
    --------
    >>> found = read_comparisons([("a", "harder", "b"), ("a", "same", "old stick")], {"a": 0, "b": 1})
    >>> found.than.tolist(), found.relation.tolist(), found.sticks
    ([1, -1], [2, 1], ('old stick',))
    """
    rows = _rows(comparisons)
    if rows and not labels:
        raise LabError("Comparisons are about pours by name: say with pour=… which pour each row is.")
    sticks: dict[Hashable, int] = {}
    found = [_read_row(at, row, labels, sticks) for at, row in enumerate(rows, 1)]
    cast, relation, than, hours = (np.array([row[each] for row in found]) for each in range(4))
    at_hours = hours.astype(float) if rows else np.empty(0)
    _refuse_rings(rows, at_hours)
    return Compared(cast.astype(int), than.astype(int), relation.astype(int), at_hours, tuple(sticks))


def _rows(comparisons: object) -> list[tuple]:
    """Return every comparison as (pour, relation, than, hours)."""
    if comparisons is None:
        return []
    if isinstance(comparisons, pd.DataFrame):
        comparisons = _by_name(comparisons).itertuples(index=False, name=None)
    if isinstance(comparisons, str | Mapping) or not isinstance(comparisons, Iterable):
        raise LabError("Comparisons are rows such as (2, “harder”, 1): pour, relation, than.")
    rows = list(comparisons)
    if len(rows) > _MOST:
        raise LabError(f"A map learns from at most {_MOST:,} comparisons, and these are {len(rows):,}.")
    return [_whole(at, row) for at, row in enumerate(rows, 1)]


def _by_name(frame: pd.DataFrame) -> pd.DataFrame:
    wanted = [name for name in _COLUMNS if name in frame.columns]
    return frame[wanted] if {"pour", "relation", "than"} <= set(wanted) else frame


def _whole(at: int, row: object) -> tuple:
    cells = tuple(row) if isinstance(row, Sequence) and not isinstance(row, str) else ()
    if len(cells) not in (3, 4):
        raise LabError(f"Comparison {at} is {row!r}: write pour, relation, than, such as (2, “harder”, 1).")
    return cells if len(cells) == 4 else (*cells, None)


def _read_row(
    at: int, row: tuple, labels: Mapping[Hashable, int], sticks: dict[Hashable, int]
) -> tuple[int, int, int, float]:
    pour, relation, than, hours = row
    for label in (pour, than):
        if is_missing(label) or not isinstance(label, Hashable):
            raise LabError(f"Comparison {at} names {label!r}, which is no pour and no stick.")
    if relation not in RELATIONS:
        raise LabError(
            f"Comparison {at}: “{relation}” is none of harder, same, softer. "
            f"{did_you_mean(str(relation), RELATIONS)}"
        )
    if pour == than:
        raise LabError(f"Comparison {at} compares “{pour}” with itself. Name the other pour, or the stick.")
    if pour not in labels:
        raise LabError(
            f"Comparison {at} is about the pour “{pour}”, and its shares are not known: add a row with "
            f"what it was poured from, the word may stay empty. {_near(pour, labels)}"
        )
    other = labels[than] if than in labels else -1 - sticks.setdefault(than, len(sticks))
    return labels[pour], RELATIONS.index(relation), other, float(read_hours([hours], 1)[0])


def _near(label: object, labels: Iterable[Hashable]) -> str:
    return did_you_mean(str(label), [str(each) for each in labels])


def _refuse_rings(rows: Sequence[tuple], hours: Floats) -> None:
    """Refuse a chain of “harder than” that comes back to where it began, at one time since the pour."""
    for time in np.unique(hours):
        harder: dict[Hashable, list[Hashable]] = {}
        for (pour, relation, than, _), when in zip(rows, hours, strict=True):
            if when == time and relation != "same":
                above, below = (pour, than) if relation == "harder" else (than, pour)
                harder.setdefault(above, []).append(below)
        if ring := find_ring(harder):
            chain = ", ".join(f"“{a}” harder than “{b}”" for a, b in pairwise(ring))
            raise LabError(
                f"These comparisons go round in a ring: {chain}. They cannot all be so: "
                "which of them do you take back? Feel those sticks again if you are not sure."
            )


def find_ring(harder: Mapping[Hashable, Sequence[Hashable]]) -> list[Hashable]:
    """Return a ring of labels, the first again at its end, or [] where there is none.

    Examples
    --------
    >>> find_ring({1: [2], 2: [3], 3: [1]})
    [1, 2, 3, 1]
    """
    done: set[Hashable] = set()
    for start in harder:
        path, waiting = list[Hashable](), [(start, iter(harder.get(start, ())))]
        path.append(start)
        while waiting:
            label, others = waiting[-1]
            below = next((each for each in others if each not in done), None)
            if below is None:
                done.add(label)
                waiting.pop()
                path.pop()
            elif below in path:
                return [*path[path.index(below) :], below]
            else:
                path.append(below)
                waiting.append((below, iter(harder.get(below, ()))))
    return []


@dataclass(frozen=True)
class ComparisonRows:
    """Comparisons as a likelihood: softer, same or harder by where difference + noise falls.

    “Same” is a difference within ±`SAME_WITHIN` rungs, so this is an ordered probit of
    the difference with fixed thresholds.

    Attributes
    ----------
    apart : Touch
        Hardness of the one less that of the other.
    relation : int ndarray, shape (rows,)
        0 softer, 1 the same, 2 harder.
    size : int
        How many unknowns there are.
    sd : ndarray, shape (priors,)
        Noise of a comparison [rungs].
    """

    apart: Touch
    relation: Ints
    size: int
    sd: Floats

    def _ends(self, unknowns: Floats) -> tuple[Floats, Floats]:
        ends = np.array([-np.inf, -SAME_WITHIN, SAME_WITHIN, np.inf])
        apart, sd = self.apart.felt(unknowns), self.sd[:, None]
        return (ends[self.relation] - apart) / sd, (ends[self.relation + 1] - apart) / sd

    def value(self, unknowns: Floats) -> Floats:
        """Return the log-likelihood under each set of priors, shape (priors,)."""
        return log_interval(*self._ends(unknowns)).sum(axis=-1)

    def slopes(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """Return the gradient (priors, unknowns) and minus the Hessian (priors, unknowns, unknowns)."""
        _, first, (low_low, low_high, high_high) = interval_slopes(*self._ends(unknowns))
        sd = self.sd[:, None]
        by_two = (low_low + 2.0 * low_high + high_high) / sd**2
        gradient, hessian = put(self.size, [self.apart], -first.sum(axis=0)[None] / sd, by_two[None, None])
        return gradient, -hessian
