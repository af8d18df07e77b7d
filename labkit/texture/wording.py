"""What a texture trial says, in sentences."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import pandas as pd

from labkit.quantities import in_ten
from labkit.texture.again import due_words
from labkit.texture.hardness import JUDGED_AT_H
from labkit.texture.record import HELD

if TYPE_CHECKING:
    from labkit.texture.record import PlannedPour
    from labkit.texture.standing import Cast
    from labkit.texture.trial import TextureTrial

MAP_FROM_POURS = 4
"""Fewer felt pours than this make no map of one's own."""

FAIR_AFTER_H = JUDGED_AT_H
"""A stick is judged a day or two after the pour (common practice, no source)."""

LOAD_DRIFT = 0.02
"""A held ingredient this far from its usual fraction is said beside the map (a judgement, no source)."""

FAR = 2.0
"""An ingredient weighed at over so many times its plan, or under a part of that, is asked about."""

NEARLY = 0.04
"""Pours whose shares differ by no more than this are nearly one recipe (a judgement, no source)."""

LOAD_TOLD = 0.10
"""Mass fraction of pigment that a map of another load is told for: a full colour (a judgement, no source)."""

INNER_DRIFT = 0.1
"""An ingredient this far from its usual share of its part is said too (a judgement, no source)."""


def day_part(when: datetime) -> str:
    """Return a time as a maker says it.

    >>> day_part(datetime(2026, 3, 5, 19, 20))
    'Thursday evening'
    """
    parts = ((5, "night"), (12, "morning"), (18, "afternoon"), (22, "evening"), (24, "night"))
    return f"{when:%A} {next(word for hour, word in parts if when.hour < hour)}"


def hours_words(hours: float) -> str:
    """Return hours as a maker says them.

    >>> hours_words(0.5), hours_words(5.2), hours_words(49)
    ('30 min', '5 h', '2 days')
    """
    if abs(hours) < 1:
        return f"{60 * hours:.0f} min"
    return f"{hours:.0f} h" if hours < 36 else f"{hours / 24:.0f} days"


def composition(trial: "TextureTrial", shares: dict[str, float]) -> str:
    """Return a composition: % of the finished product first, shares of the base second."""
    product = 1 - trial.question.held_fraction
    first = ", ".join(f"{100 * product * shares[part]:.0f} % {part}" for part in trial.question.parts)
    held = f", {100 * (1 - product):.0f} % {HELD}" if product < 1 else ""
    second = " : ".join(f"{100 * shares[part]:.0f}" for part in trial.question.parts)
    return f"{first}{held} ({' : '.join(trial.question.parts)} = {second} in the base)"


def standing(trial: "TextureTrial", now: datetime) -> list[str]:
    """Return where a trial stands, the most important sentence first."""
    if not trial.casts:
        return [
            f"Weigh and pour: {_count(len(trial.waiting), 'pour')} on the card below.",
            "The usual stands there twice on purpose: the two show how much your pours differ by themselves.",
            *trial.weighing.remarks(),
        ]
    said = [said for cast in trial.casts if (said := not_yet(trial, cast, now))][-3:]
    said += due_words(trial.due(now), now)[:2]
    if trial.has_map:
        return [best(trial), *defects_near(trial), *said]
    felt = _count(trial.readings()["cast"].nunique(), "pour").capitalize()
    ahead = f"{felt} felt so far. Your own map is drawn from {MAP_FROM_POURS} pours on."
    return [*said, *counted(trial), ahead]


def best(trial: "TextureTrial") -> str:
    """Return what is most likely right as things stand, with its chance and what that rests on."""
    row = trial.likeliest
    shares = {part: float(row[part]) for part in trial.question.parts}
    readings = trial.readings()
    rests = f"{_count(len(readings), 'note')} on {_count(readings['cast'].nunique(), 'pour')}"
    return (
        f"Most likely “{trial.question.wanted}” as things stand: {composition(trial, shares)}. "
        f"Chance that a pour of it is: {in_ten(row['chance'])}, resting on {rests}."
    )


def defects_near(trial: "TextureTrial") -> list[str]:
    """Return which defects were seen on pours of nearly the recipe that is most likely right."""
    row, looks = trial.likeliest, trial.looks()
    said = []
    for cast in trial.casts:
        shares = trial.weighing.shares(cast.pour.weighed_g)
        if max(abs(shares[part] - float(row[part])) for part in trial.question.parts) > NEARLY:
            continue
        for _, look in looks[looks["cast"] == cast.entry].iterrows():
            if look["defects"]:
                seen = f"{', '.join(look['defects'])} after {hours_words(look['hours'])}"
                said.append(f"But pour {cast.label}, of nearly this recipe, showed {seen}.")
    return said


