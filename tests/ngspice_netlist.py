"""The vehicle as a netlist for ngspice, and ngspice's answer.

The netlist is written from the parts and from published formulas alone, so that it can
referee the solver. It decides nothing: which relays are pulled in and which fuses have
melted is told to it. The battery's minus post is ngspice's node 0.
"""

import math
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from ohmwork.parts import (
    LAMP_TYPES,
    Battery,
    Chafe,
    Connector,
    Fuse,
    GroundPoint,
    Lamp,
    Part,
    Relay,
    Switch,
    Wire,
)
from ohmwork.vehicle import Vehicle

HOT_OVER_COLD = 4.8 / 0.350
"""Of a tungsten filament, OpenStax *University Physics* vol. 2, worked example. [-]"""

LEAK = 1e12
"""From each island that nothing holds to node 0. [Ω]"""

SEAT = 1e-3
"""Of the second blade of a plugged fuse, which no fault touches. [Ω]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One linear or lamp circuit: all that opens or closes is stated."""

    vehicle: Vehicle
    controls: Mapping[str, str]
    pulled_in: bool = False
    """Every relay of the vehicle."""
    melted: frozenset[str] = frozenset()
    """Fuses that have melted, beyond those that are blown in the vehicle."""
    meter: tuple[str, str] | None = None
    """Two places with 10 MΩ between them."""


@dataclass(slots=True)
class _Netlist:
    """Lines of a netlist being written, with the islands they make."""

    ground: str
    lines: list[str] = field(default_factory=list)
    nodes: dict[str, str] = field(default_factory=dict)
    joined: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.nodes[self.ground] = "0"
        self.joined[self.ground] = self.ground

    def node(self, place: str) -> str:
        self.joined.setdefault(place, place)
        return self.nodes.setdefault(place, f"n{len(self.nodes)}")

    def island(self, place: str) -> str:
        while self.joined[place] != place:
            place = self.joined[place]
        return place

    def element(self, letter: str, a: str, b: str, value: str) -> None:
        self.lines.append(
            f"{letter}{len(self.lines)} {self.node(a)} {self.node(b)} {value}"
        )
        self.joined[self.island(a)] = self.island(b)

    def resistor(self, a: str, b: str, resistance: float) -> None:
        """Write a resistor, or only its two nodes where the path is open."""
        self.node(a), self.node(b)
        if math.isfinite(resistance):
            self.element("R", a, b, f"{resistance!r}")

    def current(self, a: str, b: str, formula: str) -> None:
        """Write a current that depends on the voltage ``v`` from a to b."""
        across = f"v({self.node(a)},{self.node(b)})"
        self.element("B", a, b, "i=" + formula.replace("v", across))

    def leaks(self) -> None:
        for place in list(self.nodes):
            if self.island(place) == place and place != self.island(self.ground):
                self.resistor(place, self.ground, LEAK)


def _contacts(part: Part, case: Case) -> Iterator[tuple[str, str, float]]:
    """Give the resistances that a part is made of, open ones included."""
    name = part.name
    match part:
        case Wire() | Chafe():
            yield part.start, part.end, part.resistance
        case GroundPoint():
            yield f"{name}:31", part.body, part.resistance
        case Connector():
            added = dict(part.added_resistance)
            for way in part.ways:
                ohms = part.contact_resistance + added.get(way, 0.0)
                yield f"{name}:{way}", f"{name}:{way}p", ohms
        case Fuse():
            whole = not part.blown and name not in case.melted
            link = part.resistance if whole else math.inf
            pin = "p" if part.plugs_in else ""
            yield f"{name}:1{pin}", f"{name}:2{pin}", link
            if part.plugs_in:
                yield f"{name}:1", f"{name}:1p", part.seat_resistance
                yield f"{name}:2", f"{name}:2p", SEAT
        case Switch():
            position = case.controls[name]
            for c in part.contacts:
                ohms = c.resistance if position in c.closed_in else math.inf
                yield f"{name}:{c.start}", f"{name}:{c.end}", ohms
        case Relay():
            for mark in ("30", "85", "86", "87"):
                yield f"{name}:{mark}", f"{name}:{mark}p", part.seat_resistance
            yield f"{name}:86p", f"{name}:85p", part.coil_resistance
            made = part.contact_resistance if case.pulled_in else math.inf
            yield f"{name}:30p", f"{name}:87p", made


