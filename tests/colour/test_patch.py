"""The colour of a swatch read from drawn photos whose truth is known."""

from functools import cache

import numpy as np
import pytest
from PIL import Image

from labkit.colour.charts import charts
from labkit.colour.cie import delta_e00, hex_of_lab, lab_of_srgb
from labkit.colour.light import LightSlope
from labkit.colour.patch import place_chart, read_patch, standard_error
from labkit.colour.photo import Photo, read_photo
from labkit.colour.place import ORDERS
from labkit.colour.sample import sample
from labkit.errors import LabError
from tests.colour.scenes import CHART_AT, SIZE, STRIP_AT, SWATCH, SWATCH_AT, camera, fractions, jpeg, scene

NAMES = ["24-patch chart", "6-patch card", "grey card"]
SMALL = (600, 450)


def at(name):
    return CHART_AT if name == "24-patch chart" else STRIP_AT


@cache
def usual(name):
    return scene(name)


@cache
def shot(name="24-patch chart", **how):
    return jpeg(camera(usual(name), **how))


def read(name="24-patch chart", **how):
    return read_patch(shot(name, **how), name, at(name), SWATCH_AT)


@pytest.mark.parametrize("name", NAMES)
def test_a_swatch_is_read(name):
    reading = read(name)
    off = float(delta_e00(reading.lab, SWATCH))
    photo = read_photo(shot(name))
    raw = float(delta_e00(lab_of_srgb(sample(photo, SWATCH_AT).linear[0] ** (1 / 2.2)), SWATCH))
    assert off < {"grey card": 0.9}.get(name, 0.6) * raw
    assert off < {"24-patch chart": 2, "6-patch card": 4, "grey card": 8}[name]
    assert (np.abs(reading.lab - SWATCH) < 3 * reading.lab_se).all()
    assert reading.hex == hex_of_lab(reading.lab)
    assert reading.reduced == ""
    assert reading.corrected_by.startswith(name)


def test_a_clean_photo_by_24_patches_has_no_doubts():
    assert read().warnings == ()
    assert read().residual_de00 < 2


def random_photo(rng, name, swatch):
    mixing = np.eye(3) + 0.15 * rng.uniform(0, 1, (3, 3))
    mixing /= mixing.sum(axis=1, keepdims=True)
    how = {
        "exposure": rng.uniform(0.5, 0.8),
        "gamma": rng.uniform(2.0, 2.5),
        "noise": rng.uniform(0.005, 0.03),
        "slope": rng.uniform(-0.08, 0.08, 2),
        "seed": int(rng.integers(1 << 30)),
        "mixing": mixing,
    }
    half = at(name) / 2 + rng.uniform(-8, 8, (4, 2))
    seen = scene(name, swatch, half, SWATCH_AT / 2, SMALL)
    clicked = half + rng.normal(0, 1.5, (4, 2))
    return jpeg(camera(seen, **how), quality=int(rng.integers(75, 96))), clicked


@pytest.mark.parametrize("name", ["24-patch chart", "6-patch card"])
def test_the_stated_error_holds_over_repeats(name):
    """Random cameras, light, noise, JPEG quality, clicks and reds: 90 % bands, 24 photos, 72 figures."""
    rng = np.random.default_rng(11)
    scaled, better = [], []
    for _ in range(24):
        swatch = rng.uniform([28, 15, 5], [60, 55, 35])
        photo, clicked = random_photo(rng, name, swatch)
        reading = read_patch(photo, name, clicked, SWATCH_AT / 2)
        scaled.append((reading.lab - swatch) / reading.lab_se)
        raw = lab_of_srgb(sample(read_photo(photo), SWATCH_AT / 2).linear[0] ** (1 / 2.2))
        better.append(delta_e00(reading.lab, swatch) < delta_e00(raw, swatch))
    assert (np.abs(scaled) < 1.645).mean() > 0.8
    assert np.sqrt(np.mean(np.square(scaled))) > 0.25
    assert np.mean(better) > 0.9


@pytest.mark.parametrize("order", ORDERS[1:])
def test_corners_given_another_way_round_are_put_right_and_said(order):
    given = CHART_AT[np.argsort(order)]
    reading = read_patch(shot(), "24-patch chart", given, SWATCH_AT)
    np.testing.assert_allclose(reading.lab, read().lab, atol=1e-6)
    way = ORDERS.index(order)
    said = "mirrored" if way >= 4 else f"turned by {90 * way} degrees"
    assert said in reading.warnings[0]
    assert "dark skin" in reading.warnings[0]


@pytest.mark.parametrize("order", [ORDERS[1], ORDERS[2], ORDERS[3]])
def test_a_strip_is_turned_too(order):
    reading = read_patch(shot("6-patch card"), "6-patch card", STRIP_AT[np.argsort(order)], SWATCH_AT)
    np.testing.assert_allclose(reading.lab, read("6-patch card").lab, atol=1e-6)
    assert "turned by" in reading.warnings[0]


