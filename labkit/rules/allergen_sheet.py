"""Allergens that a label names: from the supplier's sheet of a flavour to the finished product."""

import csv
import re
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files
from typing import NamedTuple

from labkit.errors import LabError, did_you_mean
from labkit.rules.lines import Line

LEAVE_ON_PERCENT = 0.001
"""Above so much of a leave-on product an allergen is named: Annex III as in Regulation (EU) 2023/1545."""

Sheets = Mapping[str, Mapping[str, float]]
"""By material of the recipe: allergens, in mass % of that material."""


class Allergen(NamedTuple):
    """An allergen by its name on a label, other names, and where it is recorded from."""

    name: str
    other_names: tuple[str, ...]
    source: str


class Found(NamedTuple):
    """Shares of allergens in the finished product [mass %], and what is not among those recorded."""

    shares: dict[str, float]
    not_recorded: tuple[str, ...]

    @property
    def named(self) -> dict[str, float]:
        """Those above what a leave-on product may hold unnamed."""
        return {name: share for name, share in self.shares.items() if share > LEAVE_ON_PERCENT * (1 + 1e-9)}


@cache
def allergens() -> tuple[Allergen, ...]:
    """Return the allergens that are recorded, as far as sure: the list of Annex III is the one that counts.

    >>> allergens()[0].name
    'Amyl Cinnamal'
    """
    text = files("labkit.rules").joinpath("allergens.csv").read_text(encoding="utf-8")
    return tuple(
        Allergen(row["name"], tuple(filter(None, row["other_names"].split("; "))), row["source"])
        for row in csv.DictReader(text.splitlines())
    )


def in_product(lines: Iterable[Line], sheets: Sheets) -> Found:
    """Return the allergens of the finished product: Σ share of the material × share on its sheet.

    A flavour that is itself on the list (peppermint oil, menthol) counts with its whole share.

    Raises
    ------
    LabError
        For a sheet of something that is not in the recipe, or a share that cannot be.

    >>> from labkit.materials import find_material
    >>> flavour = Line("flavour oil", find_material("flavour oil"), 0.5)
    >>> in_product([flavour], {"flavour oil": {"d-limonene": 2.0, "Linalool": 0.1}}).named
    {'Limonene': 0.01}
    """
    given = list(lines)
    shares: dict[str, float] = {}
    unknown: list[str] = []
    for name, sheet in sheets.items():
        percent = sum(each.percent for each in given if name in (each.typed, each.material.name))
        if not percent:
            raise LabError(
                f"allergen sheet of “{name}”: it is not in this recipe. "
                f"{did_you_mean(name, [each.typed for each in given])}"
            )
        for allergen, share in sheet.items():
            if not 0 <= share <= 100:
                raise LabError(
                    f"allergen sheet of “{name}”, {allergen}: {share:g} % cannot be. Give 0 to 100."
                )
            known = _names().get(_key(allergen))
            if known is None:
                unknown.append(allergen)
            else:
                shares[known] = shares.get(known, 0.0) + percent * share / 100
    for each in given:
        itself = _names().get(_key(each.material.inci)) if each.material.group == "flavour" else None
        sheet = sheets.get(each.typed) or sheets.get(each.material.name) or {}
        if itself and itself not in {_names().get(_key(allergen)) for allergen in sheet}:
            shares[itself] = shares.get(itself, 0.0) + each.percent
    return Found(shares, tuple(dict.fromkeys(unknown)))


def _key(name: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", name.casefold()))


@cache
def _names() -> dict[str, str]:
    return {_key(name): each.name for each in allergens() for name in (each.name, *each.other_names)}
