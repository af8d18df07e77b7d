import numpy as np
import pytest

from labkit.book import TrialBook
from labkit.errors import LabError
from labkit.shade import ShadeTrial, default_pigments, predict, start_shade
from labkit.shade.learned import learn, told_before
from labkit.shade.medium import USUAL
from labkit.shade.trial import swatch_table, trials
from labkit.shade.wording import standing

RED, WHITE = "red iron oxide", "titanium dioxide"


@pytest.fixture
def trial(book):
    return start_shade(book, {RED: 3, WHITE: 1}, "EU", "Brick", batch_g=40, step_g=0.1)


def swatched(trial, load, lab, **details):
    return trial.log_swatch(trial.blend(load), lab=lab, film_um=10.0, **details)


def test_a_blend_keeps_the_ratio_and_its_grams_add_up_to_the_batch(trial):
    assert trial.blend(8) == {RED: 6.0, WHITE: 2.0}
    grams = trial.grams(8)
    assert grams == pytest.approx({RED: 2.4, WHITE: 0.8, "base": 36.8})


def test_a_forecast_beside_a_swatch_rests_on_the_swatches_before_it_alone(trial):
    """A fit that has seen the swatch would flatter itself."""
    read = tuple((predict(trial.blend(8), 10, "white card").lab + np.array([6, -3, 2])).tolist())
    for _ in range(2):
        trial = swatched(trial, 8, read)
    told = trial.told()
    assert told["taught"].tolist() == [0, 1]
    assert told["delta_e00"].iloc[0] == pytest.approx(told["estimate_delta_e00"].iloc[0])
    assert told["delta_e00"].iloc[1] < told["delta_e00"].iloc[0] / 2
    assert told["estimate_delta_e00"].nunique() == 1


def test_the_swatches_of_every_trial_of_the_book_teach_the_same_pigments(trial):
    other = start_shade(trial.book, {RED: 1}, "EU", "Plain red")
    before = other.learned.pigments.log_ks
    swatched(trial, 8, (30.0, 20.0, 10.0))
    after = ShadeTrial(trial.book, "Plain red").learned
    assert len(after.swatches) == 1
    assert not np.allclose(before, after.pigments.log_ks)
    assert ShadeTrial(trial.book, "Plain red").told().empty


def test_repeats_that_are_one_fact_are_said_and_take_away_nothing_that_the_first_taught(trial):
    one = trial = swatched(trial, 8, (38.0, 30.0, 20.0))
    for _ in range(9):
        trial = swatched(trial, 8, (38.0, 30.0, 20.0))
    assert "one fact" in trial.learned.refused
    np.testing.assert_array_equal(trial.learned.pigments.log_ks, one.learned.pigments.log_ks)
    assert not np.allclose(trial.learned.pigments.log_ks, default_pigments().log_ks)
    assert any(said.startswith("Only your first swatch corrects the forecast: ") for said in standing(trial))
    assert trial.what_was_learned().empty
    assert trial.misfits() == []


def test_a_swatch_that_does_not_fit_is_named(trial):
    for load, film in ((4, 10.0), (8, 10.0), (12, 20.0), (8, 20.0)):
        lab = tuple(predict(trial.blend(load), film, "white card").lab.tolist())
        trial = trial.log_swatch(trial.blend(load), lab=lab, film_um=film)
    assert trial.misfits() == []
    trial = swatched(trial, 8, (80.0, -20.0, 60.0))
    (said,) = trial.misfits()
    assert said.startswith("Swatch 5: ")


@pytest.mark.parametrize(
    ("details", "said"),
    [
        ({}, "L\\*a\\*b\\* or a spectrum"),
        ({"lab": (140, 0, 0)}, "no colour"),
        ({"lab": (40, 0, 0), "backing": "my table"}, "no backing"),
        ({"lab": (40, 0, 0), "film_um": -1}, "Film"),
        ({"reflectance": {"400": 40.0, "700": 50.0}}, "%|1"),
    ],
)
def test_a_swatch_that_cannot_be_is_refused_and_nothing_is_written(trial, details, said):
    with pytest.raises(LabError, match=said):
        trial.log_swatch(trial.blend(8), **details)
    assert not trial.swatch_rows


def test_a_table_of_swatches_has_nothing_where_a_pigment_is_not_in_it(trial):
    trial = trial.log_swatch({RED: 5}, lab=(40.0, 30.0, 20.0))
    trial = trial.log_swatch({WHITE: 5}, lab=(90.0, 0.0, 2.0))
    table = trial.swatches()
    assert table[[RED, WHITE]].to_numpy().tolist() == [[5, 0], [0, 5]]
    assert np.isinf(table["film_um"]).all()


def test_no_swatch_is_an_empty_table_that_teaches_nothing(trial):
    table = swatch_table([])
    assert table.empty
    assert learn(table, USUAL).refused == ""
    assert told_before(table, table, USUAL).empty


def test_two_trials_of_one_name_stay_two_when_one_book_takes_in_the_other(trial, tmp_path):
    with TrialBook(tmp_path / "other.db") as other:
        start_shade(other, {"carmine": 1}, "US", "Brick")
        trial.book.keep(list(other.all_entries()))
    assert len(trials(trial.book)) == 2
    assert all(name.startswith("Brick (") for name in trials(trial.book))


def test_a_name_is_given_once(trial):
    with pytest.raises(LabError, match="There is a trial “brick”"):
        start_shade(trial.book, {RED: 1}, "EU", "brick")
    assert start_shade(trial.book, {RED: 1}, "EU").name.startswith("Red iron oxide shade, ")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"market": "Mars"}, "Where will it be worn"),
        ({"parts": {}}, "no pigment"),
        ({"parts": {RED: -1}}, "cannot be"),
        ({"low_load": 9, "high_load": 3}, "above the lowest"),
        ({"backings": ("lips",)}, "no backing"),
        ({"backings": ()}, "Shown over"),
    ],
)
def test_a_question_that_cannot_be_is_refused(book, change, said):
    asked = {"parts": {RED: 1}, "market": "EU"} | change
    with pytest.raises(LabError, match=said):
        start_shade(book, **asked)
