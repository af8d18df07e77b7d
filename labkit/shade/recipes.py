"""Blends that were found for a wanted colour, as a table."""

import numpy as np
import pandas as pd

from labkit.colour.cie import hex_of_lab, lab_of
from labkit.shade.asked import Asked
from labkit.shade.film_colour import drawn_coefficients, inside, readings
from labkit.shade.load_sweep import BAND
from labkit.shade.pigments import Pigments
from labkit.shade.verdict import verdict


def recipe_table(loads: np.ndarray, lab: np.ndarray, asked: Asked) -> pd.DataFrame:
    """Return what `find_shade` says of blends: mass % of shape (n, p), forecasts of shape (n, 3)."""
    own, delta = asked.pigments, asked.wish.distance(lab)
    drawn = _drawn(loads, asked)
    low, median, high = np.percentile(asked.wish.distance(drawn), (BAND[0], 50, BAND[1]), axis=0)
    return pd.DataFrame(
        {
            **dict(zip(own.names, loads.T, strict=True)),
            "load": loads.sum(1),
            "delta_e00": delta,
            "delta_e00_median": median,
            "delta_e00_low": low,
            "delta_e00_high": high,
            **dict(zip("Lab", lab.T, strict=True)),
            **{f"{name}_sd": sd for name, sd in zip("Lab", drawn.std(0).T, strict=True)},
            "hex": hex_of_lab(lab),
            "says": [verdict(each) for each in delta],
            "rests_on": [rests_on(own, each) for each in loads],
        }
    )


def _drawn(loads: np.ndarray, asked: Asked) -> np.ndarray:
    """Return the colours under draws of the pigments' optics, shape (draws, n, 3)."""
    K, S = drawn_coefficients(loads, asked.pigments, asked.medium)
    below = inside(asked.backing, asked.medium)
    return lab_of(readings(K, S, asked.film_um, below, asked.medium))


def rests_on(pigments: Pigments, loads: np.ndarray) -> str:
    """Return what the forecast of a blend rests on."""
    used = {basis for basis, load in zip(pigments.basis, loads, strict=True) if load > 0}
    return ", ".join(sorted(used)) or "the backing alone"
