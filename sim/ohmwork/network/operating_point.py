"""The steady state of a circuit: voltages, relays, fuses.

Given every relay and fuse, the operating point is the minimum of a convex function (the
co-content): Newton's method with a line search along it always arrives. Around it,
relays follow their thresholds until they rest, then the one fuse that would melt
soonest opens, and so on until nothing changes. A relay that never rests is said to
buzz.

One code serves a single circuit (floats) and many of one shape at once (arrays, one
entry per scenario). Voltages are against the battery's minus post.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Any

from ohmwork.errors import unknown_name
from ohmwork.network.fuses import FuseLaw
from ohmwork.network.laws import Conductor, Law, Row
from ohmwork.network.lowering import Branch, Gate, branches_of
from ohmwork.network.newton import Shape, newton
from ohmwork.parts import LAMP_TYPES, Fuse, Lamp, Relay, Switch
from ohmwork.vehicle import Vehicle

_SETTLING_PASSES = 200


class _Floats:
    """What Newton needs beyond arithmetic, for one circuit."""

    maximum = staticmethod(max)
    minimum = staticmethod(min)
    log1p = staticmethod(math.log1p)
    any = staticmethod(bool)

    @staticmethod
    def where(condition: Any, yes: Row, no: Row) -> Row:
        """Choose by a condition."""
        return yes if condition else no


def _arrays() -> Any:
    """Return the same for many circuits: NumPy, loaded when it is needed."""
    import numpy as np

    return np


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What people have set: controls, and parts pulled or unplugged."""

    controls: Mapping[str, str] = field(default_factory=dict)
    """Position of each switch; one not named rests in its first."""
    apart: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """What an instrument adds to a circuit."""

    branches: tuple[Branch, ...] = ()
    fuses: tuple[FuseLaw, ...] = ()
    """Of the instrument; the branches name them in their gates."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """A settled circuit."""

    network: Network
    branches: tuple[Branch, ...]
    conducting: tuple[Row, ...]
    """Share of each branch's law that conducts: 0 or 1. [-]"""
    voltages: Mapping[str, Row]
    """Of every place. [V]"""
    relays: Mapping[str, Row]
    """1 for pulled in, 0 at rest."""
    blown_rows: Mapping[str, Row]
    """1 for blown or tripped."""
    buzzing: Row
    """1 where a relay never rests."""

    def voltage(self, place: str, reference: str | None = None) -> Row:
        """Voltage of a place over another, by default the minus post. [V]"""
        for name in (place, reference):
            if name is not None and name not in self.voltages:
                raise unknown_name("place", name, self.voltages)
        base = 0.0 if reference is None else self.voltages[reference]
        return self.voltages[place] - base

    def current(self, owner: str, role: str = "") -> Row:
        """Current of a branch from its first to its second place. [A]"""
        for branch, current in self.branch_currents():
            if (branch.owner, branch.role) == (owner, role):
                return current
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
    def blown(self) -> frozenset[str]:
        """Names of the fuses that have blown (one circuit only)."""
        return frozenset(name for name, row in self.blown_rows.items() if row)

    def light(self, lamp: str) -> Row:
        """Light of a lamp over what its own type gives at test voltage. [-]

        The power 3.4 of voltage (*Standard Handbook for Electrical Engineers*, 11th
        ed., p. 22-8, as cited at second hand). A blown lamp gives none.
        """
        return self.network.light(lamp, self.voltages)


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
        self.branches = self._stack()
        self._reference = vehicle.reference
        self._shapes: dict[tuple[tuple[str, str], ...], Shape] = {}
        relays = [v.of_type(Relay) for v in self.variants]
        self._relays = {r.name: r for r in relays[0]}
        self._windings = {
            b.owner: b.law.conductance > 0.0
            for b in self.branches
            if b.role == "coil" and isinstance(b.law, Conductor)
        }
        """Relay, to whether its coil is whole; an open one pulls nothing."""
        self._fuses = tuple(
            FuseLaw(f.name, f.rating, f.thermal_time) for f in vehicle.of_type(Fuse)
        )
        self.blown_at_start = {
            f.name: self.rows([float(_fuse(v, f.name).blown) for v in self.variants])
            for f in self._fuses
        }
        self.test_voltages = {
            lamp.name: self.rows([_test_voltage(v, lamp.name) for v in self.variants])
            for lamp in vehicle.of_type(Lamp)
        }

    def rows(self, values: Sequence[float]) -> Row:
        """Return values, one per circuit, as this network keeps them."""
        return values[0] if self.single else self.ops.array(values)

    def same(self, value: float) -> Row:
        """Return one value for every circuit."""
        return value if self.single else self.ops.full(len(self.variants), value)

    def light(self, lamp: str, voltages: Mapping[str, Row]) -> Row:
        """See `OperatingPoint.light`."""
        branch = next(b for b in self.branches if b.owner == lamp)
        across = abs(voltages[branch.a] - voltages[branch.b])
        whole = branch.law.conductance > 0.0
        return whole * (across / self.test_voltages[lamp]) ** 3.4

    def _stack(self) -> tuple[Branch, ...]:
        """Unite the branches of all variants; what a variant lacks is open."""
        first = [b for part in self.vehicle.parts.values() for b in branches_of(part)]
        if self.single:
            return tuple(first)
        table: dict[tuple[str, str, str, str], tuple[Branch, dict[int, Law]]] = {
            (b.owner, b.role, b.a, b.b): (b, {}) for b in first
        }
        common = len(table)
        for number, variant in enumerate(self.variants):
            for name, part in variant.parts.items():
                if part is self.vehicle.parts.get(name):
                    continue
                for b in branches_of(part):
                    key = (b.owner, b.role, b.a, b.b)
                    table.setdefault(key, (b, {}))[1][number] = b.law
        stacked = []
        for position, (branch, special) in enumerate(table.values()):
            absent = position >= common
            usual = _open(branch.law) if absent else branch.law
            laws = [special.get(n, usual) for n in range(len(self.variants))]
            stacked.append(_with_law(branch, self._stack_laws(laws, special)))
        return tuple(stacked)

    def _stack_laws(self, laws: list[Law], special: dict[int, Law]) -> Law:
        """Return one law whose numbers are rows."""
        if not special:
            return laws[0]
        columns = {
            f.name: self.rows([getattr(law, f.name) for law in laws])
            for f in fields(laws[0])
        }
        return type(laws[0])(**columns)

    def settle(
        self,
        setup: Setup,
        attachment: Attachment | None = None,
        *,
        start: OperatingPoint | None = None,
        blown: Mapping[str, Row] | None = None,
    ) -> OperatingPoint:
        """Return the state in which nothing changes any more.

        Parameters
        ----------
        setup : what people have set.
        attachment : what an instrument adds.
        start : state before; relays keep their memory of it.
        blown : fuses that are open already; taken from `start` by default.
        """
        ops = self.ops
        extra = attachment or Attachment()
        branches = self.branches + extra.branches
        shape = self._shape(extra.branches)
        fuses = self._fuses + extra.fuses
        zero = self.same(0.0)
        burnt = dict(self.blown_at_start if start is None else start.blown_rows)
        burnt.update(blown or {})
        burnt = {f.name: burnt.get(f.name, zero) for f in fuses}
        relays = {n: zero if start is None else start.relays[n] for n in self._relays}
        voltages = [zero] * len(shape.nodes)
        if start is not None:
            voltages = [start.voltages.get(node, zero) for node in shape.nodes]
        flips = zero
        limit = 2 * len(relays) + 2
        for _ in range(_SETTLING_PASSES):
            shares = [self._share(b.gate, setup, relays, burnt) for b in branches]
            voltages = newton(shape, branches, shares, voltages, ops)
            flipped = zero
            for name, relay in self._relays.items():
                coil = self._windings[name] * abs(
                    shape.read(f"{name}:86p", voltages)
                    - shape.read(f"{name}:85p", voltages)
                )
                wanted = ops.where(
                    coil >= relay.pull_in,
                    1.0,
                    ops.where(coil <= relay.drop_out, 0.0, relays[name]),
                )
                wanted = ops.where(flips < limit, wanted, relays[name])
                flipped = flipped + abs(wanted - relays[name])
                relays[name] = wanted
            flips = flips + ops.where(flipped > 0.0, 1.0, 0.0)
            melted = self._melt_one(
                shape, branches, shares, voltages, fuses, burnt, flipped
            )
            if not ops.any(flipped > 0.0) and not melted:
                break
        values = {node: voltages[k] for k, node in enumerate(shape.nodes)}
        values[self._reference] = zero
        return OperatingPoint(
            network=self,
            branches=branches,
            conducting=tuple(shares),
            voltages=values,
            relays=relays,
            blown_rows=burnt,
            buzzing=ops.where(flips >= limit, 1.0, 0.0),
        )

    def _melt_one(
        self,
        shape: Shape,
        branches: tuple[Branch, ...],
        shares: list[Row],
        voltages: list[Row],
        fuses: tuple[FuseLaw, ...],
        burnt: dict[str, Row],
        flipped: Row,
    ) -> bool:
        """Open the fuse that melts soonest, where the relays rest; say if any did."""
        ops = self.ops
        gates = {
            b.gate.name: k
            for k, b in enumerate(branches)
            if b.gate is not None and b.gate.by == "fuse"
        }
        soonest = self.same(math.inf)
        times = {}
        for fuse in fuses:
            k = gates[fuse.name]
            current = shares[k] * branches[k].law.current(shape.across(k, voltages))
            time = fuse.melting_time(current, ops)
            hot = (fuse.heat(current) > 0.0) & (flipped == 0.0)
            times[fuse.name] = ops.where(hot, time, math.inf)
            soonest = ops.minimum(soonest, times[fuse.name])
        any_melted = False
        for name, time in times.items():
            melts = (time == soonest) & (time < math.inf)
            if ops.any(melts):
                any_melted = True
                burnt[name] = ops.where(melts, 1.0, burnt[name])
        return any_melted

    def _share(
        self,
        gate: Gate | None,
        setup: Setup,
        relays: Mapping[str, Row],
        burnt: Mapping[str, Row],
    ) -> Row:
        """Return 1 where a branch conducts and 0 where its gate is open."""
        if gate is None:
            return 1.0
        match gate.by:
            case "apart":
                return float(gate.name not in setup.apart)
            case "fuse":
                return 1.0 - burnt[gate.name]
            case "pulled_in":
                return relays[gate.name]
            case "at_rest":
                return 1.0 - relays[gate.name]
            case _:
                return float(self.position(setup, gate.name) in gate.positions)

    def position(self, setup: Setup, switch: str) -> str:
        """Return where a switch stands."""
        part = self.vehicle[switch]
        assert isinstance(part, Switch)
        return setup.controls.get(switch, part.positions[0])

    def _shape(self, extra: tuple[Branch, ...]) -> Shape:
        """Return the steps for this network with some branches more."""
        key = tuple((b.a, b.b) for b in extra)
        if key not in self._shapes:
            if len(self._shapes) > 256:
                self._shapes.clear()
            self._shapes[key] = Shape(self.branches + extra, self._reference)
        return self._shapes[key]


def _fuse(vehicle: Vehicle, name: str) -> Fuse:
    part = vehicle[name]
    assert isinstance(part, Fuse)
    return part


def _test_voltage(vehicle: Vehicle, name: str) -> float:
    part = vehicle[name]
    assert isinstance(part, Lamp)
    return LAMP_TYPES[part.type].test_voltage


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
    controls : position of each switch; one not named rests in its first.

    Raises
    ------
    UnknownNameError
        If there is no such switch or position.
    """
    for name, position in (controls or {}).items():
        part = vehicle[name]
        if not isinstance(part, Switch):
            raise unknown_name(
                "switch", name, [s.name for s in vehicle.of_type(Switch)]
            )
        if position not in part.positions:
            raise unknown_name(f"position of {name}", position, part.positions)
    return Network(vehicle).settle(Setup(controls=dict(controls or {})))
