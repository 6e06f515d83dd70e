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
from functools import cached_property
from typing import Any

from ohmwork.network.elimination import REFERENCE, Plan, Stamps, plan
from ohmwork.network.laws import Bent, Conductor, Law, Row, Source
from ohmwork.network.lowering import Branch

FINE, ROUGH = 1e-9, 1e-3
"""Largest change of a bent law's voltage in the last Newton step: of a result, and of
what only decides which relays and fuses open. [V]"""

SET, SWITCHED, BENT = range(3)
"""Stages of a branch."""

MOST_STEPS, MOST_HALVINGS = 200, 60

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
        self.nodes_of_bent = {
            self.nodes[node]: node
            for k in self.bent
            for node in self.ends[k]
            if node != REFERENCE
        }
        """Places that bent laws join, to their nodes."""
        self.edges: list[int] = [
            REFERENCE
            if REFERENCE in pair or pair[0] == pair[1]
            else self.plan.edge(*pair)
            for pair in self.ends
        ]

    @cached_property
    def table(self) -> Any:
        """The same as numbers in arrays, for many circuits at once."""
        from ohmwork.network.lanes import table_of

        return table_of(self)

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
            self.eliminate(SET, stamps)
            self._reduced[key] = stamps
        return self._reduced[key]

    def eliminate(self, stage: int, stamps: Stamps) -> None:
        """Eliminate the nodes of a stage, if it has any."""
        if stage < len(self.plan.stages):
            self.plan.eliminate(stage, stamps)

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
    tolerance: float = FINE,
) -> Stamps:
    """Find the voltages with every gate as it stands.

    The step is halved where, along it, the co-content already rises again by half as
    steeply as it fell at the start: the sum over bent laws of current beyond the
    tangent times step tells. A step of less than `tolerance` is taken whole: what it
    would tell is lost in rounding, and the linear parts have yet to follow.

    Parameters
    ----------
    shape : the circuit.
    laws : of its branches, as they now are.
    reduced : as of `Shape.reduced`.
    shares : share of each branch that conducts, 0 or 1.
    voltages : of every node; a start for the bent laws, and where those of the later
        stages are left. [V]
    tolerance : `FINE` or `ROUGH`. [V]

    Returns
    -------
    The stamps of the last step, eliminated to the end.
    """
    base = reduced.copy()
    shape.add_straight(base, SWITCHED, laws, shares)
    shape.eliminate(SWITCHED, base)
    bent = shape.bent
    curves: list[Any] = [laws[k] for k in bent]
    held = [shares[k] for k in bent]
    at = [shape.across(k, voltages) for k in bent]
    values = [curve.at(v) for curve, v in zip(curves, at, strict=True)]
    for _ in range(MOST_STEPS):
        stamps = base.copy()
        for k, v, share, (current, slope) in zip(bent, at, held, values, strict=True):
            shape.add(stamps, k, share * slope, share * (current - slope * v))
        shape.eliminate(BENT, stamps)
        shape.expand(BENT, stamps, voltages)
        full = [shape.across(k, voltages) for k in bent]
        changes = (abs(s * (new - v)) for s, new, v in zip(held, full, at, strict=True))
        if max(changes, default=0.0) <= tolerance:
            break
        at, values = _along(curves, held, at, values, full)
    return stamps


def _along(
    laws: Sequence[Bent],
    held: Sequence[float],
    at: Sequence[float],
    values: Sequence[tuple[float, float]],
    full: list[float],
) -> tuple[list[float], list[tuple[float, float]]]:
    """Return how far to go from `at` towards `full`, and current and slope there."""
    steps = [new - v for new, v in zip(full, at, strict=True)]
    fall = sum(
        share * slope * step * step
        for share, (_, slope), step in zip(held, values, steps, strict=True)
    )
    length = 1.0
    # A whole step is the solution itself, free of the rounding of a large swing.
    tried = full
    for _ in range(MOST_HALVINGS):
        reached = [law.at(v) for law, v in zip(laws, tried, strict=True)]
        rise = sum(
            share * (beyond - current - slope * length * step) * step
            for share, (current, slope), (beyond, _), step in zip(
                held, values, reached, steps, strict=True
            )
        )
        if rise - (1.0 - length) * fall <= 0.5 * fall:
            break
        length *= 0.5
        tried = [v + length * step for v, step in zip(at, steps, strict=True)]
    return tried, reached
