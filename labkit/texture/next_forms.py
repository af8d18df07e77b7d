"""The forms that ask how many pours to put on the weigh card."""

from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import Faults, faults_of, only, whole_number


def next_groups() -> list[Group]:
    """Return what is asked when the next pour goes on the card."""
    return [Group("next", (Field("pours", "How many pours", "number", start="1"),))]


def read_next(values: Values) -> int:
    """Return how many pours are wanted, or raise `FormError`."""
    faults = Faults()
    number = faults.read(
        "next//pours", whole_number, only(values, "next").get("pours", ""), "How many pours", 1, 6
    )
    faults.stop()
    return int(number)


def check_next(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    return faults_of(read_next, values)


def plan_groups() -> list[Group]:
    """Return what is asked when several pours are planned."""
    fields = (
        Field("pours", "How many pours", "number", start="6"),
        Field(
            "repeats", "of which repeats", "number", start="1", hint="The same twice shows how pours vary."
        ),
        Field("days", "on how many days", "number", start="2"),
    )
    return [Group("plan", fields)]


def read_plan(values: Values) -> tuple[int, int, int]:
    """Return pours, repeats among them, and pouring days, or raise `FormError`."""
    faults, row = Faults(), only(values, "plan")
    pours = faults.read("plan//pours", whole_number, row.get("pours", ""), "How many pours", 1, 40)
    most = (pours or 40) - 1
    repeats = faults.read("plan//repeats", whole_number, row.get("repeats", ""), "Repeats", 0, max(0, most))
    days = faults.read("plan//days", whole_number, row.get("days", ""), "Days", 1, pours or 40)
    faults.stop()
    return pours, repeats, days


def check_plan(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    return faults_of(read_plan, values)
