"""A spectral reading is read as it is, or refused with the place and the way out."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.colour.cie import WAVELENGTHS
from labkit.colour.spectrum_file import read_spectrum
from labkit.errors import LabError
from tests.colour.cameras import chart_reflectance, nanometres

NM = np.arange(380, 731, 10)


def table(nm=NM, values=None, mark=",", comma=False, head=""):
    values = np.linspace(0.05, 0.6, len(nm)) if values is None else values
    rows = [f"{a:g}{mark}{b:.6f}" for a, b in zip(nm, values, strict=True)]
    text = "\n".join(rows)
    return head + (text.replace(".", ",") if comma else text)


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("head", ["", "nm{0}reflectance\n", "Wavelength (nm){0}R\n"])
def test_columns_and_header_may_be_of_any_kind(mark, head):
    spectrum = read_spectrum(table(mark=mark, head=head.format(mark)))
    np.testing.assert_allclose(spectrum.reflectance, np.linspace(0.05, 0.6, 36), atol=1e-6)
    assert spectrum.remarks == ()


@pytest.mark.parametrize("mark", [";", "\t"])
def test_decimal_commas_are_read(mark):
    wanted = np.linspace(0.05, 0.6, 36)
    np.testing.assert_allclose(read_spectrum(table(mark=mark, comma=True)).reflectance, wanted, atol=1e-6)


def test_bytes_of_any_office_are_read():
    for content in (table().encode(), b"\xef\xbb\xbf" + table().encode(), table().encode("utf-16")):
        assert read_spectrum(content).reflectance[0] == pytest.approx(0.05)
    for end in ("\r\n", "\r", "\n\n"):
        assert read_spectrum(table().replace("\n", end) + end).reflectance[0] == pytest.approx(0.05)


@given(st.lists(st.floats(0, 1), min_size=36, max_size=36))
def test_values_on_the_steps_come_back(values):
    np.testing.assert_allclose(read_spectrum(table(values=values)).reflectance, values, atol=1e-6)


@given(st.lists(st.floats(0, 1), min_size=18, max_size=18))
def test_nothing_between_the_rows_leaves_their_range(values):
    found = read_spectrum(table(np.arange(380, 731, 20), values)).reflectance
    inside = found[1:-1:2]
    assert (inside >= np.minimum(found[:-2:2], found[2::2]) - 1e-9).all()
    assert (inside <= np.maximum(found[:-2:2], found[2::2]) + 1e-9).all()


def test_steps_of_20_nm_are_filled_in_near_the_measured_truth():
    """Measured reflectances of the chart's patches (colour-science's data), every second value left out."""
    for measured in chart_reflectance():
        found = read_spectrum(table(nanometres()[::2], measured[::2])).reflectance
        inside = np.isin(WAVELENGTHS, nanometres())
        assert np.abs(found[inside] - measured).max() < 0.02


def test_steps_of_one_nm_are_taken_at_the_tens():
    nm = np.arange(360, 751)
    values = 0.3 + 0.2 * np.sin(nm / 40)
    np.testing.assert_allclose(read_spectrum(table(nm, values)).reflectance, values[20:371:10], atol=1e-6)


@pytest.mark.parametrize(
    ("nm", "said"),
    [
        (np.arange(400, 731, 10), "below 400 nm: the end"),
        (np.arange(380, 701, 10), "above 700 nm: the end"),
        (np.arange(400, 701, 20), "below 400 nm or above 700 nm"),
    ],
)
def test_missing_ends_are_held_and_said(nm, said):
    spectrum = read_spectrum(table(nm))
    assert said in spectrum.remarks[0]
    wanted = np.interp(WAVELENGTHS, nm, np.linspace(0.05, 0.6, len(nm)))
    np.testing.assert_allclose(spectrum.reflectance, wanted, atol=1e-6)


def test_percent_is_recognised_and_read_when_it_is_said():
    in_percent = table(values=np.linspace(5, 60, 36))
    with pytest.raises(LabError, match=r"at 730 nm is 60: the values are in %.*“nm, %” as the first line"):
        read_spectrum(in_percent)
    np.testing.assert_allclose(
        read_spectrum(in_percent, percent=True).reflectance, np.linspace(0.05, 0.6, 36)
    )


def test_a_header_or_a_sign_behind_every_value_says_percent():
    values = np.linspace(5, 60, 36)
    headed = table(values=values, head="nm,R %\n")
    signed = "\n".join(f"{row}%" for row in table(values=values).splitlines())
    for text in (headed, signed):
        np.testing.assert_allclose(read_spectrum(text).reflectance, values / 100, atol=1e-6)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "holds no readings"),
        ("nm;R\n", "holds no readings"),
        (b"PK\x03\x04more", "spreadsheet"),
        (b"\x89HDF\0\0", "no text file"),
        (table(head="nm,R %\n"), "header says %, but the highest value is 0.6"),
        (table().replace("0.050000", "0.05 %"), "Row 1 says “0.05 %”"),
        (table(values=np.linspace(0.1, 1.2, 36)), r"at 730 nm is 120 %, more than all the light"),
        (table(values=np.linspace(-0.1, 0.9, 36)), "at 380 nm is -0.1; it cannot be below 0"),
        (table(np.delete(NM, [10, 11])), "missing between 470 and 500 nm"),
        (table(np.arange(410, 731, 10)), "covers 410 to 730 nm"),
        (table(np.arange(380, 691, 10)), "covers 380 to 690 nm"),
        (table(np.insert(NM, 5, 420)), "420 nm is there twice"),
        (table(NM[::-1]), "720 nm comes after 730 nm"),
        (table(NM[[0, 2, 1, *range(3, 36)]]), "390 nm comes after 400 nm"),
        (table(NM / 1000), "µm"),
        (table(comma=True), "Row 1 has 3 columns.*semicolons"),
        (table(mark=";").replace("0.050000", "dark"), "Row 1: “dark” is no number"),
        (table(mark=";").replace("0.050000", "nan"), "Row 1: “nan” is no number"),
        (table(mark=";").replace("0.050000", ""), "Row 1 has 2 columns|Row 1: “” is no number"),
        (table(head="nm,R\n").replace("0.050000", "x"), "Row 2: “x” is no number"),
        ('nm,"' + 200_000 * "x", "cannot be read as a table"),
        ("550", "Row 1 has 1 columns"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(content, said):
    with pytest.raises(LabError, match=said):
        read_spectrum(content)
