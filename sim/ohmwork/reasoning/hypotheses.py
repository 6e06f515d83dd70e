"""Which faults are still possible after a reading.

Every fault that may be meant is a hypothesis. One whose resistance may be anything in a
range is cut into segments, each between two sampled values; a segment predicts an
interval for every reading. A segment is ruled out only when the true reading lies outside
its interval by more than meter and parts may be off, so the truth is never ruled out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ohmwork.faults import Fault, inject, samples
from ohmwork.instruments import Outcome, tolerance
from ohmwork.network import Network
from ohmwork.vehicle import Vehicle

if TYPE_CHECKING:
    from numpy.typing import NDArray


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
        standing = (np.minimum(*ends) <= actual.moving) & (np.maximum(*ends) >= actual.moving)
        if actual.moving:
            return standing
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
        return standing

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


def hypotheses(vehicle: Vehicle, universe: Sequence[Fault]) -> Hypotheses:
    """Return the hypotheses that any one fault of a universe is present."""
    import numpy as np

    columns: list[Fault] = []
    segments: list[tuple[int, int, int]] = []
    for number, fault in enumerate(universe):
        first = len(columns)
        columns += samples(fault)
        last = len(columns) - 1
        if first == last:
            segments.append((number, first, first))
        segments += [(number, k, k + 1) for k in range(first, last)]
    owner, low, high = np.array(segments).T
    return Hypotheses(
        vehicle=vehicle,
        answers=tuple(f.answer for f in universe),
        columns=tuple(columns),
        owner=owner,
        low=low,
        high=high,
        network=_network(vehicle, columns),
    )


def _network(vehicle: Vehicle, columns: Sequence[Fault]) -> Network:
    return Network(vehicle, [inject(vehicle, fault) for fault in columns])
