"""What other rooms know of a recipe, handed in as callables: its colour, and how hard it sets."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from labkit.errors import LabError

Colour = Callable[[Mapping[str, float]], Any]
"""From the load of each pigment [% of the product] to CIELAB, to (CIELAB, its sd), to anything with `.lab`,
or to None where it is not known."""
Hardness = Callable[[Mapping[str, float]], Any]
"""From the share of each material to hardness in words of the ladder, to (hardness, its sd), or to None."""


def read_colour(colour: Colour, loads: Mapping[str, float]) -> np.ndarray | None:
    """Return the CIELAB of a blend, shape (3,); None where it is not known.

    Raises
    ------
    LabError
        Where what comes back is no colour.

    Examples
    --------
    >>> read_colour(lambda loads: ([40, 30, 20], [1, 1, 1]), {}).tolist()
    [40.0, 30.0, 20.0]
    """
    told = colour(loads)
    told = getattr(told, "lab", told)
    if told is None:
        return None
    if isinstance(told, Sequence) and len(told) == 2:
        told = told[0]
    try:
        lab = np.asarray(told, dtype=float)
    except (TypeError, ValueError):
        lab = np.empty(0)
    if lab.shape != (3,) or not np.isfinite(lab).all():
        raise LabError(
            "The colour that was handed in gives no L*, a*, b*. Give a function from loads to three."
        )
    return lab


def known_colour(colour: Colour, loads: Mapping[str, float]) -> np.ndarray:
    """Return the CIELAB of a blend, or raise `LabError` where it is not known."""
    lab = read_colour(colour, loads)
    if lab is None:
        raise LabError(
            f"The colour of {', '.join(loads) or 'no pigment'} is not forecast: leave colour away."
        )
    return lab


def read_hardness(hardness: Hardness, shares: Mapping[str, float]) -> tuple[float, float] | None:
    """Return hardness and its sd in words of the ladder; None where nothing is known.

    >>> read_hardness(lambda shares: 2.5, {})
    (2.5, 0.0)
    """
    told = hardness(shares)
    if told is None:
        return None
    try:
        middle, sd = (float(each) for each in (told if isinstance(told, Sequence) else (told, 0.0)))
    except (TypeError, ValueError):
        raise LabError(
            "The hardness that was handed in is none: give words of the ladder and their sd."
        ) from None
    return middle, sd
