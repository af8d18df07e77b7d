"""The part of the panel where a swatch is written down or mended."""

from typing import TYPE_CHECKING

import ipywidgets

from labkit.shade.desk import Desk
from labkit.shade.photo_part import PhotoPart
from labkit.shade.record import Swatch
from labkit.shade.spectrum_part import SpectrumPart
from labkit.shade.swatch_form import check_swatch, read_swatch, still_as_saved, swatch_groups
from labkit.shade.wording import swatch_words
from labkit.ui.form import Press, Saved, Values
from labkit.ui.parts import Fold, sentences

if TYPE_CHECKING:
    from labkit.shade.trial import ShadeTrial

CAUTION = (
    "Swatch a set stick, on a card or on clean skin: never hot melt on skin or lips. Stop where skin tingles "
    "or reddens; carmine and some lakes can set off an allergy."
)


class SwatchPart(ipywidgets.VBox):
    """The form of a swatch, and a photo to read its colour from."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.trial: ShadeTrial | None = None
        self.form = desk.form("swatch", self._pressed, self._check, "Save this swatch")
        self.spectrum = SpectrumPart(desk.guard, self._fill)
        self.photo = PhotoPart(desk, self._from_photo, "Use this colour in the swatch below")
        super().__init__(
            [
                ipywidgets.HTML(sentences([CAUTION], first=False)),
                Fold("Read its colour from a photo", self.photo),
                Fold("Take its colour from a spectral file", self.spectrum),
                self.form,
            ]
        )

    def offer(self, trial: "ShadeTrial") -> None:
        """Ask for the next swatch of this trial."""
        self.trial = trial
        self.form.ask(swatch_groups(trial), trial.entry, press_label="Save this swatch")

    def ask_mend(self, trial: "ShadeTrial", version: str) -> None:
        """Put the version of a swatch into the form."""
        self.trial = trial
        saved = Swatch.of(self._desk.book.get(version).payload)
        label = "Save the mended swatch"
        self.form.ask(swatch_groups(trial, saved), f"{trial.entry}/{version}", press_label=label)
        self.form.bring_into_view()

    def _from_photo(self, read: dict[str, str]) -> None:
        self._fill({**read, "sd": read["lab_sd"]})

    def _fill(self, texts: dict[str, str]) -> None:
        if self.trial is not None:
            self.form.fill(texts)
            self.form.bring_into_view()

    def _check(self, values: Values) -> dict[str, str]:
        return check_swatch(values, self.trial) if self.trial else {}

    def _pressed(self, press: Press) -> Saved:
        name, _, about = press.key.partition("/")
        trial = self._desk.trial(name)
        blend, fields = read_swatch(press.values, trial, press.at)
        if about:
            version = self._desk.book.get(about)
            mended = still_as_saved(Swatch.of(version.payload), fields)
            trial.mend_swatch(version, press.id, blend=blend, **mended)
            return self._desk.saved("Saved: the swatch is mended, and what stood there before is kept.", name)
        after = trial.log_swatch(blend, press.id, **fields)
        return self._desk.saved(swatch_words(after, press.id), name)
