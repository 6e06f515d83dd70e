"""Outside programs the tests lean on, and the account of checks they left undone.

A test that asks for the `ngspice` or `chromium` fixture gets the path of that program.
Without it the test is skipped and the run's closing summary says so; with `CI=true` it
fails, so that a machine which claims to check everything does.
"""

import os
import shutil
from collections import Counter

import pytest

PROGRAMS = {"ngspice": ("ngspice",), "chromium": ("chromium", "chromium-browser")}
NOT_RUN = pytest.StashKey[dict[str, Counter[str]]]()


def find_program(program: str) -> str | None:
    """Path of an outside program, or None where this machine has none."""
    return next(filter(None, map(shutil.which, PROGRAMS[program])), None)


def require_program(program: str) -> str:
    """Path of an outside program; skips the test without it, or fails it in CI."""
    path = find_program(program)
    if path is None:
        message = f"{program} is not installed: apt-get install {program}"
        if os.environ.get("CI") == "true":
            pytest.fail(message, pytrace=False)
        pytest.skip(message)
    return path


@pytest.fixture(scope="session")
def ngspice() -> str:
    """Path of ngspice, the independent solver that referees operating points."""
    return require_program("ngspice")


@pytest.fixture(scope="session")
def chromium() -> str:
    """Path of the browser that shows the notebooks."""
    return require_program("chromium")


def pytest_collection_finish(session: pytest.Session) -> None:
    """Count, file by file, the checks that lack their outside program."""
    session.config.stash[NOT_RUN] = {
        program: Counter(
            item.location[0]
            for item in session.items
            if program in getattr(item, "fixturenames", ())
        )
        for program in PROGRAMS
        if find_program(program) is None
    }


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say which outside checks were not run and the command that brings them."""
    not_run = terminalreporter.config.stash.get(NOT_RUN, {})
    missing = [program for program, files in not_run.items() if files]
    if not missing:
        return
    terminalreporter.section("outside checks NOT RUN")
    for program in missing:
        for file, count in sorted(not_run[program].items()):
            terminalreporter.line(f"{program} is missing: {count} checks of {file}")
    terminalreporter.line(f"To run them: apt-get install {' '.join(missing)}")
