"""The recipe card: one page that a stranger can remake from, as markup and as Markdown."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labkit.errors import LabError
from labkit.quantities import show_grams
from labkit.recipe.spoon import Spoon
from labkit.rules import CAUTION, permit_recipe
from labkit.ui.card import PRINT_STYLE
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

if TYPE_CHECKING:
    from labkit.recipe.written import WrittenRecipe

CARD_STYLE = PRINT_STYLE + (
    "body{font-size:10.5pt;max-width:18cm}p{margin:.25em 0}th,td{padding:.25em .5em;height:auto;"
    "overflow-wrap:normal}h1{font-size:16pt}h2{font-size:12pt;margin:.6em 0 .2em}"
    ".labkit-caution{border-left:3px solid #000;padding-left:.6em;margin:.4em 0}"
    "ol{margin:.2em 0;padding-left:1.4em}"
)
"""Fits one page, and says everything in black and white."""
HEAT = (
    "Hot fat burns and can catch fire: lowest heat or a water bath, never left, a lid at hand, "
    "no water near. "
    "Pan off the heat before you write."
)
POWDER = "Fine powders: raise no dust, wear a mask, keep them from flames."
SKIN = (
    "No try of hot melt on skin or lips. Ask testers about allergies (nuts, bee products, castor, "
    "carmine) before they touch a stick."
)
"""Common practice, no source."""


@dataclass(frozen=True)
class Card:
    """What stands on a card: a title, lines of a table, and sections of sentences.

    Attributes
    ----------
    name : str
    heads, rows
        Material, %, grams, and spoons where the maker wants them.
    sections : tuple of (title, sentences, numbered)
    """

    name: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    sections: tuple[tuple[str, tuple[str, ...], bool], ...]


def card_of(trial: "WrittenRecipe", told: Sequence[str] = ()) -> Card:
    """Return the card of a recipe; ``told`` is what is expected of hardness and shade, in sentences."""
    asked = trial.written
    batch = trial.batch
    rows = tuple(_row(trial, name, grams) for name, grams in batch.grams().items())
    heads = ("", "%", "g", *(("by the level spoon",) if asked.spoons else ()))
    makes = (
        f"Makes {asked.containers} of {asked.fill_g:g} g from {batch.total_g:.1f} g: about "
        f"{asked.loss_percent:g} % stays in pan and tools.",
    )
    sections = [
        ("It makes", makes, False),
        ("Before you begin", (HEAT, POWDER, SKIN), False),
        ("Order of work", _work(trial), True),
        ("A right result", tuple(each for each in (asked.right, _when(trial), *told) if each), False),
        ("Where it may be worn", _permitted(trial), False),
        ("Which recipe this is", _version(trial), False),
    ]
    kept = tuple(each for each in sections if each[1])
    return Card(trial.name, heads, rows, kept)


def _row(trial: "WrittenRecipe", name: str, grams: float) -> tuple[str, ...]:
    percent = trial.recipe.percent()[name]
    shown = (name, f"{percent:.2f}", show_grams(grams, trial.written.step_g))
    if not trial.written.spoons:
        return shown
    return (*shown, _spooned(name, grams) if name in trial.written.spoons else "")


def _spooned(name: str, grams: float) -> str:
    try:
        spooned = Spoon(name).measured(grams)
    except LabError:
        return "weigh it"
    off = 100 * 1.645 * spooned.sd_g / spooned.grams
    return f"{spooned.how} (may be {off:.0f} % off)"


def _work(trial: "WrittenRecipe") -> tuple[str, ...]:
    asked = trial.written
    steps = [each.strip() for each in asked.work.splitlines() if each.strip()]
    if asked.hottest_c is not None:
        steps.append(f"Never hotter than {asked.hottest_c:g} °C.")
    if asked.pour_c is not None:
        steps.append(f"Pour at about {asked.pour_c:g} °C.")
    return tuple(steps)


def _when(trial: "WrittenRecipe") -> str:
    hours = trial.written.waiting_h
    return "" if hours is None else f"Judge it after {hours:g} h, not before."


def _permitted(trial: "WrittenRecipe") -> tuple[str, ...]:
    try:
        told = permit_recipe(trial.recipe, trial.written.markets)
    except LabError as error:
        return (str(error), CAUTION)
    said = []
    for market, rows in told.groupby("market", sort=False):
        each = ", ".join(f"{row['colourant']} {row['verdict']}" for _, row in rows.iterrows())
        said.append(f"Lips, {market}: {each}.")
    return (*(said or ["There is no colourant in it."]), CAUTION)


def _version(trial: "WrittenRecipe") -> tuple[str, ...]:
    said = [f"Version {trial.recipe.version[:12]}, {trial.question_row.first.when:%Y-%m-%d}."]
    line = [each.name for each in trial.descent()]
    if len(line) > 1:
        said.append(f"Changed from {' → '.join(line[:-1])}.")
    if trial.written.send_back:
        said.append(f"Tell how yours came out: {trial.written.send_back}")
    return tuple(said)


# ------------------------------------------------------------ as markup, as text


def markup(card: Card) -> Html:
    """Return a card as markup, for the panel and for paper."""
    parts = [html("<h1>{}</h1>", card.name), table(card.heads, card.rows, numbers=2)]
    for title, said, numbered in card.sections:
        body = _numbered(said) if numbered else sentences(said, first=False)
        if title == "Before you begin":
            body = html('<div class="labkit-caution">{}</div>', body)
        parts.append(html("<h2>{}</h2>{}", title, body))
    return joined(parts)


def _numbered(said: Sequence[str]) -> Html:
    return html("<ol>{}</ol>", joined(html("<li>{}</li>", each) for each in said))


def page(card: Card) -> str:
    """Return a card as a web page of its own, which needs nothing else and prints on one sheet."""
    head = html('<meta charset="utf-8"><title>{}</title>', card.name)
    return (
        f'<!doctype html><html lang="en"><head>{head}<style>{CARD_STYLE}</style></head>'
        f"<body>{markup(card)}</body></html>\n"
    )


def markdown(card: Card) -> str:
    """Return a card as Markdown; signs that Markdown reads are escaped."""
    lines = [f"# {_plain(card.name)}", "", _md_row(card.heads), _md_row(["---"] * len(card.heads))]
    lines += [_md_row(row) for row in card.rows]
    for title, said, numbered in card.sections:
        marks = (f"{at}." for at in range(1, len(said) + 1)) if numbered else ("-" for _ in said)
        lines += [
            "",
            f"## {title}",
            "",
            *(f"{mark} {_plain(each)}" for mark, each in zip(marks, said, strict=True)),
        ]
    return "\n".join(lines) + "\n"


def _md_row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(_plain(each) for each in cells)} |"


def _plain(text: str) -> str:
    kept = " ".join(text.split())
    return "".join(f"\\{sign}" if sign in "\\`*_[]<>#|" else sign for sign in kept)
