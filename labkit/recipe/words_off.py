"""How far the hardness of a batch strays by weighing."""

import numpy as np

from labkit.errors import LabError
from labkit.recipe.handed import Hardness, read_hardness
from labkit.recipe.lines import Batch


def words_off(hardness: Hardness, batch: Batch) -> np.ndarray:
    """Return by how much the error of each line moves hardness [words of the ladder, sd], shape (lines,).

    Half the difference between one standard deviation more and one less of the line (JCGM 100:2008, 5.1.3,
    note 2): hardness bends little over so little.

    Raises
    ------
    LabError
        Where the hardness is not known there.
    """
    base, off = batch.contents_g, np.array([each.sd_g for each in batch.lines])[:, None] * batch.holds
    return np.array(
        [abs(_at(hardness, batch, base + each) - _at(hardness, batch, base - each)) / 2 for each in off]
    )


def _at(hardness: Hardness, batch: Batch, contents: np.ndarray) -> float:
    shares = np.maximum(contents, 0.0) / np.maximum(contents, 0.0).sum()
    told = read_hardness(hardness, dict(zip(batch.parts, shares.tolist(), strict=True)))
    if told is None:
        raise LabError("The hardness that was handed in does not reach this recipe: leave words away.")
    return told[0]
