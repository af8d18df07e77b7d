"""Corners on a photo without a browser: what the browser sends is taken, or refused in words."""

import pytest

from labkit.errors import LabError
from labkit.ui.guard import Guard
from labkit.ui.photo_marks import Asked, PhotoMarks, Shown, read_corner

SIZE = (400, 300)
ASKED = [
    Asked("chart", "the chart", ("top left", "top right", "bottom right", "bottom left")),
    Asked("patch", "the swatch", ("one corner", "the corner opposite")),
]
CHART = [[0.1, 0.1], [0.5, 0.1], [0.5, 0.4], [0.1, 0.4]]
PATCH = [[0.6, 0.1], [0.8, 0.3]]
TYPED_CHART = ["40 30", "200 30", "200 120", "40 120"]


class Reader:
    """Takes photos that begin with "photo"; reads every marks but those whose patch begins at 0, 0."""

    def __init__(self):
        self.photos, self.read = [], []

    def photo(self, photo):
        if photo == b"broken":
            raise ZeroDivisionError("a fault of the lab")
        if not photo.startswith(b"photo"):
            raise LabError("That is no photo.")
        self.photos.append(photo)
        return Shown(b"picture of " + photo, SIZE)

    def marks(self, marks):
        self.read.append(marks)
        if marks is None:
            return ""
        if marks["patch"][0] == [0, 0]:
            raise LabError("The swatch is too dark.")
        if marks["patch"][0] == [1, 1]:
            raise ZeroDivisionError("a fault of the lab")
        return f"Read at {marks['patch'][0]}."


@pytest.fixture
def reader():
    return Reader()


@pytest.fixture
def marks(reader):
    made = PhotoMarks(Guard(), reader.photo, reader.marks, ASKED)
    made.said = []
    made.observe(lambda change: made.said.append(change["new"]), "say")
    return made


@pytest.fixture
def shown(marks):
    send(marks, photo=b"photo 1")
    return marks


def send(marks, photo=None, typed=None):
    """Send what the browser sends."""
    if photo is not None:
        marks._received(None, {"photo": "swatch.jpg"}, [memoryview(photo)])
    else:
        marks._received(None, {"typed": typed}, [])


def test_what_is_asked_is_plain_data_for_the_browser(marks):
    assert marks.asked == [
        {"name": each.name, "label": each.label, "corners": list(each.corners)} for each in ASKED
    ]


def test_a_photo_is_shown_with_its_size_and_without_marks(shown, reader):
    assert shown.picture == b"picture of photo 1"
    assert shown.size == list(SIZE)
    assert shown.marks == {}
    assert (shown.say, shown.wrong) == ("The photo is kept.", False)
    assert reader.photos == [b"photo 1"]


def test_marks_are_read_once_all_are_there_and_each_time_one_moves(shown, reader):
    shown.marks = {"chart": CHART[:3]}
    shown.marks = {"chart": CHART}
    assert not any(reader.read)
    shown.marks = {"chart": CHART, "patch": PATCH}
    assert reader.read[-1] == {"chart": CHART, "patch": PATCH}
    assert shown.say == "Read at [0.6, 0.1]."
    shown.marks = {"chart": CHART, "patch": [[0.65, 0.1], PATCH[1]]}
    assert shown.say == "Read at [0.65, 0.1]."


def test_that_it_reads_is_said_before_the_answer(shown):
    shown.marks = {"chart": CHART, "patch": PATCH}
    assert shown.said[-2:] == ["Reading the colour…", "Read at [0.6, 0.1]."]


def test_a_group_started_again_takes_the_reading_away(shown, reader):
    shown.marks = {"chart": CHART, "patch": PATCH}
    shown.marks = {"chart": CHART}
    assert reader.read[-1] is None
    assert (shown.say, shown.wrong) == ("", False)


def test_a_photo_that_cannot_be_read_leaves_what_was_marked(shown, reader):
    shown.marks = {"chart": CHART}
    send(shown, photo=b"text")
    assert shown.say == "That is no photo. The photo from before is still here, with its marks."
    assert shown.wrong
    assert shown.marks == {"chart": CHART}
    assert shown.picture == b"picture of photo 1"
    assert shown._guard.errors == []


def test_a_first_photo_that_cannot_be_read_is_refused_in_words(marks):
    send(marks, photo=b"text")
    assert (marks.say, marks.wrong, marks.picture) == ("That is no photo.", True, b"")


