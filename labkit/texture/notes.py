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
    if is_missing(word):
        raise LabError(f"{lead}there is no word. Choose one of the ladder, or leave the row out.")
    raise LabError(f"{lead}“{word}” is not on the ladder. {did_you_mean(str(word), ladder)}")


def read_rungs(
    notes: Iterable[object] | None,
    ladder: Sequence[str],
    rows: int,
    optional: NDArray[np.bool_] | None = None,
) -> Ints:
    """Return the rung of every note, −1 where there is none, shape (rows,).

    Parameters
    ----------
    optional : bool ndarray, shape (rows,), optional
        Rows that may go without a word. By default none.

    Raises
    ------
    LabError
        A number of notes other than `rows`, or a word that is missing or not on the ladder, with its row.
    """
    spared = np.zeros(rows, bool) if optional is None else optional
    if notes is None and spared.all():
        return np.full(rows, -1)
    words = listed(notes, "note", rows)
    return np.array(
        [
            -1 if spared[at] and is_missing(word) else find_rung(word, ladder, f"Row {at + 1}")
            for at, word in enumerate(words)
        ],
        int,
    )


def read_labels(labels: object, what: str, rows: int) -> tuple[Ints, tuple[Hashable, ...]]:
    """Return the number of every row's label, −1 where there is none, and the labels by number.

    Raises
    ------
    LabError
        Another number of labels than `rows`, or a label that is a list.

    Examples
    --------
    >>> read_labels(["Mon", None, "Mon"], "day", 3)
    (array([ 0, -1,  0]), ('Mon',))
    """
    if labels is None:
        return np.full(rows, -1), ()
    seen: dict[Hashable, int] = {}
    found = np.full(rows, -1)
    for at, label in enumerate(listed(labels, what, rows)):
        if is_missing(label):
            continue
        if not isinstance(label, Hashable):
            raise LabError(f"Row {at + 1}: {label!r} is no {what}. Give a name or a number.")
        found[at] = seen.setdefault(label, len(seen))
    return found, tuple(seen)


def read_loads(load: object, rows: int) -> Floats:
    """Return the pigment of every row [mass fraction of the finished product], shape (rows,); None: 0.

    Raises
    ------
    LabError
        No number, below 0, or 1 and more (which looks like percent), with its row.

    Examples
    --------
    >>> read_loads(0.1, 2).tolist()
    [0.1, 0.1]
    """
    if load is None or isinstance(load, (Real, str)) or _is_bare(load):
        return np.full(rows, _one_load(0.0 if load is None else load, ""))
    cells = listed(load, "load", rows)
    return np.array([_one_load(value, f"Row {at}: ") for at, value in enumerate(cells, 1)], float)


def _one_load(value: object, lead: str) -> float:
    try:
        found = np.nan if is_missing(value) else float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise LabError(f"{lead}“{value}” is no pigment load. Write a fraction such as 0.1.") from None
    if np.isnan(found):
        raise LabError(f"{lead}the pigment load is missing. Write 0 for none, or a fraction such as 0.1.")
    if not 0.0 <= found < 1.0:
        hint = f" Ten percent is 0.1: write {found / 100:g} for {found:g} %." if found >= 1.0 else ""
        raise LabError(f"{lead}a pigment load of {found:g} cannot be: it lies from 0 to below 1.{hint}")
    return found


def one_per_pour(
    values: NDArray, cast: Ints, what: str, labels: Mapping[Hashable, int], blank: float | None = None
) -> NDArray:
    """Return the value of every cast, shape (casts,), from those of rows.

    Parameters
    ----------
    values : ndarray, shape (rows,)
    cast : int ndarray, shape (rows,)
    what : str
        What they are, for the message.
    labels : mapping
        The number of each labelled cast.
    blank : float, optional
        A value that says nothing: other rows of the cast decide.

    Raises
    ------
    LabError
        Two values for one cast, with both rows.
    """
    found = np.full(cast.max() + 1 if len(cast) else 0, -1, dtype=values.dtype)
    first = np.full(len(found), -1)
    names = {number: label for label, number in labels.items()}
    for row, (number, value) in enumerate(zip(cast, values, strict=True)):
        if blank is not None and value == blank:
            continue
        if first[number] >= 0 and value != found[number]:
            raise LabError(
                f"Row {row + 1} gives pour “{names.get(number, number + 1)}” another {what} than row "
                f"{first[number] + 1}. One pour has one {what}: mend one of the rows."
            )
        found[number] = value
        first[number] = row if first[number] < 0 else first[number]
    return found


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
    times = listed(hours, "time", rows)
    return np.array([_one_hour(value, f"Row {at}: ") for at, value in enumerate(times, 1)], float)


def _one_hour(value: object, lead: str) -> float:
    if is_missing(value):
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
    for at, label in enumerate(listed(pour, "pour", rows)):
        if is_missing(label):
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
    for at, label in enumerate(listed(pour, "pour", rows)):
        if is_missing(label):
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


def is_missing(value: object) -> bool:
    """Return whether nothing is there: None, NaN or what pandas puts for them."""
    return value is None or value is pd.NA or value is pd.NaT or (isinstance(value, Real) and value != value)


def _check_same(shares: Floats, first: int, at: int, label: object) -> None:
    if np.abs(shares[first] - shares[at]).max() > _SAME_POUR:
        raise LabError(
            f"Row {at + 1} gives pour “{label}” other shares than row {first + 1}. "
            "One pour has one composition: give the other its own name."
        )


def listed(values: object, what: str, rows: int) -> list:
    """Return one value per row as a list.

    Raises
    ------
    LabError
        For none, a table, a single one, or another number than `rows`; `what` names them.
    """
    if values is None:
        raise LabError(f"One {what} per row is needed, and there is none.")
    if isinstance(values, pd.DataFrame | Mapping):
        raise LabError(f"One {what} per row is needed, as a list or one column of a table.")
    if isinstance(values, str) or not isinstance(values, Iterable) or _is_bare(values):
        raise LabError(f"One {what} per row is needed; “{values}” is a single one.")
    found = list(values)
    if len(found) != rows:
        count = f"{len(found)} {what}" + ("" if len(found) == 1 else "s")
        raise LabError(f"There are {rows} rows of shares but {count}; one {what} per row is needed.")
    return found
