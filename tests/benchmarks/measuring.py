"""What the benchmarks share: medians of repeated runs, a table, the last line.

A time means little by itself on a machine that others use too, so every benchmark
compares with something else measured in the same run.
"""

import argparse
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from importlib import resources

import ohmwork
from ohmwork.faults import RANGED, Fault, samples, universe
from ohmwork.symptoms import State
from ohmwork.vehicle import Vehicle

_MATRIX_MULTIPLY = """
import time
import numpy as np
a = np.random.default_rng(0).random((SIZE, SIZE))
a @ a
times = []
for _ in range(5):
    start = time.perf_counter()
    a @ a
    times.append(time.perf_counter() - start)
print(2.0 * SIZE**3 / sorted(times)[2])
"""


def is_quick() -> bool:
    """Read the command line: whether to do only as much as shows that it runs."""
    parser = argparse.ArgumentParser()
    parser.add_argument(
        "--quick", action="store_true", help="the smallest run, worth no conclusion"
    )
    return bool(parser.parse_args().quick)


def subject(*, quick: bool) -> Vehicle:
    """Return the vehicle to measure on: the largest there is, or a small one."""
    files = resources.files("ohmwork") / "vehicles"
    names = ("training_van", "training_truck", "relay_board")
    if quick:
        return ohmwork.load_vehicle(names[-1])
    return ohmwork.load_vehicle(
        next(name for name in names if (files / f"{name}.yaml").is_file())
    )


def single_faults(vehicle: Vehicle) -> list[Fault]:
    """Return every fault of a vehicle, ranged ones at the middle of their range."""
    return [
        samples(fault, 3)[1] if fault.kind in RANGED else fault
        for fault in universe(vehicle)
    ]


def driven_states(vehicle: Vehicle) -> list[State]:
    """Return the states a driver puts a vehicle in."""
    return list(vehicle.states.values())


def seconds(work: Callable[[], object]) -> float:
    """Return how long something takes once. [s]"""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def median_seconds(work: Callable[[], object], repeats: int) -> float:
    """Return how long something usually takes. [s]"""
    return statistics.median(seconds(work) for _ in range(repeats))


def matrix_multiply_rate(cores: int, *, quick: bool) -> float:
    """Return what NumPy's double-precision matrix product reaches. [1/s]

    The usual count of operations, 2 n³, over time; in a process of its own, as the
    number of threads is fixed when NumPy is loaded.
    """
    names = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
    program = _MATRIX_MULTIPLY.replace("SIZE", "200" if quick else "1500")
    run = subprocess.run(
        [sys.executable, "-c", program],
        env={**os.environ, **dict.fromkeys(names, str(cores))},
        capture_output=True,
        text=True,
        check=True,
    )
    return float(run.stdout)


def show(rows: Iterable[Sequence[str]]) -> None:
    """Print a table with its columns under each other."""
    lines = [list(row) for row in rows]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    for line in lines:
        cells = [cell.ljust(width) for cell, width in zip(line, widths, strict=True)]
        print("  ".join(cells).rstrip())


def finish(values: Mapping[str, float]) -> None:
    """Print the values for a program to read, as the last line."""
    print(" ".join(f"{name}={value:.6g}" for name, value in values.items()))
