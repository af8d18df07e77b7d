"""What the recipe panel says: which recipe it is, where it came from, what to expect of it."""

from typing import TYPE_CHECKING

import numpy as np

from labkit.colour.cie import hex_of_lab
from labkit.recipe.handed import Colour

if TYPE_CHECKING:
    from labkit.recipe.written import WrittenRecipe


def standing(trial: "WrittenRecipe") -> list[str]:
    """Return which recipe it is, and where it came from."""
    asked, batch = trial.written, trial.batch
    said = [f"For {asked.containers} of {asked.fill_g:g} g, make {batch.total_g:.1f} g."]
    if asked.source:
        said.append(f"Poured as {asked.source}.")
    line = [each.name for each in trial.descent()]
    if len(line) > 1:
        said.append(f"Its line: {' → '.join(line)}.")
    elif asked.came_from:
        said.append(f"Changed from version {asked.came_from[:12]}, which is not in this book.")
    return said


def told_words(trial: "WrittenRecipe", colour: Colour | None) -> list[str]:
    """Return what to expect of the shade; nothing where no forecast knows its pigments."""
    if colour is None:
        return []
    lab = np.asarray(colour(trial.recipe.loads()), dtype=float)
    code = hex_of_lab(lab[None, :])[0] if lab.ndim == 1 else hex_of_lab(lab)
    told = ", ".join(f"{name} {value:.0f}" for name, value in zip(("L*", "a*", "b*"), lab, strict=True))
    return [f"Its shade, thick: about {told} (on a screen {code}). A forecast: compare with a thick swatch."]
