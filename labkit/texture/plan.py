"""Which pours to make: as informative as can be for a curved surface over a region."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.errors import LabError
from labkit.texture.asked import read_count, read_seed
from labkit.texture.blends import Blends
from labkit.texture.candidates import candidate_pours, not_near
from labkit.texture.days import day_information, level_cost, split_days
from labkit.texture.exchange import Indices, Search, average_variance
from labkit.texture.region import Region, check_region
from labkit.texture.rounding import weighable, whole_steps
from labkit.texture.shares import check_shares

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]

_MOST_POURS = 200
_GRID = 100
_GRID_PER_POUR = 20  # pours that must differ need room beside one another
_GRID_MOST = 900
_STARTS = 24
_STARTS_APART = 8  # where the best found is one more
_STARTED = 600  # pours times starts at most
_FARTHEST = 1.5  # as `Region.gauge` counts; what lies farther out says little about the region


def plan_pours(
    region: Region,
    pours: int,
    repeats: int = 0,
    days: int = 1,
    *,
    given: object = None,
    batch_g: float | None = None,
    step_g: float | None = None,
    seed: int = 0,
) -> pd.DataFrame:
    """Return a plan of pours that pins down a quadratic surface as well as so many pours can.

    Chosen by exchange with restarts so that the prediction variance, averaged over the
    region, is least. Where different pours are fewer than the surface's coefficients,
    some prior precision is lent to its curvature; see `Blends.prior`.

    Parameters
    ----------
    region : Region
    pours : int
        How many rows in all, 1 to 200.
    repeats : int
        How many of them pour the composition of another row again; all others differ.
    days : int
        Over how many days they are split, as evenly as can be.
    given : DataFrame or array of shares, optional
        Compositions poured before. The plan fills up around them and does not pour
        them again. A "day" column says which of them shared a day; else they all did.
        "chance" and "why" are left aside, so that an earlier answer may be given.
    batch_g, step_g : float, optional
        Mass of the varied parts in one pour and the scale's step, in g: each share
        then is a whole number of steps, and stays inside the region.
    seed : int
        The same seed gives the same plan.

    Returns
    -------
    DataFrame in run order, shuffled within each day, with a column per part and "day"
        from 1. Its ``attrs``: "efficiency", the best found average variance (no
        rounding, repeats or days) over this plan's, at most 1; "average_variance", this
        plan's, in units of a note's variance, less what days add to any plan;
        "best_average_variance"; and "left_out", the number of given compositions so far
        outside the region that they were not counted.

    Raises
    ------
    LabError
        No region; numbers that cannot be; given shares with other parts or sums; a batch that is no
        whole number of steps; a step too coarse for the region; fewer compositions in
        the region than different pours asked for.

    >>> region = Region({"oil": (0.6, 0.9), "wax": (0.1, 0.4)})
    >>> plan = plan_pours(region, 4, repeats=1, batch_g=20, step_g=0.5)
    >>> sorted(plan["wax"]), plan.attrs["left_out"]
    ([0.1, 0.25, 0.25, 0.4], 0)
    """
    region = check_region(region)
    _check_counts(pours, repeats, days)
    if "day" in region.parts:
        raise LabError("A part cannot be called “day”: the plan has a column of that name. Rename it.")
    steps = whole_steps(batch_g, step_g)
    poured, poured_days, left_out = _read_given(given, region)
    rng = read_seed(seed)
    task = _Task(region, Blends.over(region), poured, poured_days, pours, repeats, rng)
    candidates = task.candidates()
    free = task.search(candidates)
    best = free.best(np.ones(pours), False, task.rng, task.starts(_STARTS), [])
    chosen = task.choose(free, best)
    compositions = candidates[chosen]
    if steps is not None and step_g is not None:
        compositions = task.on_steps(compositions, steps, step_g)
    rows = np.repeat(compositions, task.weights.astype(int), axis=0)
    labels = split_days(task.model.terms(rows), task.known_by_day(rows), days, rng)
    plan = _in_run_order(rows, labels, region, rng)
    plan.attrs.update(task.worth(rows, labels, candidates[best]))
    plan.attrs["left_out"] = left_out
    return plan


@dataclass(frozen=True)
class _Task:
    """One request, read and checked."""

    region: Region
    model: Blends
    poured: Floats
    poured_days: Labels
    pours: int
    repeats: int
    rng: np.random.Generator

    @property
    def weights(self) -> Floats:
        """How often each different composition is poured, the most often first."""
        slots = self.pours - self.repeats
        each, over = divmod(self.repeats, slots)
        return np.repeat([2.0 + each, 1.0 + each], [over, slots - over])

    def starts(self, most: int) -> int:
        """How often the search starts afresh: less often for many pours, which need it less."""
        return min(most, max(_STARTED // self.pours, 1))

    def known(self) -> Floats:
        """Information of what was poured, days left aside, and of the prior for so many new pours."""
        terms = self.model.terms(self.poured)
        return self.model.prior(self.pours - self.repeats, terms) + terms.T @ terms

    def _prior(self, rows: Floats) -> Floats:
        """Prior for a plan as it came out: a coarse scale may leave a part hardly varied."""
        return self.model.prior(0, self.model.terms(np.vstack([self.poured, rows])))

    def known_by_day(self, rows: Floats) -> Floats:
        """Information of what was poured, each day with its own effect, and of the plan's prior."""
        return self._prior(rows) + day_information(self.model.terms(self.poured), self.poured_days)

    def variance(self, rows: Floats, prior: Floats) -> float:
        """Average prediction variance of rows and of what was poured, days left aside."""
        terms = self.model.terms(np.vstack([self.poured, rows]))
        return average_variance(prior + terms.T @ terms)

    def candidates(self) -> Floats:
        """Return what to choose from: without what was poured while enough remains."""
        spread = min(_GRID + _GRID_PER_POUR * self.pours + 2 * len(self.poured), _GRID_MOST)
        every = candidate_pours(self.region, spread)
        if len(every) < self.pours - self.repeats:
            raise LabError(
                f"Only {len(every)} composition lies in this region, so {self.pours} pours of it mean "
                f"{self.pours - 1} repeats, not {self.repeats}. Ask for that, or widen the bounds."
            )
        fresh = not_near(every, self.poured)
        return fresh if len(fresh) >= self.pours - self.repeats else every

    def search(self, candidates: Floats) -> Search:
        return Search(self.model.terms(candidates), self.known())

    def choose(self, search: Search, best: Indices) -> Indices:
        """Return the choice with different compositions and as many repeats as asked for."""
        slots = len(self.weights)
        kept = np.unique(best)[:slots]
        others = np.setdiff1d(np.arange(len(search.terms)), kept)
        start = np.concatenate([kept, self.rng.permutation(others)[: slots - len(kept)]])
        return search.best(self.weights, True, self.rng, self.starts(_STARTS_APART), [start])

    def on_steps(self, targets: Floats, steps: int, step_g: float) -> Floats:
        """Return compositions on the scale's steps: the nearest, exchanged where steps are coarse."""
        mixes, coarse = weighable(self.region, targets, self.poured, steps, step_g)
        start: list[int] = []
        for target in targets:
            far = np.linalg.norm(mixes - target, axis=1).round(12)
            far[start] = np.inf
            start.append(int(np.argmin(far)))
        chosen = np.array(start)
        return mixes[self.search(mixes).improve(chosen, self.weights, True) if coarse else chosen]

    def worth(self, rows: Floats, labels: Labels, best_rows: Floats) -> dict[str, float]:
        """Return the plan's average variance, the best found, and their ratio."""
        plain = variance = self.variance(rows, self._prior(rows))
        if labels.max() > 0:
            information = self.known_by_day(rows) + day_information(self.model.terms(rows), labels)
            variance = max(plain, average_variance(information) - level_cost([labels, self.poured_days]))
        best = min(plain, self.variance(best_rows, self._prior(rows)))
        return {"efficiency": best / variance, "average_variance": variance, "best_average_variance": best}


