"""Charts to lay beside a swatch: how their patches lie, and what colours they should have."""

import csv
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.colour.cells import read_cell, read_cells
from labkit.colour.cie import colour_science, lab_of_xyz, white, xyz_of_lab
from labkit.errors import LabError, did_you_mean

Floats = NDArray[np.float64]

_TABLE = Path(__file__).with_name("chart24.csv")
_GREY_CHROMA = 4.0  # a patch below this counts as grey; the chart's own greys stay below 3.3
_CARD_GREY = (49.5, 0.0, 0.0)  # reflects 18 %
_CHROMATIC_ROW = slice(12, 18)
_FEWEST = 6


@dataclass(frozen=True, eq=False)
class Chart:
    """A chart or card of known colours.

    Attributes
    ----------
    name : str
    rows, columns : int
        Of patches, with the chart the right way up.
    lab : ndarray, shape (rows·columns, 3)
        CIELAB under D65, 2° observer, row by row.
    patches : tuple of str
        What each patch is called.
    about : str
        What it is and where its colours come from.
    """

    name: str
    rows: int
    columns: int
    lab: Floats
    patches: tuple[str, ...]
    about: str

    def __len__(self) -> int:
        return len(self.lab)

    @property
    def xyz(self) -> Floats:
        """X, Y, Z of the patches, white has Y = 1, shape (patches, 3)."""
        return xyz_of_lab(self.lab)

    @property
    def grey(self) -> NDArray[np.bool_]:
        """Which patches are grey, shape (patches,)."""
        return np.asarray(np.hypot(self.lab[:, 1], self.lab[:, 2]) < _GREY_CHROMA)


@cache
def charts() -> dict[str, Chart]:
    """Return the charts that are known, by name.

    >>> {name: len(each) for name, each in charts().items()}
    {'24-patch chart': 24, '6-patch card': 6, 'grey card': 1}
    """
    with _TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    lab = np.array([[float(row[axis]) for axis in "Lab"] for row in rows])
    names = tuple(row["patch"] for row in rows)
    published = "Published colours of charts made since November 2014, brought from D50 to D65."
    return {
        "24-patch chart": Chart("24-patch chart", 4, 6, lab, names, published),
        "6-patch card": Chart(
            "6-patch card",
            1,
            6,
            lab[_CHROMATIC_ROW],
            names[_CHROMATIC_ROW],
            "Blue, green, red, yellow, magenta and cyan as in the 24-patch chart's third row. "
            "If your card came with its own values, give them.",
        ),
        "grey card": Chart(
            "grey card", 1, 1, np.array([_CARD_GREY]), ("grey",), "Reflects 18 % of the light."
        ),
    }


def find_chart(chart: str | Chart, reference: Any = None, illuminant: str = "D65") -> Chart:
    """Return a chart by its name, with the maker's own reference values if there are any.

    Parameters
    ----------
    chart : str or Chart
    reference : DataFrame, array, or CSV text or bytes, optional
        L, a, b of each patch, row by row, 2° observer.
    illuminant : “D65” or “D50”
        Of the reference values; makers of charts mostly print D50.

    Raises
    ------
    LabError
        For an unknown chart, or a table that does not fit it.

    >>> find_chart("grey card", [[50.1, 0.2, -0.4]]).lab.tolist()
    [[50.1, 0.2, -0.4]]
    """
    if not isinstance(chart, Chart):
        known = charts()
        if chart not in known:
            raise LabError(f"There is no chart “{chart}”. {did_you_mean(str(chart), known)}")
        chart = known[chart]
    if reference is None:
        return chart
    lab = to_d65(read_reference(reference), illuminant)
    if len(lab) != len(chart):
        raise LabError(f"The {chart.name} has {len(chart)} patches, and the table has {len(lab)} rows.")
    return replace(chart, lab=lab, about=f"Your own values (given for {illuminant}).")


