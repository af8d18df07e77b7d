"""Runs to a clean streak: against statsmodels, and against published tables."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from labkit.errors import LabError
from labkit.streak import clean_rounds

REMISSION = {
    "6-MP": "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+",
    "placebo": "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23",
}
"""Weeks of remission in leukaemia, + for censored. Freireich et al. 1963, Blood 21, 699; as tabled in
Cox 1972, J. R. Statist. Soc. B 34, 187, and Kleinbaum and Klein, Survival Analysis."""


def runs_of(groups):
    rows = [
        (float(each.rstrip("+")), not each.endswith("+"), name)
        for name, line in groups.items()
        for each in line.split()
    ]
    return pd.DataFrame(rows, columns=["minutes", "clean", "method"])


FOUND = clean_rounds(runs_of(REMISSION), "minutes")


def test_the_published_curve_of_remissions():
    """Kleinbaum and Klein, chapter 2: S at 6, 7, 10, 13, 16, 22 and 23 weeks; medians 23 and 8."""
    curve = FOUND.curves[FOUND.curves["method"] == "6-MP"].set_index("at")["not_clean"]
    published = {6: 0.8571, 7: 0.8067, 10: 0.7529, 13: 0.6902, 16: 0.6275, 22: 0.5378, 23: 0.4482}
    for week, share in published.items():
        assert curve[week] == pytest.approx(share, abs=5e-5)
    assert FOUND.medians["median"].tolist() == [23, 8]
    assert FOUND.medians["clean"].tolist() == [9, 21]


def test_the_published_log_rank_statistic():
    """χ² = 16.79 (Kleinbaum and Klein, chapter 2)."""
    assert FOUND.tests["chi2"].iloc[0] == pytest.approx(16.79, abs=0.005)
    assert FOUND.why[-1].startswith("6-MP and placebo differ")


def heart():
    """The Stanford heart transplants, as statsmodels ships them; two groups by age."""
    data = sm.datasets.heart.load_pandas().data
    ways = np.where(data["age"] > data["age"].median(), "older", "younger")
    return pd.DataFrame({"minutes": data["survival"], "clean": data["censors"] == 1, "method": ways})


def test_curves_bands_and_test_agree_with_statsmodels():
    """Curve, its log-log band (from Greenwood's standard error), and log-rank test."""
    runs = heart()
    found = clean_rounds(runs, "minutes")
    for way, own in runs.groupby("method"):
        other = sm.SurvfuncRight(own["minutes"], own["clean"].astype(int))
        curve = found.curves[found.curves["method"] == way].set_index("at").loc[other.surv_times]
        np.testing.assert_allclose(curve["not_clean"], other.surv_prob, rtol=1e-10)
        with np.errstate(divide="ignore", invalid="ignore"):
            turn = 1.6448536269514722 * other.surv_prob_se / (other.surv_prob * np.log(other.surv_prob))
            low, high = (other.surv_prob ** np.exp(sign * turn) for sign in (-1, 1))
        inside = (other.surv_prob > 0) & (other.surv_prob < 1)
        np.testing.assert_allclose(curve["low"][inside], np.minimum(low, high)[inside], rtol=1e-8)
        np.testing.assert_allclose(curve["high"][inside], np.maximum(low, high)[inside], rtol=1e-8)
        under = other.surv_times[other.surv_prob <= 0.5 + 1e-12]
        assert found.medians.set_index("method").loc[way, "median"] == under[0]
    chi2, p = sm.duration.survdiff(runs["minutes"], runs["clean"].astype(int), runs["method"])
    assert found.tests["chi2"].iloc[0] == pytest.approx(chi2, rel=1e-8)
    assert found.tests["p"].iloc[0] == pytest.approx(p, rel=1e-6)


def test_three_ways_are_corrected_for_three_comparisons():
    """Holm against statsmodels' multipletests."""
    rng = np.random.default_rng(3)
    runs = pd.concat(
        pd.DataFrame(
            {"rounds": rng.integers(1, top, 14), "clean": rng.random(14) < 0.8, "method": f"way {top}"}
        )
        for top in (6, 9, 15)
    )
    tests = clean_rounds(runs).tests
    expected = sm.stats.multipletests(tests["p"], method="holm")[1]
    assert len(tests) == 3
    np.testing.assert_allclose(tests["p_holm"], expected)


def test_censored_runs_stay_censored():
    """Dropping or ending them would make the way look faster."""
    runs = pd.DataFrame({"rounds": [3, 4, 5, 8, 8], "clean": [True, True, True, False, False]})
    assert clean_rounds(runs).medians["median"].iloc[0] == 5
    assert clean_rounds(runs[runs["clean"]]).medians["median"].iloc[0] == 4
    most = runs.assign(clean=[True, False, False, False, False])
    assert np.isinf(clean_rounds(most).medians["median"].iloc[0])
    assert "no middle number" in clean_rounds(most).why[0]


def test_few_runs_make_no_claim_however_far_apart():
    runs = pd.DataFrame(
        {"rounds": [2, 2, 3, 3, 30, 31, 32, 33], "clean": True, "method": ["a"] * 4 + ["b"] * 4}
    )
    found = clean_rounds(runs)
    assert found.tests["p"].iloc[0] < 0.05
    assert found.why[-1].startswith("a and b: too few runs to compare")
    assert not any("differ in how fast" in each for each in found.why)


def test_alike_ways_show_no_difference():
    runs = pd.DataFrame({"rounds": [3, 4, 5, 6, 7] * 2, "clean": True, "method": ["a"] * 5 + ["b"] * 5})
    assert "no difference is shown" in clean_rounds(runs).why[-1]


def test_runs_of_which_none_came_clean():
    runs = pd.DataFrame({"rounds": [3, 4, 5, 6], "clean": False, "method": list("aabb")})
    found = clean_rounds(runs)
    assert np.isnan(found.tests["p"].iloc[0])
    assert "too few" in found.why[-1]


GOOD = pd.DataFrame({"rounds": [3, 4], "clean": [True, False], "method": ["a", "b"]})


@pytest.mark.parametrize(
    ("runs", "unit", "said"),
    [
        (GOOD, "hours", "“hours” cannot be counted"),
        (GOOD, "minutes", "no column “minutes”"),
        (GOOD.drop(columns="clean"), "rounds", "no column “clean”"),
        (GOOD.assign(rounds=[3, 0]), "rounds", "Row 2: “0” is no count"),
        (GOOD.assign(rounds=["x", 2]), "rounds", "Row 1: “x” is no count"),
        (GOOD.assign(clean=["yes", True]), "rounds", "Row 1: clean is “yes”"),
        (GOOD.assign(method=["a", None]), "rounds", "Row 2 does not say how"),
        (GOOD.iloc[:0], "rounds", "row for each run"),
        ("runs", "rounds", "row for each run"),
    ],
)
def test_bad_runs_are_refused(runs, unit, said):
    with pytest.raises(LabError, match=said):
        clean_rounds(runs, unit)
