"""What another room knows of a pot, handed in: a model, and in words what it rests on."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from labkit.batch.additions import Hardness
from labkit.batch.side_effects import Colour

if TYPE_CHECKING:
    from labkit.batch.record import Line
    from labkit.book import TrialBook


@dataclass(frozen=True)
class HandedHardness:
    """How hard a pot would set.

    Attributes
    ----------
    model : callable or None
        From the share of each ingredient to (hardness in words of the ladder, 0 the softest, and its sd),
        or to None where nothing is known; None where there is no trial to ask.
    words : str
        What it rests on, or why there is none.
    ladder : tuple of str
        Its words, soft to hard.
    """

    model: Hardness | None
    words: str
    ladder: tuple[str, ...] = ()


@dataclass(frozen=True)
class HandedColour:
    """What colour a pot would have.

    Attributes
    ----------
    model : callable or None
        From mass % of each pigment to CIELAB of a thick drip and its sd, or to None for a pigment that
        is not forecast.
    names : callable
        From names to those of them that are pigments with a forecast.
    known : tuple of str
        Pigments that can be forecast.
    words : callable
        From the names of pigments to what their forecast rests on.
    """

    model: Colour | None
    names: Callable[[Sequence[str]], tuple[str, ...]]
    known: tuple[str, ...]
    words: Callable[[Sequence[str]], str]


class HardnessOf(Protocol):
    """Where a panel asks for the hardness of pots made of these lines."""

    def __call__(
        self, book: "TrialBook", lines: "Sequence[Line]", maker: str | None = None
    ) -> HandedHardness:
        """Return what is known, of this maker's trials, by default of the book's."""


class ColourOf(Protocol):
    """Where a panel asks for the colour of pots."""

    def __call__(self, book: "TrialBook", maker: str | None = None) -> HandedColour:
        """Return what is known, of this maker's swatches, by default of the book's."""


NO_HARDNESS = HandedHardness(None, "There is no texture trial to ask how hard this pot would set.")
