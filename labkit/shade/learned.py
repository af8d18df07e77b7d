"""What swatches taught about pigments, and how forecasts fared against them."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from labkit.colour.cie import delta_e00, lab_of
from labkit.errors import LabError
from labkit.shade.calibration import calibrate
from labkit.shade.film_colour import predict
from labkit.shade.medium import Medium
from labkit.shade.pigments import Pigments, default_pigments

_KEPT = 64
_known: dict[tuple[object, ...], "Learned"] = {}


@dataclass(frozen=True)
class Learned:
    """Pigments after swatches.

    Attributes
    ----------
    pigments
        Corrected, or the defaults where nothing could be learned.
    swatches
        The swatches that taught it.
    refused
        Why nothing was learned though there are swatches; "" otherwise.
    """

    pigments: Pigments
    swatches: pd.DataFrame = field(repr=False)
    refused: str = ""


def learn(swatches: pd.DataFrame, medium: Medium) -> Learned:
    """Return what swatches teach; ``swatches`` as `calibrate` takes them, with a column "version".

    The same swatches are fitted once.
    """
    key = (medium, *swatches["version"])
    if key not in _known:
        while len(_known) >= _KEPT:
            _known.pop(next(iter(_known)))
        _known[key] = _learn(swatches, medium)
    return _known[key]


def _learn(swatches: pd.DataFrame, medium: Medium) -> Learned:
    if swatches.empty:
        return Learned(default_pigments(), swatches)
    try:
        return Learned(calibrate(fit_columns(swatches), medium=medium), swatches)
    except LabError as error:
        return Learned(default_pigments(), swatches, str(error))


def fit_columns(swatches: pd.DataFrame) -> pd.DataFrame:
    """Return the columns that `calibrate` reads."""
    return swatches.drop(columns=["swatched", "entry", "version"])


def told_before(swatches: pd.DataFrame, own: pd.DataFrame, medium: Medium) -> pd.DataFrame:
    """Return for each swatch what was forecast from the swatches before it, beside what was read.

    Parameters
    ----------
    swatches
        All swatches that teach, with "swatched" and "version".
    own
        Those to tell of.

    Returns
    -------
    DataFrame
        A row for each of ``own``, the oldest first: L, a, b as read; forecast_L …; forecast_sd, the standard
        deviation of ΔE that the forecast claimed; delta_e00 between both; estimate_delta_e00 of the
        default pigments; taught, how many swatches the forecast rested on; version.
    """
    rows = []
    for _, swatch in own.sort_values("swatched").iterrows():
        before = swatches[swatches["swatched"] < swatch["swatched"]].sort_values("version")
        rows.append(_told(swatch, learn(before, medium).pigments, medium) | {"taught": len(before)})
    return pd.DataFrame(rows)


def _told(swatch: pd.Series, pigments: Pigments, medium: Medium) -> dict[str, object]:
    blend = blend_of(swatch, pigments)
    film, backing = swatch["film_um"], swatch["backing"]
    forecast = predict(blend, film, backing, pigments, medium)
    estimate = predict(blend, film, backing, None, medium)
    read = lab_read(swatch)
    return {
        **dict(zip("Lab", read, strict=True)),
        **{f"forecast_{name}": value for name, value in zip("Lab", forecast.lab, strict=True)},
        "forecast_sd": float(np.sqrt((forecast.lab_sd**2).sum())),
        "delta_e00": float(delta_e00(read, forecast.lab)),
        "estimate_delta_e00": float(delta_e00(read, estimate.lab)),
        "version": swatch["version"],
    }


def blend_of(swatch: pd.Series, pigments: Pigments) -> dict[str, float]:
    """Return the blend of a row of the swatch table."""
    return {name: float(swatch[name]) for name in swatch.index if name in pigments.names and swatch[name] > 0}


def lab_read(swatch: pd.Series) -> np.ndarray:
    """Return the CIELAB colour of a row of the swatch table, from its spectrum where it has one."""
    lab = swatch[["L", "a", "b"]].to_numpy(float)
    if np.isfinite(lab).all():
        return lab
    return np.asarray(lab_of(_on_grid(swatch)))


def _on_grid(swatch: pd.Series) -> np.ndarray:
    from labkit.colour.cie import WAVELENGTHS

    read = {
        float(str(name)): float(value)
        for name, value in swatch.items()
        if str(name).isdigit() and value == value
    }
    nm = sorted(read)
    return np.interp(WAVELENGTHS, nm, [read[each] for each in nm])
