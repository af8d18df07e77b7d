"""A bundle: exactly what the trials rest on, nothing personal, whole or not at all."""

import base64
import hashlib
import io
import json
import shutil
import subprocess
import zipfile
from pathlib import Path
from urllib.parse import unquote

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from labkit.assets import assets
from labkit.book import TrialBook, take_in_lines, write_lines
from labkit.book.entry import WITHDRAWAL, new_entry, new_id, new_maker
from labkit.errors import LabError
from labkit.share import bundle, contents
from labkit.share.chosen import choose, ids_in
from labkit.share.personal import LEFT_OUT
from labkit.share.table_check import table_problems

from .conftest import BOX, NAME, filled, picture, told, written_notebook


def files_of(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as made:
        return {name: made.read(name) for name in made.namelist()}


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The book of the invented examples."""
    with TrialBook(tmp_path_factory.mktemp("demo") / "lab-book.db") as book:
        for lines in assets().demo:
            take_in_lines(book, lines)
        yield book


# Which entries


def test_corrections_and_withdrawals_come_along_and_other_trials_do_not(book, tmp_path):
    report = bundle(book, NAME, to=tmp_path / "x.zip")
    wanted = [each.line for each in book.all_entries() if each.trial == NAME]
    assert files_of(tmp_path / "x.zip")["entries.jsonl"].decode().splitlines() == wanted
    assert report.kinds == {BOX: 4, WITHDRAWAL: 1}
    assert report.entries == 5
    assert (report.trials, report.also) == ((NAME,), ())


def test_what_an_entry_refers_to_comes_along_from_another_trial(book):
    there = next(each for each in book.entries(trial="Other trial"))
    mended = book.correct(there, {"remark": "mended"})
    book.append(BOX, {"nested": [{"deep": {there.id: True}}]}, trial=NAME)
    chosen = choose(book, [NAME])
    assert {there.id, mended.id} <= {each.id for each in chosen.entries}
    assert chosen.also == ("Other trial",)


def test_an_entry_that_was_moved_away_comes_along_with_its_first_version(book):
    entry = book.append(BOX, {"n": 1}, trial=NAME)
    moved = book.correct(entry, {"n": 1}, trial="Other trial")
    assert {entry.id, moved.id} <= {each.id for each in choose(book, "Other trial").entries}


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_the_entries_are_the_least_set_that_is_closed(tmp_path, data):
    """Beside the plain definition: from the trial's own, add what is referred to and all versions."""
    ids, maker, entries = [new_id() for _ in range(data.draw(st.integers(1, 9)))], new_maker(), []
    for id in ids:
        refers = data.draw(st.lists(st.sampled_from(ids), max_size=2))
        old = (
            data.draw(st.lists(st.sampled_from([each.id for each in entries]), max_size=1)) if entries else []
        )
        trial = data.draw(st.sampled_from(["One", "Two"]))
        entries.append(new_entry(BOX, trial, {"of": refers}, maker, id=id, supersedes=tuple(old)))
    if not any(each.trial == "One" for each in entries):
        return
    with TrialBook(tmp_path / f"{new_id()}.db") as book:
        book.keep(entries)
        found = {each.id for each in choose(book, "One").entries}
    inside = {each.id for each in entries if each.trial == "One"}
    for _ in entries:
        here = [each for each in entries if each.id in inside]
        inside |= {id for each in here for id in (*ids_in(each.payload), *each.supersedes)}
        inside |= {each.id for each in entries if inside & set(each.supersedes)}
    assert found == inside


def test_a_trial_is_named_by_its_question_and_by_the_name_that_tells_it_apart(demo, tmp_path):
    with TrialBook(tmp_path / "two.db") as book:
        book.take_in(demo)
        question = book.entries("streak.question")[0]
        twin = book.append("streak.question", question.payload, trial=question.trial)
        by_id = choose(book, twin.id)
        assert [each.id for each in by_id.entries] == [twin.id]
        from labkit.book.trials import named_trials

        name = next(name for name, entry in named_trials(book, "streak.question").items() if entry == twin.id)
        assert choose(book, [name]).entries == by_id.entries
        assert len(choose(book, question.trial).entries) > 1


def test_a_trial_that_was_opened_is_taken_too(demo):
    from labkit.streak.trial import StreakTrial

    trial = StreakTrial(demo, "Invented test 4")
    assert choose(demo, trial).trials == ("Invented test 4",)


@pytest.mark.parametrize(
    ("trials", "words"),
    [
        ("Invented trail", "There is no trial “Invented trail” in this book. Did you mean “Invented trial”?"),
        ([], "Say which trials"),
        (None, "Say which trials"),
        ([7], "Say which trials"),
    ],
)
def test_trials_that_are_none(book, trials, words, tmp_path):
    with pytest.raises(LabError, match=words.replace("?", r"\?")):
        bundle(book, trials, to=tmp_path / "x.zip")
    assert not (tmp_path / "x.zip").exists()


def test_an_empty_book(tmp_path):
    with (
        TrialBook(tmp_path / "empty.db") as book,
        pytest.raises(LabError, match="Nothing stands in this book"),
    ):
        bundle(book, "Any", to=tmp_path / "x.zip")


def test_an_earlier_trial_that_counts_comes_along_unless_it_is_left_out(demo, tmp_path):
    """A texture trial learns from earlier ones of the same parts, a shade trial from its maker's swatches."""
    with TrialBook(tmp_path / "later.db") as book:
        book.take_in(demo)
        question = book.entries("texture.question")[0]
        later = book.append("texture.question", question.payload, trial="Later")
        chosen = choose(book, later.id)
        assert question.trial in chosen.also
        assert {each.kind for each in chosen.entries} >= {"texture.pour", "texture.note"}
        assert [each.id for each in choose(book, later.id, alone=True).entries] == [later.id]
        book.append(
            "texture.old_trials", {"question": later.id, "counts": {question.id: False}}, trial="Later"
        )
        refers = choose(book, later.id)
        assert {each.kind for each in refers.entries} == {"texture.question", "texture.old_trials"}


# What is written


def test_every_file_is_what_its_checksum_says_to_other_programs_too(demo, tmp_path):
    bundle(demo, demo.trials(), to=tmp_path / "x.zip")
    files = files_of(tmp_path / "x.zip")
    for line in files["checksums.sha256"].decode().splitlines():
        sum, name = line.split("  ")
        assert hashlib.sha256(files[name]).hexdigest() == sum
    if shutil.which("sha256sum"):
        with zipfile.ZipFile(tmp_path / "x.zip") as made:
            made.extractall(tmp_path / "out")
        subprocess.run(["sha256sum", "--strict", "-c", "checksums.sha256"], cwd=tmp_path / "out", check=True)


def test_all_trials_are_the_whole_book(demo, tmp_path):
    bundle(demo, demo.trials(), to=tmp_path / "x.zip")
    write_lines(demo, tmp_path / "lines.jsonl")
    assert files_of(tmp_path / "x.zip")["entries.jsonl"] == (tmp_path / "lines.jsonl").read_bytes()


def test_tables_hold_what_frames_hold(demo, tmp_path):
    bundle(demo, demo.trials(), to=tmp_path / "x.zip")
    files = files_of(tmp_path / "x.zip")
    kinds = {each.kind for each in demo.entries()}
    assert {f"tables/{kind}.csv" for kind in kinds} == {name for name in files if name.startswith("tables/")}
    for kind in kinds:
        frame = demo.frame(kind)
        table = pd.read_csv(io.BytesIO(files[f"tables/{kind}.csv"]), dtype=str, keep_default_na=False)
        assert list(table.columns) == list(frame.columns)
        assert list(table["entry"]) == list(frame["entry"])
        for name in frame.select_dtypes("number"):
            read = pd.to_numeric(table[name], errors="coerce")
            pd.testing.assert_series_equal(read.astype(float), frame[name].astype(float), check_names=False)


def test_the_schema_tells_of_every_column_with_its_unit(demo, tmp_path):
    bundle(demo, demo.trials(), to=tmp_path / "x.zip")
    files = files_of(tmp_path / "x.zip")
    package = json.loads(files["datapackage.json"])
    resources = {each["path"]: each for each in package["resources"]}
    assert resources.keys() == {name for name in files if name.startswith("tables/")} | {"entries.jsonl"}
    for name, each in resources.items():
        assert each["hash"] == f"sha256:{hashlib.sha256(files[name]).hexdigest()}"
        assert each["bytes"] == len(files[name])
        if name != "entries.jsonl":
            assert list(table_problems(files[name], each["schema"]["fields"])) == []
    fields = {each["name"]: each for each in resources["tables/texture.pour.csv"]["schema"]["fields"]}
    assert (fields["pour_c"]["type"], fields["pour_c"]["unit"]) == ("number", "°C")
    assert (fields["beeswax_g"]["title"], fields["beeswax_g"]["unit"]) == ("Weighed: beeswax", "g")
    assert fields["poured_at"]["type"] == "datetime"


def test_the_crate_is_one_graph_in_which_everything_named_is_there(demo, tmp_path):
    """RO-Crate 1.1, sections “Root Data Entity” and “Metadata File Descriptor”."""
    notebook = written_notebook(tmp_path / "my numbers.ipynb", ("1", told("1\n")))
    bundle(demo, demo.trials(), [notebook], tmp_path / "x.zip")
    files = files_of(tmp_path / "x.zip")
    crate = json.loads(files["ro-crate-metadata.json"])
    assert crate["@context"] == "https://w3id.org/ro/crate/1.1/context"
    things = {each["@id"]: each for each in crate["@graph"]}
    assert len(things) == len(crate["@graph"])
    descriptor = things["ro-crate-metadata.json"]
    assert descriptor["conformsTo"] == {"@id": "https://w3id.org/ro/crate/1.1"}
    assert descriptor["about"] == {"@id": "./"}
    root = things["./"]
    assert root["@type"] == "Dataset"
    assert all(root[key] for key in ("name", "description", "datePublished", "license"))
    parts = {each["@id"] for each in root["hasPart"]}
    assert {unquote(each) for each in parts} == files.keys() - {"ro-crate-metadata.json", "checksums.sha256"}
    assert "notebooks/my%20numbers.ipynb" in parts

    def named(value: object) -> set[str]:
        if isinstance(value, dict):
            return set().union(*map(named, value.values()), {value["@id"]} if "@id" in value else set())
        return set().union(*map(named, value)) if isinstance(value, list) else set()

    assert named(crate["@graph"]) - things.keys() == {"https://w3id.org/ro/crate/1.1"}


def test_a_kind_that_no_labkit_knows_is_a_table_too(book, tmp_path):
    bundle(book, NAME, to=tmp_path / "x.zip")
    table = files_of(tmp_path / "x.zip")["tables/attic.box.csv"].decode().splitlines()
    assert table[0].startswith("entry,trial,maker,time,forked,grams,remark")
    assert len(table) == 3


def test_a_book_on_either_store_is_handed_on_alike(new_book, tmp_path):
    book = filled(new_book())
    bundle(book, NAME, to=tmp_path / "x.zip")
    other = new_book()
    assert other.take_in(tmp_path / "x.zip").new == 5
    assert [each.line for each in other.all_entries()] == [
        each.line for each in book.all_entries() if each.trial == NAME
    ]


# What is personal


def test_names_of_people_are_in_no_byte_of_it(book, tmp_path):
    book.name_person("Somebody Invented")
    notebook = written_notebook(tmp_path / "told.ipynb", ("x", told("felt by Somebody Invented\n")))
    report = bundle(book, NAME, [notebook], tmp_path / "x.zip")
    assert b"Somebody" not in b"".join(files_of(tmp_path / "x.zip").values())
    assert LEFT_OUT.encode() in files_of(tmp_path / "x.zip")["notebooks/told.ipynb"]
    assert "the names of people" in "".join(report.left_out)
    kept = bundle(book, NAME, [notebook], tmp_path / "kept.zip", keep_personal=True)
    crate = json.loads(files_of(tmp_path / "kept.zip")["ro-crate-metadata.json"])
    assert "Somebody Invented" in {each.get("name") for each in crate["@graph"]}
    assert b"felt by Somebody Invented" in files_of(tmp_path / "kept.zip")["notebooks/told.ipynb"]
    assert kept.left_out == ("Names of people are in it, as you asked.",)
    lines = [files_of(tmp_path / name)["entries.jsonl"] for name in ("x.zip", "kept.zip")]
    assert lines[0] == lines[1], "hashes hold all the same"


def test_what_stands_in_an_entry_is_told_before(book, tmp_path):
    book.name_person("Somebody Invented")
    book.append(BOX, {"remark": "Somebody Invented found it too soft"}, trial=NAME)
    book.append(BOX, {"file": "/home/somebody/log.csv", "remark": "write to a.b@example.org"}, trial=NAME)
    report = contents(book, NAME)
    assert [each.rpartition(" holds ")[2] for each in report.personal] == [
        "a name.", "a folder and an address.",
    ]  # fmt: skip
    assert "Personal, and held fast by the hash: The box of" in str(report)


@pytest.mark.parametrize(
    "text",
    ["/home/somebody/lab/x", "/Users/somebody/x", "C:\\Users\\somebody\\x", "C:\\\\Users\\\\somebody\\\\x",
     "file:///home/somebody"],
)  # fmt: skip
def test_folders_that_say_whose_computer_it_was_are_left_out(book, tmp_path, text):
    html = {"output_type": "display_data", "metadata": {"x": text}, "data": {"text/html": [f"<p>{text}</p>"]}}
    error = {"output_type": "error", "ename": "E", "evalue": text, "traceback": [text, text]}
    notebook = written_notebook(
        tmp_path / "told.ipynb", (f"read('{text}')", [*told(text), html, error]), authors=[{"name": text}]
    )
    report = bundle(book, NAME, [notebook], tmp_path / "x.zip")
    assert b"somebody" not in files_of(tmp_path / "x.zip")["notebooks/told.ipynb"]
    assert report.left_out == ("Left out: names and folders in the notebooks told.",)


def test_a_notebook_keeps_its_words_tags_and_results_and_loses_notes_and_panels(book, tmp_path):
    view = {"application/vnd.jupyter.widget-view+json": {"model_id": "x"}, "text/plain": "Panel()"}
    shown = {"output_type": "display_data", "metadata": {}, "data": view}
    path = written_notebook(
        tmp_path / "told.ipynb",
        ("1 + 1", [*told("2\n"), shown]),
        widgets={"state": {}},
        labkit={"template": "t"},
    )
    content = json.loads(path.read_text())
    content["cells"][0]["metadata"] = {
        "tags": ["labkit-panel"],
        "execution": {"iopub.execute_input": "2026-01-01"},
        "jupyter": {"source_hidden": True},
    }
    path.write_text(json.dumps(content))
    bundle(book, NAME, [path], tmp_path / "x.zip")
    made = json.loads(files_of(tmp_path / "x.zip")["notebooks/told.ipynb"])
    cell = made["cells"][0]
    assert cell["source"] == "1 + 1"
    assert cell["metadata"] == {"tags": ["labkit-panel"], "jupyter": {"source_hidden": True}}
    assert cell["outputs"][0]["text"] == "2\n"
    assert cell["outputs"][1]["data"] == {"text/plain": "Panel()"}
    assert made["metadata"].keys() == {"kernelspec", "language_info", "labkit"}
    import nbformat

    nbformat.validate(made)


def test_a_picture_pasted_into_a_cell_loses_its_location(book, tmp_path):
    exif = Image.Exif()
    exif.get_ifd(0x8825)[1] = "N"
    exif[0x013B] = "Somebody"
    out = io.BytesIO()
    Image.new("RGB", (8, 8)).save(out, "JPEG", exif=exif)
    assert b"Somebody" in out.getvalue()
    path = written_notebook(tmp_path / "told.ipynb", ("1", told("1\n")))
    content = json.loads(path.read_text())
    pasted = {"p.jpg": {"image/jpeg": base64.b64encode(out.getvalue()).decode(), "text/html": "<script>"}}
    content["cells"].append({"cell_type": "markdown", "source": "![](attachment:p.jpg)", "metadata": {}})
    content["cells"][1]["attachments"] = pasted
    path.write_text(json.dumps(content))
    bundle(book, NAME, [path], tmp_path / "x.zip")
    made = json.loads(files_of(tmp_path / "x.zip")["notebooks/told.ipynb"])["cells"][1]["attachments"]
    assert made["p.jpg"].keys() == {"image/jpeg"}
    assert b"Somebody" not in base64.b64decode(made["p.jpg"]["image/jpeg"])


# Photos and notebooks


def test_photos_are_in_it_once_by_their_content(book, tmp_path):
    name = book.add_photo(picture())
    book.append(BOX, {"again": name}, trial=NAME)
    report = bundle(book, NAME, to=tmp_path / "x.zip")
    assert report.photos == (name,)
    assert files_of(tmp_path / "x.zip")[f"photos/{name}"] == book.photo_path(name).read_bytes()


def test_a_photo_that_is_gone_is_told_and_an_altered_one_refused(book, tmp_path):
    name = next(each.payload["photo"] for each in book.entries(trial=NAME) if "photo" in each.payload)
    content = book.photo_path(name).read_bytes()
    book.photo_path(name).write_bytes(content + b"x")
    with pytest.raises(LabError, match="A photo of these trials was altered"):
        bundle(book, NAME, to=tmp_path / "x.zip")
    assert not list(tmp_path.glob("*.zip")) + list(tmp_path.glob(".*part"))
    book.photo_path(name).unlink()
    report = bundle(book, NAME, to=tmp_path / "x.zip")
    assert "1 photo that entries name is not beside this book, so not in it." in report.remarks


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"print(1)", "is no notebook"),
        (b"[]", "is no notebook of format 4"),
        (b'{"cells": [], "nbformat": 3}', "is no notebook of format 4"),
        (b"\xff\xfe", "is no notebook"),
    ],
)
def test_a_notebook_that_is_none(book, tmp_path, content, words):
    (tmp_path / "my.ipynb").write_bytes(content)
    with pytest.raises(LabError, match=words):
        bundle(book, NAME, [tmp_path / "my.ipynb"], tmp_path / "x.zip")