@pytest.mark.parametrize("name", NAMES[:2])
def test_what_is_no_chart_is_refused(name):
    with pytest.raises(LabError, match=f"does not look like the {name}.*Check the corners"):
        read_patch(shot(name), name, at(name) + np.array([60, 0]), SWATCH_AT)


def test_pixels_fractions_and_a_rectangle_say_the_same():
    one = read_patch(shot(), "24-patch chart", CHART_AT, SWATCH_AT)
    other = read_patch(shot(), "24-patch chart", fractions(CHART_AT), fractions(SWATCH_AT))
    np.testing.assert_allclose(one.lab, other.lab, atol=1e-9)
    rectangle = read_patch(shot(), "24-patch chart", CHART_AT, [(920, 260), (1070, 410)])
    assert delta_e00(rectangle.lab, one.lab) < 0.5


def test_a_photo_turned_by_its_exif_tag_is_read_as_it_is_seen():
    pixels = np.asarray(Image.fromarray(camera(usual(NAMES[0]))).transpose(Image.Transpose.ROTATE_90))
    exif = Image.Exif()
    exif[0x0112] = 6
    reading = read_patch(jpeg(pixels, exif=exif), "24-patch chart", CHART_AT, SWATCH_AT)
    assert delta_e00(reading.lab, read().lab) < 0.3


def test_a_large_photo_is_read_reduced_at_the_same_corners():
    large = np.asarray(Image.fromarray(camera(usual(NAMES[0]))).resize((4000, 3000)))
    reading = read_patch(jpeg(large), "24-patch chart", CHART_AT * 4000 / SIZE[0], fractions(SWATCH_AT))
    assert reading.reduced == "The photo of 4000 × 3000 pixels was read at 2000 × 1500."
    assert delta_e00(reading.lab, read().lab) < 0.5


def test_own_reference_values_are_used():
    own = charts()["6-patch card"].lab + np.array([0, 6, 0])
    reading = read_patch(shot("6-patch card"), "6-patch card", STRIP_AT, SWATCH_AT, reference=own)
    assert reading.lab[1] > read("6-patch card").lab[1] + 3


def said(name="24-patch chart", patch=SWATCH_AT, photo=None, **how):
    reading = read_patch(photo or shot(name, **how), name, at(name), patch)
    return " ".join(reading.warnings)


@pytest.mark.parametrize("slope", [(0.35, 0.0), (0.0, 0.4), (-0.3, 0.2)])
def test_uneven_light_is_said(slope):
    assert "The light changes by about" in said(slope=slope)


def test_uneven_light_is_told_in_size_and_widens_the_error():
    """ln(light) falls by 0.36 over the width, so by 0.36·(length of the chart / width) over the chart."""
    photo = read_photo(shot(slope=(0.36, 0.0)))
    slope = place_chart(photo, charts()["24-patch chart"], CHART_AT).slope
    length = np.linalg.norm(CHART_AT[2] - CHART_AT[3])
    sd = np.sqrt(slope.covariance[0, 0])
    assert abs(slope.slope[0] - 0.36 * length / SIZE[0]) < 3 * sd
    assert abs(slope.slope[1]) < 3 * np.sqrt(slope.covariance[1, 1])
    assert read(slope=(0.36, 0.0)).lab_se[0] > 2 * read().lab_se[0]
    light_sd = slope.sd_at(SWATCH_AT.mean(axis=0))
    assert read(slope=(0.36, 0.0)).lab_se[0] > 116 / 3 * 0.48 * light_sd


def test_a_far_swatch_is_known_less_and_said():
    far = np.array([[15.0, 820.0], [95.0, 820.0], [95.0, 890.0], [15.0, 890.0]])
    photo = read_photo(shot())
    slope = place_chart(photo, charts()["24-patch chart"], CHART_AT).slope
    assert (
        slope.sd_at(far.mean(axis=0))
        > slope.sd_at(SWATCH_AT.mean(axis=0))
        > slope.sd_at(np.array([500.0, 320.0]))
    )
    small = CHART_AT / 5
    reading = read_patch(jpeg(camera(scene(at=small))), "24-patch chart", small, SWATCH_AT)
    assert any("lengths of the chart away" in each for each in reading.warnings)
    assert any("small in this photo" in each for each in reading.warnings)


def test_the_light_between_chart_and_swatch_goes_by_slope_and_by_what_is_not_known_of_it():
    """Two lengths of the chart away: ln(light) off by 2·0.03 ± 2·0.04, together √(0.06² + 0.08²)."""
    slope = LightSlope(np.array([0.03, 0.0]), np.eye(2) * 0.04**2, np.array([100.0, 50.0]), 200.0)
    assert slope.sd_at(np.array([500.0, 50.0])) == pytest.approx(0.1)
    assert slope.sd_at(np.array([100.0, 450.0])) == pytest.approx(0.08)
    assert slope.sd_at(np.array([100.0, 50.0])) == 0


