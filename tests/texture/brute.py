"""One small trial, fitted and by brute force, with whatever else was seen of it."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from labkit.texture.hardness import HardnessModel
from labkit.texture.priors import Priors
from tests.texture.literal import by_sampling

PARTS = ["butter", "oil", "wax"]
WORDS = ["softish", "right", "firm"]
ROWS = [(0.3, 0.6, 0.1), (0.4, 0.45, 0.15), (0.35, 0.4, 0.25)]
HOURS = [5.0, np.inf, 300.0]
ASKED = [(0.33, 0.45, 0.22), ROWS[1]]
POURS = ["a", "b", "c"]
OWN_PACE = {"pace_sd": 0.3, "late_sd": 0.25, "load_lean": 10.0, "load_sd": 8.0}


def shares(rows: Sequence = ROWS) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=PARTS)


def two_sets(note_sd: float = 3.0) -> Priors:
    """Two sets of sizes that differ in all of them."""
    sizes = [[note_sd, 0.3, 4.0, 0.5, 0.2, 0.1], [2.0 * note_sd, 0.6, 9.0, 0.9, 0.15, 0.3]]
    return Priors(*np.array(sizes).T, half=np.array([np.inf, 0.05]))


def all_sizes(priors: Priors, centre: list[float]) -> list[dict]:
    """The sets, one by one, in the words of the literal version."""
    fixed = {"level": 1.0, "level_sd": 1.0, "gain": 2.0, "gain_sd": 1.5, **OWN_PACE}
    fixed |= {"centre": centre, "lean": [0.0, 0.0, 14.0], "lean_sd": [0.0, 0.0, 7.0]}
    names = ("note_sd", "cast_sd", "slope_sd", "bend_sd", "length", "day_sd", "reading_sd", "half")
    return [
        {name: float(getattr(priors, name)[each]) for name in names}
        | {"rate": float(priors.rate_per_h[each]), "tester_sd": 0.6 * float(priors.note_sd[each])}
        | fixed
        for each in range(len(priors))
    ]


def check(
    model: HardnessModel,
    priors: Priors,
    notes: Sequence[int | None],
    *,
    places: Sequence[dict] = ({}, {}, {}),
    sizes: dict | None = None,
    hours: float = 20.0,
    pours: Sequence[str | None] = (None, "b"),
    loads: Sequence[float] | None = None,
    draws: int = 200_000,
    within: tuple[float, float, float] = (0.004, 0.025, 0.012),
    **seen: object,
) -> None:
    """Assert that chances, hardness and sd at two places are those of weighted draws from the prior.

    The model must have been fitted to ROWS at HOURS, labelled POURS, and whatever `places`
    add to them; `priors` are those that it averages over. The first place asked about is a
    fresh pour, the second the cast "b".
    """
    found = model.predict(shares(ASKED), hours, list(pours), loads)
    at = [
        {"shares": row, "hours": when, "pour": name}
        for row, when, name in zip(ROWS, HOURS, POURS, strict=True)
    ]
    rows = [place | more for place, more in zip([*at, *({},) * (len(places) - 3)], places, strict=True)]
    asked = [{"shares": row, "hours": hours, "pour": name} for row, name in zip(ASKED, pours, strict=True)]
    for each, place in enumerate(asked):
        place |= {"load": loads[each]} if loads is not None else {}
        if place["pour"] == "b":
            place |= {key: rows[1][key] for key in ("day",) if key in rows[1]}
    each_size = [one | (sizes or {}) for one in all_sizes(priors, np.mean(ROWS, axis=0).tolist())]
    rng = np.random.default_rng(0)
    chances, hardness, sd = by_sampling(rows, list(notes), asked, 3, each_size, 0.25, draws, rng, **seen)
    np.testing.assert_allclose(found[WORDS], chances, rtol=0, atol=within[0])
    np.testing.assert_allclose(found["hardness"], hardness, rtol=0, atol=within[1])
    np.testing.assert_allclose(found["sd"], sd, rtol=within[2])
