"""What of a shade trial can be mended, taken back and put back."""

from typing import TYPE_CHECKING

from labkit.shade.found import said_blend
from labkit.shade.record import Swatch
from labkit.shade.trial import ShadeTrial
from labkit.times import spoken
from labkit.ui.mending import GONE, Item

if TYPE_CHECKING:
    from labkit.book import Entry

SWATCH = "swatch"
TOLD = "It stands above, under “Swatch”: change it there and save it, or take it back."


def saved(trial: ShadeTrial) -> list[Item]:
    """Return all swatches that a trial has or had."""
    here = [
        Item(SWATCH, row.head.id, f"{number}: {_called(row.head)}", TOLD, f"swatch {number}")
        for number, row in enumerate(trial.swatch_rows, 1)
    ]
    return [*here, *(Item(GONE, each.id, f"taken back: {_called(each)}") for each in trial.gone())]


def _called(entry: "Entry") -> str:
    swatch = Swatch.of(entry.payload)
    return f"{spoken(swatch.swatched_at)}, {said_blend(swatch.blend)}, over {swatch.backing}"
