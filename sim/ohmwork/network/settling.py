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
from ohmwork.network.lowering import BY_SETUP, Branch, Trigger
from ohmwork.network.newton import (
    FINE,
    ROUGH,
    SET,
    SWITCHED,
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

WORTH_NARROWING = 0.5
"""Share of the circuits still moving below which the others are put aside. [-]"""

_MOST_FLIPS = 7
"""Of one relay while a circuit settles; one that goes on buzzes."""

HUNTS = 2
"""Flips of one relay from which on relays no longer move together."""

RESET_VOLTAGE = 1.0
"""A breaker closes again with less across it. [V] Assumed."""

SENSE_REACH = 1.5
"""Most that an alternator makes up for where it senses too little. [V] Assumed."""

SENSE_TOLERANCE = 1e-6
"""How near an alternator comes to what it senses. [V]"""


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
        self.set_shares, self.setup = _set_shares(network, self.branches, setup)
        self.shape = network.shape(self.branches, self.set_shares)
        self.fuses = (*network.fuses, *extra.fuses)
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
        self.restless: dict[str, Row] = dict.fromkeys(self.states, 0.0)
        """1 for what has flipped too often and would flip again."""
        self.n = len(network.variants)
        known = {} if start is None else start.voltages
        first = [known.get(node, 0.0) for node in self.shape.nodes]
        self.table: Any = None
        """Voltages of many circuits, one row for each node. [V]"""
        self.voltages: list[Row] = first
        if not network.single:
            self.hold(self.ops.table(first, self.n))
            self.variant = network.which
            self.fleet: Any = None
        self.moving = [
            k
            for k, b in enumerate(self.branches)
            if any(g.by not in BY_SETUP for g in b.gates)
        ]
        self.laws: list[Law] = [b.law for b in self.branches]
        self.windings = dict(network.windings)
        self.offsets: dict[str, Row] = {name: 0.0 for name, _ in network.senses}
        self.offsets_before: dict[str, tuple[Row, Row]] = {}

    def hold(self, table: Any) -> None:
        """Take voltages of many circuits as they stand. [V]"""
        self.table = self.ops.padded(table)
        self.voltages = list(self.table[:, : self.n])

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
        for never in self.restless.values():
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

    def one_pass(
        self, reduced: Stamps, tolerance: float = FINE
    ) -> tuple[Any, Stamps | None]:
        """Find the voltages, let everything follow; return where something moved."""
        shares = self.shares()
        stamps = self._solve(reduced, shares, tolerance)
        flipped = self._flip()
        rests = flipped == 0.0
        moved = (flipped > 0.0) | self._follow_senses() | self._reset()
        return moved | self._melt_one(shares, rests), stamps

    def _solve(
        self, reduced: Stamps, shares: list[Row], tolerance: float
    ) -> Stamps | None:
        """Find the voltages; return what Newton's last step left of one circuit."""
        shape = self.shape
        if self.network.single:
            laws = self.present_laws()
            stamps = newton(shape, laws, reduced, shares, self.voltages, tolerance)
            shape.expand(SWITCHED, stamps, self.voltages)
            return stamps
        from ohmwork.network import lanes

        if self.fleet is None:
            self.fleet = lanes.fleet(
                shape, reduced, self.set_shares, [*self.states], [*self.burnt],
                [*self.offsets], self.variant, self.setup,
            )  # fmt: skip
        states = self.ops.table([*self.states.values(), *self.burnt.values()], self.n)
        offsets = self.ops.table([*self.offsets.values()], self.n)
        padded = self.ops.padded
        lanes.solve(
            self.fleet,
            padded(self.variant),
            padded(self.setup),
            padded(states),
            padded(offsets),
            self.table,
            tolerance,
        )
        return None

    def follow(self, guide: Guide, number: int, rows: Any) -> None:
        """Change the voltages as they change in a pass of circuits much like these."""
        for node, volts in guide[number].items() if number < len(guide) else ():
            k = self.shape.index[node]
            change = volts - guide[number - 1][node] if number else volts
            change = change if rows is None else pick(change, rows)
            self.voltages[k] += change

    def narrowed(self, rows: Any) -> Settling:
        """Return some of the circuits, to go on with."""
        part = copy.copy(self)
        part.n = len(rows)
        part.hold(self.table[:, rows])
        part.variant, part.setup = self.variant[rows], self.setup[rows]
        part.set_shares = [pick(row, rows) for row in self.set_shares]
        part.laws = [picked(law, rows) for law in self.laws]
        for name in (
            "burnt", "states", "flips", "restless", "windings", "offsets",
        ):  # fmt: skip
            mine = getattr(self, name)
            setattr(part, name, {k: pick(row, rows) for k, row in mine.items()})
        part.offsets_before = {
            k: (pick(one, rows), pick(other, rows))
            for k, (one, other) in self.offsets_before.items()
        }
        return part

    def take_over(self, part: Settling, rows: Any) -> None:
        """Take over what some of the circuits have come to."""
        self.table[:, rows] = part.table[:, : part.n]
        for name in ("burnt", "states", "flips", "restless", "offsets"):
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

    def _flip(self) -> Row:
        """Let everything that goes by voltage follow; return how much did, by row.

        Electronics are a thousand times quicker than what moves, which waits for them.
        Where relays have begun to hunt they go one after the other, those first that
        have moved least: no two real ones stay in step.
        """
        ops = self.ops
        wanted = {t.name: self._wanted(t) for t in self.network.triggers}
        changes = {name: abs(row - self.states[name]) for name, row in wanted.items()}
        quick: Row = 0.0
        hunts: Row = 0.0
        least: Row = math.inf
        for trigger in self.network.triggers:
            change, flips = changes[trigger.name], self.flips[trigger.name]
            if trigger.moves:
                hunts = ops.maximum(hunts, flips)
                least = ops.minimum(least, ops.where(change > 0.0, flips, math.inf))
            else:
                quick = quick + change
        flipped = quick
        for trigger in self.network.triggers:
            name, flips = trigger.name, self.flips[trigger.name]
            change = changes[name]
            if trigger.moves:
                turn = (hunts < HUNTS) | ((flips == least) & (flipped == 0.0))
                change = change * (turn & (quick == 0.0))
                flipped = flipped + change
            self.states[name] = abs(self.states[name] - change)
            self.flips[name] = flips + change
        return flipped

    def _wanted(self, trigger: Trigger) -> Row:
        """Return how a trigger would stand at these voltages."""
        ops, name = self.ops, trigger.name
        was, across = self.states[name], self._across(trigger)
        wanted = ops.where(
            across >= trigger.makes,
            1.0,
            ops.where(across <= trigger.drops, 0.0, was),
        )
        held = self.flips[name] >= _MOST_FLIPS
        if trigger.resets is None:
            self.restless[name] = abs(wanted - was) * held
            return ops.where(held, was, wanted)
        a, b, least = trigger.resets
        volts = self.shape.read(a, self.voltages) - self.shape.read(b, self.voltages)
        wanted = ops.where((was > 0.0) & (volts >= least), 0.0, wanted)
        # An arm that is always driven on from park sweeps; it does not buzz.
        return ops.where(held, 1.0, wanted)

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
            asked: Row = 0.0
            for k in self.network.branches_of[(fuse.owner, fuse.role)]:
                asks = self.set_shares[k] * (self.laws[k].conductance > 0.0)
                for gate in self.branches[k].gates:
                    if gate.by == "on":
                        asks = asks * self.states[gate.name]
                asked = ops.maximum(asked, asks)
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
) -> tuple[list[Row], Any]:
    """Return 1 where what people have set lets a branch conduct, else 0.

    Also, of many circuits, the number of each one's setup.
    """
    setups = [setup] if isinstance(setup, Setup) else setup
    different = {id(s): s for s in setups}
    which: Any = None
    if not network.single:
        numbers = {key: n for n, key in enumerate(different)}
        which = network.ops.numbers([numbers[id(s)] for s in setups])
        if len(setups) == 1:
            which = which.repeat(len(network.variants))
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
    return shares, which


def _with_law(branch: Branch, law: Law) -> Branch:
    return dataclasses.replace(branch, law=law)
