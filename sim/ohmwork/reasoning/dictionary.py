"""What every fault does in every state: the voltage at every place, solved in blocks.

A scenario is one fault in one state of the controls. Faults of neighbouring parts share
a block with all states: only what differs within a block is solved once per scenario,
all else once per block.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ohmwork.faults import Fault, inject
from ohmwork.network import Guide, Network, Setup
from ohmwork.symptoms import State
from ohmwork.vehicle import Vehicle

if TYPE_CHECKING:
    from numpy.typing import NDArray

BLOCK = 8192
"""Scenarios solved together; more need memory, fewer lose time between them."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Dictionary:
    """Voltages of faulty vehicles, each state entered from rest."""

    faults: tuple[Fault, ...]
    states: tuple[State, ...]
    places: tuple[str, ...]
    voltages: NDArray[Any]
    """Shape ``(n_faults, n_states, n_places)``, single precision. [V]"""
    buzzing: NDArray[Any]
    """Where something never rests. Shape ``(n_faults, n_states)``."""


def fault_dictionary(
    vehicle: Vehicle,
    faults: Sequence[Fault],
    states: Sequence[State],
    *,
    workers: int = 1,
    block: int = BLOCK,
    progress: Callable[[int, int], None] = lambda _done, _all: None,
) -> Dictionary:
    """Return the voltage at every place for every fault in every state.

    Parameters
    ----------
    vehicle : healthy, as read from its file.
    faults : with their values.
    states : control positions.
    workers : threads; the result does not depend on them.
    block : most scenarios solved together; nor on this.
    progress : told how many of how many scenarios are done.
    """
    import numpy as np

    places, n = vehicle.places, len(states)
    voltages = np.empty((len(faults), n, len(places)), dtype=np.float32)
    buzzing = np.empty((len(faults), n), dtype=bool)
    chunks = list(_chunks(faults, max(1, block // n)))
    tasks = ([faults[k] for k in chunk] for chunk in chunks)
    done = 0
    for chunk, (volts, never) in zip(
        chunks, _solved(vehicle, tasks, states, workers), strict=True
    ):
        voltages[chunk] = volts
        buzzing[chunk] = never
        done += len(chunk) * n
        progress(done, len(faults) * n)
    return Dictionary(
        faults=tuple(faults),
        states=tuple(states),
        places=places,
        voltages=voltages,
        buzzing=buzzing,
    )


def _chunks(faults: Sequence[Fault], size: int) -> Iterator[list[int]]:
    """Give the faults that are solved together, as indices.

    Worn conductors add a bent law each, which costs all others of their block: those
    stand together, a quarter as many to a block.
    """
    worn = [k for k, f in enumerate(faults) if f.kind == "resistance_under_load"]
    others = [k for k, f in enumerate(faults) if f.kind != "resistance_under_load"]
    for some, most in ((others, size), (worn, max(1, size // 4))):
        for first in range(0, len(some), most):
            yield some[first : first + most]


def _solved(
    vehicle: Vehicle,
    tasks: Iterator[list[Fault]],
    states: Sequence[State],
    workers: int,
) -> Iterator[tuple[NDArray[Any], NDArray[Any]]]:
    """Give the blocks in order; compiled code lets the other threads go on."""
    with ThreadPoolExecutor(workers) as pool:
        yield from pool.map(_Solver(vehicle, states).solve, tasks)


class _Solver:
    """Solves blocks of faults of one vehicle in the same states.

    Newton's method starts from the way in which the healthy vehicle comes to rest.
    """

    def __init__(self, vehicle: Vehicle, states: Sequence[State]) -> None:
        import numpy as np

        self.vehicle = vehicle
        self.setups = [Setup(controls=dict(state)) for state in states]
        healthy = Network(vehicle)
        guides = [healthy.guide(setup) for setup in self.setups]
        self.guide = [
            {
                node: np.array([g[min(number, len(g) - 1)][node] for g in guides])
                for node in guides[0][0]
            }
            for number in range(max(map(len, guides)))
        ]
        """Of each pass, to the voltages in all states. [V]"""

    def solve(self, faults: Sequence[Fault]) -> tuple[NDArray[Any], NDArray[Any]]:
        """Return voltages and buzzing of one block."""
        import numpy as np

        vehicle, shape = self.vehicle, (len(faults), len(self.setups))
        variants = [inject(vehicle, fault) for fault in faults]
        network = Network(vehicle, [v for v in variants for _ in self.setups])
        point = network.settle(
            self.setups * len(faults), guide=self._guide(len(faults))
        )
        volts = np.empty((*shape, len(vehicle.places)), dtype=np.float32)
        for k, place in enumerate(vehicle.places):
            row = np.broadcast_to(point.voltages[place], (shape[0] * shape[1],))
            volts[:, :, k] = row.reshape(shape)
        buzzing = np.broadcast_to(point.buzzing, (shape[0] * shape[1],))
        return volts, buzzing.reshape(shape) > 0.0

    def _guide(self, n_faults: int) -> Guide:
        """Return how the healthy vehicle comes to rest, a row for each scenario."""
        import numpy as np

        return [
            {node: np.tile(row, n_faults) for node, row in voltages.items()}
            for voltages in self.guide
        ]
