"""What every part of the texture panel works with."""

from labkit.texture.trial import TextureTrial
from labkit.ui.desk import Desk as PanelDesk


class Desk(PanelDesk):
    """Where a part's form stands, with the trial as it stands."""

    room = "texture"

    def trial(self, entry: str) -> TextureTrial:
        """Return the trial as it stands, by its entry."""
        return TextureTrial(self.book, entry)
