"""Remakes: within and between makers, beside certified and published figures."""

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import scipy

from labkit.assets import assets
from labkit.book import TrialBook, take_in_lines
from labkit.book.entry import new_entry, new_maker
from labkit.errors import LabError
from labkit.share import bundle, log_remake, remakes
from labkit.share.record import LADDER, Remake
from tests.reference.test_published_variation import COAL, DYESTUFF, DYESTUFF_2

DAY = datetime(2026, 6, 1, 12, tzinfo=UTC)
KIND, TRIAL = "attic.recipe", "Shared"


@pytest.fixture
def book(tmp_path):
    with TrialBook(tmp_path / "lab-book.db") as made:
        yield made


@pytest.fixture
def recipe(book):
    """A shared recipe of a kind that has no readings of its own."""
    return book.append(KIND, {"wax": 12.0}, trial=TRIAL)


def remade(book, recipe, groups: dict, **more) -> None:
    """Keep a remake for every reading of L* in groups, each group another maker's."""
    for number, values in enumerate(groups.values()):
        maker = new_maker()
        for value in values:
            fields = {"recipe": recipe.id, "poured_at": DAY, "labs": [(value, 20, 10)], **more}
            fields = {name: each(number) if callable(each) else each for name, each in fields.items()}
            book.keep([new_entry(Remake.kind, TRIAL, Remake.of(fields).payload(), maker)])


# Against figures from outside


def silicon() -> tuple[dict[int, list[float]], dict[str, float]]:
    """NIST StRD, analysis of variance, SiRstv: resistivity of silicon, 5 instruments of 5, certified.

    As SciPy carries it: scipy/stats/tests/data/nist_anova/SiRstv.dat.
    """
    path = Path(os.path.dirname(scipy.__file__)) / "stats/tests/data/nist_anova/SiRstv.dat"
    if not path.is_file():
        pytest.skip("this SciPy was installed without its test data")
    lines = path.read_text().splitlines()
    certified = {words[0]: float(words[-2 if words[0] == "Between" else -1]) for line in lines[40:47]
                 if (words := line.split()) and words[0] in ("Between", "Within")}  # fmt: skip
    groups: dict[int, list[float]] = {}
    for line in lines[60:85]:
        instrument, value = line.split()
        groups.setdefault(int(instrument), []).append(float(value))
    return groups, certified


def test_certified_mean_squares_of_nist(book, recipe):
    groups, certified = silicon()
    assert [len(each) for each in groups.values()] == [5] * 5
    remade(book, recipe, {name: [value - 150 for value in values] for name, values in groups.items()})
    found = remakes(book, recipe)
    assert found.repeatability_sd["L"] ** 2 == pytest.approx(certified["Within"], rel=1e-9)
    between = (certified["Between"] - certified["Within"]) / 5
    assert found.between_sd["L"] ** 2 == pytest.approx(between, rel=1e-6)
    assert found.reproducibility_sd["L"] ** 2 == pytest.approx(between + certified["Within"], rel=1e-9)
    assert found.makers == 5


def test_coal_of_iso_5725(book, recipe):
    """ISO 5725-2, worked example, level 1: mean 0.690, s_r 0.015, s_R 0.026 (from memory, recomputed)."""
    remade(book, recipe, {name: [100 * value for value in values] for name, values in COAL.items()})
    found = remakes(book, recipe)
    assert found.table["L"].mean() == pytest.approx(69.0, abs=0.05)
    assert found.repeatability_sd["L"] == pytest.approx(1.5, abs=0.05)
    assert found.reproducibility_sd["L"] == pytest.approx(2.6, abs=0.05)


def test_dyestuff_and_a_negative_variance(book, recipe):
    """Davies (1947), Box and Tiao (1973): between 1764.05 and 0, within 2451.25 and 14.9459."""
    remade(book, recipe, {name: [value / 20 for value in values] for name, values in DYESTUFF.items()})
    found = remakes(book, recipe)
    assert 400 * found.between_sd["L"] ** 2 == pytest.approx(1764.05)
    assert 400 * found.repeatability_sd["L"] ** 2 == pytest.approx(2451.25)
    again = book.append(KIND, {}, trial=TRIAL)
    remade(book, again, {name: [value + 10 for value in values] for name, values in DYESTUFF_2.items()})
    found = remakes(book, again)
    assert found.between_sd["L"] == 0.0
    assert found.repeatability_sd["L"] ** 2 == pytest.approx(14.9459, abs=5e-5)
    low, high = found.intervals["L"]["between_sd"]
    assert low == 0.0
    assert high > 1.0, "0 is an estimate and no knowledge"


