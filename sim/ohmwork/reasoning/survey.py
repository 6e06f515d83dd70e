"""Every test a job permits, and what each would show.

The tests are found from the vehicle. Volts at all places are read at once: a
voltmeter's 10 MΩ at every place together change no reading on a wire that anything
holds. A wire that nothing holds reads lower with several meters on it than with one, so
what is planned there may promise less than a learner then finds. Which of the faults
that fit the complaint a reading rules out is judged with the learner's meter alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ohmwork.bench import SECONDS
from ohmwork.instruments import (
    INPUT_RESISTANCE,
    NUDGE,
    TOOLS,
    Hookup,
    Outcome,
    attachment,
    measure,
)
from ohmwork.network import Attachment, Network, OperatingPoint, Setup
from ohmwork.network.laws import Conductor
from ohmwork.network.lowering import Branch
from ohmwork.parts import Connector, Fuse, Lamp, Load, Relay, TwinLamp, Wire
from ohmwork.symptoms import State, describe_state, drive
from ohmwork.vehicle import Vehicle


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """One test: what is set, and what is connected where."""

    setup: Setup
    hookup: Hookup

    @property
    def seconds(self) -> int:
        """What it costs, from a vehicle at rest with lead B on the minus post. [s]"""
        act = SECONDS
        apart = len(self.setup.apart) * (act["unplug"] + act["plug"])
        leads = 2 if self.hookup.tool not in ("volts", "look") else 1
        tool = 0 if self.hookup.tool == "volts" else 2 * act["use"]
        controls = len(self.setup.controls) * act["set_control"]
        return apart + controls + tool + leads * act["place"] + act["read"]

    def describe(self, vehicle: Vehicle) -> str:
        """Return the test in words, such as ``Volts DC E3:31 to G1:-; lights dip``."""
        places = self.hookup.lead_a or ""
        if self.hookup.lead_b:
            places += f" to {self.hookup.lead_b}"
        state = describe_state(vehicle, self.setup.controls)
        parts = [f"{state[:1].lower()}{state[1:]}"]
        parts += [f"{name} apart" for name in sorted(self.setup.apart)]
        return f"{TOOLS[self.hookup.tool]} {places}; {', '.join(parts)}"


def probes(
    vehicle: Vehicle, states: Sequence[State], tools: Sequence[str]
) -> tuple[Probe, ...]:
    """Return the tests that a vehicle offers to these tools in these states."""
    return tuple(p for p in _all_probes(vehicle, states) if p.hookup.tool in tools)


def touchable(vehicle: Vehicle) -> tuple[str, ...]:
    """Return the places a lead can touch while everything is fitted.

    A filament whose wire belongs to another circuit is not on this one's drawing.
    """
    hidden = {
        pin
        for part in vehicle.parts.values()
        if isinstance(part, (Fuse, Relay))
        for pin in part.pins
    }
    wired = vehicle.wired
    for lamp in vehicle.of_type(TwinLamp):
        hidden |= set(lamp.sockets) - wired
    return tuple(p for p in vehicle.reachable if p not in hidden)


def _all_probes(vehicle: Vehicle, states: Sequence[State]) -> Iterator[Probe]:
    minus = vehicle.reference

    def probe(tool: str, a: str, b: str | None, state: State, *apart: str) -> Probe:
        return Probe(
            setup=Setup(controls=dict(state), apart=frozenset(apart)),
            hookup=Hookup(tool=tool, lead_a=a, lead_b=b),
        )

    plugs = [f for f in vehicle.of_type(Fuse) if f.plugs_in]
    for state in states:
        for place in touchable(vehicle):
            yield probe("volts", place, minus, state)
        for relay in vehicle.of_type(Relay):
            yield probe("look", f"{relay.name}:85", None, state)
    for fuse in plugs:
        yield probe("look", fuse.sockets[0], None, {}, fuse.name)
        for place in fuse.sockets:
            yield probe("volts", place, minus, {}, fuse.name)
            yield probe("ohms", place, minus, {}, fuse.name)
        for connector in vehicle.of_type(Connector):
            apart = (fuse.name, connector.name)
            yield probe("ohms", fuse.sockets[1], minus, {}, *apart)
    for relay in vehicle.of_type(Relay):
        name = relay.name
        yield probe("ohms", f"{name}:86p", f"{name}:85p", {}, name)
    for connector in vehicle.of_type(Connector):
        for one, other in _loads_behind(vehicle, connector):
            yield probe("ohms", one, other, {}, connector.name)
        for place in connector.places:
            yield probe("ohms", place, minus, {}, connector.name)


def _loads_behind(vehicle: Vehicle, connector: Connector) -> Iterator[tuple[str, str]]:
    """Give both terminals of each load that wires alone join to a connector."""
    near: dict[str, set[str]] = {}
    for wire in vehicle.of_type(Wire):
        near.setdefault(wire.start, set()).add(wire.end)
        near.setdefault(wire.end, set()).add(wire.start)
    joined, waiting = set(connector.places), list(connector.places)
    while waiting:
        for place in near.get(waiting.pop(), set()) - joined:
            joined.add(place)
            waiting.append(place)
    for part in vehicle.parts.values():
        if not isinstance(part, (Lamp, TwinLamp, Load)):
            continue
        *supplies, ground = part.sockets
        for supply in supplies:
            if supply in joined:
                yield supply, ground


def survey(
    network: Network, tests: Sequence[Probe], driven: Sequence[State]
) -> tuple[Outcome, ...]:
    """Return what each test shows on a vehicle, or on each of its variants.

    Parameters
    ----------
    network : single or of many variants.
    tests : as of `probes`.
    driven : control positions the vehicle was driven in before.
    """
    rest = drive(network, (*driven, {}))[-1]
    outcomes: dict[int, Outcome] = {}
    by_setup: dict[tuple[object, ...], list[int]] = {}
    for number, test in enumerate(tests):
        key = (tuple(sorted(test.setup.controls.items())), test.setup.apart)
        by_setup.setdefault(key, []).append(number)
    for numbers in by_setup.values():
        setup = tests[numbers[0]].setup
        point = network.settle(setup, start=rest)
        volts = [n for n in numbers if tests[n].hookup.tool == "volts"]
        if volts:
            places = [str(tests[n].hookup.lead_a) for n in volts]
            rows = _all_volts(network, setup, point, places)
            outcomes.update(zip(volts, rows, strict=True))
        for n in sorted(set(numbers) - set(volts)):
            hookup = tests[n].hookup
            with_tool = point
            if hookup.is_active:
                extra = attachment(network.vehicle, hookup)
                with_tool = network.settle(setup, extra, start=point)
            outcomes[n] = measure(network, setup, hookup, with_tool)
    return tuple(outcomes[n] for n in range(len(tests)))


def _all_volts(
    network: Network, setup: Setup, point: OperatingPoint, places: Sequence[str]
) -> list[Outcome]:
    """Read volts against the minus post at many places together."""
    minus = network.vehicle.reference
    meter = Conductor(1.0 / INPUT_RESISTANCE)
    meters = tuple(Branch("tool", p, p, minus, meter) for p in places)
    nudges = tuple(Branch("tool", f"nudge {p}", p, minus, NUDGE) for p in places)
    read = network.settle(setup, Attachment(branches=meters), start=point)
    nudged = network.settle(setup, Attachment(branches=meters + nudges), start=read)
    where = network.ops.where
    return [
        Outcome(
            channels={
                "volts": read.voltage(p),
                "open": where(nudged.voltage(p) - read.voltage(p) > 0.5, 1.0, 0.0),
            },
            moving=read.buzzing,
        )
        for p in places
    ]
