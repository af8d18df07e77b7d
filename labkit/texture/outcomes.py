"""How outcomes vary: notes on one pour, pours of one recipe, days, testers, lots, and how it was made."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from labkit.errors import LabError, did_you_mean
from labkit.few_groups import chi_limits, combined_limits
from labkit.texture.outcome_rows import Rows, read_rows
from labkit.texture.outcome_sources import (
    ROUNDING,
    at_least,
    from_days,
    from_lots,
    from_notes,
    from_pours,
    from_testers,
    from_way,
    no_less,
)
from labkit.texture.source import Source, headline, reach_words, size_words
from labkit.texture.strata import Strata, above, members, split
from labkit.variation import RealDifference, Spread, real_difference

if TYPE_CHECKING:
    from labkit.texture.hardness import HardnessModel

Floats = NDArray[np.float64]

OFTEN = (1, 3)
"""How often pours are felt each in the differences that are said to be real."""
MANY_AT_THE_ENDS = 1 / 3


@dataclass(frozen=True, eq=False)
class Outcomes:
    """How outcomes vary, source by source.

    Attributes
    ----------
    sources : tuple of Source
    ladder : tuple of str, or None
        The words, for outcomes in rungs; None for readings on a log scale.
    repeats_used : bool
        Whether pours and days are compared within recipes that were poured again. False:
        only by the misses of the map, or not at all.
    pours_differ : dict of int to RealDifference
        What two pours, each felt so many times, must differ by to be two different sticks.
    recipes_differ : dict of int to RealDifference
        The same for two recipes poured once each on one day; empty until a recipe was poured
        twice on one day.
    dots : DataFrame
        The repeats; see `Rows.dots`.
    notes : int
        How many notes there are.
    at_the_ends : int
        Those with the first or the last word of the ladder, behind which differences hide.
    """

    sources: tuple[Source, ...]
    ladder: tuple[str, ...] | None
    repeats_used: bool
    pours_differ: dict[int, RealDifference]
    recipes_differ: dict[int, RealDifference]
    dots: pd.DataFrame
    notes: int
    at_the_ends: int

    @property
    def title(self) -> str:
        """The message in one sentence."""
        return headline(self.sources, self.repeats_used)

    def source(self, name: str) -> Source:
        """Return a source by its name.

        Raises
        ------
        LabError
            Where it is not among them.
        """
        found = {each.name: each for each in self.sources}
        if name not in found:
            raise LabError(f"“{name}” is no source of variation here. {did_you_mean(name, found)}")
        return found[name]


def outcomes(
    notes: pd.DataFrame,
    outcome: ArrayLike,
    parts: Sequence[str],
    ladder: Sequence[str] | None = None,
    modelled: bool = True,
) -> Outcomes:
    """Tell how far notes, pours, days, testers, lots and ways of making differ, with 90 % intervals.

    Outcome = recipe + day + pour + tester + note. A recipe is one composition made one way
    (set on the bench or in the cold, melted again or not), and its mean is taken away, so
    that no composition is left in the pours and days. Notes are compared within a pour;
    pours by their means, the scatter of notes taken away; days by the same means, the
    scatter of pours and notes taken away. The means of pours felt once, twice or more count
    alike, as if of the harmonic mean of the counts (unweighted means: Burdick and Graybill
    1992, Confidence Intervals on Variance Components, from memory). The limits of each are
    those of `labkit.variation`, on the sums of squares of `labkit.texture.strata`. Lots and
    ways of making are compared within days. Where testers felt the same pours, what sets them
    apart is taken off the pours' means.

    Where no recipe was poured twice, and the outcomes are a map's misses, what is straight
    in the shares is taken away again and the rest is shown, never as told: a map bends
    towards what it was fitted to, and misses what it cannot follow.

    Words are whole rungs. Rounding adds up to 1/12 to the variance of notes, which is left in
    them (it is part of what a word does); no scatter is taken for less than that when something
    is measured against it, and no source for less where its upper limit is sought. While notes
    scatter by under half a rung, some of it lands in the pours instead, up to 0.29 rungs.

    Parameters
    ----------
    notes : DataFrame
        One row a note: "cast" (the pour), "poured" (its time) or "day", the shares; and
        where known "pour" (its number), "word", "tester", "lots", "set_where", "reheats".
    outcome : array_like, shape (rows,)
        The rung with what is to be expected of the composition at that hour taken away, as
        `rung_residuals` gives it; or `log_hardness` of one instrument, with ``modelled=False``.
    parts : sequence of str
        Columns of shares, 0 to 1.
    ladder : sequence of str, optional
        The words, softest first; None for readings.
    modelled : bool
        Whether a map's expectation was taken away, so that pours of different recipes may be
        compared where none was repeated.

    Raises
    ------
    LabError
        For a column that is not there, or an outcome that is missing.

    Examples
    --------
    >>> notes = pd.DataFrame({
    ...     "cast": [1, 1, 2, 2, 3, 3, 4, 4], "day": list("MMMMTTTT"), "oil": 0.7, "wax": 0.3})
    >>> found = outcomes(notes, [2, 2, 2, 3, 3, 3, 3, 4], ["oil", "wax"], list("abcde"))
    >>> found.source("days").groups, found.source("days").told
    (2, False)
    """
    words = tuple(ladder) if ladder is not None else None
    count = len(words) if words else None
    rows = read_rows(notes, outcome, parts, modelled, ROUNDING if words else 0.0)
    casts, size = rows.compared, rows.usual_notes(rows.compared)
    felt = split(rows.notes["value"].to_numpy(), members(rows.notes["cast"]), rows.notes["tester"])
    repeats = at_least(felt, rows.rounding)
    days = split(casts.value, rows.fixed(casts, casts.made), casts.day)
    pours = above(repeats, size, days.within, days.within_df)
    days = at_least(days, rows.rounding / size)
    found = [from_notes(rows, felt, repeats), from_pours(rows, pours, size), from_days(rows, days)]
    found += [from_testers(rows, repeats)] if rows.notes["tester"].nunique() > 1 else []
    found += [from_lots(rows)] if len(set(rows.casts.lots) - {""}) > 1 else []
    found += [each for name in ("setting", "melting") if (each := from_way(rows, name))]
    ends = notes["word"].isin([words[0], words[-1]]).sum() if words and "word" in notes else 0
    return Outcomes(
        tuple(replace(each, ladder=count) for each in found), words, bool(len(casts)) and not rows.by_map,
        *_differences(pours, rows), rows.dots, len(notes), int(ends),
    )  # fmt: skip


def rung_residuals(model: "HardnessModel", readings: pd.DataFrame) -> Floats:
    """Return the rung of each word less the one to be expected there, Σ rung·chance, shape (rows,).

    That of a pour still to be made, at the hours of the note: so a stick that is still setting
    is not taken for a soft one, and the expectation stays on the ladder as words do.

    Parameters
    ----------
    readings : DataFrame
        The parts of the model, "word" and "hours".

    Raises
    ------
    LabError
        As `HardnessModel.predict`; for a word that is not on the ladder.
    """
    from labkit.texture.notes import read_rungs

    rungs = read_rungs(readings["word"], model.scale, len(readings))
    chances = model.predict(readings[list(model.parts)], hours=readings["hours"])[list(model.scale)]
    return np.asarray(rungs - chances.to_numpy() @ np.arange(len(model.scale)), float)


def outcomes_words(found: Outcomes) -> list[str]:
    """Return what outcomes say, the message first: the alt text of their picture."""
    said = [found.title, *(each.sentence for each in found.sources), *difference_words(found)]
    if found.ladder and found.at_the_ends > MANY_AT_THE_ENDS * found.notes:
        said.append(
            f"{found.at_the_ends} of {found.notes} notes are “{found.ladder[0]}” or “{found.ladder[-1]}”, "
            "the ends of your ladder: differences beyond them do not show, so the true ones are larger."
        )
    return said


def difference_words(found: Outcomes) -> list[str]:
    """Return by how much two pours, and two recipes, must differ to be really different."""
    count, said = (len(found.ladder) if found.ladder else None), []
    once, thrice = (found.pours_differ.get(each) for each in OFTEN)
    if once and thrice:
        said.append(
            f"Two pours felt once each must differ by {_real(once, count, whole=True)} to be really "
            f"different; felt three times each, by {_real(thrice, count)}."
        )
    once, thrice = (found.recipes_differ.get(each) for each in OFTEN)
    if once and thrice:
        said.append(
            f"For it to be the recipe and not the pour: by {_real(once, count, whole=True)} felt once each, "
            f"by {_real(thrice, count)} felt three times each."
        )
    elif said:
        said.append("How far two recipes must differ is not known until one is poured twice on one day.")
    return said


def _differences(pours: Strata, rows: Rows) -> tuple[dict[int, RealDifference], dict[int, RealDifference]]:
    """Return what two pours, and two recipes, must differ by, by how often each was felt."""
    if not pours.within_df:
        return {}, {}
    found, most = _as_spread(pours), _as_spread(no_less(pours, rows.rounding))
    alone = {often: real_difference(found, often) for often in OFTEN}
    if rows.by_map or not pours.between_df:
        return alone, {}
    return alone, {often: _recipes(found, most, often, alone[often]) for often in OFTEN}


def _recipes(found: Spread, most: Spread, often: int, alone: RealDifference) -> RealDifference:
    """Return what two recipes must differ by: never less than two pours must."""
    limit = real_difference(found, often, same_group=False)
    high = real_difference(most, often, same_group=False).high
    return RealDifference(
        max(limit.limit, alone.limit), max(limit.low, alone.low), max(limit.high, high, alone.high)
    )


def _as_spread(pours: Strata) -> Spread:
    s_r, s_b = float(np.sqrt(pours.repeat_variance)), float(np.sqrt(pours.between_variance))
    limits = {
        "repeatability_sd": chi_limits(pours.within, pours.within_df),
        "between_sd": combined_limits(pours, 0.0),
        "reproducibility_sd": combined_limits(pours, 1.0),
    }
    return Spread(s_r, s_b, float(np.hypot(s_r, s_b)), limits, 0.0, pours.groups, 0, pours)


def _real(difference: RealDifference, count: int | None, whole: bool = False) -> str:
    """Return a difference with its range; of single words a whole number of them."""
    ends = [difference.limit, difference.low, difference.high]
    if whole and count:
        ends = [float(ceil(end - 1e-9)) if np.isfinite(end) else end for end in ends]
    return f"{size_words(ends[0], count)} ({reach_words(ends[1], ends[2], count)})"
