"""A table of swatches, read and checked."""

import re
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from labkit.colour.cie import WAVELENGTHS
from labkit.errors import LabError
from labkit.shade.backing import check_reflectance, reflectance_of
from labkit.shade.mixture import check_loads
from labkit.shade.pigments import Pigments

if TYPE_CHECKING:
    import pandas as pd

LAB = ("L", "a", "b")
LAB_SD = 0.5
"""Standard deviation of a reading of L*, a* or b* where none is given; common practice, no source."""
FILM_SD = 0.10
"""Relative standard deviation of a weighed film where none is given; common practice, no source."""
THICK = ("masstone", "thick", "inf", "∞")
_SD_COLUMNS = ("film_sd", "lab_sd", "L_sd", "a_sd", "b_sd")
_OTHER = ("film_um", "backing", *LAB, *_SD_COLUMNS, "batch")
_COVERED = (400.0, 700.0)
_WIDEST_STEP = 20.0
_SCATTER = 2.0
"""How far the error of a reading may take L* beyond black and white."""
_DARK = 0.01
"""How far the error of a reading may take a reflectance below 0."""


@dataclass(frozen=True)
class Swatches:
    """n swatches of p pigments.

    Attributes
    ----------
    labels
        What each is called in a message.
    pigments
        The p names.
    loads
        Mass % of the product, shape (n, p).
    film_um, film_sd
        Thickness [µm], ∞ where nothing shows through, and its relative standard deviation, shape (n,).
    backing
        Reflectance of the backing in air, shape (n, 36).
    lab, lab_sd
        CIELAB readings and their standard deviations, shape (n, 3); NaN where a spectrum was read.
    reflectance
        Spectral readings on `WAVELENGTHS`, shape (n, 36); NaN where not read.
    """

    labels: tuple[str, ...]
    pigments: tuple[str, ...]
    loads: np.ndarray
    film_um: np.ndarray
    film_sd: np.ndarray
    backing: np.ndarray
    lab: np.ndarray
    lab_sd: np.ndarray
    reflectance: np.ndarray

    def __len__(self) -> int:
        return len(self.labels)

    @property
    def spectral(self) -> np.ndarray:
        """Whether a spectrum was read, shape (n,)."""
        return np.isfinite(self.reflectance).any(1)


def read_swatches(frame: "pd.DataFrame", pigments: Pigments) -> Swatches:
    """Read and check a table of swatches.

    Parameters
    ----------
    frame
        A row for each swatch: mass % of the product in a column for each pigment (its name, CI number or
        CAS), "film_um" (a number, or "masstone" where nothing shows through), "backing" (a name, an L*a*b*
        triple or a reflectance), and what was read: "L", "a", "b", or reflectances from 0 to 1 in columns
        called after their wavelength in nm, at least "400" to "700" in steps of 20 nm or finer. Where a row
        has both, its spectrum counts. Also, if known: "film_sd" (relative), "lab_sd" or "L_sd", "a_sd",
        "b_sd", and "batch".

    Raises
    ------
    LabError
        Where something in it cannot be; it says in which swatch.
    """
    _check_table(frame)
    labels = _labels(frame)
    waves = _wavelength_columns(frame)
    columns = [name for name in frame.columns if name not in _OTHER and name not in waves.values()]
    own = pigments.only([_pigment(name, pigments) for name in columns])
    loads = _loads(frame, columns, own.names, labels)
    film_um = _films(frame, labels)
    reflectance = _spectra(frame, waves, labels)
    lab = _labs(frame, labels, np.isfinite(reflectance).any(1))
    return Swatches(
        labels=labels,
        pigments=own.names,
        loads=loads,
        film_um=film_um,
        film_sd=np.where(np.isinf(film_um), 0.0, _spread(frame, "film_sd", FILM_SD, labels, 1.0)),
        backing=_backings(frame, film_um, labels),
        lab=lab,
        lab_sd=_lab_spread(frame, labels),
        reflectance=reflectance,
    )


