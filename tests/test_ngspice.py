"""ngspice referees the operating points of the lighting board.

Every single fault of the kinds below in every position of both switches. Which relays
are pulled in and which fuses have melted is worked out by hand below, from the wiring
alone; ngspice then solves the circuit so fixed, and what it finds must bear the hand's
work out. The circuits come from `ngspice_netlist`, which knows the parts and nothing of
the solver.
"""

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import pytest

from ngspice_netlist import Resistor, State, circuit_of
from ngspice_sweep import change, solve
from ohmwork.faults import RANGED, Fault, inject, universe
from ohmwork.instruments import Hookup, measure
from ohmwork.network import Network, OperatingPoint, Setup
from ohmwork.parts import Connector, Fuse, GroundPoint, Lamp, Switch, Wire
from ohmwork.vehicle import Vehicle, load_vehicle

SAMPLES = (0.5, 5.0, 20.0, 150.0)
"""Added resistance of the ranged kinds. [Ω] Clear of every limit worked out below, so
that the hand's rounding decides nothing."""

WORKED = (
    "open_circuit",
    "high_resistance",
    "short_to_ground",
    "short_to_supply",
    "contact_stuck",
    "fuse_blown",
    "lamp_blown",
    "wrong_lamp",
    "relay_coil_open",
    "relay_coil_shorted",
    "relay_contact_burnt",
    "relay_contact_welded",
    "diode_reversed",
)
"""Kinds of fault that the hand has worked; `test_ngspice_vehicles` has all others."""

POSITIONS = tuple(
    {"S1": ignition, "S2": lights}
    for ignition in ("off", "on")
    for lights in ("off", "day", "side", "dip")
)

ABSOLUTE, RELATIVE = 1e-3, 1e-3
"""Agreement asked for: 1 mV + 0.1 %, a tenth of what a workshop meter resolves in its
20 V range; ngspice itself stops at 0.1 % + 1 µV by default."""

# The circuit, worked by hand
# ---------------------------
# Supply:      G1:+ W1 F1
# Coil of K3:  W2 S1:30-15 W5 S2:15-56 W6 X4:2 W7, 86 to 85, W8 GP3
# Dip lamps:   W4 K3:30-87 W9; left F11 W16 X12:3 W17 E3, right W10 F12 W24 X14:3 W25 E4
# Side lamps:  W3 S2:30-58 W11 X4:1 W12 F10 W13; left W14 X12:2 W18 E5, right the same
# Return:      dip and side lamp of one side share SP7 (SP8) and GP1 (GP2); W32 to G1:-
BATTERY, COIL = 12.6, 85.0
PULL_IN, DROP_OUT = 7.2, 2.4
PULLED = frozenset({"K3"})

COIL_ONLY = {"W2", "S1:30-15", "W5", "S2:15-56", "W6", "X4:2", "W7", "W8", "GP3"}
"""Sites that carry the coil's current and no other."""

COMMON = {"W1", "W32"}
"""Sites that carry all current."""

GROUND_WIRES = {"W8"} | {f"W{number}" for number in (*range(19, 24), *range(27, 32))}
"""Brown wires that a current from terminal 30 reaches ground by, past no load."""

