"""Newton's method on a circuit whose relays and fuses are given.

The operating point is the minimum of the co-content, which is convex as every law rises
with voltage. So the step is shortened where it would go past the valley, and the method
arrives from anywhere.

Work is split by how often a branch changes. Wires and switches as they are set come
first and are eliminated once; what relays, fuses and faults open comes next, once a
pass; lamps, diodes, motors and batteries last, once a Newton step.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ohmwork.network.elimination import REFERENCE, Plan, Stamps, plan
from ohmwork.network.laws import Bent, Conductor, Law, Row, Source, pick, picked
from ohmwork.network.lowering import Branch

FINE, ROUGH = 1e-9, 1e-2
"""Largest change of a bent law's voltage in the last Newton step: of a result, and of
what only decides which relays and fuses open. [V]"""

WORTH_NARROWING = 0.5
"""Share of the scenarios still moving below which the others are put aside. [-]"""

SET, SWITCHED, BENT = range(3)
"""Stages of a branch."""

_STEPS, _HALVINGS = 200, 60

_SETUPS_KEPT = 32
"""Positions of the controls for which the first stage is remembered."""


class Shape:
    """Nodes and elimination steps of a set of branches.

    Parameters
    ----------
    branches : everything that joins two places.
    reference : the place at 0 V.
    is_switched : of each branch, whether it may change while the circuit settles, or
        differs between scenarios.
    watched : pairs of places whose voltage decides what opens and closes.
    """

    def __init__(
        self,
        branches: tuple[Branch, ...],
        reference: str,
        is_switched: Sequence[bool],
        watched: Sequence[tuple[str, str]] = (),
    ) -> None:
        places = dict.fromkeys(place for b in branches for place in (b.a, b.b))
        places.pop(reference, None)
        self.branches = branches
        self.nodes = tuple(places)
        self.index = {node: k for k, node in enumerate(self.nodes)}
        self.index[reference] = REFERENCE
        self.ends = [(self.index[b.a], self.index[b.b]) for b in branches]
        self.stage = [
            BENT
            if not isinstance(b.law, (Conductor, Source))
            else SWITCHED
            if switched
            else SET
            for b, switched in zip(branches, is_switched, strict=True)
        ]
        self.of_stage = [
            [k for k, stage in enumerate(self.stage) if stage == wanted]
            for wanted in (SET, SWITCHED, BENT)
        ]
        self._reduced: dict[tuple[Row, ...], Stamps] = {}
        self._watched = [(self.index[a], self.index[b]) for a, b in watched]
        self.bent = self.of_stage[BENT]
        stage_of = [SET] * len(self.nodes)
        stages = [*zip(self.ends, self.stage, strict=True)]
        stages += [(pair, SWITCHED) for pair in self._watched]
        for pair, stage in stages:
            for node in pair:
                if node != REFERENCE:
                    stage_of[node] = max(stage_of[node], stage)
        self.plan: Plan = plan(len(self.nodes), tuple(self.ends), tuple(stage_of))
        self.late_nodes = [
            step.node for stage in self.plan.stages[SWITCHED:] for step in stage
        ]
        """Nodes that are not eliminated once and for all."""
        last = self.plan.stages[BENT] if len(self.plan.stages) > BENT else ()
        self.bent_nodes = [step.node for step in last]
        self.bent_edges = {edge for step in last for _, edge in step.neighbours}
        """Nodes and edges of the last stage."""
        self.nodes_of_bent = {
            self.nodes[node]: node
            for k in self.bent
            for node in self.ends[k]
            if node != REFERENCE
        }
        """Places that bent laws join, to their nodes."""
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
        return _between(self.ends[branch], voltages)

    def felt(self, response: Sequence[float]) -> float:
        """Largest change across a bent law or what decides something. [V]"""
        pairs = (*(self.ends[k] for k in self.bent), *self._watched)
        return max((abs(_between(pair, response)) for pair in pairs), default=0.0)

    def add(self, stamps: Stamps, branch: int, conductance: Row, current: Row) -> None:
        """Add a branch of ``I = conductance v + current``."""
        i, j = self.ends[branch]
        if i == j:
            return
        edge = self.edges[branch]
        if edge == REFERENCE:
            node = j if i == REFERENCE else i
            stamps.grounds[node] = stamps.grounds[node] + conductance
        else:
            stamps.edges[edge] = stamps.edges[edge] + conductance
        if current is not None:
            if i != REFERENCE:
                stamps.currents[i] = stamps.currents[i] - current
            if j != REFERENCE:
                stamps.currents[j] = stamps.currents[j] + current

    def add_straight(
        self, stamps: Stamps, stage: int, laws: Sequence[Law], shares: Sequence[Row]
    ) -> None:
        """Add the branches of one stage that are straight lines."""
        for k in self.of_stage[stage]:
            law, share = laws[k], shares[k]
            if isinstance(law, Conductor):
                self.add(stamps, k, law.conductance * share, None)
            elif isinstance(law, Source):
                held = law.conductance * share
                self.add(stamps, k, held, -held * law.voltage)

    def reduced(self, shares: Sequence[Row]) -> Stamps:
        """Return the circuit with what people have set, its first stage eliminated."""
        key = tuple(shares[k] for k in self.of_stage[SET])
        if key not in self._reduced:
            if len(self._reduced) >= _SETUPS_KEPT:
                self._reduced.clear()
            stamps = self.plan.stamps()
            self.add_straight(stamps, SET, [b.law for b in self.branches], shares)
            self.eliminate(SET, stamps, max)
            self._reduced[key] = stamps
        return self._reduced[key]

    def eliminate(self, stage: int, stamps: Stamps, at_least: Any) -> None:
        """Eliminate the nodes of a stage, if it has any."""
        if stage < len(self.plan.stages):
            self.plan.eliminate(stage, stamps, at_least)

    def expand(self, stage: int, stamps: Stamps, voltages: list[Row]) -> None:
        """Find the voltages of a stage's nodes, if it has any."""
        if stage < len(self.plan.stages):
            self.plan.expand(stage, stamps, voltages)


