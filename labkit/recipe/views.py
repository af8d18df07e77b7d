"""What the recipe panel shows, in the order of a maker's day."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from labkit.errors import LabError
from labkit.materials import substitutes
from labkit.quantities import show_grams
from labkit.recipe.batch_size import smallest_batch
from labkit.recipe.comparison import compare
from labkit.recipe.cost import cost_of
from labkit.recipe.handed import Colour
from labkit.recipe.premix import dispersion_for
from labkit.recipe.scales import on_scales
from labkit.recipe.weighed_out import weigh_out, weighing_error
from labkit.rules import CAUTION, Pack, beyond_the_label, label, permit_recipe
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

if TYPE_CHECKING:
    from labkit.recipe.written import WrittenRecipe

WAX_SD = 0.005
"""Share of wax within which a recipe is said to repeat: half a percentage point (a judgement)."""
_FEW = 6
"""Substitutes that are shown."""


def wide(grid: Html) -> Html:
    """Return a table that scrolls where it is wider than its place."""
    return html('<div class="labkit-wide">{}</div>', grid)


def becomes(trial: "WrittenRecipe") -> Html:
    """Return what the recipe becomes for the containers that are asked for."""
    asked, batch = trial.written, trial.batch
    told = on_scales(batch, batch.total_g)
    percent = trial.recipe.percent()
    rows = [
        [
            row["material"],
            f"{percent[row['material']]:.2f}",
            *(row[f"{step:g} g"] for step in (0.1, 0.01, 0.001)),
        ]
        for _, row in told.iterrows()
    ]
    said = [
        f"{asked.containers} of {asked.fill_g:g} g, and {asked.loss_percent:g} % that stays in "
        "pan and tools: "
        f"make {batch.total_g:.1f} g.",
        *_shares(trial),
    ]
    heads = ["", "%", "on a scale of 0.1 g", "0.01 g", "0.001 g"]
    return joined([sentences(said), wide(table(heads, rows, "What each line becomes, in g", numbers=4))])


def _shares(trial: "WrittenRecipe") -> list[str]:
    try:
        shares = trial.recipe.shares()
    except LabError as error:
        return [str(error)]
    told = " : ".join(f"{100 * each:.0f}" for each in shares.values())
    return [f"butter : oil : wax = {told}, of the base; pigment {sum(trial.recipe.loads().values()):.1f} %."]


def weighed(trial: "WrittenRecipe", colour: Colour | None) -> Html:
    """Return what to weigh, how far each line may be off, and what that does."""
    asked, total = trial.written, trial.batch.total_g
    try:
        told = weigh_out(trial.recipe, total, asked.step_g, asked.spoons, colour)
    except LabError as error:
        return joined([sentences([str(error)], first=False), _premix(trial)])
    rows = [_weighed_row(trial, row, colour is not None) for _, row in told.iterrows()]
    heads = ["", "weigh, g", "how", "may be off by", "of the share of wax", *(["ΔE00"] if colour else [])]
    grid = wide(table(heads, rows, "Weighing out; one standard deviation", numbers=4 if colour else 3))
    return joined([grid, sentences(_error_words(trial, colour), first=False), _premix(trial)])


def _weighed_row(trial: "WrittenRecipe", row: "pd.Series[Any]", coloured: bool) -> list[str]:
    shown = show_grams(float(row["grams"]), trial.written.step_g)
    cells = [
        row["material"],
        shown,
        row["how"],
        f"{row['relative_sd_percent']:.1f} %",
        f"{row['wax_share_sd']:.2f}",
    ]
    return [str(each) for each in (*cells, *([f"{row['delta_e00']:.2f}"] if coloured else []))]


def _error_words(trial: "WrittenRecipe", colour: Colour | None) -> list[str]:
    asked, total = trial.written, trial.batch.total_g
    found = weighing_error(trial.recipe, total, asked.step_g, asked.spoons, colour)
    said = [
        f"By weighing alone: wax {100 * found.wax_share:.1f} ± {100 * found.wax_share_sd:.2f} % "
        "of the base, pigment "
        f"{found.load_percent:.2f} ± {found.load_sd:.2f} %"
        + (f", colour ± ΔE00 {found.delta_e00:.1f}." if colour else ".")
    ]
    said.append(f"The line that counts most is {found.worst}.")
    least = smallest_batch(
        trial.recipe, asked.step_g, wax_share=WAX_SD, delta_e=1.0 if colour else None, colour=colour,
        spoons=asked.spoons,
    )  # fmt: skip
    goal = f"wax to {100 * WAX_SD:g} % of the base" + (" and ΔE00 1" if colour else "")
    said.append(f"To repeat within {goal}: {least.why}")
    return said


def _premix(trial: "WrittenRecipe") -> Html:
    """Return a pre-mix for the small pigments, where the scale is coarse for them."""
    try:
        found = dispersion_for(trial.recipe, trial.batch.total_g, trial.written.step_g)
    except LabError:
        return Html("")
    return sentences([found.why], first=False) if found.lines else Html("")


def permitted(trial: "WrittenRecipe") -> Html:
    """Return what each market says of the recipe's colourants on lips."""
    try:
        told = permit_recipe(trial.recipe, trial.written.markets)
    except LabError as error:
        return sentences([str(error), CAUTION], first=False)
    rows = [
        [row["colourant"], f"{row['percent']:.2f}", row["market"], _verdict(row), _cited(row)]
        for _, row in told.iterrows()
    ]
    heads = ["colourant", "%", "market", "on lips", "rule"]
    why = [f"{row['colourant']}, {row['market']}: {row['why']}" for _, row in told.iterrows()]
    more = html("<details><summary>Why, line by line</summary>{}</details>", sentences(why, first=False))
    papers = list(dict.fromkeys(str(each) for each in told["papers"] if each))
    return joined([wide(table(heads, rows, "May it?")), more, sentences([*papers, CAUTION], first=False)])


