"""A server for the whole run, a browser for each module, notebooks opened in it."""

from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    Page,
    ViewportSize,
    expect,
    sync_playwright,
)

from browser.harness import Lab, Notebook, running_lab

expect.set_options(timeout=30_000)  # a loaded machine is slow, not wrong [ms]

VIEWPORT = ViewportSize(width=1400, height=900)


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
def browser(chromium: str) -> Iterator[Browser]:
    """A headless browser with a fresh profile."""
    with (
        sync_playwright() as playwright,
        playwright.chromium.launch(executable_path=chromium) as browser,
    ):
        yield browser


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    """A page worked by mouse and keyboard; it asks nobody but this machine."""
    with browser.new_context(viewport=VIEWPORT) as context:
        yield from _page_of_its_own(context)


@pytest.fixture(scope="module")
def touch_page(browser: Browser) -> Iterator[Page]:
    """The same on a screen that is touched."""
    with browser.new_context(viewport=VIEWPORT, has_touch=True) as context:
        yield from _page_of_its_own(context)


def _page_of_its_own(context: BrowserContext) -> Iterator[Page]:
    """Open a page, and see at the end whom it has asked."""
    asked: set[str] = set()
    context.on("request", lambda request: asked.add(request.url))
    yield context.new_page()
    hosts = {urlsplit(url).hostname for url in asked if url.startswith("http")}
    assert hosts == {"127.0.0.1"}


@pytest.fixture
def open_notebook(page: Page, lab: Lab, screenshots: Path) -> Callable[[str], Notebook]:
    """Open a notebook by its path inside `lab.folder`; again to reopen it."""

    def open_notebook(path: str) -> Notebook:
        notebook = Notebook(page=page, lab=lab, path=path, screenshots=screenshots)
        notebook.open()
        return notebook

    return open_notebook
