"""A notebook that is handed on: cells and results are kept, what is personal or of this computer is not."""

import base64
import json
from binascii import Error as NoBase64
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from labkit.book.canonical import parse
from labkit.book.files import plainly
from labkit.book.given import given_path
from labkit.errors import LabError
from labkit.share.personal import Personal

VIEW = "application/vnd.jupyter.widget-view+json"
_KERNEL = {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"}
_KEPT_CELL = ("id", "cell_type", "source", "metadata", "attachments", "outputs", "execution_count")
_KEPT_OUTPUT = ("output_type", "name", "text", "data", "execution_count", "ename", "evalue", "traceback")
_PICTURES = ("image/png", "image/jpeg")

Json = dict[str, Any]


def read_notebook(path: Path) -> Json:
    """Return a notebook's content; raise `LabError` where the file is none."""
    given_path(path, "the notebook")
    with plainly(path, "read"):
        content = path.read_bytes()
    return notebook_of(content, path.name)


def notebook_of(content: bytes, name: str) -> Json:
    """Return the notebook of a file's content; raise `LabError` where it is none."""
    try:
        found = parse(content.decode("utf-8"))
    except (UnicodeDecodeError, LabError) as error:
        raise LabError(f"“{name}” is no notebook: save it in Jupyter, then try again.") from error
    cells = found.get("cells") if isinstance(found, dict) else None
    if not isinstance(cells, list) or found.get("nbformat") != 4 or not all(map(_is_cell, cells)):
        raise LabError(f"“{name}” is no notebook of format 4: open it in Jupyter and save it.")
    return dict(found)


def code_cells(notebook: Json) -> Iterator[tuple[int, Json]]:
    """Yield the number of each cell that holds code, counted over all cells from 1, and the cell."""
    for number, cell in enumerate(notebook["cells"], start=1):
        if cell["cell_type"] == "code" and source(cell).strip():
            yield number, cell


def source(cell: Json) -> str:
    """Return what stands in a cell."""
    return joined(cell.get("source", ""))


def joined(text: Any) -> str:
    """Return a text that a notebook keeps whole or as a list of lines."""
    return "".join(map(str, text)) if isinstance(text, list) else str(text)


def handed_on(notebook: Json, personal: Personal | None) -> tuple[bytes, bool]:
    """Return the text of a notebook to hand on, and whether something personal was left out.

    Kept: cells, tags, results. Without `personal` names, folders and all notes
    about the notebook stay as well. The state of panels is never kept.
    """
    clean: Callable[[str], str] = personal.without if personal else str
    metadata = dict(notebook.get("metadata", {}))
    metadata.pop("widgets", None)
    kept = _kept_notes(metadata) if personal else metadata
    cells = [_cell(cell, clean, personal is not None) for cell in notebook["cells"]]
    for number, cell in enumerate(cells):
        cell.setdefault("id", f"cell-{number}")
    made = {"cells": cells, "metadata": kept, "nbformat": 4, "nbformat_minor": 5}
    text = json.dumps(made, indent=1, ensure_ascii=False, sort_keys=True) + "\n"
    before = json.dumps(notebook, ensure_ascii=False)
    left_out = personal is not None and (
        bool(personal.found_in(before)) or metadata.keys() - kept.keys() != set()
    )
    return text.encode("utf-8", "replace"), left_out


def _is_cell(cell: object) -> bool:
    return isinstance(cell, dict) and cell.get("cell_type") in ("code", "markdown", "raw")


def _kept_notes(metadata: Json) -> Json:
    language = metadata.get("language_info", {})
    language = language if isinstance(language, dict) else {}
    told = {key: str(language[key]) for key in ("name", "version") if key in language}
    kept: Json = {"kernelspec": _KERNEL, "language_info": {"name": "python"} | told}
    mark = metadata.get("labkit")
    if isinstance(mark, dict):
        kept["labkit"] = {key: str(mark[key]) for key in ("template", "version") if key in mark}
    return kept


def _cell(cell: Json, clean: Callable[[str], str], strict: bool) -> Json:
    kept = {key: cell[key] for key in _KEPT_CELL if key in cell}
    kept["source"] = clean(source(cell))
    kept["metadata"] = _cell_notes(cell.get("metadata", {})) if strict else cell.get("metadata", {})
    if "attachments" in kept:
        kept["attachments"] = _attachments(kept["attachments"])
    if cell["cell_type"] == "code":
        kept["outputs"] = [_output(each, clean) for each in cell.get("outputs", []) if isinstance(each, dict)]
        kept.setdefault("execution_count", None)
    return kept


def _cell_notes(metadata: Any) -> Json:
    if not isinstance(metadata, dict):
        return {}
    kept = {"tags": [str(each) for each in metadata.get("tags", [])]} if metadata.get("tags") else {}
    folded = metadata.get("jupyter")
    hidden = isinstance(folded, dict) and folded.get("source_hidden") is True
    return kept | ({"jupyter": {"source_hidden": True}} if hidden else {})


def _output(output: Json, clean: Callable[[str], str]) -> Json:
    kept = {key: output[key] for key in _KEPT_OUTPUT if key in output}
    if "data" in kept:
        kept["data"] = {
            kind: clean(joined(value)) if isinstance(value, str | list) and kind not in _PICTURES else value
            for kind, value in kept["data"].items()
            if kind != VIEW
        }
        kept["metadata"] = {}
    for key in ("text", "evalue"):
        if key in kept:
            kept[key] = clean(joined(kept[key]))
    if "traceback" in kept:
        kept["traceback"] = [clean(str(line)) for line in kept["traceback"]]
    return kept


def _attachments(attachments: Any) -> Json:
    """Return the pictures pasted into a cell, without location and camera; nothing else that was pasted."""
    kept: Json = {}
    for name, kinds in (attachments if isinstance(attachments, dict) else {}).items():
        pictures = {kind: _picture(joined(kinds[kind])) for kind in _PICTURES if kind in kinds}
        kept[name] = {kind: content for kind, content in pictures.items() if content}
    return kept


def _picture(encoded: str) -> str:
    from labkit.book.photos import cleaned

    try:
        content, _ = cleaned(base64.b64decode(encoded, validate=False))
    except (LabError, NoBase64, ValueError):
        return ""
    return base64.b64encode(content).decode("ascii")
