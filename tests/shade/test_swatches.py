"""A table of swatches is read as it was meant, or refused with what to change."""

import numpy as np
import pandas as pd
import pytest

from labkit.colour.cie import WAVELENGTHS
from labkit.errors import LabError
from labkit.shade.pigments import default_pigments
from labkit.shade.swatches import FILM_SD, LAB_SD, read_swatches

START = default_pigments()
GOOD = {"red iron oxide": 5.0, "film_um": 10.0, "backing": "white card", "L": 40.0, "a": 30.0, "b": 22.0}
NM = [str(nm) for nm in range(400, 701, 10)]


def rows(*changed):
    return pd.DataFrame([{**GOOD, **each} for each in changed])


def without(*columns):
    return rows({}).drop(columns=list(columns))


def spectral(values=0.4, names=NM, **more):
    read = dict(zip(names, np.broadcast_to(values, len(names)).tolist(), strict=True))
    return pd.DataFrame([{"red iron oxide": 5.0, "film_um": 10.0, "backing": "white card", **read, **more}])


def read(frame):
    return read_swatches(frame, START)


def test_a_plain_table_is_read():
    found = read(rows({}, {"red iron oxide": 2.5, "backing": "black card"}))
    assert found.pigments == ("red iron oxide",)
    assert found.loads.tolist() == [[5.0], [2.5]]
    assert found.film_um.tolist() == [10.0, 10.0]
    assert found.film_sd.tolist() == [FILM_SD, FILM_SD]
    assert found.lab.tolist() == [[40.0, 30.0, 22.0]] * 2
    assert (found.lab_sd == LAB_SD).all()
    assert found.backing[:, 0].tolist() == [0.8, 0.0]
    assert not found.spectral.any()


@pytest.mark.parametrize("word", ["masstone", "Masstone ", "inf", np.inf, "∞"])
def test_a_masstone_is_endlessly_thick_and_needs_no_backing(word):
    found = read(rows({"film_um": word}).drop(columns="backing"))
    assert np.isinf(found.film_um).all()
    assert found.film_sd.tolist() == [0.0]


def test_numbers_and_words_stand_in_one_column_of_films():
    assert read(rows({"film_um": "masstone"}, {"film_um": "12.5"})).film_um.tolist() == [np.inf, 12.5]


def test_pigments_may_be_called_by_their_numbers():
    assert read(rows({}).rename(columns={"red iron oxide": "CI 77491"})).pigments == ("red iron oxide",)


def test_spreads_that_are_given_count_and_gaps_take_the_usual():
    found = read(rows({"film_sd": 0.05, "lab_sd": 1.5, "L_sd": 0.3}, {"batch": "b"}))
    assert found.film_sd.tolist() == [0.05, FILM_SD]
    assert found.lab_sd.tolist() == [[0.3, 1.5, 1.5], [LAB_SD] * 3]


def test_a_backing_may_be_a_colour_or_a_reflectance():
    grey = np.full(WAVELENGTHS.size, 0.3)
    found = read(rows({"backing": [60, 10, 15]}, {"backing": grey}, {"backing": (60, 10, 15)}))
    assert found.backing[1].tolist() == grey.tolist()
    assert found.backing[0].tolist() == found.backing[2].tolist()


@pytest.mark.parametrize("step", [1, 5, 10, 20])
def test_a_spectrum_of_any_step_stands_on_the_grid_and_ends_where_it_was_read(step):
    at = np.arange(400, 701, step)
    found = read(spectral(at / 1000, [str(nm) for nm in at]))
    inside = (WAVELENGTHS >= 400) & (WAVELENGTHS <= 700)
    assert found.reflectance[0, inside] == pytest.approx(WAVELENGTHS[inside] / 1000)
    assert np.isnan(found.reflectance[0, ~inside]).all()
    assert found.spectral.all()


def test_wavelengths_may_be_numbers_uneven_or_wider_than_the_eye_sees():
    at = [360.0, 375.5, 390.0, *range(400, 701, 20), 715.0, 730.0, 740.0]
    found = read(spectral(0.25, at))
    assert found.reflectance[0] == pytest.approx(0.25)


