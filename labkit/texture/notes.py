"""Reading what the maker noted: words of the ladder, hours, and which pour."""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from numbers import Real

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError, did_you_mean

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]

_RESERVED = ("hardness", "sd")
_SAME_POUR = 0.005  # share; more than that is not one cast


def check_ladder(scale: Iterable[str]) -> tuple[str, ...]:
    """Return the words of a hardness ladder, softest first.

    Raises
    ------
    LabError
        Fewer than two words, a word twice, an empty one, or one that names a column of the answer.
    """
    if isinstance(scale, str):
        raise LabError(f"The ladder needs a list of words from soft to hard; “{scale}” is one text.")
    if not isinstance(scale, Iterable):
        raise LabError(f"The ladder needs a list of words from soft to hard; {scale!r} is none.")
    words = tuple(scale)
    if bad := [word for word in words if not isinstance(word, str) or not word.strip()]:
        raise LabError(f"Every rung of the ladder needs a word; {bad[0]!r} is none.")
    if len(words) < 2:
        raise LabError(f"A ladder needs at least two words, from soft to hard; here there are {len(words)}.")
    if twice := [word for at, word in enumerate(words) if word in words[:at]]:
        raise LabError(f"“{twice[0]}” stands on the ladder twice; give each rung its own word.")
    if taken := [word for word in words if word in _RESERVED]:
        raise LabError(
            f"“{taken[0]}” is the name of a column in the answer; choose another word for that rung."
        )
    return words


def find_rung(word: object, ladder: Sequence[str], where: str = "") -> int:
    """Return the place of a word on the ladder, 0 for the softest.

    Raises
    ------
    LabError
        The word is not on the ladder; near ones are named.

    Examples
    --------
    >>> find_rung("firm", ["soft", "firm", "hard"])
    1
    """
    if isinstance(word, str) and word in ladder:
        return ladder.index(word)
    lead = f"{where}: " if where else ""
    if _is_missing(word):
        raise LabError(f"{lead}there is no word. Choose one of the ladder, or leave the row out.")
    raise LabError(f"{lead}“{word}” is not on the ladder. {did_you_mean(str(word), ladder)}")


def read_rungs(notes: Iterable[object], ladder: Sequence[str], rows: int) -> Ints:
    """Return the rung of every note, shape (rows,).

    Raises
    ------
    LabError
        A number of notes other than `rows`, or a word that is not on the ladder, with its row.
    """
    listed = _listed(notes, "note", rows)
    return np.array([find_rung(word, ladder, f"Row {at}") for at, word in enumerate(listed, 1)], int)


def read_hours(hours: object, rows: int) -> Floats:
    """Return hours since the pour of every row [h], shape (rows,); inf for a set stick.

    Parameters
    ----------
    hours : None, a number, or one value per row
        None or NaN, alone or among others: set. An array without a dimension is a number.

    Raises
    ------
    LabError
        Below 0 (a note before its pour), no number, or another length than `rows`.
    """
    if isinstance(hours, np.ndarray) and _is_bare(hours):
        hours = hours.item()
    if hours is None or hours is pd.NA or hours is pd.NaT or isinstance(hours, (Real, str)):
        return np.full(rows, _one_hour(hours, ""))
    listed = _listed(hours, "time", rows)
    return np.array([_one_hour(value, f"Row {at}: ") for at, value in enumerate(listed, 1)], float)


def _one_hour(value: object, lead: str) -> float:
    if _is_missing(value):
        return np.inf
    try:
        hours = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise LabError(f"{lead}“{value}” is no number of hours since the pour.") from None
    if hours < 0:
        raise LabError(f"{lead}{hours:g} hours is a note before its pour; hours count from the pour.")
    return np.inf if np.isnan(hours) else hours


