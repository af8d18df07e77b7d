"""Earlier trials with the same parts as knowledge, weighed by how alike they are."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from numbers import Real

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError
from labkit.texture.notes import listed, read_hours, read_labels, read_pours, read_rungs
from labkit.texture.shares import check_shares

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]

# Judgement without a source.
_LEVEL_SD = (0.3, 1.2)  # rungs: of identical trials, and what is added as they grow unlike
_SLOPE_SD = (1.0, 8.0)  # rungs per unit of share: the same
_ONE_OTHER = 0.2  # how alike trials are that share nothing in one part
_HELD = 3.0  # by how much a difference in what is held counts more than its share


@dataclass(frozen=True, eq=False)
class Earlier:
    """What was noted in an earlier trial with the same parts and ladder.

    Each earlier trial has a level and a straight effect of the parts of its own beside the
    surface that it shares: normal, of sd 0.3 + 1.2·(1 − alike) rungs and 1 + 8·(1 − alike)
    rungs per unit of share; and each of its notes counts as `alike` of a note (a power
    prior, Ibrahim and Chen 2000, Statistical Science 15, 46, from memory). Thresholds,
    scatter and set curve are taken to be the same hand's.

    Attributes
    ----------
    shares, notes, hours, pour
        As in `HardnessModel.fit`.
    alike : float
        1 for the same ingredients and process, 0 for what tells nothing; see `alikeness`.
    name : str
        What messages call it.
    """

    shares: pd.DataFrame
    notes: Iterable[str]
    hours: object = None
    pour: object = None
    alike: float = 1.0
    name: str = ""


def alikeness(
    one: Mapping[str, Mapping[str, float]],
    other: Mapping[str, Mapping[str, float]],
    held_one: Mapping[str, float] | None = None,
    held_other: Mapping[str, float] | None = None,
) -> float:
    """Return how alike two trials are, 0 to 1, by what their parts were made of.

    The product over the parts of 0.2 + 0.8·overlap, overlap = Σ min(fraction, fraction) of
    the part's ingredients; times 1 − 3·Σ|difference| of what is held constant, never below
    0. Trials that differ in one part altogether are 0.2 alike. Judgement without a source.

    Parameters
    ----------
    one, other : mapping of part to mapping of ingredient to amount
        In any unit: each part counts as fractions of itself. Case and spaces do not matter.
    held_one, held_other : mapping of ingredient to mass fraction of the finished product

    Raises
    ------
    LabError
        Other parts, or a part without any ingredient.

    Examples
    --------
    >>> shea = {"butter": {"shea": 1.0}, "wax": {"beeswax": 3.0, "candelilla": 1.0}}
    >>> alikeness(shea, shea)
    1.0
    >>> round(alikeness(shea, {"butter": {"Shea": 2.0}, "wax": {"beeswax": 1.0}}), 2)
    0.8
    """
    if set(one) != set(other):
        raise LabError(f"The trials have other parts: {', '.join(one)}; {', '.join(other)}.")
    shared = [_overlap(_fractions(one[part], part), _fractions(other[part], part)) for part in one]
    held_a, held_b = _folded(held_one or {}), _folded(held_other or {})
    held = sum(abs(held_a.get(name, 0.0) - held_b.get(name, 0.0)) for name in {*held_a, *held_b})
    alike = float(np.prod([_ONE_OTHER + (1.0 - _ONE_OTHER) * each for each in shared]))
    return alike * max(0.0, 1.0 - _HELD * held)


def _folded(amounts: Mapping[str, float]) -> dict[str, float]:
    found: dict[str, float] = {}
    for name, amount in amounts.items():
        key = " ".join(str(name).casefold().split())
        found[key] = found.get(key, 0.0) + float(amount)
    return found


def _fractions(amounts: Mapping[str, float], part: str) -> dict[str, float]:
    folded = _folded(amounts)
    total = sum(folded.values())
    if not total > 0.0 or min(folded.values()) < 0.0:
        raise LabError(f"The part “{part}” needs ingredients with amounts above 0.")
    return {name: amount / total for name, amount in folded.items()}


def _overlap(one: Mapping[str, float], other: Mapping[str, float]) -> float:
    return sum(min(each, other.get(name, 0.0)) for name, each in one.items())


@dataclass(frozen=True)
class Recalled:
    """Notes of all earlier trials that tell anything, one after the other.

    Attributes
    ----------
    poured : ndarray, shape (casts, parts)
    trial : int ndarray, shape (casts,)
    cast, rung : int ndarray, shape (notes,)
        Casts are numbered from 0 through all of them.
    hours, weight : ndarray, shape (notes,)
    level_sd, slope_sd : ndarray, shape (trials,)
        As in `labkit.texture.terms.Offset`.
    """

    poured: Floats
    trial: Ints
    cast: Ints
    rung: Ints
    hours: Floats
    weight: Floats
    level_sd: Floats
    slope_sd: Floats


def read_earlier(earlier: object, ladder: Sequence[str], parts: Sequence[str]) -> Recalled:
    """Return the notes of earlier trials; those of no likeness are left out.

    Raises
    ------
    LabError
        Naming the trial: words that are not on the ladder, other parts, an `alike` outside 0 to 1, and what
        `HardnessModel.fit` says of shares, hours and pours.
    """
    trials = [each for each in _trials(earlier) if _alike(each) > 0.0]
    read = [_read_one(each, ladder, parts) for each in trials]
    casts = np.cumsum([0, *(len(poured) for poured, *_ in read)])
    likeness = np.array([float(each.alike) for each in trials])

    def joined(arrays: Sequence[NDArray], kind: type) -> NDArray:
        return np.concatenate(arrays) if arrays else np.empty(0, kind)

    return Recalled(
        np.concatenate([poured for poured, *_ in read]) if read else np.empty((0, len(parts))),
        joined([np.full(len(poured), at) for at, (poured, *_) in enumerate(read)], int),
        joined([cast + casts[at] for at, (_, cast, _, _) in enumerate(read)], int),
        joined([rung for _, _, rung, _ in read], int),
        joined([hours for *_, hours in read], float),
        joined([np.full(len(each[1]), likeness[at]) for at, each in enumerate(read)], float),
        _LEVEL_SD[0] + _LEVEL_SD[1] * (1.0 - likeness),
        _SLOPE_SD[0] + _SLOPE_SD[1] * (1.0 - likeness),
    )


def _trials(earlier: object) -> list[Earlier]:
    trials = [] if earlier is None else [earlier] if isinstance(earlier, Earlier) else earlier
    if not isinstance(trials, Iterable) or any(not isinstance(each, Earlier) for each in trials):
        raise LabError("Earlier trials are a list of Earlier(shares, notes, …).")
    return list(trials)


def _alike(trial: Earlier) -> float:
    known = isinstance(trial.alike, Real) and 0.0 <= trial.alike <= 1.0
    if not known:
        raise LabError(f"{_called(trial)}: alike is {trial.alike!r}, and it lies from 0 to 1.")
    return float(trial.alike)


def _called(trial: Earlier) -> str:
    return f"The earlier trial “{trial.name}”" if trial.name else "An earlier trial"


def _read_one(
    trial: Earlier, ladder: Sequence[str], parts: Sequence[str]
) -> tuple[Floats, Ints, Ints, Floats]:
    """Return what its casts were poured from, and cast, rung and hours of each note."""
    try:
        shares, _ = check_shares(trial.shares, parts=parts)
        words = listed(trial.notes, "note", len(shares))
        _, known = read_labels(words, "note", len(shares))
        if strange := [f"“{word}”" for word in known if word not in ladder]:
            raise LabError(
                f"it was noted with other words ({', '.join(strange)}) than this ladder's: "
                f"{', '.join(ladder)}. Trials count only on one ladder."
            )
        rung = read_rungs(words, ladder, len(shares))
        cast, _ = read_pours(trial.pour, shares)
        hours = read_hours(trial.hours, len(shares))
    except LabError as error:
        raise LabError(f"{_called(trial)}: {error}") from error
    return shares[np.unique(cast, return_index=True)[1]], cast, rung, hours
