"""The lab as a maker starts it, and a real browser on it."""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import quote

import psutil
import pytest

SHOTS = Path(__file__).parent / "shots"
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
CHROMIUM_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
START_S = 90
STOP_S = 30
READY_MS = 60_000
KERNEL_IS_IDLE = """(name) => {
    const notebook = window.jupyterapp?.shell.currentWidget;
    const context = notebook?.context;
    const kernel = notebook?.sessionContext?.session?.kernel;
    return context?.path === name && context.isReady && notebook.sessionContext.isReady
        && kernel?.connectionStatus === 'connected' && kernel.status === 'idle';
}"""


class Lab:
    """One lab folder, and the `labkit` that runs in it, as a process of its own."""

    def __init__(self, home: Path, env: dict[str, str], settings: dict[str, object]) -> None:
        self.home = home
        self.folder = home / "lab"
        self.log = home / "lab.log"
        self.env = os.environ | private_places(home) | env
        self.address = ""
        self._process: subprocess.Popen[bytes] | None = None
        config = Path(self.env["JUPYTER_CONFIG_DIR"]) / "jupyter_server_config.json"
        config.parent.mkdir(parents=True)
        config.write_text(json.dumps({"LabApp": {"expose_app_in_browser": True}} | settings))

    def labkit(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run one `labkit` command on this lab to its end."""
        command = [sys.executable, "-m", "labkit", "--lab", str(self.folder), *arguments]
        return subprocess.run(
            command, env=self.env, cwd=self.home, capture_output=True, encoding="utf-8", timeout=START_S
        )

    def start(self, *options: str) -> None:
        """Open the lab, and wait until it says where."""
        command = [sys.executable, "-m", "labkit", "--lab", str(self.folder), "--no-browser", *options]
        with self.log.open("wb") as log:
            self._process = subprocess.Popen(
                command, env=self.env, cwd=self.home, stdin=subprocess.DEVNULL, stdout=log, stderr=log
            )
        end = time.monotonic() + START_S
        while not (found := re.search(r"https?://\S+", self.said())):
            if self._process.poll() is not None or time.monotonic() > end:
                raise AssertionError(f"the lab did not open; it said:\n{self.said()}")
            time.sleep(0.1)
        self.address = found[0]

    def said(self) -> str:
        """Everything that the command has printed since it was started."""
        return self.log.read_text(encoding="utf-8", errors="replace")

    def address_of(self, name: str) -> str:
        """The address of any notebook of this lab."""
        server, token = re.fullmatch(r"(.*/lab/tree/).*?(\?.*)?", self.address).groups()
        return f"{server}{quote(name)}{token or ''}"

    def stop(self) -> int | None:
        """Close the lab as Ctrl+C does; return how it ended."""
        if self._process is None:
            return None
        if self._process.poll() is None:
            if os.name == "posix":
                self._process.send_signal(signal.SIGINT)
            else:
                self._process.terminate()
        try:
            return self._process.wait(STOP_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            raise

    def kernels(self) -> list[psutil.Process]:
        """The kernels that run now, oldest first."""
        assert self._process is not None
        children = psutil.Process(self._process.pid).children(recursive=True)
        kernels = [each for each in children if _is_kernel(each)]
        return sorted(kernels, key=lambda each: each.create_time())

    def kill_kernels(self) -> None:
        """End every kernel at once, without warning, as a full memory would."""
        for kernel in self.kernels():
            kernel.kill()


def _is_kernel(process: psutil.Process) -> bool:
    try:
        return "ipykernel_launcher" in process.cmdline()
    except (psutil.NoSuchProcess, psutil.AccessDenied):
        return False


def private_places(home: Path) -> dict[str, str]:
    """Settings, data and home of a maker who never started anything before."""
    names = ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR", "HOME")
    return {name: str(home / "home" / name.lower()) for name in names} | {"USERPROFILE": str(home / "home")}


@pytest.fixture
def lab_env() -> dict[str, str]:
    """More environment for the lab; a test module may override it."""
    return {}


@pytest.fixture
def lab_settings() -> dict[str, object]:
    """More Jupyter settings of the maker's own; a test module may override it."""
    return {}


@pytest.fixture
def lab_options() -> tuple[str, ...]:
    """More options of the command that opens the lab; a test module may override it."""
    return ()


@pytest.fixture
def lab(
    tmp_path: Path, lab_env: dict[str, str], lab_settings: dict[str, object], lab_options: tuple[str, ...]
) -> Iterator[Lab]:
    """An open lab in a new folder."""
    opened = Lab(tmp_path, lab_env, lab_settings)
    try:
        opened.start(*lab_options)
        yield opened
    finally:
        opened.stop()


def cannot(reason: str) -> None:
    """Skip for want of a browser; on CI that is a failure."""
    if os.environ.get("CI", "").lower() == "true":
        pytest.fail(f"CI must run the browser tests: {reason}")
    pytest.skip(f"browser tests skipped: {reason}")


@pytest.fixture(scope="session")
def chromium() -> str:
    """The path of a Chromium on this computer."""
    found = next((path for name in CHROMIUM_NAMES if (path := shutil.which(name))), None)
    if not found:
        cannot("no Chromium found")
    return str(found)


@pytest.fixture(scope="session")
def browser(chromium: str) -> Iterator[object]:
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        cannot("playwright is not installed")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=chromium, args=CHROMIUM_FLAGS)
        yield started
        started.close()


@pytest.fixture
def page_options() -> dict[str, object]:
    """More about the browser, such as its time zone or its size; a test may override it."""
    return {}


@pytest.fixture
def page(browser, request: pytest.FixtureRequest, page_options: dict[str, object]) -> Iterator[object]:
    """A page of a browser that has never been anywhere; its picture is kept if the test fails."""
    context = browser.new_context(**{"viewport": {"width": 1280, "height": 900}} | page_options)
    opened = context.new_page()
    yield opened
    report = getattr(request.node, "browser_report", None)
    if report is None or report.failed:
        SHOTS.mkdir(exist_ok=True)
        opened.screenshot(path=SHOTS / f"{re.sub(r'[^A-Za-z0-9_.-]+', '_', request.node.name)}.png")
    context.close()


@pytest.fixture
def open_notebook() -> Callable[..., object]:
    """`open_notebook(page, lab, name, panel=True)`: open one, wait until kernel and panel are ready.

    Returns the locator of the notebook's page within the lab.
    """

    def opening(page, lab: Lab, name: str, panel: bool = True):
        page.goto(lab.address_of(name))
        page.wait_for_function(KERNEL_IS_IDLE, arg=name, timeout=READY_MS)
        shown = page.locator(".jp-NotebookPanel:not(.lm-mod-hidden)")
        if panel:
            page.wait_for_selector(".jp-NotebookPanel[data-labkit='awake'] .labkit-panel", timeout=READY_MS)
            page.wait_for_function(KERNEL_IS_IDLE, arg=name, timeout=READY_MS)
        return shown

    return opening


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]):
    report = yield
    if report.when == "call":
        item.browser_report = report
    return report


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "browser: needs a Chromium; skipped where there is none, never on CI")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "page" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.browser)
