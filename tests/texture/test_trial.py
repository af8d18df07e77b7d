"""A trial in a book: asked, planned, poured, felt, mended; what follows is read from the book alone."""

from datetime import datetime, timedelta

import pandas as pd
import pytest
from recipes import MONDAY, USUAL

from labkit.book import TrialBook
from labkit.errors import LabError
from labkit.texture import wording
from labkit.texture.begin import change_question, start_trial
from labkit.texture.cards import card
from labkit.texture.first import first_pours
from labkit.texture.record import HELD
from labkit.texture.story import summary
from labkit.texture.trial import TextureTrial
from labkit.texture.trials import trial_names
from labkit.texture.usual import make_question


def test_the_first_card_is_the_usual_twice_and_one_change(trial):
    card = trial.waiting
    whys = ["the usual", "the usual again", "one change: less oil, more wax"]
    assert [pour.why for pour in card] == whys
    first, again, changed = (trial.grams(pour) for pour in card)
    assert first == again == USUAL
    assert changed["beeswax"] > USUAL["beeswax"]
    assert changed["shea butter"] == USUAL["shea butter"]


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
        (lambda trial: trial.log_pour(), "not on the weigh card"),
        (lambda trial: trial.log_pour(3), "Pour 3 is in your book already, poured Mon 2 Mar"),
        (lambda trial: trial.put_on_card(first_pours(trial.question, trial.region)), "on the card already"),
        (lambda trial: trial.take_off_card(4), "not on the weigh card. On it: nothing"),
        (lambda trial: trial.log_note(1, "soft", felt_at=datetime(2026, 3, 9)), "zone"),
        (lambda trial: trial.log_note(1, "soft", felt_at="soon"), "Felt"),
        (lambda trial: trial.log_note(1, "soft", felt_at="2999-01-01T09:00Z"), "still to come"),
        (lambda trial: trial.log_pour(5, {"candelilla wax": 3.0}), "start another trial"),
        (lambda trial: trial.log_pour(5, USUAL, hottest_c=900.0), "Hottest temperature"),
        (lambda trial: trial.log_pour(5, {**USUAL, "beeswax": -1.0}), "less than nothing"),
        (lambda trial: TextureTrial(trial.book, "Firmr"), "“Firmer”"),
        (lambda trial: start_trial(trial.book, USUAL, "Firmer"), "another name"),
        (lambda trial: start_trial(trial.book, USUAL, " firmer "), "another name"),
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
    assert any(said.startswith("Pour 5 holds 21 % red iron oxide") for said in wording.remarks(trial))


def test_a_map_warns_where_the_ratio_within_a_part_is_another(felt):
    trial = felt.log_pour(5, {**USUAL, "shea butter": 6.0, "cocoa butter": 12.0})
    assert [said.startswith("33 % of the butter of pour 5 is shea") for said in wording.remarks(trial)] == [
        True
    ]


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
    assert any("mended in two ways" in said for said in wording.remarks(forked))
    assert len(forked.readings()) == 8
    settled = forked.mend_pour(forked.cast(1).version, weighed_g={**USUAL, "beeswax": 6.5})
    assert wording.remarks(settled) == []
    assert settled.pours()["wax"].iloc[0] == pytest.approx(6.5 / 44.5)


def test_a_plan_goes_round_what_is_poured_and_on_the_card(felt):
    planned = felt.for_card(felt.plan(4, repeats=1, days=2))
    assert [pour.number for pour in planned] == [5, 6, 7, 8]
    assert {pour.day for pour in planned} == {1, 2}
    shares = pd.DataFrame([pour.shares for pour in planned])
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


# ---------------------------------------------------------------- the card and the question


def test_a_pour_that_is_not_on_the_card_takes_the_next_number(felt):
    trial = felt.log_pour(weighed_g=USUAL).log_pour(weighed_g=USUAL)
    assert [cast.pour.number for cast in trial.casts] == [1, 2, 3, 4, 5, 6]


def test_a_planned_pour_is_taken_off_the_card_for_good(trial):
    trial = trial.take_off_card(2)
    assert [pour.number for pour in trial.waiting] == [1, 3]
    assert trial.for_card(trial.plan(1, repeats=0))[0].number == 4


def test_the_card_follows_a_question_that_is_changed_before_the_first_pour(trial):
    other = {"mango butter": 10.0, "castor oil": 30.0, "candelilla wax": 8.0}
    changed = change_question(trial, make_question(other, "too hard", 0.01, batch_g=24.0))
    card = [changed.grams(pour) for pour in changed.waiting]
    assert all(set(grams) == set(other) for grams in card)
    assert [sum(grams.values()) for grams in card] == pytest.approx([24.0] * 3)
    assert changed.waiting[2].why == "one change: more oil, less wax"


def test_the_card_says_which_pours_a_changed_question_no_longer_allows(felt):
    trial = felt.put_on_card(felt.for_card(felt.plan(3, repeats=0)))
    narrow = make_question(USUAL, bounds=dict.fromkeys(("butter", "oil"), (0.1, 0.6)) | {"wax": (0.1, 0.15)})
    changed = change_question(trial, narrow)
    outside = [
        pour.number
        for pour in changed.waiting
        if not changed.region.contains([list(pour.shares.values())])[0]
    ]
    assert outside
    assert f"Outside your bounds: pour {', '.join(map(str, outside))}." in card(changed)