def test_readings_of_one_pour_are_no_repeats(book, recipe):
    """What repeats is a whole pour: readings of one are averaged, and twice as many change nothing."""
    pours = {1: [40.0, 42.0], 2: [44.0, 47.0], 3: [41.0, 41.5]}
    other = book.append(KIND, {}, trial=TRIAL)
    remade(book, recipe, pours)
    for values in pours.values():
        maker = new_maker()
        for value in values:
            labs = [(value - 3, 20, 10), (value + 3, 20, 10)]
            made = Remake.of({"recipe": other.id, "poured_at": DAY, "labs": labs})
            book.keep([new_entry(Remake.kind, TRIAL, made.payload(), maker)])
    one, two = remakes(book, recipe), remakes(book, other)
    assert two.repeatability_sd["L"] == pytest.approx(one.repeatability_sd["L"])
    assert two.table["read"].tolist() == [2] * 6


@pytest.mark.parametrize("makers", [3, 6])
def test_limits_hold_the_truth_for_few_makers(book, makers):
    """Drawn with σ_r 1 and σ_L 1.5, two pours each: 90 % limits of σ_R hold √3.25 in 80 to 99 %."""
    from labkit.variation import spread

    rng, truth, held = np.random.default_rng(makers), np.sqrt(3.25), 0
    import pandas as pd

    for _ in range(80):
        own = rng.normal(0, 1.5, makers)
        rows = [(maker, own[maker] + rng.normal()) for maker in range(makers) for _ in range(2)]
        found = spread(pd.DataFrame(rows, columns=["maker", "L"]), "L", "maker")
        low, high = found.intervals["reproducibility_sd"]
        held += low <= truth <= high
    assert 0.80 <= held / 80 <= 0.99


# What is logged and how it comes together


def test_hardness_is_counted_in_rungs_from_the_softest(book, recipe):
    for words in (["soft", "just right"], ["firm"]):
        log_remake(book, recipe, words, poured_at=DAY)
    found = remakes(book, recipe)
    assert found.table["hardness"].tolist() == [2.5, 4.0]
    assert found.table["felt"].tolist() == [2, 1]


def test_a_remake_keeps_which_version_it_followed_and_stands_in_the_recipes_trial(book, recipe):
    mended = book.correct(recipe, {"wax": 13.0})
    entry = log_remake(
        book, recipe, ["soft"], poured_at=DAY, pour_c=70, changed="rice bran wax for candelilla"
    )
    made = Remake.of(entry.payload)
    assert (made.recipe, made.recipe_hash, entry.trial) == (recipe.id, mended.hash, TRIAL)
    assert remakes(book, mended).table["changed"].tolist() == ["rice bran wax for candelilla"]


def test_a_press_that_is_sent_twice_is_one_remake(book, recipe):
    from labkit.book.entry import new_id

    press = new_id()
    for _ in range(2):
        log_remake(book, recipe, ["soft"], poured_at=DAY, id=press)
    assert len(remakes(book, recipe).table) == 1


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"words": ["sofft"]}, "“sofft” is not on the ladder. Did you mean “soft”"),
        ({}, "a remake says how hard it is, or what colour"),
        ({"labs": [(140, 0, 0)]}, "is no L*a*b* of anything"),
        ({"words": ["soft"], "pour_c": 300}, "must be at most 130 °C; found 300"),
        ({"words": ["soft"], "poured_at": datetime(2026, 1, 1)}, "zone"),
        ({"words": ["soft"], "poured": 1}, "“poured” is not logged here"),
        ({"words": ["soft"], "ladder": ("soft", "Soft")}, "stands on the ladder twice"),
    ],
)
def test_a_remake_that_cannot_be(book, recipe, more, words):
    with pytest.raises(LabError) as error:
        log_remake(book, recipe, **({"poured_at": DAY} | more))
    assert words in str(error.value)
    assert book.entries(Remake.kind) == []


def test_a_remake_that_is_still_to_come(book, recipe):
    with pytest.raises(LabError, match="is still to come"):
        log_remake(book, recipe, ["soft"], poured_at=datetime.now(UTC) + timedelta(days=1))


@pytest.mark.parametrize("named", ["Rosewood", None, 7])
def test_a_recipe_that_is_none(book, named):
    with pytest.raises(LabError, match="Name the recipe that was remade"):
        remakes(book, named)


