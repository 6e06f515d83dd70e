"""What all tests share: laws of nature after every solve, and outside programs.

Whenever a circuit is settled in this suite, the currents into each of its places must
sum to zero and its sources must give the power that its parts turn to heat.

A test that asks for the `ngspice` or `chromium` fixture gets the path of that program.
Without it the test is skipped and the run's closing summary says so; with `CI=true` it
fails, so that a machine which claims to check everything does.
"""

import os
import shutil
import sys
from collections import Counter
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from ohmwork.network import Network, OperatingPoint
from ohmwork.network.elimination import LEAK
from ohmwork.network.laws import Row

PROGRAMS = {"ngspice": ("ngspice",), "chromium": ("chromium", "chromium-browser")}
NOT_RUN = pytest.StashKey[dict[str, Counter[str]]]()


ROUNDING = 16 * sys.float_info.epsilon
"""Relative error of a node voltage: some sixteen roundings of a double. [-]"""


FLOOR = 1e-13
"""Current that counts as none. [A] Far below the 13 pA of a leak at full voltage, and
above what Newton's last step leaves in a vehicle of some 500 places."""


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
    volts = point.voltages
    into: dict[str, Row] = dict.fromkeys(volts, 0.0)
    # A leak may hold an island, and a joint makes much of a rounded voltage.
    slack: dict[str, Row] = {place: FLOOR + LEAK * abs(v) for place, v in volts.items()}
    # Where a strong source is grounded, what it gives and takes cancels.
    emfs = [getattr(branch.law, "voltage", 0.0) for branch in point.branches]
    largest = max(float(np.max(np.abs(emf))) for emf in emfs)
    given, heat = 0.0, 0.0
    for branch, current in point.branch_currents():
        a, b, law = branch.a, branch.b, branch.law
        across = volts[a] - volts[b]
        emf = getattr(law, "voltage", 0.0)
        given = given - emf * current
        heat = heat + (across - emf) * current
        made = (across - emf) * current < -FLOOR * abs(across - emf)
        assert is_never(made), f"{branch.owner} makes power"
        own = ROUNDING * (abs(volts[a]) + abs(volts[b]))
        rounded = law.conductance * (own + sys.float_info.epsilon * largest)
        for place, share in ((a, -current), (b, current)):
            into[place] = into[place] + share
            slack[place] = slack[place] + rounded
    for place, current in into.items():
        lost = abs(current) > slack[place]
        assert is_never(lost), f"{current} A vanish at {place}"
    lost_power = FLOOR + sum(slack[place] * abs(v) for place, v in volts.items())
    assert is_never(abs(given - heat) > lost_power), f"{given} W give {heat} W of heat"


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