FED_BY = {
    **dict.fromkeys(("W2", "W3", "W4"), ("F1", "battery")),
    "W5": ("F1", "ignition"),
    **dict.fromkeys(("W6", "W7"), ("F1", "coil")),
    **dict.fromkeys(("W9", "W10"), ("F1", "relay")),
    **dict.fromkeys(("W16", "W17"), ("F11", "relay")),
    **dict.fromkeys(("W24", "W25"), ("F12", "relay")),
    **dict.fromkeys(("W11", "W12"), ("F1", "side")),
    **dict.fromkeys(("W13", "W14", "W15", "W18", "W26"), ("F10", "side")),
}
"""Supply wire, to the last fuse before its start and to what must be closed for current
to arrive there. A short lies at the start of its wire."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """What the hand finds."""

    fed: bool
    """The coil pulls in from rest, before any fuse has melted."""
    buzzing: bool = False
    melted: frozenset[str] = frozenset()

    @property
    def pulled_in(self) -> bool:
        """The relay ends pulled in: it is fed, and the main link has held."""
        return self.fed and not self.buzzing and "F1" not in self.melted


def total_current(volts: float, *, dip: bool, side: bool) -> float:
    """Current of coil and lamps at one voltage, lamps by the power 0.55 of it. [A]

    A pair of H7 takes 58 W each at 13.2 V, a pair of W5W 5.5 W at 13.5 V (UN Regulation
    37, from memory).
    """
    dip_lamps: float = 2 * 58.0 / 13.2 * (volts / 13.2) ** 0.55
    side_lamps: float = 2 * 5.5 / 13.5 * (volts / 13.5) ** 0.55
    return volts / COIL + dip * dip_lamps + side * side_lamps


def work_by_hand(fault: Fault | None, controls: dict[str, str]) -> Worked:
    """Return how relay and fuses of the van end, from the wiring.

    Starts from rest. The harness itself takes some tenths of a volt, which decides
    nothing here.
    """
    kind, site = (fault.kind, fault.site) if fault else ("", "")
    ohms = (fault.resistance if fault else None) or 0.0
    side = controls["S2"] in ("side", "dip")
    closed = {
        "battery": True,
        "ignition": controls["S1"] == "on",
        "coil": controls["S1"] == "on" and controls["S2"] in ("day", "dip"),
        "side": side,
    }
    fed, buzzing, melted = closed["coil"], False, set[str]()
    match kind:
        case "short_to_supply" if site == "W5":  # round the ignition switch
            fed = controls["S2"] in ("day", "dip")
        case "short_to_supply" if site in ("W6", "W7"):  # round both switches
            fed = True
        case "short_to_supply" if site == "W8":  # both ends of the coil on supply
            fed = False
        case "contact_stuck" if site == "S1:30-15":
            fed = controls["S2"] in ("day", "dip")
        case "contact_stuck" if site == "S2:15-56":
            fed = controls["S1"] == "on"
        case "relay_coil_open":
            fed = False
        case "diode_reversed":  # a short for all that the coil's switches let through
            melted = {"F1"} if closed["coil"] else set()
            fed = False
        case "fuse_blown" if site == "F1":
            fed = False
        case "open_circuit" if site in COIL_ONLY | COMMON:
            fed = False
        case "high_resistance" if site in COIL_ONLY:
            # In series with the coil alone: a divider.
            fed = fed and BATTERY * COIL / (COIL + ohms) >= PULL_IN
        case "high_resistance" if site in COMMON:
            # At rest little flows and the coil may see enough to pull in. Then the dip
            # lamps come on, and if what they draw takes so much that the coil is left
            # below drop-out, the relay lets go, and so on without end.
            at_rest = ohms * total_current(PULL_IN, dip=False, side=side)
            pulled = ohms * total_current(DROP_OUT, dip=True, side=side)
            fed = fed and BATTERY - at_rest >= PULL_IN
            buzzing = fed and BATTERY - pulled <= DROP_OUT
        case "short_to_ground" if site in ("W5", "W6", "W7"):  # supply end on ground
            fed = False
        case _:
            pass
    closed["relay"] = fed
    if kind == "short_to_supply" and site in GROUND_WIRES:
        melted = {"F1"}
    if kind == "short_to_ground" and site in FED_BY:
        fuse, condition = FED_BY[site]
        melted = {fuse} if closed[condition] else set()
    return Worked(fed=fed, buzzing=buzzing, melted=frozenset(melted))


# The trials
# ----------


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One faulty van with its switches set, as our solver and as ngspice have it."""

    fault: Fault | None
    vehicle: Vehicle
    controls: Mapping[str, str]
    worked: Worked
    point: OperatingPoint
    referee: dict[str, Mapping[str, float]] = dataclasses.field(default_factory=dict)
    """Voltages by ngspice: ``settled`` as worked by hand; ``at_rest`` and ``pulled``
    with the relay held so; ``before`` with the melted fuse still whole. [V]"""

    @property
    def name(self) -> str:
        """Say which trial has failed."""
        fault = self.fault.name(self.vehicle) if self.fault else "healthy"
        return f"{fault}, {dict(self.controls)}"

    def cases(self) -> Iterator[tuple[str, State]]:
        """Give the states in which ngspice has to solve this trial."""
        worked = self.worked
        rest = State(controls=self.controls, blown=worked.melted)
        pulled = dataclasses.replace(rest, on=PULLED)
        if not worked.buzzing:
            yield "settled", pulled if worked.pulled_in else rest
        if worked.pulled_in or worked.buzzing:
            yield "at_rest", rest
            yield "pulled", pulled
        if worked.melted:
            on = PULLED if worked.fed else frozenset[str]()
            yield "before", State(controls=self.controls, on=on)

    def coil(self, state: str) -> float:
        """Voltage across the relay's coil by ngspice. [V]"""
        volts = self.referee[state]
        return abs(volts["K3:86p"] - volts["K3:85p"])

    def fuse_loads(self, state: str) -> dict[str, float]:
        """Current by ngspice as a multiple of the rating, of each whole fuse. [-]"""
        volts = self.referee[state]
        loads = {}
        for fuse in self.vehicle.of_type(Fuse):
            pin = "p" if fuse.plugs_in else ""
            drop = abs(volts[f"{fuse.name}:1{pin}"] - volts[f"{fuse.name}:2{pin}"])
            gone = self.worked.melted if state == "settled" else frozenset[str]()
            if not fuse.blown and fuse.name not in gone:
                loads[fuse.name] = drop / fuse.resistance / fuse.rating
        return loads