def test_notebooks_that_are_not_there_or_have_one_name_or_no_results(book, tmp_path):
    with pytest.raises(LabError, match="cannot be found"):
        bundle(book, NAME, [tmp_path / "none.ipynb"], tmp_path / "x.zip")
    (tmp_path / "b").mkdir()
    one, two = (written_notebook(tmp_path / place, ("1", [])) for place in ("a.ipynb", "b/a.ipynb"))
    with pytest.raises(LabError, match="Two notebooks are called “a”"):
        bundle(book, NAME, [one, two], tmp_path / "x.zip")
    assert "has no results in it" in str(bundle(book, NAME, [one], tmp_path / "x.zip"))


# Whole, or not at all


def test_a_file_that_is_there_is_left_as_it_is(book, tmp_path):
    (tmp_path / "x.zip").write_text("mine")
    with pytest.raises(LabError, match="is there already and is left as it is"):
        bundle(book, NAME, to=tmp_path / "x.zip")
    assert (tmp_path / "x.zip").read_text() == "mine"


def test_places_that_cannot_be(book, tmp_path):
    with pytest.raises(LabError, match=r"is a folder\. Name the file to make in it"):
        bundle(book, NAME, to=tmp_path)
    with pytest.raises(LabError, match="There is no folder"):
        bundle(book, NAME, to=tmp_path / "none" / "x.zip")


