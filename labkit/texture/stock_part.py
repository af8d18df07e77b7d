"""The part of the panel where stock melts are written down."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import ipywidgets

from labkit.texture.desk import Desk
from labkit.texture.pour_form import read_grams
from labkit.texture.record import HELD, Question, StockMelt
from labkit.ui.form import Field, Group, Press, Saved, Values
from labkit.ui.parts import sentences
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields
from labkit.ui.text import html, table

if TYPE_CHECKING:
    from labkit.texture.trial import TextureTrial

INTRO = (
    "Melt two or three bases once, and pour from them in ratios: a soft one and a hard one, say. "
    "Pigment and all else that is held constant goes into each pour. Then choose “from stock melts” at Pour."
)


def stock_groups(question: Question) -> list[Group]:
    """Return what is asked when a stock is melted: its name, grams of each varied ingredient, when."""
    names = tuple(each.name for each in question.usual if each.part != HELD)
    name, when, remark = declared_fields(StockMelt, ("name", "melted_at", "remark"), kinds={"remark": "long"})
    grams = Group("melted", (Field("grams", "Weighed", "number", "g"),), rows=names,
                  starts=tuple({"_row": each} for each in names), row_label="Ingredient")  # fmt: skip
    return [
        Group("stock", (name,)),
        grams,
        Group("stock_when", (when,)),
        Group("stock_more", (remark,), more=True),
    ]


def read_stock(values: Values, pressed_at: str) -> dict[str, Any]:
    """Return the fields of a `StockMelt` but its question.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    read = _read(values, pressed_at, faults)
    if not read["name"]:
        faults.found.setdefault("stock//name", "Give it a name, such as “soft”.")
    if not any(read["weighed_g"].values()):
        first = next((row["_row"] for row in values.get("melted", [])), "")
        faults.found.setdefault(f"melted/{first}/grams", "Nothing is in it yet.")
    faults.stop()
    return read


def check_stock(values: Values) -> Mapping[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    _read(values, NO_PRESS, faults)
    return faults.found


def _read(values: Values, pressed_at: str, faults: Faults) -> dict[str, Any]:
    read = read_fields(StockMelt, values, ("stock_when", "stock_more"), pressed_at, faults)
    weighed = {name: grams for name, grams in read_grams(values, "melted", faults).items() if grams}
    return {**read, "name": only(values, "stock").get("name", "").strip(), "weighed_g": weighed}


class StockMelts(ipywidgets.VBox):
    """The stocks that there are, and a form for another one."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.form = desk.form("stock", self._melted, check_stock, "Save this stock")
        self.here = ipywidgets.HTML()
        super().__init__([ipywidgets.HTML(sentences([INTRO], first=False)), self.here, self.form])

    def offer(self, trial: "TextureTrial") -> bool:
        """Show the stocks of a trial, and ask about another one; a trial's first pour comes before that."""
        parts = trial.question.parts
        rows = [
            [stock.name, *(f"{100 * share:.1f}" for share in stock.shares(parts))]
            for stock in trial.melts.stocks
        ]
        grid = table(["", *(f"{part}, % of base" for part in parts)], rows, "Stock melts", len(parts))
        self.here.value = html("{}", grid) if rows else ""
        self.form.ask(stock_groups(trial.question), trial.entry)
        return bool(trial.casts)

    def _melted(self, press: Press) -> Saved:
        read = read_stock(press.values, press.at)
        trial = self._desk.trial(press.key).log_stock(id=press.id, **read)
        if (count := len(trial.melts.melts)) < 2:
            return self._desk.saved(
                f"Saved: stock “{read['name']}”. One more, and you can pour from them.", trial.entry
            )
        return self._desk.saved(f"Saved: stock “{read['name']}”. You have {count} to pour from.", trial.entry)