@pytest.fixture(scope="module")
def van() -> Vehicle:
    """The healthy lighting board."""
    return load_vehicle("lighting_board")


def faults_of(vehicle: Vehicle) -> Iterator[Fault]:
    """Give every single fault, the ranged kinds with each of `SAMPLES`."""
    for fault in universe(vehicle, WORKED):
        if fault.kind in RANGED:
            for ohms in SAMPLES:
                yield dataclasses.replace(fault, resistance=ohms)
        else:
            yield fault


@pytest.fixture(scope="module")
def trials(
    van: Vehicle, ngspice: str, tmp_path_factory: pytest.TempPathFactory
) -> list[Trial]:
    """Every single fault, and none, in every position of the switches."""
    trials = []
    for fault in (None, *faults_of(van)):
        vehicle = van if fault is None else inject(van, fault)
        network = Network(vehicle)
        trials += [
            Trial(
                fault=fault,
                vehicle=vehicle,
                controls=controls,
                worked=work_by_hand(fault, controls),
                point=network.settle(Setup(controls=controls)),
            )
            for controls in POSITIONS
        ]
    asked = [(trial, name, state) for trial in trials for name, state in trial.cases()]
    circuits = [circuit_of(trial.vehicle, state) for trial, _, state in asked]
    answers = solve(
        ngspice,
        tmp_path_factory.mktemp("ngspice"),
        circuits[0],
        [change(circuits[0], circuit) for circuit in circuits],
        van.reference,
    )
    for (trial, name, _), circuit, answer in zip(asked, circuits, answers, strict=True):
        places = {place for e in circuit.values() for place in (e.a, e.b)}
        trial.referee[name] = {place: answer.volts(place) for place in places}
    return trials


def test_every_fault_has_been_tried(van: Vehicle, trials: list[Trial]) -> None:
    """Each fault of the universe meets ngspice or, buzzing, its proof of no rest."""
    tried = {trial.fault.answer for trial in trials if trial.fault}
    assert tried == {fault.answer for fault in universe(van, WORKED)}
    assert len(trials) == (1 + len(list(faults_of(van)))) * len(POSITIONS)


def test_node_voltages_agree_with_ngspice(trials: list[Trial]) -> None:
    """Every place of every settled circuit agrees within 1 mV + 0.1 %."""
    apart = [
        f"{trial.name}: {place} {ours:.6f} V, ngspice {volts[place]:.6f} V"
        for trial in trials
        if (volts := trial.referee.get("settled"))
        for place, ours in trial.point.voltages.items()
        if abs(ours - volts[place]) > ABSOLUTE + RELATIVE * abs(volts[place])
    ]
    assert apart == []


def test_many_circuits_at_once_agree_with_ngspice(
    van: Vehicle, trials: list[Trial]
) -> None:
    """All faults solved together in arrays agree as those solved one by one."""
    apart = []
    for controls in POSITIONS:
        rows = [trial for trial in trials if trial.controls == controls]
        network = Network(van, [trial.vehicle for trial in rows])
        point = network.settle(Setup(controls=controls))
        for row, trial in enumerate(rows):
            assert bool(point.buzzing[row]) == trial.worked.buzzing, trial.name
            for place, theirs in trial.referee.get("settled", {}).items():
                if place in point.voltages and place != "G1:-":
                    ours = point.voltages[place][row]
                    if abs(ours - theirs) > ABSOLUTE + RELATIVE * abs(theirs):
                        apart.append(f"{trial.name}: {place} {ours} V, not {theirs} V")
    assert apart == []


def test_relay_and_fuses_end_as_worked_by_hand(trials: list[Trial]) -> None:
    """The relay pulls in, rests or buzzes, and fuses melt, as the hand has it."""
    wrong = [
        trial.name
        for trial in trials
        if bool(trial.point.buzzing) != trial.worked.buzzing
        or (
            not trial.worked.buzzing
            and bool(trial.point.relays["K3"]) != trial.worked.pulled_in
        )
        or trial.point.blown
        != trial.worked.melted
        | {f.name for f in trial.vehicle.of_type(Fuse) if f.blown}
    ]
    assert wrong == []


def test_a_relay_pulled_in_was_drawn_and_is_held(trials: list[Trial]) -> None:
    """At rest its coil gets pull-in or more; pulled in, it gets more than drop-out."""
    pulled_in = [trial for trial in trials if trial.worked.pulled_in]
    assert [t.name for t in pulled_in if t.coil("at_rest") < PULL_IN] == []
    assert [t.name for t in pulled_in if t.coil("settled") <= DROP_OUT] == []
    assert pulled_in


