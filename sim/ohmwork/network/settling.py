"""A circuit on its way to rest.

Given every relay and fuse, the operating point is the minimum of a convex function (the
co-content): Newton's method with a line search along it always arrives. Around it,
relays and whatever else turns on by voltage follow their thresholds until they rest,
then the one fuse that would melt soonest opens, and so on until nothing changes. What
never rests is said to buzz.
"""

from __future__ import annotations

import copy
import dataclasses
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from ohmwork.network.elimination import Stamps
from ohmwork.network.fuses import FuseLaw
from ohmwork.network.laws import Law, Limited, Row, pick, picked
from ohmwork.network.lowering import Branch, Trigger
from ohmwork.network.newton import (
    FINE,
    ROUGH,
    SET,
    SWITCHED,
    WORTH_NARROWING,
    newton,
)
from ohmwork.network.operating_point import (
    Attachment,
    Guide,
    OperatingPoint,
    Setup,
    Setups,
)

if TYPE_CHECKING:
    from ohmwork.network.solver import Network

_PASSES = 200
_MOST_FLIPS = 5
"""Of one relay while a circuit settles; one that goes on buzzes."""

RESET_VOLTAGE = 1.0
"""A breaker closes again with less across it. [V] Assumed."""

SENSE_REACH = 1.5
"""Most that an alternator makes up for where it senses too little. [V] Assumed."""

SENSE_TOLERANCE = 1e-6
"""How near an alternator comes to what it senses. [V]"""

DOUBT = 0.05
"""Distance from a trigger's threshold that calls for a fine solve. [V]"""

BY_SETUP = ("apart", "control", "not_control")
"""Gates that people decide."""


