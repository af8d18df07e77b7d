"""A form on a panel: what is typed, what is wrong with it, and presses that are never lost."""

import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, Protocol

import anywidget
import traitlets

from labkit.errors import LabError
from labkit.ui.guard import Guard, one_at_a_time

Values = dict[str, list[dict[str, str]]]
HERE = Path(__file__).parent
SMALL_PX = 240
"""Longer side of the small copy of a photo that a form shows."""
FieldKind = Literal["text", "number", "choice", "tick", "when", "photo", "long", "colour", "show"]


class FormError(LabError):
    """What was typed cannot be saved: ``faults`` maps "group/row/field" to a message."""

    def __init__(self, faults: Mapping[str, str], say: str = "Not saved. Mend the marked places.") -> None:
        super().__init__(say)
        self.faults = dict(faults)


@dataclass(frozen=True)
class Field:
    """One thing to type, choose or photograph.

    ``kind`` "when" is stamped with the time of the press unless an earlier one
    is chosen; "tick" is "yes" or empty; "colour" is text with the browser's own colour
    chooser beside it; "show" is text that cannot be changed;
    ``big`` makes a choice out of large buttons.
    """

    name: str
    label: str
    kind: FieldKind = "text"
    unit: str = ""
    hint: str = ""
    placeholder: str = ""
    choices: tuple[str, ...] = ()
    start: str = ""
    big: bool = False


@dataclass(frozen=True)
class Group:
    """Fields that stand together: one line each, or a table with a row per thing.

    ``rows`` is None for single lines, "grow" for a table that the maker
    lengthens, or the names of the rows. ``starts`` fills the cells in; in a
    table with named rows each carries its row's name as "_row", and may carry a
    cell's placeholder under the field's name with a "?" behind it.
    """

    name: str
    fields: tuple[Field, ...]
    title: str = ""
    intro: str = ""
    rows: Literal["grow"] | tuple[str, ...] | None = None
    starts: tuple[Mapping[str, str], ...] = ()
    row_label: str = ""
    grow_label: str = "Another row"
    more: bool = False


@dataclass(frozen=True)
class Press:
    """A press of the form's button: its id (UUID version 7), its time, its subject, what stood there."""

    id: str
    at: str
    key: str
    values: Values


@dataclass(frozen=True)
class Saved:
    """What is said once a press is on disk, and what to do after that has been said."""

    say: str
    then: Callable[[], None] = field(default=lambda: None)


class Keeper(Protocol):
    """Whoever keeps what is typed but not yet pressed, and knows which presses it has: the trial book."""

    def has(self, id: str) -> bool:
        """Return whether this press is on disk."""

    def draft(self, key: str) -> dict[str, Any] | None:
        """Return what was typed under a key, or None."""

    def keep_draft(self, key: str, values: Mapping[str, Any]) -> None:
        """Keep what is being typed."""

    def drop_draft(self, key: str) -> None:
        """Forget what was typed."""

    def photo_path(self, name: str) -> Path:
        """Return where a photo lies; raise `LabError` where it is not there."""


