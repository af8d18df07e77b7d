"""A shade trial as it stands in a book: what it asks, its swatches, what they taught; and writing into it."""

from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Any, Self

import numpy as np
import pandas as pd

from labkit.book.standing import Standing
from labkit.shade.calibration import what_was_learned
from labkit.shade.learned import Learned, fit_columns, learn, teaching, told_before, unknown_pigments
from labkit.shade.load_sweep import Enough, enough_load, sweep
from labkit.shade.medium import Medium
from labkit.shade.mixture import shares
from labkit.shade.pigments import default_pigments
from labkit.shade.record import KeptBlend, Question, Swatch
from labkit.shade.repeats import repeats, sets_of
from labkit.shade.swatch_check import swatch_check
from labkit.shade.swatches import read_swatches
from labkit.times import mended_time, now, refuse_future

if TYPE_CHECKING:
    from labkit.book import Entry, TrialBook
    from labkit.book.frame import Row

KIND, SWATCH, BLEND = "shade.question", "shade.swatch", "shade.blend"
LOADS, FILMS = 25, (5.0, 10.0, 20.0)
"""Steps of load of a sweep; a sheer, a usual and a built-up film [µm]."""


def trials(book: "TrialBook") -> dict[str, str]:
    """Return the first version of each shade trial's question by the trial's name, the newest first."""
    return ShadeTrial.known(book)


def ask(book: "TrialBook", question: Question, name: str = "", id: str | None = None) -> "ShadeTrial":
    """Write a trial's question and return the trial; without a name it is called after its pigments."""
    _refuse_unknown(question.parts)
    return ShadeTrial.begin(book, question, name, _usual_name(question), id)


def _refuse_unknown(blend: Mapping[str, float]) -> None:
    """Raise `LabError` for a pigment that cannot be forecast."""
    default_pigments().only(list(blend))


def _usual_name(question: Question) -> str:
    lead = max(question.parts, key=lambda pigment: question.parts[pigment])
    return f"{lead.capitalize()} shade, {now().day} {now():%b %Y}"


def start_shade(
    book: "TrialBook", parts: Mapping[str, float], market: str, name: str = "", **question: Any
) -> "ShadeTrial":
    """Start a shade trial from pigments in parts; further arguments are the fields of `Question`.

    Raises
    ------
    LabError
        Where a pigment, load, film or backing cannot be, or the name is taken.
    """
    return ask(book, Question.of({"parts": dict(parts), "market": market, **question}), name)


