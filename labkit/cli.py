"""The command `labkit`: open the lab, add a notebook, check, and carry the trial book out and in."""

import argparse
import re
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from labkit import __version__
from labkit.assets import assets
from labkit.errors import LabError, did_you_mean
from labkit.lab import folder as lab

if TYPE_CHECKING:
    from labkit.book import TrialBook

NEEDED = ("jupyterlab", "ipywidgets", "anywidget", "numpy", "scipy", "pandas", "sqlalchemy")
MEND_BOOK = (
    "the trial book is not as it was written (above). Keep a copy of the lab folder as it is; a book that "
    "was written out earlier gives back what is missing: labkit take-in FILE"
)
REFUSED = (
    "What was refused is not in your book; all the rest is. Once that is mended, take the file in again: "
    "nothing comes twice."
)
SHOWN = 10
"""Refused lines that are listed one by one."""
COMMON_HELP = {
    "lab": "the lab folder (default: LABKIT_LAB, else lipcolour-lab in your home folder)",
    "no_browser": "open no browser; the address is printed in any case",
    "port": "the port to use (default: the first free one from 8888 up)",
    "tablet": "let a tablet on your home network in, over HTTPS and with a code",
}
OPTIONS = (
    "--help", "--version", "--lab", "--no-browser", "--port", "--tablet", "--notebook", "--keep-personal",
    "--alone", "--look", "--rerun", "--code",
)  # fmt: skip


@dataclass(frozen=True)
class Command:
    """One subcommand: its name, its line of help, what it takes, and what it does.

    A name that ends in ? may be left out, one that ends in + may be several; an option
    that ends in = takes a value, and may stand there several times.
    """

    name: str
    help: str
    run: Callable[[argparse.Namespace], int]
    arguments: tuple[tuple[str, str], ...] = ()
    options: tuple[tuple[str, str], ...] = ()


def open_lab(args: argparse.Namespace) -> int:
    """Make the lab folder if it is missing and open JupyterLab in it."""
    from labkit.lab import server

    server.assert_jupyterlab()
    folder, shipped = lab.lab_folder(args.lab), assets()
    furnished = lab.furnish(folder, shipped)
    if furnished.made:
        print(f"Put into {folder}: {', '.join(furnished.made)}")
    for remark in furnished.remarks:
        print(remark)
    server.open_lab(folder, shipped.opened.name, args.port, not args.no_browser, args.tablet)
    return 0


def new_notebook(args: argparse.Namespace) -> int:
    """Put another copy of a template notebook into the lab."""
    path = lab.new_notebook(lab.lab_folder(args.lab), args.notebook, args.name)
    print(f"Made {path}")
    return 0


def check(args: argparse.Namespace) -> int:
    """Say whether everything is whole; 1 if something is wrong."""
    folder = lab.lab_folder(args.lab)
    found = {name: _version(name) for name in NEEDED}
    print(f"labkit {__version__}, Python {sys.version.split()[0]}, {_listed(found)}")
    print(f"Lab folder: {folder}")
    problems = [*_missing(found), *_folder_problems(folder), *_book_problems(lab.book_place(folder))]
    for problem in problems:
        print(f"Wrong: {problem}")
    if not problems:
        print("Everything is whole.")
    return 1 if problems else 0


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""


def _listed(found: dict[str, str]) -> str:
    return ", ".join(f"{name} {number or 'missing'}" for name, number in found.items())


def _missing(found: dict[str, str]) -> list[str]:
    names = " ".join(name for name, number in found.items() if not number)
    return [f"{names} is missing. Install it: {sys.executable} -m pip install {names}"] if names else []


def _folder_problems(folder: Path) -> list[str]:
    if not folder.exists():
        return ["there is no such lab folder yet. To make it, run: labkit"]
    try:
        lab.assert_writable(folder)
    except OSError as problem:
        return [lab.cannot_use(folder, problem)]
    return []


def _book_problems(place: str | Path) -> list[str]:
    if isinstance(place, Path) and not place.exists():
        print("Trial book: none yet; labkit makes it when the lab is opened.")
        return []
    from labkit.book import TrialBook

    print(f"Trial book: {place.name if isinstance(place, Path) else 'on a server'}")
    try:
        with TrialBook(place) as book:
            problems = book.check()
    except LabError as problem:
        return [str(problem)]
    return [*problems, MEND_BOOK] if problems else []


