"""Small parts of a panel: its style, headings, sentences, buttons, choices."""

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import ipywidgets

from labkit.ui.confirm import Confirm
from labkit.ui.guard import Guard
from labkit.ui.text import Html, html, joined
from labkit.ui.whole import Whole


def style() -> ipywidgets.Widget:
    """Return the widget that styles a panel, and tells on hover what its closed lists cut."""
    sheet = ipywidgets.HTML(f"<style>{Path(__file__).with_name('panel.css').read_text()}</style>")
    return ipywidgets.VBox([sheet, Whole()])


def sentences(said: Iterable[str], first: bool = True) -> Html:
    """Return sentences as paragraphs, the first one large."""
    large = ' class="labkit-first"'
    return joined(
        html(f"<p{large if first and index == 0 else ''}>{{}}</p>", each) for index, each in enumerate(said)
    )


def section(title: str, *children: ipywidgets.Widget) -> ipywidgets.VBox:
    """Return widgets under a heading."""
    return ipywidgets.VBox([ipywidgets.HTML(html("<h2>{}</h2>", title)), *children])


class Fold(ipywidgets.VBox):
    """Widgets folded away under a button that shows and hides them.

    Parameters
    ----------
    title
        On the button.
    children
        What is folded away.
    opened
        Called each time it is opened.
    """

    def __init__(
        self, title: str, *children: ipywidgets.Widget, opened: Callable[[], None] | None = None
    ) -> None:
        self._title, self._opened = title, opened
        self.head = ipywidgets.Button(layout={"width": "calc(100% - 4px)"})
        self.head.add_class("labkit-fold-head")
        self.head.on_click(lambda _: self.turn())
        self.content = ipywidgets.VBox(children)
        super().__init__([self.head, self.content])
        self.is_open = True
        self.turn()

    def turn(self) -> None:
        """Open it where it is folded, and fold it where it is open."""
        self.is_open = not self.is_open
        self.head.description = f"{'▾' if self.is_open else '▸'} {self._title}"
        show(self.content, self.is_open)
        if self.is_open and self._opened is not None:
            self._opened()


def button(label: str, guard: Guard, pressed: Callable[[], None]) -> ipywidgets.Button:
    """Return a button whose errors are shown by the guard."""
    made = ipywidgets.Button(description=label, tooltip=label, layout={"align_self": "flex-start"})

    def call(_: ipywidgets.Button) -> None:
        guard.clear()
        with guard:
            pressed()

    made.on_click(call)
    return made


def confirm_button(
    label: str, question: str, guard: Guard, pressed: Callable[[], None], yes: str = ""
) -> Confirm:
    """Return a button that asks before it does what cannot be undone with one press.

    Parameters
    ----------
    label
        On the button.
    question
        Shown after the first press, with “Yes, …” and “No”.
    pressed
        Called after “Yes, …”; its errors are shown by the guard.
    yes
        What stands after “Yes, ”; by default the label in lower case.
    """

    def call() -> None:
        guard.clear()
        with guard:
            pressed()

    return Confirm(label, question, f"Yes, {yes or label[:1].lower() + label[1:]}", call)


class Choice(ipywidgets.Dropdown):
    """A drop-down whose errors are shown by the guard; ``chosen`` hears what a person chose."""

    def __init__(self, label: str, guard: Guard, chosen: Callable[[str], None]) -> None:
        super().__init__(
            description=label,
            style={"description_width": "initial"},
            layout={"width": "max-content", "max_width": "calc(100% - 4px)"},
        )
        self._guard, self._chosen, self._offering = guard, chosen, False
        self.observe(self._heard, "value")

    def offer(self, options: Sequence[tuple[str, str]], value: str | None) -> None:
        """Put options there, with one of them chosen, without hearing that as a person's choice."""
        self._offering = True
        self.options, self.value = options, value
        self._offering = False

    def _heard(self, change: dict[str, str | None]) -> None:
        if change["new"] is not None and not self._offering:
            self._guard.clear()
            with self._guard:
                self._chosen(change["new"])


def show(widget: ipywidgets.Widget, shown: bool) -> None:
    """Show or hide a widget."""
    widget.layout.display = None if shown else "none"
