"""Streak photos with a known truth: area, angle, pigment, and what must not be taken for a streak."""

import io
from functools import cache

import numpy as np
import pytest
from PIL import Image
from streak.photos import MELT, PIGMENTS, Scene, Streaks, angle_between, srgb_of

from labkit.errors import LabError
from labkit.streak import marked, unevenness
from labkit.streak.picture import WORKED_ON

YELLOW, BLUE = Streaks("yellow"), Streaks("blue", 70, 14, 150, 0.25)
WHITE, RED = Streaks("white", 120, 14, 140, 0.15), Streaks("red", 0, 20, 130, 0.6)
LIT = {"gradient": 0.4, "noise": 3.0, "ridges": 0.15}

STREAKED = {
    "yellow, clean": Scene(streaks=[YELLOW]),
    "yellow, all at once": Scene(streaks=[YELLOW], glare=2, pan=True, card=True, **LIT),
    "yellow, a long way off": Scene(streaks=[Streaks("yellow", 150, 16, 120, 0.7)], **LIT),
    "yellow, faint": Scene(streaks=[Streaks("yellow", 30, 16, 120, 0.12)], gradient=0.4, noise=3),
    "yellow, warm light": Scene(streaks=[YELLOW], noise=3, light=(1, 0.85, 0.6)),
    "blue": Scene(streaks=[BLUE], **LIT),
    "white": Scene(streaks=[WHITE], **LIT),
    "white, glare, pan": Scene(streaks=[WHITE], glare=2, pan=True, gradient=0.4, noise=3),
    "red": Scene(streaks=[RED], **LIT),
    "yellow and blue": Scene(streaks=[YELLOW, Streaks("blue", 30, 14, 150, 0.25, 60)], pan=True, **LIT),
    "yellow, blue and white": Scene(
        streaks=[YELLOW, Streaks("blue", 30, 14, 150, 0.25, 60), Streaks("white", 30, 14, 210, 0.2, 90)],
        gradient=0.4, noise=3, card=True,
    ),
}  # fmt: skip
EVEN = {
    "nothing else": Scene(),
    "gradient and noise": Scene(gradient=0.6, noise=4),
    "ridges": Scene(gradient=0.5, noise=3, ridges=0.2),
    "glare": Scene(gradient=0.4, noise=2, ridges=0.15, glare=2),
    "in a pan": Scene(pan=True, gradient=0.4, noise=3),
}


@cache
def read_named(name, kind):
    return read((STREAKED | EVEN)[name], kind)


def read(scene, kind):
    return unevenness(scene.jpeg() if kind == "jpeg" else scene.levels(), PIGMENTS)


@pytest.mark.parametrize("kind", ["array", "jpeg"])
@pytest.mark.parametrize("name", STREAKED)
def test_area_angle_and_pigment_are_found(name, kind):
    """Within 20 % and 10°; the largest share goes to the pigment that has most streaks."""
    scene = STREAKED[name]
    found = read_named(name, kind)
    for limit, share in ((1, found.share_over_1), (2, found.share_over_2)):
        assert share == pytest.approx(scene.share_over(limit, found), rel=0.2)
    assert angle_between(found.angle_deg, scene.streaks[0].angle) < 10
    present = {each.pigment for each in scene.streaks}
    assert sum(found.by_pigment[each] for each in present) > 0.9
    assert max(found.by_pigment, key=found.by_pigment.get) == scene.streaks[0].pigment


@pytest.mark.parametrize("kind", ["array", "jpeg"])
@pytest.mark.parametrize("name", EVEN)
def test_an_even_melt_reads_as_even(name, kind):
    found = read_named(name, kind)
    assert found.share_over_2 < 0.01
    assert found.index < 0.45
    assert np.isnan(found.angle_deg) or found.share_over_1 < 0.02


def test_the_right_pigment_in_nine_of_ten_clear_cases():
    """Clear: 5 ΔE00 or more off, at any angle, in light that changes, with noise."""
    rng = np.random.default_rng(5)
    right = []
    for seed in range(20):
        name = list(PIGMENTS)[seed % len(PIGMENTS)]
        one = Streaks(name, rng.uniform(0, 180), rng.uniform(14, 26), rng.uniform(100, 200), 0.5)
        found = unevenness(
            Scene((270, 360), [one], noise=3, gradient=rng.uniform(0, 0.6), seed=seed).levels(), PIGMENTS
        )
        right.append(max(found.by_pigment, key=found.by_pigment.get) == name)
    assert np.mean(right) >= 0.9


