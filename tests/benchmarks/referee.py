"""What ngspice takes for the same work: the process alone, from start to finish."""

import shutil
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

from ohmwork.faults import Fault, inject
from ohmwork.network import Network, OperatingPoint, Setup
from ohmwork.network.laws import Limited
from ohmwork.vehicle import Vehicle

sys.path.append(str(Path(__file__).resolve().parents[1]))

from ngspice_netlist import Circuit, State, circuit_of
from ngspice_sweep import Change, change, solve


def find_ngspice() -> str:
    """Return the path of ngspice, or end with what brings it."""
    path = shutil.which("ngspice")
    if path is None:
        sys.exit("ngspice is not installed: apt-get install ngspice")
    return path


def single_run(vehicle: Vehicle, controls: Mapping[str, str]) -> float:
    """Return how long ngspice takes for one circuit, healthy. [s]"""
    point = Network(vehicle).settle(Setup(controls=controls))
    return _timed(circuit_of(vehicle, _told(point, controls)), [Change()], [point])


def seconds_per_point(
    vehicle: Vehicle, controls: Mapping[str, str], faults: Sequence[Fault]
) -> float:
    """Return how long ngspice takes for one fault of some, altered in one process. [s]

    Parameters
    ----------
    vehicle : healthy.
    controls : as they stand.
    faults : with their values.
    """
    setup = Setup(controls=controls)
    common = circuit_of(vehicle, _told(Network(vehicle).settle(setup), controls))
    faulty = [inject(vehicle, fault) for fault in faults]
    points = [Network(variant).settle(setup) for variant in faulty]
    changes = [
        change(common, circuit_of(variant, _told(point, controls)))
        for variant, point in zip(faulty, points, strict=True)
    ]
    return _timed(common, changes, points) / len(faults)


def _told(point: OperatingPoint, controls: Mapping[str, str]) -> State:
    """Return what ngspice has to be told of a settled circuit."""
    made_up = {}
    for present, usual in zip(point.branches, point.network.branches, strict=True):
        if isinstance(present.law, Limited) and isinstance(usual.law, Limited):
            made_up[present.owner] = present.law.voltage - usual.law.voltage
    return State(
        controls=controls,
        on=frozenset(name for name, on in point.triggers.items() if on),
        blown=point.blown,
        made_up=made_up,
        expected=point.voltages,
    )


def _timed(
    common: Circuit, changes: Sequence[Change], points: Sequence[OperatingPoint]
) -> float:
    """Return the time that ngspice takes for all these circuits. [s]"""
    run, taken = subprocess.run, []

    def timed(*args: Any, **kwargs: Any) -> Any:
        start = time.perf_counter()
        result = run(*args, **kwargs)
        taken.append(time.perf_counter() - start)
        return result

    reference = points[0].network.vehicle.reference
    with TemporaryDirectory() as folder, patch.object(subprocess, "run", timed):
        solve(
            find_ngspice(),
            Path(folder),
            common,
            changes,
            reference,
            lambda row: points[row].voltages,
        )
    return sum(taken)