def not_yet(trial: "TextureTrial", cast: "Cast", now: datetime) -> str:
    """Return when a fresh pour is fair to judge and the chance that it is right then; nothing once it is."""
    if (now - cast.pour.poured_at).total_seconds() / 3600 >= FAIR_AFTER_H:
        return ""
    by = day_part((cast.pour.poured_at + timedelta(hours=FAIR_AFTER_H)).astimezone())
    number, chance = cast.label, trial.chance_when_set(cast.label)
    if chance is None:
        return f"Don't judge pour {number} before {by}: a stick goes on setting for a day or two."
    return f"Don't judge pour {number} yet: {in_ten(chance)} “{trial.question.wanted}” by {by}."


def suggestion_words(trial: "TextureTrial", suggestion: pd.DataFrame) -> list[str]:
    """Return each suggested pour as a sentence: why, the composition, its chance."""
    return [_suggested(trial, row) for _, row in suggestion.iterrows()]


def _suggested(trial: "TextureTrial", row: "pd.Series[Any]") -> str:
    shares = {part: float(row[part]) for part in trial.question.parts}
    why = f"{row['why'][:1].upper()}{row['why'][1:]}"
    return f"{why}: {composition(trial, shares)}; {in_ten(row['chance'])} “{trial.question.wanted}”."


def far_from_plan(planned: Mapping[str, float], weighed: Mapping[str, float]) -> str:
    """Return which ingredient was weighed so far from the plan that it may be a slip; nothing where none was.

    >>> far_from_plan({"shea butter": 12.0, "beeswax": 6.0}, {"shea butter": 120.0, "beeswax": 6.5})
    'But 120 g shea butter where 12 g was planned: mend it if that is a slip.'
    """
    far = [
        f"{weighed.get(name, 0.0):g} g {name} where {grams:g} g was planned"
        for name, grams in planned.items()
        if not grams / FAR <= weighed.get(name, 0.0) <= grams * FAR
    ]
    return f"But {' and '.join(far)}: mend it if that is a slip." if far else ""


def said(note: "Mapping[str, Any] | pd.Series[Any]") -> str:
    """Return what a note says, in words; ``than`` is in words already.

    >>> said({"word": "soft", "relation": "softer", "than": "pour 4", "reading": None})
    '“soft”, softer than pour 4'
    """
    told = [f"“{note['word']}”"] if note.get("word") else []
    if note.get("relation"):
        link = "as hard as" if note["relation"] == "same" else f"{note['relation']} than"
        told.append(f"{link} {note['than']}")
    if pd.notna(note.get("reading")):
        unit = "g" if note["read_with"] == "rod" else "× 0.1 mm"
        told.append(f"{note['reading']:g} {unit} by {note['read_with']}")
    return ", ".join(told) or "marks"


def card_words(pours: "Sequence[PlannedPour]") -> str:
    """Return which pours were put on the weigh card."""
    numbers = [str(pour.number) for pour in pours]
    if len(numbers) == 1:
        return f"On the weigh card: pour {numbers[0]}."
    return f"On the weigh card: pours {', '.join(numbers[:-1])} and {numbers[-1]}."


def plan_words(plan: pd.DataFrame) -> str:
    """Return how much a plan teaches, and how it would teach more where it could."""
    share, pours = plan.attrs["efficiency"], _count(len(plan), "pour")
    said = f"On the weigh card: {pours}, {100 * share:.0f} % as informative as the best plan found."
    return said if share > 0.6 else f"{said} Fewer repeats, or more pours, would teach the map more."


def cautions(trial: "TextureTrial") -> list[str]:
    """Return what to know before believing the chances."""
    said = trial.model.cautions if trial.model is not None else ()
    return [each for each in said if "reference stick" not in each]


def counted(trial: "TextureTrial") -> list[str]:
    """Return which earlier trials count in the map."""
    olds = [f"“{each.name}” ({100 * each.alike:.0f} % alike)" for each in trial.olds if each.counts]
    return [f"Counts here as well: {', '.join(olds)}."] if olds else []


def about(trial: "TextureTrial") -> str:
    """Return what a map is about, and so what it says nothing about."""
    groups = [f"{part} is {trial.weighing.what(part)}" for part in trial.question.parts]
    held = trial.weighing.held_words()
    return f"This map is for these alone: {'; '.join(groups)}{f'; with {held}' if held else ''}."


