"""The commands that hand on a trial, check what was handed on, and take it in."""

import json

import pytest

from labkit.book import TrialBook
from labkit.cli import main
from labkit.lab.folder import BOOK

from .conftest import NAME, filled, told, written_notebook


@pytest.fixture
def lab(tmp_path, monkeypatch):
    """A lab with the invented trial, and a notebook."""
    folder = tmp_path / "lab"
    folder.mkdir()
    monkeypatch.setenv("LABKIT_LAB", str(folder))
    monkeypatch.delenv("LABKIT_BOOK", raising=False)
    with TrialBook(folder / BOOK) as book:
        filled(book)
        book.name_person("Somebody Invented")
    written_notebook(folder / "my numbers.ipynb", ("print(1.5)", told("1.5, felt by Somebody Invented\n")))
    return folder


def test_a_trial_goes_out_is_checked_and_comes_in(lab, tmp_path, capsys, monkeypatch):
    file = str(tmp_path / "x.zip")
    assert main(["bundle", file, NAME, "--notebook", "my numbers"]) == 0
    said = capsys.readouterr().out
    assert said.index("at most") < said.index("Written to"), "what is in it is said before it is written"
    assert "5 entries, 1 photo, 1 notebook" in said
    assert "Left out: the names of people." in said
    assert "Tell it to whoever gets the file by another way than the file itself." in said

    assert main(["verify", file]) == 0
    said = capsys.readouterr().out
    assert "Everything is as it was written." in said
    assert "A rerun runs the code of “my numbers” (1 cell)" in said
    assert "To read that code: --code. To run it: --rerun" in said
    assert main(["verify", file, "--code"]) == 0
    assert "# my numbers, cell 1\nprint(1.5)\n" in capsys.readouterr().out

    monkeypatch.setenv("LABKIT_LAB", str(tmp_path / "other"))
    assert main(["take-in", file]) == 0
    assert capsys.readouterr().out == "5 entries taken in; 0 were here already.\n1 photo is new.\n"
    assert main(["take-in", file]) == 0
    assert capsys.readouterr().out == "0 entries taken in; 5 were here already.\n"


def test_looking_writes_nothing(lab, tmp_path, capsys):
    assert main(["bundle", str(tmp_path / "x.zip"), NAME, "Other trial", "--look"]) == 0
    said = capsys.readouterr().out
    assert "Trials: Invented trial; Other trial" in said
    assert "Nothing was written." in said
    assert [each.name for each in tmp_path.iterdir()] == ["lab"]


def test_names_stay_where_that_is_asked_for(lab, tmp_path, capsys):
    import zipfile

    notebook = str(lab / "my numbers.ipynb")
    assert main(["bundle", str(tmp_path / "x.zip"), NAME, "--keep-personal", "--notebook", notebook]) == 0
    with zipfile.ZipFile(tmp_path / "x.zip") as made:
        assert b"Somebody Invented" in made.read("notebooks/my numbers.ipynb")
        assert "Somebody Invented" in json.dumps(json.loads(made.read("ro-crate-metadata.json")))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["FILE", "Invented trail"], "Did you mean “Invented trial”?"),
        (["FILE", NAME, "--notebook", "none"], "There is no notebook “none”, here or in"),
        (["FILE", NAME, "--notebook"], "After --notebook comes the name of a notebook."),
        (["FILE"], "Say which TRIAL"),
        (["FOLDER", NAME], "is a folder. Name the file to make in it"),
    ],
)
def test_what_cannot_be_handed_on_is_said_in_one_line(lab, tmp_path, capsys, words, said):
    places = {"FILE": str(tmp_path / "x.zip"), "FOLDER": str(tmp_path)}
    assert main(["bundle", *(places.get(each, each) for each in words)]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1
    assert not (tmp_path / "x.zip").exists()


def test_no_book_yet(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("LABKIT_LAB", str(tmp_path / "none"))
    monkeypatch.delenv("LABKIT_BOOK", raising=False)
    assert main(["bundle", str(tmp_path / "x.zip"), "Any"]) == 2
    assert "There is no trial book in" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_bundle_in_which_something_is_wrong_ends_with_1(lab, tmp_path, capsys):
    file = tmp_path / "x.zip"
    main(["bundle", str(file), NAME])
    file.write_bytes(file.read_bytes()[:-100])
    capsys.readouterr()
    assert main(["verify", str(file)]) == 1
    assert "Wrong: “x.zip” is no whole bundle: it is cut short" in capsys.readouterr().out
    assert main(["take-in", str(file)]) == 2
    assert "is no whole bundle" in capsys.readouterr().err
    assert main(["verify", str(tmp_path / "none.zip")]) == 2
