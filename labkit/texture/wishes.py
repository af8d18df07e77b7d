"""What a second question wishes for: limits in the finished product, kept one after another."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from numbers import Real
from typing import Any

import numpy as np

from labkit.errors import LabError, did_you_mean
from labkit.texture.region import Region
from labkit.texture.rules import RegionError, Rule, parse_rule

NOTHING = 1e-9
"""Share of a part that is left out: what rounding takes from it leaves it above 0."""


@dataclass(frozen=True)
class Wish:
    """One limit that is wished for: at most `high` and at least `low` of a part of the base, or a rule."""

    said: str
    part: str = ""
    low: float = 0.0
    high: float = 1.0
    rule: Rule | None = None
    given: str = ""

    def line(self, parts: Sequence[str], fraction: float) -> str:
        """Return the rule about shares of the base, as a region reads it."""
        assert self.rule is not None
        terms = zip(self.rule.coefficients, parts, strict=True)
        left = " + ".join(f"{each:.12g}*`{part}`" for each, part in terms if each)
        return f"{left} <= {self.rule.limit / fraction:.12g}"


class Wishes:
    """The wishes of a second question, kept one after another until one cannot be.

    Parameters
    ----------
    region : Region
        What the trial allows, in shares of the base.
    fraction : float
        Mass fraction of the finished product that is varied.
    rules, without, low, high
        As `labkit.texture.second.answer` takes them.

    Raises
    ------
    RegionError, LabError
        For what cannot be wished for.
    """

    def __init__(
        self, region: Region, fraction: float, rules: object, without: object, low: object, high: object
    ) -> None:
        self.first, self.fraction, self.parts = region, _fraction(fraction), region.parts
        self.without = self._left_out(without)
        self.wishes = [*self._ends(low, "low"), *self._ends(high, "high"), *self._rules(rules)]
        self.base, self.wide = self._opened()

    # ---- reading

    def _known(self, name: object, where: str) -> str:
        if name in self.parts:
            return str(name)
        raise LabError(f"{where}: “{name}” is none of the parts. {did_you_mean(str(name), self.parts)}")

    def _left_out(self, without: object) -> tuple[str, ...]:
        names = [without] if isinstance(without, str) else without
        if not isinstance(names, Sequence):
            raise LabError(f"Left out are parts by name, such as [“{self.parts[-1]}”]; {without!r} is none.")
        found = tuple(dict.fromkeys(self._known(name, "Left out") for name in names))
        if len(found) == len(self.parts):
            raise RegionError("All parts are left out, and nothing remains to pour.", parts=found)
        return found

    def _ends(self, ends: object, kind: str) -> list[Wish]:
        if ends is None:
            return []
        if not isinstance(ends, Mapping):
            raise LabError(
                f"The {kind} of each part is its fraction of the finished product, such as "
                f"{{“{self.parts[0]}”: 0.4}}; {ends!r} is none."
            )
        named = {self._known(part, f"A {kind}"): value for part, value in ends.items()}
        if kind == "low" and (both := [part for part in self.without if named.get(part, 0)]):
            raise RegionError(f"{both[0]} is left out and asked for: leave one of the two.", parts=(both[0],))
        return [self._end(part, value, kind) for part, value in named.items()]

    def _end(self, part: str, value: Any, kind: str) -> Wish:
        if isinstance(value, bool) or not isinstance(value, Real) or not 0 <= float(value) <= 1:
            hint = f" For {value} % write {value / 100:g}." if _is_percent(value) else ""
            raise LabError(f"The {kind} of {part} is {value!r}: give a fraction of the product.{hint}")
        share = float(value) / self.fraction
        if kind == "low":
            return Wish(f"at least {percent(float(value))} {part}", part, low=share)
        return Wish(f"at most {percent(float(value))} {part}", part, high=share)

    def _rules(self, rules: object) -> list[Wish]:
        lines = [rules] if isinstance(rules, str) else rules
        if not isinstance(lines, Sequence) or not all(isinstance(line, str) for line in lines):
            raise RegionError('Rules are a list of lines, such as ["wax <= 0.5*oil"].')
        read = [rule for line in lines for rule in parse_rule(line, self.parts)]
        return [Wish(f"“{rule.text}”", rule=rule, given=rule.given or rule.text) for rule in read]

    # ---- the region

    def region(self) -> Region:
        """Return the region that keeps all wishes, or raise `RegionError`."""
        region = self.base
        for at, wish in enumerate(self.wishes):
            try:
                region = self._with(region, [wish])
            except RegionError as error:
                raise (self._refusal(region, wish, self.wishes[:at]) or error) from None
        return region

    def _with(self, region: Region, wishes: Sequence[Wish]) -> Region:
        bounds = _bounds(region)
        for wish in wishes:
            if wish.rule is None:
                low, high = bounds[wish.part]
                bounds[wish.part] = (max(low, wish.low), min(high, wish.high))
        rules = [wish.line(self.parts, self.fraction) for wish in wishes if wish.rule is not None]
        return Region(bounds, [*(rule.text for rule in region.rules), *rules])

    def _opened(self) -> tuple[Region, bool]:
        """Return the trial's region with what is left out at 0, and whether other highs had to rise.

        They rise as when a part is taken out of a recipe and the rest makes up for it.
        """
        if not self.without:
            return self.first, False
        rules = [rule.text for rule in self.first.rules]
        bounds = {**_bounds(self.first), **dict.fromkeys(self.without, (NOTHING, NOTHING))}
        try:
            return Region(bounds, rules), False
        except RegionError:
            kept = 1.0 - float(self.first.centre()[list(self.without)].sum())
        wide = {
            part: (low, high if part in self.without else min(1.0, high / kept))
            for part, (low, high) in bounds.items()
        }
        try:
            return Region(wide, rules), True
        except RegionError:
            raise self._nothing_without(wide) from None

    def _nothing_without(self, bounds: dict[str, tuple[float, float]]) -> RegionError:
        left_out = listed(self.without)
        try:
            Region(bounds)
        except RegionError:
            lows = [f"{percent(low * self.fraction)} {part}" for part, (low, _) in bounds.items() if low]
            why = f"the rest has to add up, and this trial asks for at least {listed(lows)}"
        else:
            rules = listed([f"“{rule.text}”" for rule in self.first.rules])
            why = f"that goes against what this trial keeps, {rules}"
        return RegionError(
            f"Without {left_out} nothing is left to pour: {why}. Start a trial with other bounds.",
            parts=self.without,
        )

    def _refusal(self, region: Region, wish: Wish, kept: Sequence[Wish]) -> RegionError | None:
        """Return why a wish cannot be kept with those before it, and what can; None where it is not that."""
        before = [*(f"no {part}" for part in self.without), *(each.said for each in kept)]
        within = f"With {listed(before)}" if before else "Within the bounds of this trial"
        corners = region.corners()
        if wish.rule is not None:
            over = (corners.to_numpy() @ np.array(wish.rule.coefficients)).min() * self.fraction
            if over <= wish.rule.limit:
                return None
            by = percent(over - wish.rule.limit, up=True)
            said = f"the rule {wish.said} cannot be kept: it misses by at least {by} of the finished product"
            return RegionError(
                f"{within}, {said}. Ease it by that much, or leave one of the others out.", rule=wish.given
            )
        least, most = (self.fraction * float(each) for each in corners[wish.part].agg(["min", "max"]))
        possible = (
            f"{within}, {wish.part} is {_between(least, most)} of the finished product, "
            f"so {wish.said} cannot be had."
        )
        change = "change the other wishes" if before else "widen the bounds of the trial"
        nearest = f"at most {percent(most)}" if wish.low > 0 else f"at least {percent(least)}"
        return RegionError(f"{possible} Ask for {nearest} {wish.part}, or {change}.", parts=(wish.part,))

    # ---- words

    def product(self, shares: Mapping[str, float]) -> dict[str, float]:
        """Return fractions of the finished product, exactly 0 of what is left out."""
        return {part: self.fraction * share for part, share in self.cleaned(shares).items()}

    def cleaned(self, shares: Mapping[str, float]) -> dict[str, float]:
        """Return shares with exactly 0 of what is left out, summing to 1."""
        kept = {part: 0.0 if part in self.without else float(each) for part, each in shares.items()}
        return {part: each / sum(kept.values()) for part, each in kept.items()}

    def composition(self, shares: Mapping[str, float]) -> str:
        """Return a composition in % of the finished product."""
        product = self.product(shares)
        said = [f"{percent(each)} {part}" for part, each in product.items() if part not in self.without]
        if self.fraction < 1:
            said.append(f"{percent(1 - self.fraction)} held constant")
        return ", ".join(said)

    def words(self, wanted: str) -> str:
        """Return the question in words."""
        left_out = [f"without {listed(self.without)}"] if self.without else []
        limits = [each.said for each in self.wishes if each.rule is None]
        rules = [each.said for each in self.wishes if each.rule is not None]
        said = [f"{how} {listed(each)}" for how, each in (("with", limits), ("keeping", rules)) if each]
        return " ".join([f"“{wanted}”", ", ".join([*left_out, *said])]).strip()

    def widened(self) -> list[str]:
        """Return what had to be allowed so that something is left to pour without a part."""
        if not self.wide:
            return []
        bounds = _bounds(self.base)
        rest = [part for part in self.parts if part not in self.without]
        highs = [f"{percent(self.fraction * bounds[part][1])} {part}" for part in rest]
        return [
            f"Without {listed(self.without)} the bounds of this trial leave nothing to pour, "
            f"so up to {listed(highs)} were allowed here."
        ]


def _fraction(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, Real) or not 0 < float(value) <= 1:
        raise LabError(
            f"{value!r} of the finished product is varied: give a fraction above 0 and up to 1, such as 0.9."
        )
    return float(value)


def _bounds(region: Region) -> dict[str, tuple[float, float]]:
    ends = zip(region.lows, region.highs, strict=True)
    return dict(zip(region.parts, ends, strict=True))


def _is_percent(value: Any) -> bool:
    return isinstance(value, Real) and not isinstance(value, bool) and 1 < float(value) <= 100


def percent(fraction: float, up: bool = False) -> str:
    """Return a fraction in %, to a tenth where it has one.

    >>> percent(0.4), percent(0.3333), percent(0.0301, up=True)
    ('40 %', '33.3 %', '3.1 %')
    """
    tenths = float(np.ceil(1000 * fraction - 1e-6)) if up else float(round(1000 * fraction))
    return f"{tenths / 10:g} %"


def _between(least: float, most: float) -> str:
    low, high = percent(least), percent(most)
    return f"always {low}" if low == high else f"{low.removesuffix(' %')} to {high}"


def listed(words: Sequence[str]) -> str:
    """Return words as a list in a sentence.

    >>> listed(["oil", "wax", "butter"])
    'oil, wax and butter'
    """
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
