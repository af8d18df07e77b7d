"""A recipe told line by line: sentences and tables for a notebook."""

import pandas as pd

from labkit.recipe.card import card_of, markdown
from labkit.recipe.handed import Colour
from labkit.recipe.scales import on_scales
from labkit.recipe.weighed_out import weigh_out
from labkit.recipe.wording import standing, told_words
from labkit.recipe.written import WrittenRecipe
from labkit.rules import permit_recipe


def tell_recipe(trial: WrittenRecipe) -> None:
    """Print which recipe it is, and where it came from."""
    for said in standing(trial):
        print(said)


def becomes_table(trial: WrittenRecipe) -> pd.DataFrame:
    """Return what each line becomes for the containers that are asked for, on three scales."""
    return on_scales(trial.batch, trial.batch.total_g)


def weighing_table(trial: WrittenRecipe, colour: Colour | None = None) -> pd.DataFrame:
    """Return what to weigh, and how far each line may be off, see `weigh_out`."""
    asked = trial.written
    return weigh_out(trial.recipe, trial.batch.total_g, asked.step_g, asked.spoons, colour)


def permit_table(trial: WrittenRecipe) -> pd.DataFrame:
    """Return what each market says of the recipe's colourants on lips."""
    told = permit_recipe(trial.recipe, trial.written.markets)
    return told[["colourant", "ci", "percent", "market", "verdict", "limit_percent", "citation"]]


def tell_card(trial: WrittenRecipe, colour: Colour | None = None) -> None:
    """Print the card as Markdown."""
    print(markdown(card_of(trial, told_words(trial, colour))))


def recipe_summary(trial: WrittenRecipe) -> pd.DataFrame:
    """Return the recipe in %, rounded, to compare between runs."""
    percent = trial.recipe.percent()
    return pd.DataFrame({"material": list(percent), "%": [round(each, 2) for each in percent.values()]})