def loaded(trial: "TextureTrial") -> list[str]:
    """Return what another pigment load would do to what is most likely right."""
    if trial.model is None or not trial.has_map:
        return []
    here, there = trial.model.gathered.load, LOAD_TOLD
    if abs(here - there) < LOAD_DRIFT:
        return []
    row = trial.likeliest
    shares = pd.DataFrame([row[list(trial.question.parts)]], dtype=float)
    then = trial.model.predict(shares, load=there).iloc[0]
    by = float(then["hardness"]) - float(trial.model.predict(shares, load=here)["hardness"].iloc[0])
    return [
        f"The same base with {100 * there:.0f} % pigment instead of {100 * here:.0f} %: expect it "
        f"{abs(by):.1f} words {'harder' if by > 0 else 'softer'}, unsure by {then['sd']:.1f}; "
        f"{in_ten(then[trial.question.wanted])} “{trial.question.wanted}”."
    ]


def remarks(trial: "TextureTrial") -> list[str]:
    """Return what should be known beside the map."""
    return [
        *counted(trial), *trial.left_out, *_instruments(trial), *_drifts(trial), *_inner_drifts(trial),
        *_forms(trial), *_forks(trial), *_clocks(trial), *_strays(trial),
    ]  # fmt: skip


def _drifts(trial: "TextureTrial") -> list[str]:
    question, said = trial.question, []
    for held in (each for each in question.usual if each.part == HELD):
        usual = held.grams / question.usual_g
        for cast in trial.casts:
            share = cast.pour.weighed_g.get(held.name, 0.0) / sum(cast.pour.weighed_g.values())
            if abs(share - usual) > LOAD_DRIFT:
                said.append(
                    f"Pour {cast.label} holds {100 * share:.0f} % {held.name}, and this map is for "
                    f"{100 * usual:.0f} %: read it with care."
                )
    return said


def _inner_drifts(trial: "TextureTrial") -> list[str]:
    """Return where the ingredients of one part were weighed in another ratio than the usual one."""
    usual = {each.name: each.grams for each in trial.question.usual}
    said = []
    for part in trial.question.parts:
        names = [each.name for each in trial.question.usual if each.part == part]
        expected = _within(usual, names)
        for cast in trial.casts:
            found = _within(cast.pour.weighed_g, names)
            off = max(names, key=lambda name: abs(found[name] - expected[name]))
            if abs(found[off] - expected[off]) > INNER_DRIFT:
                said.append(
                    f"{100 * found[off]:.0f} % of the {part} of pour {cast.label} is {off}, and this map is "
                    f"for {100 * expected[off]:.0f} %: it takes them for one {part}."
                )
    return said


def _within(grams: Mapping[str, float], names: Sequence[str]) -> dict[str, float]:
    total = sum(grams.get(name, 0.0) for name in names)
    return {name: grams.get(name, 0.0) / total if total else 0.0 for name in names}


def _forms(trial: "TextureTrial") -> list[str]:
    if trial.notes()["form"].nunique() < 2:
        return []
    return [f"Only {trial.form}s count here: the words for sticks and pots are not mixed."]


def _forks(trial: "TextureTrial") -> list[str]:
    pours = dict.fromkeys(cast.label for cast in trial.casts if cast.forked)
    notes = dict.fromkeys(trial.notes().query("forked")["pour"])
    return [
        *(f"Pour {label} was mended in two ways. Mend it once more to say which holds." for label in pours),
        *(
            f"A note on pour {number} was mended in two ways; the later one counts. "
            "Mend it once more to say which holds."
            for number in notes
        ),
    ]


def _clocks(trial: "TextureTrial") -> list[str]:
    early = trial.notes().query("hours < 0")["pour"]
    return [
        f"A note on pour {number} lies before its pour and does not count. Mend one of the times."
        for number in early
    ]


def _instruments(trial: "TextureTrial") -> list[str]:
    """Return which readings count, where they were taken with several instruments."""
    used = trial.notes().query("instrument != ''")["instrument"].value_counts()
    if len(used) < 2:
        return []
    return [
        f"Readings with one instrument count in a map: here those with the {used.index[0]}, not those with "
        f"the {' or the '.join(used.index[1:])}."
    ]


def _strays(trial: "TextureTrial") -> list[str]:
    return [
        f"Pour {cast.label} was weighed with other ingredients than this trial's, and does not count."
        for cast in trial.strays
    ]


def _count(number: int, thing: str) -> str:
    words = ("no", "one", "two", "three", "four", "five", "six")
    shown = words[number] if number < len(words) else str(number)
    return f"{shown} {thing}{'' if number == 1 else 's'}"
