"""A colourant, and the table of those that a lip maker meets."""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, NamedTuple, cast

Kind = Literal["pigment", "lake", "filler", "pearl", "dye"]

FROM_MEMORY = "from memory"
PRACTICE = "common practice, no source"


class Span(NamedTuple):
    """The range of a property, and the source that gives it.

    >>> Span(4.0, 4.3, "from memory").how
    'memory'
    """

    low: float
    high: float
    source: str

    @property
    def how(self) -> str:
        """How it is known: "published", "memory" or "practice"."""
        return {FROM_MEMORY: "memory", PRACTICE: "practice"}.get(self.source, "published")


@dataclass(frozen=True)
class Colourant:
    """One colourant, or a filler that is weighed like one.

    Attributes
    ----------
    name : str
        The common name, such as "red iron oxide".
    ci : str
        The Colour Index number, such as "CI 77491"; "" where it has none.
    cas : str
        The CAS number; "" where none is recorded.
    inci : str
        The name on a US label; EU labels use the CI number. "" for a mixture.
    kind : str
        "pigment", "lake", "filler", "pearl" or "dye". Pearls and dyes lie outside the colour forecast.
    form_of : str
        The colourant that this one is a form of: a lake of a dye, another crystal; else "".
    other_names : tuple of str
        Other names, CI and CAS numbers that it is found by.
    note : str
        What a maker should know when handling it.
    density, refractive_index, oil_absorption, bulk_density : Span or None
        In [g/mL], [1], [g oil per 100 g] and, poured loose, [g/mL]; None where nothing is recorded.
    """

    name: str
    ci: str
    cas: str
    inci: str
    kind: Kind
    form_of: str
    other_names: tuple[str, ...]
    note: str
    density: Span | None = None
    refractive_index: Span | None = None
    oil_absorption: Span | None = None
    bulk_density: Span | None = None


@cache
def colourants() -> tuple[Colourant, ...]:
    """Return every colourant that is recorded.

    >>> colourants()[0].name, colourants()[0].ci
    ('red iron oxide', 'CI 77491')
    """
    spans: dict[str, dict[str, Span]] = {}
    for row in _read("pigments.csv"):
        span = Span(float(row["low"]), float(row["high"]), row["source"])
        spans.setdefault(row["material"], {})[row["property"]] = span
    return tuple(_colourant(row, spans.get(row["name"], {})) for row in _read("names.csv"))


def _colourant(row: dict[str, str], spans: dict[str, Span]) -> Colourant:
    others = tuple(each.strip() for each in row["other_names"].split(";") if each.strip())
    return Colourant(
        name=row["name"],
        ci=row["ci"],
        cas=row["cas"],
        inci=row["inci"],
        kind=cast(Kind, row["kind"]),
        form_of=row["form_of"],
        other_names=others,
        note=row["note"],
        **spans,
    )


def _read(name: str) -> list[dict[str, str]]:
    text = files("labkit.materials").joinpath(name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))