class Form(anywidget.AnyWidget):
    """Groups of fields with one button.

    Parameters
    ----------
    desk
        Which form this is, across restarts: presses that were not answered are
        found again under this name in the browser.
    on_press
        Called with a `Press`; writes to the book and returns `Saved`, or raises
        `LabError` (the form says it and keeps what was typed).
    check
        Called with what stands there while it is typed; returns faults.
    on_photo
        Called with the bytes of a photo; returns the name that it is kept under.
    """

    _esm = "".join((HERE / name).read_text(encoding="utf-8") for name in ("typed.js", "renew.js", "form.js"))
    _css = Path(__file__).with_name("form.css")

    desk = traitlets.Unicode().tag(sync=True)
    key = traitlets.Unicode().tag(sync=True)
    title = traitlets.Unicode().tag(sync=True)
    groups = traitlets.List(traitlets.Dict()).tag(sync=True)
    draft = traitlets.Dict().tag(sync=True)
    faults = traitlets.Dict().tag(sync=True)
    press_label = traitlets.Unicode("Save").tag(sync=True)
    more_label = traitlets.Unicode("More").tag(sync=True)

    def __init__(
        self,
        desk: str,
        guard: Guard,
        book: Keeper,
        on_press: Callable[[Press], Saved],
        check: Callable[[Values], Mapping[str, str]],
        on_photo: Callable[[bytes], str],
        **traits: Any,
    ) -> None:
        super().__init__(desk=desk, **traits)
        self._guard, self._book = guard, book
        self._on_press, self._check, self._on_photo = on_press, check, on_photo
        self._saved_ms: dict[str, int] = {}
        self.observe(self._drafted, "draft")
        self.on_msg(self._received)

    def ask(self, groups: Sequence[Group], key: str, **traits: Any) -> None:
        """Show these groups about the subject ``key``, with what was typed about it before."""
        shown = [_plain(group) for group in groups]
        with self.hold_sync(), self.hold_trait_notifications():
            self.groups = shown
            if key != self.key:
                self.faults = {}
                self.draft = self._book.draft(self._draft_name(key)) or {}
                self.key = key
            for name, value in traits.items():
                setattr(self, name, value)

    def bring_into_view(self) -> None:
        """Scroll to this form and put the cursor into its first field."""
        self.send({"view": True})

    def fill(self, texts: Mapping[str, str]) -> None:
        """Type texts into the single lines of these names, as if a person had."""
        self.send({"fill": dict(texts)})

    def unsay(self) -> None:
        """Take away what an earlier press was answered with, for it may be true no longer; faults stay."""
        self.send({"unsay": True})

    def press(self, press: Press) -> dict[str, Any]:
        """Answer a press: "saved" once it is on disk, or "say" why not, with "faults" by place.

        A press that is on disk already was sent again because its answer was
        lost: it is answered, not written twice.
        """
        then: Callable[[], None] | None = None
        answer: dict[str, Any]
        self._guard.clear()
        try:
            saved = Saved("Saved.") if self._book.has(press.id) else self._on_press(press)
            answer, then = {"saved": True, "say": saved.say, "faults": {}}, saved.then
        except LabError as error:
            answer = {"say": str(error), "faults": getattr(error, "faults", {})}
        except Exception as error:
            self._guard.report(error)
            answer = {
                "say": "Not saved: something went wrong in the lab. What you typed is kept here.",
                "faults": {},
            }
        if press.key == self.key:
            self.faults = dict(answer["faults"])
        self.send({"id": press.id, **answer})
        if then:
            with self._guard:
                self._forget_draft(press)
                then()
        return answer

    def _forget_draft(self, press: Press) -> None:
        self._saved_ms[press.key] = _made_ms(press)
        self._book.drop_draft(self._draft_name(press.key))
        if press.key == self.key:
            self.draft = {}

    def _draft_name(self, key: str) -> str:
        return f"{self.desk}/{key}"

    def _received(self, _: Any, content: dict[str, Any], buffers: list[memoryview]) -> None:
        with one_at_a_time:
            if "press" in content:
                self.press(Press(**content["press"]))
            elif "photo" in content:
                self.send({"photo": content["photo"], **self._keep_photo(bytes(buffers[0]))})
            elif "look" in content:
                self._show_photo(str(content["look"]))

    def _keep_photo(self, photo: bytes) -> dict[str, str]:
        try:
            return {"name": self._on_photo(photo), "say": "Photo kept."}
        except LabError as error:
            return {"say": str(error)}
        except Exception as error:
            self._guard.report(error)
            return {"say": "The photo was not kept: something went wrong in the lab."}

    def _show_photo(self, name: str) -> None:
        """Send a small copy of a kept photo, or say why there is none."""
        try:
            self.send({"look": name}, [small_photo(self._book.photo_path(name))])
        except (LabError, OSError) as error:
            self.send({"look": name, "say": str(error)})

    def _drafted(self, change: dict[str, Any]) -> None:
        """Keep and check what is typed, unless its subject is gone or a press has overtaken it."""
        draft = change["new"]
        overtaken = draft.get("at", 0) < self._saved_ms.get(self.key, 0)
        if draft.get("key") != self.key or "values" not in draft or overtaken:
            return
        with self._guard:
            kept = {name: value for name, value in draft.items() if name != "shown"}
            self._book.keep_draft(self._draft_name(self.key), kept)
            self.faults = dict(self._check(draft.get("shown", draft["values"])))


def small_photo(path: Path, longest: int = SMALL_PX) -> bytes:
    """Return a photo as a JPEG whose longer side is ``longest`` pixels at most."""
    from PIL import Image

    with Image.open(path) as photo:
        photo.thumbnail((longest, longest))
        buffer = io.BytesIO()
        photo.convert("RGB").save(buffer, "JPEG", quality=80)
    return buffer.getvalue()


def _made_ms(press: Press) -> int:
    """Return when a press was made, in ms since 1970: the first 48 bits of its id (RFC 9562, 5.7)."""
    return int(press.id.replace("-", "")[:12], 16)


def _plain(group: Group) -> dict[str, Any]:
    plain = {
        **vars(group),
        "fields": [{**vars(each), "choices": list(each.choices)} for each in group.fields],
    }
    rows = list(group.rows) if isinstance(group.rows, tuple) else group.rows
    return {**plain, "rows": rows, "starts": [dict(start) for start in group.starts]}
