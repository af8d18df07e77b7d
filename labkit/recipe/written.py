"""The recipes of a book: each one as it was written, where it came from, and writing another."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from labkit.book.standing import Standing
from labkit.recipe.recipe import Recipe
from labkit.recipe.record import Written
from labkit.times import now

if TYPE_CHECKING:
    from labkit.book import TrialBook

KIND = Written.kind


def recipes(book: "TrialBook") -> dict[str, str]:
    """Return the entry of each recipe by its name, the newest first."""
    return WrittenRecipe.known(book)


def write_recipe(
    book: "TrialBook", written: Written, name: str = "", id: str | None = None
) -> "WrittenRecipe":
    """Write a recipe and return it; without a name it is called after the day."""
    return WrittenRecipe.begin(book, written, name, f"Recipe of {now().day} {now():%b %Y}", id)


class WrittenRecipe(Standing):
    """One recipe as it stands in its book."""

    question_kind = KIND
    mended_kinds = (KIND,)

    @cached_property
    def written(self) -> Written:
        """What was written."""
        return Written.of(self.question_row.head.payload)

    @cached_property
    def recipe(self) -> Recipe:
        """The recipe, as it was poured."""
        return self.written.recipe(self.name)

    @cached_property
    def batch(self) -> Recipe:
        """The recipe for the containers that are asked for, with what stays in pan and tools."""
        asked = self.written
        return self.recipe.scaled(
            containers=asked.containers, fill_g=asked.fill_g, loss=asked.loss_percent / 100
        )

    def descent(self) -> "list[WrittenRecipe]":
        """Return the recipes that this one came from, the first one first, and itself at the end."""
        known = {}
        for entry in recipes(self.book).values():
            each = type(self)(self.book, entry)
            known[each.recipe.version] = each
        line, seen = [self], {self.recipe.version}
        while (before := known.get(line[0].written.came_from)) and before.recipe.version not in seen:
            seen.add(before.recipe.version)
            line.insert(0, before)
        return line


@dataclass(frozen=True)
class Poured:
    """Something that was poured, to start a recipe from: what it is called, and grams by material."""

    label: str
    grams: Mapping[str, float]
    process: Mapping[str, Any]


def poured(book: "TrialBook", most: int = 20) -> list[Poured]:
    """Return the latest pours and batches of a book, the newest first."""
    found = [
        (row.head.payload["poured_at"], _pour(row.head.trial, row.head.payload))
        for row in book.rows("texture.pour")
    ]
    batches: dict[str, dict[str, float]] = {}
    names: dict[str, tuple[str, str]] = {}
    for row in book.rows("batch.added"):
        grams = batches.setdefault(row.head.payload["question"], {})
        name = row.head.payload["ingredient"]
        grams[name] = grams.get(name, 0.0) + row.head.payload["grams"]
        names[row.head.payload["question"]] = (row.head.payload["added_at"], row.head.trial)
    plans = {row.entry: row.head.payload for row in book.rows("batch.question")}
    for entry, grams in batches.items():
        when, trial = names[entry]
        known = {key: plans.get(entry, {}).get(key) for key in ("pour_c", "hottest_c")}
        found.append((when, Poured(f"batch “{trial}”", grams, known)))
    newest = sorted(found, key=lambda each: str(each[0]), reverse=True)
    return [each for _, each in newest[:most]]


def _pour(trial: str, payload: Mapping[str, Any]) -> Poured:
    known = {key: payload.get(key) for key in ("pour_c", "hottest_c")}
    grams = {name: each for name, each in payload["weighed_g"].items() if each > 0}
    return Poured(f"pour {payload['number']} of “{trial}”", grams, known)