def _check_counts(pours: object, repeats: object, days: object) -> None:
    counts = [read_count(pours, "pours", 1), read_count(repeats, "repeats", 0), read_count(days, "days", 1)]
    if counts[0] > _MOST_POURS:
        raise LabError(f"A plan has at most {_MOST_POURS} pours; {counts[0]} were asked for.")
    if counts[1] >= counts[0]:
        raise LabError(
            f"{counts[1]} repeats of {counts[0]} pours leave none to repeat: ask for {counts[0] - 1} at most."
        )
    if counts[2] > counts[0]:
        raise LabError(f"{counts[0]} pours cannot fill {counts[2]} days: ask for {counts[0]} days at most.")


def _read_given(given: object, region: Region) -> tuple[Floats, Labels, int]:
    """Return what was poured and on which days, and how many lie too far out to count."""
    if given is None or (isinstance(given, pd.DataFrame) and given.empty):
        return np.empty((0, len(region.parts))), np.empty(0, dtype=np.intp), 0
    table, _ = check_shares(given, region.parts)
    named = isinstance(given, pd.DataFrame) and "day" in given
    days = pd.factorize(given["day"], use_na_sentinel=False)[0] if named else np.zeros(len(table))  # type: ignore[index]
    near = region.gauge(table) <= _FARTHEST
    return table[near], np.unique(np.asarray(days)[near], return_inverse=True)[1], int((~near).sum())


def _in_run_order(rows: Floats, labels: Labels, region: Region, rng: np.random.Generator) -> pd.DataFrame:
    order = rng.permutation(len(rows))
    order = order[np.argsort(labels[order], kind="stable")]
    plan = pd.DataFrame(rows[order], columns=list(region.parts))
    plan["day"] = labels[order].astype(int) + 1
    return plan
