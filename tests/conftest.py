"""What all tests share: laws of nature after every solve, and outside programs.

Whenever a circuit is settled in this suite, the currents into each of its places must
sum to zero and its sources must give the power that its parts turn to heat.

A test that asks for the `ngspice` or `chromium` fixture gets the path of that program.
Without it the test is skipped and the run's closing summary says so; with `CI=true` it
fails, so that a machine which claims to check everything does.
"""

import os
import shutil
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest

from ohmwork.network import Network, OperatingPoint
from ohmwork.network.laws import Row, Source

PROGRAMS = {"ngspice": ("ngspice",), "chromium": ("chromium", "chromium-browser")}
NOT_RUN = pytest.StashKey[dict[str, Counter[str]]]()


STRAY_CURRENT = 1e-10
"""What the currents at one place may fall short of zero by. [A]

The leak of 1e-12 S that holds a floating island takes up to 13 pA; rounding of 12 V in
the sixteenth digit, across a joint of 0.5 mΩ, is another 5 pA for each branch.
"""


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


def assert_conservation(point: OperatingPoint) -> None:
    """Assert Kirchhoff's current law at every place, and the balance of power."""
    into: dict[str, Row] = dict.fromkeys(point.voltages, 0.0)
    given, heat = 0.0, 0.0
    for branch, current in point.branch_currents():
        into[branch.a] = into[branch.a] - current
        into[branch.b] = into[branch.b] + current
        across = point.voltages[branch.a] - point.voltages[branch.b]
        if isinstance(branch.law, Source):
            across = across - branch.law.voltage
            given = given - branch.law.voltage * current
        assert is_never(across * current < 0.0), (
            f"{branch.owner} makes power"
        )
        heat = heat + across * current
    for place, current in into.items():
        assert is_never(abs(current) > STRAY_CURRENT), f"{current} A vanish at {place}"
    # A stray current can do no more harm than at the full voltage, at every place.
    stray = STRAY_CURRENT * sum(abs(volts) for volts in point.voltages.values())
    assert is_never(abs(given - heat) > stray), f"{given} W give {heat} W of heat"


def is_never(condition: Any) -> bool:
    """Whether a condition holds in no circuit of one or many."""
    return not (condition.any() if hasattr(condition, "any") else condition)


@pytest.fixture(scope="session", autouse=True)
def conservation() -> Iterator[None]:
    """Check the laws of conservation after every solve of the suite."""
    settle = Network.settle

    def checked(network: Network, *args: Any, **kwargs: Any) -> OperatingPoint:
        point = settle(network, *args, **kwargs)
        assert_conservation(point)
        return point

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Network, "settle", checked)
        yield


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
