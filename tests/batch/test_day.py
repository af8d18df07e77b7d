"""What the texture and shade rooms know of a pot, handed to the stove."""

from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
from recipes import MONDAY, USUAL

from labkit.batch import Watched, smallest_additions, smallest_colour_additions
from labkit.batch.record import Line
from labkit.book.example import example_book
from labkit.day import colour_of, hardness_of
from labkit.shade import predict
from labkit.shade.trial import start_shade
from labkit.texture.trial import TextureTrial

DEMO = "00000000-0000-4000-8000-0000000000de"
KINDS = {"shea butter": "butter", "cocoa butter": "butter", "castor oil": "oil", "beeswax": "wax"}


def lines(recipe):
    return [Line(name=name, grams=grams, kind=KINDS.get(name, "powder")) for name, grams in recipe.items()]


DEMO_RECIPE = {
    "shea butter": 9.0, "cocoa butter": 4.5, "castor oil": 18.0, "beeswax": 4.5, "magnesium stearate": 1.5,
    "red iron oxide": 3.0,
}  # fmt: skip


def shares(recipe):
    total = sum(recipe.values())
    return {name: grams / total for name, grams in recipe.items()}


@pytest.fixture(scope="module")
def handed():
    return hardness_of(example_book(), lines(DEMO_RECIPE), DEMO)


def test_it_is_the_trials_own_map(handed):
    trial = TextureTrial(example_book())
    base = {"butter": 13.5 / 36, "oil": 18 / 36, "wax": 4.5 / 36}
    row = trial.fitted().predict(pd.DataFrame([base]), load=[3 / 40.5]).iloc[0]
    np.testing.assert_allclose(handed.model(shares(DEMO_RECIPE)), (row["hardness"], row["sd"]))
    assert handed.ladder == trial.question.ladder
    assert handed.words.startswith(f"From your texture trial “{trial.name}”, 9 felt pours")


def test_more_wax_sets_harder_and_the_additions_say_how_much(handed):
    found = smallest_additions(DEMO_RECIPE, handed.model, 0.5, step_g=0.1)
    row = found.rows.set_index("add").loc["beeswax"]
    assert row["hardness_after"] - row["hardness_before"] == pytest.approx(0.5, abs=0.1)
    assert "red iron oxide" not in found.rows["add"].tolist()


def test_names_are_read_whatever_their_case(handed):
    loud = {name.upper(): grams for name, grams in DEMO_RECIPE.items()}
    shouted = hardness_of(example_book(), [Line(name=n.upper(), grams=g, kind=KINDS.get(n, "powder"))
                                           for n, g in DEMO_RECIPE.items()], DEMO)  # fmt: skip
    assert shouted.model(shares(loud)) == handed.model(shares(DEMO_RECIPE))


@pytest.mark.parametrize(
    "recipe",
    [
        DEMO_RECIPE | {"jojoba oil": 2.0},
        DEMO_RECIPE | {"beeswax": 30.0},
        {"red iron oxide": 3.0},
        DEMO_RECIPE | {"kaolin": 2.0},
    ],
    ids=["a strange oil", "far outside", "no base", "a strange powder"],
)
def test_of_other_pots_it_knows_nothing(handed, recipe):
    assert handed.model(shares(recipe)) is None


def test_a_pigment_that_the_trial_did_not_have_counts_as_pigment(handed):
    swapped = {name if name != "red iron oxide" else "titanium dioxide": g for name, g in DEMO_RECIPE.items()}
    assert handed.model(shares(swapped)) == handed.model(shares(DEMO_RECIPE))


def test_scent_is_left_out_of_account_and_said():
    with_scent = [*lines(DEMO_RECIPE), Line(name="vanilla", grams=0.2, kind="scent")]
    handed = hardness_of(example_book(), with_scent, DEMO)
    assert "vanilla: left out of account" in handed.words
    assert handed.model(shares(DEMO_RECIPE | {"vanilla": 0.2})) is not None
    assert handed.model(shares(DEMO_RECIPE | {"vanilla": 4.0})) is None


def test_another_share_of_what_is_held_is_said():
    more = DEMO_RECIPE | {"magnesium stearate": 6.0}
    assert "more of what was held constant there" in hardness_of(example_book(), lines(more), DEMO).words


def test_a_trial_that_does_not_fit_is_named_with_what_it_lacks():
    handed = hardness_of(example_book(), lines(DEMO_RECIPE | {"candelilla wax": 2.0}), DEMO)
    assert handed.model is None
    assert "has no candelilla wax" in handed.words


def test_somebody_elses_trial_is_not_asked():
    handed = hardness_of(example_book(), lines(DEMO_RECIPE))
    assert handed.model is None
    assert "there is none" in handed.words


def test_a_trial_with_few_felt_pours_has_no_map(book):
    from labkit.texture import start_trial

    trial = start_trial(book, USUAL, wrong="too soft")
    trial = trial.log_pour(1, poured_at=MONDAY)
    trial.log_note(1, "soft", felt_at=MONDAY + timedelta(hours=48))
    handed = hardness_of(book, lines(USUAL))
    assert handed.model is None
    assert "too few felt pours" in handed.words


def test_without_swatches_the_colour_is_said_to_be_an_estimate(book):
    handed = colour_of(book)
    lab, sd = handed.model({"CI 77491": 8.0, "titanium dioxide": 0.0})
    np.testing.assert_allclose(lab, predict({"red iron oxide": 8.0}, np.inf, "white card").lab)
    assert (sd > 0).all()
    assert "estimate" in handed.words(["CI 77491"])
    assert handed.names(["castor oil", "CI 77491", "kaolin"]) == ("CI 77491",)


def test_swatches_teach_the_colour(book):
    trial = start_shade(book, {"red iron oxide": 1.0}, "EU")
    for load in (6.0, 12.0):
        trial = trial.log_swatch({"red iron oxide": load}, lab=(30.0, 40.0, 30.0), film_um=None,
                                 backing="white card", lab_sd=(0.5, 0.5, 0.5))  # fmt: skip
    before, after = predict({"red iron oxide": 8.0}, np.inf, "white card").lab, colour_of(book)
    lab, _ = after.model({"red iron oxide": 8.0})
    assert abs(lab[1] - 40.0) < abs(before[1] - 40.0)
    assert "rests on your swatches" in after.words(["red iron oxide"])
    assert "titanium dioxide is labkit's estimate" in after.words(["red iron oxide", "titanium dioxide"])
    assert "rests on" not in colour_of(book, "00000000-0000-4000-8000-000000000001").words(["red iron oxide"])


def test_what_cannot_be_forecast_has_no_colour(book):
    assert colour_of(book).model({"gold pearl": 3.0, "red iron oxide": 2.0}) is None
    assert colour_of(book).model({"red iron oxide": 0.0}) is None


def test_a_pot_with_a_forecast_is_corrected_in_a_second(book):
    handed = colour_of(book)
    pot = {"castor oil": 60.0, "beeswax": 32.0, "red iron oxide": 5.0, "titanium dioxide": 2.0}
    watched = Watched(handed.names(list(pot)), ("beeswax",), None, handed.model)
    found = smallest_colour_additions(pot, "too dark", watched, step_g=0.1)
    assert "titanium dioxide" in found.rows["add"].tolist()
    assert (
        np.array(found.rows["after"].tolist())[:, 0] > np.array(found.rows["before"].tolist())[:, 0]
    ).all()
