"""What the batch panel says: what to do now, how the pot cools, when to pour, where the grams went."""

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from labkit.batch.balance import fill_spread, mass_balance
from labkit.batch.cautions import cautions_for
from labkit.batch.cooling import CoolingFit
from labkit.batch.day import heating_order, next_in, too_thick
from labkit.batch.melt import Melt
from labkit.batch.record import Happened, Judged, Taken
from labkit.batch.window import SETTLED_SHARE, PourWindow
from labkit.errors import LabError
from labkit.quantities import show_grams
from labkit.times import now, spoken

if TYPE_CHECKING:
    from labkit.batch.trial import BatchTrial


def standing(trial: "BatchTrial", cooling: CoolingFit | str, window: PourWindow | None) -> list[str]:
    """Return where the batch stands, the first sentence what to do now."""
    said = [_to_do(trial, cooling, window)]
    if hot := _too_hot(trial):
        said.insert(0, hot)
    if forked := trial.forked():
        said.append(
            f"{forked} entr{'ies were' if forked > 1 else 'y was'} mended in two places at once: choose it "
            "under “Your log” and save what is right."
        )
    return said


def cautions_now(trial: "BatchTrial") -> list[str]:
    """Return the cautions for what the hand does now."""
    if trial.poured:
        return list(cautions_for("trying", "cleaning"))
    said = [cautions_for("hot fat")[0]]
    missing = next_in(trial)
    kind = next((each.kind for each in trial.question.lines if each.name == missing), None)
    if trial.pot() is None or not trial.of(Happened):
        said += [*cautions_for("hot fat")[1:], *cautions_for("burns")]
        said += cautions_for("water bath") if trial.question.heat == "water bath" else ()
    if kind == "powder":
        said += cautions_for("powders")
    if not missing:
        said += cautions_for("trying")
    return said


def _too_hot(trial: "BatchTrial") -> str:
    table = trial.temperatures()
    if trial.poured or table.empty or not table["celsius"].iloc[-1] > trial.question.hottest_c:
        return ""
    return (
        f"Off the heat: the pot was at {table['celsius'].iloc[-1]:g} °C, and your maximum is "
        f"{trial.question.hottest_c:g} °C."
    )


def _to_do(trial: "BatchTrial", cooling: CoolingFit | str, window: PourWindow | None) -> str:
    if trial.of(Judged):
        return "The batch is judged: look below at how your batches differ."
    if trial.filled:
        return "Filled. Judge the sticks a day or two later: hardness, streaks, sink holes."
    if trial.poured:
        return f"Poured {spoken(trial.poured.at)}. Weigh what is in each, and what is left in the pan."
    missing = next_in(trial)
    off_the_heat = any(each.what == "heat off" for each in trial.of(Happened))
    if missing and (off_the_heat or not _goes_in_later(trial, missing)):
        return _next(trial, missing, cooling)
    if not off_the_heat:
        return _take_off(trial, missing)
    if isinstance(cooling, str):
        return "It cools. Read the pot every minute or two: after three readings the lab says how long."
    return _pour(trial, cooling, window)


def _goes_in_later(trial: "BatchTrial", name: str) -> bool:
    """Return whether an ingredient waits until the pot is off the heat."""
    when = heating_order(trial.question).rows.set_index("ingredient").loc[name, "when"]
    return str(when).startswith(("last", "off the heat"))


def _take_off(trial: "BatchTrial", missing: str) -> str:
    clean = any(each.what == "clean streak" for each in trial.of(Happened))
    inside = f"Everything but {missing} is in." if missing else "Everything is in."
    stir = "" if clean else f"{inside} Stir until no streak is seen. "
    return f"{stir}Take it off the heat, and press “heat off” with the temperature."


def _next(trial: "BatchTrial", missing: str, cooling: CoolingFit | str) -> str:
    asked = trial.question
    when = str(heating_order(asked).rows.set_index("ingredient").loc[missing, "when"])
    limit = next(each.limit_c for each in asked.lines if each.name == missing)
    said = f"Next: {show_grams(asked.grams[missing], asked.step_g)} g of {missing}, {when}"
    if isinstance(cooling, str) or limit is None:
        return f"{said}."
    until = cooling.minutes_until(limit)
    coming = trial.minutes(now()) < until < np.inf
    return f"{said}, at about {_at(trial, float(until))}." if coming else f"{said}: now."


def _pour(trial: "BatchTrial", cooling: CoolingFit, window: PourWindow | None) -> str:
    if window is not None and window.is_open:
        if trial.minutes(now()) > window.closes_min:
            return (
                f"The pour window closed at {_at(trial, window.closes_min)}: pour at once if it still "
                "flows, or warm it and begin again."
            )
        return f"Pour between {_at(trial, window.opens_min)} and {_at(trial, window.closes_min)}."
    if trial.question.pour_c is not None:
        when = cooling.minutes_until(trial.question.pour_c)
        if np.isfinite(when):
            return f"At {trial.question.pour_c:g} °C at about {_at(trial, float(when))}."
    return "It cools: see below when it sets."


