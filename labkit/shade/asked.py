"""Which blend is asked for, as it was read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from numbers import Integral
from typing import Any

import numpy as np

from labkit.errors import LabError
from labkit.shade.allowed import Allowed, allowed_on_lips
from labkit.shade.backing import reflectance_of
from labkit.shade.film_colour import one_film
from labkit.shade.medium import USUAL, Medium
from labkit.shade.pigments import Pigments, default_pigments
from labkit.shade.pot import BASE, Pot, read_pot
from labkit.shade.wish import Wish, read_wish


@dataclass(frozen=True)
class Asked:
    """A wanted colour, and what may be used to make it.

    Attributes
    ----------
    pigments
        All that may be in the blend.
    allowed
        What may be added, perhaps the base among it; limits; remarks.
    max_load
        Mass % of all pigments.
    film_um, backing, medium
        Film [µm], reflectance of what lies below, as measured in air, and base.
    pot
        What is there now; None for a new blend.
    """

    wish: Wish
    pigments: Pigments
    allowed: Allowed
    max_load: float
    film_um: float
    backing: np.ndarray
    medium: Medium
    pot: Pot | None


def read_asked(
    lab: Any,
    among: Sequence[str],
    max_load: float,
    film_um: float,
    backing: Any,
    market: str | None,
    pot: Mapping[str, float] | None,
    pigments: Pigments | None,
    medium: Medium | None,
) -> Asked:
    """Read the arguments of `labkit.shade.find_shade`; raise `LabError` where they cannot be."""
    known = pigments or default_pigments()
    there = None if pot is None else read_pot(pot, known)
    names, allowed = _allowed(_listed(among), known, market, there)
    return Asked(
        wish=read_wish(lab),
        pigments=known.only(names),
        allowed=allowed,
        max_load=_read_load(max_load),
        film_um=one_film(film_um),
        backing=reflectance_of(backing),
        medium=medium or USUAL,
        pot=there,
    )


def _listed(among: Sequence[str]) -> list[str]:
    names = [among] if isinstance(among, str) else [str(name) for name in among]
    if not [name for name in names if not _is_base(name)]:
        raise LabError(
            'Among which pigments? Give at least one, such as ["red iron oxide", "titanium dioxide"].'
        )
    return names


def _is_base(name: str) -> bool:
    return name.strip().casefold() == BASE


def _allowed(
    among: list[str], known: Pigments, market: str | None, pot: Pot | None
) -> tuple[list[str], Allowed]:
    """Return the pigments that may be in the blend, and what may be added."""
    wanted = known.only([name for name in among if not _is_base(name)]).names
    may = allowed_on_lips(wanted, market)
    if pot is None:
        return list(may.names), may
    inside = allowed_on_lips([name for name, grams in pot.grams.items() if grams > 0], market, may_lack=False)
    base = (BASE,) if len(wanted) < len(among) else ()
    names = dict.fromkeys((*may.names, *inside.names))
    remarks = tuple(dict.fromkeys(may.remarks + inside.remarks))
    return list(names), Allowed((*may.names, *base), may.limits | inside.limits, remarks)


def _read_load(max_load: Any) -> float:
    try:
        load = float(max_load)
    except (TypeError, ValueError):
        raise LabError(f"the highest load: {max_load!r} is no mass %. Give a number, such as 15.") from None
    if not 0 < load <= 100:
        raise LabError(f"the highest load: {load:g} % cannot be; it is more than 0 and at most 100.")
    return load


def read_whole(value: Any, what: str, least: int) -> int:
    """Return a whole number of at least ``least``.

    >>> read_whole(3, "the number of blends", 1)
    3
    """
    if isinstance(value, bool | np.bool_) or not isinstance(value, Integral) or value < least:
        raise LabError(f"{what} is {value!r}: give a whole number from {least} on.")
    return int(value)
