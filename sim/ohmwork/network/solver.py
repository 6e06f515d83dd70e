"""Circuits of one shape, and how they are brought to rest."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from typing import Any

from ohmwork.errors import unknown_name
from ohmwork.network.arithmetic import Floats, arrays
from ohmwork.network.laws import Law, Limited, Row
from ohmwork.network.lowering import (
    BY_SETUP,
    Branch,
    Effect,
    Gate,
    branches_of,
    effects_of,
    fuses_of,
    triggers_of,
)
from ohmwork.network.newton import Shape
from ohmwork.network.operating_point import (
    Attachment,
    Guide,
    OperatingPoint,
    Setup,
    Setups,
    position,
)
from ohmwork.network.settling import Settling
from ohmwork.parts import Alternator, Fuse, Part, Relay, Starter
from ohmwork.vehicle import Vehicle

_SHAPES_KEPT = 64
"""Circuits with different tools connected whose elimination is remembered."""


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
        self.ops: Any = Floats if self.single else arrays()
        parts = vehicle.parts.values()
        distinct = {id(variant): variant for variant in self.variants}
        self.which = self._numbers(list(distinct))
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
        triggers = [t for part in parts for t in triggers_of(part)]
        self.triggers = tuple(sorted(triggers, key=lambda t: t.moves))
        """Electronics first; what moves follows when they rest."""
        self.relays = tuple(p.name for p in parts if isinstance(p, (Relay, Starter)))
        self.windings = {
            t.name: sum(
                self.branches[k].law.conductance
                for k in self.branches_of[(t.part, t.winding)]
            )
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
        return self.ops.spread(values, self.which)

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
        for k, (branch, special) in enumerate(table.values()):
            usual = branch.law if k < len(common) else _open(branch.law)
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
        return Settling(self, setup, attachment or Attachment(), start, blown).run(
            guide
        )

    def guide(self, setup: Setup) -> Guide:
        """Return the voltages at bent laws for each pass on the way to rest. [V]"""
        settling = Settling(self, setup, Attachment(), None, None)
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
                or any(g.by not in BY_SETUP for g in b.gates)
                for k, b in enumerate(branches)
            ]
            self._shapes[key] = Shape(
                branches, self.vehicle.reference, is_switched, self._watched
            )
        return self._shapes[key]


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
    for name, wanted in (controls or {}).items():
        part = vehicle.control(name)
        if wanted not in part.positions:
            raise unknown_name(f"position of {name}", wanted, part.positions)
    return Network(vehicle).settle(Setup(controls=dict(controls or {})))
