"""The day at the stove with what other rooms know: hardness from texture trials, colour from swatches."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from labkit.batch.handed import HandedColour, HandedHardness
from labkit.errors import LabError

if TYPE_CHECKING:
    import numpy as np

    from labkit.batch.record import Line
    from labkit.book import TrialBook
    from labkit.shade.medium import Medium
    from labkit.shade.pigments import Pigments
    from labkit.texture.trial import TextureTrial

UNLIKE = 0.02
"""What is held constant may differ by this share of the product before it is said (a judgement)."""
SCENT = 0.02
"""Scent up to this share of the product is left out of account (a judgement)."""


# ---- hardness --------------------------------------------------------------------


def hardness_of(book: "TrialBook", lines: "Sequence[Line]", maker: str | None = None) -> HandedHardness:
    """Return how hard pots made of these lines would set, by the newest texture trial that knows them.

    A trial knows a pot where it has all its oils, butters, waxes and powders that are no pigment, and has a
    map of its own (four felt pours or more). Pigment counts as the load that it is there. The surface is
    fitted when the model is first called.

    Parameters
    ----------
    book : TrialBook
    lines : sequence of Line
        The recipe.
    maker : str, optional
        Whose trials; by default the book's own maker.
    """
    from labkit.texture.trial import TextureTrial
    from labkit.texture.trials import trials

    whose, wanting = maker or book.maker, list[str]()
    for name in trials(book).values():
        trial = TextureTrial(book, name)
        if trial.question_row.first.maker != whose:
            continue
        found = _KnownBase(trial, {each.name: each.kind for each in lines})
        if not found.missing and trial.has_map:
            return HandedHardness(found, found.words(lines), tuple(trial.question.ladder))
        wanting.append(found.wanting)
    return HandedHardness(None, _no_trial(wanting))


def _no_trial(wanting: Sequence[str]) -> str:
    said = "No texture trial of yours knows how hard this pot sets"
    return f"{said}: {wanting[0]}." if wanting else f"{said}: there is none."


class _KnownBase:
    """A texture trial asked about pots."""

    def __init__(self, trial: "TextureTrial", kinds: Mapping[str, str]) -> None:
        self.trial, self.kinds = trial, kinds
        self.own = {each.name.casefold(): each.name for each in trial.question.usual}
        self.missing = [name for name in kinds if self._missing(name)]

    def _missing(self, name: str) -> bool:
        """Return whether the trial has to know this ingredient, and does not."""
        return name.casefold() not in self.own and not self._is_load(name) and not self._is_scent(name)

    def _is_load(self, name: str) -> bool:
        from labkit.materials.name_words import is_pigment

        return self.kinds.get(name, "powder") == "powder" and (is_pigment(name) or _is_colourant(name))

    def _is_scent(self, name: str) -> bool:
        return self.kinds.get(name) == "scent"

    @property
    def wanting(self) -> str:
        """Why this trial cannot be asked."""
        if self.missing:
            return f"“{self.trial.name}” has no {' and no '.join(self.missing)}"
        return f"“{self.trial.name}” has too few felt pours for a map of its own"

    def words(self, lines: "Sequence[Line]") -> str:
        """Return which trial it is, and in what the pot differs from it."""
        pours = self.trial.readings()["cast"].nunique()
        said = f"From your texture trial “{self.trial.name}”, {pours} felt pours."
        total = sum(each.grams for each in lines)
        strange = [
            each.name for each in lines if self._is_scent(each.name) and each.name.casefold() not in self.own
        ]
        aside = f" {' and '.join(strange)}: left out of account." if strange else ""
        return said + aside + self._unlike({each.name: each.grams / total for each in lines})

    def _unlike(self, shares: Mapping[str, float]) -> str:
        here = self.trial.weighing.fractions(self._grams(shares))
        usual = self.trial.weighing.fractions({each.name: each.grams for each in self.trial.question.usual})
        held = set(here) - set(self.trial.question.parts)
        off = sum(here[each] - usual[each] for each in held)
        if abs(off) <= UNLIKE:
            return ""
        less = "more" if off > 0 else "less"
        return (
            f" This pot holds {100 * abs(off):.0f} % {less} of what was held constant there: trust it less."
        )

    def _grams(self, shares: Mapping[str, float]) -> dict[str, float]:
        """Return shares by the trial's own names; those it does not know are left out."""
        return {
            self.own[name.casefold()]: each for name, each in shares.items() if name.casefold() in self.own
        }

    def __call__(self, shares: Mapping[str, float]) -> tuple[float, float] | None:
        """Return hardness and its sd; None outside the region that the trial looked at."""
        import pandas as pd

        grams = self._grams(shares)
        strange = [name for name, each in shares.items() if each > 0 and self._missing(name)]
        scent = sum(each for name, each in shares.items() if self._is_scent(name))
        if strange or scent > SCENT or not self.trial.weighing.fits(grams):
            return None
        parts = self.trial.weighing.shares(grams)
        if not self.trial.region.contains(parts).all():
            return None
        load = sum(each for name, each in shares.items() if self._is_load(name)) / sum(shares.values())
        row = self.trial.fitted().predict(pd.DataFrame([parts]), load=[load]).iloc[0]
        return float(row["hardness"]), float(row["sd"])


