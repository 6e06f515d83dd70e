"""The steady state of a circuit: voltages, relays, fuses.

Given every relay and fuse, the operating point is the minimum of a convex function (the
co-content): Newton's method with a line search along it always arrives. Around it,
relays and whatever else turns on by voltage follow their thresholds until they rest,
then the one fuse that would melt soonest opens, and so on until nothing changes. What
never rests is said to buzz.

One code serves a single circuit (floats) and many of one shape at once (arrays, one
entry per scenario). Voltages are against the battery's minus post.
"""

from __future__ import annotations

import copy
import dataclasses
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Any, TypeAlias

from ohmwork.errors import unknown_name
from ohmwork.network.elimination import Stamps
from ohmwork.network.fuses import FuseLaw
from ohmwork.network.laws import (
    Law,
    Limited,
    Motor,
    Row,
    Threshold,
    pick,
    picked,
)
from ohmwork.network.lowering import (
    Branch,
    Effect,
    Gate,
    Trigger,
    branches_of,
    effects_of,
    fuses_of,
    triggers_of,
)
from ohmwork.network.newton import (
    FINE,
    ROUGH,
    SET,
    SWITCHED,
    WORTH_NARROWING,
    Shape,
    newton,
)
from ohmwork.parts import Alternator, Engine, Fuse, Part, Relay, Starter
from ohmwork.vehicle import Vehicle

_SETTLING_PASSES = 200
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


class _Floats:
    """What is needed beyond arithmetic, for one circuit."""

    maximum = staticmethod(max)
    minimum = staticmethod(min)
    log1p = staticmethod(math.log1p)
    any = staticmethod(bool)
    all = staticmethod(bool)

    @staticmethod
    def where(condition: Any, yes: Row, no: Row) -> Row:
        """Choose by a condition."""
        return yes if condition else no


