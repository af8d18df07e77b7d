"""The correction, on cameras and lights with published spectra."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from labkit.colour.charts import charts
from labkit.colour.cie import colour_science, delta_e00, lab_of_srgb, lab_of_xyz, xyz_of_lab
from labkit.colour.correct import fit_correction, linear_of, terms
from labkit.colour.sample import Samples, linear_levels
from labkit.errors import LabError
from tests.colour.cameras import (
    LIGHTS,
    TONES,
    cameras,
    chart_reflectance,
    lab_in_daylight,
    lip_reflectance,
    nanometres,
    srgb_by,
)

ROWS = {"24-patch chart": slice(0, 24), "6-patch card": slice(12, 18)}
FILMS = 30
FLARE = 0.005


def samples(srgb, **more):
    linear, none = linear_levels()[srgb], np.zeros(len(srgb))
    made = Samples(linear, linear[:, None], none, none, none)
    return replace(made, **more)


def reflectances(name):
    """The chart's, or for the grey card an even 18 %."""
    return chart_reflectance()[ROWS[name]] if name in ROWS else np.full((1, nanometres().size), 0.18)


@cache
def shots():
    """Every camera under every light with every tone curve: levels of the chart and of lip films."""
    films = lip_reflectance(np.random.default_rng(3), FILMS)
    everything = np.vstack([chart_reflectance(), reflectances("grey card"), films])
    found = [
        srgb_by(camera, light, everything, tone=tone, flare=FLARE)
        for camera in cameras()
        for light in LIGHTS
        for tone in TONES
    ]
    return np.array(found), lab_in_daylight(films)


def fitted(name, shot):
    chart = replace(charts()[name], lab=lab_in_daylight(reflectances(name)))
    rows = ROWS.get(name, slice(24, 25))
    return fit_correction(samples(shot[rows]), chart)


@cache
def off(name):
    """Errors of the films' Lab and their stated sd, both (shots, films, 3), and residuals (shots,)."""
    errors, stated, residuals = [], [], []
    taken, true = shots()
    for shot in taken:
        correction = fitted(name, shot)
        films = shot[-FILMS:]
        errors.append(correction.apply(films) - true)
        stated.append([correction.lab_sd(one) for one in linear_levels()[films]])
        residuals.append(correction.residual_de00)
    return np.array(errors), np.array(stated), np.array(residuals)


def mean_de00(name):
    errors, _, _ = off(name)
    true = shots()[1]
    return float(delta_e00(true + errors, true).mean())


def uncorrected():
    taken, true = shots()
    return float(delta_e00(lab_of_srgb(taken[:, -FILMS:] / 255), true).mean())


def test_each_chart_is_better_than_none_and_more_patches_are_better():
    assert mean_de00("24-patch chart") < 0.5 * mean_de00("6-patch card")
    assert mean_de00("6-patch card") < 0.8 * uncorrected()
    assert mean_de00("grey card") < uncorrected()
    assert mean_de00("24-patch chart") < 2.0


@pytest.mark.parametrize("name", ["24-patch chart", "6-patch card", "grey card"])
def test_what_is_stated_holds_for_lip_films(name):
    """90 % bands (1.645 sd) over all cameras, lights and curves; films are new colours, not the chart's."""
    errors, stated, _ = off(name)
    held = (np.abs(errors) < 1.645 * stated).mean(axis=(0, 1))
    assert (held > 0.85).all(), held
    true = np.sqrt((errors**2).mean(axis=(0, 1)))
    told = np.sqrt((stated**2).mean(axis=(0, 1)))
    assert (told < 2.5 * true).all()


def test_the_residual_of_24_patches_tells_the_error_of_new_colours():
    errors, _, residuals = off("24-patch chart")
    true = shots()[1]
    actual = delta_e00(true + errors, true).mean(axis=1)
    assert 0.7 < residuals.mean() / actual.mean() < 1.3
    assert np.corrcoef(residuals, actual)[0, 1] > 0.3


def test_six_patches_take_a_matrix_and_never_curves():
    taken, true = shots()
    chart = lab_in_daylight(reflectances("6-patch card"))

    def error(curves):
        found = []
        for shot in taken:
            design = terms(linear_levels()[shot[12:18]], 1.0, curves)
            matrix = np.linalg.pinv(design) @ xyz_of_lab(chart)
            films = terms(linear_levels()[shot[-FILMS:]], 1.0, curves) @ matrix
            found.append(delta_e00(lab_of_xyz(films), true).mean())
        return float(np.mean(found))

    assert fitted("6-patch card", taken[0]).method == "3×3 matrix"
    assert error(curves=False) == pytest.approx(mean_de00("6-patch card"))
    assert error(curves=True) > 1.5 * error(curves=False)


def test_an_exponent_helps_where_the_tone_curve_is_another():
    taken, true = shots()
    with_it, without = [], []
    for shot in taken:
        correction = fitted("24-patch chart", shot)
        with_it.append(delta_e00(correction.apply(shot[-FILMS:]), true).mean())
        design = terms(linear_levels()[shot[:24]], 1.0, curves=True)
        matrix = np.linalg.pinv(design) @ correction.chart.xyz
        films = lab_of_xyz(terms(linear_levels()[shot[-FILMS:]], 1.0, curves=True) @ matrix)
        without.append(delta_e00(films, true).mean())
    assert np.mean(with_it) < 0.85 * np.mean(without)


