"""The drip, the answer to it in grams, and the press that logs an addition; without a browser."""

import numpy as np
import pytest
import uuid_utils
from batch.made import ago, weighed
from presses import press, standing_in

from labkit.batch.handed import HandedColour, HandedHardness
from labkit.batch.pot import Pot
from labkit.batch.pot_answer import answer
from labkit.batch.pot_form import NOT_TOLD
from labkit.batch.pot_part import EMPTY, NO_DRIP, STALE, PotPart
from labkit.batch.record import Added, Drip, Happened
from labkit.batch.trial import BatchTrial, start_batch
from labkit.day import colour_of
from labkit.ui.desk import Desk
from labkit.ui.form import Saved
from labkit.ui.guard import Guard

LADDER = ("smears", "soft", "just right", "firm", "draggy")


class BatchDesk(Desk):
    room = "batch"


def stiff(shares):
    """Two words harder for each 10 % of wax; oil softens."""
    return 20.0 * shares.get("beeswax", 0.0) - 2.0 * shares["castor oil"], 0.3


def hardness_of(book, lines, maker=None):
    return HandedHardness(stiff, "From an invented trial.", LADDER)


@pytest.fixture
def part(book):
    guard = Guard()

    def saved(say, entry):
        made.offer(BatchTrial(book, entry))
        return Saved(say, made.show)

    made = PotPart(BatchDesk(guard, book, saved), hardness_of, colour_of)
    made.offer(weighed(book))
    made.show()
    yield made
    assert guard.errors == []


def shown(part):
    """The forms of additions that are offered, by their titles."""
    if part.offered.layout.display == "none":
        return {}
    return {form.title: form for form in part.adding if form.layout.display != "none"}


def test_before_the_first_drip_nothing_is_said_to_be_added(part):
    assert NO_DRIP in part.told.value
    assert shown(part) == {}


def test_a_soft_drip_is_answered_with_the_least_that_hardens(part):
    answer = press(part.form, drip__felt="too soft", drip__colour="right")
    assert answer["saved"]
    (drip,) = part.trial.of(Drip)
    assert (drip.felt, drip.colour) == ("too soft", "right")
    told = Pot(part.trial.question.grams)
    (title,) = shown(part)
    grams, name = title.split(" g ")
    assert name == "beeswax"
    after = stiff(told.add("beeswax", float(grams)).shares)[0]
    assert after - stiff(told.shares)[0] == pytest.approx(0.5, abs=0.05)
    assert f"Add {grams} g of beeswax to make it harder; stir, and drip again." in part.told.value
    assert "taken as half a word" in part.told.value
    assert "From an invented trial." in part.told.value
    assert "all pigment 8.0 → " in part.told.value
    assert "colour as before" in part.told.value
    assert "castor oil 55.0 → " in part.told.value


def test_one_press_logs_the_addition_and_the_next_drip_is_asked_for(part):
    press(part.form, drip__felt="too soft")
    (form,) = shown(part).values()
    before = part.trial.pot()
    id = str(uuid_utils.uuid7())
    assert press(form, id=id)["saved"]
    added = part.trial.of(Added)[-1]
    assert added.ingredient == "beeswax"
    assert part.trial.pot().total_g == pytest.approx(before.total_g + added.grams)
    assert STALE in part.told.value
    assert shown(part) == {}
    press(form, id=id)
    assert len(part.trial.of(Added)) == len(before.grams) + 1


def test_what_was_really_weighed_counts(part):
    press(part.form, drip__felt="too soft")
    (form,) = shown(part).values()
    values = standing_in(form)
    values["parts"][0] |= {"grams": "1,7", "lot": "B12"}
    assert press(form, values)["saved"]
    added = part.trial.of(Added)[-1]
    assert (added.grams, added.lot) == (1.7, "B12")


@pytest.mark.parametrize(
    ("typed", "words"), [("", "how many g"), ("a lot", "no number"), ("-2", "cannot be")]
)
def test_grams_that_cannot_be_are_said_at_their_place(part, typed, words):
    press(part.form, drip__felt="too soft")
    (form,) = shown(part).values()
    values = standing_in(form)
    values["parts"][0]["grams"] = typed
    count = len(part.trial.of(Added))
    assert words in press(form, values)["faults"]["parts/beeswax/grams"]
    assert len(BatchTrial(part.trial.book, part.trial.entry).of(Added)) == count


def test_a_dark_drip_is_answered_with_white_or_base_and_colours(part):
    press(part.form, drip__felt="right", drip__colour="too dark")
    titles = list(shown(part))
    assert any("titanium dioxide" in title for title in titles)
    assert "estimate, off by 4 to 10 ΔE00" in part.told.value
    assert part.told.value.count('role="img"') == 2 * len(titles)
    assert "“Too dark” is taken as" in part.told.value
    assert " to make it lighter; stir" in part.told.value


def test_more_base_is_logged_ingredient_by_ingredient_and_once(book):
    def pale(book, maker=None):
        def colour(loads):
            return np.array([60.0 - 3.0 * sum(loads.values()), 20.0, 15.0]), np.full(3, 0.2)

        known = ("red iron oxide", "titanium dioxide")
        return HandedColour(colour, lambda names: tuple(each for each in names if each in known), known,
                            lambda names: "Invented.")  # fmt: skip

    def saved(say, entry):
        made.offer(BatchTrial(book, entry))
        return Saved(say, made.show)

    made = PotPart(BatchDesk(Guard(), book, saved), None, pale)
    made.offer(weighed(book))
    press(made.form, drip__colour="too dark")
    (form,) = shown(made).values()
    before, id = made.trial.pot(), str(uuid_utils.uuid7())
    assert press(form, id=id)["saved"]
    assert press(form, id=id)["saved"]
    new = made.trial.of(Added)[len(before.grams) :]
    assert {each.ingredient for each in new} == {"castor oil", "shea butter", "beeswax"}
    after = made.trial.pot()
    assert after.percent["castor oil"] / after.percent["beeswax"] == pytest.approx(55.0 / 15.0, rel=0.01)
    assert after.grams["red iron oxide"] == before.grams["red iron oxide"]


