import numpy as np
import pandas as pd
import pytest

from labkit.colour.cie import delta_e00
from labkit.shade.repeats import real_difference, repeats

MEAN = np.array([40.0, 30.0, 15.0])
LIGHTER, BETWEEN = MEAN + np.array([4, 0, 0]), MEAN + np.array([2, 0, 0])


def table(labs, batches, load=8.0):
    return pd.DataFrame(labs, columns=["L", "a", "b"]).assign(
        **{"red iron oxide": load, "film_um": 10.0, "backing": "white card", "batch": batches}
    )


def test_the_mcdm_is_the_mean_difference_from_the_mean():
    labs = MEAN + np.array([[1, 0, 0], [-1, 0, 0], [0, 0.6, 0], [0, -0.6, 0]])
    (row,) = repeats(table(labs, ["a"] * 4), ("red iron oxide",)).to_dict("records")
    assert row["mcdm"] == pytest.approx(np.mean([delta_e00(lab, MEAN) for lab in labs]))
    assert (row["n"], row["L"]) == (4, 40.0)
    assert np.isnan(row["shift"])


def test_a_batch_that_lies_apart_has_a_shift():
    labs = np.stack([MEAN, MEAN, LIGHTER, LIGHTER])
    told = repeats(table(labs, ["a", "a", "b", "b"]), ("red iron oxide",))
    assert told["mcdm"].tolist() == [0.0, 0.0]
    assert told["shift"].tolist() == pytest.approx(
        [float(delta_e00(each, BETWEEN)) for each in (MEAN, LIGHTER)]
    )


def test_other_blends_are_no_repeats():
    both = pd.concat([table([MEAN], ["a"]), table([MEAN], ["a"], load=9.0)], ignore_index=True)
    assert repeats(both, ("red iron oxide",)).empty
    assert repeats(both.iloc[:0], ("red iron oxide",)).empty


@pytest.mark.parametrize("n", [2, 5])
def test_one_pair_of_repeats_in_twenty_lies_farther_apart_than_a_real_difference(n):
    """Drawn: distances in L*a*b* itself, for which the formula is meant."""
    sets = np.random.default_rng(1).standard_normal((4000, n, 3))
    mcdm = np.linalg.norm(sets - sets.mean(1, keepdims=True), axis=2).mean()
    apart = np.linalg.norm(sets[:, 0] - sets[:, 1], axis=1)
    limit = real_difference(pd.DataFrame({"n": [n, 1], "mcdm": [mcdm, np.nan]}))
    assert 0.04 < (apart > limit).mean() < 0.06
