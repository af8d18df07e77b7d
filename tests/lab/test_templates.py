"""Every template notebook, and every one that is added: its panel wakes by itself in the lab."""

import json
import re
from pathlib import Path

import pytest

from labkit.assets import assets
from labkit.lab.folder import template_bytes
from labkit.lab.server import HERE

STARTER = HERE / "labextensions/labkit-starter/static/remoteEntry.labkit.js"


def panel_pattern() -> re.Pattern[str]:
    """The pattern that the lab's extension holds a cell against before it runs it."""
    (written,) = re.findall(r"const PANEL_CELL = /\^(.*)\$/;", STARTER.read_text(encoding="utf-8"))
    return re.compile(written)


@pytest.fixture(params=assets().notebooks, ids=lambda path: path.stem)
def template(request: pytest.FixtureRequest) -> Path:
    return request.param


def test_it_has_one_panel_cell_that_the_lab_wakes(template: Path):
    cells = json.loads(template.read_text(encoding="utf-8"))["cells"]
    panels = [each for each in cells if "labkit-panel" in each["metadata"].get("tags", [])]
    assert len(panels) == 1
    assert panels[0]["cell_type"] == "code"
    assert panel_pattern().fullmatch("".join(panels[0]["source"]))


def test_its_code_is_folded_away(template: Path):
    cells = json.loads(template.read_text(encoding="utf-8"))["cells"]
    shown = [
        "".join(each["source"])
        for each in cells
        if each["cell_type"] == "code" and not each["metadata"].get("jupyter", {}).get("source_hidden")
    ]
    assert shown == []


def test_its_copy_is_a_valid_notebook_without_outputs(template: Path):
    import nbformat

    copy = nbformat.reads(template_bytes(template).decode("utf-8"), as_version=4)
    nbformat.validate(copy)
    assert copy.metadata.kernelspec.name == "python3"
    assert copy.metadata.labkit.template == template.stem
    assert [each.outputs for each in copy.cells if each.cell_type == "code" and each.outputs] == []
