import numpy as np
import pandas as pd
import pytest

from labkit.colour.cie import delta_e00
from labkit.shade.repeats import repeats

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
