"""A trial in a book: asked, planned, poured, felt, mended; what follows is read from the book alone."""

from datetime import timedelta

import pandas as pd
import pytest
from recipes import MONDAY, USUAL

from labkit.book import TrialBook
from labkit.errors import LabError
from labkit.texture import wording
from labkit.texture.begin import change_question, start_trial
from labkit.texture.record import HELD
from labkit.texture.story import summary
from labkit.texture.trial import TextureTrial, trial_names
from labkit.texture.usual import make_question


def test_the_first_card_is_the_usual_twice_and_one_change(trial):
    card = trial.waiting
    assert [pour.why for pour in card] == ["the usual", "the usual again", "one change"]
    assert card[0].grams == card[1].grams == USUAL
    assert card[2].grams["beeswax"] > USUAL["beeswax"]
    assert card[2].grams["shea butter"] == USUAL["shea butter"]


def test_everything_is_there_when_the_book_is_opened_again(felt):
    before = felt.pours(), felt.notes(), felt.waiting
    path = felt.book.path
    felt.book.close()
    with TrialBook(path) as book:
        again = TextureTrial(book, "Firmer")
        pd.testing.assert_frame_equal(again.pours(), before[0])
        pd.testing.assert_frame_equal(again.notes(), before[1])
        assert again.waiting == before[2]


def test_a_poured_pour_leaves_the_card(trial):
    assert [pour.number for pour in trial.log_pour(2).waiting] == [1, 3]


def test_percent_of_the_product_and_shares_of_the_base_agree(felt):
    pours = felt.pours()
    percents = [f"{part} %" for part in (*felt.question.parts, HELD)]
    assert pours[percents].sum(axis=1).to_list() == pytest.approx([100] * 4)
    assert pours[list(felt.question.parts)].sum(axis=1).to_list() == pytest.approx([1] * 4)
    base = 100 - pours[f"{HELD} %"]
    assert (pours["wax %"] / base).to_list() == pytest.approx(pours["wax"].to_list())


def test_what_was_weighed_counts_and_not_what_was_planned(trial):
    weighed = {**USUAL, "beeswax": 9.0}
    assert trial.log_pour(1, weighed).pours()["wax"].iloc[0] == pytest.approx(9 / 47)


def test_hours_follow_a_mended_pour_time(felt):
    cast = felt.cast(1)
    mended = felt.mend_pour(cast.version, poured_at=MONDAY)
    assert mended.notes().query("pour == 1")["hours"].to_list() == pytest.approx([3, 51])
    assert len(felt.book.history(cast.entry)) == 2


def test_a_mended_note_replaces_and_a_withdrawn_one_is_gone(felt):
    first = felt.book.get(felt.notes()["version"].iloc[0])
    mended = felt.mend_note(first, 1, word="soft")
    assert mended.notes()["word"].iloc[0] == "soft"
    assert len(mended.notes()) == 8
    felt.book.withdraw(first.id, "wrong stick")
    assert len(TextureTrial(felt.book, "Firmer").notes()) == 7


