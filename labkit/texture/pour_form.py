"""The form of a pour."""

from collections.abc import Mapping, Sequence
from typing import Any

from labkit.quantities import read_number
from labkit.texture.record import HELD, Pour, Question
from labkit.texture.usual import base_shares
from labkit.texture.weigh import Weighing, shown_grams
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, read_fields


def pour_groups(
    question: Question,
    planned: Mapping[str, float] | None,
    saved: Pour | None = None,
    stocks: Mapping[str, float] | None = None,
    beside: Mapping[str, float] | None = None,
) -> list[Group]:
    """Return what is asked when a pour is logged: what was saved or planned is filled in.

    A pour that was not planned starts from the usual recipe. With ``stocks``, planned grams of
    stock melts by name, the table asks for these and for what is held constant; ``beside`` is what
    a saved pour from stocks holds beside them.
    """
    step, usual = question.step_g, Weighing(question).grams(base_shares(question.usual))
    planned_g = dict(planned or usual)
    own = [each.name for each in question.usual if each.part == HELD or each.name in (beside or {})]
    names = own if stocks is not None else [each.name for each in question.usual]
    if stocks is not None:
        planned_g |= stocks
        names = [*stocks, *names]
    shown = {name: shown_grams(planned_g.get(name, 0.0), step) for name in names}
    kept = {**(saved.weighed_g if beside is None else beside), **(stocks or {})} if saved else None
    filled = {name: f"{grams:.6g}" for name, grams in kept.items()} if kept is not None else shown
    starts = tuple(
        {"_row": name, "planned": shown[name] if planned else "", "grams": filled.get(name, "")}
        for name in names
    )
    table = Group(
        "weighed", (Field("planned", "Planned, g", "show"), Field("grams", "Weighed", "number", "g")),
        rows=tuple(names), starts=starts, row_label="Ingredient" if stocks is None else "Stock, ingredient",
    )  # fmt: skip
    first = declared_fields(Pour, ("poured_at", "sticks", "pots"), saved)
    rest = declared_fields(
        Pour,
        ("hottest_c", "hot_min", "pour_c", "set_where", "mould", "reheats", "lots", "photo", "remark"),
        saved,
        {"photo": "photo", "remark": "long"},
    )
    return [table, Group("pour", first), Group("pour_more", rest, more=True)]


def read_pour(values: Values, pressed_at: str, stocks: Sequence[str] = ()) -> dict[str, Any]:
    """Return the fields of a `Pour` but its number; grams of stocks by name as "stocks_g".

    Raises
    ------
    FormError
        With a message at each place that is wrong.
    """
    faults = Faults()
    weighed = read_grams(values, "weighed", faults)
    fields = read_fields(Pour, values, ("pour", "pour_more"), pressed_at, faults)
    faults.stop()
    stocks_g = {name: weighed.pop(name) for name in stocks if name in weighed}
    return {"weighed_g": weighed, "stocks_g": stocks_g, **fields}


def check_pour(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    read_grams(values, "weighed", faults)
    read_fields(Pour, values, ("pour", "pour_more"), NO_PRESS, faults)
    return faults.found


def read_grams(values: Values, group: str, faults: Faults) -> dict[str, float]:
    """Return the grams that stand in a table of ingredients, by row; 0 where a cell is empty."""
    weighed = {}
    for row in values.get(group, []):
        path, text = f"{group}/{row['_row']}/grams", row.get("grams", "").strip()
        grams = faults.read(path, read_number, text, row["_row"], "g") if text else 0.0
        if grams is not None and grams < 0:
            faults.found[path] = f"{row['_row']}: {grams:g} g is less than nothing."
        weighed[row["_row"]] = grams
    return weighed
