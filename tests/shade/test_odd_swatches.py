"""Swatches that are odd: other names, other wavelengths, mended twice, of a pigment that is gone."""

from datetime import timedelta

import pytest

from labkit.errors import LabError
from labkit.shade import learned, predict
from labkit.shade.record import Question, Swatch
from labkit.shade.trial import SWATCH, ShadeTrial, start_shade, trials
from labkit.shade.views import swatch_log
from labkit.shade.wording import standing
from labkit.times import now

RED, WHITE = "red iron oxide", "titanium dioxide"
READ = {"lab": (36, 36, 27), "film_um": 20}


@pytest.fixture
def trial(book):
    return start_shade(book, {RED: 3, WHITE: 1}, "EU")


def spectrum(*nm, value=0.2):
    return {f"{each}": value for each in range(*nm)}


def fork(trial):
    """Mend a trial's only swatch in two places at once."""
    (row,) = trial.swatch_rows
    swatch = Swatch.of(row.head.payload)
    for lab in ((37, 36, 27), (38, 36, 27)):
        trial.book.correct(row.head, swatch.model_copy(update={"lab": lab}))
    return ShadeTrial(trial.book)


# ---- names -----------------------------------------------------------------------


def test_a_pigment_is_one_whatever_it_is_called(book):
    trial = start_shade(book, {"CI 77491": 3, WHITE: 1}, "EU").log_swatch({"1309-37-1": 8}, **READ)
    after = trial.log_swatch({RED: 8, WHITE: 2}, **READ)
    assert after.pigment_names == (RED, WHITE)
    assert after.learned.refused == ""
    assert set(after.told()["taught"]) == {0, 1}
    assert after.swatches()[RED].tolist() == [8, 8]


def test_a_blend_with_one_pigment_under_two_names_is_refused(trial):
    with pytest.raises(LabError, match="stands there twice"):
        trial.log_swatch({"CI 77491": 3, RED: 1}, **READ)


def test_a_trial_of_a_pigment_that_is_none_is_not_begun(book, trial):
    with pytest.raises(LabError, match="no pigment that labkit can forecast"):
        start_shade(book, {"moon dust": 1}, "EU")
    with pytest.raises(LabError, match="no pigment that labkit can forecast"):
        trial.change(Question.of({**trial.question.model_dump(), "parts": {"moon dust": 1}}))
    assert len(trials(book)) == 1


def test_parts_may_be_grams(book):
    assert start_shade(book, {RED: 150, WHITE: 50}, "EU").blend(8) == pytest.approx({RED: 6, WHITE: 2})


def test_a_swatch_of_a_pigment_that_left_the_table_stays_and_stops_nothing(trial):
    trial = trial.log_swatch(trial.blend(8), **READ)
    old = {**trial.swatch_rows[0].head.payload, "blend": {"moon dust": 5.0, RED: 2.0}}
    trial.book.append(SWATCH, Swatch.of(old), trial=trial.name)
    after = ShadeTrial(trial.book)
    assert after.learned.refused == ""
    assert len(after.learned.swatches) == len(after.told()) == 1
    assert "moon dust 5.00 %" in swatch_log(after)
    assert any("moon dust" in said and "teach nothing" in said for said in standing(after))


# ---- what teaches ----------------------------------------------------------------


def test_a_swatch_mended_in_two_places_counts_once(trial):
    once = trial.log_swatch(trial.blend(8), **READ)
    forked = fork(once)
    assert len(forked.swatches()) == 2
    assert forked.learned.swatches["L"].tolist() == [38]
    assert forked.repeats().empty
    assert standing(forked)[0] == "1 swatch logged."
    assert any("mended in two places" in said for said in standing(forked))


def test_a_swatch_that_does_not_fit_has_its_number_in_this_trial(trial):
    for load, film in ((4, 10.0), (8, 10.0), (12, 20.0), (8, 20.0)):
        lab = tuple(predict(trial.blend(load), film, "white card").lab.tolist())
        trial = trial.log_swatch(trial.blend(load), lab=lab, film_um=film)
    other = start_shade(trial.book, {RED: 1}, "EU", "Plain red").log_swatch(
        {RED: 8}, lab=(80, -20, 60), film_um=9
    )
    (said,) = other.misfits()
    assert said.startswith("Swatch 1: the reading was")


def test_what_teaches_does_not_depend_on_its_order(trial):
    for load in (4, 8):
        trial = trial.log_swatch(trial.blend(load), **READ)
    table = trial.swatches()
    assert learned.teaching(table.iloc[::-1]).equals(learned.teaching(table))


@pytest.mark.parametrize("first", [spectrum(400, 701, 20), spectrum(380, 731, 10)])
def test_spectra_of_two_instruments_teach_together(trial, first):
    for load, each in ((3, first), (6, spectrum(390, 721, 15)), (9, spectrum(400, 701, 20))):
        trial = trial.log_swatch(trial.blend(load), reflectance=each, film_um=20, read_by="spectral file")
    assert trial.learned.refused == ""
    assert trial.told()["L"].tolist() == pytest.approx([51.8] * 3, abs=0.1)


def test_wavelengths_may_be_numbers(trial):
    read = {nm / 2: 0.2 for nm in range(800, 1401, 5)}
    after = trial.log_swatch(trial.blend(8), reflectance=read, film_um=20)
    assert {"400", "402.5", "700"} <= set(after.swatch_rows[0].head.payload["reflectance"])
    assert after.told()["L"].item() == pytest.approx(51.8, abs=0.1)


# ---- what was forecast before ----------------------------------------------------


def test_a_later_swatch_changes_no_forecast_before_it(trial):
    day = now() - timedelta(days=9)
    for at in range(3):
        trial = trial.log_swatch(trial.blend(3 + 3 * at), **READ, swatched_at=day + timedelta(days=at))
    before = trial.told().set_index("version")
    after = trial.log_swatch(trial.blend(6), lab=(60, 10, 10), film_um=20).told().set_index("version")
    assert before["taught"].tolist() == [0, 1, 2]
    assert after.loc[before.index].equals(before)


def test_a_mended_swatch_changes_the_forecasts_after_it(trial):
    day = now() - timedelta(days=9)
    for at in range(2):
        trial = trial.log_swatch(trial.blend(8), **READ, swatched_at=day + timedelta(days=at))
    before = trial.told()["forecast_L"]
    after = trial.mend_swatch(trial.swatch_rows[0].head, lab=(50, 30, 20)).told()["forecast_L"]
    assert after[0] == before[0]
    assert after[1] > before[1] + 1


def test_logging_a_swatch_fits_nothing(trial, monkeypatch):
    monkeypatch.setattr(learned, "calibrate", lambda *_, **__: pytest.fail("fitted"))
    assert trial.log_swatch(trial.blend(8), **READ).swatch_rows
