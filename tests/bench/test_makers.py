"""Ten simulated makers whose days differ: stated chances score better than two usual ways, and are honest."""

import numpy as np
import pandas as pd
import pytest

from tests.bench.makers import (
    A_DAY,
    DAY_SD,
    MARKS,
    WORDS,
    excess,
    make_maker,
    make_quest,
    run_bands,
    run_calibration,
    run_early,
    run_scores,
)
from tests.bench.run_makers import read, run, tell
from tests.bench.strategies import STRATEGIES, run_quests

MAKERS = range(10)


@pytest.fixture(scope="module", params=[6, 12], ids="{} pours".format)
def scores(request):
    """Excess scores at the makers' noise and at twice it, one row per maker and noise."""
    return pd.concat(
        [run_scores(MAKERS, request.param, noise, DAY_SD) for noise in (1.0, 2.0)], ignore_index=True
    )


@pytest.mark.parametrize("rival", ["least squares", "maximum likelihood"])
def test_chances_score_better(scores, rival):
    """Paired by maker: the mean difference lies more than two standard errors above 0."""
    worse = (scores[rival] - scores["labkit"]).groupby(np.tile(MAKERS, 2)).mean()
    assert worse.mean() > 2.0 * worse.std() / np.sqrt(len(MAKERS))


@pytest.mark.parametrize(("noise", "points"), [(1.0, 0.05), (2.0, 0.08)])
def test_stated_chances_are_honest(noise, points):
    """At 12 pours; tenths with at least 2 % of the statements. Ten makers leave an error of about 0.03."""
    table = run_calibration(MAKERS, 12, noise, DAY_SD)
    assert table["gap"][table["share"] >= 0.02].abs().max() < points + 0.03


def test_bands_are_honest():
    """The 90 % band of the surface, at 12 pours and both noises. Forty makers leave an error of 0.03."""
    held = [run_bands(range(40), 12, noise, DAY_SD).mean() for noise in (1.0, 2.0)]
    assert 0.85 - 0.03 < held[0] < 0.95 + 0.03
    assert 0.82 - 0.03 < held[1] <= 0.99


def test_early_notes_count_through_the_set_curve():
    """Sticks felt at three hours only: the set ones are told better than by taking the words as they are."""
    table = run_early(range(40))  # trials differ much in how far they had set: ten show too little
    gain = table["as if set"] - table["set curve"]
    assert gain.mean() > 3.0 * gain.std() / np.sqrt(len(table))


def test_next_pour_is_no_worse_than_halving_and_better_than_rotating():
    """Paired by maker, five at each noise, over all marks: not below by two standard errors and 0.02."""
    table = pd.concat([run_quests(MAKERS[:5], 1.0), run_quests(MAKERS[5:], 2.0)])
    ours, rival, rotated = (table[[f"{name} {mark}" for mark in MARKS]].mean(axis=1) for name in STRATEGIES)
    assert (ours - rival).mean() + 2.0 * (ours - rival).std() / np.sqrt(len(table)) > -0.02
    assert (ours - rotated).mean() > 2.0 * (ours - rotated).std() / np.sqrt(len(table))
    assert ours.mean() > 0.85


def test_the_excess_is_the_ranked_probability_score_above_the_truths():
    """Against the score of drawn notes, word by word (Epstein 1969, from memory)."""
    maker, rng = make_maker(0), np.random.default_rng(0)
    true = maker.chances(maker.region.grid(20)[[0, 5, 9]])
    stated = np.full_like(true, 0.2)
    drawn = np.stack([rng.choice(len(WORDS), 20_000, p=row) for row in true])
    noted = np.arange(len(WORDS)) >= drawn[..., None]

    def score(chances):
        return np.mean(np.sum((np.cumsum(chances, axis=1)[:, None] - noted) ** 2, axis=2)) / (len(WORDS) - 1)

    assert excess(true, true) == 0.0
    assert excess(stated, true) == pytest.approx(score(stated) - score(true), abs=0.005)


def test_makers_are_those_that_are_told():
    """Notes come with the stated chances, and a quest starts off the mark."""
    maker, rng = make_maker(1), np.random.default_rng(0)
    at = maker.region.grid(40)[[7]]
    notes = maker.pour(np.repeat(at, 4000, axis=0), rng)
    found = [notes.count(word) / len(notes) for word in WORDS]
    np.testing.assert_allclose(found, maker.chances(at)[0], atol=0.03)
    days = make_maker(1, day_sd=DAY_SD)
    assert days.chances(at)[0].max() < maker.chances(at)[0].max()
    softer = np.concatenate([days.softer_by_day(8, seed) for seed in range(400)])
    assert softer.std() == pytest.approx(DAY_SD, rel=0.1)
    assert (np.diff(softer.reshape(-1, A_DAY)) == 0).all()
    quest = make_quest(2, 1.0)
    assert quest is not None
    assert 0.0 < quest.reached(quest.usual) < 0.95


def test_what_was_found_can_be_saved_gone_on_with_and_told(tmp_path, monkeypatch):
    """One maker, then the next from the same file; the tables name all that was judged."""
    monkeypatch.setitem(STRATEGIES, "next pour", STRATEGIES["halving"])  # quicker, and as good to be saved
    save = tmp_path / "makers.jsonl"
    assert [row["maker"] for row in run(range(2, 3), save, np.inf)] == [2]
    assert [row["maker"] for row in run(range(2, 4), save, np.inf)] == [2, 3]
    assert run(range(2, 9), save, 0.0) == read([save, save])
    told = tell(read([save]))
    assert told.startswith("2 invented makers (2 to 3)")
    for name in ("least squares − labkit", "over halving", "over rotating", "90 % band", "| ×2 | 20 |"):
        assert name in told
