"""The part of the panel where pours are looked over again as they age."""

from base64 import b64encode
from datetime import datetime
from typing import TYPE_CHECKING

import ipywidgets

from labkit.texture.again import calendar, defect_words, due_words, tick_list
from labkit.texture.desk import Desk
from labkit.texture.look_form import check_look, look_groups, read_look
from labkit.texture.record import DEFECTS
from labkit.times import now
from labkit.ui.form import Press, Saved
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

if TYPE_CHECKING:
    from labkit.texture.trial import TextureTrial

WHEN = (
    "Day 2, week 1, week 4, and after a warm and a cold turn (a pocket, a fridge), on pieces kept for that."
)


class LookAgain(ipywidgets.VBox):
    """What is due, and a tick-list of defects."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.form = desk.form("look", self._looked, check_look, "Save what you saw")
        self.due = ipywidgets.HTML()
        super().__init__([ipywidgets.HTML(sentences([WHEN], first=False)), self.due, self.form])

    def offer(self, trial: "TextureTrial") -> bool:
        """Show what is due, and ask about the pour that has waited longest; say whether there is any."""
        if not trial.casts:
            return False
        at = now()
        dues = trial.due(at)
        self.due.value = joined(
            [sentences(due_words(dues, at), first=False), _dates(trial, at), _seen(trial)]
        )
        first = min((each for each in dues if each.when <= at), key=lambda each: each.when, default=None)
        self.form.ask(look_groups(trial.labels, first.pour if first else ""), trial.entry)
        return True

    def _looked(self, press: Press) -> Saved:
        label, read = read_look(press.values, press.at)
        trial = self._desk.trial(press.key).log_look(label, id=press.id, **read)
        seen = ", ".join(read["defects"]) or "still sound"
        return self._desk.saved(f"Saved: pour {label}: {seen}.", trial.entry)


def _dates(trial: "TextureTrial", at: datetime) -> Html:
    """Return a link that hands the dates still to come to a phone's calendar."""
    if not (dues := trial.due(at)):
        return Html("")
    file = b64encode(calendar(dues, at).encode()).decode()
    link = '<p><a download="look-again.ics" href="data:text/calendar;base64,{}">{}</a></p>'
    return html(link, file, "The dates for your calendar")


def _seen(trial: "TextureTrial") -> Html:
    """Return which defects each pour showed when, and what goes with them."""
    found = trial.seen()
    if found.empty:
        return Html("")
    ticks = tick_list(found)
    rows = [[f"Pour {pour}", *(row[defect] or "–" for defect in DEFECTS)] for pour, row in ticks.iterrows()]
    grid = table(["", *DEFECTS], rows, "What was seen")
    return html(
        '<div class="labkit-wide">{}</div>{}', grid, sentences(defect_words(found, trial.ways()), first=False)
    )