def test_another_photo_begins_without_marks(shown, reader):
    shown.marks = {"chart": CHART, "patch": PATCH}
    send(shown, photo=b"photo 2")
    assert shown.marks == {}
    assert reader.read[-1] is None
    assert (shown.say, shown.wrong) == ("The photo is kept.", False)


def test_marks_that_cannot_be_read_stay_and_it_is_said_why(shown):
    refused = {"chart": CHART, "patch": [[0, 0], [0.1, 0.1]]}
    shown.marks = refused
    assert (shown.say, shown.wrong) == ("The swatch is too dark. The marks are still here.", True)
    assert shown.marks == refused
    shown.marks = {"chart": CHART, "patch": PATCH}
    assert not shown.wrong


@pytest.mark.parametrize("how", ["photo", "marks"])
def test_a_fault_of_the_lab_is_logged_and_said(shown, caplog, how):
    if how == "photo":
        send(shown, photo=b"broken")
    else:
        shown.marks = {"chart": CHART, "patch": [[1, 1], [0, 0]]}
    assert shown.say.startswith("Not read: something went wrong in the lab.")
    assert shown.wrong
    assert "ZeroDivisionError" in shown._guard.errors[0]
    assert "ZeroDivisionError" in caplog.text


def test_what_is_asked_can_change_while_marks_stay(shown, reader):
    shown.marks = {"chart": CHART, "patch": PATCH}
    shown.ask([Asked("chart", "the card", ("a", "b", "c", "d")), ASKED[1]])
    assert shown.marks == {"chart": CHART, "patch": PATCH}
    assert shown.complete
    shown.ask([Asked("chart", "the line", ("a", "b")), ASKED[1]])
    assert not shown.complete


# Typed


def test_typed_corners_are_marked_in_the_photos_fractions(shown, reader):
    send(shown, typed={"chart": TYPED_CHART, "patch": ["60 % 10 %", "80% 30%"]})
    assert shown.marks == {"chart": CHART, "patch": PATCH}
    assert reader.read[-1] == shown.marks
    assert shown.faults == {}


def test_a_group_left_empty_is_not_marked(shown):
    send(shown, typed={"chart": TYPED_CHART, "patch": ["", " "]})
    assert shown.marks == {"chart": CHART}
    assert not shown.wrong


def test_the_same_corners_typed_again_are_answered(shown):
    """The browser waits for an answer, and nothing that changes would be none."""
    send(shown, typed={"chart": TYPED_CHART, "patch": ["60 % 10 %", "80 % 30 %"]})
    before = len(shown.said)
    send(shown, typed={"chart": TYPED_CHART, "patch": ["60 % 10 %", "80 % 30 %"]})
    assert shown.said[before:][-1] == "Read at [0.6, 0.1]."
    assert len(shown.said) > before + 1


def test_a_typed_corner_that_cannot_be_read_moves_none_and_is_named(shown):
    shown.marks = {"chart": CHART}
    send(shown, typed={"chart": ["40 30", "200", "200 500", ""], "patch": ["", ""]})
    assert set(shown.faults) == {"chart/1", "chart/2", "chart/3"}
    assert "is no corner" in shown.faults["chart/1"]
    assert "outside the photo (400 × 300 pixels)" in shown.faults["chart/2"]
    assert shown.marks == {"chart": CHART}
    assert shown.wrong
    send(shown, typed={"chart": TYPED_CHART, "patch": ["", ""]})
    assert shown.faults == {}
    assert not shown.wrong


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("0 0", [0, 0]),
        ("400 300", [1, 1]),
        ("100, 75", [0.25, 0.25]),
        ("100;75", [0.25, 0.25]),
        ("100,5 75", [0.25125, 0.25]),
        ("25 % 10,5 %", [0.25, 0.105]),
        ("100%, 0%", [1, 0]),
        ("  40\t30 ", [0.1, 0.1]),
    ],
)
def test_corners_are_read_as_they_are_typed(text, found):
    assert read_corner(text, SIZE) == pytest.approx(found)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "is no corner"),
        ("100", "is no corner"),
        ("100,75", "is no corner"),
        ("100 75 3", "is no corner"),
        ("10 % 75", "is no corner"),
        ("left top", "across: “left” is no number"),
        ("100 top", "down: “top” is no number"),
        ("-1 20", "lies outside the photo"),
        ("401 20", "400 × 300 pixels"),
        ("10 % 101 %", "0 % to 100 %"),
        ("nan 10", "no number"),
        ("1,234 20", "could be"),
    ],
)
def test_what_is_no_corner_is_refused(text, why):
    with pytest.raises(LabError, match=why):
        read_corner(text, SIZE)