def test_half_a_press_is_finished_when_it_comes_again(book):
    """The lab was killed after the first ingredient of two was written."""

    def saved(say, entry):
        return Saved(say)

    part, batch = PotPart(BatchDesk(Guard(), book, saved)), weighed(book)
    id = str(uuid_utils.uuid7())
    from labkit.batch.pot_part import _ids
    from labkit.ui.form import Press

    at, rows = (
        ago(0.01).isoformat(),
        [{"_row": "castor oil", "grams": "2"}, {"_row": "beeswax", "grams": "1"}],
    )
    batch.log(Added, _ids(id, 2)[0], ingredient="castor oil", grams=2.0, lot="", remark="", added_at=at)
    part.adding[0].press(
        Press(id, at, f"{batch.entry}/x", {"parts": rows, "more": [{"added_at": "", "remark": ""}]})
    )
    pot = BatchTrial(book, batch.entry).pot()
    assert (pot.grams["castor oil"], pot.grams["beeswax"]) == (57.0, 16.0)


def test_pigments_at_hand_are_read_and_stand_there_the_next_time(part):
    press(part.form, drip__colour="too pink", more__at_hand="yellow iron oxide; CI 77499")
    assert part.trial.of(Drip)[-1].at_hand == ("yellow iron oxide", "CI 77499")
    assert any("yellow iron oxide" in title for title in shown(part))
    more = next(group for group in part.form.groups if group["name"] == "more")
    assert more["fields"][0]["start"] == "yellow iron oxide, CI 77499"


def test_nothing_pressed_is_asked_for(part):
    assert "drip//felt" in press(part.form)["faults"]
    assert "drip//felt" in press(part.form, drip__felt=NOT_TOLD)["faults"]
    assert part.trial.of(Drip) == []


def test_right_is_right(part):
    press(part.form, drip__felt="right", drip__colour="right")
    assert "nothing to add" in part.told.value
    assert shown(part) == {}


def test_both_off_says_to_put_one_right_at_a_time(part):
    press(part.form, drip__felt="too hard", drip__colour="too dark")
    assert "one thing right at a time" in part.told.value
    titles = " ".join(shown(part))
    assert "castor oil" in titles
    assert "titanium dioxide" in titles


def test_a_drip_is_mended(part):
    press(part.form, drip__felt="too soft")
    row = part.trial.rows(Drip.kind)[0]
    part.ask_mend(part.trial, row.head.id)
    assert standing_in(part.form)["drip"][0]["felt"] == "too soft"
    assert press(part.form, drip__felt="too hard")["saved"]
    assert [each.felt for each in part.trial.of(Drip)] == ["too hard"]
    assert any("castor oil" in title for title in shown(part))


def test_an_empty_pot_and_a_poured_one_say_so(book):
    part = PotPart(BatchDesk(Guard(), book, lambda say, entry: Saved(say)), hardness_of, colour_of)
    batch = start_batch(book, [{"name": "castor oil", "grams": 10.0, "kind": "oil"}], "Bare")
    batch = batch.log(Drip, felt="too soft")
    part.offer(batch)
    part.show()
    assert EMPTY in part.told.value
    batch = batch.log(Added, ingredient="castor oil", grams=9.0, added_at=ago(20))
    batch = batch.log(Happened, what="poured", at=ago(1))
    part.offer(batch)
    part.show()
    assert "It is poured" in part.told.value


def test_without_any_model_it_says_so_plainly(book):
    part = PotPart(BatchDesk(Guard(), book, lambda say, entry: Saved(say)))
    batch = weighed(book).log(Drip, felt="too soft", colour="too pale")
    part.offer(batch)
    part.show()
    assert "There is no texture trial" in part.told.value
    assert "Nothing is known of how this pot" in part.told.value
    assert "there is no forecast of what is in it" in part.told.value
    assert shown(part) == {}


def test_a_pot_outside_the_map_says_so():
    handed = HandedHardness(lambda shares: None, "From an invented trial.", LADDER)
    found = answer(Pot({"castor oil": 50.0, "beeswax": 50.0}), "too hard", "", {}, 0.1, handed)
    assert "lies outside what that trial looked at" in " ".join(found.said)
    assert found.offers == []


def test_a_pigment_without_a_forecast_is_named(book):
    pot = Pot({"castor oil": 90.0, "red iron oxide": 5.0, "chromium oxide green": 5.0})
    found = answer(pot, "", "too pale", {}, 0.1, HandedHardness(None, ""), colour_of(book))
    assert "There is no forecast of chromium oxide green" in " ".join(found.said)


def test_powders_and_scent_are_not_offered_to_harden():
    kinds = {"castor oil": "oil", "beeswax": "wax", "silica": "powder", "vanilla": "scent"}

    def model(shares):
        return 10.0 * (
            shares.get("beeswax", 0.0) + shares.get("silica", 0.0) + shares.get("vanilla", 0.0)
        ), 0.1

    pot = Pot({"castor oil": 80.0, "beeswax": 15.0, "silica": 4.0, "vanilla": 1.0})
    found = answer(pot, "too soft", "", kinds, 0.1, HandedHardness(model, "", LADDER))
    assert [each.name for each in found.offers] == ["beeswax"]