def test_a_photo_of_twelve_million_pixels():
    scene = Scene((750, 1000), [Streaks("yellow", 60, 20, 150, 0.35)], gradient=0.4, noise=4, pan=True)
    found = unevenness(scene.jpeg(times=4), PIGMENTS, width_mm=250)
    assert found.picture.full_size == (4000, 3000)
    assert found.share_over_2 == pytest.approx(scene.share_over(2, found), rel=0.2)
    assert angle_between(found.angle_deg, 60) < 10
    assert found.by_pigment["yellow"] > 0.9
    assert found.narrowest_mm == pytest.approx(found.narrowest_px * 250 / 4000)
    assert "4000 × 3000" in found.why[-1]


def test_the_narrowest_streak_that_is_promised_is_seen_and_a_much_narrower_one_is_not_measured():
    narrow = unevenness(Scene(streaks=[YELLOW]).levels()).narrowest_px
    for wide, fits in ((narrow, True), (narrow / 8, False)):
        scene = Scene(streaks=[Streaks("yellow", 30, wide, 120, 0.35)], noise=2)
        found = unevenness(scene.levels())
        assert (abs(found.share_over_2 / scene.share_over(2) - 1) < 0.35) == fits


@pytest.mark.parametrize("angle", [0, 20, 45, 90, 135, 170])
def test_the_angle_is_counted_counter_clockwise_as_seen(angle):
    found = unevenness(Scene((360, 480), [Streaks("yellow", angle, 16, 90)], noise=2).levels())
    assert angle_between(found.angle_deg, angle) < 3


def test_spots_have_no_common_direction():
    y, x = np.mgrid[0:360, 0:480]
    spots = np.hypot(y % 90 - 45, x % 90 - 45) < 18
    lab = np.where(spots[..., None], MELT + 0.35 * (PIGMENTS["yellow"] - MELT), MELT)
    found = unevenness(srgb_of(lab))
    assert np.isnan(found.angle_deg)
    assert found.share_over_2 == pytest.approx(spots.mean(), rel=0.2)


def test_the_index_rises_with_the_streaks():
    found = [
        unevenness(Scene((360, 480), [Streaks("yellow", 30, 20, 120, amount)], noise=2).levels()).index
        for amount in (0.0, 0.1, 0.2, 0.4, 0.8)
    ]
    assert np.all(np.diff(found) > 0)


def test_a_turned_photo_reads_the_same():
    """EXIF orientation 6: the camera was held upright."""
    scene = Scene((480, 640), [Streaks("yellow", 20, 20, 120)], noise=2)
    image = Image.fromarray(scene.levels())
    exif = Image.Exif()
    exif[274] = 6
    out = io.BytesIO()
    image.rotate(90, expand=True).save(out, "JPEG", quality=95, exif=exif)
    for given in (out.getvalue(), Image.open(io.BytesIO(out.getvalue()))):
        found = unevenness(given)
        assert angle_between(found.angle_deg, 20) < 3
        assert found.picture.full_size == (640, 480)


def test_path_bytes_image_and_arrays_agree(tmp_path):
    scene = Scene((360, 480), [YELLOW], noise=2)
    levels = scene.levels()
    path = tmp_path / "streaks.png"
    Image.fromarray(levels).save(path)
    same = [path, path.read_bytes(), Image.open(path), levels, levels / 255]
    found = [unevenness(each) for each in same]
    assert len({(each.index, each.share_over_2, each.angle_deg) for each in found}) == 1


def test_a_mask_says_where_to_look():
    scene = Scene((360, 480), [Streaks("yellow", 90, 20, 1000, 0.5)])
    right = np.zeros((360, 480), bool)
    right[:, 100:] = True
    assert unevenness(scene.levels(), mask=right).share_over_2 == 0
    assert unevenness(scene.levels(), mask=~right).share_over_2 == pytest.approx(0.2, rel=0.2)


# ---- what may be compared ------------------------------------------------------------------


def test_without_a_white_card_photos_are_not_comparable():
    scene = Scene(streaks=[YELLOW], pan=True)
    found = unevenness(scene.levels())
    assert not found.comparable
    assert any("white card" in each for each in found.why)
    assert unevenness(scene.levels(), corrected=True).comparable


def test_with_a_card_exposure_and_cast_make_no_difference():
    plain = Scene(streaks=[YELLOW], pan=True, card=True)
    dim = Scene(streaks=[YELLOW], pan=True, card=True, light=(0.9, 0.85, 0.8))
    first, second = unevenness(plain.levels()), unevenness(dim.levels())
    assert first.comparable
    assert second.comparable
    assert second.index == pytest.approx(first.index, rel=0.05)


@pytest.mark.parametrize(
    ("light", "word"),
    [((2.1, 2.1, 2.1), "overexposed"), ((0.012, 0.012, 0.012), "dark")],
    ids=["light", "dark"],
)
def test_a_wrong_exposure_is_not_comparable(light, word):
    found = unevenness(
        Scene(streaks=[YELLOW], light=light).levels(), corrected=True, mask=np.ones((720, 960))
    )
    assert not found.comparable
    assert any(word in each for each in found.why)