def _between(pair: tuple[int, int], voltages: Sequence[Row]) -> Row:
    """Voltage of one node over another. [V]"""
    i, j = pair
    high = 0.0 if i == REFERENCE else voltages[i]
    return high if j == REFERENCE else high - voltages[j]


def newton(
    shape: Shape,
    laws: Sequence[Law],
    reduced: Stamps,
    shares: Sequence[Row],
    voltages: list[Row],
    ops: Any,
    tolerance: float = FINE,
) -> Stamps:
    """Find the voltages with every gate as it stands.

    The step is halved where, along it, the co-content already rises again by half as
    steeply as it fell at the start: the sum over bent laws of current beyond the
    tangent times step tells. A step of less than `tolerance` is taken whole: what it
    would tell is lost in rounding, and the linear parts have yet to follow. A scenario
    that has arrived is left as it is, so that it does not depend on its neighbours.

    Parameters
    ----------
    shape : the circuit.
    laws : of its branches, as they now are.
    reduced : as of `Shape.reduced`.
    shares : share of each branch that conducts, 0 or 1.
    voltages : of every node; a start for the bent laws, and where those of the later
        stages are left. [V]
    ops : arithmetic of the rows.
    tolerance : `FINE` or `ROUGH`. [V]

    Returns
    -------
    The stamps of the last step, eliminated to the end.
    """
    base = reduced.copy()
    shape.add_straight(base, SWITCHED, laws, shares)
    shape.eliminate(SWITCHED, base, ops.maximum)
    curves: list[Any] = [laws[k] for k in shape.bent]
    held = [shares[k] for k in shape.bent]
    return _descend(shape, base, curves, held, voltages, ops, tolerance)


def _descend(
    shape: Shape,
    base: Stamps,
    curves: list[Any],
    held: list[Row],
    voltages: list[Row],
    ops: Any,
    tolerance: float,
    at: list[Row] | None = None,
) -> Stamps:
    """Go on until every scenario has arrived; those that are late go on alone."""
    bent = shape.bent
    if at is None:
        at = [shape.across(k, voltages) for k in bent]
    values = [curve.at(v) for curve, v in zip(curves, at, strict=True)]
    moving: Any = True
    stamps = base
    for _ in range(_STEPS):
        stamps = base.copy()
        for k, v, share, (current, slope) in zip(bent, at, held, values, strict=True):
            shape.add(stamps, k, share * slope, share * (current - slope * v))
        shape.eliminate(BENT, stamps, ops.maximum)
        shape.expand(BENT, stamps, voltages)
        full = [shape.across(k, voltages) for k in bent]
        largest: Row = 0.0
        for share, new, v in zip(held, full, at, strict=True):
            largest = ops.maximum(largest, abs(share * (new - v)))
        moving = moving & (largest > tolerance)
        if not ops.any(moving):
            break
        reached, there = _along(curves, held, at, values, full, moving, ops)
        if ops.all(moving):
            at, values = reached, there
            continue
        n = len(moving)
        late = ops.find(moving, n)
        if len(late) < WORTH_NARROWING * n:
            part = voltages[:]
            for node in shape.bent_nodes:
                part[node] = pick(voltages[node], late)
            _descend(
                shape,
                base.picked(late, shape.bent_edges, shape.bent_nodes),
                [picked(curve, late) for curve in curves],
                [pick(share, late) for share in held],
                part,
                ops,
                tolerance,
                [pick(v, late) for v in reached],
            )
            for step in shape.plan.stages[BENT]:
                node = step.node
                voltages[node] = ops.put(voltages[node], late, part[node], n)
            break
        at = [ops.where(moving, new, old) for new, old in zip(reached, at, strict=True)]
        values = [
            (ops.where(moving, i, i_old), ops.where(moving, g, g_old))
            for (i, g), (i_old, g_old) in zip(there, values, strict=True)
        ]
    return stamps


def _along(
    laws: Sequence[Bent],
    held: Sequence[Row],
    at: Sequence[Row],
    values: Sequence[tuple[Row, Row]],
    full: list[Row],
    moving: Any,
    ops: Any,
) -> tuple[list[Row], list[tuple[Row, Row]]]:
    """Return how far to go from `at` towards `full`, and current and slope there."""
    steps = [new - v for new, v in zip(full, at, strict=True)]
    fall: Row = 0.0
    for share, (_, slope), step in zip(held, values, steps, strict=True):
        fall = fall + share * slope * step * step
    length: Row = 1.0
    tried = full
    for _ in range(_HALVINGS):
        reached = [law.at(v) for law, v in zip(laws, tried, strict=True)]
        rise: Row = 0.0
        for share, (current, slope), (beyond, _), step in zip(
            held, values, reached, steps, strict=True
        ):
            rise = rise + share * (beyond - current - slope * length * step) * step
        too_far = moving & (rise - (1.0 - length) * fall > 0.5 * fall)
        if not ops.any(too_far):
            break
        length = ops.where(too_far, 0.5 * length, length)
        # A whole step is the solution itself, free of the rounding of a large swing.
        tried = [
            ops.where(length < 1.0, v + length * step, new)
            for v, step, new in zip(at, steps, full, strict=True)
        ]
    return tried, reached
