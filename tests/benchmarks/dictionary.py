"""What the fault dictionary costs: time, memory, and one result however it is solved.

Run: ``python tests/benchmarks/dictionary.py``. Every single fault of the vehicle in
every state it is driven in, at every place. Wanted: at least 40 times faster than
ngspice (goal 100), at most 0.15 µs for each node and scenario on two cores.

ngspice's own best way is one process that alters parameters between operating points.
It is timed on windows of neighbouring faults, evenly spread, each in another state; its
time for the whole dictionary follows from the median of these windows per point, as a
few take it many times longer.
"""

import resource
import statistics
from functools import partial

import numpy as np
from measuring import (
    driven_states,
    finish,
    is_quick,
    matrix_multiply_rate,
    median_seconds,
    show,
    single_faults,
    subject,
)
from operations import counting
from referee import seconds_per_point

from ohmwork.faults import Fault
from ohmwork.network import Network, Setup
from ohmwork.reasoning.dictionary import BLOCK, Dictionary, fault_dictionary
from ohmwork.symptoms import State

OTHER_WAYS = ((1, 3000), (2, 10000))
"""Workers and block sizes whose result is compared with that of one worker."""

ROUNDING = 2e-6
"""One unit of single precision at 24 V. [V]"""

WORKERS = (1, 2)
"""In this order, as the most memory so far can only grow."""

WINDOWS, WINDOW = 8, 100
"""Runs of ngspice that are timed, and the faults in each."""


def main() -> None:
    """Measure and print."""
    quick = is_quick()
    vehicle = subject(quick=quick)
    states = driven_states(vehicle)[: 2 if quick else None]
    faults = single_faults(vehicle)[: 30 if quick else None]
    scenarios = len(faults) * len(states)
    nodes = len(Network(vehicle).settle(Setup()).shape.nodes)
    print(
        f"{vehicle.title}: {len(vehicle.places)} places, {nodes} nodes; "
        f"{len(faults)} faults in {len(states)} states, {scenarios} scenarios."
    )

    values: dict[str, float] = {"nodes": nodes, "scenarios": scenarios}
    solve = partial(fault_dictionary, vehicle, faults, states)
    results: dict[tuple[int, int], Dictionary] = {}
    for workers in WORKERS:
        results[workers, BLOCK] = solve(workers=workers)
        taken = median_seconds(partial(solve, workers=workers), 1 if quick else 3)
        values[f"us_per_scenario_{workers}"] = 1e6 * taken / scenarios
        values[f"us_per_node_{workers}"] = 1e6 * taken / scenarios / nodes
        values[f"peak_mb_{workers}"] = _peak_megabytes()
    usual = results[1, BLOCK]
    values["own_mb"] = (usual.voltages.nbytes + usual.buzzing.nbytes) / 1e6

    for workers, block in OTHER_WAYS[: 1 if quick else None]:
        results[workers, block] = solve(workers=workers, block=block)
    values["largest_difference_v"] = max(
        float(np.max(np.abs(other.voltages - usual.voltages)))
        for other in results.values()
    )
    values["is_bitwise_same"] = float(
        all(
            np.array_equal(other.voltages, usual.voltages)
            and np.array_equal(other.buzzing, usual.buzzing)
            for other in results.values()
        )
    )
    assert values["largest_difference_v"] <= ROUNDING, "the result depends on the way"

    with counting() as tally:
        solve()
    for workers in WORKERS:
        rate = tally.operations / scenarios / values[f"us_per_scenario_{workers}"] * 1e6
        full = matrix_multiply_rate(workers, quick=quick)
        values[f"share_of_matmul_{workers}"] = rate / full
        values[f"gflops_{workers}"] = rate / 1e9

    windows = _windows(faults, states, quick=quick)
    values["ngspice_us"] = 1e6 * statistics.median(
        seconds_per_point(vehicle, controls, some) for controls, some in windows
    )
    for workers in WORKERS:
        ratio = values["ngspice_us"] / values[f"us_per_scenario_{workers}"]
        values[f"ratio_{workers}"] = ratio
    timed = sum(len(some) for _, some in windows)
    _table(values, timed)
    finish(values)


def _windows(
    faults: list[Fault], states: list[State], *, quick: bool
) -> list[tuple[State, list[Fault]]]:
    """Return windows of neighbouring faults, evenly spread, each in another state."""
    count, width = (1, 10) if quick else (WINDOWS, WINDOW)
    starts = np.linspace(0, max(0, len(faults) - width), count).astype(int)
    which = np.linspace(0, len(states) - 1, count).astype(int)
    return [
        (states[state], faults[start : start + width])
        for start, state in zip(starts, which, strict=True)
    ]


def _peak_megabytes() -> float:
    """Return the most memory this process has had so far. [MB]"""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e6


def _table(values: dict[str, float], timed: int) -> None:
    """Print what was measured, by number of workers."""

    def row(text: str, name: str, unit: str, wanted: str = "") -> tuple[str, ...]:
        one, two = (f"{values[f'{name}_{n}']:.3g} {unit}" for n in (1, 2))
        return text, one, two, wanted

    show(
        [
            ("", "1 worker", "2 workers", "wanted"),
            row("time per scenario", "us_per_scenario", "µs"),
            row("per node and scenario", "us_per_node", "µs", "0.15 µs with 2"),
            row("times faster than ngspice", "ratio", "", "40, goal 100"),
            row("elimination alone, counted", "gflops", "GFLOP/s"),
            row("share of matrix multiply", "share_of_matmul", ""),
            row("peak memory", "peak_mb", "MB"),
        ]
    )
    print(
        f"ngspice: {values['ngspice_us']:.0f} µs per operating point, measured on "
        f"{timed} of them."
    )
    same = "bit for bit" if values["is_bitwise_same"] else "not bit for bit"
    print(
        f"The dictionary itself takes {values['own_mb']:.1f} MB. Other block sizes and "
        f"workers give the same {same}; the largest difference is "
        f"{values['largest_difference_v']:.2g} V."
    )


if __name__ == "__main__":
    main()