def test_colours_and_spectra_stand_in_one_table_and_a_spectrum_comes_first():
    both = pd.concat([rows({}), spectral(L=40.0, a=30.0, b=22.0)], ignore_index=True)
    found = read(both)
    assert found.spectral.tolist() == [False, True]
    assert np.isnan(found.lab[1]).all()
    assert found.lab[0].tolist() == [40.0, 30.0, 22.0]


@pytest.mark.parametrize(
    ("frame", "says"),
    [
        ([1, 2], "no table"),
        (pd.DataFrame(), "no swatch"),
        (rows({}).iloc[:0], "no swatch"),
        (without("red iron oxide"), "no column of the table is a pigment"),
        (rows({"red iron oxid": 2.0}), "red iron oxid.*Did you mean “red iron oxide”"),
        (rows({"note": "shiny"}), "“note”.*film_um, backing"),
        (rows({"CI 77491": 1.0}), "stands there twice"),
        (rows({"red iron oxide": 70.0, "titanium dioxide": 40.0}), "swatch 1: .*add up to 110 %"),
        (rows({}, {"red iron oxide": -1.0}), "swatch 2: red iron oxide.*-1"),
        (rows({}, {"red iron oxide": np.nan}), "swatch 2: red iron oxide.*Write 0"),
        (rows({"red iron oxide": "much"}), "“much”.*no number"),
        (without("film_um"), "“film_um” is missing"),
        (rows({"film_um": 0.0}), "swatch 1: a film of 0 µm"),
        (rows({}, {"film_um": -3.0}), "swatch 2: a film of -3 µm"),
        (rows({}, {"film_um": np.nan}), "swatch 2: a film of nan"),
        (rows({"film_um": "thin"}), "“thin”.*no number"),
        (without("backing"), "what lies under the film is missing"),
        (rows({}, {"backing": None}), "swatch 2: what lies under"),
        (rows({"backing": "white cart"}), "swatch 1: .*white cart.*Did you mean “white card”"),
        (without("L", "a", "b"), "nothing was read"),
        (rows({"a": np.nan}), "swatch 1: a of L, a, b is missing"),
        (without("b"), "b of L, a, b is missing"),
        (rows({"L": 140.0}), "L\\* 140.*is no colour"),
        (rows({"L": -5.0}), "is no colour"),
        (rows({"b": 300.0}), "is no colour"),
        (rows({"L": np.inf}), "is no colour"),
        (rows({"lab_sd": 0.0}), "“lab_sd” 0 cannot be"),
        (rows({"a_sd": -1.0}), "“a_sd” -1 cannot be"),
        (rows({"film_sd": 10.0}), "“film_sd” 10 cannot be"),
        (spectral(1.2), "1.2, and 1 is all light"),
        (spectral(40.0), "divide them by 100"),
        (spectral(-0.1), "below 0"),
        (spectral(0.4, NM[::-1]), "not in order at 690 nm"),
        (spectral(0.4, [*NM, "400.0"]), "400 nm stands in the table twice"),
        (spectral(0.4, NM[3:]), "covers 430 to 700"),
        (spectral(0.4, NM[:-3]), "covers 400 to 670"),
        (spectral(0.4, NM[:8] + NM[12:]), "between 470 and 520 nm is missing"),
        (spectral([0.4] * 4 + [np.nan] * 5 + [0.4] * 22), "between 430 and 490 nm is missing"),
        (spectral(np.nan), "nothing was read"),
    ],
)
def test_what_cannot_be_is_refused_in_words(frame, says):
    with pytest.raises(LabError, match=says):
        read(frame)


def test_one_column_twice_is_refused():
    with pytest.raises(LabError, match="“L” stands in the table twice"):
        read(pd.concat([rows({}), rows({})[["L"]]], axis=1))


def test_swatches_are_called_by_the_index_of_the_table():
    with pytest.raises(LabError, match="swatch “Tuesday”"):
        read(rows({"film_um": 0.0}).set_axis(["Tuesday"]))


def test_reading_leaves_the_table_as_it_was():
    frame = pd.concat([rows({"film_um": "masstone"}), spectral()], ignore_index=True)
    before = frame.copy(deep=True)
    read(frame)
    pd.testing.assert_frame_equal(frame, before)
