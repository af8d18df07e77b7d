"""What the panel shows of a drip: what to add to the pot, smallest first."""

from typing import TYPE_CHECKING

import numpy as np

from labkit.batch.least import add_all
from labkit.batch.pot import Pot
from labkit.batch.pot_answer import SHOWN, Answer
from labkit.batch.side_effects import side_effects
from labkit.quantities import show_grams
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

if TYPE_CHECKING:
    import pandas as pd

    from labkit.batch.asked import Floats

_NINE_IN_TEN = 1.645


def answer_view(answer: Answer, pot: Pot, step_g: float) -> Html:
    """Return the answer to a drip: sentences, and the additions, smallest first."""
    parts = [sentences(answer.said)]
    if answer.hardness is not None and len(answer.hardness.rows):
        parts.append(_hardness_table(answer, answer.hardness.rows, pot, step_g))
    if answer.colour is not None and len(answer.colour.rows):
        parts.append(_colour_table(answer.colour.rows, step_g))
    return joined(parts)


def _hardness_table(answer: Answer, found: "pd.DataFrame", pot: Pot, step_g: float) -> Html:
    rows = []
    for row in found.head(SHOWN).to_dict("records"):
        after = add_all(pot, {row["add"]: row["grams"]})
        words = (_word(row[each], answer.ladder) for each in ("hardness_before", "hardness_after"))
        also = side_effects(pot, after, answer.watched, but="hardness")
        sure = f"± {_NINE_IN_TEN * row['sd']:.1f} words"
        rows.append([row["add"], show_grams(row["grams"], step_g), " → ".join(words), sure, also])
    heads = ["add now", "g", "sets", "9 in 10 sure", "what else changes"]
    return _wide(heads, rows, f"For how hard it sets, smallest first{_more(len(found))}", found)


def _word(rungs: float, ladder: tuple[str, ...]) -> str:
    """Return a hardness as the nearest word, and its place on the ladder, 0 the softest."""
    if not ladder:
        return f"{rungs:.1f}"
    return f"{ladder[int(np.clip(round(rungs), 0, len(ladder) - 1))]} ({rungs:.1f})"


def _colour_table(found: "pd.DataFrame", step_g: float) -> Html:
    rows = []
    for row in found.head(SHOWN).to_dict("records"):
        forecast = html("{} → {}", _chip(row["before"]), _chip(row["after"]))
        changes = "; ".join(filter(None, (row["turns"], row["also"])))
        left, sure = f"{row['left_de']:.1f}", f"± {_NINE_IN_TEN * row['sd']:.0f}"
        rows.append([row["add"], _grams(row["parts_g"], step_g), forecast, left, sure, changes])
    heads = [
        "add now", "g", "forecast, a thick drip", "ΔE00 left", "9 in 10 sure, ΔE", "what else changes",
    ]  # fmt: skip
    return _wide(heads, rows, f"For the colour, smallest first{_more(len(found))}", found)


def _grams(parts_g: dict[str, float], step_g: float) -> str:
    total = show_grams(sum(parts_g.values()), step_g)
    if len(parts_g) == 1:
        return total
    return f"{total}: " + ", ".join(f"{show_grams(grams, step_g)} {name}" for name, grams in parts_g.items())


def _chip(lab: "Floats") -> Html:
    from labkit.colour.cie import hex_of_lab

    told = f"L* {lab[0]:.0f}, a* {lab[1]:.0f}, b* {lab[2]:.0f}"
    box = "display:inline-block;width:2.6em;height:1.6em;vertical-align:middle;background:"
    return html('<span role="img" aria-label="{}" style="{}"></span> {}', told, box + hex_of_lab(lab), told)


def _more(count: int) -> str:
    return f" (and {count - SHOWN} more that take more grams)" if count > SHOWN else ""


def _wide(heads: list[str], rows: list[list[str]], caption: str, found: "pd.DataFrame") -> Html:
    """Return the table, and folded below it what each addition does to the % of everything."""
    shown = found.head(SHOWN)
    each = joined(
        html("<li>{}: {}</li>", name, percent)
        for name, percent in zip(shown["add"], shown["what_else"], strict=True)
    )
    every = html("<details><summary>The % of everything</summary><ul>{}</ul></details>", each)
    return html('<div class="labkit-wide">{}</div>{}', table(heads, rows, caption), every)
