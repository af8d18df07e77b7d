"""A spectral reading from a file: wavelength and reflectance, row by row."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.colour.cells import read_cell, read_cells
from labkit.colour.cie import WAVELENGTHS
from labkit.errors import LabError

Floats = NDArray[np.float64]

MUST_COVER = (400.0, 700.0)
LARGEST_GAP = 20.0
_SURELY_PERCENT = 2.0
_CELLS_SHOWN = 60


@dataclass(frozen=True, eq=False)
class Spectrum:
    """A reflectance on `labkit.colour.cie.WAVELENGTHS`.

    Attributes
    ----------
    reflectance : ndarray, shape (36,)
        From 0 to 1.
    read : ndarray of bool, shape (36,)
        Which of them lie within what was read; the others repeat the value at the end.
    remarks : tuple of str
        What was filled in, in plain sentences.
    """

    reflectance: Floats
    read: NDArray[np.bool_]
    remarks: tuple[str, ...]


def read_spectrum(file: str | bytes, percent: bool = False) -> Spectrum:
    """Read a CSV of wavelength [nm] and reflectance, one row a wavelength, with or without a header.

    Columns go by comma, semicolon or tab; decimals by point, or by comma where columns do not.
    Between the rows a monotone cubic is laid (PCHIP: exact at the rows, never beyond them);
    at 380–400 and 700–730 nm a missing end is held at the last value.

    Parameters
    ----------
    file : str or bytes
        What is in the file.
    percent : bool
        Whether reflectance is in percent. A header with “%” in it, or “%” behind every value, says so too.

    Raises
    ------
    LabError
        Where something is no number, missing, unsorted, twice there, negative or over 1, where
        it seems to be in %, or where wavelengths leave 400–700 nm or gaps over 20 nm open.

    >>> grey = read_spectrum("nm;R\\n" + "\\n".join(f"{nm};0,2" for nm in range(400, 701, 20)))
    >>> grey.reflectance[[0, 18, 35]].tolist()
    [0.2, 0.2, 0.2]
    >>> grey.remarks[0]
    'Nothing was read below 400 nm or above 700 nm: the end values were held.'
    """
    rows = read_cells(file)
    head = _head(rows)
    headed = any("%" in cell for cell in head)
    percent = percent or headed or all(row[-1].endswith("%") for row in rows)
    numbered = list(enumerate(rows, 1))[bool(head) :]
    if not numbered:
        raise LabError("The file holds no readings.")
    table = np.array([_numbers(row, number, percent) for number, row in numbered], float)
    nm, reflectance = table.T
    _check_wavelengths(nm)
    if headed and reflectance.max() <= 1:
        raise LabError(
            f"The header says %, but the highest value is {reflectance.max():g}. If these are fractions, "
            "take the % out of the header."
        )
    reflectance = reflectance / 100 if percent else reflectance
    _check_reflectance(nm, reflectance, percent)
    read = (nm[0] <= WAVELENGTHS) & (nm[-1] >= WAVELENGTHS)
    return Spectrum(_resampled(nm, reflectance), read, _held(nm))


def _head(rows: list[list[str]]) -> list[str]:
    return rows[0] if rows and read_cell(rows[0][0]) is None else []


def _numbers(row: list[str], number: int, percent: bool) -> list[float | None]:
    while len(row) > 2 and not row[-1]:
        row = row[:-1]
    if len(row) != 2:
        raise LabError(
            f"Row {number} has {len(row)} columns, and two are wanted: wavelength in nm and reflectance. "
            "With decimal commas, put semicolons between the columns."
        )
    if row[1].endswith("%") and not percent:
        raise LabError(_in_percent(f"Row {number} says “{row[1][:_CELLS_SHOWN]}”"))
    cells = [row[0], row[1].removesuffix("%")]
    found = [read_cell(cell) for cell in cells]
    for cell, number_there in zip(cells, found, strict=True):
        if number_there is None or not np.isfinite(number_there):
            raise LabError(f"Row {number}: “{cell[:_CELLS_SHOWN]}” is no number.")
    return found


def _in_percent(why: str) -> str:
    return f"{why}: the values are in %. Write “nm, %” as the first line, or divide them by 100."


def _check_wavelengths(nm: Floats) -> None:
    if nm.max() < 10:
        raise LabError(
            f"Wavelengths go up to {nm.max():g}: they seem to be in µm. Write them in nm, such as 550."
        )
    steps = np.diff(nm)
    if (steps == 0).any():
        raise LabError(
            f"{nm[int(np.argmax(steps == 0))]:g} nm is there twice. Keep one row for each wavelength."
        )
    if (steps < 0).any():
        at = int(np.argmax(steps < 0))
        raise LabError(
            f"{nm[at + 1]:g} nm comes after {nm[at]:g} nm. Sort the rows by wavelength, smallest first."
        )
    low, high = MUST_COVER
    if nm[0] > low or nm[-1] < high:
        raise LabError(
            f"The reading covers {nm[0]:g} to {nm[-1]:g} nm, and must cover {low:g} to {high:g} nm."
        )
    inside = (nm[1:] > WAVELENGTHS[0]) & (nm[:-1] < WAVELENGTHS[-1])
    wide = inside & (steps > LARGEST_GAP)
    if wide.any():
        at = int(np.argmax(wide))
        raise LabError(
            f"Wavelengths are missing between {nm[at]:g} and {nm[at + 1]:g} nm. "
            f"Steps may be {LARGEST_GAP:g} nm at most."
        )


def _check_reflectance(nm: Floats, reflectance: Floats, percent: bool) -> None:
    worst = int(np.argmax(reflectance))
    most, where = float(reflectance[worst]), f"at {nm[worst]:g} nm"
    if most > _SURELY_PERCENT and not percent:
        raise LabError(_in_percent(f"Reflectance {where} is {most:g}"))
    if most > 1:
        raise LabError(
            f"Reflectance {where} is {100 * most:.4g} %, more than all the light. Check the "
            "instrument's white standard."
        )
    least = int(np.argmin(reflectance))
    if reflectance[least] < 0:
        raise LabError(
            f"Reflectance at {nm[least]:g} nm is {reflectance[least]:g}; it cannot be below 0. Set the "
            "instrument's black again, or write 0."
        )


def _resampled(nm: Floats, reflectance: Floats) -> Floats:
    from scipy.interpolate import PchipInterpolator

    return np.asarray(PchipInterpolator(nm, reflectance)(np.clip(WAVELENGTHS, nm[0], nm[-1])), float)


def _held(nm: Floats) -> tuple[str, ...]:
    ends = [f"below {nm[0]:g} nm"] if nm[0] > WAVELENGTHS[0] else []
    ends += [f"above {nm[-1]:g} nm"] if nm[-1] < WAVELENGTHS[-1] else []
    return (f"Nothing was read {' or '.join(ends)}: the end values were held.",) if ends else ()
