"""What one step at the panel costs, beside a general ordered-probit fit: read the ratio in the table.

The step: fit 20 pours with two notes each, chances at 1,000 compositions, the next pour.
"""

import numpy as np
import pandas as pd
import pytest

from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel
from tests.bench.makers import NOTES, WORDS, make_maker

POURS, POINTS = 20, 1000


@pytest.fixture(scope="module")
def trial():
    """A maker's region, shares, notes, hours, and 1,000 compositions."""
    maker, rng = make_maker(2), np.random.default_rng(0)
    at = maker.region.grid(POINTS)
    shares = at[rng.choice(len(at), POURS, replace=False)]
    parts = list(maker.region.parts)
    table = pd.DataFrame(np.repeat(shares, NOTES, axis=0), columns=parts)
    hours = np.tile([3.0, 48.0], POURS)
    return maker.region, table, maker.pour(shares, rng), hours, pd.DataFrame(at, columns=parts)


def step(region, shares, notes, hours, at, pours):
    model = HardnessModel(WORDS).fit(shares, notes, hours, pours)
    return model.predict(at), next_pour(model, region, "right")


@pytest.mark.benchmark(group="20 pours: fit, 1,000 compositions, next pour")
@pytest.mark.parametrize("early", [False, True], ids=["set notes", "set and early notes"])
def test_labkit(benchmark, trial, early):
    region, shares, notes, hours, at = trial
    pours = np.repeat(np.arange(POURS), NOTES)
    told, suggested = benchmark(step, region, shares, notes, hours if early else None, at, pours)
    assert len(told) >= 0.9 * POINTS
    assert region.contains(suggested[list(region.parts)]).all()


@pytest.mark.benchmark(group="20 pours: fit, 1,000 compositions, next pour")
def test_statsmodels(benchmark, trial):
    """Ordered probit by maximum likelihood, straight in two parts; the most likely composition comes next."""
    from statsmodels.miscmodels.ordinal_model import OrderedModel

    _, shares, notes, _, at = trial
    rung = pd.Series(pd.Categorical(notes, [word for word in WORDS if word in notes], ordered=True))

    def fit_and_choose():
        fitted = OrderedModel(rung, shares[["butter", "wax"]], distr="probit").fit(method="bfgs", disp=False)
        chances = fitted.predict(at[["butter", "wax"]]).to_numpy()
        return chances, at.iloc[chances[:, rung.cat.categories.get_loc("right")].argmax()]

    chances, _ = benchmark(fit_and_choose)
    np.testing.assert_allclose(chances.sum(axis=1), 1.0)
