"""Repeatability and between-group spread against published worked examples."""

import numpy as np
import pandas as pd
import pytest

from labkit.variation import real_difference, spread

# Davies (1947), Statistical Methods in Research and Production: yield of dyestuff, 6 batches of 5.
# The readings from memory; they reproduce the published mean squares below.
DYESTUFF = {
    "A": [1545, 1440, 1440, 1520, 1580],
    "B": [1540, 1555, 1490, 1560, 1495],
    "C": [1595, 1550, 1605, 1510, 1560],
    "D": [1445, 1440, 1595, 1465, 1545],
    "E": [1595, 1630, 1515, 1635, 1625],
    "F": [1520, 1455, 1450, 1480, 1445],
}

# Box and Tiao (1973), Bayesian Inference in Statistical Analysis, 5.1: made so that the between
# variance comes out negative. From memory, as above.
DYESTUFF_2 = {
    "A": [7.298, 3.846, 2.434, 9.566, 7.990],
    "B": [5.220, 6.556, 0.608, 11.788, -0.892],
    "C": [0.110, 10.386, 13.434, 5.510, 8.166],
    "D": [2.212, 4.852, 7.092, 9.288, 4.980],
    "E": [0.282, 9.014, 4.458, 9.446, 7.198],
    "F": [1.722, 4.782, 8.106, 0.758, 3.758],
}

# ISO 5725-2, annex B: sulfur in coal [%], level 1, eight laboratories (from memory, recomputed).
COAL = {
    1: [0.71, 0.71, 0.70, 0.71],
    2: [0.69, 0.67, 0.68],
    3: [0.66, 0.65, 0.69],
    4: [0.67, 0.65, 0.66],
    5: [0.70, 0.69, 0.66, 0.71, 0.69],
    6: [0.73, 0.74, 0.73],
    7: [0.71, 0.71, 0.69],
    8: [0.70, 0.65, 0.68],
}


def frame(groups):
    return pd.DataFrame(
        [(name, value) for name, values in groups.items() for value in values], columns=["lot", "y"]
    )


def test_dyestuff():
    """Mean squares 11271.5 and 2451.25, REML between 1764.05, mean 1527.5 (R package lme4)."""
    found = spread(frame(DYESTUFF), "y", "lot")
    assert found.repeatability_sd**2 == pytest.approx(2451.25)
    assert found.between_sd**2 == pytest.approx((11271.5 - 2451.25) / 5)
    assert found.between_sd**2 == pytest.approx(1764.05)
    assert found.reproducibility_sd**2 == pytest.approx(1764.05 + 2451.25)
    assert found.mean == 1527.5
    assert found.groups_differ


def test_negative_variance():
    """Mean squares 8.3363 and 14.9459: the estimate is 0, the interval is not."""
    found = spread(frame(DYESTUFF_2), "y", "lot")
    assert found.repeatability_sd**2 == pytest.approx(14.9459, abs=5e-5)
    square = 5 * np.var([np.mean(values) for values in DYESTUFF_2.values()], ddof=1)
    assert square == pytest.approx(8.3363, abs=5e-5)
    assert found.between_sd == 0.0
    assert found.reproducibility_sd == found.repeatability_sd
    low, high = found.intervals["between_sd"]
    assert low == 0.0
    assert 0.3 * found.repeatability_sd < high < found.repeatability_sd
    assert not found.groups_differ


def test_coal_with_groups_of_unequal_size():
    """Mean 0.690, s_r 0.015, s_R 0.026."""
    found = spread(frame(COAL), "y", "lot")
    assert found.mean == pytest.approx(0.690, abs=5e-4)
    assert found.repeatability_sd == pytest.approx(0.015, abs=5e-4)
    assert found.reproducibility_sd == pytest.approx(0.026, abs=5e-4)


def test_coal_limits():
    """r = 2.8 s_r and R = 2.8 s_R: 2.8 is 1.96·√2, rounded."""
    found = spread(frame(COAL), "y", "lot")
    assert real_difference(found).limit == pytest.approx(2.8 * found.repeatability_sd, rel=0.011)
    across = real_difference(found, same_group=False)
    assert across.limit == pytest.approx(2.8 * found.reproducibility_sd, rel=0.011)


def test_variances_agree_with_a_mixed_model():
    """REML by statsmodels is the analysis of variance where groups are of one size."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    data = frame(DYESTUFF)
    fitted = MixedLM(data["y"], np.ones(len(data)), data["lot"]).fit(reml=True)
    found = spread(data, "y", "lot")
    assert found.repeatability_sd**2 == pytest.approx(fitted.scale, rel=1e-3)
    assert found.between_sd**2 == pytest.approx(float(np.asarray(fitted.cov_re)[0, 0]), rel=1e-2)
