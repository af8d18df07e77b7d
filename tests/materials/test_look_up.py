"""A colourant is found by its number or its name, however it is typed; a shade name is refused."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from labkit.errors import LabError
from labkit.materials import colourants, find

NAMES = [each.name for each in colourants()]


def answer(text: str) -> str:
    """Return the name of what is found, else what is said instead."""
    try:
        return find(text).name
    except LabError as error:
        return str(error)


@pytest.mark.parametrize("name", NAMES)
def test_each_is_found_by_its_own_name(name):
    assert find(name).name == name


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("CI 77007", "ultramarine"),
        ("77007", "ultramarine"),
        ("C.I. 77 007", "ultramarine"),
        ("ci77007", "ultramarine"),
        ("Colour Index No. 77007", "ultramarine"),
        ("Ultramarine Violet", "ultramarine"),  # blue, violet and pink share the number
        ("ultramarine pink", "ultramarine"),
        ("57455-37-5", "ultramarine"),
        ("CAS 57455‑37‑5", "ultramarine"),  # with the dash that word processors put
        ("CI 77891", "titanium dioxide"),  # rutile and anatase share the number
        ("1317-70-0", "titanium dioxide (anatase)"),
        ("rutile", "titanium dioxide"),
        ("CI 15850", "D&C Red No. 6"),
        ("CI 15850:1", "D&C Red No. 7"),
        ("15850 : 1", "D&C Red No. 7"),
        ("red 7 lake", "D&C Red No. 7"),
        ("D&C Red #7", "D&C Red No. 7"),
        ("FD & C Blue No.1", "FD&C Blue No. 1"),
        ("Blue 1 Aluminum Lake", "FD&C Blue No. 1 lake"),
        ("tartrazine", "FD&C Yellow No. 5"),
        ("Aluminum Powder", "aluminium powder"),
        ("Prussian Blue", "ferric ferrocyanide"),
        ("Copper", "copper powder"),
        ("interference pigment", "interference mica"),
        ("CI 77019", "mica"),
    ],
)
def test_found_however_it_is_typed(typed, name):
    assert find(typed).name == name


@pytest.mark.parametrize("each", colourants(), ids=lambda each: each.name)
def test_a_number_finds_it_or_what_it_is_a_form_of_or_asks(each):
    for number in filter(None, (each.ci, each.cas)):
        said = answer(number)
        assert said in (each.name, each.form_of) or (f"“{each.name}”" in said and "Write which one" in said)


@given(
    st.sampled_from(NAMES), st.randoms(use_true_random=False), st.sampled_from([" ", "  ", "\t", "\u00a0"])
)
def test_case_and_spaces_do_not_matter(name, random, space):
    typed = "".join(random.choice((sign.upper(), sign.lower())) for sign in name).replace(" ", space)
    assert find(f"{space}{typed}{space}").name == name


@given(
    st.sampled_from([each for each in colourants() if each.ci]),
    st.sampled_from(["CI ", "ci", "C.I. ", "c.i.", "C. I. ", "CI: ", "CI no. ", "", "#"]),
)
def test_any_way_of_writing_ci_is_read_alike(each, prefix):
    typed = prefix + each.ci.removeprefix("CI ")
    assert answer(typed).replace(typed, "") == answer(each.ci).replace(each.ci, "")


@given(st.text(max_size=60))
def test_any_text_is_found_or_refused_in_words(text):
    said = answer(text)
    assert said in NAMES or "CI number" in said or "Write which one" in said


@given(st.from_regex(r"[0-9]{5}", fullmatch=True))
def test_an_unknown_number_is_never_guessed(number):
    assume(number not in " ".join([*(each.ci for each in colourants()), "45370"]))
    with pytest.raises(LabError, match="not among the colourants"):
        find(f"CI {number}")


@pytest.mark.parametrize("typed", ["ruby shimmer", "Red", "rose gold", "pink mica", "black pigment", "Nude"])
def test_a_shade_name_asks_for_the_number(typed):
    with pytest.raises(LabError, match=r"shade or trade name.*CI number"):
        find(typed)


@pytest.mark.parametrize(
    ("typed", "near"),
    [
        ("red iron oxyde", "red iron oxide"),
        ("ultramarin", "ultramarine"),
        ("manganes violet", "manganese violet"),
        ("titanium dioxyde", "titanium dioxide"),
        ("carmin", "carmine"),
        ("CI 77490", "CI 77491"),
    ],
)
def test_a_misspelling_is_asked_not_guessed(typed, near):
    with pytest.raises(LabError, match=f"Did you mean.*“{near}”"):
        find(typed)


def test_a_trade_name_gets_no_near_names_that_mislead():
    with pytest.raises(LabError) as refused:
        find("Moonstruck 12")
    assert "Did you mean" not in str(refused.value)
    assert "CI number on the supplier's sheet" in str(refused.value)


@pytest.mark.parametrize(
    ("typed", "could"),
    [
        ("Iron Oxides", ["red iron oxide", "yellow iron oxide", "black iron oxide"]),
        ("CI 77400", ["bronze powder", "copper powder"]),
        ("CI 45380:3", ["D&C Red No. 21 lake", "D&C Red No. 22 lake"]),
    ],
)
def test_two_near_answers_are_asked(typed, could):
    with pytest.raises(LabError, match=" or ".join(f"“{name}”" for name in could)):
        find(typed)


@pytest.mark.parametrize("typed", ["", "   ", "—", "&"])
def test_nothing_typed_says_what_to_type(typed):
    with pytest.raises(LabError, match="No colourant is named"):
        find(typed)


def test_a_very_long_text_is_refused_at_once():
    with pytest.raises(LabError, match="too long"):
        find("red iron oxide " * 1000)
