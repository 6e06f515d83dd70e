"""Newton's method on a circuit whose relays and fuses are given.

The operating point is the minimum of the co-content, which is convex as every law rises
with voltage. So the step is shortened where it would go past the valley, and the method
arrives from anywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ohmwork.network.elimination import REFERENCE, Plan, plan
from ohmwork.network.laws import Conductor, Diode, Filament, Row, Source
from ohmwork.network.lowering import Branch

TOLERANCE = 1e-9
"""Largest change of a lamp's or diode's voltage in the last Newton step. [V]"""

_STEPS = 200


class Shape:
    """Nodes and elimination steps of a set of branches."""

    def __init__(self, branches: tuple[Branch, ...], reference: str) -> None:
        places = dict.fromkeys(place for b in branches for place in (b.a, b.b))
        places.pop(reference, None)
        self.nodes = tuple(places)
        self.index = {node: k for k, node in enumerate(self.nodes)}
        self.index[reference] = REFERENCE
        self.ends = [(self.index[b.a], self.index[b.b]) for b in branches]
        self.plan: Plan = plan(len(self.nodes), tuple(self.ends))
        self.edges = [
            REFERENCE
            if REFERENCE in pair or pair[0] == pair[1]
            else self.plan.edge(*pair)
            for pair in self.ends
        ]

    def read(self, place: str, voltages: Sequence[Row]) -> Row:
        """Voltage of a place. [V]"""
        k = self.index[place]
        return 0.0 if k == REFERENCE else voltages[k]

    def across(self, branch: int, voltages: Sequence[Row]) -> Row:
        """Voltage from the first to the second place of a branch. [V]"""
        i, j = self.ends[branch]
        high = 0.0 if i == REFERENCE else voltages[i]
        return high - (0.0 if j == REFERENCE else voltages[j])


class _Stamps:
    """Conductances and currents of a linear circuit, being added up."""

    def __init__(self, shape: Shape) -> None:
        self.shape = shape
        self.edges: list[Row] = [0.0] * shape.plan.n_edges
        self.grounds: list[Row] = [0.0] * shape.plan.n_nodes
        self.currents: list[Row] = [0.0] * shape.plan.n_nodes

    def copy(self) -> _Stamps:
        """Return a copy that can be added to."""
        twin = _Stamps(self.shape)
        twin.edges[:], twin.grounds[:] = self.edges, self.grounds
        twin.currents[:] = self.currents
        return twin

    def add(self, branch: int, conductance: Row, current: Row) -> None:
        """Add a branch of ``I = conductance v + current``."""
        i, j = self.shape.ends[branch]
        if i == j:
            return
        edge = self.shape.edges[branch]
        if edge == REFERENCE:
            node = j if i == REFERENCE else i
            self.grounds[node] = self.grounds[node] + conductance
        else:
            self.edges[edge] = self.edges[edge] + conductance
        if i != REFERENCE:
            self.currents[i] = self.currents[i] - current
        if j != REFERENCE:
            self.currents[j] = self.currents[j] + current

    def solve(self, at_least: Any) -> list[Row]:
        """Return the node voltages. [V]"""
        return self.shape.plan.solve(self.edges, self.grounds, self.currents, at_least)


def newton(
    shape: Shape,
    branches: tuple[Branch, ...],
    shares: Sequence[Row],
    voltages: list[Row],
    ops: Any,
) -> list[Row]:
    """Return the node voltages with every gate as it stands. [V]

    The step is halved where, along it, the co-content already rises again by half as
    steeply as it fell at the start: the sum over lamps and diodes of current beyond
    the tangent times step tells. A step of less than `TOLERANCE` is taken whole: what
    it would tell is lost in rounding, and the linear parts have yet to follow.
    """
    linear = _Stamps(shape)
    bent: list[tuple[int, Filament | Diode]] = []
    for k, branch in enumerate(branches):
        law = branch.law
        if isinstance(law, Conductor):
            linear.add(k, law.conductance * shares[k], 0.0)
        elif isinstance(law, Source):
            held = law.conductance * shares[k]
            linear.add(k, held, -held * law.voltage)
        else:
            bent.append((k, law))
    for _ in range(_STEPS):
        stamps = linear.copy()
        tangents = []
        for k, law in bent:
            v = shape.across(k, voltages)
            current, slope = law.current(v), law.slope(v)
            tangents.append((k, law, v, current, slope))
            stamps.add(k, slope, current - slope * v)
        full = stamps.solve(ops.maximum)
        steps = [shape.across(k, full) - v for k, _, v, _, _ in tangents]
        largest: Row = 0.0
        for step in steps:
            largest = ops.maximum(largest, abs(step))
        moving = largest > TOLERANCE
        share: Row = 1.0
        for _ in range(60):
            rise: Row = 0.0
            fall: Row = 0.0
            for (_, law, v, current, slope), step in zip(tangents, steps, strict=True):
                part = share * step
                beyond = law.current(v + part) - current - slope * part
                rise = rise + beyond * step
                fall = fall + slope * step * step
            too_far = moving & (rise - (1.0 - share) * fall > 0.5 * fall)
            if not ops.any(too_far):
                break
            share = ops.where(too_far, 0.5 * share, share)
        # A whole step is the solution itself, free of the rounding of a large swing.
        voltages = [
            ops.where(share < 1.0, old + share * (new - old), new)
            for old, new in zip(voltages, full, strict=True)
        ]
        if not ops.any(moving):
            break
    return voltages
