"""A texture trial in a book: what was asked, planned, poured and felt, and what follows from it.

Everything that the panel does is one plain line here::

    trial = start_trial(book, {"shea butter": 12, "castor oil": 20, "beeswax": 6}, wrong="too soft")
    trial = trial.log_pour(1).log_note(1, "soft")
    trial.next_pour()
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cached_property
from typing import Any

import pandas as pd

from labkit.errors import LabError
from labkit.texture.advice import next_pour
from labkit.texture.again import Due, due, looks_table
from labkit.texture.hardness import HardnessModel
from labkit.texture.learn import comparisons, learn
from labkit.texture.old_trials import Old, old_trials
from labkit.texture.plan import plan_pours
from labkit.texture.record import PlannedPour
from labkit.texture.second import Answer, answer
from labkit.texture.standing import SeenLook
from labkit.texture.usual import base_shares
from labkit.texture.wording import FAIR_AFTER_H, MAP_FROM_POURS
from labkit.texture.writing import Writing
from labkit.times import now


class TextureTrial(Writing):
    """One trial of a book, read when it is made (see `Standing`): make it again to see what is new."""

    @cached_property
    def model(self) -> HardnessModel | None:
        """The fitted surface, or None before the first note."""
        return learn(self, self.olds)

    def fitted(self) -> HardnessModel:
        """Return the model, or raise `LabError` before the first note."""
        if self.model is None:
            raise LabError("Nothing has been felt yet: pour, wait, and write down the first word.")
        return self.model

    @property
    def shown_key(self) -> str:
        """What the pictures of this trial follow from: another key, other pictures."""
        notes, pours = self.notes(), [cast.version.id for cast in self.casts]
        waiting = [(pour.number, sorted(pour.shares.items())) for pour in self.waiting]
        olds = [(each.entry, each.counts, each.notes) for each in self.olds]
        return repr((self.question_row.head.id, list(notes["version"]), pours, waiting, olds))

    @cached_property
    def left_out(self) -> list[str]:
        """Comparisons that do not count, and why, in sentences."""
        return comparisons(self, self.readings()).left_out

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
        felt = set(self.fitted().gathered.labels)
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
            waiting=self._waiting_shares(), names=self._names(),
        )  # fmt: skip

    def seen(self) -> pd.DataFrame:
        """Return the later looks with a column for each defect; as `labkit.texture.again.looks_table`."""
        return looks_table(self._seen_looks(), {cast.label: cast.pour.poured_at for cast in self.casts})

    def ways(self) -> pd.DataFrame:
        """Return in what the pours differ, by label: % of the product, and how they were made."""
        labels = {cast.entry: cast.label for cast in self.casts}
        pours = self.pours().drop_duplicates("entry", keep="last")
        parts = [f"{part} %" for part in self.question.parts]
        made = ["set_where", "reheats", "hottest_c", "pour_c"]
        return pours.set_index(pours["entry"].map(labels))[[*parts, *made]]

    def _names(self) -> list[str]:
        """Return what the pours that the model knows are called, in its order."""
        labels = {cast.entry: f"pour {cast.label}" for cast in self.casts}
        return [labels[str(entry)] for entry in self.fitted().gathered.labels]

    @cached_property
    def olds(self) -> list[Old]:
        """The earlier trials of the same parts and words, and whether they count."""
        return old_trials(self)

    def due(self, when: datetime | None = None) -> list[Due]:
        """Return the later looks at pours that are still to come or to catch up on."""
        at, looks, found = when or now(), self._seen_looks(), list[Due]()
        for cast in self.casts:
            here = [each for each in looks if each.pour == cast.label]
            found += due(cast.pour.poured_at.astimezone(), here, at, cast.label)
        return found

    def _seen_looks(self) -> list[SeenLook]:
        labels = {cast.entry: cast.label for cast in self.casts}
        return [
            SeenLook(row["looked_at"].to_pydatetime(), row["after"], row["defects"], labels[row["cast"]])
            for _, row in self.looks().iterrows()
        ]

    def chance_when_set(self, number: int | str) -> float | None:
        """Return the chance that a pour gets the wanted word once it is fair to judge.

        Its own notes count; None before the trial's first note.
        """
        if self.model is None:
            return None
        cast = self.cast(number)
        shares = pd.DataFrame([self.weighing.shares(cast.pour.weighed_g)])
        label = cast.entry if cast.entry in self.model.gathered.labels else None
        chances = self.model.predict(shares, hours=FAIR_AFTER_H, pour=[label])
        return float(chances[self.question.wanted].iloc[0])
