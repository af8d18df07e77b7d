"""The lab opens, and the panel of a notebook is live by itself, in the real JupyterLab."""

import json
import re
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

STANDIN = Path(__file__).parent / "standin"
PANEL_CELL = "from labkit.standin import StandInPanel\npanel = StandInPanel()\npanel"
WAIT_MS = 60_000
AWAKE = ".jp-NotebookPanel[data-labkit='awake'] .labkit-panel"


@pytest.fixture
def lab_env() -> dict[str, str]:
    return {"PYTHONPATH": str(STANDIN)}


def write_notebook(
    lab, source: str, name: str = "trial.ipynb", tags: tuple[str, ...] = ("labkit-panel",)
) -> str:
    cell = {
        "cell_type": "code",
        "id": "panel",
        "metadata": {"tags": list(tags)},
        "source": source,
        "outputs": [],
        "execution_count": None,
    }
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    notebook = {"cells": [cell], "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}
    (lab.folder / name).write_text(json.dumps(notebook), encoding="utf-8")
    return name


def live_in(page) -> int:
    """The id of the kernel that made the panel on the page."""
    return int(re.search(r"live in kernel (\d+)", page.inner_text(AWAKE))[1])


def wait_for_new_kernel(page, old: int) -> None:
    page.wait_for_function(
        "([selector, old]) => {const panel = document.querySelector(selector);"
        " return panel && /live in kernel \\d+/.test(panel.innerText)"
        " && !panel.innerText.includes('kernel ' + old + ',')}",
        arg=[AWAKE, str(old)],
        timeout=WAIT_MS,
    )


def bar(page):
    return page.locator(".labkit-bar:visible")


def wait_for_bar(page, words: str) -> None:
    bar(page).get_by_role("status").get_by_text(words, exact=True).wait_for(timeout=WAIT_MS)


# The command


def test_the_address_stands_alone_and_ctrl_c_is_calm(lab):
    assert lab.stop() == 0
    said = lab.said().splitlines()
    assert said[0].startswith(f"Put into {lab.folder}: ")
    assert said[1] == f"The lab is open at {lab.address}"
    assert said[2] == "Leave this window open while you work. Ctrl+C closes the lab."
    assert said[3:] == ["", "Closing the lab…", f"The lab is closed. What you saved is in {lab.folder}"]


def test_a_second_run_shows_the_lab_that_is_open(lab):
    again = lab.labkit("--no-browser")
    assert again.returncode == 0
    assert again.stdout == f"The lab is already open at {lab.address}\n"
    assert again.stderr == ""


def test_a_port_that_is_taken_is_named(lab, tmp_path):
    port = str(urlsplit(lab.address).port)
    other = lab.labkit("--lab", str(tmp_path / "other"), "--port", port, "--no-browser")
    assert other.returncode == 2
    assert other.stderr.startswith(f"Port {port} cannot be used")
    assert "Traceback" not in other.stderr


# The page


def test_the_first_template_opens_with_its_panel_live(lab, page, open_notebook):
    name = re.search(r"/lab/tree/([^?]+)", lab.address)[1]
    shown = open_notebook(page, lab, name)
    assert shown.locator(".labkit-panel").first.is_visible()
    assert shown.locator(".jp-OutputArea-output[data-mime-type*='stderr']").count() == 0
    assert bar(page).count() == 0


def test_the_file_list_is_folded_at_first_and_leaves_out_the_books_own_files(lab, page, open_notebook):
    open_notebook(page, lab, write_notebook(lab, PANEL_CELL))
    listed = page.locator(".jp-DirListing-itemName")
    expect(listed.first).to_be_hidden(timeout=WAIT_MS)
    page.get_by_role("tab", name=re.compile("^File Browser")).click()
    listed.get_by_text("READ-ME.txt").wait_for()
    assert (lab.folder / "lab-book.db").exists()
    assert not [name for name in listed.all_inner_texts() if "lab-book" in name]


def test_nothing_is_asked_of_the_network(lab, page, open_notebook):
    asked = []
    page.on("request", lambda request: asked.append(urlsplit(request.url)))
    open_notebook(page, lab, write_notebook(lab, PANEL_CELL))
    page.wait_for_timeout(3000)
    hosts = {url.netloc for url in asked if url.scheme in ("http", "https", "ws", "wss")}
    assert hosts == {urlsplit(lab.address).netloc}
    assert not [url.path for url in asked if "/lab/api/news" in url.path or "/lab/api/update" in url.path]


def test_the_panel_is_live_again_tomorrow(lab, page, open_notebook):
    name = write_notebook(lab, PANEL_CELL)
    open_notebook(page, lab, name)
    page.evaluate("jupyterapp.shell.currentWidget.context.save()")
    today = live_in(page)
    page.goto("about:blank")
    lab.stop()
    lab.start()
    open_notebook(page, lab, name)
    assert live_in(page) != today


def test_a_reload_runs_the_cell_once_more(lab, page, open_notebook):
    name = write_notebook(lab, PANEL_CELL)
    open_notebook(page, lab, name)
    before = live_in(page)
    open_notebook(page, lab, name)
    assert live_in(page) == before
    assert page.evaluate("jupyterapp.shell.currentWidget.content.widgets[0].model.executionCount") == 2


def test_the_panel_is_live_again_after_a_restart(lab, page, open_notebook):
    open_notebook(page, lab, write_notebook(lab, PANEL_CELL))
    old = live_in(page)
    page.evaluate("jupyterapp.shell.currentWidget.sessionContext.restartKernel()")
    wait_for_new_kernel(page, old)
    assert bar(page).count() == 0


def test_the_panel_is_live_again_after_the_kernel_was_killed(lab, page, open_notebook):
    open_notebook(page, lab, write_notebook(lab, PANEL_CELL))
    old = live_in(page)
    lab.kill_kernels()
    wait_for_new_kernel(page, old)
    assert bar(page).count() == 0
    page.get_by_text("The kernel stopped by itself and was started again.").wait_for(timeout=WAIT_MS)
    assert page.locator(".jp-Dialog").count() == 0


def test_a_notebook_without_a_panel_is_told_of_its_kernel_as_ever(lab, page, open_notebook):
    open_notebook(page, lab, write_notebook(lab, "1 + 1", tags=()), panel=False)
    lab.kill_kernels()
    page.locator(".jp-Dialog").get_by_text("Kernel Restarting").wait_for(timeout=WAIT_MS)


@pytest.mark.parametrize("lab_settings", [{"KernelRestarter": {"restart_limit": 0}}], ids=["no restarts"])
def test_a_kernel_that_stays_dead_is_started_by_one_button(lab, page, open_notebook):
    open_notebook(page, lab, write_notebook(lab, PANEL_CELL))
    old = live_in(page)
    lab.kill_kernels()
    wait_for_bar(page, "The kernel has stopped. What you typed is kept in this browser.")
    bar(page).get_by_role("button", name="Start again", exact=True).focus()
    page.keyboard.press("Enter")
    wait_for_new_kernel(page, old)
    assert bar(page).count() == 0
    assert len(lab.kernels()) == 1


def test_a_kernel_that_was_shut_down_is_woken_by_one_button(lab, page, open_notebook):
    open_notebook(page, lab, write_notebook(lab, PANEL_CELL))
    old = live_in(page)
    page.evaluate("jupyterapp.shell.currentWidget.sessionContext.shutdown()")
    wait_for_bar(page, "This panel is asleep.")
    bar(page).get_by_role("button", name="Wake the panel", exact=True).click()
    wait_for_new_kernel(page, old)


def test_other_code_in_the_panels_cell_is_not_run_until_asked(lab, page, open_notebook):
    stranger = "open('ran.txt', 'w').close()\n" + PANEL_CELL
    open_notebook(page, lab, write_notebook(lab, stranger), panel=False)
    wait_for_bar(page, "This panel is asleep.")
    page.wait_for_timeout(2000)
    assert not (lab.folder / "ran.txt").exists()
    bar(page).get_by_role("button", name="Wake the panel", exact=True).focus()
    page.keyboard.press("Space")
    page.wait_for_selector(AWAKE, timeout=WAIT_MS)
    assert (lab.folder / "ran.txt").exists()
    assert bar(page).count() == 0


def test_cells_without_the_tag_are_left_alone(lab, page, open_notebook):
    open_notebook(page, lab, write_notebook(lab, PANEL_CELL, tags=()), panel=False)
    page.wait_for_timeout(2000)
    assert page.evaluate("jupyterapp.shell.currentWidget.content.widgets[0].model.executionCount") is None
    assert bar(page).count() == 0


def test_a_file_beside_the_notebook_is_not_imported_in_the_place_of_a_library(lab, page, open_notebook):
    for name in ("numpy", "labkit", "ipywidgets"):
        (lab.folder / f"{name}.py").write_text("open('ran.txt', 'w').close()\n")
    open_notebook(page, lab, write_notebook(lab, PANEL_CELL))
    assert "numpy from numpy" in page.inner_text(AWAKE)
    assert not (lab.folder / "ran.txt").exists()


def test_a_panel_that_fails_says_so_and_can_be_tried_again(lab, page, open_notebook):
    (lab.folder / "broken").touch()
    open_notebook(page, lab, write_notebook(lab, PANEL_CELL), panel=False)
    wait_for_bar(page, "This panel did not wake. What went wrong is written in its place below.")
    (lab.folder / "broken").unlink()
    bar(page).get_by_role("button", name="Try again", exact=True).click()
    page.wait_for_selector(AWAKE, timeout=WAIT_MS)


def test_a_cell_run_by_hand_is_not_run_twice(lab, page, open_notebook):
    stranger = PANEL_CELL + "\n"
    open_notebook(page, lab, write_notebook(lab, "# mine\n" + stranger), panel=False)
    wait_for_bar(page, "This panel is asleep.")
    page.evaluate("jupyterapp.commands.execute('notebook:run-all-cells')")
    page.wait_for_selector(AWAKE, timeout=WAIT_MS)
    page.wait_for_timeout(1500)
    assert page.evaluate("jupyterapp.shell.currentWidget.content.widgets[0].model.executionCount") == 1


IS_PANEL_CELL = """async (sources) => {
    const {isPanelCell} = (await window._JUPYTERLAB['labkit-starter'].get('./pattern'))();
    return sources.map(isPanelCell);
}"""
GOOD = [PANEL_CELL, PANEL_CELL + "\n", PANEL_CELL.replace("standin", "next_pour")]
BAD = [
    "",
    " " + PANEL_CELL,
    "\n" + PANEL_CELL,
    PANEL_CELL + "\n\n",
    PANEL_CELL + ";",
    PANEL_CELL + " # it",
    PANEL_CELL + "\n!ls",
    "%run x.py\n" + PANEL_CELL,
    PANEL_CELL.replace("\n", "\r\n"),
    PANEL_CELL.replace("\n", "\u2028"),
    PANEL_CELL.replace("labkit.", "labkit_evil."),
    PANEL_CELL.replace("labkit.standin", "labkit.lab.server"),
    PANEL_CELL.replace("labkit.standin", "os"),
    PANEL_CELL.replace("StandInPanel()", "StandInPanel(print())"),
    PANEL_CELL.replace("= StandInPanel", "= OtherPanel"),
    PANEL_CELL.replace("StandInPanel", "StandIn"),
    PANEL_CELL.replace("import StandInPanel", "import StandInPanel, os"),
    PANEL_CELL.replace("import StandInPanel", "import *"),
    PANEL_CELL.replace("\npanel = ", "\nother = "),
    PANEL_CELL + "\n" + PANEL_CELL,
]


def test_only_three_plain_lines_count_as_a_panels_cell(lab, page, open_notebook):
    open_notebook(page, lab, write_notebook(lab, PANEL_CELL))
    assert page.evaluate(IS_PANEL_CELL, GOOD) == [True] * len(GOOD)
    assert page.evaluate(IS_PANEL_CELL, BAD) == [False] * len(BAD)


def test_a_message_as_large_as_a_phone_photo_reaches_the_kernel(lab, page, open_notebook):
    open_notebook(page, lab, write_notebook(lab, PANEL_CELL))
    answered = page.evaluate(
        """async () => {
            const kernel = jupyterapp.shell.currentWidget.sessionContext.session.kernel;
            const late = new Promise((resolve) => setTimeout(resolve, 40000, 'no answer'));
            const sent = kernel.requestExecute({code: '1'}, true, {photo: 'x'.repeat(20e6)});
            const done = sent.done.then((reply) => reply.content.status);
            return await Promise.race([done, late]).catch(String);
        }"""
    )
    assert answered == "ok"


# WCAG 2.2, definitions of relative luminance and contrast ratio (https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio)
def contrast(one: str, other: str) -> float:
    lights = sorted(luminance(each) + 0.05 for each in (one, other))
    return lights[1] / lights[0]


def luminance(css: str) -> float:
    channels = [int(each) / 255 for each in re.findall(r"\d+", css)[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return sum(weight * c for weight, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_the_contrast_formula_on_known_pairs():
    assert contrast("rgb(0, 0, 0)", "rgb(255, 255, 255)") == pytest.approx(21)  # WCAG 2.2: 21:1 at most
    assert contrast("rgb(10, 20, 30)", "rgb(10, 20, 30)") == 1


@pytest.mark.parametrize("theme", ["JupyterLab Light", "JupyterLab Dark"])
def test_the_bar_can_be_read(lab, page, open_notebook, theme):
    open_notebook(page, lab, write_notebook(lab, "1\n" + PANEL_CELL), panel=False)
    wait_for_bar(page, "This panel is asleep.")
    page.evaluate("(theme) => jupyterapp.commands.execute('apputils:change-theme', {theme})", theme)
    style = "(node) => {const s = getComputedStyle(node); return [s.color, s.backgroundColor]}"
    assert contrast(*bar(page).evaluate(style)) >= 4.5
    button = bar(page).get_by_role("button")
    assert contrast(*button.evaluate(style)) >= 4.5
    assert button.bounding_box()["height"] >= 24  # WCAG 2.2, 2.5.8 target size (minimum)
    assert bar(page).bounding_box()["height"] >= button.bounding_box()["height"]
