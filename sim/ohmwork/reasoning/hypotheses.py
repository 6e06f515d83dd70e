"""Which faults are still possible after a reading.

Every fault that may be meant is a hypothesis. One whose resistance may be anything in a
range is cut into segments, each between two sampled values; a segment predicts an
interval for every reading. A segment is ruled out only when the true reading lies
outside its interval by more than meter and parts may be off, so the truth is never
ruled out.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ohmwork.faults import Fault, inject, samples
from ohmwork.instruments import Outcome, tolerance
from ohmwork.network import Network
from ohmwork.symptoms import State, drive
from ohmwork.vehicle import Vehicle

if TYPE_CHECKING:
    from numpy.typing import NDArray

_CUTS = 16
"""Values tried at once in the search for a jump."""

_SLIVER = 1.002
"""Ratio of resistances within which a jump is not looked for any closer. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class Hypotheses:
    """Faults that may be meant, as the columns of one network."""

    vehicle: Vehicle
    answers: tuple[tuple[str, str], ...]
    """Site and kind of each hypothesis."""
    columns: tuple[Fault, ...]
    """Concrete faults, in the order of the network's variants."""
    owner: NDArray[Any]
    """Index of the hypothesis of each segment. Shape ``(n_segments,)``."""
    low: NDArray[Any]
    """Column at the lower end of each segment. Shape ``(n_segments,)``."""
    high: NDArray[Any]
    """Column at its upper end. Shape ``(n_segments,)``."""
    network: Network

    def fits(self, predicted: Outcome, actual: Outcome) -> NDArray[Any]:
        """Return which segments a true reading leaves standing.

        Parameters
        ----------
        predicted : of this network, a row per channel.
        actual : the same measured on the true vehicle, a number per channel.

        Returns
        -------
        Truth values. Shape ``(n_segments,)``.
        """
        import numpy as np

        shape = (len(self.columns),)
        moving = np.broadcast_to(predicted.moving, shape)
        ends = moving[self.low], moving[self.high]
        standing = (np.minimum(*ends) <= actual.moving) & (
            np.maximum(*ends) >= actual.moving
        )
        if actual.moving:
            return np.asarray(standing)
        unread = np.maximum(*ends) > 0.0
        channels = dict(actual.channels)
        if channels.get("live"):
            channels = {"live": channels["live"]}
        for name, value in channels.items():
            row = np.broadcast_to(predicted.channels[name], shape)
            one, other = row[self.low], row[self.high]
            slack = tolerance(name, float(value))
            inside = (np.minimum(one, other) - slack <= value) & (
                value <= np.maximum(one, other) + slack
            )
            standing &= inside | unread
        return np.asarray(standing)

    def left(self, segments: NDArray[Any]) -> frozenset[tuple[str, str]]:
        """Return the answers of which at least one segment stands."""
        return frozenset(self.answers[k] for k in self.owner[segments])

    def only(self, segments: NDArray[Any]) -> Hypotheses:
        """Return the hypotheses of these segments alone."""
        import numpy as np

        kept = np.flatnonzero(segments)
        used = np.unique(np.concatenate([self.low[kept], self.high[kept]]))
        owners = np.unique(self.owner[kept])
        columns = tuple(self.columns[k] for k in used)
        return Hypotheses(
            vehicle=self.vehicle,
            answers=tuple(self.answers[k] for k in owners),
            columns=columns,
            owner=np.searchsorted(owners, self.owner[kept]),
            low=np.searchsorted(used, self.low[kept]),
            high=np.searchsorted(used, self.high[kept]),
            network=_network(self.vehicle, columns),
        )


def hypotheses(
    vehicle: Vehicle, universe: Sequence[Fault], states: Sequence[State]
) -> Hypotheses:
    """Return the hypotheses that any one fault of a universe is present.

    Where a relay or a fuse changes its mind between two samples, in any of the states,
    the segment is cut there, so that no interval spans the jump.

    Parameters
    ----------
    vehicle : healthy.
    universe : faults that may be meant; ranged ones without a value.
    states : control positions the vehicle is driven in.
    """
    import numpy as np

    sampled = [samples(fault) for fault in universe]
    columns = [fault for faults in sampled for fault in faults]
    minds = _minds(_network(vehicle, columns), states)
    segments: list[tuple[int, int, int]] = []
    first = 0
    for number, faults in enumerate(sampled):
        last = first + len(faults) - 1
        if first == last:
            segments.append((number, first, first))
        for k in range(first, last):
            if minds[k] == minds[k + 1]:
                segments.append((number, k, k + 1))
                continue
            for low, high in _cut(vehicle, columns[k], columns[k + 1], states):
                columns += (low, high)
                segments.append((number, len(columns) - 2, len(columns) - 1))
        first = last + 1
    owner, low_ends, high_ends = np.array(segments).T
    return Hypotheses(
        vehicle=vehicle,
        answers=tuple(f.answer for f in universe),
        columns=tuple(columns),
        owner=owner,
        low=low_ends,
        high=high_ends,
        network=_network(vehicle, columns),
    )


def _minds(network: Network, states: Sequence[State]) -> list[bytes]:
    """Return, for each variant, what relays and fuses do in all states, as one key."""
    import numpy as np

    shape = (len(network.variants),)
    rows = [
        np.broadcast_to(row, shape)
        for point in drive(network, states)
        for row in (*point.relays.values(), *point.blown_rows.values(), point.buzzing)
    ]
    return [column.tobytes() for column in np.array(rows).T.copy()]


def _cut(
    vehicle: Vehicle, low: Fault, high: Fault, states: Sequence[State]
) -> Iterator[tuple[Fault, Fault]]:
    """Give the parts of a segment in which relays and fuses keep their mind."""
    import numpy as np

    at, end = float(low.resistance or 0.0), float(high.resistance or 0.0)
    start = low
    while True:
        inside, outside = at, end
        while outside / inside > _SLIVER:
            steps = np.geomspace(inside, outside, _CUTS)
            tried = [dataclasses.replace(low, resistance=float(r)) for r in steps]
            minds = _minds(_network(vehicle, tried), states)
            changed = next((k for k, m in enumerate(minds) if m != minds[0]), None)
            if changed is None:
                yield start, high
                return
            inside, outside = float(steps[changed - 1]), float(steps[changed])
        yield start, dataclasses.replace(low, resistance=inside)
        at = outside
        start = dataclasses.replace(low, resistance=outside)


def _network(vehicle: Vehicle, columns: Sequence[Fault]) -> Network:
    return Network(vehicle, [inject(vehicle, fault) for fault in columns])