def test_noise_that_hides_differences_is_said():
    found = unevenness(Scene((200, 260), noise=35).levels(), corrected=True)
    assert not found.comparable
    assert any("noisy" in each for each in found.why)


def test_pigments_that_cannot_be_told_are_named():
    deeper = np.array([(MELT[0] + 16) * 0.7 - 16, *(MELT[1:] * 0.7)])
    twins = {"melt": MELT, "deeper melt": deeper, "yellow": PIGMENTS["yellow"]}
    why = " ".join(unevenness(Scene((360, 480), [YELLOW]).levels(), twins).why)
    assert "“melt” has nearly the colour" in why
    assert "“deeper melt” differs from the melt in lightness alone" in why
    assert "“yellow”" not in why


def test_a_grey_area_is_said_to_be_one():
    """A photo of a wall is even; it is not a melt."""
    found = unevenness(np.full((90, 120, 3), (150, 148, 145), np.uint8))
    assert any("nearly grey" in each for each in found.why)


def test_streaks_like_no_pigment_go_to_none():
    found = unevenness(Scene((360, 480), [YELLOW]).levels(), {"blue": PIGMENTS["blue"]})
    assert found.by_pigment == {"blue": 0.0}
    assert any("not like any" in each for each in found.why)


# ---- what is refused ------------------------------------------------------------------------

GREEN = np.full((60, 80, 3), (40, 120, 60), np.uint8)


@pytest.mark.parametrize(
    ("image", "said"),
    [
        (np.zeros((100, 100, 3), np.uint8), "black"),
        (np.full((100, 100, 3), 255, np.uint8), "overexposed"),
        (np.zeros((100, 100), np.uint8), "no picture"),
        (np.zeros((100, 100, 4), np.uint8), "no picture"),
        (np.zeros((10, 10, 3), np.uint8), "too few"),
        (np.full((100, 100, 3), 3.0), "0 to 1"),
        (np.full((100, 100, 3), np.nan), "0 to 1"),
        (np.full((100, 100, 3), 7, np.int64), "int64"),
        (Image.new("L", (100, 100)), "grey"),
        (b"no photo", "not a photo"),
        ("missing.jpg", "cannot be opened"),
    ],
    ids=[
        "black",
        "white",
        "grey array",
        "four channels",
        "small",
        "levels",
        "nan",
        "int",
        "grey image",
        "text",
        "none",
    ],
)
def test_what_is_no_photo_is_refused(image, said):
    with pytest.raises(LabError, match=said):
        unevenness(image)


def test_a_photo_of_nothing_is_refused():
    noise = np.random.default_rng(0).integers(0, 255, (15, 20, 3), dtype=np.uint8).repeat(40, 0).repeat(40, 1)
    with pytest.raises(LabError, match="No blended area"):
        unevenness(noise)


@pytest.mark.parametrize(
    ("mask", "said"),
    [
        (np.zeros((60, 80)), "marks nothing"),
        (np.ones((80, 60)), "cover each other"),
        (np.ones(5), "one value a pixel"),
    ],
)
def test_a_wrong_mask_is_refused(mask, said):
    with pytest.raises(LabError, match=said):
        unevenness(GREEN, mask=mask)


@pytest.mark.parametrize("colour", ["red", (1, 2), (50, 0, np.nan), (50, 400, 0)])
def test_a_wrong_pigment_colour_is_refused(colour):
    with pytest.raises(LabError, match="“red oxide”"):
        unevenness(GREEN, {"red oxide": colour})


# ---- the marked picture ---------------------------------------------------------------------


def test_streaks_are_hatched_dark_beside_light():
    scene = Scene((360, 480), [YELLOW])
    levels = scene.levels()
    found = unevenness(levels)
    picture = np.asarray(marked(levels, found))
    times = picture.shape[0] // found.streaks.shape[0]
    inside = found.streaks.repeat(times, 0).repeat(times, 1)
    assert (picture[inside] == 255).all(axis=1).mean() > 0.1
    assert (picture[inside] == 0).all(axis=1).mean() > 0.1
    assert (picture[~inside] == 0).all(axis=1).mean() < 0.05


def test_another_photo_cannot_be_marked():
    found = unevenness(GREEN)
    with pytest.raises(LabError, match="not the photo"):
        marked(np.zeros((90, 80, 3), np.uint8), found)


def test_a_photo_is_worked_on_small():
    high, wide = unevenness(np.full((1500, 2000, 3), (170, 80, 70), np.uint8)).picture.size
    assert high * wide <= WORKED_ON
