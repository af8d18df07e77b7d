"""How remakes of a shared recipe differ: within makers, between makers, and from the original."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from labkit.errors import LabError
from labkit.few_groups import Limits
from labkit.share.original import PROCESS, WAYS, Made, original
from labkit.share.process import process_apart, process_words
from labkit.share.record import Remake
from labkit.share.remaking import recipe_id, recipe_row
from labkit.variation import Spread, spread

if TYPE_CHECKING:
    from labkit.book import TrialBook

HARDNESS = "hardness"
COLOUR = ("L", "a", "b")
QUANTITIES = {HARDNESS: "rungs", "L": "L*", "a": "a*", "b": "b*"}
"""What is read of a remake, and in what."""
ROUNDED = 1.0 / np.sqrt(12.0)
"""A spread below this many rungs cannot be seen in whole words [the sd of rounding to 1]."""


@dataclass(frozen=True)
class Remakes:
    """The remakes of one recipe.

    Attributes
    ----------
    table : DataFrame
        A row for each pour, the original among them: maker, original, entry, poured_at, changed;
        hardness (mean rung, 1 the softest word) and pieces felt; L, a, b (means) and pieces read;
        delta_e00 and rungs from the original (else from the mean of the makers); figures of the process.
    repeatability_sd, between_sd, reproducibility_sd : dict
        s_r, s_L and s_R of ISO 5725-2 by quantity, "hardness" in rungs, "L", "a", "b" in their units: a
        maker is a laboratory, a pour a test result. A quantity that cannot be estimated is nan.
    intervals : dict
        By quantity, then by those three names: 90 % limits made for few makers. An upper limit of inf
        says "not known yet".
    makers : int
        How many makers poured it, the recipe's own among them.
    process : DataFrame
        Which figures of the process go with which quantity over makers: figure, quantity, makers, low,
        high, tau, p, p_holm.
    said : tuple of str
        All that in words, and what the recipe should say more exactly.
    """

    table: pd.DataFrame
    repeatability_sd: dict[str, float]
    between_sd: dict[str, float]
    reproducibility_sd: dict[str, float]
    intervals: dict[str, dict[str, Limits]]
    makers: int
    process: pd.DataFrame = field(repr=False)
    said: tuple[str, ...]

    def __str__(self) -> str:
        return "\n".join(self.said)


def remakes(book: "TrialBook", recipe: Any, *, changed: bool = True) -> Remakes:
    """Return the remakes of a recipe and how they differ.

    Repeatability and reproducibility by one-way analysis of variance as ISO 5725-2 has it
    (`labkit.variation.spread`): the readings of a pour are averaged first, so that what repeats is a whole
    pour and not a second touch of one stick.

    Parameters
    ----------
    book : TrialBook
        With the remakes taken in.
    recipe : Entry or str
        What was remade, or its id.
    changed : bool
        Count remakes in which something was done otherwise on purpose.

    Raises
    ------
    LabError
        Where the book has no remake of it, or `recipe` names nothing.
    """
    pours = list(_pours(book, recipe))
    remade = [each for each in pours if not each.original]
    if not remade:
        raise LabError(
            "There is no remake of this recipe in the book yet. Log one with log_remake, or take one in."
        )
    kept = [each for each in pours if changed or not each.changed.strip()]
    if not kept:
        raise LabError("In every remake something was done otherwise. Count them with changed=True.")
    ladder = _ladder(pours)
    table = _table(kept, ladder, _names(book, pours))
    spreads = {quantity: _spread(table, quantity) for quantity in QUANTITIES}
    process = process_apart(table, tuple(QUANTITIES))
    unlike = sum(bool(each.words) and each.ladder != ladder for each in kept)
    said = [
        *_counted(table, pours, remade, unlike),
        *_spread_words(table, spreads),
        *process_words(table, process, _stated(book, recipe)),
    ]
    return Remakes(
        table,
        _by_quantity(spreads, "repeatability_sd"),
        _by_quantity(spreads, "between_sd"),
        _by_quantity(spreads, "reproducibility_sd"),
        {quantity: each.intervals if each else _UNKNOWN for quantity, each in spreads.items()},
        table["maker"].nunique(),
        process,
        tuple(said),
    )


_SPREADS = ("repeatability_sd", "between_sd", "reproducibility_sd")
_UNKNOWN: dict[str, Limits] = dict.fromkeys(_SPREADS, (0.0, np.inf))


def _pours(book: "TrialBook", recipe: Any) -> Iterator[Made]:
    named, row = recipe_id(recipe), recipe_row(book, recipe)
    first = row.entry if row else named
    if row and (own := original(book, row)):
        yield own
    for each in book.rows(Remake.kind):
        if each.head.payload.get("recipe") == first:
            made = Remake.of(each.head.payload)
            process = {name: getattr(made, name) for name in (*PROCESS, *WAYS)}
            yield Made(
                each.entry,
                each.first.maker,
                made.words,
                made.ladder,
                made.labs,
                process,
                made.poured_at,
                made.changed,
            )


def _stated(book: "TrialBook", recipe: Any) -> dict[str, Any]:
    """Return the figures of the process that a recipe says itself."""
    row = recipe_row(book, recipe)
    said = row.head.payload if row else {}
    return {"judged_h": said.get("waiting_h"), **{name: said[name] for name in PROCESS if name in said}}


def _ladder(pours: list[Made]) -> tuple[str, ...]:
    """Return the original's ladder, else that of most remakes."""
    ladders = [each.ladder for each in sorted(pours, key=lambda each: not each.original) if each.words]
    own = next((each.ladder for each in pours if each.original), None)
    return own or (max(ladders, key=ladders.count) if ladders else ())


