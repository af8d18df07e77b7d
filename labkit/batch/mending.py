"""What of a day at the stove can be mended, taken back and put back."""

from labkit.batch.record import Drip, Readings
from labkit.batch.trial import LOGGED, BatchTrial, time_of
from labkit.batch.views import called
from labkit.times import spoken
from labkit.ui.mending import GONE, Item

TOLD = "It stands above, in its form: change it there and save it, or take it back."
NOT_MENDED = (Drip, Readings)
TOLD_NOT_MENDED = "It can be taken back; log it anew where something in it is wrong."


def saved(trial: BatchTrial) -> list[Item]:
    """Return all that the day's log holds or held; the kind of each is its record's."""
    here = [
        Item(entry.kind, entry.id, _called(each), TOLD_NOT_MENDED if isinstance(each, NOT_MENDED) else TOLD)
        for entry, each in trial.logged
    ]
    records = {record.kind: record for record in LOGGED}
    gone = [
        Item(GONE, each.id, f"taken back: {_called(records[each.kind].of(each.payload))}")
        for each in trial.gone()
    ]
    return [*here, *gone]


def _called(logged: object) -> str:
    what, figures = called(logged)
    return ", ".join(each for each in (spoken(time_of(logged)), what, figures) if each)