def _is_colourant(name: str) -> bool:
    from labkit.batch.pot import Pot

    return bool(Pot({name: 1.0}).colourants)


# ---- colour ----------------------------------------------------------------------


def colour_of(book: "TrialBook", maker: str | None = None) -> HandedColour:
    """Return the colour of a thick drip over white by its pigments, as the maker's swatches taught it.

    Without swatches the pigments are labkit's estimates, and the words say so.

    Parameters
    ----------
    book : TrialBook
    maker : str, optional
        Whose swatches; by default the book's own maker's.
    """
    pigments, medium = _learned(book, maker or book.maker)
    known = _KnownPigments(pigments, medium)
    return HandedColour(known, known.names, pigments.names, known.words)


def _learned(book: "TrialBook", maker: str) -> "tuple[Pigments, Medium]":
    """Return the pigments and the base of the newest shade trial of a maker, or the defaults."""
    from labkit.shade.medium import USUAL
    from labkit.shade.pigments import default_pigments
    from labkit.shade.trial import ShadeTrial, trials

    for entry in trials(book).values():
        trial = ShadeTrial(book, entry)
        if trial.question_row.first.maker == maker:
            return trial.learned.pigments, trial.medium
    return default_pigments(), USUAL


class _KnownPigments:
    """Pigments asked for the colour of pots."""

    def __init__(self, pigments: "Pigments", medium: "Medium") -> None:
        self.pigments, self.medium = pigments, medium

    def __call__(self, loads: Mapping[str, float]) -> "tuple[np.ndarray, np.ndarray] | None":
        """Return CIELAB and its sd; None for a pigment that is not forecast."""
        from labkit.shade import predict

        there = {name: load for name, load in loads.items() if load > 0}
        if not there:
            return None
        try:
            found = predict(there, float("inf"), "white card", self.pigments, self.medium)
        except LabError:
            return None
        return found.lab, found.lab_sd

    def names(self, names: Sequence[str]) -> tuple[str, ...]:
        """Return those of the names that are pigments with a forecast."""
        return tuple(name for name in names if self._resolved(name))

    def _resolved(self, name: str) -> str:
        try:
            return self.pigments.resolve(name)
        except LabError:
            return ""

    def words(self, names: Sequence[str]) -> str:
        """Return what the forecast of these pigments rests on."""
        basis = dict(zip(self.pigments.names, self.pigments.basis, strict=True))
        own = [each for each in names if basis.get(self._resolved(each)) == "your swatches"]
        rest = [each for each in names if each not in own]
        said = [f"The colour of {', '.join(own)} rests on your swatches."] if own else []
        if rest:
            said.append(
                f"The colour of {', '.join(rest)} is labkit's estimate, off by 4 to 10 ΔE00: no swatch of "
                "yours has corrected it yet."
            )
        return " ".join(said)
