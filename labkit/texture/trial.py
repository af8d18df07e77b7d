"""A texture trial in a book: what was asked, planned, poured and felt, and what follows from it.

Everything that the panel does is one plain line here::

    trial = start_trial(book, {"shea butter": 12, "castor oil": 20, "beeswax": 6}, wrong="too soft")
    trial = trial.log_pour(1).log_note(1, "soft")
    trial.next_pour()
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

import pandas as pd

from labkit.errors import LabError
from labkit.texture.advice import next_pour
from labkit.texture.again import Due, due
from labkit.texture.hardness import HardnessModel
from labkit.texture.plan import plan_pours
from labkit.texture.record import PlannedPour
from labkit.texture.second import Answer, answer
from labkit.texture.standing import SeenLook
from labkit.texture.usual import base_shares
from labkit.texture.wording import FAIR_AFTER_H, MAP_FROM_POURS
from labkit.texture.writing import Writing, now

if TYPE_CHECKING:
    pass


class TextureTrial(Writing):
    """One trial of a book, read when it is made: make it again to see what is new.

    Parameters
    ----------
    book : TrialBook
    name : str, optional
        Its name, as in `trial_names`, or the id of its question; by default the newest.

    Raises
    ------
    LabError
        Where the book has no such trial.
    """

    @cached_property
    def model(self) -> HardnessModel | None:
        """The fitted surface, or None before the first note."""
        readings = self.readings()
        if readings.empty:
            return None
        return HardnessModel(list(self.question.ladder)).fit(
            readings[list(self.question.parts)], readings["word"], readings["hours"], readings["cast"]
        )

    def fitted(self) -> HardnessModel:
        """Return the model, or raise `LabError` before the first note."""
        if self.model is None:
            raise LabError("Nothing has been felt yet: pour, wait, and write down the first word.")
        return self.model

    @property
    def has_map(self) -> bool:
        """Whether enough pours were felt for a map of one's own."""
        return self.readings()["cast"].nunique() >= MAP_FROM_POURS

    def next_pour(self, pours: int = 1, explore: bool = True, seed: int = 0) -> pd.DataFrame:
        """Return where to pour next: shares, chance of the wanted word, and why.

        Raises
        ------
        LabError
            Before the first note.
        """
        start = base_shares(self.question.usual)
        return next_pour(
            self.fitted(), self.region, self.question.wanted, pours, explore, start, seed,
            waiting=self._waiting_shares(),
        )  # fmt: skip

    def _waiting_shares(self) -> pd.DataFrame | None:
        """Return the shares of what is on the card, or is poured and not felt yet."""
        felt = set(self.readings()["cast"])
        poured = [self.weighing.shares(cast.pour.weighed_g) for cast in self.casts if cast.entry not in felt]
        shares = [*(pour.shares for pour in self.waiting), *poured]
        return pd.DataFrame(shares, columns=list(self.question.parts)) if shares else None

    @cached_property
    def likeliest(self) -> "pd.Series[Any]":
        """What is most likely right as things stand: shares, "chance" and "why"."""
        return self.next_pour(explore=False).iloc[0]

    def plan(self, pours: int, repeats: int = 1, days: int = 1, seed: int = 0) -> pd.DataFrame:
        """Return pours that fill up the region around what was poured or is on the card; as `plan_pours`."""
        parts = list(self.question.parts)
        waiting = pd.DataFrame([each.shares for each in self.waiting], columns=parts)
        known = pd.concat([frame for frame in (self.pours()[parts], waiting) if len(frame)] or [waiting])
        return plan_pours(
            self.region, pours, repeats, days, given=known if len(known) else None,
            batch_g=self.weighing.base_g, step_g=self.question.step_g, seed=seed,
        )  # fmt: skip

    def for_card(self, compositions: pd.DataFrame) -> list[PlannedPour]:
        """Return the rows of `plan` or `next_pour` as numbered pours for the card."""
        whys = list(compositions.get("why", ["to learn the map"] * len(compositions)))
        days = list(compositions.get("day", [1] * len(compositions)))
        parts, first = list(self.question.parts), self.next_number
        shares = [dict(zip(parts, map(float, row), strict=True)) for row in compositions[parts].to_numpy()]
        return [
            PlannedPour(number=number, shares=each, day=int(day), why=why)
            for number, (each, day, why) in enumerate(zip(shares, days, whys, strict=True), first)
        ]

    def ask(
        self,
        wanted: str | None = None,
        *,
        rules: str | Sequence[str] = (),
        without: str | Sequence[str] = (),
        low: Mapping[str, float] | None = None,
        high: Mapping[str, float] | None = None,
    ) -> Answer:
        """Ask the same notes a second question; bounds and rules in fractions of the finished product.

        Raises
        ------
        LabError
            Before the first note, and where what is wished for cannot be.
        """
        return answer(
            self.fitted(), self.region, wanted or self.question.wanted, rules=rules, without=without,
            low=low, high=high, start=base_shares(self.question.usual),
            product_fraction=1 - self.question.held_fraction, first=self.question.wanted,
            waiting=self._waiting_shares(),
        )  # fmt: skip

    def due(self, when: datetime | None = None) -> list[Due]:
        """Return the later looks at pours that are still to come or to catch up on."""
        looks, at = self.looks(), when or now()
        found = []
        for cast in self.casts:
            seen = [
                SeenLook(row["looked_at"].to_pydatetime(), row["after"], row["defects"], cast.label)
                for _, row in looks[looks["cast"] == cast.entry].iterrows()
            ]
            found += due(cast.pour.poured_at, seen, at, cast.label)
        return found

    def chance_when_set(self, number: int | str) -> float | None:
        """Return the chance that a pour gets the wanted word once it is fair to judge.

        Its own notes count; None before the trial's first note.
        """
        if self.model is None:
            return None
        cast = self.cast(number)
        shares = pd.DataFrame([self.weighing.shares(cast.pour.weighed_g)])
        label = cast.entry if cast.entry in set(self.readings()["cast"]) else None
        chances = self.model.predict(shares, hours=FAIR_AFTER_H, pour=[label])
        return float(chances[self.question.wanted].iloc[0])
