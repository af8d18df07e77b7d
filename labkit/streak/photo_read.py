"""The photos of a streak test, read once each."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from labkit.errors import LabError
from labkit.streak.evenness import Unevenness, unevenness

if TYPE_CHECKING:
    from labkit.streak.trial import StreakTrial

Lab = tuple[float, float, float]
LabOf = Callable[[str], Lab | None]
"""From a pigment's name to its full colour, or None where it is not known."""


@dataclass(frozen=True)
class PhotoRead:
    """The photo of a round, and how even what it shows is; None and why where it cannot be read."""

    number: int
    path: Path | None
    found: Unevenness | None
    why: str = ""


def photos_read(trial: "StreakTrial", lab_of: LabOf | None = None) -> list[PhotoRead]:
    """Return the photos of a test, in the order of its rounds.

    A pigment's colour is the one that the maker gave, else what `lab_of` knows.
    """
    known = {
        each.name: each.lab or (lab_of(each.name) if lab_of else None) for each in trial.question.pigments
    }
    colours = tuple((name, lab) for name, lab in known.items() if lab)
    return [
        _read(trial, number, look.photo, colours, look.width_mm)
        for number, (_, look) in enumerate(trial.looks, 1)
        if look.photo
    ]


def _read(
    trial: "StreakTrial", number: int, name: str, colours: tuple[tuple[str, Lab], ...], width_mm: float | None
) -> PhotoRead:
    try:
        path = trial.book.photo_path(name)
        return PhotoRead(number, path, _unevenness(path, colours, width_mm))
    except (LabError, OSError) as error:
        return PhotoRead(number, None, None, str(error))


@lru_cache(maxsize=32)
def _unevenness(path: Path, colours: tuple[tuple[str, Lab], ...], width_mm: float | None) -> Unevenness:
    """Read a photo, which lies under the hash of its content and so never changes."""
    return unevenness(path, dict(colours), width_mm=width_mm)