def _check_table(frame: Any) -> None:
    import pandas as pd

    if not isinstance(frame, pd.DataFrame):
        raise LabError(
            f"the swatches: {type(frame).__name__} is no table (DataFrame) with a row for each swatch."
        )
    if frame.empty:
        raise LabError("there is no swatch in the table: log one first.")
    if not frame.columns.is_unique:
        twice = frame.columns[frame.columns.duplicated()][0]
        raise LabError(f"the column “{twice}” stands in the table twice.")


def _labels(frame: "pd.DataFrame") -> tuple[str, ...]:
    import pandas as pd

    if isinstance(frame.index, pd.RangeIndex):
        return tuple(f"swatch {i + 1}" for i in range(len(frame)))
    return tuple(f"swatch “{each}”" for each in frame.index)


def _pigment(column: Hashable, pigments: Pigments) -> str:
    try:
        return pigments.resolve(str(column))
    except LabError as error:
        raise LabError(
            f"the column “{column}”: {error} Besides pigments a table of swatches has the columns "
            f"{', '.join(_OTHER)}, and wavelengths such as 400."
        ) from None


def _numbers(frame: "pd.DataFrame", column: Hashable, labels: Sequence[str]) -> np.ndarray:
    """Return a column as numbers, NaN where nothing stands."""
    import pandas as pd

    values = pd.to_numeric(frame[column], errors="coerce").to_numpy(float, na_value=np.nan)
    for i in np.flatnonzero(np.isnan(values) & frame[column].notna().to_numpy()).tolist():
        raise LabError(f"{labels[i]}: “{frame[column].iloc[i]}” in the column “{column}” is no number.")
    return values


def _loads(
    frame: "pd.DataFrame", columns: Sequence[Hashable], names: Sequence[str], labels: Sequence[str]
) -> np.ndarray:
    if not columns:
        raise LabError(
            "no column of the table is a pigment: give each its own, with its mass % in the product."
        )
    loads = np.stack([_numbers(frame, column, labels) for column in columns], axis=1)
    for label, row in zip(labels, loads, strict=True):
        try:
            check_loads(row, names)
        except LabError as error:
            missing = " Write 0 where there is none." if np.isnan(row).any() else ""
            raise LabError(f"{label}: {error}{missing}") from None
    return loads


def _films(frame: "pd.DataFrame", labels: Sequence[str]) -> np.ndarray:
    if "film_um" not in frame:
        raise LabError("the column “film_um” is missing: the thickness of each film in µm, or “masstone”.")
    thick = frame["film_um"].map(lambda each: str(each).strip().casefold() in THICK)
    films = _numbers(frame.assign(film_um=frame["film_um"].where(~thick, np.inf)), "film_um", labels)
    for i in np.flatnonzero(~(films > 0)).tolist():
        raise LabError(
            f"{labels[i]}: a film of {films[i]:g} µm cannot be read. Give its thickness in µm (weigh the "
            "stick before and after twenty swipes), or “masstone” where nothing shows through."
        )
    return films


def _backings(frame: "pd.DataFrame", film_um: np.ndarray, labels: Sequence[str]) -> np.ndarray:
    given = frame["backing"] if "backing" in frame else [None] * len(frame)
    return np.stack([
        _backing(each, hides, label)
        for each, hides, label in zip(given, np.isinf(film_um), labels, strict=True)
    ])  # fmt: skip


def _backing(given: Any, hides: bool, label: str) -> np.ndarray:
    if given is None or (isinstance(given, float) and np.isnan(given)):
        if hides:
            return np.zeros(WAVELENGTHS.size)
        raise LabError(f"{label}: what lies under the film is missing: “black card”, “white card”, “lip” …")
    try:
        return reflectance_of(given)
    except LabError as error:
        raise LabError(f"{label}: {error}") from None


def _labs(frame: "pd.DataFrame", labels: Sequence[str], spectral: np.ndarray) -> np.ndarray:
    lab = np.full((len(frame), 3), np.nan)
    for at, column in enumerate(LAB):
        if column in frame:
            lab[:, at] = np.where(spectral, np.nan, _numbers(frame, column, labels))
    for i in np.flatnonzero(~spectral).tolist():
        _check_lab(lab[i], labels[i])
    return lab


