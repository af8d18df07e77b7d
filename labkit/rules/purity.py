"""How much lead, arsenic and mercury a colourant may hold, and what that comes to in a stick."""

import csv
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, NamedTuple

from labkit.rules.lines import Named, read_lines

if TYPE_CHECKING:
    from labkit.materials.own_values import Own

LEAD_ADVICE_PPM = 10.0
"""What the FDA advises lip products to stay below (draft guidance of December 2016)."""


class Limit(NamedTuple):
    """The most of an element that a colourant may hold [ppm by mass], and where that stands."""

    element: str
    ppm: float
    citation: str
    source: str


class MostLead(NamedTuple):
    """Lead from the colourants if each just meets its limit [ppm of the finished product].

    `not_counted` are colourants whose limit is not recorded.
    """

    ppm: float
    not_counted: tuple[str, ...]

    @property
    def says(self) -> str:
        """What it means, beside the FDA's advice, in words."""
        advice = f"the FDA advises at most {LEAD_ADVICE_PPM:g} ppm in a lip product"
        found = f"If each colourant just met its limit, it would bring {self.ppm:.3g} ppm lead; {advice}."
        missing = (
            f" Not counted, for no limit is recorded: {', '.join(self.not_counted)}."
            if self.not_counted
            else ""
        )
        over = " Ask for lots that hold less." if self.ppm > LEAD_ADVICE_PPM else ""
        return found + over + missing


def impurity_limits(colourant: str) -> tuple[Limit, ...]:
    """Return the limits of a colourant's United States listing by element, as far as recorded.

    >>> [f"{each.element} {each.ppm:g}" for each in impurity_limits("ultramarine")]
    ['arsenic 3', 'lead 20', 'mercury 1']
    """
    return tuple(limit for name, limit in _limits() if name == colourant)


def most_lead(recipe: Named, own: "Own" = None) -> MostLead:
    """Return the most lead that the colourants bring if each just meets its limit: Σ share × limit.

    It says what the limits allow, not what is in the stick: that takes the lots' certificates.

    Raises
    ------
    LabError
        Where a line is not known.

    >>> from labkit.rules.lines import Plain
    >>> most_lead(Plain("rose", {"castor oil": 90, "red iron oxide": 10}))
    MostLead(ppm=1.0, not_counted=())
    """
    total, unknown = 0.0, []
    for line in read_lines(recipe, own):
        if line.material.colourant is None:
            continue
        lead = [each.ppm for each in impurity_limits(line.material.name) if each.element == "lead"]
        total += line.percent / 100 * lead[0] if lead else 0.0
        unknown += [] if lead else [line.material.name]
    return MostLead(total, tuple(dict.fromkeys(unknown)))


def in_words(colourant: str) -> str:
    """Return the limits as a maker reads them; "" where none are recorded.

    >>> in_words("mica")
    'at most 3 ppm arsenic, 20 ppm lead, 1 ppm mercury (21 CFR 73.2496)'
    """
    limits = impurity_limits(colourant)
    if not limits:
        return ""
    most = ", ".join(f"{each.ppm:g} ppm {each.element}" for each in limits)
    return f"at most {most} ({limits[0].citation})"


@cache
def _limits() -> tuple[tuple[str, Limit], ...]:
    text = files("labkit.rules").joinpath("impurities.csv").read_text(encoding="utf-8")
    return tuple(
        (row["colourant"], Limit(row["element"], float(row["ppm"]), row["citation"], row["source"]))
        for row in csv.DictReader(text.splitlines())
    )
