"""The run sheet of a batch: in what order things go in, with room to write by hand, and the cautions."""

from typing import TYPE_CHECKING

from labkit.batch.cautions import cautions_for
from labkit.batch.day import heating_order, melt_in, too_thick
from labkit.batch.known import known_of
from labkit.errors import LabError
from labkit.quantities import show_grams
from labkit.ui.card import PRINT_STYLE
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

if TYPE_CHECKING:
    from labkit.batch.trial import BatchTrial

ROWS = 6
"""Blank lines for temperatures."""
SHEET_STYLE = PRINT_STYLE + (
    "body{font-size:10.5pt}p{margin:.25em 0}th,td{padding:.3em .4em;overflow-wrap:normal}"
    "td:empty{min-width:1.6cm}.labkit-caution{border-left:3px solid #000;padding-left:.6em;margin:.5em 0}"
    "h1{font-size:15pt}"
)
"""Fits two pages, and no word is broken."""


def run_sheet(trial: "BatchTrial") -> Html:
    """Return the sheet as markup, for the screen and for paper."""
    asked = trial.question
    order = heating_order(asked)
    heat = "hot fat", "water bath" if asked.heat == "water bath" else "burns"
    head = html("<h1>{}</h1>", trial.name)
    return joined(
        [
            html('<div class="labkit-paper">{}</div>', head),
            sentences(_plan_words(trial), first=False),
            _cautions(*dict.fromkeys((*heat, "burns"))),
            _order_table(trial),
            sentences([*order.remarks, *_doubts(trial)], first=False),
            _cautions("powders", "water in the melt"),
            html('<div class="labkit-paper">{}</div>', _blanks()),
            sentences(_pour_words(trial), first=False),
            _cautions("trying", "cleaning"),
            sentences(_sources(trial), first=False),
        ]
    )


def _plan_words(trial: "BatchTrial") -> list[str]:
    asked = trial.question
    order = heating_order(asked)
    total = sum(asked.grams.values())
    said = [f"{total:g} g, for {_into(trial)}." if asked.containers else f"{total:g} g."]
    if asked.heat == "water bath":
        said.append(
            f"Water bath: at {asked.elevation_m:g} m the water boils at {order.bath_c + 5:.1f} °C by the "
            f"standard atmosphere, and a pot in it gets to about {order.bath_c:.0f} °C."
        )
    else:
        said.append("Direct heat: the lowest flame, and a thermometer clipped to the pan.")
    said.append(f"Clear at about {order.clear_c:.0f} °C. Never hotter than {asked.hottest_c:g} °C.")
    return said


def _into(trial: "BatchTrial") -> str:
    asked = trial.question
    each = f" of {asked.fill_g:g} g" if asked.fill_g else ""
    return f"{asked.containers} containers{each}"


def _doubts(trial: "BatchTrial") -> list[str]:
    """Return what does not fit in the plan."""
    asked = trial.question
    said = []
    highest = max((each.ingredient.melts_to_c for each in asked.lines), default=0.0)
    if highest > asked.hottest_c:
        said.append(
            f"Something melts only at {highest:g} °C, and you go no hotter than {asked.hottest_c:g} °C. In "
            "hot oil wax dissolves below its own melting point: give it time in the oil, cut small."
        )
    if asked.pour_c is not None and asked.pour_c > asked.hottest_c:
        said.append(f"You want to pour at {asked.pour_c:g} °C, above your maximum of {asked.hottest_c:g} °C.")
    wanted = asked.containers * (asked.fill_g or 0.0)
    if wanted > sum(asked.grams.values()):
        said.append(
            f"{_into(trial)} take {wanted:g} g, and the recipe makes {sum(asked.grams.values()):g} g."
        )
    unknown = [each.name for each in asked.lines if each.kind in ("butter", "wax") and each.melts_c is None]
    if unknown:
        said.append(
            f"Where {', '.join(unknown)} melts is not recorded here: put it under More, “of your own”, and "
            "the order counts it."
        )
    if any(each.kind == "scent" and each.limit_c is None for each in asked.lines):
        said.append("The limit of your scent is not recorded here: its supplier's sheet says it.")
    return said


def _order_table(trial: "BatchTrial") -> Html:
    asked = trial.question
    grams = {each.name: show_grams(each.grams, asked.step_g) for each in asked.lines}
    order = heating_order(asked).rows
    lines = [
        [step, name, grams[name], when]
        for step, name, when in order[["step", "ingredient", "when"]].to_numpy().tolist()
    ]
    heads = ["", "into the pot", "grams", "when"]
    written = table(
        [*heads, "weighed", "lot", "at"], [[*each, "", "", ""] for each in lines], "In this order"
    )
    told = [[*each, why] for each, why in zip(lines, order["why"], strict=True)]
    shown = table([*heads, "why"], told, "In this order")
    return joined(
        [
            html('<div class="labkit-paper">{}</div>', written),
            html('<div class="labkit-screen labkit-wide">{}</div>', shown),
        ]
    )


def _blanks() -> Html:
    heads = ["", "time", "°C", "time", "°C", "time", "°C", "what happened"]
    rows = [[str(number), *[""] * 7] for number in range(1, ROWS + 1)]
    fills = [[f"{first} to {first + 7}", *[""] * 8] for first in (1, 9, 17)]
    filled = table(["", *[""] * 8], fills, "Filled, g, full less empty")
    return joined([table(heads, rows, "Temperatures"), filled])


def _pour_words(trial: "BatchTrial") -> list[str]:
    asked = trial.question
    said = []
    if asked.pour_c is not None:
        said.append(f"Pour at about {asked.pour_c:g} °C.")
    try:
        melt = melt_in(trial)
    except LabError as error:
        return [*said, str(error)]
    limit = too_thick(trial, melt)
    if limit is not None:
        said.append(f"Pour before {limit.celsius:.0f} °C: {limit.why}.")
    return [*said, *melt.why]


def _sources(trial: "BatchTrial") -> list[str]:
    found = [known_of(each.name).why for each in trial.question.lines]
    told = "; ".join(each for each in found if each)
    return [f"Recorded here: {told}. Your supplier's sheet counts before it."] if told else []


def _cautions(*where: str) -> Html:
    return html('<div class="labkit-caution">{}</div>', sentences(cautions_for(*where), first=False))