class Settling:
    """One circuit, or many, on the way to rest.

    Of many, those that rest are put aside, so that late ones alone cost time.
    """

    def __init__(
        self,
        network: Network,
        setup: Setups,
        extra: Attachment,
        start: OperatingPoint | None,
        blown: Mapping[str, Row] | None,
    ) -> None:
        self.network, self.ops = network, network.ops
        self.branches = network.branches + extra.branches
        self.set_shares = _set_shares(network, self.branches, setup)
        self.shape = network.shape(self.branches, self.set_shares)
        self.fuses = (*network.fuses, *extra.fuses)
        zero = network.same(0.0)
        burnt = dict(network.blown_at_start if start is None else start.blown_rows)
        burnt.update(blown or {})
        self.burnt: dict[str, Row] = {
            f.name: burnt.get(f.name, 0.0) for f in self.fuses
        }
        self.states: dict[str, Row] = {
            t.name: 0.0 if start is None else start.triggers[t.name]
            for t in network.triggers
        }
        self.flips: dict[str, Row] = dict.fromkeys(self.states, 0.0)
        self.voltages: list[Row] = [zero] * len(self.shape.nodes)
        if start is not None:
            known = start.voltages
            self.voltages = [known.get(node, zero) for node in self.shape.nodes]
        self.moving = [
            k
            for k, b in enumerate(self.branches)
            if any(g.by not in BY_SETUP for g in b.gates)
        ]
        self.laws: list[Law] = [b.law for b in self.branches]
        self.windings = dict(network.windings)
        self.offsets: dict[str, Row] = {name: 0.0 for name, _ in network.senses}
        self.offsets_before: dict[str, tuple[Row, Row]] = {}
        self.n = len(network.variants)

    def shares(self) -> list[Row]:
        """Return 1 where a branch conducts and 0 where one of its gates is open."""
        shares = self.set_shares[:]
        for k in self.moving:
            for gate in self.branches[k].gates:
                match gate.by:
                    case "fuse":
                        shares[k] = shares[k] * (1.0 - self.burnt[gate.name])
                    case "on":
                        shares[k] = shares[k] * self.states[gate.name]
                    case "off":
                        shares[k] = shares[k] * (1.0 - self.states[gate.name])
        return shares

    def passes(self) -> Iterator[list[Row]]:
        """Give the voltages after each pass. [V]"""
        reduced = self.shape.reduced(self.set_shares)
        moved: Any = True
        while self.ops.any(moved):
            moved, _ = self.one_pass(reduced)
            yield self.voltages[:]

    def run(self, guide: Guide) -> OperatingPoint:
        """Settle."""
        ops, shape = self.ops, self.shape
        reduced = shape.reduced(self.set_shares)
        at_work, rows = self, None
        tolerance = FINE if self.network.single else ROUGH
        for number in range(_PASSES):
            if tolerance == ROUGH:
                at_work.follow(guide, number, rows)
            moved, stamps = at_work.one_pass(reduced, tolerance)
            if not ops.any(moved):
                if rows is not None:
                    self.take_over(at_work, rows)
                if tolerance == FINE:
                    break
                at_work, rows, tolerance = self, None, FINE
                continue
            if self.network.single:
                continue
            still = ops.find(moved, at_work.n)
            if len(still) < WORTH_NARROWING * at_work.n:
                if rows is not None:
                    self.take_over(at_work, rows)
                rows = still if rows is None else rows[still]
                at_work = self.narrowed(rows)
        shape.expand(SET, reduced, self.voltages)
        values = dict(zip(shape.nodes, self.voltages, strict=True))
        values[self.network.vehicle.reference] = 0.0
        buzzing: Row = 0.0
        for trigger in self.network.triggers:
            if trigger.resets is None:
                never = ops.where(self.flips[trigger.name] >= _MOST_FLIPS, 1.0, 0.0)
                buzzing = ops.maximum(buzzing, never)
        laws = self.present_laws()
        return OperatingPoint(
            network=self.network,
            branches=tuple(map(_with_law, self.branches, laws)),
            conducting=tuple(self.shares()),
            voltages=values,
            triggers=self.states,
            blown_rows=self.burnt,
            buzzing=buzzing,
            shape=shape,
            stamps=stamps,
        )

    def one_pass(self, reduced: Stamps, tolerance: float = FINE) -> tuple[Any, Stamps]:
        """Find the voltages, let everything follow; return where something moved."""
        shares, laws = self.shares(), self.present_laws()
        for fineness in (tolerance, FINE):
            stamps = newton(
                self.shape, laws, reduced, shares, self.voltages, self.ops, fineness
            )
            self.shape.expand(SWITCHED, stamps, self.voltages)
            if fineness == FINE or not self._is_in_doubt():
                break
        flipped = self._flip()
        rests = flipped == 0.0
        moved = (flipped > 0.0) | self._follow_senses() | self._reset()
        return moved | self._melt_one(shares, rests), stamps

    def follow(self, guide: Guide, number: int, rows: Any) -> None:
        """Change the voltages as they change in a pass of circuits much like these."""
        for node, volts in guide[number].items() if number < len(guide) else ():
            k = self.shape.index[node]
            change = volts - guide[number - 1][node] if number else volts
            change = change if rows is None else pick(change, rows)
            self.voltages[k] = self.voltages[k] + change

    def narrowed(self, rows: Any) -> Settling:
        """Return some of the circuits, to go on with."""
        part = copy.copy(self)
        part.n = len(rows)
        part.voltages = [pick(row, rows) for row in self.voltages]
        part.set_shares = [pick(row, rows) for row in self.set_shares]
        part.laws = [picked(law, rows) for law in self.laws]
        for name in ("burnt", "states", "flips", "windings", "offsets"):
            mine = getattr(self, name)
            setattr(part, name, {k: pick(row, rows) for k, row in mine.items()})
        part.offsets_before = {
            k: (pick(one, rows), pick(other, rows))
            for k, (one, other) in self.offsets_before.items()
        }
        return part

    def take_over(self, part: Settling, rows: Any) -> None:
        """Take over what some of the circuits have come to."""
        for node in self.shape.late_nodes:
            self.voltages[node] = self.ops.put(
                self.voltages[node], rows, part.voltages[node], self.n
            )
        for name in ("burnt", "states", "flips", "offsets"):
            mine, theirs = getattr(self, name), getattr(part, name)
            for key, row in theirs.items():
                if row is not mine[key]:
                    mine[key] = self.ops.put(mine[key], rows, row, self.n)
        for key, (one, other) in part.offsets_before.items():
            old = self.offsets_before.get(key, (0.0, 0.0))
            self.offsets_before[key] = (
                self.ops.put(old[0], rows, one, self.n),
                self.ops.put(old[1], rows, other, self.n),
            )

    def present_laws(self) -> list[Law]:
        """Return the laws as the alternators' senses have set them."""
        if not self.offsets:
            return self.laws
        return [
            self._law(branch, law)
            for branch, law in zip(self.branches, self.laws, strict=True)
        ]

    def _law(self, branch: Branch, law: Law) -> Law:
        """Return a law; that of an alternator with what it makes up for."""
        if isinstance(law, Limited) and branch.owner in self.offsets:
            offset = self.offsets[branch.owner]
            return dataclasses.replace(law, voltage=law.voltage + offset)
        return law

    def _across(self, trigger: Trigger) -> Row:
        """Return the voltage that a trigger goes by; 0 where it hears nothing. [V]"""
        read = self.shape.read
        across: Row = -math.inf
        for a, b in trigger.across:
            volts = read(a, self.voltages) - read(b, self.voltages)
            volts = abs(volts) if trigger.either_way else volts
            across = self.ops.maximum(across, volts)
        across = across * self.windings.get(trigger.name, 1.0)
        if trigger.fuse:
            across = across * (1.0 - self.burnt[trigger.fuse])
        return across

    def _is_in_doubt(self) -> bool:
        """Whether a trigger is so near its threshold that rough voltages mislead."""
        for trigger in self.network.triggers:
            across, state = self._across(trigger), self.states[trigger.name]
            threshold = self.ops.where(state > 0.0, trigger.drops, trigger.makes)
            if self.ops.any(abs(across - threshold) < DOUBT):
                return True
        return False

    def _flip(self) -> Row:
        """Let everything that goes by voltage follow; return how much did, by row."""
        ops, read = self.ops, self.shape.read
        flipped: Row = 0.0
        for trigger in self.network.triggers:
            name, was = trigger.name, self.states[trigger.name]
            across = self._across(trigger)
            wanted = ops.where(
                across >= trigger.makes,
                1.0,
                ops.where(across <= trigger.drops, 0.0, was),
            )
            if trigger.resets is not None:
                a, b, least = trigger.resets
                volts = read(a, self.voltages) - read(b, self.voltages)
                wanted = ops.where((was > 0.0) & (volts >= least), 0.0, wanted)
            # An arm that is always driven on from park sweeps; it does not buzz.
            at_last = was if trigger.resets is None else 1.0
            wanted = ops.where(self.flips[name] < _MOST_FLIPS, wanted, at_last)
            change = abs(wanted - was)
            self.states[name] = wanted
            self.flips[name] = self.flips[name] + change
            flipped = flipped + change
        return flipped

    def _follow_senses(self) -> Any:
        """Move alternators towards what they sense; return where one had to move.

        The voltage lost on the way to what is sensed is made up for. The search is a
        secant's, since with a poor cable the loss follows the output almost one to one.
        """
        ops, read = self.ops, self.shape.read
        moved: Any = False
        for name, _ in self.network.senses:
            offset = self.offsets[name]
            lost = read(f"{name}:B+", self.voltages) - read(f"{name}:S", self.voltages)
            turning = self.network.charges(name, self.set_shares) * self.states[name]
            wanted = turning * ops.minimum(ops.maximum(lost, 0.0), SENSE_REACH)
            far = abs(wanted - offset) > SENSE_TOLERANCE
            if not ops.any(far):
                continue
            moved = moved | far
            slope: Row = 0.0
            if name in self.offsets_before:
                offset_then, wanted_then = self.offsets_before[name]
                step = offset - offset_then
                steady = abs(step) < 1e-9
                slope = (wanted - wanted_then) / ops.where(steady, 1.0, step)
                slope = ops.where(steady, 0.0, slope)
                slope = ops.minimum(ops.maximum(slope, 0.0), 0.95)
            self.offsets_before[name] = (offset, wanted)
            new = offset + (wanted - offset) / (1.0 - slope)
            new = ops.minimum(ops.maximum(new, 0.0), SENSE_REACH)
            self.offsets[name] = ops.where(far, new, offset)
        return moved

    def _reset(self) -> Any:
        """Close what closes again by itself; return where anything did."""
        ops = self.ops
        moved: Any = False
        for fuse in self.fuses:
            if not fuse.resets or not ops.any(self.burnt[fuse.name] > 0.0):
                continue
            k = self.network.branches_of[(fuse.owner, fuse.role)][0]
            asked: Row = self.set_shares[k]
            for gate in self.branches[k].gates:
                if gate.by == "on":
                    asked = asked * self.states[gate.name]
            idle = abs(self.shape.across(k, self.voltages)) < RESET_VOLTAGE
            closes = (self.burnt[fuse.name] > 0.0) & (idle | (asked == 0.0))
            moved = moved | closes
            self.burnt[fuse.name] = ops.where(closes, 0.0, self.burnt[fuse.name])
        return moved

    def _melt_one(self, shares: list[Row], rests: Any) -> Any:
        """Open the fuse that melts soonest, where all else rests; return where."""
        ops = self.ops
        soonest: Row = math.inf
        times = {}
        for fuse in self.fuses:
            current: Row = 0.0
            for k in self._heating(fuse):
                across = self.shape.across(k, self.voltages)
                current = current + shares[k] * self.laws[k].current(across)
            hot = (fuse.heat(current) > 0.0) & rests
            if not ops.any(hot):
                continue
            time = ops.where(hot, fuse.melting_time(current, ops), math.inf)
            times[fuse.name] = time
            soonest = ops.minimum(soonest, time)
        moved: Any = False
        for name, time in times.items():
            melts = (time == soonest) & (time < math.inf)
            moved = moved | melts
            self.burnt[name] = ops.where(melts, 1.0, self.burnt[name])
        return moved

    def _heating(self, fuse: FuseLaw) -> list[int]:
        """Return the branches whose current heats a fuse."""
        known = self.network.branches_of.get((fuse.owner, fuse.role))
        if known is not None:
            return known
        first = len(self.network.branches)
        return [
            k
            for k, b in enumerate(self.branches[first:], first)
            if (b.owner, b.role) == (fuse.owner, fuse.role)
        ]


def _set_shares(
    network: Network, branches: Sequence[Branch], setup: Setups
) -> list[Row]:
    """Return 1 where what people have set lets a branch conduct, else 0."""
    different: dict[int, Setup] = {}
    which: Any = None
    if isinstance(setup, Setup):
        different[0] = setup
    else:
        different = {id(s): s for s in setup}
        numbers = {key: n for n, key in enumerate(different)}
        which = network.ops.numbers([numbers[id(s)] for s in setup])
    shares: list[Row] = []
    for branch in branches:
        decide = [g for g in branch.gates if g.by in BY_SETUP]
        if not decide:
            shares.append(1.0)
            continue
        values = [
            float(all(network.is_set(g, s) for g in decide)) for s in different.values()
        ]
        shares.append(values[0] if which is None else network.ops.spread(values, which))
    return shares


def _with_law(branch: Branch, law: Law) -> Branch:
    return dataclasses.replace(branch, law=law)