def write_out(args: argparse.Namespace) -> int:
    """Write the whole trial book into a new file."""
    from labkit.book import TrialBook, write_lines
    from labkit.book.files import plainly

    place, target = lab.book_place(lab.lab_folder(args.lab)), Path(args.file).expanduser().absolute()
    if isinstance(place, Path) and not place.exists():
        raise LabError(f"There is no trial book in {place.parent} yet, so there is nothing to write out.")
    _refuse_folder(target)
    with plainly(target), tempfile.TemporaryDirectory(prefix=".labkit-", dir=target.parent) as folder:
        draft = Path(folder) / target.name
        with TrialBook(place) as book:
            count, photos = write_lines(book, draft), _has_photos(book)
        if not count:
            raise LabError("Nothing stands in the trial book yet, so there is nothing to write out.")
        if not lab.publish(draft, target):
            raise LabError(f"{target} is there already and is left as it is. Choose another name.")
    print(f"{_entries(count)} written out to {target}")
    if photos:
        print("The photos are not in it: copy the folder of photos beside the trial book, too.")
    return 0


def _refuse_folder(target: Path) -> None:
    if target.is_dir():
        raise LabError(
            f"{target} is a folder. Say which file to make in it, such as {target / 'my-book.jsonl'}"
        )
    if not target.parent.is_dir():
        raise LabError(f"There is no folder {target.parent}. Make it first, or check its name.")


def bundle(args: argparse.Namespace) -> int:
    """Write chosen trials into one file to hand on."""
    from labkit.book import TrialBook
    from labkit.share.commands import hand_on

    folder, target = lab.lab_folder(args.lab), Path(args.file).expanduser().absolute()
    place = lab.book_place(folder)
    if isinstance(place, Path) and not place.exists():
        raise LabError(f"There is no trial book in {place.parent} yet, so there is nothing to hand on.")
    with TrialBook(place) as book:
        return hand_on(
            book, folder, target, args.trial, args.notebook or (), args.keep_personal, args.alone, args.look
        )


def verify(args: argparse.Namespace) -> int:
    """Check a bundle; 1 if something is wrong."""
    from labkit.share.commands import check_bundle

    return check_bundle(Path(args.file).expanduser().absolute(), args.rerun, args.code)


def _has_photos(book: "TrialBook") -> bool:
    from labkit.book.photos import names_in

    return any(names_in(each.payload) for each in book.all_entries())


def take_in(args: argparse.Namespace) -> int:
    """Take a bundle or a written-out book into the trial book; 1 if a line was refused."""
    from labkit.book import TrialBook
    from labkit.book.bundle_file import BundleFile, is_zip
    from labkit.book.exchange import refuse_other_files

    source, folder = Path(args.file).expanduser().absolute(), lab.lab_folder(args.lab)
    if source.is_dir():
        raise LabError(f"{source} is a folder. Name the file in it that “labkit bundle” or “write-out” made.")
    if not source.exists():
        raise LabError(f"There is no file {source}. Name one that “labkit bundle” or “write-out” made.")
    if is_zip(source):
        BundleFile(source).close()
    else:
        refuse_other_files(source)
    lab.furnish(folder)
    with TrialBook(lab.book_place(folder)) as book:
        report = book.take_in(source)
    print(f"{_entries(report.new)} taken in; {report.already} were here already.")
    if report.photos:
        print("1 photo is new." if report.photos == 1 else f"{report.photos} photos are new.")
    for each in report.refused[:SHOWN]:
        print(f"Refused: {each.name}: {'; '.join(each.why.splitlines())}")
    if len(report.refused) > SHOWN:
        print(f"Refused: {len(report.refused) - SHOWN} more.")
    if report.refused:
        print(REFUSED)
    return 1 if report.refused else 0


def _entries(count: int) -> str:
    return "1 entry" if count == 1 else f"{count} entries"


COMMANDS = (
    Command("open", "open the lab (what labkit alone does)", open_lab),
    Command(
        "new",
        "put another copy of a template notebook into the lab",
        new_notebook,
        (("notebook", "which template, such as texture-trial"), ("name?", "what to call the copy")),
    ),
    Command("check", "say whether the trial book, the photos and the lab folder are whole", check),
    Command(
        "write-out",
        "write the whole trial book into one file, to keep safe or to hand on",
        write_out,
        (("file", "the file to make, such as my-book.jsonl; one that is there already is left as it is"),),
    ),
    Command(
        "take-in",
        "take a bundle or a written-out trial book into this lab's: nothing is overwritten or comes twice",
        take_in,
        (("file", "the file that “labkit bundle” or “labkit write-out” made"),),
    ),
    Command(
        "bundle",
        "write chosen trials into one file for somebody else: entries, tables, photos, notebooks",
        bundle,
        (
            ("file", "the file to make, such as rosewood.zip; one that is there already is left as it is"),
            ("trial+", "which trials, by name; a name with blanks in it stands in quotes"),
        ),
        (
            ("--notebook=", "a notebook to put in, saved with its results; may stand there several times"),
            ("--keep-personal", "keep people's names, and names of folders in the notebooks"),
            ("--alone", "leave out the other trials that these learn from"),
            ("--look", "say what would be in it and what is personal; write nothing"),
        ),
    ),
    Command(
        "verify",
        "say whether a bundle is as it was written; nothing in it is run unless you say so",
        verify,
        (("file", "the file that “labkit bundle” made"),),
        (
            ("--rerun", "run its notebooks again on its entries alone, and compare the numbers"),
            ("--code", "print the code that a rerun would run"),
        ),
    ),
)


