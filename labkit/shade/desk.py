"""What every part of the shade panel works with."""

from labkit.shade.trial import ShadeTrial
from labkit.ui.desk import Desk as PanelDesk


class Desk(PanelDesk):
    """Where a part's form stands, with the trial as it stands."""

    room = "shade"

    def trial(self, entry: str) -> ShadeTrial:
        """Return the trial as it stands, by its entry."""
        return ShadeTrial(self.book, entry)
