"""The command `labkit`: what it says, and that it never ends in a traceback."""

import os
import re
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from labkit import __version__
from labkit.cli import COMMANDS, OPTIONS, main, make_parser
from labkit.errors import LabError
from labkit.lab import server

CHECKOUT = Path(__file__).resolve().parents[2]


@pytest.fixture(autouse=True)
def own_places(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("LABKIT_LAB", str(tmp_path / "lab"))
    monkeypatch.delenv("LABKIT_BOOK", raising=False)


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[tuple]:
    """Calls of the server, which is not started."""
    calls: list[tuple] = []
    monkeypatch.setattr(server, "open_lab", lambda *args: calls.append(args))
    return calls


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)
def test_every_command_has_help(command, capsys: pytest.CaptureFixture[str]):
    with pytest.raises(SystemExit) as ended:
        main([command.name, "--help"])
    assert ended.value.code == 0
    assert command.help[1:] in " ".join(capsys.readouterr().out.split())
    assert f"    {command.name}  " in make_parser().format_help()


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)
def test_every_command_is_in_the_readme(command):
    assert f"labkit {command.name}" in (CHECKOUT / "README.md").read_text(encoding="utf-8")


def test_the_version(capsys: pytest.CaptureFixture[str]):
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"labkit {__version__}\n"


@pytest.mark.parametrize("argv", [[], ["open"], ["--no-browser", "open"], ["open", "--no-browser"]])
def test_labkit_alone_opens_the_lab(argv: list[str], opened: list[tuple], tmp_path: Path):
    assert main(argv) == 0
    assert opened == [(tmp_path / "lab", "texture-trial.ipynb", None, "--no-browser" not in argv, False)]
    assert (tmp_path / "lab" / "texture-trial.ipynb").is_file()


@pytest.mark.parametrize("argv", [["--lab", "LAB", "open"], ["open", "--lab", "LAB"], ["--lab", "LAB"]])
def test_the_lab_may_be_named_before_or_after_the_command(
    argv: list[str], opened: list[tuple], tmp_path: Path
):
    named = str(tmp_path / "named")
    assert main([named if each == "LAB" else each for each in argv] + ["--port", "9100"]) == 0
    assert opened == [(tmp_path / "named", "texture-trial.ipynb", 9100, True, False)]


@pytest.mark.parametrize("argv", [["--tablet"], ["open", "--tablet"], ["--tablet", "open"]])
def test_a_tablet_is_let_in_only_when_asked(argv: list[str], opened: list[tuple]):
    assert main(argv) == 0
    assert opened[0][-1] is True


@pytest.mark.parametrize("port", ["0", "65536", "-1", "many", "8 8", "٣"])
def test_a_port_that_is_none_is_refused(port: str, opened: list[tuple], capsys: pytest.CaptureFixture[str]):
    assert main([f"--port={port}"]) == 2
    assert f"“{port}” is no port" in capsys.readouterr().err
    assert opened == []


def test_without_jupyterlab_it_says_what_to_install(
    monkeypatch, capsys: pytest.CaptureFixture[str], tmp_path
):
    monkeypatch.setitem(sys.modules, "jupyterlab.labapp", None)
    assert main([]) == 2
    said = capsys.readouterr().err
    assert said.startswith("JupyterLab cannot be started")
    assert said.endswith("-m pip install jupyterlab\n")
    assert said.count("\n") == 1
    assert not (tmp_path / "lab").exists()