def test_a_recipe_that_is_not_here_and_one_that_nobody_remade(book, recipe, tmp_path):
    with pytest.raises(LabError, match="There is no remake of this recipe"):
        remakes(book, recipe)
    with TrialBook(tmp_path / "other.db") as other, pytest.raises(LabError, match="Take in the bundle"):
        log_remake(other, recipe.id, ["soft"])


def test_a_remake_comes_back_as_the_recipe_came(book, recipe, tmp_path):
    """The whole way: out in a bundle, remade there, back in a bundle, a second time without change."""
    book.name_person("Me")
    bundle(book, TRIAL, to=tmp_path / "out.zip")
    log_remake(book, recipe, ["soft"], poured_at=DAY)
    with TrialBook(tmp_path / "theirs.db") as theirs:
        theirs.take_in(tmp_path / "out.zip")
        log_remake(theirs, recipe.id, ["firm"], [(41, 30, 20)], poured_at=DAY)
        bundle(theirs, TRIAL, to=tmp_path / "back.zip")
        assert remakes(theirs, recipe).makers == 1
    assert book.take_in(tmp_path / "back.zip").new == 1
    assert book.take_in(tmp_path / "back.zip").new == 0
    found = remakes(book, recipe)
    assert found.table["maker"].tolist() == ["Me", "maker 2"]
    assert found.makers == 2


def test_a_withdrawn_remake_does_not_count_and_a_corrected_one_once(book, recipe):
    gone, kept = (log_remake(book, recipe, ["soft"], poured_at=DAY) for _ in range(2))
    book.withdraw(gone)
    book.correct(kept, {**kept.payload, "words": ["firm"]})
    assert remakes(book, recipe).table["hardness"].tolist() == [4.0]


def test_two_makers_of_one_name_are_two(book, recipe):
    remade(book, recipe, {1: [40.0, 41.0], 2: [42.0, 43.0]})
    for maker in {each.maker for each in book.entries(Remake.kind)}:
        book.name_person("Alex", maker)
    assert remakes(book, recipe).table["maker"].nunique() == 2


@pytest.fixture
def demo(tmp_path):
    with TrialBook(tmp_path / "demo.db") as book:
        for lines in assets().demo:
            take_in_lines(book, lines)
        yield book


@pytest.mark.parametrize("kind", ["texture.pour", "batch.question"])
def test_the_original_stands_among_its_remakes(demo, kind):
    """A texture pour by its notes of a day or more, a day at the stove by how it was judged."""
    recipe = demo.entries(kind)[0]
    log_remake(demo, recipe, ["firm", "firm"], [(40, 30, 20)], poured_at=DAY, pour_c=64)
    found = remakes(demo, recipe)
    own = found.table[found.table["original"]]
    assert len(own) == 1
    assert own["entry"].item() == recipe.id
    assert own["hardness"].item() == 3.0
    assert own["pour_c"].notna().all()
    other = found.table[~found.table["original"]]
    assert other["rungs_apart"].item() == 1.0
    assert found.makers == 2


def test_differences_in_colour_are_from_the_mean_where_the_original_was_not_read(book, recipe):
    remade(book, recipe, {1: [40.0], 2: [44.0]})
    from labkit.colour.cie import delta_e00

    apart = remakes(book, recipe).table["delta_e00"]
    assert apart.to_numpy() == pytest.approx(delta_e00([[40, 20, 10], [44, 20, 10]], [[42, 20, 10]]))


def test_remakes_with_other_words_are_not_compared_in_hardness(book, recipe):
    log_remake(book, recipe, ["soft"], poured_at=DAY)
    log_remake(book, recipe, ["firm"], poured_at=DAY)
    log_remake(book, recipe, ["mild"], poured_at=DAY, ladder=("mild", "strong"))
    found = remakes(book, recipe)
    assert found.table["felt"].tolist() == [1, 1, 0]
    assert "1 pour with other hardness words cannot be compared in hardness." in found.said


def test_changes_on_purpose_are_told_and_can_be_left_out(book, recipe):
    remade(book, recipe, {1: [40.0, 41.0], 2: [60.0, 61.0]}, changed=lambda number: "other wax" * number)
    assert "In 2 of them something was done otherwise on purpose" in str(remakes(book, recipe))
    assert remakes(book, recipe, changed=False).makers == 1
    only = book.append(KIND, {}, trial=TRIAL)
    remade(book, only, {1: [40.0]}, changed="other wax")
    with pytest.raises(LabError, match="In every remake something was done otherwise"):
        remakes(book, only, changed=False)