def _at(trial: "BatchTrial", minutes: float) -> str:
    assert trial.clock is not None
    return f"{(trial.clock + timedelta(minutes=minutes)).astimezone():%H:%M}"


def cooling_words(
    trial: "BatchTrial", cooling: CoolingFit | str, window: PourWindow | None, melt: Melt | str
) -> list[str]:
    """Return how the pot cools, and when to pour, with what that rests on."""
    if isinstance(cooling, str):
        return [cooling]
    low, high = cooling.limits["tau_min"]
    said = [
        f"In {cooling.tau_min:.0f} min it cools 63 % of the way down to the room's {cooling.room_c:.0f} °C "
        f"(19 in 20 sure: {low:.0f} to {high:.0f} min)."
    ]
    if trial.question.pour_c is not None:
        said += _until(trial, cooling, trial.question.pour_c)
    said += cooling.notes
    if isinstance(melt, str):
        return [*said, melt]
    return [*said, *_window_words(trial, window, melt), *melt.why]


def _until(trial: "BatchTrial", cooling: CoolingFit, celsius: float) -> list[str]:
    when = cooling.minutes_until(celsius)
    if not np.isfinite(when):
        return [when.why or f"It never comes down to {celsius:g} °C."]
    if when.left <= 0:
        return [f"It is at or below {celsius:g} °C."]
    if not np.isfinite(when.high):
        about = _at(trial, float(when))
        return [f"At {celsius:g} °C at about {about}; how much later it may be is not known yet."]
    return [
        f"At {celsius:g} °C at about {_at(trial, float(when))} (19 in 20 sure: {_at(trial, when.low)} to "
        f"{_at(trial, when.high)}). Each reading makes that surer."
    ]


def _window_words(trial: "BatchTrial", window: PourWindow | None, melt: Melt) -> list[str]:
    limit = too_thick(trial, melt)
    if not melt.volume_fraction:
        return ["There is no powder in it that could settle."]
    if limit is None or window is None:
        return [
            "When it is too thick to pour is not known: note the temperature the first time that it is "
            "(“too thick”), or give it in the plan under More."
        ]
    because = f"It is {limit.why} ({limit.celsius:.0f} °C)."
    if not window.is_open:
        return [window.why, because]
    asked = trial.question
    return [
        f"Stir until {_at(trial, window.opens_min)} ({window.opens_c:.0f} °C): poured sooner, clumps of "
        f"{asked.clump_um:g} µm sink by more than {100 * SETTLED_SHARE:g} % of the {asked.mould_mm:g} mm "
        f"before it sets. Pour before {_at(trial, window.closes_min)} ({window.closes_c:.0f} °C). The mould "
        "is taken to cool like the pot.",
        because,
        f"19 in 20 sure: it opens between {_limits(trial, window.opens_limits)}, and closes between "
        f"{_limits(trial, window.closes_limits)}. How big the clumps are and how thick the melt is are not "
        "in that.",
    ]


def _limits(trial: "BatchTrial", limits: tuple[float, float]) -> str:
    low, high = (_at(trial, each) if np.isfinite(each) else "not known" for each in limits)
    return f"{low} and {high}"


def balance_words(trial: "BatchTrial") -> list[str]:
    """Return where the grams went, and how the fills spread; or why that cannot be said."""
    filled, pot = trial.filled, trial.pot()
    if filled is None:
        return []
    if pot is None:
        return ["What went into the pot was not written down, so there is no balance: log it first."]
    taken = sum(each.grams for each in trial.of(Taken))
    try:
        found = mass_balance(
            trial.went_in(), filled.fills_g, filled.pan_g, filled.tools_g, taken, trial.question.step_g
        )
    except LabError as error:
        return [str(error)]
    said = [
        f"{found.made_g:g} g went in, {found.filled_g:g} g are filled: {100 * found.loss_share:.1f} % are in "
        f"no container ({found.pan_g:g} g in the pan, {found.tools_g:g} g on tools, "
        f"{found.taken_g:g} g taken out).",
        found.why,
    ]
    if trial.question.fill_g and len(filled.fills_g) > 1:
        said.append(fill_spread(filled.fills_g, trial.question.fill_g).why)
    return said


def judged_words(judged: Judged) -> str:
    """Return how the sticks were found, in a sentence."""
    parts = [judged.word] if judged.word else []
    if judged.streaks is not None:
        parts.append(f"streaks {judged.streaks} of 4")
    if judged.sink_holes is not None:
        parts.append(f"{judged.sink_holes} of {judged.looked_at} with a sink hole")
    return f"{spoken(judged.judged_at)}: {', '.join(parts)}."
