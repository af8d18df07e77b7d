"""What one step at the panel costs, beside a general-purpose Bayesian optimiser: read the ratio in the table.

The step: fit 20 pours with two notes each, 1,000 compositions, the next pour.
"""

from importlib.util import find_spec

import numpy as np
import pandas as pd
import pytest

from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel
from tests.bench.makers import MARKS, NOTES, WANTED, WORDS, make_maker, make_quest
from tests.bench.rival import WAYS_TOLD, best_among, best_anywhere, by_rival, fit_rival, improvement, tell

POURS, POINTS = 20, 1000
GROUP = "20 pours: fit, 1,000 compositions, next pour, beside a general-purpose Bayesian optimiser"

needs_botorch = pytest.mark.skipif(
    find_spec("botorch") is None, reason="BoTorch is not installed: pip install -e .[bench]"
)


@pytest.fixture(scope="module")
def trial():
    """A maker's region, shares of each note, notes, and 1,000 compositions."""
    maker, rng = make_maker(2), np.random.default_rng(0)
    at = maker.region.grid(POINTS)
    shares = at[rng.choice(len(at), POURS, replace=False)]
    return maker.region, np.repeat(shares, NOTES, axis=0), maker.pour(shares, rng), at


@pytest.mark.benchmark(group=GROUP)
def test_labkit(benchmark, trial):
    region, shares, notes, at = trial
    table, points = (pd.DataFrame(rows, columns=list(region.parts)) for rows in (shares, at))
    pours = np.repeat(np.arange(POURS), NOTES)

    def step():
        model = HardnessModel(WORDS).fit(table, notes, pour=pours)
        return model.predict(points), next_pour(model, region, WANTED)

    told, suggested = benchmark(step)
    assert len(told) == len(at)
    assert region.contains(suggested[list(region.parts)]).all()


@needs_botorch
@pytest.mark.filterwarnings("ignore")  # it warns of its own jitter and of what its libraries deprecate
@pytest.mark.benchmark(group=GROUP)
@pytest.mark.parametrize("told", WAYS_TOLD)
@pytest.mark.parametrize("search", ["anywhere", "among 1,000"])
def test_botorch(benchmark, trial, told, search):
    """By its defaults; noisy expected improvement sought in the region, or among the compositions."""
    import torch

    region, shares, notes, at = trial
    torch.manual_seed(0)

    def step():
        fitted = fit_rival(region, shares, notes, told)
        surface = fitted.process.posterior(torch.tensor(at))
        mean, variance = surface.mean.detach().numpy(), surface.variance.detach().numpy()
        if search == "anywhere":
            return mean, variance, best_anywhere(region, fitted)
        return mean, variance, best_among(at, improvement(fitted))

    mean, variance, suggested = benchmark(step)
    assert mean.shape == variance.shape == (len(at), 1)
    assert np.isfinite(mean).all()
    np.testing.assert_allclose(suggested.sum(), 1.0, atol=1e-6)
    assert region.contains((suggested / suggested.sum())[None]).all()


@needs_botorch
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("told", WAYS_TOLD)
def test_the_rival_is_a_good_one(told):
    """With hardly any scatter it finds what is right."""
    quest = make_quest(2, noise=0.1)
    assert quest is not None
    assert quest.reached(quest.usual) < 0.5
    found = by_rival(quest, np.random.default_rng(0), told)
    assert min(found[f"{told} {among} {max(MARKS)}"] for among in ("region", "poured")) > 0.95


def test_makers_are_paired_in_what_is_told():
    """Two makers, the second without a quest at twice the noise; the difference is by maker."""
    names = [
        f"{told} {among} {mark}" for told in WAYS_TOLD for among in ("region", "poured") for mark in MARKS
    ]
    rival = [
        {"maker": 1, "quest 1": dict.fromkeys(names, 0.5), "quest 2": dict.fromkeys(names, 0.5)},
        {"maker": 2, "quest 1": dict.fromkeys(names, 0.7), "quest 2": None},
        {"maker": 3, "quest 1": None, "quest 2": None},
    ]
    quests = [dict.fromkeys([f"next pour {mark}" for mark in MARKS], reached) for reached in (0.8, 0.6)]
    ours = [
        {"maker": 2, "quest 1": quests[0], "quest 2": None},
        {"maker": 1, "quest 1": quests[1], "quest 2": quests[1]},
    ]
    lines = tell(rival, ours).splitlines()
    assert lines[0].startswith("2 invented makers (1 to 2)")
    assert lines[4].startswith(
        "| ×1 | 2 | 6 | closeness | region | 0.6000 ± 0.1000 | 0.7000 ± 0.1000 | +0.1000 ("
    )
    assert lines[-1].startswith("| ×2 | 1 | 14 | rung | poured | 0.5000")
