"""What swatches taught about pigments, and how forecasts fared against them."""

import re
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from labkit.colour.cie import delta_e00, lab_of
from labkit.errors import LabError
from labkit.shade.calibration import calibrate
from labkit.shade.film_colour import predict
from labkit.shade.medium import Medium
from labkit.shade.pigments import Pigments, default_pigments

_KEPT, _TOLD = 64, 4096
_known: dict[tuple[object, ...], "Learned"] = {}
_before: dict[tuple[object, ...], dict[str, object]] = {}


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
        Why no more was learned than from the first swatch, or nothing; "" otherwise.
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
        _forget_oldest(_known, _KEPT)
        _known[key] = _learn(swatches, medium)
    return _known[key]


def _learn(swatches: pd.DataFrame, medium: Medium) -> Learned:
    if swatches.empty:
        return Learned(default_pigments(), swatches)
    try:
        return Learned(calibrate(fit_columns(swatches), medium=medium), swatches)
    except LabError as error:
        return _learn_from_one(swatches, medium, str(error))


def _learn_from_one(swatches: pd.DataFrame, medium: Medium, refused: str) -> Learned:
    """Return what the first swatch teaches where all together are one fact: a repeat takes nothing away."""
    try:
        return Learned(calibrate(fit_columns(swatches.head(1)), medium=medium), swatches.head(1), refused)
    except LabError:
        return Learned(default_pigments(), swatches, refused)


def teaching(swatches: pd.DataFrame) -> pd.DataFrame:
    """Return the swatches that can teach, each once.

    Of one that was mended in two places at once, what was written last; none that holds a pigment which
    labkit does not forecast.
    """
    once = swatches.sort_values("version").drop_duplicates("entry", keep="last")
    unknown = unknown_pigments(swatches)
    return once[(once[unknown] == 0).all(axis=1)].drop(columns=unknown).reset_index(drop=True)


def unknown_pigments(swatches: pd.DataFrame) -> list[str]:
    """Return the pigments of a swatch table that labkit does not forecast."""
    return [name for name in pigments_of(swatches.columns) if name not in default_pigments().names]


def pigments_of(columns: pd.Index) -> list[str]:
    """Return the pigments among the columns of a swatch table, or the names of one of its rows."""
    return list(columns[: columns.get_loc("film_um")])


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
        key = (medium, swatch["version"], *before["version"])
        if key not in _before:
            _forget_oldest(_before, _TOLD)
            told = _told(swatch, learn(before, medium).pigments, medium)
            _before[key] = {**told, "taught": len(before)}
        rows.append(_before[key])
    return pd.DataFrame(rows)


def _forget_oldest(known: dict[tuple[object, ...], Any], most: int) -> None:
    while len(known) >= most:
        known.pop(next(iter(known)))


def _told(swatch: pd.Series, pigments: Pigments, medium: Medium) -> dict[str, object]:
    blend = blend_of(swatch)
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


def blend_of(swatch: pd.Series) -> dict[str, float]:
    """Return the blend of a row of the swatch table."""
    return {name: float(swatch[name]) for name in pigments_of(swatch.index) if swatch[name] > 0}


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
        if re.fullmatch(r"\d+(\.\d+)?", str(name)) and value == value
    }
    nm = sorted(read)
    return np.interp(WAVELENGTHS, nm, [read[each] for each in nm])