def test_the_next_pours_are_others_than_those_on_the_card(felt):
    parts = list(felt.question.parts)
    trial = felt
    for _ in range(3):
        trial = trial.put_on_card(trial.for_card(trial.next_pour()))
    shares = pd.DataFrame([pour.shares for pour in trial.waiting])[parts]
    apart = [abs(a - b).max() for at, a in enumerate(shares.to_numpy()) for b in shares.to_numpy()[:at]]
    assert min(apart) > 0.01


def test_two_trials_of_one_name_stay_two_when_one_book_takes_in_the_other(felt, tmp_path):
    with TrialBook(tmp_path / "other.db") as other:
        theirs = start_trial(other, {"mango butter": 10, "castor oil": 20, "rice bran wax": 5}, "Firmer")
        theirs = theirs.log_pour(1).log_note(1, "firm")
        felt.book.keep(list(other.all_entries()))
    names = trial_names(felt.book)
    assert len(names) == 2
    assert all(name.startswith("Firmer (") for name in names)
    mine, taken = TextureTrial(felt.book, felt.entry), TextureTrial(felt.book, theirs.entry)
    assert (len(mine.casts), len(mine.notes())) == (4, 8)
    assert (len(taken.casts), len(taken.notes())) == (1, 1)
    pd.testing.assert_frame_equal(mine.readings(), felt.readings())
    with pytest.raises(LabError, match="no trial “Firmer”"):
        TextureTrial(felt.book, "Firmer")


def test_one_number_poured_in_two_copies_of_a_book_is_told_apart(trial, tmp_path):
    with TrialBook(tmp_path / "copy.db") as copy:
        copy.keep(list(trial.book.all_entries()))
        for book, day in ((copy, 1), (trial.book, 2)):
            TextureTrial(book).log_pour(1, poured_at=MONDAY + timedelta(days=day))
        trial.book.keep(list(copy.all_entries()))
    both = TextureTrial(trial.book)
    labels = [cast.label for cast in both.casts]
    assert [label.split(",")[0] for label in labels] == ["1 (Tue 3 Mar", "1 (Wed 4 Mar"]
    with pytest.raises(LabError, match="Two pours have the number 1"):
        both.log_note(1, "soft")
    assert both.log_note(labels[0], "soft").notes()["cast"].tolist() == [both.casts[0].entry]


def test_a_pour_that_is_taken_back_is_put_back_with_its_notes(felt):
    cast = felt.cast(2)
    gone = felt.take_back(cast.version)
    assert (len(gone.casts), len(gone.notes())) == (3, 6)
    back = gone.put_back(cast.version)
    pd.testing.assert_frame_equal(back.notes(), felt.notes())
    assert felt.book.forks() == {}


def test_a_mended_pour_that_is_taken_back_is_put_back_as_it_stood(felt):
    mended = felt.mend_pour(felt.cast(2).version, sticks=7)
    version = mended.cast(2).version
    back = mended.take_back(version).put_back(version)
    assert back.cast(2).pour.sticks == 7
    assert felt.book.forks() == {}


def test_a_note_mended_in_two_ways_counts_once_and_is_said(felt):
    version = felt.book.get(felt.notes()["version"].iloc[0])
    for word in ("soft", "firm"):
        felt.book.correct(version, {**version.payload, "word": word})
    forked = TextureTrial(felt.book)
    assert len(forked.readings()) == 8
    assert any("A note on pour 1 was mended in two ways" in said for said in wording.remarks(forked))


def test_a_pour_of_other_ingredients_does_not_count_and_is_said(trial):
    payload = {
        "question": trial.entry, "number": 1, "weighed_g": {"tallow": 3.0}, "poured_at": MONDAY.isoformat(),
    }  # fmt: skip
    trial.book.append("texture.pour", payload, trial=trial.name)
    again = TextureTrial(trial.book)
    assert again.casts == []
    assert wording.remarks(again) == [
        "Pour 1 was weighed with other ingredients than this trial's, and does not count."
    ]


def test_a_cast_is_judged_by_its_own_notes(felt):
    """Pour 1 and its repeat were soft; a later word on pour 1 alone moves pour 1 more."""
    before = felt.chance_when_set(1), felt.chance_when_set(2)
    trial = felt.log_note(1, "just right", felt_at=MONDAY + timedelta(days=4))
    trial = trial.log_note(1, "just right", felt_at=MONDAY + timedelta(days=5))
    after = trial.chance_when_set(1), trial.chance_when_set(2)
    assert after[0] - before[0] > after[1] - before[1] > 0


def test_a_defect_of_nearly_the_best_recipe_stands_beside_it(felt):
    best = felt.likeliest
    pour = felt.log_pour(weighed_g=felt.weighing.grams(best), poured_at=MONDAY + timedelta(days=4))
    told = pour.log_look(5, ["bloom"], looked_at=MONDAY + timedelta(days=11))
    said = wording.standing(told, MONDAY + timedelta(days=12))
    assert "But pour 5, of nearly this recipe, showed bloom after 7 days." in said
