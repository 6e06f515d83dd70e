"""A server for the whole run, a browser for each module, notebooks opened in it."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect, sync_playwright

from browser.harness import Lab, Notebook, running_lab

expect.set_options(timeout=30_000)  # a loaded machine is slow, not wrong [ms]


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """A JupyterLab for all browser tests; each puts its notebooks in `lab.folder`."""
    with running_lab(tmp_path_factory.mktemp("lab")) as lab:
        yield lab


@pytest.fixture(scope="session")
def screenshots(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the run's screenshots; pytest keeps those of the last three runs."""
    return tmp_path_factory.mktemp("screenshots")


# Playwright keeps an event loop in the main thread while it runs, which forbids other
# tests to start one; ending it with the module keeps it to the browser tests.
@pytest.fixture(scope="module")
def page(chromium: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """A page of a headless browser with a fresh profile."""
    with (
        sync_playwright() as playwright,
        playwright.chromium.launch_persistent_context(
            tmp_path_factory.mktemp("profile"),
            executable_path=chromium,
            viewport={"width": 1400, "height": 900},
        ) as context,
    ):
        yield context.pages[0]


@pytest.fixture
def open_notebook(page: Page, lab: Lab, screenshots: Path) -> Callable[[str], Notebook]:
    """Open a notebook by its path inside `lab.folder`; again to reopen it."""

    def open_notebook(path: str) -> Notebook:
        notebook = Notebook(page=page, lab=lab, path=path, screenshots=screenshots)
        notebook.open()
        return notebook

    return open_notebook
