"""Correct the colour of the pot: the smallest single additions that move it away from where it is off."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from labkit.batch.additions import MOST_SHARE
from labkit.batch.asked import Floats, read_above_0
from labkit.batch.least import add_all, least_amount, on_scale, what_else
from labkit.batch.off_colour import SHIFT_DE, move_words, wanted_colour, way, way_words
from labkit.batch.pot import Pot
from labkit.batch.side_effects import Watched, side_effects

BASE = "base without pigment"
MOST_PIGMENT_SHARE = 0.10
"""A pigment beyond this share of the pot is another shade (a judgement, no source)."""

LEADS_ELSEWHERE = 2.0
"""One that ends so many times as far from what is wanted as it is now is not offered (a judgement)."""

_COLUMNS = [
    "add",
    "grams",
    "parts_g",
    "before",
    "after",
    "sd",
    "moved_de",
    "left_de",
    "turns",
    "what_else",
    "also",
]
_NO_MODEL = (
    "Nothing is known of this pot's colour: there is no forecast of what is in it. Add a little of the "
    "pigment that it lacks, about a tenth of what is in there, wetted in some of the oil; stir until no "
    "streak is seen, and try another drip. Write down both."
)
_NO_PIGMENT = "No pigment was written down for this pot, and none that is at hand was named."


@dataclass(frozen=True, eq=False)
class ColourAdditions:
    """What to add now.

    Attributes
    ----------
    rows : DataFrame
        One row an addition, the smallest first: add; grams (on the scale's step); parts_g, the grams by
        ingredient; before and after, CIELAB; sd, of the forecast after, ΔE; moved_de, how far it moves,
        and left_de, how far it then is from what is wanted, both ΔE00; turns, how it changes in words;
        what_else, the % of everything; also, what else changes. Empty where nothing is known or
        nothing helps.
    wanted : ndarray or None
        CIELAB of what is aimed at.
    why : str
        In words.
    """

    rows: pd.DataFrame
    wanted: Floats | None
    why: str


def smallest_colour_additions(
    pot_g: Mapping[str, float],
    off: str,
    watched: Watched,
    at_hand: Sequence[str] = (),
    step_g: float = 0.01,
    shift_de: float = SHIFT_DE,
) -> ColourAdditions:
    """Return the smallest single additions that move the colour away from the side that it is off to.

    Nothing can be taken out of a melt, so what is looked at is more of one pigment, and more of the base
    in its own ratio. Of each, the first amount with which the colour has moved as far as is wanted in the
    wanted direction (`labkit.batch.off_colour`). What it does beside that is told; one that leads
    elsewhere, further than `LEADS_ELSEWHERE`, is not offered.

    Parameters
    ----------
    pot_g : mapping of ingredient to g
        What is really in the pot.
    off : str
        "too pale", "too dark", "too orange", "too pink", "too purple" or "too brown".
    watched : Watched
        Which ingredients are pigments, and the model of the colour.
    at_hand : sequence of str
        Pigments beside those in the pot.
    step_g : float [g]
        Of the scale.
    shift_de : float [ΔE00]
        How far to move.

    Raises
    ------
    LabError
        For a side that is not known, or grams that cannot be.

    Examples
    --------
    >>> def colour(loads):
    ...     return np.array([60.0 - 2.0 * loads["red iron oxide"], 30.0, 20.0]), np.ones(3)
    >>> found = smallest_colour_additions({"castor oil": 95.0, "red iron oxide": 5.0}, "too pale",
    ...     Watched(("red iron oxide",), (), None, colour), step_g=0.1)
    >>> found.rows[["add", "grams"]].values.tolist()
    [['red iron oxide', 1.3]]
    """
    way_words(off)
    pot, step = Pot(pot_g), read_above_0(step_g, "your scale's step", "g")
    shift = read_above_0(shift_de, "wanted change of colour", "ΔE00")
    watched = _with(watched, at_hand)
    before = watched.colour_of(pot)
    if not watched.pigments or before is None:
        why = _NO_MODEL if watched.pigments else _NO_PIGMENT
        return ColourAdditions(pd.DataFrame(columns=_COLUMNS), None, why)
    asked = _Asked(pot, watched, before[0], way(before[0], off), wanted_colour(before[0], off, shift), step)
    rows = [row for mix in _mixes(pot, watched) if (row := asked.row(*mix))]
    table = pd.DataFrame(rows, columns=_COLUMNS).sort_values("grams", kind="stable", ignore_index=True)
    return ColourAdditions(table, asked.wanted, _why(table, off, shift, step))


def _with(watched: Watched, at_hand: Sequence[str]) -> Watched:
    pigments = tuple(dict.fromkeys((*watched.pigments, *at_hand)))
    return Watched(pigments, watched.waxes, watched.hardness, watched.colour)


def _mixes(pot: Pot, watched: Watched) -> list[tuple[str, dict[str, float]]]:
    """Return what can be added, each as shares of one gram of it."""
    base = {name: grams for name, grams in pot.grams.items() if name not in watched.pigments and grams > 0.0}
    pigments = [(name, {name: 1.0}) for name in watched.pigments]
    total = sum(base.values())
    return [*pigments, (BASE, {name: grams / total for name, grams in base.items()})] if total else pigments


@dataclass(frozen=True)
class _Asked:
    """What is asked of every addition."""

    pot: Pot
    watched: Watched
    before: Floats
    towards: Floats
    wanted: Floats
    step: float

    def row(self, name: str, mix: dict[str, float]) -> tuple[object, ...] | None:
        """Return the row of the least that helps, or None where none does."""
        added, share = self._adding(mix), MOST_SHARE if name == BASE else MOST_PIGMENT_SHARE
        least = least_amount(added, self._moved, share * self.pot.total_g)
        if not least:
            return None
        parts = self._weighed(mix, least)
        return self._told(name, parts, add_all(self.pot, parts)) if parts else None

    def _adding(self, mix: dict[str, float]) -> Callable[[float], Pot]:
        return lambda grams: add_all(self.pot, {name: grams * share for name, share in mix.items()})

    def _weighed(self, mix: dict[str, float], grams: float) -> dict[str, float]:
        """Return grams of each ingredient on the scale's step; none of what is less than half a step."""
        if len(mix) == 1:
            return dict.fromkeys(mix, on_scale(grams, self.step))
        steps = {name: round(grams * share / self.step) for name, share in mix.items()}
        return {name: round(each * self.step, 6) for name, each in steps.items() if each}

    def _moved(self, pot: Pot) -> bool:
        found, wanted = self.watched.colour_of(pot), float((self.wanted - self.before) @ self.towards)
        return found is not None and float((found[0] - self.before) @ self.towards) >= wanted - 1e-9

    def _told(self, name: str, parts: dict[str, float], after: Pot) -> tuple[object, ...] | None:
        from labkit.colour.cie import delta_e00

        found = self.watched.colour_of(after)
        if found is None:
            return None
        left, at_first, moved = (
            float(delta_e00(one, other))
            for one, other in (
                (found[0], self.wanted), (self.before, self.wanted), (self.before, found[0]),
            )
        )  # fmt: skip
        if left > LEADS_ELSEWHERE * at_first:
            return None
        sd = float(np.sqrt((found[1] ** 2).sum()))
        turns = move_words(self.before, found[0])
        also = side_effects(self.pot, after, self.watched, but="colour")
        else_ = what_else(self.pot, after, name if name != BASE else "")
        return (
            name,
            round(sum(parts.values()), 6),
            parts,
            self.before,
            found[0],
            sd,
            moved,
            left,
            turns,
            else_,
            also,
        )


def _why(table: pd.DataFrame, off: str, shift: float, step: float) -> str:
    aim = (
        f"“{off.capitalize()}” is taken as: make it {way_words(off)}, by about {shift:g} ΔE00, just visible."
    )
    if table.empty:
        return (
            f"{aim} No single addition of a pigment at hand, or of base, does that without leading "
            "elsewhere. Name another pigment that is at hand, or pour it as it is and note it."
        )
    doubt = ""
    if float(table["sd"].iloc[0]) > shift:
        doubt = (
            " The forecast itself is less sure than this step: believe which way it goes rather than how "
            "far, add half, and try a drip."
        )
    coarse = " A step of your scale is nearly all of it: weigh it finer." if _coarse(table, step) else ""
    return f"{aim} The smallest first.{doubt}{coarse}"


def _coarse(table: pd.DataFrame, step: float) -> bool:
    return bool(table["grams"].iloc[0] <= 2.0 * step)