def test_one_pour_each_says_that_repeats_are_not_known(book, recipe):
    remade(book, recipe, {1: [40.0], 2: [41.0], 3: [44.0]})
    found = remakes(book, recipe)
    assert np.isnan(found.repeatability_sd["L"])
    assert "Nobody poured it twice" in str(found)
    assert "two pours of one maker differ with sd not known" in str(found)


def test_words_that_are_all_the_same_are_no_proof_of_a_difference(book, recipe):
    """Rounded to whole rungs the spread within is 0; that two makers differ by a rung shows nothing yet."""
    remade(book, recipe, {1: [40.0, 40.0], 2: [40.0, 40.0], 3: [40.0, 40.0]},
           words=lambda number: ["soft" if number else "just right"])  # fmt: skip
    said = str(remakes(book, recipe))
    assert "That makers differ" not in said
    assert "a spread under 0.3 rungs cannot be seen" in said


# What goes with it


def test_what_differs_in_process_is_said_and_with_few_makers_no_link_is_claimed(book, recipe):
    lights = {number: [40.0 + 2 * number, 40.3 + 2 * number] for number in range(4)}
    remade(book, recipe, lights, pour_c=lambda number: 60 + 5 * number, hottest_c=80,
           set_where=lambda number: "in the cold" if number else "on the bench")  # fmt: skip
    found = remakes(book, recipe)
    row = found.process.iloc[0]
    assert (row["figure"], row["quantity"], row["makers"], row["tau"]) == ("pour_c", "L", 4, 1.0)
    assert row["p"] == pytest.approx(2 / 24), "two of 24 orders of four makers are as strict"
    assert (
        "The pour temperature went from 60 to 75 °C over makers, and more of it went with lighter "
        "(τ 1.0, p 0.083, which may be chance): say it more exactly."
    ) in found.said
    assert "It was set in the cold by 3, on the bench by 1: say which." in found.said
    assert any("With 4 makers no link can be told from chance" in each for each in found.said)
    assert not any("hottest temperature" in each for each in found.said)


def test_pours_of_one_maker_are_one_point(book, recipe):
    """Twenty pours of two makers are two points, and no link."""
    remade(book, recipe, {1: [40.0 + n / 10 for n in range(10)], 2: [50.0 + n / 10 for n in range(10)]},
           pour_c=lambda number: 60 + 10 * number)  # fmt: skip
    found = remakes(book, recipe)
    assert found.process["makers"].tolist() == [2] * len(found.process)
    assert found.process["p"].dropna().eq(1.0).all()


def test_six_makers_can_show_a_link(book, recipe):
    lights = {number: [40.0 + 2 * number] for number in range(6)}
    remade(book, recipe, lights, pour_c=lambda number: 60 + 3 * number)
    found = remakes(book, recipe)
    assert found.process.iloc[0]["p_holm"] == pytest.approx(2 / 720)
    assert not any("may be chance" in each or "no link" in each for each in found.said)


def test_the_ladder_is_that_of_the_recipes_trial(demo):
    recipe = demo.entries("texture.pour")[0]
    question = demo.get(recipe.payload["question"])
    assert tuple(question.payload["ladder"]) == LADDER
    mended = {**question.payload, "ladder": ["gone", "soft", "right", "hard"], "wanted": "right"}
    demo.correct(question.id, mended)
    entry = log_remake(demo, recipe, ["hard"], poured_at=DAY)
    assert entry.payload["ladder"] == mended["ladder"]


def test_what_the_recipe_says_already_is_to_be_said_more_exactly(book):
    recipe = book.append(KIND, {"pour_c": 70.0, "waiting_h": 24}, trial=TRIAL)
    ages = {"pour_c": lambda number: 60 + 5 * number, "judged_h": lambda number: 24 * (number + 1)}
    remade(book, recipe, {number: [40.0] for number in range(3)}, **ages)
    said = str(remakes(book, recipe))
    assert "60 to 70 °C over makers: the recipe says 70 °C; say how near it has to be." in said
    assert "24 to 72 h over makers: the recipe says 24 h; say how near it has to be." in said


def test_a_written_recipe_is_remade(demo):
    recipe = demo.entries("recipe.recipe")[0]
    log_remake(demo, recipe, ["soft"], poured_at=DAY, pour_c=80)
    found = remakes(demo, recipe)
    assert found.makers == 1
    assert "the original was not read" in str(found)