def own_card(reference: Any, rows: int = 1, name: str = "own card", illuminant: str = "D65") -> Chart:
    """Return a chart of the maker's own from its colours, row by row; see `find_chart` for the table.

    Raises
    ------
    LabError
        Where there are fewer than 6 patches, or they do not fill the rows.
    """
    lab = to_d65(read_reference(reference), illuminant)
    if len(lab) < _FEWEST:
        raise LabError(f"A colour card needs {_FEWEST} patches or more; the table has {len(lab)}.")
    if rows < 1 or len(lab) % rows:
        raise LabError(f"{len(lab)} patches do not fill {rows} equal rows.")
    patches = tuple(f"patch {number}" for number in range(1, len(lab) + 1))
    return Chart(name, rows, len(lab) // rows, lab, patches, f"Your own values (given for {illuminant}).")


def to_d65(lab: Floats, illuminant: str) -> Floats:
    """Return CIELAB for D65 from CIELAB for D50, by the Bradford transform (ICC.1); D65 stays as it is.

    >>> (to_d65(np.array([[50.0, 0.0, 0.0]]), "D50").round(2) + 0.0).tolist()
    [[50.0, 0.0, 0.0]]
    """
    if illuminant == "D65":
        return lab
    if illuminant != "D50":
        raise LabError(f"Reference values can be for D65 or D50, and not for “{illuminant}”.")
    colour = colour_science()
    daylight = colour.xy_to_XYZ(colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"])
    xyz = colour.Lab_to_XYZ(lab, colour.XYZ_to_xy(daylight))
    adapted = colour.chromatic_adaptation(xyz, daylight, white(), method="Von Kries", transform="Bradford")
    return lab_of_xyz(np.asarray(adapted))


def read_reference(reference: Any) -> Floats:
    """Read a table of L, a, b: a DataFrame, rows of three numbers, or CSV text or bytes; shape (patches, 3).

    >>> read_reference("L;a;b\\n38,0;14,1;14,9\\n65,2;18,8;17,9").tolist()
    [[38.0, 14.1, 14.9], [65.2, 18.8, 17.9]]
    """
    lab = _parsed(reference) if isinstance(reference, str | bytes) else _columns(reference)
    if lab.ndim != 2 or lab.shape[1] != 3 or not len(lab):
        raise LabError("The reference colours are a table with one row a patch and the columns L, a, b.")
    if not np.isfinite(lab).all():
        raise LabError(f"Row {int(np.argmin(np.isfinite(lab).all(axis=1))) + 1} has a value missing.")
    odd = (lab[:, 0] < 0) | (lab[:, 0] > 100) | (np.abs(lab[:, 1:]) > 128).any(axis=1)
    if odd.any():
        row = int(np.argmax(odd))
        raise LabError(
            f"Row {row + 1}: L {lab[row, 0]:g}, a {lab[row, 1]:g}, b {lab[row, 2]:g} cannot be a colour. "
            "L goes from 0 to 100, a and b from −128 to 128."
        )
    return lab


def _columns(table: Any) -> Floats:
    try:
        if hasattr(table, "columns"):
            return np.asarray(table[["L", "a", "b"]], float)
        return np.asarray(table, float)
    except KeyError as error:
        raise LabError(f"The table needs the columns L, a and b: {error.args[0]}.") from error
    except (TypeError, ValueError) as error:
        raise LabError(f"The reference colours hold something that is no number: {error}.") from error


def _parsed(text: str | bytes) -> Floats:
    rows = read_cells(text)
    if not rows:
        raise LabError("The table of reference colours is empty.")
    head = [cell.rstrip("*") for cell in rows[0]]
    named = {"L", "a", "b"} <= set(head)
    at = [head.index(axis) for axis in "Lab"] if named else [0, 1, 2]
    if not named and len(rows[0]) != 3:
        raise LabError(
            f"The first row of the reference colours has {len(rows[0])} columns. Give L, a and b alone, "
            "or name the columns; with decimal commas put semicolons between them."
        )
    return np.array([[_cell(row, column, n) for column in at] for n, row in enumerate(rows[named:], 1)])


def _cell(row: list[str], column: int, number: int) -> float:
    cell = row[column] if column < len(row) else ""
    found = read_cell(cell)
    if found is None:
        raise LabError(f"Row {number} of the reference colours: “{cell}” is no number.")
    return found
