"""The part of the panel where a colour is read from a photo beside a card."""

from base64 import b64encode
from collections.abc import Callable

import ipywidgets
import numpy as np

from labkit.colour.charts import charts, find_chart
from labkit.colour.cie import on_screen
from labkit.colour.patch import PatchReading, read_patch
from labkit.colour.photo import Photo, read_photo
from labkit.colour.place import CORNERS
from labkit.colour.preview import preview
from labkit.errors import LabError
from labkit.ui.desk import Desk
from labkit.ui.parts import Choice, Fold, button, sentences, show
from labkit.ui.photo_marks import Asked, Marks, PhotoMarks, Shown
from labkit.ui.text import Html, html, joined

CAUTION = "Never swatch hot melt on skin or lips."
HOW = (
    "Lay the card flat and close beside {}, both in the same even daylight, out of the sun and "
    "without flash, and let the two fill the photo."
)
CALLED = {"24-patch chart": "the chart", "6-patch card": "the card", "grey card": "the grey card"}
CHART_CORNERS = (f"{CORNERS[0]} (as the card is read)", *CORNERS[1:])
PATCH_CORNERS = ("one corner of its even part", "the corner opposite")
OWN_INTRO = (
    "Paste its table: L, a, b of each patch in a row of its own, row by row as the card is read. Leave it "
    "empty for the published values."
)
LIGHTS = (("D50, as most makers of charts print them", "D50"), ("D65", "D65"))
LEAST_SD = 0.01


class PhotoPart(ipywidgets.VBox):
    """A photo of a card and a swatch, the corners of both, and the colour that is read.

    Parameters
    ----------
    desk
        Shows what goes wrong, and keeps the photo in the book.
    read
        Called, when its button is pressed, with what fills in a form: "read",
        "colour", "lab_sd", "photo" and "read_by".
    label
        On that button.
    what
        What is read, with “the”.
    """

    def __init__(
        self,
        desk: Desk,
        read: Callable[[dict[str, str]], None],
        label: str = "Use this colour in the swatch below",
        what: str = "the swatch",
    ) -> None:
        self._desk, self._read_into, self._what = desk, read, what
        self._photo: Photo | None = None
        self._name = ""
        self.reading: PatchReading | None = None
        self.cards = Choice("The card in the photo", desk.guard, lambda _: self._ask_anew())
        self.cards.offer([(name, name) for name in charts()], next(iter(charts())))
        self.marks = PhotoMarks(desk.guard, self._take, self._marked, self._asked())
        self.result = ipywidgets.HTML()
        self.use = button(label, desk.guard, self._use)
        intro = html('<p>{}</p><p class="labkit-caution">{}</p>', HOW.format(what), CAUTION)
        super().__init__(
            [ipywidgets.HTML(intro), self.cards, self._own_values(), self.marks, self.result, self.use]
        )
        self._forget()

    @property
    def card(self) -> str:
        """Which card lies in the photo."""
        return str(self.cards.value)

    def _own_values(self) -> Fold:
        self.own = ipywidgets.Textarea(
            description="L, a, b of each patch",
            placeholder="38.0; 14.1; 14.9",
            rows=6,
            continuous_update=False,
            style={"description_width": "initial"},
            layout={"width": "min(100%, 32em)"},
        )
        self.own.observe(lambda _: self.marks.read(), "value")
        self.light = Choice("Given for", self._desk.guard, lambda _: self.marks.read())
        self.light.offer(LIGHTS, "D50")
        said = ipywidgets.HTML(sentences([OWN_INTRO], first=False))
        return Fold("My card came with its own values", said, self.own, self.light)

    def _asked(self) -> list[Asked]:
        chart = Asked("chart", CALLED[self.card], CHART_CORNERS)
        return [chart, Asked("patch", self._what, PATCH_CORNERS)]

    def _ask_anew(self) -> None:
        self.marks.ask(self._asked())
        self.marks.read()

    def _take(self, photo: bytes) -> Shown:
        read_photo(photo)  # one that cannot be read is not kept
        name = self._desk.book.add_photo(photo)
        kept = read_photo(self._desk.book.photo_path(name))
        self._photo, self._name = kept, name
        return Shown(preview(kept), kept.full_size)

    def _marked(self, marks: Marks | None) -> str:
        self._forget()
        if marks is None or self._photo is None:
            return ""
        chart = find_chart(self.card, self.own.value.strip() or None, str(self.light.value))
        self.reading = read_patch(self._photo, chart, marks["chart"], marks["patch"])
        drawn = preview(self._photo, chart, marks["chart"], marks["patch"])
        self.result.value = _shown(self.reading, self._what, drawn)
        show(self.use, True)
        return f"{self._what.capitalize()} is read: {self.reading.hex}."

    def _forget(self) -> None:
        self.reading, self.result.value = None, ""
        show(self.use, False)

    def _use(self) -> None:
        if self.reading is None:
            raise LabError("No colour has been read yet. Choose a photo and mark the corners.")
        self._read_into(filled_in(self.reading, self._name, self.card))


def filled_in(reading: PatchReading, photo: str, card: str) -> dict[str, str]:
    """Return what a reading fills in: "read", "colour", "lab_sd", "photo" and "read_by"."""
    lab = np.round(reading.lab, 2) + 0.0
    return {
        "read": "photo",
        "colour": " ".join(f"{each:.2f}" for each in lab),
        "lab_sd": " ".join(f"{max(each, LEAST_SD):.2f}" for each in reading.lab_se),
        "photo": photo,
        "read_by": f"photo, {card}",
    }


def _lab(reading: PatchReading) -> str:
    pairs = zip("Lab", np.round(reading.lab, 1) + 0.0, reading.lab_se, strict=True)
    return ", ".join(f"{axis}*\u00a0{value:.1f}\u00a0±\u00a0{se:.1f}" for axis, value, se in pairs)


def _shown(reading: PatchReading, what: str, drawn: bytes) -> Html:
    square = html(
        '<div role="img" aria-label="{}" style="background:{};width:9rem;height:6rem;'
        'border:1px solid #767676;forced-color-adjust:none"></div>',
        f"The colour {reading.hex}",
        reading.hex,
    )
    figures = sentences([f"{what.capitalize()} is {reading.hex}: {_lab(reading)}.", *_rests_on(reading)])
    doubts = joined(html('<p class="labkit-caution">{}</p>', each) for each in reading.warnings)
    picture = html(
        '<img class="labkit-picture" alt="{}" src="data:image/jpeg;base64,{}">',
        f"The photo, with what is read of the card and of {what} outlined",
        b64encode(drawn).decode(),
    )
    said = html('<div style="flex:1 1 20rem">{}{}{}</div>', square, figures, doubts)
    return html('<div class="labkit-pictures" style="gap:1rem">{}{}</div>', said, picture)


def _rests_on(reading: PatchReading) -> list[str]:
    said = ["In L*a*b* for daylight (D65, 2°); behind ± stands one standard error."]
    if not on_screen(reading.lab):
        said.append("A screen cannot show this colour; the square is the nearest that it can show.")
    said.append(f"Put right by: {reading.corrected_by}.")
    if np.isfinite(reading.residual_de00):
        said.append(
            f"The card’s own patches, each read from the others, are off by ΔE00 {reading.residual_de00:.1f} "
            "on average."
        )
    if reading.reduced:
        said.append(reading.reduced)
    if not reading.warnings:
        said.append("No glare, no overexposure and no uneven light was found in it.")
    return said