def _arrays() -> Any:
    """Return the same for many circuits: NumPy, loaded when it is needed."""
    import numpy as np

    class Arrays:
        """Floats stay floats among arrays: they are faster."""

        log1p = staticmethod(np.log1p)
        any = staticmethod(np.any)
        all = staticmethod(np.all)

        @staticmethod
        def where(condition: Any, yes: Row, no: Row) -> Row:
            """Choose by a condition."""
            if isinstance(condition, (bool, np.bool_)):
                return yes if condition else no
            return np.where(condition, yes, no)

        @staticmethod
        def maximum(one: Row, other: Row) -> Row:
            """Larger of two."""
            if isinstance(one, float) and isinstance(other, float):
                return max(one, other)
            return np.maximum(one, other)

        @staticmethod
        def minimum(one: Row, other: Row) -> Row:
            """Smaller of two."""
            return np.minimum(one, other)

        @staticmethod
        def numbers(values: Sequence[int]) -> Any:
            """Return whole numbers, ready for `spread`."""
            return np.array(values)

        @staticmethod
        def spread(values: Sequence[float], which: Any) -> Row:
            """Return ``values[which]``; one number where all are the same."""
            if min(values) == max(values):
                return values[0]
            return np.array(values)[which]

        @staticmethod
        def put(row: Row, rows: Any, part: Row, n: int) -> Row:
            """Return a row with those of some circuits exchanged."""
            whole = np.array(np.broadcast_to(row, (n,)))
            whole[rows] = part
            return whole

        @staticmethod
        def find(condition: Any, n: int) -> Any:
            """Return where a condition holds."""
            return np.flatnonzero(np.broadcast_to(condition, (n,)))

        @staticmethod
        def full(n: int, value: float) -> Row:
            """Return one value for every circuit."""
            return np.full(n, value)

    return Arrays


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What people have set: controls, and parts pulled or unplugged."""

    controls: Mapping[str, str] = field(default_factory=dict)
    """Position of each control; one not named rests in its first."""
    apart: frozenset[str] = frozenset()


Guide: TypeAlias = Sequence[Mapping[str, Row]]

Setups: TypeAlias = Setup | Sequence[Setup]
"""The same for every circuit, or one for each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """What instruments add to a circuit."""

    branches: tuple[Branch, ...] = ()
    fuses: tuple[FuseLaw, ...] = ()
    """Of the instruments; the branches name them in their gates."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """A settled circuit."""

    network: Network
    branches: tuple[Branch, ...]
    conducting: tuple[Row, ...]
    """Share of each branch's law that conducts: 0 or 1. [-]"""
    voltages: Mapping[str, Row]
    """Of every place. [V]"""
    triggers: Mapping[str, Row]
    """1 for on (a relay pulled in, a module awake), 0 for off."""
    blown_rows: Mapping[str, Row]
    """1 for blown, tripped or dead."""
    buzzing: Row
    """1 where something never rests."""
    shape: Shape
    stamps: Stamps
    """As Newton's last step left them."""

    def voltage(self, place: str, reference: str | None = None) -> Row:
        """Voltage of a place over another, by default the minus post. [V]"""
        for name in (place, reference):
            if name is not None and name not in self.voltages:
                raise unknown_name("place", name, self.voltages)
        base = 0.0 if reference is None else self.voltages[reference]
        return self.voltages[place] - base

    def current(self, owner: str, role: str = "") -> Row:
        """Current of a branch from its first to its second place. [A]"""
        found = [
            current
            for branch, current in self.branch_currents()
            if (branch.owner, branch.role) == (owner, role)
        ]
        if found:
            return sum(found[1:], found[0])
        known = {b.owner: None for b in self.branches}
        if owner not in known:
            raise unknown_name("part", owner, known)
        roles = [b.role for b in self.branches if b.owner == owner]
        raise unknown_name(f"branch of {owner}", role, roles)

    def branch_currents(self) -> Iterator[tuple[Branch, Row]]:
        """Give every branch with its current. [A]"""
        for branch, share in zip(self.branches, self.conducting, strict=True):
            across = self.voltages[branch.a] - self.voltages[branch.b]
            yield branch, share * branch.law.current(across)

    @property
    def relays(self) -> Mapping[str, Row]:
        """What can be heard to click: 1 for pulled in, 0 at rest."""
        return {name: self.triggers[name] for name in self.network.relays}

    @property
    def blown(self) -> frozenset[str]:
        """Names of the fuses that have blown (one circuit only)."""
        return frozenset(name for name, row in self.blown_rows.items() if row)

    def output(self, name: str) -> Row:
        """What a part does, over what it does when all is well. [-]

        Light of a filament: the power 3.4 of voltage (*Standard Handbook for Electrical
        Engineers*, 11th ed., p. 22-8, as cited at second hand) over that of its type at
        test voltage; of an LED, its current. Speed of a motor, below zero backwards.
        Heat of a heater. Current of a flasher. Voltage of a horn or a solenoid. Whether
        a wiper is parked.
        """
        effect, rated = self.network.effects[name]
        part = name.partition(":")[0]
        shares = [
            self._share_of(effect.what, k, rated)
            for role in effect.roles
            for k in self.network.branches_of[(part, role)]
        ]
        return sum(shares[1:], shares[0])

    def _share_of(self, what: str, k: int, rated: Row) -> Row:
        """Return what one branch adds to an effect. [-]"""
        branch, share = self.branches[k], self.conducting[k]
        law = branch.law
        across = self.voltages[branch.a] - self.voltages[branch.b]
        works = share * (law.conductance > 0.0)
        match what, law:
            case ("light", Threshold()) | ("flash", _):
                forward = self.network.ops.maximum(law.current(across), 0.0)
                return share * forward / rated
            case "light", _:
                return works * (abs(across) / rated) ** 3.4
            case "turn", Motor():
                return works * law.back_emf(across) / rated
            case "park", _:
                return share
            case "heat", _:
                return share * across * law.current(across) / rated
            case _:
                return works * abs(across) / rated

    def response(self, a: str, b: str) -> list[float]:
        """Return what one ampere from `b` to `a` does to every node. [V]

        For small currents: bent laws go along their tangents. One circuit only.
        """
        index = self.shape.index
        return self.shape.plan.response(self.stamps, index[a], index[b])


