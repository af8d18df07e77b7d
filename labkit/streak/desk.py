"""What every part of the streak panel works with."""

from labkit.streak.trial import StreakTrial
from labkit.ui.desk import Desk as PanelDesk


class Desk(PanelDesk):
    """Where a part's form stands, with the test as it stands."""

    room = "streak"

    def trial(self, entry: str) -> StreakTrial:
        """Return the test as it stands, by its entry."""
        return StreakTrial(self.book, entry)