def read_pours(pour: object, shares: Floats) -> tuple[Ints, dict[Hashable, int]]:
    """Return the cast of every row as numbers from 0, in order of appearance, and those by label.

    Parameters
    ----------
    pour : None or one label per row
        None: every row is a cast of its own.
    shares : ndarray, shape (rows, parts)

    Returns
    -------
    int ndarray, shape (rows,), and the number of each label (none without labels)

    Raises
    ------
    LabError
        A row without a pour, a label that is a list, another number of rows, or one pour with
        two compositions.
    """
    rows = len(shares)
    if pour is None:
        return np.arange(rows), {}
    seen: dict[Hashable, int] = {}
    first: list[int] = []
    found = np.empty(rows, int)
    for at, label in enumerate(_listed(pour, "pour", rows)):
        if _is_missing(label):
            raise LabError(f"Row {at + 1} does not say which pour it is about.")
        _check_label(label, at)
        if label not in seen:
            seen[label] = len(first)
            first.append(at)
        found[at] = seen[label]
        _check_same(shares, first[found[at]], at, label)
    return found, seen


def find_pours(pour: object, known: Mapping[Hashable, int], shares: Floats, poured: Floats) -> Ints:
    """Return the cast of every row by its label, −1 for a pour still to be made, shape (rows,).

    Parameters
    ----------
    pour : None, a label, or one label per row
        None and NaN: still to be made.
    known : mapping
        The number of each label that notes are about.
    shares : ndarray, shape (rows, parts)
    poured : ndarray, shape (casts, parts)
        What each cast was poured from.

    Raises
    ------
    LabError
        A label that is not known (near ones are named), another number of rows, or other
        shares than the cast was poured from.
    """
    rows = len(shares)
    if isinstance(pour, str) or not isinstance(pour, Iterable) or _is_bare(pour):
        pour = [pour] * rows
    found = np.full(rows, -1)
    for at, label in enumerate(_listed(pour, "pour", rows)):
        if _is_missing(label):
            continue
        _check_label(label, at)
        if label not in known:
            raise LabError(f"Row {at + 1}: no note is about the pour “{label}”. {_near(label, known)}")
        found[at] = known[label]
        if np.abs(shares[at] - poured[found[at]]).max() > _SAME_POUR:
            raise LabError(f"Row {at + 1} gives pour “{label}” other shares than it was poured from.")
    return found


def _near(label: object, known: Iterable[Hashable]) -> str:
    names = [str(each) for each in known]
    return did_you_mean(str(label), names) if names else "The notes were given without pours."


def _check_label(label: object, at: int) -> None:
    if not isinstance(label, Hashable):
        raise LabError(f"Row {at + 1}: {label!r} is no label of a pour. Give a name or a number.")


def _is_bare(value: object) -> bool:
    """Return whether it is an array without a dimension: a single value."""
    return isinstance(value, np.ndarray) and value.ndim == 0


def _is_missing(value: object) -> bool:
    return value is None or value is pd.NA or value is pd.NaT or (isinstance(value, Real) and value != value)


def _check_same(shares: Floats, first: int, at: int, label: object) -> None:
    if np.abs(shares[first] - shares[at]).max() > _SAME_POUR:
        raise LabError(
            f"Row {at + 1} gives pour “{label}” other shares than row {first + 1}. "
            "One pour has one composition: give the other its own name."
        )


def _listed(values: object, what: str, rows: int) -> list:
    if values is None:
        raise LabError(f"One {what} per row is needed, and there is none.")
    if isinstance(values, pd.DataFrame | Mapping):
        raise LabError(f"One {what} per row is needed, as a list or one column of a table.")
    if isinstance(values, str) or not isinstance(values, Iterable) or _is_bare(values):
        raise LabError(f"One {what} per row is needed; “{values}” is a single one.")
    listed = list(values)
    if len(listed) != rows:
        count = f"{len(listed)} {what}" + ("" if len(listed) == 1 else "s")
        raise LabError(f"There are {rows} rows of shares but {count}; one {what} per row is needed.")
    return listed
