"""What follows from a day's plan and log: what goes in next, the melt, when it is too thick, when to pour."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labkit.batch.bath import water_bath_ceiling
from labkit.batch.cooling import CoolingFit
from labkit.batch.known import known_of
from labkit.batch.melt import Melt, melt_of
from labkit.batch.order import HeatingOrder, Kind, order_of_heating
from labkit.batch.past import alike
from labkit.batch.record import Happened, Question
from labkit.batch.window import PourWindow, pour_window
from labkit.errors import LabError
from labkit.quantities import decimals

if TYPE_CHECKING:
    from labkit.batch.trial import BatchTrial


@dataclass(frozen=True)
class TooThick:
    """From which temperature a melt is too thick to pour, and how that is known."""

    celsius: float
    why: str


def heating_order(question: Question) -> HeatingOrder:
    """Return in what order the recipe goes in, and what a water bath at the maker's elevation reaches."""
    ceiling = water_bath_ceiling(question.elevation_m)
    return order_of_heating([each.ingredient for each in question.lines], ceiling)


def next_in(trial: "BatchTrial") -> str:
    """Return what goes into the pot next, by the order of heating; "" once all is in."""
    pot = trial.pot()
    inside = {name.casefold() for name in pot.grams} if pot else set()
    names = heating_order(trial.question).rows["ingredient"].tolist()
    return next((name for name in names if name.casefold() not in inside), "")


def same_recipe(one: Question, other: Question) -> bool:
    """Return whether two plans are one recipe, whatever their size."""
    return alike(_shares(one.grams), _shares(other.grams))


def scaled(question: Question, total_g: float) -> Question:
    """Return a plan with the same parts and another total, to the step of the scale."""
    times = total_g / sum(question.grams.values())
    places = decimals(question.step_g)
    lines = [
        each.model_copy(update={"grams": max(round(each.grams * times, places), question.step_g)})
        for each in question.lines
    ]
    return question.model_copy(update={"lines": tuple(lines)})


def _shares(grams: Mapping[str, float]) -> dict[str, float]:
    total = sum(grams.values())
    return {name.casefold(): each / total for name, each in grams.items()}


def melt_in(trial: "BatchTrial") -> Melt:
    """Return what the melt in the pot is like, or the planned one before all is in."""
    pot = trial.pot()
    grams = dict(pot.grams) if pot is not None and not next_in(trial) else trial.question.grams
    return melt_of(grams, kinds_of(trial.question, grams), cloud_seen(trial))


def kinds_of(question: Question, grams: Mapping[str, float]) -> dict[str, Kind]:
    """Return of which kind each ingredient is; what is not in the plan and not known counts as an oil."""
    planned: dict[str, Kind] = {each.name: each.kind for each in question.lines}
    return {name: planned.get(name) or known_of(name).kind or "oil" for name in grams}


def cloud_seen(trial: "BatchTrial") -> float | None:
    """Return where this melt was seen to cloud: in this batch, else in the latest of the same recipe."""
    return _seen(trial, "it clouds")


def too_thick(trial: "BatchTrial", melt: Melt) -> TooThick | None:
    """Return from where the melt is too thick to pour; None where nothing says it.

    The plan says it, or an earlier batch of the same recipe; else it is taken to thicken where wax
    begins to leave solution.
    """
    if trial.question.too_thick_c is not None:
        return TooThick(trial.question.too_thick_c, "too thick at the temperature that you gave")
    if (seen := _seen(trial, "too thick")) is not None:
        return TooThick(seen, "too thick where you found it so")
    if melt.cloud is not None:
        how = "you saw it cloud" if melt.cloud.how == "observed" else "wax would leave an ideal solution"
        return TooThick(melt.cloud.celsius, f"taken as too thick where {how}")
    return None


def window_of(trial: "BatchTrial", cooling: CoolingFit | str, melt: Melt | str) -> PourWindow | None:
    """Return when to pour; None where nothing can settle, or nothing says when it is too thick."""
    if isinstance(cooling, str) or isinstance(melt, str) or not melt.volume_fraction:
        return None
    limit = too_thick(trial, melt)
    if limit is None:
        return None
    return pour_window(
        cooling, melt.viscosity, clump_um=trial.question.clump_um,
        delta_density_kg_m3=melt.delta_density_kg_m3, volume_fraction=melt.volume_fraction,
        mould_mm=trial.question.mould_mm, too_thick_mpa_s=melt.viscosity(limit.celsius),
    )  # fmt: skip


def melt_or_why(trial: "BatchTrial") -> Melt | str:
    """Return what the melt is like, or in words why that is not known."""
    try:
        return melt_in(trial)
    except LabError as error:
        return str(error)


def cooling_or_why(trial: "BatchTrial") -> CoolingFit | str:
    """Return the cooling curve, or in words why there is none yet."""
    try:
        return trial.cooling
    except LabError as error:
        return str(error)


def _seen(trial: "BatchTrial", what: str) -> float | None:
    own = [each.celsius for each in trial.of(Happened) if each.what == what and each.celsius is not None]
    if own:
        return own[-1]
    plans = {row.entry: row.head.payload for row in trial.book.rows(Question.kind)}
    events = [Happened.of(row.head.payload) for row in trial.book.rows(Happened.kind)]
    known = [each for each in events if each.what == what and each.celsius is not None]
    for each in sorted(known, key=lambda one: one.at, reverse=True):
        if each.question in plans and same_recipe(Question.of(plans[each.question]), trial.question):
            return each.celsius
    return None