class Network:
    """Circuits of one shape, ready to be solved.

    Parameters
    ----------
    vehicle : the healthy vehicle, whose parts set the shape.
    variants : vehicles made from it by injecting faults; none for `vehicle` alone, as
        a single circuit whose rows are floats.
    """

    def __init__(
        self, vehicle: Vehicle, variants: Sequence[Vehicle] | None = None
    ) -> None:
        self.vehicle = vehicle
        self.single = variants is None
        self.variants = (vehicle,) if variants is None else tuple(variants)
        self.ops: Any = _Floats if self.single else _arrays()
        parts = vehicle.parts.values()
        distinct = {id(variant): variant for variant in self.variants}
        self._which = self._numbers(list(distinct))
        """Of each variant, its number among those that differ."""
        self._changed = [
            {
                name: part
                for name, part in variant.parts.items()
                if part is not vehicle.parts.get(name)
            }
            for variant in distinct.values()
        ]
        """Parts that the faults of each of these have changed or added."""
        self.branches = self._stack()
        self.branches_of: dict[tuple[str, str], list[int]] = {}
        for k, b in enumerate(self.branches):
            self.branches_of.setdefault((b.owner, b.role), []).append(k)
        self.triggers = tuple(t for part in parts for t in triggers_of(part))
        self.relays = tuple(p.name for p in parts if isinstance(p, (Relay, Starter)))
        self.windings = {
            t.name: self.branches[
                self.branches_of[(t.part, t.winding)][0]
            ].law.conductance
            > 0.0
            for t in self.triggers
            if t.winding
        }
        """Relay, to whether its coil is whole; an open one pulls nothing."""
        self.fuses = tuple(f for part in parts for f in fuses_of(part))
        self.blown_at_start = {
            f.name: self._row(f.owner, _is_blown) for f in self.fuses
        }
        self.effects: dict[str, tuple[Effect, Row]] = {
            effect.name: (effect, self._row(part.name, _rated, k))
            for part in parts
            for k, effect in enumerate(effects_of(part))
        }
        """Name of what a person perceives, to what it is and its rated size."""
        self.senses = [
            (a.name, [k for k, b in enumerate(self.branches)
                      if b.owner == a.name and isinstance(b.law, Limited)])
            for a in vehicle.of_type(Alternator)
            if a.sense
        ]  # fmt: skip
        self._watched = (
            *(pair for t in self.triggers for pair in t.across),
            *(t.resets[:2] for t in self.triggers if t.resets is not None),
            *((f"{name}:B+", f"{name}:S") for name, _ in self.senses),
        )
        self._shapes: dict[tuple[Any, ...], Shape] = {}

    def same(self, value: float) -> Row:
        """Return one value for every circuit."""
        return value if self.single else self.ops.full(len(self.variants), value)

    def _numbers(self, distinct: Sequence[int]) -> Any:
        """Return the number of each variant among those that differ."""
        number = {key: k for k, key in enumerate(distinct)}
        which = [number[id(variant)] for variant in self.variants]
        return which if self.single else self.ops.numbers(which)

    def _row(self, name: str, read: Callable[..., float], *more: Any) -> Row:
        """Return a number that is read from one part, for every circuit."""
        usual = read(self.vehicle.parts[name], *more)
        if self.single:
            return usual
        special = {
            number: read(changed[name], *more)
            for number, changed in enumerate(self._changed)
            if name in changed
        }
        return self._spread(usual, special)

    def _spread(self, usual: float, special: Mapping[int, float]) -> Row:
        """Return a number for every circuit, given it for those that differ."""
        if not special:
            return usual
        values = [usual] * len(self._changed)
        for number, value in special.items():
            values[number] = value
        return self.ops.spread(values, self._which)

    def _stack(self) -> tuple[Branch, ...]:
        """Unite the branches of all variants; what a variant lacks is open."""
        first = [b for part in self.vehicle.parts.values() for b in branches_of(part)]
        if self.single:
            return tuple(first)
        table: dict[tuple[Any, ...], tuple[Branch, dict[int, Law]]] = {
            (b.owner, b.role, b.a, b.b, b.gates, type(b.law)): (b, {}) for b in first
        }
        common = list(table)
        by_owner: dict[str, list[tuple[Any, ...]]] = {}
        for key in common:
            by_owner.setdefault(key[0], []).append(key)
        for number, changed in enumerate(self._changed):
            for name, part in changed.items():
                missing = dict.fromkeys(by_owner.get(name, ()))
                for b in branches_of(part):
                    key = (b.owner, b.role, b.a, b.b, b.gates, type(b.law))
                    table.setdefault(key, (b, {}))[1][number] = b.law
                    missing.pop(key, None)
                for key in missing:
                    branch, special = table[key]
                    special[number] = _open(branch.law)
        stacked = []
        for position, (branch, special) in enumerate(table.values()):
            usual = branch.law if position < len(common) else _open(branch.law)
            stacked.append(_with_law(branch, self._stack_laws(usual, special)))
        return tuple(stacked)

    def _stack_laws(self, usual: Law, special: Mapping[int, Law]) -> Law:
        """Return one law whose numbers are rows where they differ."""
        if not special:
            return usual
        columns = {
            f.name: self._spread(
                getattr(usual, f.name),
                {number: getattr(law, f.name) for number, law in special.items()},
            )
            for f in fields(usual)
        }
        return type(usual)(**columns)

    def settle(
        self,
        setup: Setups,
        attachment: Attachment | None = None,
        *,
        start: OperatingPoint | None = None,
        blown: Mapping[str, Row] | None = None,
        guide: Guide = (),
    ) -> OperatingPoint:
        """Return the state in which nothing changes any more.

        Parameters
        ----------
        setup : what people have set.
        attachment : what instruments add.
        start : state before; relays keep their memory of it.
        blown : fuses that are open already; taken from `start` by default.
        guide : voltages of each pass in circuits much like these, which Newton's
            method starts from; see `guide`.
        """
        return _Settling(self, setup, attachment or Attachment(), start, blown).run(
            guide
        )

    def guide(self, setup: Setup) -> Guide:
        """Return the voltages at bent laws for each pass on the way to rest. [V]"""
        settling = _Settling(self, setup, Attachment(), None, None)
        nodes = settling.shape.nodes_of_bent
        return tuple(
            {node: voltages[k] for node, k in nodes.items()}
            for voltages in settling.passes()
        )

    def charges(self, alternator: str, shares: Sequence[Row]) -> Row:
        """Return 1 where an alternator's engine turns, else 0."""
        outputs = next(found for name, found in self.senses if name == alternator)
        turning: Row = 0.0
        for k in outputs:
            turning = self.ops.maximum(turning, shares[k])
        return turning

    def is_set(self, gate: Gate, setup: Setup) -> bool:
        """Whether what people have set lets a gate conduct."""
        match gate.by:
            case "apart":
                return gate.name not in setup.apart
            case "control":
                return position(self.vehicle, setup, gate.name) in gate.positions
            case _:
                return position(self.vehicle, setup, gate.name) not in gate.positions

    def shape(self, branches: tuple[Branch, ...], set_shares: Sequence[Row]) -> Shape:
        """Return the steps for this network with some branches more.

        Parameters
        ----------
        branches : of this network, and those that instruments add.
        set_shares : share of each that people's settings let conduct.
        """
        varying = frozenset(
            k for k, share in enumerate(set_shares) if not isinstance(share, float)
        )
        key = (branches[len(self.branches) :], varying)
        if key not in self._shapes:
            if len(self._shapes) >= _SHAPES_KEPT:
                self._shapes.clear()
            is_switched = [
                k in varying
                or _has_rows(b.law)
                or any(g.by not in _BY_SETUP for g in b.gates)
                for k, b in enumerate(branches)
            ]
            self._shapes[key] = Shape(
                branches, self.vehicle.reference, is_switched, self._watched
            )
        return self._shapes[key]


