"""The lab folder: the maker's notebooks, their trial book, and the examples."""

import errno
import json
import os
import tempfile
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from labkit import __version__
from labkit.assets import Assets, assets
from labkit.book.here import NAME as BOOK
from labkit.errors import LabError, did_you_mean

KERNEL = {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"}


@dataclass(frozen=True)
class Furnished:
    """What one furnishing did: the names of files made, and what the maker should know."""

    made: tuple[str, ...]
    remarks: tuple[str, ...]


def lab_folder(named: str | None = None) -> Path:
    """Return the lab folder: as named, else LABKIT_LAB, else `lipcolour-lab` at home."""
    chosen = named or os.environ.get("LABKIT_LAB") or Path.home() / "lipcolour-lab"
    return Path(chosen).expanduser().absolute()


def book_place(folder: Path) -> Path | str:
    """Return where a lab's trial book is: where LABKIT_BOOK points (a path or a URL), else in the lab."""
    named = os.environ.get("LABKIT_BOOK")
    if named and "://" in named:
        return named
    return Path(named) if named else folder / BOOK


def furnish(folder: Path, shipped: Assets | None = None) -> Furnished:
    """Make the lab folder whole without touching anything that is there.

    LabError if the folder cannot be made or written to.
    """
    shipped = shipped or assets()
    wanted = {each.name: template_bytes(each) for each in shipped.notebooks}
    wanted |= {f"examples/{each.name}": each.read_bytes() for each in shipped.demo}
    wanted["READ-ME.txt"] = files("labkit.lab").joinpath("READ-ME.txt").read_bytes()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        assert_writable(folder)
        made = [name for name, content in wanted.items() if write_new(folder / name, content)]
    except OSError as problem:
        raise LabError(cannot_use(folder, problem)) from problem
    return Furnished((*made, *_begun_book(book_place(folder))), tuple(old_templates(folder, shipped)))


def _begun_book(place: Path | str) -> list[str]:
    if isinstance(place, str) or place.exists():
        return []
    from labkit.book import TrialBook

    TrialBook(place).close()
    return [place.name]


def template_bytes(template: Path) -> bytes:
    """Return the text of a copy of `template`: without outputs, with its name and version."""
    notebook = json.loads(template.read_text(encoding="utf-8"))
    for cell in notebook["cells"]:
        if cell["cell_type"] == "code":
            cell.update(outputs=[], execution_count=None)
    notebook["metadata"].pop("widgets", None)
    notebook["metadata"].setdefault("kernelspec", KERNEL)
    notebook["metadata"]["labkit"] = {"template": template.stem, "version": __version__}
    return (json.dumps(notebook, indent=1, ensure_ascii=False) + "\n").encode()


def new_notebook(folder: Path, template: str, name: str | None = None) -> Path:
    """Put another copy of a template into the lab and return its path.

    A name that is taken gets the next free number. LabError for an unknown
    template, and for a name that is no plain file name.
    """
    shipped = assets()
    source = shipped.notebook(template)
    if source is None:
        known = [each.stem for each in shipped.notebooks]
        raise LabError(f"There is no template notebook “{template}”. {did_you_mean(template, known)}")
    stem = (name or source.stem).removesuffix(".ipynb").strip()
    if not stem or stem.startswith(".") or set(stem) & set('/\\:*?"<>|') or not stem.isprintable():
        raise LabError(
            f'“{name}” cannot be the name of a notebook. Use a plain name without / \\ : * ? " < > | '
            "and without a dot in front, such as “winter trial”."
        )
    content = template_bytes(source)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        number = 1
        while not write_new(path := folder / f"{_numbered(stem, number)}.ipynb", content):
            number += 1
    except OSError as problem:
        raise LabError(cannot_use(folder, problem)) from problem
    return path


def _numbered(stem: str, number: int) -> str:
    return stem if number == 1 else f"{stem} {number}"


def old_templates(folder: Path, shipped: Assets) -> list[str]:
    """Return one line for each template of which the maker has only an earlier version."""
    copies = [mark for path in sorted(folder.glob("*.ipynb")) if (mark := _mark(path))]
    current = {mark["template"] for mark in copies if _release(mark["version"]) >= _release(__version__)}
    return [
        f"Your “{each.stem}” is from an earlier labkit and is left as it is. "
        f"For the new one beside it: labkit new {each.stem}"
        for each in shipped.notebooks
        if each.stem not in current and any(mark["template"] == each.stem for mark in copies)
    ]


def _mark(path: Path) -> dict[str, str] | None:
    """Return the template name and version in a notebook's metadata, None if it has none."""
    try:
        mark: Any = json.loads(path.read_text(encoding="utf-8"))["metadata"]["labkit"]
        return {"template": str(mark["template"]), "version": str(mark["version"])}
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _release(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split(".") if part.isdecimal())


def assert_writable(folder: Path) -> None:
    """Raise OSError unless a file can really be written in `folder`."""
    handle, name = tempfile.mkstemp(prefix=".labkit-", dir=folder)
    os.close(handle)
    os.unlink(name)


def write_new(path: Path, content: bytes) -> bool:
    """Write a file whole or not at all; return False, and write nothing, if the name is taken."""
    if os.path.lexists(path):
        return False
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, draft = tempfile.mkstemp(prefix=".labkit-", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(draft, 0o666 & ~_umask())
        return publish(Path(draft), path)
    finally:
        Path(draft).unlink(missing_ok=True)


def publish(draft: Path, path: Path) -> bool:
    """Give a finished draft its name unless the name is taken; return whether it was given."""
    try:
        os.link(draft, path)
    except FileExistsError:
        return False
    except OSError:  # a disk without hard links (a USB stick): hold the name, then move the draft onto it
        try:
            path.touch(exist_ok=False)
        except FileExistsError:
            return False
        os.replace(draft, path)
    return True


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def cannot_use(folder: Path, problem: OSError) -> str:
    """Say in plain words why the lab folder cannot be used, and what to do."""
    other = "Choose another folder with: labkit --lab FOLDER"
    in_the_way = next((each for each in (folder, *folder.parents) if os.path.lexists(each)), folder)
    if not in_the_way.is_dir():
        return f"{in_the_way} is a file, and the lab needs a folder of that name. {other}"
    if problem.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return f"Nothing can be written to {in_the_way}, so the lab cannot be kept there. {other}"
    return f"The lab folder {folder} cannot be used: {problem.strerror or problem}. {other}"
