"""Shares of the base to grams of each ingredient on the maker's scale, and back."""

from collections.abc import Mapping
from dataclasses import dataclass
from numbers import Real

import numpy as np

from labkit.errors import LabError, did_you_mean
from labkit.quantities import show_grams
from labkit.texture.record import HELD, Question

COARSE = 0.02
"""A scale's step larger than this share of the base blurs a map (a judgement, no source)."""


def apportion(total: int, weights: Mapping[str, float]) -> dict[str, int]:
    """Split a whole number of steps by weight, the largest remainders rounded up.

    >>> apportion(10, {"shea": 2.0, "cocoa": 1.0})
    {'shea': 7, 'cocoa': 3}
    """
    whole = sum(weights.values())
    exact = {name: total * weight / whole for name, weight in weights.items()}
    floors = {name: int(each + 1e-9) for name, each in exact.items()}
    by_remainder = sorted(exact, key=lambda name: floors[name] - exact[name])
    for name in by_remainder[: total - sum(floors.values())]:
        floors[name] += 1
    return floors


def shown_grams(grams: float, step_g: float) -> str:
    """Return grams as a card shows them: on the scale's step, or as they are where that is too coarse.

    >>> shown_grams(12.0, 0.1), shown_grams(0.3, 1.0)
    ('12.0', '0.3')
    """
    return f"{grams:g}" if 0 < grams < step_g else show_grams(grams, step_g)


@dataclass(frozen=True)
class Weighing:
    """What a question's shares are in the pan."""

    question: Question

    @property
    def base_g(self) -> float:
        """Mass of the varied parts in one pour, in g, a whole number of the scale's steps."""
        step = self.question.step_g
        return round(round(self.question.batch_g * (1 - self.question.held_fraction) / step) * step, 6)

    def grams(self, shares: Mapping[str, float]) -> dict[str, float]:
        """Return grams of each ingredient for shares of the base, on the scale's step."""
        step, question = self.question.step_g, self.question
        steps = apportion(round(self.base_g / step), {part: shares[part] for part in question.parts})
        weighed: dict[str, int] = {}
        for part in question.parts:
            inner = {each.name: each.grams for each in question.usual if each.part == part}
            weighed |= apportion(steps[part], inner)
        on_scale = {name: round(each * step, 6) for name, each in weighed.items()}
        on_scale |= self._held_grams()
        return {each.name: on_scale[each.name] for each in question.usual}

    def _held_grams(self) -> dict[str, float]:
        """Return grams of what is held, on the scale's step, or as they are where the scale is too coarse."""
        scale, step = self.question.batch_g / self.question.usual_g, self.question.step_g
        held = {each.name: each.grams * scale for each in self.question.usual if each.part == HELD}
        return {
            name: round(round(grams / step) * step, 6) or float(f"{grams:.2g}")
            for name, grams in held.items()
        }

    def remarks(self) -> list[str]:
        """Return what this scale cannot weigh well in one pour of this size."""
        step, said = self.question.step_g, []
        finer = [f"{grams:g} g {name}" for name, grams in self._held_grams().items() if grams < step]
        if finer:
            said.append(
                f"{' and '.join(finer)}: less than a step of your scale. "
                "Weigh a larger pour, or count it otherwise and write down how."
            )
        if (coarse := step / self.base_g) > COARSE:
            said.append(
                f"One step of your scale is {100 * coarse:.1f} % of this base: "
                f"a pour of {2 * self.question.batch_g:g} g is twice as exact."
            )
        return said

    def check(self, grams: Mapping[str, float]) -> None:
        """Raise `LabError` for an ingredient of another trial, or where nothing varied was weighed."""
        names = [each.name for each in self.question.usual]
        for name in grams:
            if name not in names:
                near = did_you_mean(name, names)
                raise LabError(
                    f"“{name}” is not in this trial, and its map says nothing about it. {near} "
                    "For another ingredient start another trial."
                )
        for name, each in grams.items():
            if isinstance(each, bool) or not isinstance(each, Real) or not -np.inf < each < np.inf:
                raise LabError(f"{name}: {each!r} is no number of grams.")
        if not self._part_grams(grams, held=False):
            raise LabError("Nothing that this trial varies was weighed.")

    def fits(self, grams: Mapping[str, float]) -> bool:
        """Return whether these are grams of this trial's ingredients."""
        try:
            self.check(grams)
        except LabError:
            return False
        return True

    def _part_grams(self, grams: Mapping[str, float], held: bool = True) -> dict[str, float]:
        parts = [*self.question.parts, HELD] if held else list(self.question.parts)
        summed = dict.fromkeys(parts, 0.0)
        for each in self.question.usual:
            if each.part in summed:
                summed[each.part] += grams.get(each.name, 0.0)
        return summed if sum(summed.values()) > 0 else {}

    def shares(self, grams: Mapping[str, float]) -> dict[str, float]:
        """Return the share of each varied part in the base, summing to 1."""
        parts = self._part_grams(grams, held=False)
        total = sum(parts.values())
        return {part: each / total for part, each in parts.items()}

    def fractions(self, grams: Mapping[str, float]) -> dict[str, float]:
        """Return the mass fraction of each part and of what is held constant in the finished product."""
        parts = self._part_grams(grams)
        total = sum(parts.values())
        return {part: each / total for part, each in parts.items()}

    def what(self, part: str) -> str:
        """Return the ingredients of a part in words, with their ratio where there are several."""
        inner = [each for each in self.question.usual if each.part == part]
        if len(inner) == 1:
            return inner[0].name
        least = min(each.grams for each in inner)
        ratio = " to ".join(f"{each.grams / least:.2g}" for each in inner)
        return f"{' and '.join(each.name for each in inner)} ({ratio})"

    def held_words(self) -> str:
        """Return what is held constant, as % of the finished product."""
        held = [each for each in self.question.usual if each.part == HELD]
        return ", ".join(f"{100 * each.grams / self.question.usual_g:.1f} % {each.name}" for each in held)
