"""What to make for containers, and how many a batch fills."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.batch import usual_loss
from labkit.errors import LabError
from labkit.recipe import Recipe, density_of, fills, to_make

SHARES = st.floats(0.0, 0.8)


@given(st.integers(1, 500), st.floats(0.5, 50.0), SHARES)
def test_containers_to_grams_and_back(containers, fill_g, loss):
    made = to_make(containers, fill_g, loss=loss)
    assert made.usual_g * (1 - loss) == pytest.approx(containers * fill_g)
    assert fills(made.usual_g * (1 + 1e-12), fill_g, loss=loss).usual == containers
    recipe = Recipe.from_grams("x", {"castor oil": 3, "beeswax": 1})
    assert recipe.scaled(containers=containers, fill_g=fill_g, loss=loss).total_g == pytest.approx(
        made.usual_g
    )


@given(st.integers(1, 500), st.floats(0.5, 50.0), st.floats(0.8, 1.4))
def test_a_volume_is_its_mass_by_density(containers, fill_ml, density):
    by_volume = to_make(containers, fill_ml=fill_ml, density_g_ml=density)
    assert by_volume.usual_g == pytest.approx(to_make(containers, fill_ml * density).usual_g)


def test_past_batches_say_what_is_surely_enough():
    """As `labkit.batch.losses.loss_words` says of the same three batches: 93.4 g, and 97.0 g to be sure."""
    loss = usual_loss([100.0, 100.0, 120.0], [91.0, 90.0, 110.4])
    made = to_make(20, 4.25, loss=loss)
    assert (round(made.usual_g, 1), round(made.sure_g, 1)) == (93.4, 97.0)
    assert "95 % sure of enough, 97.0 g" in made.why
    assert fills(93.5, 4.25, loss=loss) == (20, 19)
    alone = to_make(20, 4.25, loss=usual_loss([100.0], [91.0]))
    assert alone.sure_g == float("inf")
    assert "So few batches" in alone.why
    assert fills(93.5, 4.25, loss=usual_loss([100.0], [91.0])).sure == 0
    assert "One figure" in to_make(20, 4.25, loss=0.08).why


def test_the_density_of_a_mixture_lies_between_its_parts():
    """Castor oil 0.952 to 0.965 (Ph. Eur.), red iron oxide 5.0 to 5.26: volumes add up, by hand."""
    recipe = Recipe.from_percent("x", {"castor oil": 90, "red iron oxide": 10})
    found = density_of(recipe)
    assert found.low == pytest.approx(1 / (0.9 / 0.952 + 0.1 / 5.0))
    assert found.high == pytest.approx(1 / (0.9 / 0.965 + 0.1 / 5.26))
    assert found.low < found.middle < found.high


def test_a_little_of_unknown_density_is_left_out_and_said():
    found = density_of(Recipe.from_percent("x", {"castor oil": 98, "my secret": 2}))
    assert (found.low, found.high) == pytest.approx((0.952, 0.965))
    assert "my secret left out" in found.why
    with pytest.raises(LabError, match="density of my secret is not recorded"):
        density_of(Recipe.from_percent("x", {"castor oil": 80, "my secret": 20}))


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: to_make(0, 4.5), "whole number"),
        (lambda: to_make(3), "What goes into each"),
        (lambda: to_make(3, fill_ml=5), "density"),
        (lambda: to_make(3, 4.5, loss=1.0), "the loss"),
        (lambda: to_make(3, 4.5, loss="8 %"), "a plain number"),
        (lambda: fills(0, 4.5), "the batch: 0 g cannot be"),
    ],
)
def test_what_cannot_be_filled_is_said(call, said):
    with pytest.raises(LabError, match=said):
        call()
