"""The part of the panel that takes a spectral reading from a file."""

from collections.abc import Callable

import ipywidgets

from labkit.colour.spectrum_file import read_spectrum
from labkit.errors import LabError
from labkit.shade.swatch_form import BY_SPECTRUM
from labkit.ui.guard import Guard
from labkit.ui.parts import sentences

INTRO = "A CSV file with a line for each wavelength: nm, reflectance from 0 to 1."


class SpectrumPart(ipywidgets.VBox):
    """A file button; what the file holds is typed into the swatch's form.

    Parameters
    ----------
    guard
        Shows what goes wrong.
    read
        Called with what to type, by the names of the form's fields.
    """

    def __init__(self, guard: Guard, read: Callable[[dict[str, str]], None]) -> None:
        self._guard, self._read = guard, read
        self.file = ipywidgets.FileUpload(accept=".csv,.txt,text/csv", description="Choose the file")
        self.told = ipywidgets.HTML()
        self.file.observe(self._chosen, "value")
        super().__init__([ipywidgets.HTML(sentences([INTRO], first=False)), self.file, self.told])

    def _chosen(self, change: dict[str, tuple[dict[str, memoryview], ...]]) -> None:
        if not change["new"]:
            return
        self._guard.clear()
        self.told.value = ""
        try:
            content = bytes(change["new"][0]["content"])
            remarks = read_spectrum(content).remarks
        except LabError as error:
            self.told.value = sentences([str(error)], first=False)
            return
        with self._guard:
            self._read({"read": BY_SPECTRUM, "colour": content.decode("utf-8-sig").strip()})
            self.told.value = sentences(["The file is read.", *remarks], first=False)
