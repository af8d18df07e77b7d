"""What of a streak test can be mended, taken back and put back."""

from typing import TYPE_CHECKING

from labkit.streak.record import Round
from labkit.streak.trial import ROUND, StreakTrial
from labkit.times import spoken
from labkit.ui.mending import GONE, Item

if TYPE_CHECKING:
    from labkit.book import Entry

LOOK, CHECK = "round", "stick"
TOLD = {
    LOOK: "It stands above, under “Look”: change it there and save it, or take it back.",
    CHECK: "A check can be taken back; read the stick again and save what you see now.",
}


def saved(trial: StreakTrial) -> list[Item]:
    """Return all rounds and checks that a test has or had."""
    rounds = [
        Item(LOOK, row.head.id, f"round {number}, {_called(row.head)}", TOLD[LOOK], f"round {number}")
        for number, (row, _) in enumerate(trial.looks, 1)
    ]
    sticks = [
        Item(CHECK, row.head.id, f"check of a stick, {spoken(stick.read_at)}", TOLD[CHECK], "the check")
        for row, stick, _ in trial.sticks()
    ]
    gone = [Item(GONE, each.id, f"taken back: {_called(each)}") for each in trial.gone()]
    return [*rounds, *sticks, *gone]


def _called(entry: "Entry") -> str:
    if entry.kind != ROUND:
        return "check of a stick"
    look = Round.of(entry.payload)
    grades = ", ".join(f"{name} {'?' if grade is None else grade}" for name, grade in look.grades.items())
    return f"{spoken(look.graded_at)}: {grades}"