def test_it_is_the_fit_of_colour_science():
    """With the exponent at 1 the same as its own colour correction (Finlayson 2015, and Cheung 2004)."""
    colour = colour_science()
    taken, _ = shots()
    linear = linear_levels()[taken[0]]
    for name, how in [
        ("24-patch chart", {"method": "Finlayson 2015", "degree": 2}),
        ("6-patch card", {"method": "Cheung 2004", "terms": 3}),
    ]:
        correction = fitted(name, taken[0])
        raised = linear**correction.exponent
        wanted = colour.colour_correction(raised[-FILMS:], raised[ROWS[name]], correction.chart.xyz, **how)
        np.testing.assert_allclose(correction.xyz(linear[-FILMS:]), wanted, atol=1e-9)


@pytest.mark.parametrize("name", ["24-patch chart", "6-patch card"])
def test_each_patch_is_read_from_all_the_others(name):
    """The short cut by leverage against a fit for each patch left out."""
    correction = fitted(name, shots()[0][5])
    linear = linear_levels()[shots()[0][5][ROWS[name]]]
    design = terms(linear, correction.exponent, curves=len(linear) > 6)
    for out in range(len(linear)):
        kept = np.arange(len(linear)) != out
        matrix = np.linalg.lstsq(design[kept], correction.chart.xyz[kept], rcond=None)[0]
        wanted = design[out] @ matrix - correction.chart.xyz[out]
        np.testing.assert_allclose(correction.residual_xyz[out], wanted, atol=1e-9)


def test_more_light_in_all_changes_nothing():
    """A root polynomial keeps colour when everything gets lighter: the reason for it."""
    linear = linear_levels()[shots()[0][0]]
    chart = charts()["24-patch chart"]
    none = np.zeros(24)
    labs = [
        lab_of_xyz(
            fit_correction(Samples(light[:24], light[:24, None], none, none, none), chart).xyz(light[-5:])
        )
        for light in (linear, 0.5 * linear)
    ]
    np.testing.assert_allclose(*labs, atol=1e-8)


def test_a_grey_card_makes_grey_grey():
    shot = shots()[0][17]
    correction = fitted("grey card", shot)
    np.testing.assert_allclose(correction.apply(shot[24]), correction.chart.lab[0], atol=1e-6)
    assert np.isnan(correction.residual_de00)
    assert "can still be off by several ΔE00" in correction.warnings[0]


def test_clipped_patches_are_left_out_and_named():
    shot, clipped = shots()[0][0][:24], np.zeros(24)
    clipped[[5, 18]] = 0.5
    spoiled = shot.copy()
    spoiled[[5, 18]] = 255
    correction = fit_correction(samples(spoiled, clipped=clipped), charts()["24-patch chart"])
    assert "left out: bluish green, white 9.5" in correction.warnings[0]
    assert correction.residual_xyz.shape == (22, 3)
    assert correction.residual_de00 < 3
    whole = fit_correction(samples(spoiled), charts()["24-patch chart"])
    assert whole.residual_de00 > 2 * correction.residual_de00


def test_too_few_patches_left_allow_only_a_matrix_and_then_nothing():
    shot, clipped = shots()[0][0][:24], np.zeros(24)
    clipped[:12] = 1
    correction = fit_correction(samples(shot, clipped=clipped), charts()["24-patch chart"])
    assert correction.method == "3×3 matrix"
    assert "12 patches allow only a simple correction" in correction.warnings[1]
    clipped[:20] = 1
    with pytest.raises(LabError, match=r"Only 4 of 24 patches are usable.*less exposure"):
        fit_correction(samples(shot, clipped=clipped), charts()["24-patch chart"])
    with pytest.raises(LabError, match="grey card is too light"):
        fit_correction(samples(shot[:1], clipped=np.ones(1)), charts()["grey card"])


@pytest.mark.parametrize("name", ["24-patch chart", "6-patch card", "grey card"])
def test_a_black_chart_is_refused(name):
    count = len(charts()[name])
    with pytest.raises(LabError, match=f"{name} is black"):
        fit_correction(samples(np.zeros((count, 3), np.uint8)), charts()[name])


def test_far_colours_are_known_less():
    correction = fitted("24-patch chart", shots()[0][0])
    inside, outside = (
        correction.lab_sd(np.array([0.2, 0.1, 0.1])),
        correction.lab_sd(np.array([0.9, 0.0, 0.0])),
    )
    assert (outside > inside).all()


def test_floats_and_bytes_are_the_same_pixels():
    levels = np.arange(256, dtype=np.uint8)
    np.testing.assert_allclose(linear_of(levels), linear_of(levels / 255), atol=1e-12)
    assert linear_of([0.0, 0.04045, 1.0]) == pytest.approx([0.0, 0.04045 / 12.92, 1.0])  # IEC 61966-2-1


def test_a_picture_keeps_its_shape():
    correction = fitted("24-patch chart", shots()[0][0])
    picture = np.random.default_rng(0).integers(0, 255, (7, 5, 3), np.uint8)
    assert correction.apply(picture).shape == (7, 5, 3)
    np.testing.assert_allclose(correction.apply(picture)[3, 2], correction.apply(picture[3, 2]))
