"""A photo on which corners are marked: with a mouse, a finger, the arrow keys, or typed."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from labkit.errors import LabError
from labkit.quantities import read_number
from labkit.ui.guard import Guard, one_at_a_time
from labkit.ui.reading import Faults

HERE = Path(__file__).parent

Marks = dict[str, list[list[float]]]
"""Corners by what they are of: across and down, as fractions of the upright photo."""


@dataclass(frozen=True)
class Asked:
    """Corners to mark of one thing: ``label`` is what it is called, ``corners`` what each of them is."""

    name: str
    label: str
    corners: tuple[str, ...]


@dataclass(frozen=True)
class Shown:
    """What is shown of a photo: a JPEG, and the size of the upright photo itself, (width, height)."""

    picture: bytes
    size: tuple[int, int]


class PhotoMarks(anywidget.AnyWidget):
    """Takes a photo, shows it, and asks for corners one after the other.

    A photo or marks that cannot be read are refused in words, and what was
    there before stays.

    Parameters
    ----------
    guard
        Shows what goes wrong in the lab.
    on_photo
        Called with the bytes of a photo as it was chosen; returns what to show.
        Marks of an earlier photo are gone after that.
    on_marks
        Called with all marks each time one has changed, or with None while some
        are missing; returns what to say.
    """

    _esm = "".join((HERE / name).read_text(encoding="utf-8") for name in ("typed.js", "photo_marks.js"))
    _css = "".join((HERE / name).read_text(encoding="utf-8") for name in ("form.css", "photo_marks.css"))

    asked = traitlets.List(traitlets.Dict()).tag(sync=True)
    marks = traitlets.Dict().tag(sync=True)
    picture = traitlets.Bytes().tag(sync=True)
    size = traitlets.List(traitlets.Int()).tag(sync=True)
    faults = traitlets.Dict().tag(sync=True)
    say = traitlets.Unicode().tag(sync=True)
    wrong = traitlets.Bool(False).tag(sync=True)

    def __init__(
        self,
        guard: Guard,
        on_photo: Callable[[bytes], Shown],
        on_marks: Callable[[Marks | None], str],
        asked: Sequence[Asked] = (),
    ) -> None:
        super().__init__()
        self._guard, self._on_photo, self._on_marks = guard, on_photo, on_marks
        self.ask(asked)
        self.observe(lambda _: self.read(), "marks")
        self.on_msg(self._received)

    @property
    def complete(self) -> bool:
        """Whether every corner is marked."""
        return all(len(self.marks.get(each["name"], ())) == len(each["corners"]) for each in self.asked)

    def ask(self, asked: Sequence[Asked]) -> None:
        """Ask for these corners; marks that are there stay."""
        self.asked = [{**vars(each), "corners": list(each.corners)} for each in asked]

    def take(self, photo: bytes) -> None:
        """Show a photo without marks, or say why it cannot be read and leave everything as it was."""
        self._tell("Reading the photo…")
        before = " The photo from before is still here, with its marks." if self.picture else ""
        with self._in_words(before):
            shown = self._on_photo(photo)
            with self.hold_sync():
                self.marks, self.faults = {}, {}
                self.picture, self.size = shown.picture, list(shown.size)
            self._tell("The photo is kept.")

    def type(self, typed: Mapping[str, Sequence[str]]) -> None:
        """Mark typed corners; those that cannot be read are named in ``faults``, and then none is moved."""
        self._tell("Reading the corners…")
        faults, marks = Faults(), {}
        for name, texts in typed.items():
            if any(text.strip() for text in texts):
                marks[name] = [
                    faults.read(f"{name}/{at}", read_corner, text, self.size) for at, text in enumerate(texts)
                ]
        self.faults = faults.found
        if faults.found:
            self._tell("No corner was moved. Mend the marked places.", wrong=True)
        elif marks == self.marks:
            self.read()
        else:
            self.marks = marks

    def read(self) -> None:
        """Hand the marks over, and say what comes of it."""
        if not self.complete:
            with self._in_words():
                self._tell(self._on_marks(None))
            return
        self._tell("Reading the colour…")
        with self._in_words(" The marks are still here."):
            self._tell(self._on_marks(self.marks))

    def _received(self, _: Any, content: dict[str, Any], buffers: list[memoryview]) -> None:
        if "photo" in content:
            self.take(bytes(buffers[0]))
        elif "typed" in content:
            self.type(content["typed"])

    def _tell(self, say: str, wrong: bool = False) -> None:
        with self.hold_sync():
            self.say, self.wrong = say, wrong

    @contextmanager
    def _in_words(self, kept: str = "") -> Iterator[None]:
        """Say what goes wrong, and what is still there."""
        with one_at_a_time:
            self._guard.clear()
            try:
                yield
            except LabError as error:
                self._tell(f"{error}{kept}", wrong=True)
            except Exception as error:
                self._guard.report(error)
                self._tell(f"Not read: something went wrong in the lab.{kept}", wrong=True)


def read_corner(text: str, size: Sequence[int]) -> list[float]:
    """Read a corner as it is typed, across and down from the top left, as fractions of the photo.

    Parameters
    ----------
    text
        Pixels of the upright photo, or both in per cent of it.
    size
        (width, height) of the upright photo.

    Raises
    ------
    LabError
        Where it is not two numbers, or the point lies outside the photo.

    >>> read_corner("1000 600", (4000, 3000))
    [0.25, 0.2]
    >>> read_corner("12,5 %; 40 %", (4000, 3000))
    [0.125, 0.4]
    """
    numbers = [each.strip(",") for each in text.replace("%", " ").replace(";", " ").split()]
    numbers = [each for each in numbers if each]
    if len(numbers) != 2 or text.count("%") not in (0, 2):
        raise LabError(
            f"“{text.strip()}” is no corner. Type two numbers with a space between them, across and down: "
            "pixels such as 412 233, or per cent such as 10.3 % 7.8 %."
        )
    across, down = (read_number(each, what) for each, what in zip(numbers, ("across", "down"), strict=True))
    wide, high = (100, 100) if "%" in text else size
    if not (0 <= across <= wide and 0 <= down <= high):
        limits = "0 % to 100 %" if "%" in text else f"{wide} × {high} pixels"
        raise LabError(f"{across:g}, {down:g} lies outside the photo ({limits}).")
    return [across / wide, down / high]
