"""A recipe's card written into the lab folder, as a web page and as Markdown."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from labkit.errors import LabError
from labkit.recipe.card import card_of, markdown, page

if TYPE_CHECKING:
    from labkit.recipe.written import WrittenRecipe

LONGEST = 60


def write_card(
    trial: "WrittenRecipe", told: Sequence[str] = (), folder: str | Path | None = None
) -> tuple[Path, Path]:
    """Write a card as a web page and as Markdown, and return where.

    A card's name holds the recipe's version: the same recipe is written again, another one beside it.

    Parameters
    ----------
    told : sequence of str
        What is expected of hardness and shade, in sentences.
    folder : path, optional
        By default “cards” beside where Python runs, which in the lab is the lab folder.

    Raises
    ------
    LabError
        Where nothing can be written there.
    """
    card = card_of(trial, told)
    place = Path(folder) if folder is not None else Path.cwd() / "cards"
    stem = f"{_file_name(trial.name)}-{trial.recipe.version[:8]}"
    made = place / f"{stem}.html", place / f"{stem}.md"
    try:
        place.mkdir(parents=True, exist_ok=True)
        for path, text in zip(made, (page(card), markdown(card)), strict=True):
            draft = path.with_suffix(path.suffix + ".new")
            draft.write_text(text, encoding="utf-8")
            draft.replace(path)
    except OSError as problem:
        raise LabError(
            f"The card cannot be written into {place}: {problem.strerror or problem}."
        ) from problem
    return made


def _file_name(name: str) -> str:
    """Return a name that every disk takes.

    >>> _file_name("Rosewood: <b>/2")
    'Rosewood-b-2'
    """
    return re.sub(r"[^\w]+", "-", name).strip("-")[:LONGEST] or "recipe"
