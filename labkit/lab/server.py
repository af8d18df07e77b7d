"""JupyterLab, opened in the lab folder: for this computer alone, or for a tablet at home too."""

import json
import logging
import os
import signal
import socket
import ssl
import sys
import urllib.request
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import quote

from labkit.book.here import NAME as BOOK
from labkit.errors import LabError
from labkit.lab.folder import write_new
from labkit.lab.reach import HERE_ALONE, Reach

HERE = Path(__file__).resolve().parent / "jupyter"
STARTER = "lab/extensions/labkit-starter/static/remoteEntry.labkit.js"
HOST = HERE_ALONE.host
WORKSPACES = Path(".jupyterlab", "workspaces")
FIRST_PORT = 8888
TRIED_PORTS = 100
# Not in the file list: what no Jupyter lists, and the files that the trial book is made of.
HIDDEN = (
    *("__pycache__", "*.pyc", "*.pyo", ".DS_Store", "*~"),
    *(f"{BOOK}{ending}" for ending in ("", "-wal", "-shm", "-journal")),
    f"{Path(BOOK).stem}.photos",
)
# Unless the maker arranged it otherwise, a notebook has the whole width: the file list is one press away.
FOLDED: dict[str, object] = {
    "data": {"layout-restorer:data": {"left": {"collapsed": True, "visible": True}}},
    "metadata": {"id": "default"},
}
# A phone photo passes the 10 MB at which the server would drop the connection.
MESSAGE_BYTES = 64 * 1024 * 1024


def open_lab(
    folder: Path, notebook: str, port: int | None = None, browser: bool = True, tablet: bool = False
) -> None:
    """Open `notebook` in the lab at `folder`; return when the lab is closed.

    If that lab is open already, its address is shown and this returns at once. With ``tablet`` it is
    reached from the home network, see `labkit.lab.tablet`.
    LabError if JupyterLab is missing, the port is taken, or it is open for this computer alone.
    """
    assert_jupyterlab()
    if running := running_address(folder, notebook):
        if tablet and not running.startswith("https:"):
            raise LabError(
                "The lab is open already, for this computer alone. Close it (Ctrl+C in its window), then "
                "start it again with: labkit --tablet"
            )
        announce(f"The lab is already open at {running}", running, browser)
        return
    serve(folder, notebook, port, browser, _tablet_reach() if tablet else HERE_ALONE)


def _tablet_reach() -> Reach:
    from labkit.lab.tablet import tablet_reach

    return tablet_reach()


def assert_jupyterlab() -> None:
    """LabError unless JupyterLab can be imported."""
    try:
        import jupyterlab.labapp  # type: ignore[import-untyped]  # noqa: F401
    except ImportError as problem:
        raise LabError(
            f"JupyterLab cannot be started ({problem}). Install it where labkit is installed: "
            f"{sys.executable} -m pip install jupyterlab"
        ) from problem


def running_address(folder: Path, notebook: str) -> str | None:
    """Return the address of `notebook` in a lab that already runs for `folder`, or None."""
    from jupyter_server.serverapp import list_running_servers

    for server in list_running_servers():
        if _same_folder(server.get("root_dir", ""), folder) and _answers(server["url"], server["token"]):
            return address(server["url"], notebook, server["token"])
    return None


def _same_folder(one: str, other: Path) -> bool:
    try:
        return os.path.samefile(one, other)
    except OSError:
        return False


def _answers(url: str, token: str) -> bool:
    """Tell whether a live server at `url` is one that labkit started."""
    request = urllib.request.Request(url + STARTER, headers={"Authorization": f"token {token}"})
    direct = urllib.request.build_opener(
        urllib.request.ProxyHandler({}), urllib.request.HTTPSHandler(context=_own_certificate())
    )
    try:
        with direct.open(request, timeout=5) as answer:
            return bool(answer.url == request.full_url)
    except OSError:
        return False


def _own_certificate() -> ssl.SSLContext:
    """Return a context for a server on this computer, which signed its certificate itself."""
    context = ssl.create_default_context()
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    return context


def address(url: str, notebook: str, token: str) -> str:
    """Return the full address of a notebook on a server.

    >>> address("http://127.0.0.1:8888/", "my trial.ipynb", "abc")
    'http://127.0.0.1:8888/lab/tree/my%20trial.ipynb?token=abc'
    """
    return f"{url}lab/tree/{quote(notebook)}" + (f"?token={token}" if token else "")


def free_port(wanted: int | None = None, host: str = HOST) -> int:
    """Return `wanted` if it is free, or the first free port from 8888 up. LabError if taken."""
    if wanted is not None:
        if not _is_free(wanted, host):
            raise LabError(
                f"Port {wanted} cannot be used: another program has it, or it is reserved. "
                "Leave --port out and labkit finds a free one, or name another, such as "
                f"--port {free_port(host=host)}."
            )
        return wanted
    for port in range(FIRST_PORT, FIRST_PORT + TRIED_PORTS):
        if _is_free(port, host):
            return port
    raise LabError(
        f"No port from {FIRST_PORT} to {FIRST_PORT + TRIED_PORTS - 1} is free. "
        "Close other labs, or name a port: labkit --port 9100"
    )


def _is_free(port: int, host: str) -> bool:
    with socket.socket() as probe:
        if os.name == "posix":  # as the server itself does; on Windows it would mean sharing the port
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError:
            return False
    return True