def _verdict(row: "pd.Series[Any]") -> str:
    limit = row["limit_percent"]
    return (
        str(row["verdict"]) if limit is None or limit != limit else f"{row['verdict']}, at most {limit:g} %"
    )


def _cited(row: "pd.Series[Any]") -> Html:
    recorded = (
        f"{row['citation']} (recorded {row['recorded']}{', from memory' if row['how'] == 'memory' else ''})"
    )
    if not row["link"]:
        return html("{}", recorded)
    return html('<a href="{}" target="_blank" rel="noopener">{}</a>', row["link"], recorded)


def labelled(trial: "WrittenRecipe") -> Html:
    """Return the label of each market, what is missing on it, and what is asked beyond it."""
    parts = []
    for market in trial.written.markets:
        try:
            found = label(trial.recipe, market, pack=Pack(net_g=trial.written.fill_g))
        except LabError as error:
            parts.append(html("<h3>{}</h3>{}", market, sentences([str(error)], first=False)))
            continue
        lines = joined((html("{}", each) for each in found.text.splitlines()), "<br>")
        missing = [f"Still missing: {'; '.join(found.missing)}."] if found.missing else []
        parts.append(
            html(
                "<h3>{}</h3><p><strong>{}</strong></p>{}",
                market, lines, sentences([*missing, *found.notes, *_beyond(market)], first=False),
            )
        )  # fmt: skip
    return joined([*parts, sentences([CAUTION], first=False)])


def _beyond(market: str) -> list[str]:
    duties = "; ".join(each.what.rstrip(".") for each in beyond_the_label(market))
    return [f"Beyond the label, to take to somebody licensed: {duties}."] if duties else []


def cost(trial: "WrittenRecipe") -> Html:
    """Return what a filled container costs, or which prices are missing."""
    asked = trial.written
    prices = {each.name: each.price_kg for each in asked.lines if each.price_kg is not None}
    if not prices:
        return sentences(["Give prices a kg in the recipe, and the cost of a tube stands here."], first=False)
    try:
        found = cost_of(
            trial.recipe, prices, containers=asked.containers, fill_g=asked.fill_g,
            container_price=asked.container_price, loss=asked.loss_percent / 100,
        )  # fmt: skip
    except LabError as error:
        return sentences([str(error)], first=False)
    rows = [
        [
            row["what"],
            "" if pd.isna(row["grams"]) else f"{row['grams']:.1f}",
            f"{row['cost']:.2f}",
            f"{100 * row['share']:.0f} %",
        ]
        for _, row in found.table.iterrows()
    ]
    said = [
        f"{found.each:.2f} each, {found.total:.2f} for {found.containers}. {found.why} "
        f"{found.lost:.2f} stays in the pan."
    ]
    return joined([sentences(said), wide(table(["", "g", "cost", "share"], rows, "Cost", numbers=3))])


def compared(trial: "WrittenRecipe", other: "WrittenRecipe") -> Html:
    """Return what differs between two recipes, likeliest causes first."""
    told = compare(other.recipe, trial.recipe)
    if told.empty:
        return sentences(["The two are one recipe."], first=False)
    rows = [
        [row["what"], *(_figure(row[name]) for name in ("a", "b", "change")), row["likely effect"]]
        for _, row in told.iterrows()
    ]
    heads = ["likeliest first", other.name, trial.name, "change", "likely effect"]
    return wide(table(heads, rows, "What differs"))


def _figure(value: float) -> str:
    return "" if pd.isna(value) else f"{value:.3g}"


def stand_ins(material: str, avoid: str) -> Html:
    """Return what could stand in for a material, best first."""
    told = substitutes(material, avoid=[each.strip() for each in avoid.split(",") if each.strip()])
    rows = [
        [row["material"], row["likely_change"], row["melting_c"], row["comes_from"], row["how_sure"]]
        for _, row in told.head(_FEW).iterrows()
    ]
    heads = ["instead", "likely change", "melts, °C", "comes from", "how sure"]
    left_out: Mapping[str, str] = told.attrs["left_out"]
    said = [f"Left out, since it is avoided: {', '.join(left_out)}."] if left_out else []
    none = ["Nothing recorded here could stand in for it."] if told.empty else []
    grid = wide(table(heads, rows, f"Instead of {material}")) if rows else Html("")
    return joined([grid, sentences([*none, *said], first=False)])
