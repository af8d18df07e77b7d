"""Why bounds and rules leave nothing, and by how much each would have to move."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.texture.rules import RegionError, Rule

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Limit:
    """One bound or rule of a region: ``row @ shares <= most``."""

    kind: str
    """"low", "high" or "rule"."""
    part: str
    row: Floats
    most: float
    rule: Rule | None = None

    @property
    def share(self) -> float:
        """The low or the high as the maker gave it."""
        return -self.most if self.kind == "low" else self.most

    @property
    def natural(self) -> bool:
        """Whether it says no more than that a share lies between 0 and 1."""
        return (self.kind == "low" and self.most == 0) or (self.kind == "high" and self.most == 1)

    def name(self) -> str:
        """Return what a message calls it."""
        if self.rule is not None:
            return f"the rule “{self.rule.text}”"
        return f"{self.part}'s {self.kind} of {show_share(self.share)}"

    def mend(self, by: float) -> str | None:
        """Return how it reads after a move of at least `by`; None where a share would leave 0 to 1."""
        step = math.ceil(by * 1000 - 1e-6) / 1000
        if self.rule is not None:
            return f"ease {self.name()} by at least {show_share(step)}: “{self.rule.eased(step)}”"
        if self.kind == "low":
            moved = math.floor((self.share - by) * 1000 + 1e-6) / 1000
        else:
            moved = math.ceil((self.share + by) * 1000 - 1e-6) / 1000
        if not 0 <= moved <= 1:
            return None
        verb = "lower" if self.kind == "low" else "raise"
        return f"{verb} {self.part}'s {self.kind} by at least {show_share(step)}, to {show_share(moved)}"


def show_share(share: float) -> str:
    """Return a share with two decimals, or up to four where it has them.

    >>> show_share(0.4), show_share(0.3333), show_share(0.125)
    ('0.40', '0.3333', '0.125')
    """
    whole, _, digits = f"{share:.4f}".partition(".")
    return f"{whole}.{digits.rstrip('0').ljust(2, '0')}"


def empty_region(limits: Sequence[Limit]) -> RegionError:
    """Return the error that says which limits contradict one another and each single move that makes room.

    Its `parts` and `rule` are those of the limits that clash.

    Parameters
    ----------
    limits
        All bounds and rules of a region that has no point.
    """
    own = [limit for limit in limits if not limit.natural]
    clash = _sums(own, len(limits[0].row)) or _smallest_clash(own)
    mends = [(limit, _move_needed(limit, [each for each in own if each is not limit])) for limit in clash]
    said = [limit.mend(by) for limit, by in mends if by is not None]
    offers = [each for each in said if each]
    rules = [limit.rule.given or limit.rule.text for limit in clash if limit.rule is not None]
    return RegionError(
        f"{_what(clash)} {_how(clash, offers, own)}",
        parts=tuple(dict.fromkeys(limit.part for limit in clash if limit.rule is None)),
        rule=rules[0] if rules else None,
    )


def _sums(own: Sequence[Limit], parts: int) -> list[Limit]:
    """Return all lows where they add up to more than 1, or all highs where to less."""
    lows = [limit for limit in own if limit.kind == "low"]
    highs = [limit for limit in own if limit.kind == "high"]
    if sum(limit.share for limit in lows) > 1 + 1e-9:
        return lows
    if len(highs) == parts and sum(limit.share for limit in highs) < 1 - 1e-9:
        return highs
    return []


def _smallest_clash(own: Sequence[Limit]) -> list[Limit]:
    """Leave out one limit after another for as long as the rest still clash: rules first."""
    clash = sorted(own, key=lambda limit: ("rule", "high", "low").index(limit.kind))
    for limit in list(clash):
        rest = [each for each in clash if each is not limit]
        if _least_move(rest, rest) > 0:
            clash = rest
    return clash


def _move_needed(limit: Limit, others: Sequence[Limit]) -> float | None:
    """Return how far one limit alone has to move; None where the others clash without it."""
    if _least_move(others, others) > 0:
        return None
    return _least_move([*others, limit], [limit])


def _least_move(limits: Sequence[Limit], moving: Sequence[Limit]) -> float:
    """Return the least t for which shares exist when the moving limits allow t more (linear programming)."""
    if not limits:
        return 0.0
    from scipy.optimize import linprog

    rows = np.array([limit.row for limit in limits])
    parts = rows.shape[1]
    give = np.array([[-1.0] if any(limit is each for each in moving) else [0.0] for limit in limits])
    found = linprog(
        np.append(np.zeros(parts), 1.0),
        A_ub=np.hstack([rows, give]),
        b_ub=[limit.most for limit in limits],
        A_eq=[[1.0] * parts + [0.0]],
        b_eq=[1.0],
        bounds=[(0, None)] * parts + [(0, None)],
        method="highs-ds",
        options={"primal_feasibility_tolerance": 1e-10},
    )
    return float(found.fun) if found.status == 0 and found.fun > 1e-10 else 0.0


def _what(clash: Sequence[Limit]) -> str:
    kinds = {limit.kind for limit in clash}
    total = show_share(sum(limit.share for limit in clash)) if kinds <= {"low", "high"} else ""
    if kinds == {"low"}:
        return f"The lows add up to {total}, more than 1:"
    if kinds == {"high"}:
        return f"The highs add up to {total}, less than 1:"
    if len(clash) == 1:
        return f"{_capital(clash[0].name())} leaves no composition at all:"
    named = [limit.name() for limit in clash]
    return f"No composition keeps {', '.join(named[:-1])} and {named[-1]} all at once:"


def _how(clash: Sequence[Limit], offers: Sequence[str], own: Sequence[Limit]) -> str:
    if offers:
        return f"{'; or '.join(offers)}."
    if {limit.kind for limit in clash} in ({"low"}, {"high"}) and _least_move(clash, clash) > 0:
        verb = "lower" if clash[0].kind == "low" else "raise"
        gap = abs(sum(limit.share for limit in clash) - 1)
        return f"{verb} several of them, by {show_share(gap)} together."
    if len(own) > len(clash):
        return "no single move is enough, for others clash too. Leave one of them out and look again."
    return "move several of them."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
