"""What swatches move, what they leave, and what they are refused for."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from labkit.colour.cie import WAVELENGTHS, lab_of
from labkit.errors import LabError
from labkit.shade.backing import reflectance_of
from labkit.shade.calibration import OWN, calibrate, swatch_optics, what_was_learned
from labkit.shade.film_colour import inside, predict, readings
from labkit.shade.fit_swatches import fit, information, without_films
from labkit.shade.medium import USUAL, Medium
from labkit.shade.mixture import coefficients
from labkit.shade.pigments import default_pigments
from labkit.shade.swatch_check import swatch_check
from labkit.shade.swatch_optics import THEORY_SD, spectral_scale
from tests.shade.makers import (
    BLACK,
    RED,
    WHITE,
    YELLOW,
    drawn_maker,
    missed,
    noisy,
    random_films,
    seen,
    spectra,
    table,
)

START = default_pigments()
FILMS = [
    ({RED: 8.0}, 10.0, "white card"),
    ({RED: 8.0}, np.inf, "lip"),
    ({RED: 1.0, WHITE: 8.0}, 20.0, "black card"),
    ({WHITE: 8.0}, 20.0, "black card"),
    ({YELLOW: 8.0}, 10.0, "white card"),
    ({YELLOW: 1.0, WHITE: 8.0}, 20.0, "black card"),
    ({YELLOW: 4.0, RED: 4.0}, 10.0, "lip"),
]
HELD = [({RED: 3.0, YELLOW: 3.0, WHITE: 3.0}, 10.0, "lip"), ({YELLOW: 5.0, RED: 1.0}, 20.0, "white card")]


def forecasts(films, pigments=START):
    return table([(*film, seen(pigments, *film)) for film in films])


def variance(pigments):
    return (pigments.modes**2).sum((0, 2, 3))


@pytest.mark.parametrize("read", [forecasts, spectra])
def test_forecasts_read_back_move_nothing_and_narrow_what_they_tell_of(read):
    found = calibrate(read(FILMS, START))
    assert found.log_ks == pytest.approx(START.log_ks, abs=1e-6)
    told = [START.names.index(name) for name in (RED, YELLOW, WHITE)]
    assert (variance(found)[told] < variance(START)[told]).all()


def test_pigments_without_swatches_stay_as_they_are():
    found = calibrate(forecasts(FILMS, drawn_maker(3)))
    others = [i for i, name in enumerate(START.names) if name not in (RED, YELLOW, WHITE)]
    assert found.names == START.names
    assert (found.log_ks[others] == START.log_ks[others]).all()
    assert variance(found)[others] == pytest.approx(variance(START)[others])
    assert [found.basis[i] for i in others] == [START.basis[i] for i in others]
    assert {found.basis[START.names.index(name)] for name in (RED, YELLOW, WHITE)} == {OWN}


def test_a_column_of_zeros_tells_nothing():
    found = calibrate(forecasts(FILMS[:2], drawn_maker(3)).assign(**{BLACK: 0.0}))
    at = START.names.index(BLACK)
    assert (found.log_ks[at] == START.log_ks[at]).all()
    assert found.basis[at] == START.basis[at]


def test_neither_the_order_of_rows_nor_that_of_columns_matters():
    swatches = table(noisy(np.random.default_rng(1), drawn_maker(3), FILMS))
    found = calibrate(swatches)
    turned = calibrate(swatches.iloc[::-1, ::-1])
    assert turned.log_ks == pytest.approx(found.log_ks, abs=1e-6)
    assert variance(turned) == pytest.approx(variance(found), rel=1e-6)


def test_it_is_the_same_each_time():
    swatches = table(noisy(np.random.default_rng(1), drawn_maker(3), FILMS))
    assert (calibrate(swatches).modes == calibrate(swatches).modes).all()


def test_in_two_parts_it_is_nearly_as_at_once():
    maker = drawn_maker(3)
    swatches = table(noisy(np.random.default_rng(1), maker, FILMS * 2))
    at_once = calibrate(swatches)
    parts = calibrate(swatches.iloc[5:], calibrate(swatches.iloc[:5]))
    for blend, film_um, backing in HELD:
        one, two = (predict(blend, film_um, backing, each) for each in (at_once, parts))
        assert two.lab == pytest.approx(one.lab, abs=0.6)
        assert two.lab_sd == pytest.approx(one.lab_sd, rel=0.25)


@pytest.mark.parametrize("seed", range(6))
def test_more_swatches_never_widen(seed):
    rng, maker = np.random.default_rng(seed), drawn_maker(seed + 50)
    swatches = table(noisy(rng, maker, random_films(rng, 12)))
    left = [variance(START).sum()] + [variance(calibrate(swatches.iloc[:n])).sum() for n in (1, 2, 4, 8, 12)]
    assert all(b < a for a, b in pairwise(left))


def test_one_swatch_helps():
    films = [({RED: 8.0}, np.inf, "lip")]
    held = [({RED: 4.0}, np.inf, "lip"), ({RED: 5.0}, 20.0, "white card")]
    gains = []
    for seed in range(8):
        maker = drawn_maker(seed)
        rows = noisy(np.random.default_rng(seed), maker, held, noise=0.0)
        found = calibrate(table(noisy(np.random.default_rng(seed), maker, films)))
        gains.append(np.mean(missed(START, rows)) - np.mean(missed(found, rows)))
    assert np.mean(gains) > 1


def test_spectra_tell_more_than_colours():
    off, far = [], []
    for seed in range(4):
        maker = drawn_maker(seed)
        by_spectra, by_colours = (calibrate(read(FILMS, maker)) for read in (spectra, forecasts))
        assert variance(by_spectra).sum() < variance(by_colours).sum()
        readable = predict(*FILMS[1], maker).reflectance > 0.03
        off.append([np.abs(ratio(each) - ratio(maker))[readable].mean() for each in (by_spectra, by_colours)])
        far += missed(by_spectra, [(*film, seen(maker, *film)) for film in HELD])
    assert np.divide(*np.mean(off, axis=0)) < 0.5
    assert np.mean(far) < 0.7


def ratio(pigments):
    """Return log k/s of red, which a masstone shows at each wavelength where it is not too dark to read."""
    k, s = pigments.log_ks[START.names.index(RED)]
    return k - s


def test_colours_and_spectra_teach_together():
    maker = drawn_maker(3)
    both = pd.concat([spectra(FILMS[:3], maker), forecasts(FILMS[3:], maker)], ignore_index=True)
    rows = [(*film, seen(maker, *film)) for film in HELD]
    assert max(missed(calibrate(both.fillna({RED: 0.0, YELLOW: 0.0, WHITE: 0.0})), rows)) < 1.5


def test_the_base_counts():
    heavy = Medium(1.4, 1.6)
    blend, film_um, backing = FILMS[0]
    swatches = table([(blend, film_um, backing, predict(blend, film_um, backing, medium=heavy).lab)])
    assert calibrate(swatches, medium=heavy).log_ks == pytest.approx(START.log_ks, abs=1e-6)
    assert np.abs(calibrate(swatches).log_ks - START.log_ks).max() > 0.05


def levels(names, sd=0.5):
    """Return pigments of which nothing but the level of k and of s is not known."""
    own = START.only(names)
    modes = np.zeros((2 * len(names), *own.log_ks.shape))
    for i, at in enumerate(np.ndindex(len(names), 2)):
        modes[i][at] = sd
    return replace(own, modes=modes)


def test_the_answer_is_that_of_the_whole_posterior_on_a_grid():
    """Prior times likelihood at every one of 61 × 61 levels of k and s, the films known exactly."""
    start = levels([RED])
    truth = replace(start, log_ks=start.log_ks + np.array([0.4, -0.3])[:, None])
    films = [({RED: 3.0}, 8.0, "white card"), ({RED: 6.0}, 12.0, "black card")]
    swatches = forecasts(films, truth).assign(film_sd=1e-6, lab_sd=1.2)
    found = calibrate(swatches, start)
    z = np.linspace(-3, 3, 61)
    logs = np.empty((z.size, z.size))
    sd = np.hypot(1.2, THEORY_SD)
    read = swatches[["L", "a", "b"]].to_numpy()
    for i, a in enumerate(z):
        for j, b in enumerate(z):
            here = replace(
                start, log_ks=start.log_ks + 0.5 * np.array([a, b])[:, None], modes=start.modes[:0]
            )
            off = np.array([literal(here, *film) for film in films]) - read
            logs[i, j] = -(a * a + b * b + (off**2).sum() / sd**2) / 2
    weight = np.exp(logs - logs.max())
    weight /= weight.sum()
    for axis, which in ((1, 0), (0, 1)):
        share = weight.sum(axis)
        mean = share @ z
        spread = np.sqrt(share @ (z - mean) ** 2)
        assert (found.log_ks - start.log_ks)[0, which, 0] / 0.5 == pytest.approx(mean, abs=0.15 * spread)
        assert np.linalg.norm(found.modes[:, 0, which, 0]) / 0.5 == pytest.approx(spread, rel=0.1)


def literal(pigments, blend, film_um, backing):
    K, S = coefficients(np.array(list(blend.values())), pigments.only(list(blend)), USUAL)
    return lab_of(readings(K, S, film_um, inside(reflectance_of(backing), USUAL), USUAL))


def test_derivatives_are_those_of_the_forecasts():
    swatches = pd.concat(
        [forecasts(FILMS, drawn_maker(4)), spectra(FILMS, drawn_maker(4))], ignore_index=True
    )
    optics = swatch_optics(swatches, START, USUAL)
    rng = np.random.default_rng(0)
    at, films = rng.normal(0, 0.5, len(optics.pigments.modes)), rng.normal(0, 0.5, len(swatches))
    way, film_way, step = rng.standard_normal(at.size), rng.standard_normal(films.size), 1e-5
    here = optics.answers(at, films)
    up, down = (optics.answers(at + s * way, films + s * film_way).missed for s in (step, -step))
    said = here.by_mode @ way + here.by_film * film_way[:, None]
    assert said == pytest.approx((up - down) / (2 * step), abs=1e-4 * np.abs(said).max())


def test_films_errors_are_taken_out_as_the_matrix_inverse_has_it():
    optics = swatch_optics(forecasts(FILMS, drawn_maker(4)), START, USUAL)
    films = np.linspace(-1, 1, len(FILMS))
    full = optics.answers(np.zeros(len(optics.pigments.modes)), films)
    free = without_films(full, films)
    for g, J, J_free in zip(full.by_film, full.by_mode, free.by_mode, strict=True):
        inverse = np.linalg.inv(np.eye(g.size) + np.outer(g, g))
        assert J_free.T @ J_free == pytest.approx(J.T @ inverse @ J, abs=1e-9 * np.abs(J.T @ J).max() + 1e-12)
    assert information(free, np.zeros(len(FILMS))) == pytest.approx(np.eye(full.by_mode.shape[2]))


def test_a_spectrum_is_not_as_many_facts_as_wavelengths():
    white = np.ones(WAVELENGTHS.size)
    told = np.sum((spectral_scale(0.5 * white) @ white) ** 2)
    alone = WAVELENGTHS.size / (0.002**2 + (0.01 * 0.5) ** 2)
    assert told < alone / 10


def test_a_film_weighed_badly_counts_less():
    swatches = forecasts(FILMS[:1], drawn_maker(3))
    sure, unsure = (variance(calibrate(swatches.assign(film_sd=sd))).sum() for sd in (0.01, 0.6))
    assert sure < unsure


@pytest.mark.parametrize("films", [[10.0] * 10, [9.3, 10.0, 10.8], ["masstone"] * 4])
def test_one_load_again_and_again_is_refused_with_the_cure(films):
    rng = np.random.default_rng(0)
    lab = seen(drawn_maker(3), {RED: 6.0}, 10.0, "white card")
    swatches = table([({RED: 6.0}, film, "white card", lab + 0.5 * rng.standard_normal(3)) for film in films])
    with pytest.raises(
        LabError, match=f"{len(films)} swatches are one fact.*absorption from scattering.*add one"
    ):
        calibrate(swatches)
    assert calibrate(swatches.iloc[:1]).basis[START.names.index(RED)] == OWN


def test_masstones_of_several_loads_are_one_fact_too():
    films = [({RED: load}, np.inf, "lip") for load in (3.0, 6.0, 12.0)]
    with pytest.raises(LabError, match="one fact"):
        calibrate(forecasts(films))


@pytest.mark.parametrize(
    "other",
    [
        ({RED: 6.0}, 10.0, "black card"),
        ({RED: 1.0}, 10.0, "white card"),
        ({RED: 6.0}, 3.0, "white card"),
        ({RED: 0.6, WHITE: 6.0}, 10.0, "white card"),
    ],
)
def test_one_swatch_that_differs_is_enough(other):
    same = [({RED: 6.0}, 10.0, "white card")] * 3
    found = calibrate(forecasts([*same, other]))
    assert found.basis[START.names.index(RED)] == OWN


def test_white_pigments_that_look_alike_are_not_one_fact():
    films = [({name: 20.0}, np.inf, "lip") for name in (WHITE, "titanium dioxide anatase", "zinc oxide")]
    assert len(calibrate(forecasts(films))) == len(START)


def lesson(films, name=RED):
    swatches = forecasts(films)
    return what_was_learned(START, calibrate(swatches), swatches).set_index("pigment").loc[name]


def test_a_masstone_tells_the_ratio_alone_and_it_says_so():
    told = lesson([({RED: 8.0}, np.inf, "lip")])
    assert "against one another only" in told.sentence
    assert "over a black card" in told.sentence
    assert told.absorption == pytest.approx(1, abs=1e-6)
    assert told.absorption_low < 0.8
    assert told.absorption_high == pytest.approx(1 / told.absorption_low)


def test_thin_films_over_both_cards_tell_both():
    told = lesson([({RED: 5.0}, 10.0, card) for card in ("black card", "white card")])
    assert "only" not in told.sentence
    assert told.absorption_gone > 0.4
    assert told.scattering_gone > 0.4
    assert told.swatches == 2


def test_a_trace_tells_little_and_it_says_so():
    told = lesson([({RED: 8.0, BLACK: 1e-4}, np.inf, "lip")], BLACK)
    assert "say little of it" in told.sentence
    assert told.basis == START.basis[START.names.index(BLACK)]


def test_a_pigment_in_no_swatch_is_told_as_such():
    swatches = forecasts(FILMS[:1]).assign(**{BLACK: 0.0})
    told = what_was_learned(START, calibrate(swatches), swatches).set_index("pigment").loc[BLACK]
    assert told.swatches == 0
    assert told.sentence.endswith("No swatch holds it.")


def test_a_stronger_pigment_is_told_to_be_stronger():
    strong = replace(START, log_ks=START.log_ks + np.array([np.log(1.4), np.log(0.8)])[:, None])
    swatches = forecasts([*FILMS[:4], ({RED: 8.0}, 10.0, "black card")], strong)
    told = what_was_learned(START, calibrate(swatches), swatches).set_index("pigment").loc[RED]
    assert told.absorption == pytest.approx(1.4, rel=0.12)
    assert told.absorption_low < 1.4 < told.absorption_high
    assert told.scattering_low < 0.8 < told.scattering_high


@pytest.mark.parametrize("at", range(len(FILMS)))
@pytest.mark.parametrize("off", [[30, 0, 0], [15, 0, 0], [0, -20, 10]])
def test_one_wild_swatch_among_others_is_named_and_does_not_wreck(at, off):
    maker = drawn_maker(3)
    swatches = table(noisy(np.random.default_rng(1), maker, FILMS))
    wild = swatches.copy()
    wild.loc[at, "L"] += off[0] if wild["L"][at] < 60 else -off[0]
    wild.loc[at, ["a", "b"]] += off[1:]
    check = swatch_check(wild)
    assert check.index[~check.fits].tolist() == [at]
    assert f"swatch {at + 1}" in check.sentence[at]
    assert "does not fit" in check.sentence[at]
    rows = [(*film, seen(maker, *film)) for film in HELD]
    lost = np.subtract(missed(calibrate(wild), rows), missed(calibrate(swatches.drop(index=at)), rows))
    assert np.abs(lost).max() < 1


@pytest.mark.parametrize("lab", [(2, 0, 0), (99, 0, 0), (80, 30, 20), (40, -60, 80), (50, 100, -100)])
def test_a_lone_wild_swatch_moves_no_pigment_out_of_reach(lab):
    found = calibrate(table([({RED: 8.0}, np.inf, "lip", lab)]))
    sd = np.sqrt((START.modes**2).sum(0).mean(2))
    moved = np.abs((found.log_ks - START.log_ks).mean(2))
    assert (moved < 3 * sd).all()
    assert np.isfinite(found.log_ks).all()
    assert (variance(found) <= variance(START) * (1 + 1e-9)).all()


def test_a_check_shows_what_swatches_bring():
    maker = drawn_maker(3)
    check = swatch_check(table(noisy(np.random.default_rng(1), maker, FILMS)))
    assert check.fits.all()
    assert (check.believed > 0.95).all()
    assert check.after.mean() < 1
    assert check.before.mean() > 2


def test_a_check_takes_spectra():
    check = swatch_check(spectra(FILMS, drawn_maker(3)))
    assert check.fits.all()
    assert check.after.max() < 2


def test_what_is_returned_is_the_fit():
    swatches = forecasts(FILMS, drawn_maker(3))
    optics = swatch_optics(swatches, START, USUAL)
    found, answer = fit(optics), calibrate(swatches)
    own = answer.only(optics.pigments.names)
    assert own.log_ks == pytest.approx(
        optics.pigments.log_ks + np.tensordot(found.mean, optics.pigments.modes, 1)
    )
    flat = own.modes.reshape(len(own.modes), -1)
    old = optics.pigments.modes.reshape(len(own.modes), -1)
    assert flat.T @ flat == pytest.approx(old.T @ found.covariance @ old, abs=1e-9)


def test_spectra_that_scatter_at_each_wavelength_are_not_taken_for_wild():
    rng, maker = np.random.default_rng(0), drawn_maker(3)
    read = spectra(FILMS, maker)
    columns = WAVELENGTHS.tolist()
    read[columns] = (read[columns] + 0.003 * rng.standard_normal((len(FILMS), len(columns)))).clip(0, 1)
    assert swatch_check(read).fits.all()
    assert max(missed(calibrate(read), [(*film, seen(maker, *film)) for film in HELD])) < 1.5


def test_a_wild_spectrum_is_named():
    read = spectra(FILMS, drawn_maker(3))
    read.loc[1, WAVELENGTHS.tolist()] = read.loc[1, WAVELENGTHS.tolist()].to_numpy(float)[::-1]
    check = swatch_check(read)
    assert check.index[~check.fits].tolist() == [1]


@pytest.mark.parametrize("read", [forecasts, spectra])
def test_a_swatch_is_judged_by_the_fit_to_all_others(read):
    """Fitted again without it, of levels alone, so nearly linear; χ² of 3 at one in a thousand is 16.266."""
    start = levels([RED, YELLOW, WHITE], 0.05)
    swatches = read(FILMS, drawn_maker(3, start)).assign(film_sd=1e-6)
    columns = ["L", "a", "b"] if "L" in swatches else WAVELENGTHS.tolist()
    swatches[columns] *= np.linspace(0.97, 1.03, len(FILMS))[:, None]
    found = fit(swatch_optics(swatches, start, USUAL))
    assert (found.believed == 1).all()
    for at in range(len(FILMS)):
        others = fit(swatch_optics(swatches.drop(index=at).reset_index(drop=True), start, USUAL))
        one = swatch_optics(swatches.iloc[[at]], start, USUAL)
        colour = one.as_colours().answers(others.mean, np.zeros(1))
        J, r = colour.by_mode[0, :3], colour.missed[0, :3]
        squared = r @ np.linalg.solve(np.eye(3) + J @ others.covariance @ J.T, r)
        assert found.off[at] == pytest.approx(squared / 16.266, rel=0.1, abs=0.005)
