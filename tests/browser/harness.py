"""A JupyterLab of the tests' own, and a notebook opened in it.

The server gets its own port, home and Jupyter folders, so that a tester's settings
neither help nor harm. Cells are run by JupyterLab's commands rather than by key
presses, which now and then reach the wrong element.
"""

import json
import os
import secrets
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.request import urlopen

from playwright.sync_api import Locator, Page

from ohmwork.course import LAB_OPTIONS

SERVER_START = 60.0
"""Longest wait for the server's first answer, ten times an idle machine's. [s]"""

KERNEL_REST = 60.0
"""Longest wait for kernels to end what they do. [s]"""

LAB_START_MS = 120_000
"""Longest wait for a page of JupyterLab with its kernel idle. [ms]"""

COMMAND_MS = 120_000
"""Longest wait for a command; running a whole lesson is one. [ms]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lab:
    """A running JupyterLab: its address, its key and the folder it shows."""

    url: str
    token: str
    folder: Path

    def wait_until_idle(self) -> None:
        """Wait until no kernel works, so that none still writes into the folder."""
        deadline = time.monotonic() + KERNEL_REST
        while time.monotonic() < deadline:
            with urlopen(f"{self.url}/api/kernels?token={self.token}") as answer:
                states = {kernel["execution_state"] for kernel in json.load(answer)}
            if states <= {"idle"}:
                return
            time.sleep(0.1)
        message = f"A kernel is still {', '.join(states)} after {KERNEL_REST:.0f} s."
        raise TimeoutError(message)


@contextmanager
def running_lab(home: Path) -> Iterator[Lab]:
    """Run JupyterLab with everything it reads and writes inside `home`."""
    folder = home / "notebooks"
    folder.mkdir()
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    lab = Lab(url=f"http://127.0.0.1:{port}", token=secrets.token_hex(), folder=folder)
    with (
        (home / "server.log").open("wb") as log,
        subprocess.Popen(
            _command(lab, port),
            cwd=folder,
            env=_environment(home),
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
        ) as server,
    ):
        try:
            _wait_for_answer(lab, server, home / "server.log")
            yield lab
        finally:
            server.terminate()


def _command(lab: Lab, port: int) -> list[str]:
    return [
        sys.executable,
        "-m",
        "jupyterlab",
        "--no-browser",
        "--ServerApp.allow_root=True",  # continuous integration runs as root
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        f"--ServerApp.root_dir={lab.folder}",
        f"--IdentityProvider.token={lab.token}",
        "--LabApp.expose_app_in_browser=True",
        *LAB_OPTIONS,
    ]


def _environment(home: Path) -> dict[str, str]:
    inherited = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("JUPYTER", "IPYTHON", "MPL", "XDG_"))
    }
    return inherited | {
        "HOME": str(home),
        "USERPROFILE": str(home),
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_DATA_DIR": str(home / "data"),
        "JUPYTER_RUNTIME_DIR": str(home / "runtime"),
        "PATH": os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]]),
    }


def _wait_for_answer(lab: Lab, server: subprocess.Popen[bytes], log: Path) -> None:
    deadline = time.monotonic() + SERVER_START
    while server.poll() is None and time.monotonic() < deadline:
        try:
            with urlopen(f"{lab.url}/api/status?token={lab.token}"):
                return
        except URLError:
            time.sleep(0.1)
    message = f"JupyterLab did not start:\n{log.read_text(errors='replace')[-2000:]}"
    raise RuntimeError(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class Notebook:
    """A notebook open in JupyterLab, kernel ready; `page` is the browser's page."""

    page: Page
    lab: Lab
    path: str
    screenshots: Path

    def open(self) -> None:
        """Show the notebook in a fresh JupyterLab and wait for its kernel."""
        # A workspace of its own keeps tabs of earlier tests from coming back.
        workspace = secrets.token_hex(8)
        self.page.goto(
            f"{self.lab.url}/lab/workspaces/{workspace}/tree/{self.path}"
            f"?token={self.lab.token}"
        )
        # A notebook that names no kernel waits in a dialog: hence the time limit.
        self.page.wait_for_function(
            """path => {
                const panel = window.jupyterapp?.shell.currentWidget;
                return panel?.context?.path === path && panel.context.isReady
                    && panel.sessionContext.session?.kernel?.status === 'idle';
            }""",
            arg=self.path,
            timeout=LAB_START_MS,
        )

    def command(self, name: str) -> None:
        """Run a JupyterLab command on the notebook and wait until it is done."""
        self.page.wait_for_function(
            """async name => {
                await window.jupyterapp.commands.execute(name);
                return true;
            }""",
            arg=name,
            timeout=COMMAND_MS,
        )

    def run_all(self) -> None:
        """Run every cell from the top and wait for the last one."""
        self.command("notebook:run-all-cells")

    def press_run(self) -> None:
        """Press the button that runs the selected cell; the next one is selected."""
        self.page.locator('[data-jp-item-name="run"] jp-button').click()

    def save(self) -> None:
        """Save the notebook to its file."""
        self.command("docmanager:save")

    def shut_down(self) -> None:
        """End the kernel; those of many lessons together would fill a small machine."""
        self.page.evaluate(
            "() => window.jupyterapp.shell.currentWidget.sessionContext.shutdown()"
        )

    def cell(self, cell_id: str) -> Locator:
        """The cell on the page, text or code, by its id."""
        index = self.page.evaluate(
            """id => window.jupyterapp.shell.currentWidget.content.widgets
                .findIndex(cell => cell.model.id === id)""",
            cell_id,
        )
        if index < 0:
            message = f"No cell {cell_id!r} in {self.path}."
            raise LookupError(message)
        return self.page.locator(".jp-Notebook .jp-Cell").nth(index)

    def outputs(self) -> dict[str, list[dict[str, Any]]]:
        """Outputs of every code cell in nbformat's form, by cell id."""
        text = self.page.evaluate(
            """() => JSON.stringify(Object.fromEntries(
                window.jupyterapp.shell.currentWidget.content.widgets
                    .filter(cell => cell.model.type === 'code')
                    .map(cell => [cell.model.id, cell.model.outputs.toJSON()])
            ))"""
        )
        outputs: dict[str, list[dict[str, Any]]] = json.loads(text)
        return outputs

    def show(self, cell_id: str) -> Locator:
        """Scroll to a cell, which JupyterLab draws only then."""
        self.page.evaluate(
            """id => {
                const content = window.jupyterapp.shell.currentWidget.content;
                const at = content.widgets.findIndex(cell => cell.model.id === id);
                return content.scrollToItem(at, 'start');
            }""",
            cell_id,
        )
        return self.cell(cell_id)

    def screenshot(self, name: str) -> Path:
        """Picture of the page as it stands; the file, in a temporary folder."""
        path = self.screenshots / f"{name}.png"
        self.page.screenshot(path=path)
        return path