def test_light_enters_the_standard_error_as_a_change_of_lightness():
    """A tenth more or less light moves L* by 116/3·Y^⅓·0.1 (CIE 15), beside what the correction adds."""
    photo = read_photo(shot())
    placed = place_chart(photo, charts()["24-patch chart"], CHART_AT)
    swatch = sample(photo, SWATCH_AT)
    without, with_light = (standard_error(swatch, placed.correction, sd) for sd in (0.0, 0.1))
    y = ((SWATCH[0] + 16) / 116) ** 3
    added = np.sqrt(with_light[0] ** 2 - without[0] ** 2)
    assert added == pytest.approx(116 / 3 * y ** (1 / 3) * 0.1, rel=0.05)


def test_clipping_is_said_for_the_chart_and_for_the_swatch():
    assert "left out: " in said(exposure=1.4)
    light = scene(swatch=(97.0, 0.0, 0.0))
    assert "too light for the photo to hold" in said(photo=jpeg(camera(light, exposure=1.1)))


def test_a_vivid_swatch_at_the_bottom_of_a_channel_is_said():
    vivid = scene(swatch=(50.0, 78.0, 66.0))
    assert "at the bottom of what the photo can hold" in said(photo=jpeg(camera(vivid, mixing=np.eye(3))))


def test_glare_on_the_swatch_and_on_the_chart_is_said():
    pixels = camera(usual(NAMES[0]), exposure=0.5)
    pixels[330:340, 960:1000] = 230
    assert "bright spots" in said(photo=jpeg(pixels))
    pixels = camera(usual(NAMES[0]), exposure=0.5)
    pixels[370:386, 160:200] = 230
    assert "Something light lies on the chart" in said(photo=jpeg(pixels))


@pytest.mark.parametrize("name", NAMES)
def test_a_dark_photo_is_said(name):
    assert "The photo is dark" in said(name, exposure=0.1)
    assert "The photo is dark" not in said(name)


def test_a_dark_swatch_is_said():
    assert "swatch is very dark" in said(photo=jpeg(camera(scene(swatch=(7.0, 4.0, 2.0)), exposure=0.5)))


@pytest.mark.parametrize("name", NAMES[:2])
def test_blur_is_said_when_it_reaches_what_is_read(name):
    assert "blurred" in said(name, blur=20)
    assert "blurred" not in said(name, blur=4)


def test_corners_a_little_off_are_said():
    off = CHART_AT + np.array([30, 25])
    reading = read_patch(shot(), "24-patch chart", off, SWATCH_AT)
    assert any("reach over their edges" in each for each in reading.warnings)


def test_a_faded_card_is_said():
    own = charts()["24-patch chart"].lab + np.random.default_rng(0).normal(0, 6, (24, 3))
    own[:, 0] = np.clip(own[:, 0], 5, 98)
    reading = read_patch(shot(), "24-patch chart", CHART_AT, SWATCH_AT, reference=own)
    assert any("card faded" in each for each in reading.warnings)
    assert reading.lab_se.mean() > 2 * read().lab_se.mean()


def test_few_patches_and_a_grey_card_say_what_they_cannot():
    assert "6 patches allow only a simple correction" in said("6-patch card")
    assert "can still be off by several ΔE00" in said("grey card")
    assert np.isnan(read("grey card").residual_de00)
    assert (read("24-patch chart").lab_se < read("grey card").lab_se).all()


def test_an_uneven_swatch_is_known_less():
    pixels = camera(usual(NAMES[0]))
    pixels[:, 990:] = (pixels[:, 990:] * 0.8).astype(np.uint8)
    halves = read_patch(jpeg(pixels), "24-patch chart", CHART_AT, SWATCH_AT)
    assert halves.lab_se[0] > 1.3 * read().lab_se[0]


def test_a_chart_over_a_grey_picture_is_refused_as_grey():
    grey = np.asarray(Image.fromarray(camera(usual(NAMES[0]))).convert("L").convert("RGB"))
    with pytest.raises(LabError, match="This photo is grey"):
        read_patch(jpeg(grey), "24-patch chart", CHART_AT, SWATCH_AT)


@pytest.mark.parametrize(
    ("chart", "corners", "patch", "told"),
    [
        ("12-patch chart", CHART_AT, SWATCH_AT, "There is no chart"),
        ("24-patch chart", CHART_AT + np.array([400, 0]), SWATCH_AT, "top right corner of the chart"),
        ("24-patch chart", CHART_AT[[0, 1, 3, 2]], SWATCH_AT, "chart cross"),
        ("24-patch chart", CHART_AT, SWATCH_AT + np.array([200, 0]), "corner of the patch"),
        ("24-patch chart", CHART_AT, [(920, 250), (926, 256)], "patch.*too close|6 pixels wide"),
    ],
)
def test_bad_input_is_refused_by_name(chart, corners, patch, told):
    with pytest.raises(LabError, match=told):
        read_patch(shot(), chart, corners, patch)


def test_a_photo_read_once_serves_for_many_swatches():
    photo = read_photo(shot())
    assert isinstance(photo, Photo)
    np.testing.assert_array_equal(read_patch(photo, NAMES[0], CHART_AT, SWATCH_AT).lab, read().lab)
