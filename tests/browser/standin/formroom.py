"""A room with one form of every kind of field: what is pressed is written into a file beside the notebook."""

import json
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import ClassVar, Literal

import ipywidgets

from labkit.book import TrialBook
from labkit.book.record import Record, noted
from labkit.errors import LabError
from labkit.ui.card import Card
from labkit.ui.form import Field, Form, Group, Saved
from labkit.ui.guard import Guard
from labkit.ui.parts import Choice, button, confirm_button, section, show, style
from labkit.ui.reading import Faults, declared_fields, read_fields
from labkit.ui.text import html, table

DOT = "data:image/gif;base64,R0lGODlhAQABAAAAACw="
PICTURE = html('<img class="labkit-picture" alt="a picture" width="9" src="{}">', DOT)
LONG = "extraordinarily-long-name-of-a-butter-without-any-space-in-it-" * 2
SAVED_AT = datetime(2026, 3, 5, 18, 20, 42, tzinfo=UTC)
FIELDS = ("felt_at", "word", "room_c", "sticks", "photo", "remark")


class Felt(Record):
    kind: ClassVar[str] = "standin.felt"

    felt_at: datetime = noted("Felt")
    word: Literal["", "soft", "firm"] = noted("Hardness", default="")
    room_c: float | None = noted("Room", unit="°C", default=None, ge=-10, le=50)
    sticks: int = noted("Sticks", default=0, ge=0, le=10)
    photo: str = noted("Photo", default="")
    remark: str = noted("Remark", default="", max_length=200)


def groups(saved=None, rows=("wax", LONG)):
    fields = declared_fields(Felt, FIELDS, saved, {"photo": "photo", "remark": "long"})
    weighed = Group(
        "weighed", (Field("grams", "Weighed", "number", "g"),), rows=tuple(rows), row_label="Part"
    )
    big = Field("which", "Which?", "choice", choices=("this one", LONG), big=True)
    small = Field("small", "Which of many?", "choice", choices=("this one", LONG), start=LONG)
    return [Group("felt", fields), weighed, Group("which", (big, small))]


def read(values, pressed_at):
    faults = Faults()
    fields = read_fields(Felt, values, ("felt",), pressed_at, faults)
    faults.stop()
    return fields


class FormPanel(ipywidgets.VBox):
    def __init__(self):
        self.guard, self.book = Guard(), TrialBook("room.db")
        self.form = Form("room", self.guard, self.book, self.pressed, self.check, self.book.add_photo)
        self.next_form = Form("next", self.guard, self.book, self.pressed, lambda _: {}, self.book.add_photo)
        weighed = table(["grams", "Pour 1", "weighed"], [[LONG, "12.34 g", ""]], "Weigh card", numbers=2)
        screen, paper = '<p class="labkit-screen">on the screen</p>', '<h1 class="labkit-paper">on paper</h1>'
        self.card = Card(html(f"{screen}{paper}{{}}", weighed))
        self.subject = Choice("Subject", self.guard, self.choose)
        self.subject.offer([("one", "one"), (LONG, "two")], "one")
        self.form.ask(groups(), "one", press_label="Save this")
        self.next_form.ask([Group("next", (Field("name", "Name of the next"),))], "next", press_label="Go on")
        tools = {
            "Mend": self.mend,
            "Fail": self.fail,
            "Unsay": self.form.unsay,
            "Ask anew": lambda: self.form.ask(groups(rows=("wax", "oil")), self.form.key),
            "Empty the card": lambda: self.card.set_trait("html", ""),
        }
        buttons = ipywidgets.HBox([button(label, self.guard, each) for label, each in tools.items()])
        self.withdraw = confirm_button(
            "Take it back", "Take back pour 1 and its notes?", self.guard, lambda: log("taken")
        )
        super().__init__(
            [style(), self.guard.box, ipywidgets.HTML(f"kernel {os.getpid()}"), self.subject, buttons]
        )
        self.children = [
            *self.children,
            self.withdraw,
            section("Card", self.card, ipywidgets.HTML(PICTURE)),
            ipywidgets.HTML("<div style='height:1500px'></div>"),
            section("Form", self.form),
            section("Next", self.next_form),
        ]
        self.add_class("labkit-panel")

    def choose(self, key):
        self.form.ask(groups(), key, press_label="Save this")

    def mend(self):
        saved = Felt(
            felt_at=SAVED_AT, word="soft", room_c=21.5, sticks=3, photo=self.photo(), remark="glides"
        )
        self.form.ask(groups(saved), "mended", press_label="Save the mended one")
        self.form.bring_into_view()

    def photo(self):
        return self.book.add_photo(Path("photo.jpg")) if Path("photo.jpg").exists() else ""

    def fail(self):
        raise LabError("The press has failed.")

    def check(self, values):
        if values.get("felt", [{}])[0].get("remark") == "broken":
            raise LabError("The check has failed.")
        faults = Faults()
        read_fields(Felt, values, ("felt",), "2000-01-01T00:00+00:00", faults)
        return faults.found

    def pressed(self, press):
        if press.key == "next":
            return Saved("Gone on.")
        fields = read(press.values, press.at)
        if fields["remark"] == "refused":
            raise LabError("It is refused.")
        log({**fields, "felt_at": fields["felt_at"].isoformat(), "typed": press.values["felt"][0]["felt_at"]})
        if fields["remark"] == "the last":
            show(self.form, False)
        return Saved("Saved: it is in your book.")


def log(what):
    with Path("pressed.jsonl").open("a") as file:
        file.write(json.dumps(what) + "\n")
