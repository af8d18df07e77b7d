import pytest

from labkit.colour.cie import hex_of_lab
from labkit.colour.typed import read_colour, read_lab, read_srgb
from labkit.errors import LabError


@pytest.mark.parametrize(
    "text",
    ["41.2 28 -19", "41,2 28 -19", "41.2, 28, -19", "41.2;28;-19", "L 41,2; a 28; b −19", "L*41.2 a*28 b-19"],
)
def test_lab_is_read_however_it_is_typed(text):
    assert read_lab(text).tolist() == [41.2, 28.0, -19.0]


@pytest.mark.parametrize("text", ["#8a3b2c", "8A3B2C", "138 59 44", "138, 59, 44", "rgb(138,59,44)"])
def test_a_screen_s_colour_is_read_however_it_is_typed(text):
    assert hex_of_lab(read_srgb(text)) == "#8a3b2c"


def test_a_colour_is_a_code_or_lab():
    assert hex_of_lab(read_colour("#8a3b2c")) == "#8a3b2c"
    assert hex_of_lab(read_colour(" 8A3b2c ")) == "#8a3b2c"
    assert read_colour("50 10 10").tolist() == [50, 10, 10]


@pytest.mark.parametrize(
    ("read", "text", "said"),
    [
        (read_lab, "41 28", "holds 2 numbers"),
        (read_lab, "rosewood", "cannot be read"),
        (read_lab, "", "holds 0 numbers"),
        (read_lab, "120 0 0", "no colour"),
        (read_lab, "50 0 400", "no colour"),
        (read_srgb, "300 0 0", "from 0 to 255"),
        (read_srgb, "#8a3b", "cannot be read"),
        (read_srgb, "#8a3b2", "cannot be read"),
        (read_lab, "#8a3b2c", "cannot be read"),
        (read_lab, "8a3b2a", "cannot be read"),
        (read_colour, "#9a4b3", "cannot be read"),
        (read_colour, "41 28 19 #", "cannot be read"),
    ],
)
def test_what_is_no_colour_is_said(read, text, said):
    with pytest.raises(LabError, match=said):
        read(text)