def serve(folder: Path, notebook: str, port: int | None, browser: bool, reach: Reach = HERE_ALONE) -> None:
    """Run JupyterLab in this process until it is told to stop.

    A port that was not named and is taken between its choice and its use
    makes way for the next one.
    """
    others = 0 if port else TRIED_PORTS - 1
    server = make_server(folder, free_port(port, reach.host), others, reach)
    listen_on_next(server, others)
    opened: list[str] = []

    def tell() -> None:
        token = server.identity_provider.token
        opened.append(address(server.connection_url, notebook, "" if reach.told else token))
        announce(f"The lab is open at {opened[0]}", opened[0], browser)
        for line in reach.told:
            print(line, flush=True)
        print("Leave this window open while you work. Ctrl+C closes the lab.", flush=True)

    _stop_calmly(server.stop)
    _start_quietly(server)
    server.io_loop.add_callback(tell)
    try:
        server.start_ioloop()
    except SystemExit as problem:
        if not opened:
            raise LabError(
                f"Port {server.port} was taken just now by another program. Try again."
            ) from problem
        raise
    print(f"The lab is closed. What you saved is in {folder}", flush=True)


def listen_on_next(server: Any, others: int) -> None:
    """Let a server that finds its port taken listen on one of the ``others`` behind it, and say so.

    The server looks for a free port when it is set up and binds it when it is
    started; another lab that is started in the same instant may come between.
    """
    listen = server.http_server.listen

    def listen_somewhere(port: int, address: str) -> None:
        for each in range(port, port + others + 1):
            try:
                listen(each, address)
            except OSError:
                if each == port + others:
                    raise
            else:
                if each != port:
                    server.port = each
                    server.write_server_info_file()
                return

    server.http_server.listen = listen_somewhere


def make_server(folder: Path, port: int, others: int = 0, reach: Reach = HERE_ALONE) -> Any:
    """Return a JupyterLab server for `folder`, set up but not yet listening.

    If `port` was taken meanwhile, one of ``others`` more ports is chosen.
    """
    _prepend("JUPYTER_PATH", HERE)
    _prepend("JUPYTER_CONFIG_PATH", HERE / "config")
    from jupyterlab.labapp import LabApp

    fold_file_list(folder / WORKSPACES)
    try:
        server = LabApp.initialize_server(argv=server_options(folder, port, others, reach))
    except SystemExit as problem:
        raise LabError(
            "JupyterLab did not start; what it says is written above. Settings of your own in the folder "
            "“.jupyter” at home can be the reason."
        ) from problem
    server.web_app.settings.setdefault("websocket_max_message_size", MESSAGE_BYTES)
    return server


def server_options(folder: Path, port: int, others: int = 0, reach: Reach = HERE_ALONE) -> list[str]:
    """Return the options that hold for every lab, whatever the maker's own settings say."""
    options = {
        "ServerApp.root_dir": folder,
        "ServerApp.ip": reach.host,
        "ServerApp.port": port,
        "ServerApp.port_retries": others,
        "ServerApp.open_browser": False,
        "ServerApp.allow_root": hasattr(os, "geteuid") and os.geteuid() == 0,
        "ServerApp.log_level": "ERROR",
        "LabApp.log_level": "ERROR",
        "ServerApp.kernel_spec_manager_class": "labkit.lab.kernels.LabKernelSpecs",
        "LabApp.extension_manager": "readonly",
        "LabApp.workspaces_dir": folder / WORKSPACES,
        "ZMQChannelsWebsocketConnection.iopub_data_rate_limit": MESSAGE_BYTES,
        **reach.options,
    }
    hidden = [f"--ContentsManager.hide_globs={name}" for name in HIDDEN]
    return [*(f"--{name}={value}" for name, value in options.items()), *hidden]


def fold_file_list(workspaces: Path) -> None:
    """Write the workspace that a lab starts with, unless it has one."""
    from jupyterlab_server.workspaces_handler import WORKSPACE_EXTENSION, slugify

    with suppress(OSError):
        write_new(workspaces / f"{slugify('default')}{WORKSPACE_EXTENSION}", json.dumps(FOLDED).encode())


def _prepend(variable: str, folder: Path) -> None:
    kept = os.environ.get(variable)
    os.environ[variable] = os.pathsep.join([str(folder), kept] if kept else [str(folder)])


def _start_quietly(server: Any) -> None:
    """Start `server` without its own notice of the address, which would hide ours."""
    level = server.log.level
    server.log.setLevel(logging.CRITICAL + 1)
    server.start_app()
    server.log.setLevel(level)


def _stop_calmly(stop: Callable[..., None]) -> None:
    """Let Ctrl+C and a polite kill close the lab once, in one line."""
    asked: list[int] = []

    def on_signal(number: int, _frame: object) -> None:
        if not asked:
            print("\nClosing the lab…", flush=True)
            stop(from_signal=True)
        asked.append(number)

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, on_signal)


def announce(line: str, url: str, browser: bool) -> None:
    """Print the one line with the address, and show the page where a browser can be opened."""
    print(line, flush=True)
    if browser and has_screen():
        with suppress(webbrowser.Error, OSError):
            webbrowser.open(url)


def has_screen() -> bool:
    """Tell whether a browser would open in a window of its own, not inside this terminal."""
    if sys.platform in ("win32", "darwin"):
        return True
    return any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"))