def _check_lab(lab: np.ndarray, label: str) -> None:
    if np.isnan(lab).all():
        raise LabError(f"{label}: nothing was read. Give L, a and b, or a reflectance at 400 to 700 nm.")
    missing = [name for name, value in zip(LAB, lab, strict=True) if np.isnan(value)]
    if missing:
        raise LabError(f"{label}: {' and '.join(missing)} of L, a, b is missing; a colour has all three.")
    if not (-_SCATTER <= lab[0] <= 100 + _SCATTER and np.abs(lab[1:]).max() <= 128):
        raise LabError(
            f"{label}: L* {lab[0]:g}, a* {lab[1]:g}, b* {lab[2]:g} is no colour. L* goes from 0 to 100, a* "
            "and b* from -128 to 128."
        )


def _lab_spread(frame: "pd.DataFrame", labels: Sequence[str]) -> np.ndarray:
    of_all = _spread(frame, "lab_sd", LAB_SD, labels, 20.0)
    return np.stack([_spread(frame, f"{each}_sd", of_all, labels, 20.0) for each in LAB], axis=1)


def _spread(
    frame: "pd.DataFrame", column: str, usual: float | np.ndarray, labels: Sequence[str], most: float
) -> np.ndarray:
    if column not in frame:
        return np.broadcast_to(np.asarray(usual, float), len(frame))
    values = _numbers(frame, column, labels)
    for i in np.flatnonzero((values <= 0) | (values > most)).tolist():
        raise LabError(
            f"{labels[i]}: “{column}” {values[i]:g} cannot be; it is above 0, and no more than {most:g}."
        )
    return np.where(np.isnan(values), usual, values)


def _wavelength_columns(frame: "pd.DataFrame") -> dict[float, Hashable]:
    """Return the columns that are wavelengths, in the table's order."""
    waves: dict[float, Hashable] = {}
    for column in frame.columns:
        if re.fullmatch(r"\d+(\.\d+)?( ?nm)?", str(column)) and 300 <= (nm := _nm(column)) <= 1100:
            if nm in waves:
                raise LabError(f"the wavelength {nm:g} nm stands in the table twice.")
            waves[nm] = column
    if list(waves) != sorted(waves):
        after = next(b for a, b in zip(waves, list(waves)[1:], strict=False) if b < a)
        raise LabError(
            f"the wavelengths are not in order at {after:g} nm: sort the columns from low to high."
        )
    return waves


def _nm(column: Hashable) -> float:
    return float(str(column).removesuffix("nm"))


def _spectra(frame: "pd.DataFrame", waves: dict[float, Hashable], labels: Sequence[str]) -> np.ndarray:
    if not waves:
        return np.full((len(frame), WAVELENGTHS.size), np.nan)
    at = np.array(list(waves))
    read = np.stack([_numbers(frame, column, labels) for column in waves.values()], axis=1)
    return np.stack([_spectrum(at, row, label) for row, label in zip(read, labels, strict=True)])


def _spectrum(at: np.ndarray, read: np.ndarray, label: str) -> np.ndarray:
    """Return a reading on `WAVELENGTHS`, NaN beyond its ends; all NaN where nothing was read."""
    there = np.isfinite(read)
    if not there.any():
        return np.full(WAVELENGTHS.size, np.nan)
    at, read = at[there], read[there]
    _check_wavelengths(at, label)
    on_grid = np.interp(WAVELENGTHS, at, read, left=np.nan, right=np.nan)
    on_grid = np.where((on_grid < 0) & (on_grid >= -_DARK), 0.0, on_grid)
    check_reflectance(np.nan_to_num(on_grid), label)
    return on_grid


def _check_wavelengths(at: np.ndarray, label: str) -> None:
    low, high = _COVERED
    if at[0] > low or at[-1] < high:
        raise LabError(
            f"{label}: the reflectance covers {at[0]:g} to {at[-1]:g} nm; {low:g} to {high:g} is needed."
        )
    wide = np.flatnonzero(np.diff(at) > _WIDEST_STEP)
    if wide.size:
        a, b = at[wide[0]], at[wide[0] + 1]
        raise LabError(
            f"{label}: the reflectance between {a:g} and {b:g} nm is missing; steps of "
            f"{_WIDEST_STEP:g} nm are the widest."
        )
