"""Notes on pours, read for how they vary: which pours are of one recipe, of one day, made one way."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from labkit.errors import LabError, did_you_mean
from labkit.texture.strata import members

Floats = NDArray[np.float64]
Labels = NDArray[np.object_]

SAME_RECIPE = 0.005
"""Pours whose shares differ by no more than this are of one recipe."""
_OPTIONAL: dict[str, Any] = {"tester": "", "lots": "", "set_where": "", "reheats": 0}


@dataclass(frozen=True)
class Casts:
    """One row a pour, shape (pours,): its mean outcome, what it was made of, how, and when.

    Attributes
    ----------
    entry : ndarray
        What its notes call it.
    value : ndarray
        Mean of its notes, each tester's own level taken off.
    notes : ndarray
        How many they are.
    shares : ndarray, shape (pours, parts)
    recipe : ndarray
        From 0; pours of nearly the same shares have one.
    set_where, melted, day, lots : ndarray
    """

    entry: Labels
    value: Floats
    notes: Floats
    shares: Floats
    recipe: NDArray[np.int_]
    set_where: Labels
    melted: NDArray[np.bool_]
    day: Labels
    lots: Labels

    def __len__(self) -> int:
        return len(self.value)

    def take(self, keep: NDArray[np.bool_]) -> "Casts":
        """Return some of them."""
        return Casts(*(getattr(self, name)[keep] for name in self.__dataclass_fields__))

    @property
    def made(self) -> list[tuple[Any, ...]]:
        """Recipe and way of making of each."""
        return list(zip(self.recipe, self.set_where, self.melted, strict=True))

    def repeated(self, what: Sequence[Any]) -> "Casts":
        """Return those of which another has the same label."""
        labels = list(what)
        return self.take(np.array([labels.count(each) > 1 for each in labels], bool))


@dataclass(frozen=True)
class Rows:
    """Notes ready to be compared.

    Attributes
    ----------
    notes : DataFrame
        "value", "cast", "pour", "day", "tester", "lots", "set_where", "reheats", the shares.
    by_map : bool
        Whether pours of different recipes are compared, for want of repeats.
    rounding : float
        Variance that the steps of the outcome hide; 0 for readings.
    """

    notes: pd.DataFrame
    casts: Casts
    by_map: bool
    rounding: float

    @cached_property
    def compared(self) -> Casts:
        """The pours that repeat one another; all of them, by the map."""
        return self.casts if self.by_map else self.casts.repeated(self.casts.made)

    def usual_notes(self, casts: Casts) -> float:
        """Return how many notes a pour has, the harmonic mean."""
        return float(len(casts) / (1.0 / casts.notes).sum()) if len(casts) else 1.0

    def fixed(self, casts: Casts, made: Sequence[Any]) -> Floats:
        """Return what is taken away beforehand: recipes' means, or what is straight in the shares."""
        return casts.shares if self.by_map else members(made)

    @cached_property
    def dots(self) -> pd.DataFrame:
        """The outcomes of repeats: "pour", "recipe", "day", "tester", "off" (from the mean of its recipe).

        Where no recipe was repeated, those of pours that were felt again, from the mean of the pour.
        """
        again = not self.by_map and len(self.compared) > 0
        casts = self.compared if again else self.casts.take(self.casts.notes > 1)
        kinds = casts.made if again else list(casts.entry)
        number = {each: at for at, each in enumerate(dict.fromkeys(kinds), 1)}
        recipe = dict(zip(casts.entry, (number[each] for each in kinds), strict=True))
        table = self.notes[self.notes["cast"].isin(casts.entry)]
        table = table.assign(recipe=table["cast"].map(recipe).astype(int))
        off = table["value"] - table.groupby("recipe")["value"].transform("mean")
        return table.assign(off=off)[["pour", "recipe", "day", "tester", "off"]].reset_index(drop=True)


def read_rows(
    notes: pd.DataFrame, outcome: ArrayLike, parts: Sequence[str], modelled: bool, rounding: float
) -> Rows:
    """Read notes with their outcomes; see `labkit.texture.outcomes.outcomes` for columns and refusals."""
    for column in ("cast", *parts, *([] if "day" in notes else ["poured"])):
        if column not in notes.columns:
            raise LabError(f"There is no column “{column}”. {did_you_mean(column, map(str, notes))}")
    value = _outcomes(outcome, len(notes))
    table = notes.reset_index(drop=True)
    day = table["day"] if "day" in table else [_local_day(when) for when in table["poured"]]
    tidy = pd.DataFrame(
        {
            "value": value,
            "cast": table["cast"].astype(object),
            "pour": table.get("pour", table["cast"]).astype(object),
            "day": pd.Series(list(day), dtype=object),
            **{name: _filled(table, name, start) for name, start in _OPTIONAL.items()},
        }
    )
    casts = _casts(tidy, table[list(parts)].to_numpy(float))
    repeated = len(set(casts.made)) < len(casts)
    return Rows(tidy, casts, modelled and not repeated, rounding)


def _outcomes(outcome: ArrayLike, rows: int) -> Floats:
    value = np.asarray(outcome, float)
    if value.shape != (rows,):
        raise LabError(f"There are {rows} notes and {value.size} outcomes: give one for each note.")
    for row in np.flatnonzero(~np.isfinite(value)):
        raise LabError(f"Note {row + 1} has no outcome. Leave it out, or fill it in.")
    return value


def _local_day(when: Any) -> Any:
    return pd.Timestamp(when).to_pydatetime().astimezone().date()


def _filled(table: pd.DataFrame, name: str, start: Any) -> "pd.Series[Any]":
    """Return a column that may be missing, here or there or all of it; text without spaces around it."""
    column = table[name].astype(object) if name in table else pd.Series(start, table.index, object)
    column = column.where(column.notna(), start)
    return column.map(lambda cell: str(cell).strip()) if isinstance(start, str) else column.astype(float)


def _casts(notes: pd.DataFrame, shares: Floats) -> Casts:
    first = notes.drop_duplicates("cast")
    value = levelled(notes).groupby(notes["cast"], sort=False).agg(["mean", "size"]).to_numpy(float)
    set_where, day, lots = (first[name].to_numpy(object) for name in ("set_where", "day", "lots"))
    made_of = shares[first.index]
    return Casts(
        first["cast"].to_numpy(object), value[:, 0], value[:, 1], made_of, _recipes(made_of),
        set_where, first["reheats"].to_numpy(float) > 0, day, lots,
    )  # fmt: skip


def levelled(notes: pd.DataFrame) -> "pd.Series[float]":
    """Return outcomes with each tester's own level taken off, as far as testers felt the same pours."""
    testers = members(notes["tester"])
    if testers.shape[1] < 2:
        return notes["value"]
    by_cast = pd.DataFrame(testers).groupby(notes["cast"].to_numpy()).transform("mean").to_numpy()
    off = notes["value"] - notes.groupby("cast")["value"].transform("mean")
    levels = np.linalg.lstsq(testers - by_cast, off.to_numpy(), rcond=1e-9)[0]
    return notes["value"] - testers @ levels


def _recipes(shares: Floats) -> NDArray[np.int_]:
    """Return a recipe from 0 for each pour: that of the first pour of nearly the same shares."""
    first: list[int] = []
    found = np.empty(len(shares), int)
    for at, row in enumerate(shares):
        near = [n for n, one in enumerate(first) if np.abs(shares[one] - row).max() <= SAME_RECIPE]
        found[at] = near[0] if near else len(first)
        first += [] if near else [at]
    return found