_SHAPES_KEPT = 64
"""Circuits with different tools connected whose elimination is remembered."""

_BY_SETUP = ("apart", "control", "not_control")
"""Gates that people decide."""


class _Settling:
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
            if any(g.by not in _BY_SETUP for g in b.gates)
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
        for number in range(_SETTLING_PASSES):
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
        for row in self.flips.values():
            buzzing = ops.maximum(buzzing, ops.where(row >= _MOST_FLIPS, 1.0, 0.0))
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

    def narrowed(self, rows: Any) -> _Settling:
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

    def take_over(self, part: _Settling, rows: Any) -> None:
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
            wanted = ops.where(self.flips[name] < _MOST_FLIPS, wanted, was)
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


def position(vehicle: Vehicle, setup: Setup, control: str) -> str:
    """Return where a control stands; an engine at rest unless it can run."""
    part = vehicle.control(control)
    if isinstance(part, Engine) and any(
        position(vehicle, setup, name) not in allowed for name, allowed in part.needs
    ):
        return part.positions[0]
    return setup.controls.get(control, part.positions[0])


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
        decide = [g for g in branch.gates if g.by in _BY_SETUP]
        if not decide:
            shares.append(1.0)
            continue
        values = [
            float(all(network.is_set(g, s) for g in decide)) for s in different.values()
        ]
        shares.append(values[0] if which is None else network.ops.spread(values, which))
    return shares


def _is_blown(part: Part) -> float:
    return float(isinstance(part, Fuse) and part.blown)


def _rated(part: Part, k: int) -> float:
    return effects_of(part)[k].rated


def _has_rows(law: Law) -> bool:
    """Whether a law differs between circuits."""
    return any(not isinstance(getattr(law, f.name), float) for f in fields(law))


def _open(law: Law) -> Law:
    """Return the law with no conductance."""
    return dataclasses.replace(law, conductance=0.0)


def _with_law(branch: Branch, law: Law) -> Branch:
    return dataclasses.replace(branch, law=law)


def operating_point(
    vehicle: Vehicle, *, controls: Mapping[str, str] | None = None
) -> OperatingPoint:
    """Return the settled state of a vehicle.

    Parameters
    ----------
    vehicle : healthy or faulty.
    controls : position of each control; one not named rests in its first.

    Raises
    ------
    UnknownNameError
        If there is no such control or position.
    """
    for name, position in (controls or {}).items():
        part = vehicle.control(name)
        if position not in part.positions:
            raise unknown_name(f"position of {name}", position, part.positions)
    return Network(vehicle).settle(Setup(controls=dict(controls or {})))