def test_looking_writes_nothing_and_bounds_the_size(demo, tmp_path):
    before = set(tmp_path.iterdir())
    looked = contents(demo, demo.trials(), assets().notebooks)
    assert set(tmp_path.iterdir()) == before
    assert (looked.path, looked.sha256) == (None, "")
    made = bundle(demo, demo.trials(), assets().notebooks, tmp_path / "x.zip")
    assert made.size == (tmp_path / "x.zip").stat().st_size <= looked.size
    assert made.sha256 == hashlib.sha256((tmp_path / "x.zip").read_bytes()).hexdigest()
    assert "at most" in str(looked)
    assert "Written to" in str(made)


def test_stopping_it_leaves_nothing(book, tmp_path):
    def stop(done: int, total: int) -> None:
        assert 0 < done <= total
        if done == 3:
            raise KeyboardInterrupt

    before = set(tmp_path.iterdir())
    with pytest.raises(KeyboardInterrupt):
        bundle(book, NAME, to=tmp_path / "x.zip", progress=stop)
    assert set(tmp_path.iterdir()) == before


def test_progress_ends_at_all_files(book, tmp_path):
    told: list[tuple[int, int]] = []
    bundle(book, NAME, to=tmp_path / "x.zip", progress=lambda done, total: told.append((done, total)))
    assert told[-1] == (len(files_of(tmp_path / "x.zip")),) * 2


def test_a_recipe_has_a_card_with_its_cautions_and_brings_what_it_was_changed_from(demo, tmp_path):
    from labkit.share import verify

    report = bundle(demo, "Invented example: rosewood", to=tmp_path / "x.zip")
    files = files_of(tmp_path / "x.zip")
    assert report.also == ("Invented example: rosewood, first",)
    card = files["cards/Invented example_ rosewood.md"].decode()
    assert card.startswith("# Invented example: rosewood")
    assert "Hot fat burns" in card
    assert "Changed from Invented example: rosewood, first." in card
    assert verify(tmp_path / "x.zip").ok


def test_an_altered_card_is_found_though_its_checksum_was_written_anew(demo, tmp_path):
    from labkit.share import verify

    from .hostile import with_files

    bundle(demo, "Invented example: rosewood", to=tmp_path / "x.zip")
    files = files_of(tmp_path / "x.zip")
    name = "cards/Invented example_ rosewood.md"
    (tmp_path / "x.zip").write_bytes(with_files(files, **{name: files[name].replace(b"burns", b"warms")}))
    assert verify(tmp_path / "x.zip").problems == (
        f"{name}: not the card that this labkit makes of the entries, so altered.",
    )
