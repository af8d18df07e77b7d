"""The part that reads a colour from a photo, without a browser, on drawn photos of known colours."""

import io
import re
from base64 import b64decode
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
from PIL import Image

from labkit.book import TrialBook
from labkit.colour.charts import charts
from labkit.colour.cie import delta_e00, hex_of_lab
from labkit.colour.patch import read_patch
from labkit.shade.photo_part import PhotoPart, filled_in
from labkit.shade.record import Swatch
from labkit.ui.desk import Desk
from labkit.ui.form import Saved
from labkit.ui.guard import Guard
from tests.colour.scenes import (
    CHART_AT,
    STRIP_AT,
    SWATCH,
    SWATCH_AT,
    camera,
    fractions,
    jpeg,
    png,
    scene,
)

CHART, STRIP = fractions(CHART_AT).tolist(), fractions(STRIP_AT).tolist()
SWATCH_CORNERS = fractions(SWATCH_AT)[[0, 2]].tolist()


class RoomDesk(Desk):
    room = "shade"


@pytest.fixture
def book(tmp_path):
    with TrialBook(tmp_path / "lab-book.db") as opened:
        yield opened


@pytest.fixture
def taken():
    return []


@pytest.fixture
def part(book, taken):
    made = PhotoPart(RoomDesk(Guard(), book, lambda say, entry: Saved(say)), taken.append)
    yield made
    assert made._desk.guard.errors == []


@pytest.fixture(scope="module")
def photo():
    return jpeg(camera(scene()))


def send(part, photo):
    part.marks._received(None, {"photo": "swatch.jpg"}, [memoryview(photo)])


def mark(part, chart=CHART, patch=SWATCH_CORNERS):
    part.marks.marks = {"chart": chart, "patch": patch}


def is_shown(widget):
    return widget.layout.display != "none"


def read_with(part, photo, card="24-patch chart", chart=CHART):
    part.cards.value = card
    send(part, photo)
    mark(part, chart)
    return part.reading


def test_a_colour_is_read_shown_and_handed_on(part, book, taken, photo):
    reading = read_with(part, photo)
    assert delta_e00(reading.lab, SWATCH) < 3
    shown = part.result.value
    assert f"background:{reading.hex}" in shown
    assert f"L*\u00a0{reading.lab[0]:.1f}\u00a0±\u00a0{reading.lab_se[0]:.1f}" in shown
    assert f"off by ΔE00 {reading.residual_de00:.1f} on average" in shown
    assert "24-patch chart, root polynomial of degree 2" in shown
    assert part.marks.say == f"The swatch is read: {reading.hex}."
    part.use.click()
    (filled,) = taken
    assert filled["read"] == "photo"
    assert filled["read_by"] == "photo, 24-patch chart"
    assert [float(each) for each in filled["colour"].split()] == pytest.approx(reading.lab, abs=0.006)
    assert [float(each) for each in filled["lab_sd"].split()] == pytest.approx(reading.lab_se, abs=0.006)
    assert book.photo_path(filled["photo"]).is_file()


def test_what_is_handed_on_is_what_the_kept_photo_reads(part, book, taken, photo):
    read_with(part, photo)
    part.use.click()
    again = read_patch(book.photo_path(taken[0]["photo"]), "24-patch chart", CHART, SWATCH_CORNERS)
    np.testing.assert_allclose(part.reading.lab, again.lab)
    assert part.reading.hex == again.hex == hex_of_lab(again.lab)


def test_a_photo_turned_by_its_tag_is_marked_upright(part, photo):
    """Fractions are of the kept photo, which was turned: corners on the upright picture fit it."""
    upright = read_with(part, photo)
    exif = Image.Exif()
    exif[0x0112] = 6
    stored = np.ascontiguousarray(camera(scene()).transpose(1, 0, 2)[::-1])
    turned = read_with(part, jpeg(stored, exif=exif))
    assert part.marks.size == [1200, 900]
    assert delta_e00(turned.lab, upright.lab) < 1


