"""Whether two things go together: against scipy, against all orders, against counted inversions."""

from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import kendalltau

from labkit.batch.batches_apart import share_limits
from labkit.batch.together import DRAWS, _limits, together
from labkit.many_tests import holm

MAHONIAN = {3: (1, 2, 2, 1), 4: (1, 3, 5, 6, 5, 3, 1), 5: (1, 4, 9, 15, 20, 22, 20, 15, 9, 4, 1)}
"""Orders of n things with 0, 1, 2 … inversions: Mahonian numbers, OEIS A008302 (from memory; sum n!)."""


@pytest.mark.parametrize("n", MAHONIAN)
def test_p_of_every_order_is_what_counted_inversions_say(n):
    """τ = 1 − 4·inversions/(n(n − 1)), so p is the share of orders with as few, or as many, inversions."""
    counts, pairs = np.array(MAHONIAN[n]), n * (n - 1) // 2
    for order in permutations(range(n)):
        inversions = sum(order[i] > order[j] for i in range(n) for j in range(i + 1, n))
        found = together(range(n), order)
        assert found.tau == pytest.approx(1 - 2 * inversions / pairs)
        far = min(inversions, pairs - inversions)
        tail = counts[: far + 1].sum() + counts[pairs - far :].sum()
        assert found.p == pytest.approx(min(tail / counts.sum(), 1.0))


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4)), min_size=3, max_size=7))
def test_tau_is_scipys_with_ties_too(pairs):
    x, y = np.array(pairs, float).T
    expected = kendalltau(x, y).statistic
    found = together(x, y)
    if np.isnan(expected):
        assert np.isnan(found.tau)
    else:
        assert found.tau == pytest.approx(expected)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000))
def test_p_is_scipys_exact_one_without_ties(seed):
    rng = np.random.default_rng(seed)
    x, y = rng.permutation(8).astype(float), rng.permutation(8).astype(float)
    assert together(x, y).p == pytest.approx(kendalltau(x, y, method="exact").pvalue)


def _by_hand(x, y, group):
    """τ over pairs of one group, and p by writing out every order within the groups."""

    def score(order):
        return sum(
            np.sign(x[i] - x[j]) * np.sign(order[i] - order[j])
            for i in range(len(x)) for j in range(i) if group[i] == group[j]
        )  # fmt: skip

    pairs = [(i, j) for i in range(len(x)) for j in range(i) if group[i] == group[j]]
    untied = np.sqrt(sum(x[i] != x[j] for i, j in pairs) * sum(y[i] != y[j] for i, j in pairs))
    blocks = [[at for at in range(len(x)) if group[at] == one] for one in dict.fromkeys(group)]
    scores = []
    for orders in product(*(permutations(block) for block in blocks)):
        shuffled = np.array(y)
        for block, order in zip(blocks, orders, strict=True):
            shuffled[block] = np.array(y)[list(order)]
        scores.append(abs(score(shuffled)))
    return score(y) / untied, np.mean(np.array(scores) >= abs(score(y)) - 1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_within_groups_it_is_what_every_order_written_out_gives(seed):
    rng = np.random.default_rng(seed)
    group = list("aaaabbbc")
    x, y = rng.integers(0, 5, 8).astype(float), rng.integers(0, 4, 8).astype(float)
    tau, p = _by_hand(x, y, group)
    found = together(x, y, group)
    assert found.tau == pytest.approx(tau)
    assert found.p == pytest.approx(p)
    assert found.count == 7


def test_a_change_of_recipe_alone_is_no_link():
    """Two recipes far apart in both, and nothing within either: over all, τ would be 0.6."""
    x, y = [1, 2, 3, 4, 11, 12, 13, 14], [2, 4, 1, 3, 12, 14, 11, 13]
    assert kendalltau(x, y).statistic > 0.5
    found = together(x, y, list("aaaabbbb"))
    assert found.tau == pytest.approx(0.0)
    assert found.p == pytest.approx(1.0)


def test_rows_without_one_of_both_are_left_out():
    nan = float("nan")
    assert together([1, 2, nan, 3], [1, nan, 5, 2]) == together([1, 3], [1, 2])


def test_what_does_not_vary_has_no_tau():
    found = together([1.0, 1.0, 1.0], [1.0, 2.0, 3.0])
    assert np.isnan(found.tau)
    assert np.isnan(found.p)
    assert found.count == 3


def test_many_batches_are_drawn_and_near_scipys():
    rng = np.random.default_rng(3)
    x = rng.normal(size=25)
    y = 0.4 * x + rng.normal(size=25)
    exact = kendalltau(x, y, method="exact").pvalue
    found = together(x, y)
    assert found.p == pytest.approx(exact, abs=4 * np.sqrt(exact / DRAWS) + 1 / DRAWS)
    assert together(x, y, seed=1).p != found.p


@pytest.mark.parametrize(("n", "rho"), [(8, 0.0), (8, 0.6), (12, 0.0), (12, 0.8)])
def test_the_limits_hold_the_true_tau_nineteen_times_in_twenty(n, rho):
    """τ of a normal pair is 2·asin(ρ)/π (Kendall, Rank Correlation Methods, from memory)."""
    rng, truth, held, runs = np.random.default_rng(7), 2 * np.arcsin(rho) / np.pi, 0, 400
    for _ in range(runs):
        x = rng.normal(size=n)
        tau = kendalltau(x, rho * x + np.sqrt(1 - rho**2) * rng.normal(size=n)).statistic
        low, high = _limits(tau, n, 1)
        held += low <= truth <= high
    assert 0.90 <= held / runs <= 0.985


def test_few_batches_have_no_limits_and_perfect_order_no_false_certainty():
    assert np.isnan(together([1, 2, 3], [1, 2, 3]).low)
    found = together(range(6), range(6))
    assert 0.3 < found.low < 0.9
    assert found.high < 1.0


@pytest.mark.parametrize(("count", "of"), [(0, 12), (3, 10), (12, 12), (1, 400)])
def test_limits_of_a_share_are_statsmodels(count, of):
    from statsmodels.stats.proportion import proportion_confint

    found = [float(each[0]) for each in share_limits(np.array([float(count)]), np.array([float(of)]))]
    np.testing.assert_allclose(found, proportion_confint(count, of, 0.05, "beta"), atol=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_holm_is_statsmodels(seed):
    from statsmodels.stats.multitest import multipletests

    p = np.random.default_rng(seed).uniform(size=8).round(2 + seed % 2) ** 2
    np.testing.assert_allclose(holm(p), multipletests(p, method="holm")[1])
