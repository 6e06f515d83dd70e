"""The benchmarks run, and a program can read what they print."""

import math
import subprocess
import sys
from pathlib import Path

import pytest

BENCHMARKS = Path(__file__).parent / "benchmarks"


@pytest.mark.usefixtures("ngspice")
@pytest.mark.parametrize("name", ["reading", "dictionary", "size"])
def test_a_benchmark_ends_with_its_values(name: str) -> None:
    """`name=value` for each; what the values are is for a quiet machine to say."""
    run = subprocess.run(
        [sys.executable, BENCHMARKS / f"{name}.py", "--quick"],
        capture_output=True,
        text=True,
        check=True,
    )
    pairs = (word.split("=") for word in run.stdout.splitlines()[-1].split())
    values = {key: float(value) for key, value in pairs}

    assert not run.stderr
    assert len(values) > 3
    assert all(map(math.isfinite, values.values()))