def test_the_preview_outlines_what_is_read(part, photo):
    read_with(part, photo)
    ((alt, data),) = re.findall(r'alt="([^"]+)" src="data:image/jpeg;base64,([^"]+)"', part.result.value)
    assert "of the swatch outlined" in alt
    drawn = np.asarray(Image.open(io.BytesIO(b64decode(data))), float)
    plain = np.asarray(Image.open(io.BytesIO(part.marks.picture)), float)
    changed = np.abs(drawn - plain).max(axis=2) > 60
    x, y = np.rint(np.array(CHART[1]) * [1200, 900]).astype(int)
    assert changed[y - 10 : y + 10, x - 10 : x + 10].any()
    assert not changed[700:, :].any()


@pytest.mark.parametrize("card", list(charts()))
def test_each_card_is_read_and_says_by_which(part, taken, card):
    at, corners = (CHART_AT, CHART) if card == "24-patch chart" else (STRIP_AT, STRIP)
    reading = read_with(part, jpeg(camera(scene(card, at=at))), card, corners)
    part.use.click()
    assert taken[0]["read_by"] in get_args(Swatch.model_fields["read_by"].annotation)
    assert taken[0]["read_by"] in get_args(Swatch.model_fields["read_by"].annotation)
    assert card in taken[0]["read_by"]
    for warning in reading.warnings:
        assert warning.replace("'", "&#x27;") in part.result.value
    assert ("off by ΔE00" in part.result.value) == (card != "grey card")


def test_what_a_card_does_not_allow_is_said(part):
    read_with(part, jpeg(camera(scene("grey card"))), "grey card", STRIP)
    assert "white and exposure only" in part.result.value
    read_with(part, jpeg(camera(scene("6-patch card"))), "6-patch card", STRIP)
    assert "allow only a simple correction" in part.result.value


def test_what_the_light_does_not_allow_is_said(part):
    reading = read_with(part, jpeg(camera(scene(), slope=(0.4, 0.0))))
    assert any("light changes" in each for each in reading.warnings)
    assert "The light changes by about" in part.result.value
    assert "was found in it" not in part.result.value


def test_hot_melt_is_never_swatched_on_skin(part):
    assert "Never swatch hot melt on skin or lips." in part.children[0].value


# What goes wrong


BAD = {
    "no image": (b"not a photo at all", "not a photo that can be read"),
    "HEIC": (bytes(4) + b"ftypheic" + bytes(40), "HEIC, which cannot be read here. Send it as a JPEG"),
    "grey": (jpeg(np.repeat(camera(scene())[..., 1:2], 3, axis=2)), "This photo is grey"),
    "cut short": (jpeg(camera(scene()))[:20_000], "damaged or cut short"),
    "see-through": (png(np.full((60, 80, 4), 120, np.uint8)), "see-through"),
}


@pytest.mark.parametrize("kind", BAD)
def test_a_bad_photo_leaves_what_was_there_and_says_why(part, photo, book, kind):
    content, why = BAD[kind]
    reading, result = read_with(part, photo), part.result.value
    marks, picture = part.marks.marks, part.marks.picture
    kept = sorted(book.photo_path(part._name).parent.parent.rglob("*.*"))
    send(part, content)
    assert why in part.marks.say
    assert "The photo from before is still here" in part.marks.say
    assert part.marks.wrong
    assert (part.marks.marks, part.marks.picture) == (marks, picture)
    assert (part.reading, part.result.value) == (reading, result)
    assert sorted(book.photo_path(part._name).parent.parent.rglob("*.*")) == kept


def test_corners_on_nothing_that_looks_like_the_chart_are_refused_and_stay(part, photo):
    send(part, photo)
    wrong = [[0.75, 0.65], [0.95, 0.65], [0.95, 0.95], [0.75, 0.95]]
    mark(part, wrong)
    assert "does not look like the 24-patch chart" in part.marks.say
    assert part.marks.wrong
    assert part.marks.marks["chart"] == wrong
    assert part.reading is None
    assert not is_shown(part.use)