def test_new_says_what_it_made(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    assert main(["new", "texture-trial", "winter"]) == 0
    assert capsys.readouterr().out == f"Made {tmp_path / 'lab' / 'winter.ipynb'}\n"


def test_an_error_is_one_line_and_ends_with_2(capsys: pytest.CaptureFixture[str]):
    assert main(["new", "texture-tril"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == "There is no template notebook “texture-tril”. Did you mean “texture-trial”?\n"


def test_ctrl_c_is_calm(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def interrupted(*_args: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(server, "open_lab", interrupted)
    assert main([]) == 130
    assert capsys.readouterr().err == "\nStopped.\n"


def test_a_terminal_that_knows_few_letters_is_no_reason_to_fail(tmp_path: Path):
    ran = subprocess.run(
        [sys.executable, "-m", "labkit", "new", "nonsense"],
        env=os.environ | {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
        capture_output=True,
        text=True,
    )
    assert ran.returncode == 2
    assert ran.stderr.startswith("There is no template notebook ?nonsense?.")


# check


def test_check_on_a_whole_lab(opened: list[tuple], capsys: pytest.CaptureFixture[str]):
    main([])
    capsys.readouterr()
    assert main(["check"]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"labkit {__version__}, Python {sys.version.split()[0]}, jupyterlab ")
    assert said.endswith("Everything is whole.\n")


def test_check_before_there_is_a_lab(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    assert main(["check"]) == 1
    assert "Wrong: there is no such lab folder yet. To make it, run: labkit\n" in capsys.readouterr().out
    assert not (tmp_path / "lab").exists()


def test_check_finds_an_altered_entry(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    import sqlite3

    main(["take-in", str(CHECKOUT / "data" / "demo-book.jsonl")])
    book = sqlite3.connect(tmp_path / "lab" / "lab-book.db")
    (table,) = [
        name
        for (name,) in book.execute("select name from sqlite_master where type = 'table'").fetchall()
        if {"text", "hash"} <= {row[1] for row in book.execute(f"pragma table_info({name})")}
    ]
    for (name,) in book.execute("select name from sqlite_master where type = 'trigger'").fetchall():
        book.execute(f"drop trigger {name}")
    book.execute(f"update {table} set text = replace(text, 'a', 'b') where rowid = 1")
    book.commit()
    book.close()
    capsys.readouterr()
    assert main(["check"]) == 1
    said = capsys.readouterr().out
    assert re.search(r"Wrong: The \w+ of .* was altered after it was written\.", said)
    assert "labkit take-in FILE" in said
    assert "Everything is whole" not in said


def test_check_on_a_file_that_is_no_book(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    (tmp_path / "lab").mkdir()
    (tmp_path / "lab" / "lab-book.db").write_text("not a book" * 100)
    assert main(["check"]) == 1
    assert "Wrong: " in capsys.readouterr().out


# The trial book out and in


def test_a_book_goes_out_and_in(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    demo, out = CHECKOUT / "data" / "demo-book.jsonl", tmp_path / "out.jsonl"
    count = len(demo.read_text(encoding="utf-8").splitlines())
    assert main(["take-in", str(demo)]) == 0
    assert main(["write-out", str(out)]) == 0
    assert main(["take-in", str(out)]) == 0
    assert main(["take-in", str(out), "--lab", str(tmp_path / "other")]) == 0
    assert capsys.readouterr().out.splitlines() == [
        f"{count} entries taken in; 0 were here already.",
        f"{count} entries written out to {out}",
        f"0 entries taken in; {count} were here already.",
        f"{count} entries taken in; 0 were here already.",
    ]


def test_writing_out_never_writes_over_a_file(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    (tmp_path / "out.jsonl").write_text("mine")
    main(["take-in", str(CHECKOUT / "data" / "demo-book.jsonl")])
    capsys.readouterr()
    assert main(["write-out", str(tmp_path / "out.jsonl")]) == 2
    assert "is there already and is left as it is" in capsys.readouterr().err
    assert (tmp_path / "out.jsonl").read_text() == "mine"
    assert sorted(each.name for each in tmp_path.iterdir()) == ["lab", "out.jsonl"]


def test_writing_out_where_there_is_no_folder(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    main(["take-in", str(CHECKOUT / "data" / "demo-book.jsonl")])
    assert main(["write-out", str(tmp_path / "none" / "out.jsonl")]) == 2
    assert f"There is no folder {tmp_path / 'none'}. Make it first" in capsys.readouterr().err


def test_writing_out_before_there_is_a_book(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    assert main(["write-out", str(tmp_path / "out.jsonl")]) == 2
    assert "nothing to write out" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_line_that_is_no_entry_is_refused_by_its_number(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    lines = (CHECKOUT / "data" / "demo-book.jsonl").read_text(encoding="utf-8").splitlines()
    (tmp_path / "in.jsonl").write_text("\n".join([lines[0], "nonsense", lines[1]]) + "\n", encoding="utf-8")
    assert main(["take-in", str(tmp_path / "in.jsonl")]) == 1
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "2 entries taken in; 0 were here already."
    assert said[1].startswith("Refused: line 2: This is nothing that labkit wrote, or it is cut short.")
    assert said[2].startswith("What was refused is not in your book; all the rest is.")


@pytest.fixture
def theirs(tmp_path: Path) -> Path:
    """A written-out book of twenty entries of a kind that no labkit knows."""
    from labkit.book import TrialBook, write_lines

    with TrialBook(tmp_path / "theirs.db") as book:
        for number in range(20):
            book.append("attic.box", {"number": number, "word": "soft"}, trial="Theirs")
        write_lines(book, tmp_path / "theirs.jsonl")
    return tmp_path / "theirs.jsonl"


JARGON = re.compile(
    r"JSON|schema|checksum|hash|RFC|UTF|UUID|SQL|canonical|payload|[0-9a-f]{8}-|Traceback", re.I
)


@pytest.mark.parametrize(
    ("change", "code", "words"),
    [
        (lambda whole: whole, 0, "20 entries taken in"),
        (lambda whole: whole[:-9], 1, "Refused: line 20: It is cut short: the file was not copied whole."),
        (lambda whole: whole.replace(b"soft", b"sofa", 1), 1, "Refused: line 1: The box of "),
        (lambda whole: whole.replace(b"soft", b"sofa"), 1, "Refused: 10 more."),
        (lambda whole: b"", 2, "is empty: nothing was in it. Name a file that"),
        (lambda whole: b"butter 12\nwax 6\n", 2, "is no trial book that was written out: nothing was in it"),
        (lambda whole: bytes(range(256)) * 99, 2, "is no trial book that was written out: nothing was in it"),
    ],
    ids=["whole", "cut", "a letter", "many letters", "empty", "text", "picture"],
)
def test_taking_in_a_file_that_is_not_as_it_was(theirs, capsys, tmp_path, change, code, words):
    theirs.write_bytes(change(theirs.read_bytes()))
    assert main(["take-in", str(theirs)]) == code
    said = "".join(capsys.readouterr())
    assert words in said
    assert not JARGON.search(said.replace(str(theirs), ""))
    assert (tmp_path / "lab").exists() == (code != 2)


def test_taking_in_what_a_newer_labkit_wrote(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    from labkit.book.entry import new_entry, new_maker

    entry = new_entry("texture.pour", "Theirs", {}, new_maker(), schema=99)
    (tmp_path / "newer.jsonl").write_text(entry.line + "\n", encoding="utf-8")
    assert main(["take-in", str(tmp_path / "newer.jsonl")]) == 1
    said = capsys.readouterr().out
    assert "was written by a newer labkit than this one" in said
    assert "Install a newer labkit to read it." in said
    assert not JARGON.search(said)


def test_a_folder_or_a_book_in_place_of_a_file(theirs, capsys, tmp_path: Path):
    assert main(["take-in", str(tmp_path)]) == 2
    assert f"{tmp_path} is a folder. Name the file in it" in capsys.readouterr().err
    assert main(["take-in", str(tmp_path / "theirs.db")]) == 2
    assert "is itself the file of a trial book. Write it out first" in capsys.readouterr().err
    main(["take-in", str(theirs)])
    assert main(["write-out", str(tmp_path)]) == 2
    assert f"is a folder. Say which file to make in it, such as {tmp_path / 'my-book.jsonl'}" in (
        capsys.readouterr().err
    )


def test_an_empty_book_is_not_written_out(opened: list[tuple], capsys, tmp_path: Path):
    main([])
    assert main(["write-out", str(tmp_path / "out.jsonl")]) == 2
    assert "Nothing stands in the trial book yet" in capsys.readouterr().err
    assert [each.name for each in tmp_path.iterdir()] == ["lab"]


def test_a_book_with_photos_says_that_they_stay_behind(opened: list[tuple], capsys, tmp_path: Path):
    from labkit.book import TrialBook

    main([])
    with TrialBook(tmp_path / "lab" / "lab-book.db") as book:
        book.append("attic.box", {"photo": "a" * 64 + ".jpg"}, trial="Photos")
    assert main(["write-out", str(tmp_path / "out.jsonl")]) == 0
    assert "The photos are not in it" in capsys.readouterr().out
    assert main(["check"]) == 1
    said = capsys.readouterr().out
    assert re.search(r"Wrong: The box of .* in “Photos”: its photo is missing\.\n", said)


@pytest.mark.skipif(sys.platform != "linux", reason="a disk can be made full at will on Linux alone")
def test_writing_out_onto_a_full_disk(theirs, capsys, tmp_path: Path):
    import resource

    from labkit.book import TrialBook

    main(["take-in", str(theirs)])
    with TrialBook(tmp_path / "lab" / "lab-book.db") as book:
        book.append("attic.box", {"remark": "x" * 100_000}, trial="Long")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, before[1]))
    try:
        code = main(["write-out", str(tmp_path / "out.jsonl")])
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert code == 2
    assert "The disk is full: “out.jsonl” could not be written. Make room" in capsys.readouterr().err
    assert not (tmp_path / "out.jsonl").exists()


# Words that are not understood


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (["chek"], "labkit has no command “chek”. Did you mean “check”?"),
        (["take", "in", "x"], "labkit has no command “take”. Did you mean “take-in”?"),
        (["--prot", "8890"], "There is no “--prot”. Did you mean “--port”? For help: labkit --help"),
        (["check", "--labs=x"], "There is no “--labs=x”. Did you mean “--lab”"),
        (["take-in"], "Say which FILE: labkit take-in FILE. For help: labkit take-in --help"),
        (["new"], "Say which NOTEBOOK: labkit new NOTEBOOK. For help: labkit new --help"),
        (
            ["take-in", "my", "book"],
            "“book” does not belong here. A name with blanks in it stands in quotes.",
        ),
        (["check", "--port", "8890"], "“--port” does not belong here. For help: labkit check --help"),
        (["--lab"], "After --lab comes the name of a folder. For help: labkit --help"),
        (["open", "--port"], "After --port comes a number, such as 8890. For help: labkit open --help"),
        (["--no-browser=yes"], "Nothing comes after --no-browser. For help: labkit --help"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_a_word_that_is_not_understood(argv: list[str], words: str, opened, capsys):
    assert main(argv) == 2
    said = capsys.readouterr()
    assert words in said.err
    assert (said.out, said.err.count("\n"), opened) == ("", 1, [])


def test_every_option_is_known_to_the_check_on_them():
    parsers = [
        make_parser(),
        *(command for command in make_parser()._subparsers._group_actions[0].choices.values()),
    ]
    found = {each for parser in parsers for action in parser._actions for each in action.option_strings}
    assert found - {"-h"} == set(OPTIONS)


def test_taking_in_a_file_that_is_not_there(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    assert main(["take-in", str(tmp_path / "none.jsonl")]) == 2
    assert "There is no file" in capsys.readouterr().err
    assert not (tmp_path / "lab").exists()


# Ports and browsers


def test_a_port_in_use_is_passed_over_or_named():
    with socket.socket() as taken:
        taken.bind((server.HOST, 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(LabError, match=f"Port {port} cannot be used"):
            server.free_port(port)
    assert server.free_port() >= server.FIRST_PORT


def test_no_free_port_at_all(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(server, "_is_free", lambda port, host: False)
    with pytest.raises(LabError, match="No port from 8888 to 8987 is free"):
        server.free_port()


@pytest.mark.parametrize(
    ("browser", "screen", "shown"), [(True, True, 1), (False, True, 0), (True, False, 0)]
)
def test_the_address_is_printed_in_any_case(monkeypatch, capsys, browser: bool, screen: bool, shown: int):
    opened: list[str] = []
    monkeypatch.setattr(server.webbrowser, "open", opened.append)
    monkeypatch.setattr(server, "has_screen", lambda: screen)
    server.announce("The lab is open at URL", "URL", browser)
    assert capsys.readouterr().out == "The lab is open at URL\n"
    assert opened == ["URL"] * shown


def test_a_browser_that_fails_is_no_reason_to_stop(monkeypatch, capsys):
    def broken(_url: str) -> None:
        raise server.webbrowser.Error("no browser")

    monkeypatch.setattr(server.webbrowser, "open", broken)
    monkeypatch.setattr(server, "has_screen", lambda: True)
    server.announce("The lab is open at URL", "URL", True)
    assert capsys.readouterr().out == "The lab is open at URL\n"


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="these always have a screen")
def test_a_terminal_alone_is_no_screen(monkeypatch: pytest.MonkeyPatch):
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"):
        monkeypatch.delenv(name, raising=False)
    assert not server.has_screen()
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert server.has_screen()


def test_the_token_is_not_among_the_options():
    options = server.server_options(Path("my-lab"), 8890)
    assert not [each for each in options if "token" in each.lower()]
    assert "--ServerApp.root_dir=my-lab" in options
    assert "--ServerApp.port=8890" in options