class ShadeTrial(Standing):
    """One shade trial: its question, swatches and kept blends, and what follows from them."""

    question_kind = KIND
    mended_kinds = (SWATCH,)

    # ------------------------------------------------------------ reading

    @cached_property
    def question(self) -> Question:
        """What this trial asks."""
        return Question.of(self.question_row.head.payload)

    @property
    def medium(self) -> Medium:
        """The base that the pigments lie in."""
        return Medium(self.question.density_g_ml, self.question.index)

    @property
    def pigment_names(self) -> tuple[str, ...]:
        """The pigments, in the order of the question."""
        return tuple(self.question.parts)

    def blend(self, load: float) -> dict[str, float]:
        """Return mass % of the finished product of each pigment at a load [%].

        Only the ratio is the trial's own.
        """
        parts = shares(np.array(list(self.question.parts.values())))
        return dict(zip(self.pigment_names, (load * parts).tolist(), strict=True))

    def grams(self, load: float) -> dict[str, float]:
        """Return grams of each pigment, and of the base, for the trial's batch at a load [%]."""
        batch = self.question.batch_g
        grams = {name: batch * percent / 100 for name, percent in self.blend(load).items()}
        return {**grams, "base": batch - sum(grams.values())}

    @cached_property
    def swatch_rows(self) -> "list[Row]":
        """The swatches of this trial."""
        return self.rows(SWATCH)

    def swatches(self) -> pd.DataFrame:
        """Return this trial's swatches as `calibrate` takes them, with when, batch, entry and version.

        A swatch that was mended in two places at once stands there twice until a person has settled it.
        """
        return swatch_table(self.swatch_rows)

    @cached_property
    def _teaching(self) -> pd.DataFrame:
        """All swatches of the book that can teach: each once, and of pigments that labkit forecasts."""
        maker = self.question_row.first.maker
        return teaching(swatch_table(row for row in self.book.rows(SWATCH) if row.first.maker == maker))

    def kept(self) -> "list[tuple[Row, KeptBlend]]":
        """Return the blends that were kept from this trial, the newest first."""
        return [(row, KeptBlend.of(row.head.payload)) for row in reversed(self.rows(BLEND))]

    @cached_property
    def learned(self) -> Learned:
        """What all swatches of this trial's maker taught: their pigments are the same in every trial."""
        return learn(self._teaching, self.medium)

    def what_was_learned(self) -> pd.DataFrame:
        """Return what the book's swatches taught about each pigment; no row where they taught nothing."""
        learned = self.learned
        if learned.swatches.empty or learned.refused:
            return pd.DataFrame(columns=["pigment", "sentence"])
        return what_was_learned(default_pigments(), learned.pigments, fit_columns(learned.swatches))

    def misfits(self, entry: str = "") -> list[str]:
        """Return a sentence for each of this trial's swatches, or for one, that does not fit the rest.

        They are numbered as in `swatches`.
        """
        learned = self.learned
        if learned.swatches.empty or learned.refused:
            return []
        told = swatch_check(fit_columns(learned.swatches), None, self.medium)
        number = {each: at for at, each in enumerate(self.swatches()["entry"], 1)}
        rows = zip(learned.swatches["entry"], told["fits"], told["sentence"], strict=True)
        return [
            f"Swatch {number[own]}: {said.partition(': ')[2]}"
            for own, fits, said in rows
            if not fits and own in number and entry in ("", own)
        ]

    def without_forecast(self) -> list[str]:
        """Return the pigments of this trial's swatches that labkit does not forecast (any more)."""
        return unknown_pigments(self.swatches())

    def forked(self) -> int:
        """Return how many of this trial's swatches were mended in two places at once."""
        return len({row.entry for row in self.swatch_rows if row.forked})

    def told(self, entry: str = "") -> pd.DataFrame:
        """Return what was forecast before each swatch of this trial, or before one; see `told_before`."""
        own = teaching(self.swatches())
        own = own[own["entry"] == entry] if entry else own
        return told_before(self._teaching, own, self.medium)

    def repeats(self) -> pd.DataFrame:
        """Return how repeat swatches of this trial vary, see `labkit.shade.repeats.repeats`."""
        return repeats(teaching(self.swatches()), default_pigments().names)

    def enough(self) -> Enough:
        """Return the load from which more pigment hardly covers more, in the question's film."""
        asked = self.question
        return enough_load(asked.parts, self._loads, asked.film_um, self.learned.pigments, self.medium)

    @property
    def _loads(self) -> np.ndarray:
        return np.linspace(self.question.low_load, self.question.high_load, LOADS)

    def repeat_sets(self) -> list[pd.DataFrame]:
        """Return the swatches of this trial that repeat one another, see `labkit.shade.repeats.sets_of`."""
        return sets_of(teaching(self.swatches()), default_pigments().names)

    def sweep(self, backings: Iterable[Any] = ()) -> pd.DataFrame:
        """Return the sweep that the question asks for, over `FILMS` and the question's own film."""
        asked = self.question
        films = sorted({*FILMS, asked.film_um})
        return sweep(
            asked.parts, self._loads, films, list(backings or asked.backings), self.learned.pigments,
            self.medium,
        )  # fmt: skip

    # ------------------------------------------------------------ writing

    def log_swatch(self, blend: Mapping[str, float], id: str | None = None, **details: Any) -> Self:
        """Write down a swatch; details are the fields of `Swatch`, swatched now where no time is given.

        Raises
        ------
        LabError
            Where it says no colour, cannot be, or lies in the future.
        """
        swatch = Swatch.of({"question": self.entry, "blend": dict(blend), "swatched_at": now(), **details})
        self._refuse(swatch)
        return self.write(SWATCH, swatch, id)

    def mend_swatch(self, version: "Entry", id: str | None = None, **swatch: Any) -> Self:
        """Correct the version of a swatch that was shown; what stood there stays in its history."""
        before = Swatch.of(version.payload)
        at = mended_time(before.swatched_at, swatch.get("swatched_at"))
        after = Swatch.of({**before.model_dump(), **swatch, "swatched_at": at})
        self._refuse(after)
        return self.mend(version, after, id)

    def keep_blend(
        self, name: str, blend: Mapping[str, float], id: str | None = None, **details: Any
    ) -> Self:
        """Keep a blend for a recipe; details are the fields of `KeptBlend`."""
        market = self.question.market
        kept = {"question": self.entry, "name": name, "blend": dict(blend), "market": market, **details}
        return self.write(BLEND, KeptBlend.of(kept), id)

    def change(self, question: Question, id: str | None = None) -> Self:
        """Write a changed question; swatches keep their own blends and films."""
        _refuse_unknown(question.parts)
        return self.mend(self.entry, question, id)

    def _refuse(self, swatch: Swatch) -> None:
        refuse_future(swatch.swatched_at)
        read_swatches(pd.DataFrame([swatch_columns(swatch)]), default_pigments())


def swatch_columns(swatch: Swatch) -> dict[str, Any]:
    """Return a swatch as a row of the table that `calibrate` takes."""
    lab = dict(zip("Lab", swatch.lab or (np.nan,) * 3, strict=True))
    sd = dict(zip(("L_sd", "a_sd", "b_sd"), swatch.lab_sd or (np.nan,) * 3, strict=True))
    film, film_sd = (np.inf, np.nan) if swatch.film_um is None else (swatch.film_um, swatch.film_sd)
    own = {"film_um": film, "film_sd": film_sd, "backing": swatch.backing_lab or swatch.backing}
    return {**swatch.blend, **own, **lab, **sd, **(swatch.reflectance or {})}


def swatch_table(rows: "Iterable[Row]") -> pd.DataFrame:
    """Return swatches as a table: a row each, 0 % where a pigment is not in it."""
    listed = [(row, Swatch.of(row.head.payload)) for row in rows]
    names = list(dict.fromkeys(name for _, swatch in listed for name in swatch.blend))
    columns = [*names, "film_um", "film_sd", "backing", *"Lab", "L_sd", "a_sd", "b_sd"]
    table = pd.DataFrame([swatch_columns(swatch) for _, swatch in listed])
    waves = sorted((name for name in table if name not in columns), key=lambda name: float(str(name)))
    table = table.reindex(columns=[*columns, *waves])
    table[names] = table[names].fillna(0.0)
    return table.assign(
        batch=[swatch.batch for _, swatch in listed],
        swatched=[swatch.swatched_at for _, swatch in listed],
        entry=[row.entry for row, _ in listed],
        version=[row.head.id for row, _ in listed],
    )