class Parser(argparse.ArgumentParser):
    """A parser that says in plain words what it did not understand, as a `LabError`."""

    def error(self, message: str) -> NoReturn:
        """Raise what is wrong, and where help is."""
        said = message.removeprefix("argument ")
        for wrong, plain in _IN_PLAIN_WORDS:
            said = re.sub(wrong, plain.replace("PROG", self.prog), said)
        raise LabError(f"{said.rstrip('.')}. For help: {self.prog} --help")

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is not None and value not in action.choices:
            known = [str(each) for each in action.choices]
            raise LabError(f"labkit has no command “{value}”. {did_you_mean(str(value), known)}")


_IN_PLAIN_WORDS = (
    (r"^the following arguments are required: (.*)$", r"Say which \1: PROG \1"),
    (r"^--lab: expected one argument$", "After --lab comes the name of a folder"),
    (r"^--port: expected one argument$", "After --port comes a number, such as 8890"),
    (r"^--port: ", ""),
    (r"^--notebook: expected one argument$", "After --notebook comes the name of a notebook"),
    (r"^(--\S+): ignored explicit argument .*$", r"Nothing comes after \1"),
)


def make_parser() -> Parser:
    """Return the parser of the whole command line."""
    parser = Parser(
        prog="labkit",
        description="A lab notebook for a small-batch maker of lip colour. "
        "Without a command it opens the lab.",
        epilog="More on one of them: labkit COMMAND --help",
        allow_abbrev=False,
    )
    parser.add_argument(
        "--version", action="version", version=f"labkit {__version__}", help="say which labkit this is"
    )
    parser.set_defaults(run=open_lab, lab=None, no_browser=False, port=None, tablet=False, of=parser)
    _add_lab(parser)
    _add_opening(parser)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    for command in COMMANDS:
        one = commands.add_parser(
            command.name, help=command.help, description=_sentence(command.help), allow_abbrev=False
        )
        one.set_defaults(run=command.run, of=one)
        _add_lab(one)
        if command.run is open_lab:
            _add_opening(one)
        _add_own(one, command)
    return parser


def _add_own(parser: argparse.ArgumentParser, command: Command) -> None:
    """Add what one command takes."""
    named = parser.add_argument_group("what to name")
    for name, explained in command.arguments:
        nargs = name[-1] if name[-1] in "?+" else None
        called = name.rstrip("?+")
        named.add_argument(called, nargs=nargs, metavar=called.upper(), help=explained)
    for name, explained in command.options:
        if name.endswith("="):
            parser.add_argument(name.rstrip("="), action="append", metavar="NAME", help=explained)
        else:
            parser.add_argument(name, action="store_true", help=explained)


def read_arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    """Return what was asked for, or raise `LabError` for a word that is not understood."""
    words = list(sys.argv[1:] if argv is None else argv)
    for word in words:
        if word.startswith("--") and word.partition("=")[0] not in OPTIONS:
            raise LabError(f"There is no “{word}”. {did_you_mean(word, OPTIONS)} For help: labkit --help")
    args, others = make_parser().parse_known_args(words)
    if others:
        quotes = "" if others[0].startswith("-") else " A name with blanks in it stands in quotes."
        raise LabError(f"“{others[0]}” does not belong here.{quotes} For help: {args.of.prog} --help")
    return args


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + "."


def _add_lab(parser: argparse.ArgumentParser) -> None:
    # Suppressed defaults let an option stand before the command or after it.
    parser.add_argument("--lab", metavar="FOLDER", default=argparse.SUPPRESS, help=COMMON_HELP["lab"])


def _add_opening(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--no-browser", action="store_true", default=argparse.SUPPRESS, help=COMMON_HELP["no_browser"]
    )
    parser.add_argument("--port", type=_port, default=argparse.SUPPRESS, help=COMMON_HELP["port"])
    parser.add_argument(
        "--tablet", action="store_true", default=argparse.SUPPRESS, help=COMMON_HELP["tablet"]
    )


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"“{text}” is no port; a port is a number up to 65535, such as 8890")
    return int(text)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; return 0, 1 if a check found something, 2 if it could not be done."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        args = read_arguments(argv)
        return int(args.run(args))
    except LabError as problem:
        print(problem, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("\nStopped.", file=sys.stderr)
        return 130


if __name__ == "__main__":
    sys.exit(main())