def _names(book: "TrialBook", pours: list[Made]) -> dict[str, str]:
    """Return what makers are called: by name where the book knows one, else by a number."""
    people, makers = book.people(), list(dict.fromkeys(each.maker for each in pours))
    called: dict[str, str] = {}
    for number, maker in enumerate(makers, start=1):
        name = people.get(maker, f"maker {number}")
        called[maker] = name if name not in called.values() else f"{name} ({number})"
    return called


def _table(pours: list[Made], ladder: tuple[str, ...], names: Mapping[str, str]) -> pd.DataFrame:
    rows = [_row(each, ladder, names) for each in pours]
    table = pd.DataFrame(rows).sort_values("poured_at", kind="stable", ignore_index=True)
    for name in (*QUANTITIES, *PROCESS):
        table[name] = table[name].astype("float64")
    middle = _middle(table)
    from labkit.colour.cie import delta_e00

    known = table[list(COLOUR)].notna().all(axis=1) & bool(np.isfinite(middle[list(COLOUR)]).all())
    table["delta_e00"] = np.nan
    if known.any():
        colours = table.loc[known, list(COLOUR)].to_numpy(float)
        table.loc[known, "delta_e00"] = delta_e00(colours, middle[list(COLOUR)].to_numpy(float)[None, :])
    return table.assign(rungs_apart=table[HARDNESS] - middle[HARDNESS])


def _middle(table: pd.DataFrame) -> "pd.Series[float]":
    """Return what the original read, else the mean of the makers' means, by quantity."""
    quantities = list(QUANTITIES)
    own = table.loc[table["original"], quantities].mean()
    makers = table.groupby("maker")[quantities].mean().mean()
    return own.where(own.notna(), makers)


def _row(made: Made, ladder: tuple[str, ...], names: Mapping[str, str]) -> dict[str, Any]:
    comparable = made.ladder == ladder
    rungs = [ladder.index(word) + 1 for word in made.words] if comparable else []
    lab = np.mean(made.labs, axis=0) if made.labs else np.full(3, np.nan)
    return {
        "maker": names[made.maker],
        "original": made.original,
        "entry": made.entry,
        "poured_at": pd.Timestamp(made.poured_at).tz_convert("UTC"),
        "changed": made.changed,
        HARDNESS: float(np.mean(rungs)) if rungs else np.nan,
        "felt": len(rungs),
        **dict(zip(COLOUR, lab.tolist(), strict=True)),
        "read": len(made.labs),
        **{name: made.process.get(name) for name in PROCESS},
        **{name: made.process.get(name) or "" for name in WAYS},
    }


def _spread(table: pd.DataFrame, quantity: str) -> Spread | None:
    known = table[table[quantity].notna()]
    return spread(known, quantity, "maker") if len(known) >= 2 else None


def _by_quantity(spreads: Mapping[str, Spread | None], name: str) -> dict[str, float]:
    return {quantity: getattr(each, name) if each else np.nan for quantity, each in spreads.items()}


def _counted(table: pd.DataFrame, pours: list[Made], remade: list[Made], unlike: int) -> Iterator[str]:
    makers = table["maker"].nunique()
    yield f"{_count(len(remade), 'remake')} by {_count(len({each.maker for each in remade}), 'maker')}" + (
        ", beside the original." if len(remade) < len(pours) else "; the original was not read."
    )
    if otherwise := sum(bool(each.changed.strip()) for each in remade):
        yield f"In {otherwise} of them something was done otherwise on purpose: see “changed”."
    if len(table) == makers:
        yield "Nobody poured it twice, so how one maker's own pours differ is not known: ask for two each."
    if unlike:
        yield f"{_count(unlike, 'pour')} with other hardness words cannot be compared in hardness."


def _spread_words(table: pd.DataFrame, spreads: Mapping[str, Spread | None]) -> Iterator[str]:
    for quantity, found in spreads.items():
        if found:
            yield _one_spread(quantity, found)
    hard = spreads[HARDNESS]
    if hard and np.nan_to_num(hard.repeatability_sd) < ROUNDED:
        yield (
            "Words are whole rungs, and rungs are counted as evenly spaced: a spread under "
            f"{ROUNDED:.1f} rungs cannot be seen in them."
        )
    if hard:
        yield "Each maker felt their own pours: what differs between makers is their pours and their fingers."
    if table["delta_e00"].notna().any():
        away = table.loc[~table["original"], "delta_e00"]
        middle, most = away.median(), away.max()
        yield f"Remakes lie ΔE00 {middle:.1f} from the original, or from the mean (median; most {most:.1f})."


def _one_spread(quantity: str, found: Spread) -> str:
    name = "Hardness" if quantity == HARDNESS else QUANTITIES[quantity]
    unit = " rungs" if quantity == HARDNESS else ""
    own, all_makers = (_sd(found, each, unit) for each in ("repeatability_sd", "reproducibility_sd"))
    seen = found.groups_differ and not (quantity == HARDNESS and found.repeatability_sd < ROUNDED)
    tail = " That makers differ beyond their own pours is seen." if seen else ""
    return (
        f"{name}: two pours of one maker differ with sd {own}, two of different makers with sd {all_makers} "
        f"({_count(found.groups, 'maker')}, {_count(found.rows, 'pour')}; 90 % limits).{tail}"
    )


def _sd(found: Spread, name: str, unit: str) -> str:
    value, (low, high) = getattr(found, name), found.intervals[name]
    shown = "not known" if np.isnan(value) else f"{value:.2g}{unit}"
    most = "not known yet" if np.isinf(high) else f"{high:.2g}"
    return f"{shown} ({low:.2g} to {most})"


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'s' * (number != 1)}"
