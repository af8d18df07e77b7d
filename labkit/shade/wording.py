"""What the shade panel says: where a trial stands, what the sweep shows, what swatches taught."""

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from labkit.shade.learned import Learned
from labkit.shade.load_sweep import Enough
from labkit.shade.repeats import real_difference
from labkit.shade.verdict import verdict

if TYPE_CHECKING:
    from labkit.shade.trial import ShadeTrial

ESTIMATE = (
    "Without swatches a forecast is an estimate: expect it off by 4 to 10 ΔE00. One thick swatch of each "
    "pigment, and one of it with white over the white card, make it your own (Swatch, More, Another ratio)."
)
_FEW_DE = 2.0


def standing(trial: "ShadeTrial") -> list[str]:
    """Return where the trial stands, the first sentence the most important."""
    count = len({row.entry for row in trial.swatch_rows})
    parts = ", ".join(f"{parts:.3g} {name}" for name, parts in trial.question.parts.items())
    asked = f"{parts} (in parts), for lips, {trial.question.market}."
    if not count and (others := learned_words(trial.learned)):
        return ["No swatch in this trial yet.", asked, *others]
    if not count:
        return ["No swatch yet: what you see is an estimate.", asked, ESTIMATE]
    logged = f"{count} swatch{'es' * (count > 1)} logged."
    return [logged, asked, *learned_words(trial.learned), *_odd_swatches(trial)]


def _odd_swatches(trial: "ShadeTrial") -> list[str]:
    said = []
    if forked := trial.forked():
        said.append(
            f"{forked} swatch{'es were' if forked > 1 else ' was'} mended in two places at once. Both "
            "versions stand in the list, and the one written last counts: choose it there and save what is "
            "right."
        )
    if unknown := trial.without_forecast():
        said.append(
            f"Swatches with {', '.join(unknown)} are kept and teach nothing: labkit has no forecast of it."
        )
    return said


def learned_words(learned: Learned) -> list[str]:
    """Return what the swatches taught, or why they could not."""
    if learned.refused:
        one = len(learned.swatches) == 1
        said = (
            "Only your first swatch corrects the forecast" if one else "Your swatches do not correct it yet"
        )
        return [f"{said}: {learned.refused}"]
    own = [
        name
        for name, basis in zip(learned.pigments.names, learned.pigments.basis, strict=True)
        if basis == "your swatches"
    ]
    return [f"Forecasts rest on your swatches for {', '.join(own)}."] if own else []


def enough_words(enough: Enough, highest: float) -> str:
    """Return from which load on more pigment hardly covers more, and how sure that is."""
    if not np.isfinite(enough.load):
        return f"Up to {highest:g} %, every further % of pigment still covers more."
    high = f"to {enough.high:.0f} %" if np.isfinite(enough.high) else f"to beyond {highest:g} %"
    return f"From {enough.load:.0f} % on, more pigment hardly covers more (9 in 10: {enough.low:.0f} {high})."


def sweep_words(told: pd.DataFrame, film_um: float, enough: Enough) -> list[str]:
    """Return what a sweep shows in the question's film."""
    rows = told[told["film_um"] == film_um].drop_duplicates("load").sort_values("load")
    last = rows.iloc[-1]
    band = f"9 in 10 from {last['contrast_low']:.2f} to {last['contrast_high']:.2f}"
    said = [
        enough_words(enough, last["load"]),
        f"In a film of {film_um:g} µm, {last['load']:g} % covers to a contrast ratio of "
        f"{last['contrast_ratio']:.2f} ({band}).",
    ]
    if len(told["backing"].unique()) > 1:
        said.append(_through(last["show_through"], last["show_low"], last["show_high"]))
    return [*said, "A contrast ratio of 1 hides everything; a difference of 2 ΔE00 is hardly seen."]


def _through(delta_e00: float, low: float, high: float) -> str:
    seen = "hardly seen" if delta_e00 <= _FEW_DE else "what lies below shows through"
    band = f"9 in 10: {low:.1f} to {high:.1f}"
    return (
        f"Over the lightest and the darkest backing it then differs by {delta_e00:.1f} ΔE00 ({band}): {seen}."
    )


def swatch_words(after: "ShadeTrial", entry: str) -> str:
    """Return what a new swatch showed: how far off its forecast was."""
    last = after.told(entry).iloc[0]
    return (
        f"Saved. The forecast was {last['delta_e00']:.1f} ΔE00 off ({verdict(last['delta_e00'])}). "
        f"{' '.join([*learned_words(after.learned), *after.misfits(entry)])}"
    ).strip()


def told_words(told: pd.DataFrame) -> list[str]:
    """Return how forecasts fared against swatches."""
    if told.empty:
        return []
    now, estimate = told["delta_e00"].median(), told["estimate_delta_e00"].median()
    if len(told) == 1:
        return [f"Your swatch was {now:.1f} ΔE00 from what was forecast before it."]
    said = [f"Half of your {len(told)} swatches were within {now:.1f} ΔE00 of what was forecast before each."]
    better = "Your swatches helped" if now < estimate else "Your swatches have not helped yet"
    return [*said, f"{better}: labkit's estimate alone would have been within {estimate:.1f} ΔE00."]


def repeats_words(found: pd.DataFrame) -> list[str]:
    """Return how repeat swatches vary, within a batch and between batches."""
    if found.empty:
        return [
            "Swatch the same blend twice, and the lab can say what difference between two swatches is real."
        ]
    within, shift = found["mcdm"].dropna(), found["shift"].dropna()
    said = []
    if len(within):
        n = int(found.loc[found["mcdm"].notna(), "n"].sum())
        mean = np.average(within, weights=found.loc[within.index, "n"])
        said.append(
            f"Repeat swatches of one batch lie {mean:.1f} ΔE00 from their mean (MCDM, {n} swatches). Two "
            f"swatches less than about {real_difference(found):.1f} apart may well be alike."
        )
    if len(shift):
        said.append(f"Batches of one blend lie up to {shift.max():.1f} ΔE00 from their common mean.")
    return said
