"""What to ask testers about before a blind code hides what is in a stick."""

from typing import TYPE_CHECKING, NamedTuple

from labkit.materials.families import FAMILIES
from labkit.rules.allergen_sheet import Sheets, in_product
from labkit.rules.lines import Named, read_lines

if TYPE_CHECKING:
    from labkit.materials.own_values import Own


class Ask(NamedTuple):
    """A question for testers: what about, which lines it is in, and whether it is in there for sure."""

    about: str
    because_of: tuple[str, ...]
    sure: bool


def ask_testers(recipe: Named, own: "Own" = None, sheets: Sheets | None = None) -> list[Ask]:
    """Return what testers have to be asked about before they touch a stick, from what is in it.

    What is not recorded is not asked: the last question, about anything else, stays the maker's.

    Raises
    ------
    LabError
        Where a line is not known.

    >>> from labkit.rules.lines import Plain
    >>> balm = Plain("balm", {"sweet almond oil": 60, "beeswax": 30, "carmine": 10})
    >>> [each.about for each in ask_testers(balm)]
    ['tree nut', 'bee', 'carmine']
    """
    lines = read_lines(recipe, own)
    found: dict[str, list[str]] = {}
    surely: set[str] = set()
    for line in lines:
        for family in line.material.families:
            about = family.removesuffix("?")
            found.setdefault(about, []).append(line.material.name)
            if about == family:
                surely.add(about)
    asks = [
        Ask(each, tuple(found[each]), each in surely)
        for each in FAMILIES
        if each in found and each != "animal"
    ]
    flavours = tuple(line.typed for line in lines if line.material.group == "flavour")
    named = in_product(lines, sheets or {}).named
    return asks + ([Ask(_scents(named), flavours, bool(named))] if flavours or named else [])


def _scents(named: dict[str, float]) -> str:
    return "flavours: " + ", ".join(named) if named else "flavours and scents"
