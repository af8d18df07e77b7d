"""An ingredient of the melt, and the table of those that a lip maker meets."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Literal, NamedTuple

from labkit.materials.colourant import FROM_MEMORY, PRACTICE, Colourant

Group = Literal["butter", "oil", "wax", "ester", "powder", "aid", "antioxidant", "flavour", "colourant"]

YOUR_OWN = "your own value"

PROPERTIES = {
    "melting_c": "°C",
    "iodine_value": "g/100 g",
    "saponification_value": "mg/g",
    "density_g_ml": "g/mL",
    "refractive_index": "1",
    "viscosity_mpa_s": "mPa·s",
    "heat_limit_c": "°C",
    "gels_oil_percent": "%",
    "unsaponifiable_percent": "%",
    "bulk_density_g_ml": "g/mL",
    "keeps_months": "months",
}
"""What is recorded of an ingredient, and in which unit."""


class Value(NamedTuple):
    """The range of a property, the source that gives it, and the temperature [°C] where that matters.

    >>> Value(118.0, 141.0, "Codex CXS 210-1999, from memory").how
    'memory'
    """

    low: float
    high: float
    source: str
    at_c: float | None = None

    @property
    def how(self) -> str:
        """How it is known: "own", "published", "memory" or "practice"."""
        if self.source == YOUR_OWN:
            return "own"
        if self.source == PRACTICE:
            return "practice"
        return "memory" if self.source.endswith(FROM_MEMORY) else "published"

    @property
    def middle(self) -> float:
        """The middle of the range."""
        return (self.low + self.high) / 2

    def __str__(self) -> str:
        """Return the range as it is read: "118 to 141", with the temperature where there is one."""
        span = f"{self.low:g}" if self.low == self.high else f"{self.low:g} to {self.high:g}"
        return span if self.at_c is None else f"{span} at {self.at_c:g} °C"


@dataclass(frozen=True)
class Material:
    """One thing that goes into the melt, a colourant included.

    Attributes
    ----------
    name : str
        The common name, such as "shea butter".
    inci : str
        The INCI name as European labels write it; of a colourant, its name on a United States label.
    us_name : str
        The name on a United States label.
    cas : str
        The CAS number; "" where none is recorded.
    group : str
        "butter", "oil", "wax", "ester", "powder", "aid", "antioxidant", "flavour" or "colourant".
    role : str
        What it does in a stick.
    comes_from : str
        Plant, animal, mineral, or "" where it is not recorded.
    families : tuple of str
        What people react to or avoid that it belongs to, such as "tree nut"; "soy?" where it may.
    other_names : tuple of str
        Other names and CAS numbers that it is found by.
    note : str
        What a maker should know.
    values : mapping of str to Value
        What is recorded, by property (`PROPERTIES`); what is not known is not there.
    fatty_acids : mapping of str to float
        Fatty acids [% of all fatty acids]; empty where not known.
    acids_source : str
        Where the fatty acids come from.
    made_of : mapping of str to float
        Of a mixture that the maker recorded: its parts [%].
    colourant : Colourant or None
        What `find` knows of a colourant.
    """

    name: str
    inci: str
    us_name: str
    cas: str
    group: Group
    role: str = ""
    comes_from: str = ""
    families: tuple[str, ...] = ()
    other_names: tuple[str, ...] = ()
    note: str = ""
    values: Mapping[str, Value] = field(default_factory=dict)
    fatty_acids: Mapping[str, float] = field(default_factory=dict)
    acids_source: str = ""
    made_of: Mapping[str, float] = field(default_factory=dict)
    colourant: Colourant | None = None


@cache
def known_ingredients() -> tuple[Material, ...]:
    """Return every ingredient that is recorded, colourants apart.

    >>> known_ingredients()[0].name, str(known_ingredients()[0].values["melting_c"])
    ('cocoa butter', '28 to 36')
    """
    values: dict[str, dict[str, Value]] = {}
    for row in _read("ingredient_values.csv"):
        at_c = float(row["at_c"]) if row["at_c"] else None
        value = Value(float(row["low"]), float(row["high"]), row["source"], at_c)
        values.setdefault(row["material"], {})[row["property"]] = value
    acids: dict[str, dict[str, float]] = {}
    sources: dict[str, str] = {}
    for row in _read("fatty_acids.csv"):
        acids.setdefault(row["material"], {})[row["acid"]] = float(row["percent"])
        sources[row["material"]] = row["source"]
    return tuple(
        _material(row, values.get(row["name"], {}), acids.get(row["name"], {}), sources.get(row["name"], ""))
        for row in _read("ingredients.csv")
    )


def _material(
    row: dict[str, str], values: dict[str, Value], acids: dict[str, float], source: str
) -> Material:
    return Material(
        name=row["name"],
        inci=row["inci"],
        us_name=row["us_name"],
        cas=row["cas"],
        group=row["group"],  # type: ignore[arg-type]
        role=row["role"],
        comes_from=row["comes_from"],
        families=_split(row["families"]),
        other_names=_split(row["other_names"]),
        note=row["note"],
        values=values,
        fatty_acids=acids,
        acids_source=source,
    )


def from_colourant(colourant: Colourant) -> Material:
    """Return a colourant as a material of the melt; a filler counts as a powder."""
    spans = {
        "density_g_ml": colourant.density,
        "refractive_index": colourant.refractive_index,
        "bulk_density_g_ml": colourant.bulk_density,
    }
    insects = colourant.name == "carmine"
    return Material(
        name=colourant.name,
        inci=colourant.inci,
        us_name=colourant.inci,
        cas=colourant.cas,
        group="powder" if colourant.kind == "filler" else "colourant",
        role="filler, dry slip" if colourant.kind == "filler" else "colour",
        comes_from="animal: cochineal insects" if insects else "",
        families=("carmine", "animal") if insects else (),
        other_names=colourant.other_names,
        note=colourant.note,
        values={name: Value(*span) for name, span in spans.items() if span is not None},
        colourant=colourant,
    )


def _split(text: str) -> tuple[str, ...]:
    return tuple(each.strip() for each in text.split(";") if each.strip())


def _read(name: str) -> list[dict[str, str]]:
    text = files("labkit.materials").joinpath(name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))
