"""The canonical text against the published values of RFC 8785 (June 2020)."""

import json
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.book.canonical import DEEPEST, LARGEST, canonical, parse
from labkit.errors import LabError

# RFC 8785, appendix B: bits of the IEEE 754 double, and its text
APPENDIX_B = [
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("ffefffffffffffff", "-1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"),
    ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("44b52d02c7e14af7", "1.0000000000000001e+23"),
    ("444b1ae4d6e2ef4e", "999999999999999700000"),
    ("444b1ae4d6e2ef4f", "999999999999999900000"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555554", "333333333.33333325"),
    ("41b3de4355555555", "333333333.3333333"),
    ("41b3de4355555556", "333333333.3333334"),
    ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
    ("43143ff3c1cb0959", "1424953923781206.2"),
]

JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-LARGEST, LARGEST)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_characters="\0", exclude_categories=("Cs",))),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(st.characters(exclude_characters="\0", exclude_categories=("Cs",))), inner)
    ),
    max_leaves=20,
)


def double(bits: str) -> float:
    return struct.unpack(">d", bytes.fromhex(bits))[0]


@pytest.mark.parametrize(("bits", "text"), APPENDIX_B)
def test_numbers_of_appendix_b(bits, text):
    assert canonical(double(bits)) == text


@pytest.mark.parametrize("bits", ["7fffffffffffffff", "7ff0000000000000"])
def test_appendix_b_refuses_what_is_no_number(bits):
    with pytest.raises(LabError, match="not a number that can be kept"):
        canonical(double(bits))


@pytest.mark.parametrize(("bits", "text"), APPENDIX_B)
def test_reading_gives_the_same_double_back(bits, text):
    assert float(parse(text)) == double(bits)
    assert canonical(parse(text)) == text


def test_example_of_section_3_2_2():
    source = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/",
        "literals": [None, True, False],
    }
    expected = (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )
    assert canonical(source) == expected


def test_order_of_keys_of_section_3_2_3():
    names = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    ordered = list(json.loads(canonical(dict.fromkeys(names, 0))))
    assert ordered == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


@given(JSON)
def test_what_is_written_is_read_and_written_the_same(value):
    text = canonical(value)
    assert parse(text) == value
    assert canonical(parse(text)) == text


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ({"grams": [1, float("nan")]}, r"payload\.grams\[1\]: “nan” is not a number"),
        ({"grams": {"wax": float("-inf")}}, r"payload\.grams\.wax: “-inf” is not a number"),
        ({"count": 2**53}, r"payload\.count: 9007199254740992 is too long"),
        ({"remark": "soft\0"}, r"payload\.remark: the text holds a NUL"),
        ({"remark": "\ud83d"}, r"payload\.remark: .*lone surrogate"),
        ({"so\0ft": 1}, r"payload, a name: the text holds a NUL"),
        ({1: "one"}, r"payload: names must be texts; found 1"),
        ({"when": object()}, r"payload\.when: a object cannot be kept"),
        ({"raw": b"soft"}, r"payload\.raw: a bytes cannot be kept"),
    ],
)
def test_refused_at_the_door_with_the_place(value, words):
    with pytest.raises(LabError, match=words):
        canonical(value, "payload")


def test_numbers_of_numpy_are_numbers():
    numpy = pytest.importorskip("numpy")
    assert canonical([numpy.float64(1.5), numpy.float32(0.5), numpy.int64(3)]) == "[1.5,0.5,3]"


def test_too_deep_is_refused_and_not_a_crash():
    value: list = []
    for _ in range(DEEPEST + 1):
        value = [value]
    with pytest.raises(LabError, match="levels deep"):
        canonical(value)
    with pytest.raises(LabError, match="nothing that labkit wrote"):
        parse("[" * 200_000)


@pytest.mark.parametrize("text", ["", "{", "NaN", "[Infinity]", "{'a': 1}"])
def test_no_json_is_refused(text):
    with pytest.raises(LabError, match="nothing that labkit wrote"):
        parse(text)
