"""The cells of a small table of numbers in a text file, as offices and instruments write them."""

import csv

from labkit.errors import LabError


def read_cells(file: str | bytes) -> list[list[str]]:
    """Return rows of cells; columns go by semicolon where there is one, else by tab, else by comma.

    Empty rows are left out.

    Raises
    ------
    LabError
        For a spreadsheet, and for what is no text.

    >>> read_cells("nm;R\\r\\n\\r\\n400;0,2")
    [['nm', 'R'], ['400', '0,2']]
    """
    text = _text(file)
    mark = ";" if ";" in text else "\t" if "\t" in text else ","
    try:
        rows = list(csv.reader(text.splitlines(), delimiter=mark))
    except csv.Error as error:
        raise LabError(f"The file cannot be read as a table ({error}). Export it as CSV.") from error
    return [[cell.strip() for cell in row] for row in rows if any(cell.strip() for cell in row)]


def read_cell(cell: str) -> float | None:
    """Return the number in a cell, with a decimal point or comma; None where there is none.

    >>> read_cell("0,25"), read_cell("dark")
    (0.25, None)
    """
    try:
        return float(cell.replace(",", "."))
    except ValueError:
        return None


def _text(file: str | bytes) -> str:
    if isinstance(file, str):
        return file.removeprefix("\ufeff")
    if file[:2] == b"PK":
        raise LabError("This is a spreadsheet. Save the sheet as CSV, and send that.")
    if file[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return file.decode("utf-16", "replace")
    if b"\0" in file:
        raise LabError("This is no text file. Export the table as CSV.")
    return file.decode("utf-8-sig", "replace")