def test_a_relay_at_rest_gets_less_than_pull_in(trials: list[Trial]) -> None:
    """Where the relay rests, a whole coil gets less than its pull-in voltage."""
    drawn = [
        trial.name
        for trial in trials
        if not trial.worked.pulled_in
        and not trial.worked.buzzing
        and trial.coil("settled") >= PULL_IN
        and not (trial.fault and trial.fault.kind == "relay_coil_open")
    ]
    assert drawn == []


def test_a_buzzing_relay_has_no_state_to_rest_in(trials: list[Trial]) -> None:
    """At rest the coil gets pull-in or more, and pulled in drop-out or less.

    By the hand's account this happens only with a high resistance in the battery's own
    cables, which feeds both the coil and the lamps that the coil switches on.
    """
    buzzing = [trial for trial in trials if trial.worked.buzzing]
    assert {t.fault.site for t in buzzing if t.fault} == COMMON
    assert [t.name for t in buzzing if t.coil("at_rest") < PULL_IN] == []
    assert [t.name for t in buzzing if t.coil("pulled") > DROP_OUT] == []


def test_whole_fuses_carry_what_they_can_carry_for_good(trials: list[Trial]) -> None:
    """No whole fuse carries 1.1 times its rating (ISO 8820-3, from memory) or more."""
    overloaded = [
        f"{trial.name}: {fuse} at {load:.2f} of its rating"
        for trial in trials
        if "settled" in trial.referee
        for fuse, load in trial.fuse_loads("settled").items()
        if load >= 1.1
    ]
    assert overloaded == []


def test_a_melted_fuse_would_have_carried_too_much(trials: list[Trial]) -> None:
    """While it was whole it carried more than 1.1 times its rating, and melted first.

    A small blade above 6 times its rating opens within 0.1 s (ISO 8820-3, from memory);
    a large one below 3.5 times takes 0.2 s or more (DIN 72581-3). So where the main
    link was overloaded as well, it outlived the blade.
    """
    melted = [trial for trial in trials if trial.worked.melted]
    assert melted
    for trial in melted:
        loads = trial.fuse_loads("before")
        (first,) = trial.worked.melted
        assert loads[first] > 1.1, trial.name
        others = {name for name, load in loads.items() if load > 1.1 and name != first}
        assert others <= {"F1"}, trial.name
        if others:
            assert loads[first] > 6.0, trial.name
            assert loads["F1"] < 3.5, trial.name


# What a voltmeter shows
# ----------------------


def ends_of(vehicle: Vehicle, site: str) -> tuple[str, str]:
    """The two places between which a site lies."""
    name, _, detail = site.partition(":")
    match vehicle[name]:
        case Wire() as wire:
            return wire.start, wire.end
        case Connector():
            return site, f"{site}p"
        case Switch():
            start, _, end = detail.partition("-")
            return f"{name}:{start}", f"{name}:{end}"
        case GroundPoint() as point:
            return f"{name}:31", point.body
        case Fuse() | Lamp() as part:
            one, two = part.sockets
            return one, two
        case other:
            raise TypeError(other)


def test_a_voltmeter_reads_what_ngspice_finds_with_its_ten_megohm(
    van: Vehicle, ngspice: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Across each open, and from both its ends to the minus post, lights on and off."""
    ours, circuits, ends, names = [], [], [], []
    for fault in universe(van, ("open_circuit", "fuse_blown", "lamp_blown")):
        vehicle = inject(van, fault)
        network = Network(vehicle)
        one, two = ends_of(van, fault.site)
        for controls in ({"S1": "on", "S2": "dip"}, {"S1": "off", "S2": "off"}):
            setup = Setup(controls=controls)
            point = network.settle(setup)
            worked = work_by_hand(fault, controls)
            for a, b in ((one, two), (one, "G1:-"), (two, "G1:-")):
                hookup = Hookup(tool="volts", lead_a=a, lead_b=b)
                outcome = measure(network, setup, hookup, point)
                ours.append(outcome.channels["volts"])
                names.append(f"{fault.name(van)}, {controls}: {a} to {b}")
                on = PULLED if worked.pulled_in else frozenset[str]()
                circuit = circuit_of(vehicle, State(controls=controls, on=on))
                circuit["meter", "", a, b] = Resistor(a, b, 10e6)
                circuits.append(circuit)
                ends.append((a, b))
    changes = [change(circuits[0], circuit) for circuit in circuits]
    folder = tmp_path_factory.mktemp("meter")
    answers = solve(ngspice, folder, circuits[0], changes, van.reference)
    apart = []
    for name, volts, pair, answer in zip(names, ours, ends, answers, strict=True):
        theirs = answer.volts(*pair)
        if abs(volts - theirs) > ABSOLUTE + RELATIVE * abs(theirs):
            apart.append(f"{name}: {volts:.6f} V, ngspice {theirs:.6f} V")
    assert apart == []