@pytest.mark.parametrize(
    ("log", "message"),
    [
        (lambda trial: trial.log_note(1, "sfot"), "“soft”"),
        (lambda trial: trial.log_note(9, "soft"), "no pour 9.*Poured: 1, 2, 3, 4"),
        (lambda trial: trial.log_note(1, "soft", felt_at=MONDAY), "comes after its pour"),
        (lambda trial: trial.log_pour(40), "not on the weigh card"),
        (lambda trial: trial.log_pour(5, {"candelilla wax": 3.0}), "start another trial"),
        (lambda trial: trial.log_pour(5, USUAL, hottest_c=900.0), "Hottest temperature"),
        (lambda trial: trial.log_pour(5, {**USUAL, "beeswax": -1.0}), "less than nothing"),
        (lambda trial: TextureTrial(trial.book, "Firmr"), "“Firmer”"),
        (lambda trial: start_trial(trial.book, USUAL, "Firmer"), "another name"),
        (lambda trial: start_trial(trial.book, USUAL, bounds={"wax": (0.5, 0.4)}), "wax"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_written(felt, log, message):
    before = len(list(felt.book.all_entries()))
    with pytest.raises(LabError, match=message):
        log(felt)
    assert len(list(felt.book.all_entries())) == before


def test_words_for_pots_are_not_mixed_with_words_for_sticks(felt):
    trial = felt.log_note(1, "draggy", form="pot", felt_at=MONDAY + timedelta(days=4))
    assert set(trial.readings()["form"]) == {"stick"}
    assert any("Only sticks count" in said for said in wording.remarks(trial))


def test_a_map_warns_of_a_pour_with_another_load(felt):
    assert wording.remarks(felt) == []
    trial = felt.log_pour(5, {**USUAL, "red iron oxide": 12.0})
    assert any(said.startswith("Pour 5 holds 21 % pigment") for said in wording.remarks(trial))


def test_no_map_is_pretended_before_four_pours(felt, book):
    assert felt.has_map
    few = start_trial(book, USUAL, "Few").log_pour(1).log_note(1, "soft")
    assert not few.has_map
    assert "Your own map is drawn from 4 pours on" in wording.standing(few, MONDAY)[-1]


def test_a_fresh_stick_is_not_judged_yet(trial):
    poured = MONDAY + timedelta(hours=10)
    trial = trial.log_pour(1, poured_at=poured)
    now = poured + timedelta(hours=1)
    assert "Don't judge pour 1 before Wednesday" in wording.standing(trial, now)[0]
    trial = trial.log_note(1, "smears", felt_at=now)
    assert " in 10 “just right” by Wednesday" in wording.standing(trial, now)[0]
    assert "judge" not in " ".join(wording.standing(trial, poured + timedelta(days=3)))


def test_the_map_says_what_it_is_about(felt):
    said = wording.about(felt)
    assert "butter is shea butter and cocoa butter (2 to 1)" in said
    assert "wax is beeswax" in said
    assert "8.3 % red iron oxide" in said


def test_a_changed_question_keeps_what_notes_and_pours_mean(felt):
    wider = make_question(USUAL, bounds={"wax": (0.05, 0.4)}, wanted="firm")
    changed = change_question(felt, wider)
    assert (changed.question.high["wax"], changed.question.wanted) == (0.4, "firm")
    assert len(changed.notes()) == 8
    with pytest.raises(LabError, match="notes in these words"):
        change_question(felt, make_question(USUAL, ladder=("soft", "hard")))
    with pytest.raises(LabError, match="start another trial"):
        change_question(felt, make_question({**USUAL, "candelilla wax": 1.0}))


def test_two_notebooks_mending_one_pour_make_a_fork_that_is_seen_and_settled(felt):
    first = felt.cast(1)
    head = felt.book.get(first.entry)
    for grams in (5.0, 7.0):
        felt.book.correct(head, {**head.payload, "weighed_g": {**USUAL, "beeswax": grams}})
    forked = TextureTrial(felt.book, "Firmer")
    assert any("corrected in two ways" in said for said in wording.remarks(forked))
    assert len(forked.readings()) == 8
    settled = forked.mend_pour(forked.cast(1).version, weighed_g={**USUAL, "beeswax": 6.5})
    assert wording.remarks(settled) == []
    assert settled.pours()["wax"].iloc[0] == pytest.approx(6.5 / 44.5)


def test_a_plan_goes_round_what_is_poured_and_on_the_card(felt):
    planned = felt.for_card(felt.plan(4, repeats=1, days=2))
    assert [pour.number for pour in planned] == [5, 6, 7, 8]
    assert {pour.day for pour in planned} == {1, 2}
    shares = pd.DataFrame([felt.weighing.shares(pour.grams) for pour in planned])
    assert felt.region.contains(shares).all()
    assert shares.round(6).drop_duplicates().shape[0] == 3


def test_the_next_pour_lies_in_the_region_and_goes_on_the_card(felt):
    suggestion = felt.next_pour()
    assert felt.region.contains(suggestion[list(felt.question.parts)]).all()
    assert suggestion["chance"].between(0, 1).all()
    card = felt.put_on_card(felt.for_card(suggestion)).waiting
    assert [pour.number for pour in card] == [5]


def test_the_summary_counts_what_is_there(felt, trial):
    assert summary(felt)["notes"] == 8
    assert summary(felt)["pours"] == 4
    assert trial_names(felt.book) == ["Firmer"]