def _write(case: Case) -> _Netlist:
    """Return the netlist of one circuit."""
    net = _Netlist(f"{case.vehicle.battery}:-")
    for part in case.vehicle.parts.values():
        name = part.name
        for a, b, resistance in _contacts(part, case):
            net.resistor(a, b, resistance)
        if isinstance(part, Battery):
            net.element(
                "V", f"{name} emf", f"{name}:-", f"{part.open_circuit_voltage!r}"
            )
            net.resistor(f"{name} emf", f"{name}:+", part.internal_resistance)
        elif isinstance(part, Lamp):
            supply, ground = f"{name}:{part.supply}", f"{name}:{part.ground}"
            net.node(supply), net.node(ground)
            if not part.blown:
                net.current(supply, ground, filament(part.type))
        elif isinstance(part, Relay) and part.suppression_diode:
            net.current(f"{name}:85p", f"{name}:86p", DIODE)
    if case.meter is not None:
        net.resistor(*case.meter, 10e6)
    net.leaks()
    return net


def filament(lamp_type: str) -> str:
    """Current of a lamp that takes its test power at its test voltage ``v``.

    The power 0.55 of voltage when hot (*Standard Handbook for Electrical Engineers*,
    11th ed., p. 22-8, as cited at second hand), a fixed cold resistance near nothing.
    """
    lamp = LAMP_TYPES[lamp_type]
    cold = lamp.test_voltage**2 / lamp.test_power / HOT_OVER_COLD
    knee = lamp.test_voltage / math.sqrt(HOT_OVER_COLD ** (1.0 / 0.225) - 1.0)
    return f"v/{cold!r}*pow(1+(v/{knee!r})*(v/{knee!r}),-0.225)"


DIODE = "1e-13*(exp(min(v,0.8)/0.026)*(1+max(v-0.8,0)/0.026)-1)"
"""Shockley's law, above 0.8 V going on as its tangent; 0.6 V at about 1 mA."""


def solve(ngspice: str, folder: Path, cases: Sequence[Case]) -> list[dict[str, float]]:
    """Return the voltage of every place in every circuit, all by one process. [V]

    Options are ngspice's own. Results are matched by the names of its columns.
    """
    netlists = [_write(case) for case in cases]
    for number, net in enumerate(netlists):
        text = "\n".join((f"circuit {number}", *net.lines, ".end", ""))
        (folder / f"{number}.cir").write_text(text, encoding="ascii")
    script = ["run every circuit", ".control", "set filetype=ascii", "set appendwrite"]
    for number in range(len(netlists)):
        script += [
            f"source {number}.cir",
            "op",
            "write results.raw",
            "remcirc",
            "destroy all",
        ]
    (folder / "all.sp").write_text("\n".join((*script, "quit", ".endc", ".end", "")))
    run = subprocess.run(
        [ngspice, "-b", "all.sp"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    results = list(_read(folder / "results.raw"))
    assert len(results) == len(cases), run.stderr[-2000:]
    return [
        {
            place: voltages[f"v({node})"]
            for place, node in net.nodes.items()
            if node != "0"
        }
        | {net.ground: 0.0}
        for net, voltages in zip(netlists, results, strict=True)
    ]


def _read(path: Path) -> Iterator[dict[str, float]]:
    """Give the named values of each plot in an ASCII result file."""
    for plot in path.read_text(encoding="ascii").split("Title: ")[1:]:
        header, values = plot.split("Values:\n")
        rows = header.split("Variables:\n")[1].splitlines()
        names = [row.split()[1] for row in rows if row.strip()]
        numbers = [float(word) for word in values.split()]
        yield dict(zip(names, numbers[1:], strict=True))