@pytest.mark.parametrize(
    ("chart", "why"),
    [
        ([[-0.1, 0.1], *CHART[1:]], "lies outside the photo"),
        ([CHART[0], CHART[0], *CHART[2:]], "too close together"),
        ([CHART[1], CHART[0], *CHART[2:]], "seem to be swapped"),
        ([[None, 0.1], *CHART[1:]], "two numbers: across and down"),
    ],
)
def test_corners_that_cannot_be_are_refused_in_words(part, photo, chart, why):
    send(part, photo)
    mark(part, chart)
    assert why in part.marks.say
    assert part.reading is None


def test_a_reading_goes_when_its_marks_are_taken_away(part, photo):
    read_with(part, photo)
    assert is_shown(part.use)
    part.marks.marks = {"chart": CHART}
    assert (part.reading, part.result.value) == (None, "")
    assert not is_shown(part.use)


# The card's own values


def own_table(lab):
    return "L;a;b\n" + "\n".join(";".join(f"{each:.3f}" for each in row) for row in lab)


def for_d50(lab):
    """The way from D65 to D50 by colour-science's Bradford transform."""
    import colour

    d65, d50 = (
        colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][name] for name in ("D65", "D50")
    )
    xyz = colour.Lab_to_XYZ(lab, d65)
    adapted = colour.adaptation.chromatic_adaptation_VonKries(
        xyz, colour.xy_to_XYZ(d65), colour.xy_to_XYZ(d50), transform="Bradford"
    )
    return colour.XYZ_to_Lab(adapted, d50)


def test_the_cards_own_values_are_taken_for_their_light(part, photo):
    """A chart whose true colours are its published ones, given as its maker would print them, for D50."""
    published = read_with(part, photo).lab
    part.own.value = own_table(for_d50(charts()["24-patch chart"].lab))
    assert delta_e00(part.reading.lab, published) < 0.02
    part.light.value = "D65"
    assert delta_e00(part.reading.lab, published) > 0.4


def test_own_values_that_do_not_fit_are_refused_and_mended(part, photo):
    read_with(part, photo)
    part.own.value = own_table(charts()["6-patch card"].lab)
    assert "has 24 patches, and the table has 6 rows" in part.marks.say
    assert part.reading is None
    part.own.value = ""
    assert part.reading is not None
    assert not part.marks.wrong


def test_another_card_reads_the_same_marks_again(part, photo):
    read_with(part, photo)
    part.cards.value = "grey card"
    assert part.marks.asked[0]["label"] == "the grey card"
    assert part.marks.marks == {"chart": CHART, "patch": SWATCH_CORNERS}
    assert part.reading.corrected_by.startswith("grey card")
    part.cards.value = "24-patch chart"
    assert part.reading.corrected_by.startswith("24-patch chart")


# What it is used for


def test_the_button_and_what_is_read_are_called_as_it_is_used(book):
    desk = RoomDesk(Guard(), book, lambda say, entry: Saved(say))
    part = PhotoPart(desk, lambda read: None, "Want this colour", "the wanted colour")
    assert part.use.description == "Want this colour"
    assert part.marks.asked[1]["label"] == "the wanted colour"
    send(part, jpeg(camera(scene())))
    mark(part)
    assert "The wanted colour is" in part.result.value
    assert "close beside the wanted colour" in part.children[0].value


def test_a_fault_in_what_takes_the_colour_is_shown(book, photo):
    desk = RoomDesk(Guard(), book, lambda say, entry: Saved(say))
    part = PhotoPart(desk, lambda read: {}["gone"])
    read_with(part, photo)
    part.use.click()
    assert "KeyError" in desk.guard.errors[0]
    assert part.reading is not None


def test_a_standard_error_is_never_nothing(photo):
    reading = read_patch(photo, "24-patch chart", CHART, SWATCH_CORNERS)
    sure = replace(reading, lab=np.array([40.0, -0.001, 2.0]), lab_se=np.array([0.0, 0.001, 0.5]))
    filled = filled_in(sure, "x", "grey card")
    assert filled["lab_sd"] == "0.01 0.01 0.50"
    assert filled["colour"] == "40.00 0.00 2.00"
