"""What people set, what instruments add, and the settled circuit that results.

One circuit has floats, many of one shape at once have arrays, one entry per scenario.
Voltages are against the battery's minus post.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

from ohmwork.errors import unknown_name
from ohmwork.network.elimination import Stamps
from ohmwork.network.fuses import FuseLaw
from ohmwork.network.laws import Motor, Row, Threshold
from ohmwork.network.lowering import Branch
from ohmwork.network.newton import Shape
from ohmwork.parts import Engine
from ohmwork.vehicle import Vehicle

if TYPE_CHECKING:
    from ohmwork.network.solver import Network


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
    stamps: Stamps | None
    """Of one circuit: as Newton's last step left them."""

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
            case (("turn" | "crank"), Motor()):
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
        assert self.stamps is not None, "only one circuit keeps them"
        index = self.shape.index
        return self.shape.plan.response(self.stamps, index[a], index[b])


def position(vehicle: Vehicle, setup: Setup, control: str) -> str:
    """Return where a control stands; an engine at rest unless it can run."""
    part = vehicle.control(control)
    if isinstance(part, Engine) and any(
        position(vehicle, setup, name) not in allowed for name, allowed in part.needs
    ):
        return part.positions[0]
    return setup.controls.get(control, part.positions[0])
