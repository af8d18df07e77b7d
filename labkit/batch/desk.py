"""What every part of the batch panel works with."""

from labkit.batch.trial import BatchTrial
from labkit.ui.desk import Desk as PanelDesk


class Desk(PanelDesk):
    """Where a part's form stands, with the batch as it stands."""

    room = "batch"

    def trial(self, entry: str) -> BatchTrial:
        """Return the batch as it stands, by its entry."""
        return BatchTrial(self.book, entry)
