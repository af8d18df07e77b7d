"""In which order a label names the ingredients."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

ONE_PERCENT = 1.0


class Ordered(NamedTuple):
    """Names in order: what has its place by weight, what may stand in any order, colourants."""

    placed: tuple[str, ...]
    small: tuple[str, ...]
    colourants: tuple[str, ...]


def in_order(plain: Mapping[str, float], colourants: Mapping[str, float], market: str) -> Ordered:
    """Return names in the order of a label.

    21 CFR 701.3(f): what is above 1 % in descending order; then what is at most 1 % in any order; then
    colour additives in any order. Regulation (EC) No 1223/2009, Article 19(1)(g): descending by weight; what
    is below 1 % in any order after what is above; colourants in any order after the others. What may stand
    in any order stands in descending order here. Exactly 1 % may stand in any order under the first, and
    not under the second.

    Parameters
    ----------
    plain, colourants : mapping of str to float
        Mass % of the finished product, by name on the label.

    >>> in_order({"Cera Alba": 20, "Tocopherol": 0.5, "Squalane": 70}, {"CI 77491": 9.5}, "EU")
    Ordered(placed=('Squalane', 'Cera Alba'), small=('Tocopherol',), colourants=('CI 77491',))
    """
    names = _descending(plain)
    edge = ONE_PERCENT + 1e-9 if market == "US" else ONE_PERCENT - 1e-9
    small = tuple(name for name in names if plain[name] <= edge)
    return Ordered(tuple(name for name in names if name not in small), small, tuple(_descending(colourants)))


def summed(pairs: Iterable[tuple[str, float]]) -> dict[str, float]:
    """Return the share of each name: what has one name on the label counts together.

    >>> summed([("CI 77891", 2.0), ("CI 77891", 1.0)])
    {'CI 77891': 3.0}
    """
    found: dict[str, float] = {}
    for name, percent in pairs:
        found[name] = found.get(name, 0.0) + percent
    return found


def _descending(shares: Mapping[str, float]) -> list[str]:
    return sorted(shares, key=lambda name: (-round(shares[name], 9), name))
