"""What must never go the wrong way, whatever the numbers.

Currents and voltages of things whose current rises with voltage keep an order: more
resistance, less current; a weaker source, lower voltages everywhere. On small circuits
hypothesis draws the numbers; on the vehicles whole sets of them are settled at once.
"""

import dataclasses
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boards import NOTHING, board
from ohmwork.drawing.drops import drops, is_at_work, lost_along
from ohmwork.faults import Fault, inject, sites
from ohmwork.network import Network, OperatingPoint, Setup, operating_point
from ohmwork.parts import (
    Alternator,
    Battery,
    Chafe,
    Engine,
    GroundPoint,
    Heater,
    Horn,
    Lamp,
    Led,
    Motor,
    Part,
    Relay,
    ResistorPack,
    Starter,
    Thermistor,
    Wiper,
    Wire,
)
from ohmwork.vehicle import Vehicle, load_vehicle, vehicle_names

SLACK = 1e-7
"""What a comparison may be off, in volts, amperes or shares: solves stop at 1 nV, and
conductances reach some hundred siemens."""

ALL = {name: load_vehicle(name) for name in vehicle_names()}
VAN, TRUCK = ALL["training_van"], ALL["training_truck"]
STATES = [
    (name, state)
    for name, vehicle in ALL.items()
    for state in [*vehicle.states][:: -3 if len(vehicle.states) > 10 else 1]
]
"""States of the boards, and every third of the vehicles, the last among them."""


def is_running(name: str, state: str) -> bool:
    """Whether a vehicle's engine turns in a state."""
    controls = ALL[name].states[state]
    return any(engine.name in controls for engine in ALL[name].of_type(Engine))


AT_REST = [pair for pair in STATES if not is_running(*pair)]
RUNNING = [
    (name, state)
    for name, vehicle in ALL.items()
    for state in vehicle.states
    if is_running(name, state)
]

OHMS = st.floats(-3.0, 4.0).map(lambda power: 10.0**power)
"""From 1 mΩ to 10 kΩ, every decade alike."""

VOLTS = st.floats(2.0, 16.0)

LOADS: dict[str, Part] = {
    "lamp": Lamp(name="E1", supply="1", type="P21W 12 V"),
    "heater": Heater(name="E1", supply="1", rated_voltage=12.0, rated_current=8.0),
    "self-limiting heater": Heater(
        name="E1", supply="1", rated_voltage=12.0, rated_current=8.0, self_limiting=True
    ),
    "LED": Led(name="E1", supply="1", rated_voltage=12.0, rated_current=0.1),
    "motor": Motor(
        name="E1", supply="1", rated_voltage=12.0, rated_current=8.0, stall_current=50.0
    ),
    "horn": Horn(name="E1", supply="1", rated_voltage=12.0, rated_current=5.0),
}


drawn = settings(max_examples=20, deadline=None)


def series(load: Part, emf: float, before: float, behind: float) -> OperatingPoint:
    """Return a load with a resistance on its supply side and one on its ground side."""
    joints = [("G1:+", "E1:1", before), ("E1:31", "G1:-", behind)]
    return operating_point(board(emf, joints, load))


def effect(point: OperatingPoint, name: str = "E1") -> float:
    """How bright, fast or loud a load is, either way round. [-]"""
    return abs(float(point.output(name)))


def falls(values: Iterable[float]) -> bool:
    """Whether no value is above the one before it."""
    return all(b <= a + SLACK for a, b in pairwise(values))


def rises(values: Iterable[float]) -> bool:
    """Whether no value is below the one before it."""
    return all(b >= a - SLACK for a, b in pairwise(values))


# One load


@pytest.mark.parametrize("name", LOADS)
@drawn
@given(emf=VOLTS, one=OHMS, other=OHMS, fixed=OHMS, on_supply=st.booleans())
def test_more_resistance_never_helps_the_load_it_feeds(
    name: str, emf: float, one: float, other: float, fixed: float, *, on_supply: bool
) -> None:
    """On either side of it: no more current, light, speed, heat or sound."""
    points = [
        series(LOADS[name], emf, *((ohms, fixed) if on_supply else (fixed, ohms)))
        for ohms in sorted((one, other))
    ]
    assert falls(point.current("E1") for point in points)
    assert falls(map(effect, points))


@pytest.mark.parametrize("name", LOADS)
@drawn
@given(one=VOLTS, other=VOLTS, ohms=OHMS)
def test_more_voltage_never_weakens_a_load(
    name: str, one: float, other: float, ohms: float
) -> None:
    """No less current, and no less of what it does."""
    points = [series(LOADS[name], emf, ohms, ohms) for emf in sorted((one, other))]
    assert rises(point.current("E1") for point in points)
    assert rises(map(effect, points))


@pytest.mark.parametrize("name", LOADS)
@drawn
@given(emf=VOLTS, before=OHMS, behind=OHMS)
def test_swapping_the_sides_changes_nothing(
    name: str, emf: float, before: float, behind: float
) -> None:
    """It is the sum of the resistances that counts, not on which side they are."""
    one, other = (
        series(LOADS[name], emf, *pair) for pair in ((before, behind), (behind, before))
    )
    assert one.current("E1") == pytest.approx(other.current("E1"), abs=SLACK)
    assert effect(one) == pytest.approx(effect(other), abs=SLACK)


@pytest.mark.parametrize("name", LOADS)
@drawn
@given(emf=VOLTS, ohms=OHMS)
def test_a_load_fed_the_other_way_round(name: str, emf: float, ohms: float) -> None:
    """A motor turns back as fast as it turned; an LED stays dark; the rest is alike."""
    load = LOADS[name]
    forward = series(load, emf, ohms, NOTHING)
    joints = [("G1:+", "E1:31", ohms), ("E1:1", "G1:-", NOTHING)]
    back = operating_point(board(emf, joints, load))
    if isinstance(load, Led):
        assert abs(back.current("E1")) < 1e-6
        assert back.output("E1") == 0.0
        return
    assert back.current("E1") == pytest.approx(-forward.current("E1"), abs=SLACK)
    sign = -1.0 if isinstance(load, Motor) else 1.0
    assert back.output("E1") == pytest.approx(sign * forward.output("E1"), abs=SLACK)


# Wires


CHANGES: dict[str, Callable[[Wire, float], Wire]] = {
    "warmer": lambda w, x: dataclasses.replace(
        w, temperature_celsius=w.temperature_celsius + 200.0 * x
    ),
    "longer": lambda w, x: dataclasses.replace(w, length=w.length * (1.0 + 9.0 * x)),
    "thinner": lambda w, x: dataclasses.replace(
        w, area_mm2=w.area_mm2 * (1.0 - 0.9 * x)
    ),
    "frayed": lambda w, x: dataclasses.replace(w, strands_lost=99.0 * x),
    "worn": lambda w, x: dataclasses.replace(w, worn_resistance=1e-3 + x),
}
"""What makes a wire worse, by a share from 0 to 1."""


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("name", LOADS)
@drawn
@given(
    emf=VOLTS, area=st.floats(0.35, 6.0), length=st.floats(0.1, 20.0),
    one=st.floats(0.0, 1.0), other=st.floats(0.0, 1.0),
)  # fmt: skip
def test_a_worse_wire_never_carries_more(
    change: str, name: str, emf: float, area: float, length: float, one: float,
    other: float,
) -> None:  # fmt: skip
    """Warmer, longer, thinner, frayed or worn: no more current to its load."""
    wire = Wire(
        name="W1", start="G1:+", end="E1:1", colour="RD", area_mm2=area, length=length
    )
    currents = [
        operating_point(
            board(
                emf,
                [("E1:31", "G1:-", NOTHING)],
                LOADS[name],
                CHANGES[change](wire, share),
            )
        ).current("E1")
        for share in sorted((one, other))
    ]
    assert falls(currents)


@drawn
@given(emf=VOLTS, area=st.floats(0.35, 6.0), length=st.floats(0.1, 20.0))
def test_aluminium_never_carries_more_than_copper(
    emf: float, area: float, length: float
) -> None:
    """Of the same size and length."""
    wire = Wire(
        name="W1", start="G1:+", end="E1:1", colour="RD", area_mm2=area, length=length
    )
    poor = dataclasses.replace(wire, material="aluminium")
    currents = [
        operating_point(
            board(emf, [("E1:31", "G1:-", NOTHING)], LOADS["lamp"], w)
        ).current("E1")
        for w in (wire, poor)
    ]
    assert falls(currents)


# Networks of resistors

PLACES = ("G1:+", "X1:1", "X1:2", "X1:3", "X1:4", "G1:-")
PAIRS = [(a, b) for n, a in enumerate(PLACES) for b in PLACES[n + 1 :]]
RESISTORS = st.lists(
    st.tuples(st.sampled_from(PAIRS), OHMS), min_size=1, max_size=12
).map(lambda rows: [(a, b, ohms) for (a, b), ohms in rows])


def total_resistance(resistors: Sequence[tuple[str, str, float]]) -> float:
    """What lies between the battery's posts, by a battery of 12 V with 0.1 Ω. [Ω]"""
    point = operating_point(board(12.0, resistors, internal=0.1))
    amps = -float(point.current("G1"))
    return 12.0 / amps - 0.1 if amps > 1e-9 else math.inf


@drawn
@given(resistors=RESISTORS, pair=st.sampled_from(PAIRS), ohms=OHMS)
def test_a_leakage_never_raises_total_resistance(
    resistors: list[tuple[str, str, float]], pair: tuple[str, str], ohms: float
) -> None:
    """Wherever a path is added (Rayleigh's law); to ground it raises no voltage."""
    before, after = resistors, [*resistors, (*pair, ohms)]
    assert total_resistance(after) <= total_resistance(before) * (1.0 + 1e-9)
    if pair[1] == "G1:-":
        one, other = (
            operating_point(board(12.0, rows, internal=0.1)) for rows in (before, after)
        )
        assert all(
            other.voltage(place) <= one.voltage(place) + SLACK for place in PLACES[:-1]
        )


@drawn
@given(resistors=RESISTORS, which=st.integers(0, 11), factor=st.floats(1.0, 1e6))
def test_a_larger_resistance_never_lowers_total_resistance(
    resistors: list[tuple[str, str, float]], which: int, factor: float
) -> None:
    """Whichever of them grows (Rayleigh's law)."""
    grown = list(resistors)
    a, b, ohms = grown[which % len(grown)]
    grown[which % len(grown)] = (a, b, ohms * factor)
    assert total_resistance(grown) >= total_resistance(resistors) * (1.0 - 1e-9)


@pytest.mark.parametrize("name", LOADS)
@drawn
@given(emf=VOLTS, shared=OHMS, one=OHMS, other=OHMS, on_supply=st.booleans())
def test_a_bigger_load_never_helps_its_neighbour(
    name: str, emf: float, shared: float, one: float, other: float, *, on_supply: bool
) -> None:
    """On a shared feed or a shared ground, the neighbour gets no more voltage."""
    points = []
    for ohms in sorted((one, other), reverse=True):
        feed = [("G1:+", "X1:1", shared), ("X1:2", "G1:-", NOTHING)]
        if not on_supply:
            feed = [("G1:+", "X1:1", NOTHING), ("X1:2", "G1:-", shared)]
        joints = [("X1:1", "E1:1", NOTHING), ("E1:31", "X1:2", NOTHING)]
        vehicle = board(emf, [*feed, *joints, ("X1:1", "X1:2", ohms)], LOADS[name])
        points.append(operating_point(vehicle))
    assert falls(point.voltage("E1:1", "E1:31") for point in points)
    assert falls(map(effect, points))
    if not on_supply:
        assert rises(point.voltage("E1:31") for point in points)


# Batteries and alternators

WEAKER: dict[str, Callable[[Battery, float], Battery]] = {
    "discharged": lambda b, x: dataclasses.replace(
        b, state_of_charge=100.0 * (1.0 - x)
    ),
    "older": lambda b, x: dataclasses.replace(b, age=100.0 * x),
    "colder": lambda b, x: dataclasses.replace(b, temperature_celsius=25.0 - 60.0 * x),
    "short of cells": lambda b, x: dataclasses.replace(b, dead_cells=round(3.0 * x)),
}
"""What makes a battery weaker, by a share from 0 to 1."""


@pytest.mark.parametrize("change", WEAKER)
@drawn
@given(one=st.floats(0.0, 1.0), other=st.floats(0.0, 1.0), ohms=OHMS)
def test_a_weaker_battery_never_raises_a_voltage(
    change: str, one: float, other: float, ohms: float
) -> None:
    """Anywhere in a circuit of lamp, motor and resistance."""
    battery = Battery(name="G1", open_circuit_voltage=12.6, internal_resistance=6e-3)
    motor = dataclasses.replace(LOADS["motor"], name="M1")
    joints = [
        ("G1:+", "X1:1", 0.05), ("X1:1", "E1:1", ohms), ("E1:31", "X1:2", 0.01),
        ("X1:1", "M1:1", 0.02), ("M1:31", "X1:2", 0.02), ("X1:2", "G1:-", 0.05),
    ]  # fmt: skip
    points = [
        operating_point(
            board(1.0, joints, LOADS["lamp"], motor, WEAKER[change](battery, share))
        )
        for share in sorted((one, other))
    ]
    for place in ("G1:+", "X1:1", "E1:1", "E1:31", "M1:1", "M1:31", "X1:2"):
        assert falls(point.voltage(place) for point in points)


@pytest.mark.parametrize("change", WEAKER)
@drawn
@given(one=st.floats(0.0, 1.0), other=st.floats(0.0, 1.0), volts=st.floats(13.0, 15.0))
def test_a_weaker_battery_never_raises_the_charging_voltage(
    change: str, one: float, other: float, volts: float
) -> None:
    """An emptier one takes more current; one that resists more may take less."""
    battery = Battery(name="G1", open_circuit_voltage=12.6, internal_resistance=6e-3)
    points = [
        charging(WEAKER[change](battery, share), regulated=volts)
        for share in sorted((one, other))
    ]
    voltages = [point.voltage("G1:+") for point in points]
    assert rises(voltages) if change in ("older", "colder") else falls(voltages)


def charging(
    battery: Battery,
    *,
    regulated: float = 14.2,
    output: float = 60.0,
    load: float = 1.0,
    cable: float = 5e-3,
    sense: float | None = None,
) -> OperatingPoint:
    """Return an alternator at work on a battery and a load.

    Parameters
    ----------
    regulated : [V]
    output : [A]
    load : between the battery's posts. [Ω]
    cable : from alternator to battery. [Ω]
    sense : resistance of the wire from the sense terminal to the plus post; none for an
        alternator without one. [Ω]
    """
    alternator = Alternator(
        name="G2", engine="D1", output=(("idle", output),), regulated_voltage=regulated,
        sense=sense is not None,
    )  # fmt: skip
    joints = [
        ("G2:B+", "G1:+", cable), ("G2:31", "G1:-", NOTHING),
        ("G1:+", "G2:D+", 60.0), ("G1:+", "G1:-", load),
    ]  # fmt: skip
    if sense is not None:
        joints.append(("G1:+", "G2:S", sense))
    engine = Engine(name="D1", positions=("stopped", "idle"))
    vehicle = board(1.0, joints, battery, alternator, engine)
    vehicle = dataclasses.replace(vehicle, controls={"D1": "Engine"})
    return operating_point(vehicle, controls={"D1": "idle"})


CHARGED = Battery(name="G1", open_circuit_voltage=12.6, internal_resistance=6e-3)
LOAD = st.floats(0.1, 100.0)


@drawn
@given(
    one=st.floats(13.0, 15.5), other=st.floats(13.0, 15.5),
    output=st.floats(20.0, 150.0), load=LOAD,
)  # fmt: skip
def test_a_stronger_alternator_never_lowers_the_voltage(
    one: float, other: float, output: float, load: float
) -> None:
    """Neither by a higher regulated voltage nor by more output."""
    low, high = sorted((one, other))
    points = [
        charging(CHARGED, regulated=low, output=output, load=load),
        charging(CHARGED, regulated=high, output=output, load=load),
        charging(CHARGED, regulated=high, output=2.0 * output, load=load),
    ]
    assert all(point.triggers["G2"] for point in points)
    assert rises(point.voltage("G1:+") for point in points)


@drawn
@given(one=LOAD, other=LOAD)
def test_more_load_never_raises_the_charging_voltage(one: float, other: float) -> None:
    """And the alternator gives no less."""
    points = [
        charging(CHARGED, load=ohms) for ohms in sorted((one, other), reverse=True)
    ]
    assert falls(point.voltage("G1:+") for point in points)
    assert falls(point.current("G2", "output idle") for point in points)


@drawn
@given(one=OHMS, other=OHMS, load=LOAD, cable=st.floats(1e-3, 0.05))
def test_a_poor_sense_wire_raises_the_voltage(
    one: float, other: float, load: float, cable: float
) -> None:
    """The alternator feels too little and makes up for it, by 1.5 V at most (assumed).

    A sound sense wire makes up for the charging cable.
    """
    points = [
        charging(CHARGED, load=load, cable=cable, sense=ohms)
        for ohms in (1e-3, *sorted((one, other)), 1e9)
    ]
    voltages = [point.voltage("G1:+") for point in points]
    # The search for the sensed voltage stops within 1 µV of it.
    assert all(b >= a - 1e-5 for a, b in pairwise(voltages))
    assert voltages[-1] <= 14.2 + 1.5 + SLACK
    without = charging(CHARGED, load=load, cable=cable)
    assert voltages[0] >= without.voltage("G1:+") - 1e-5


# Relays


@drawn
@given(st.lists(st.floats(0.0, 16.0), min_size=1, max_size=20))
def test_a_relay_pulls_in_only_going_up_and_lets_go_only_going_down(
    emfs: list[float],
) -> None:
    """Above its pull-in voltage, below its drop-out voltage; between it stays."""
    relay = Relay(name="K1", coil_resistance=85.0, pull_in=7.2, drop_out=2.4)
    joints = [("G1:+", "K1:86", NOTHING), ("K1:85", "G1:-", NOTHING)]
    point, before = None, 0.0
    for emf in emfs:
        network = Network(board(max(emf, 0.01), joints, relay))
        was = 0.0 if point is None else point.relays["K1"]
        point = network.settle(Setup(), start=point)
        now = point.relays["K1"]
        if now != was:
            assert now == (1.0 if emf > before else 0.0)
        if not 2.39 < emf < 7.21:
            assert now == (1.0 if emf > 5.0 else 0.0)
        elif 2.41 < emf < 7.19:
            assert now == was
        before = emf


@pytest.mark.parametrize(
    ("vehicle", "state"),
    [(VAN, "ignition on"), (VAN, "dip beam"), (TRUCK, "horn"), (TRUCK, "main beam")],
    ids=["van on", "van dip", "truck horn", "truck main"],
)
def test_relays_of_a_vehicle_with_a_failing_battery(
    vehicle: Vehicle, state: str
) -> None:
    """As its voltage fades, each lets go once; as it recovers, each pulls in once.

    At the same voltage none has let go on the way down that is pulled in on the way up.
    The engine is at rest.
    """
    controls = {k: v for k, v in vehicle.states[state].items() if k != "D1"}
    shares = [1.0 - 0.07 * step for step in range(14)]
    heard: dict[str, list[list[float]]] = {}
    point = None
    for sweep in (shares, shares[::-1]):
        for share in sweep:
            weak = vehicle
            for name in vehicle.batteries:
                battery = vehicle[name]
                assert isinstance(battery, Battery)
                volts = share * battery.open_circuit_voltage
                weak = weak.with_part(
                    dataclasses.replace(battery, open_circuit_voltage=volts)
                )
            point = Network(weak).settle(Setup(controls=controls), start=point)
            for name, row in point.relays.items():
                down, up = heard.setdefault(name, [[], []])
                (down if sweep is shares else up).append(float(row))
    assert any(down[0] for down, _ in heard.values())
    for down, up in heard.values():
        assert falls(down)
        assert rises(up)
        assert all(a >= b for a, b in zip(down, up[::-1], strict=True))
        assert sum(down) > sum(up) or not down[0]


# The vehicles


@cache
def settled(name: str, state: str) -> OperatingPoint:
    """Return a healthy vehicle in one of its states."""
    return operating_point(ALL[name], controls=ALL[name].states[state])


def together(
    vehicle: Vehicle, controls: Mapping[str, str], variants: Sequence[Vehicle]
) -> OperatingPoint:
    """Return many variants of a vehicle, settled at once."""
    return Network(vehicle, variants).settle(Setup(controls=dict(controls)))


def row(values: Any, n: int) -> Any:
    """Return an array with one value for each variant."""
    return np.broadcast_to(np.asarray(values, dtype=float), (n,))


def same_states(point: OperatingPoint, healthy: OperatingPoint, n: int) -> Any:
    """Return of which variants every relay, module and fuse stands as when healthy."""
    alike = np.full(n, fill_value=True)
    for mine, theirs in (
        (point.triggers, healthy.triggers),
        (point.blown_rows, healthy.blown_rows),
    ):
        for name, values in mine.items():
            alike &= row(values, n) == theirs[name]
    return alike


LADDER = (0.05, 0.3, 2.0, 20.0, 500.0)
"""Resistances that are added, rising. [Ω]"""


def ways_of(point: OperatingPoint) -> dict[str, list[str]]:
    """Return, for each part that can have a high resistance, the loads it serves."""
    vehicle, served = point.network.vehicle, dict[str, list[str]]()
    for name, drop in drops(point).items():
        if not is_at_work(point, drop):
            continue
        way = lost_along(point, drop.high, up=True)
        way |= lost_along(point, drop.low, up=False)
        for part in way:
            if isinstance(vehicle[part], (Wire, GroundPoint)):
                served.setdefault(part, []).append(name)
    return served


@pytest.mark.parametrize(("name", "state"), STATES)
def test_no_high_resistance_helps_a_load_behind_it(name: str, state: str) -> None:
    """In any wire or ground point on its way, shared or not, on either side.

    It gives no more light, speed, heat, pull or sound than when healthy. With the
    engine at rest, the more the worse, for as long as no relay lets go that loaded the
    same feed.
    """
    vehicle, healthy = ALL[name], settled(name, state)
    served = ways_of(healthy)
    variants = [
        inject(vehicle, Fault(kind="high_resistance", site=part, resistance=ohms))
        for part in served
        for ohms in LADDER
    ]
    if not variants:
        return
    n, shape = len(variants), (-1, len(LADDER))
    point = together(vehicle, vehicle.states[state], variants)
    alike = same_states(point, healthy, n).reshape(shape)
    still = (row(point.buzzing, n) == 0.0).reshape(shape)
    for number, (part, loads) in enumerate(served.items()):
        for load in loads:
            sound = abs(float(healthy.output(load)))
            story = abs(row(point.output(load), n)).reshape(shape)[number]
            assert (story[still[number]] <= sound + 1e-5).all(), (part, load)
            if (name, state) in AT_REST:
                same = [sound, *story[: first_false(alike[number])]]
                assert all(b <= a + 1e-5 for a, b in pairwise(same)), (part, load)


def first_false(row: Any) -> int:
    """Return how many values hold before the first that does not."""
    return int(np.argmin([*row, False]))


def given_by_battery(name: str, state: str, kind: str, ohms: float) -> tuple[Any, Any]:
    """Return its current with this at every site, and healthy. [A]

    Only where every relay is as it was: in more than half of the variants.
    """
    vehicle, healthy = ALL[name], settled(name, state)
    variants = [
        inject(vehicle, Fault(kind=kind, site=site, resistance=ohms))
        for site, kinds in sites(vehicle).items()
        if kind in kinds
    ]
    point = together(vehicle, vehicle.states[state], variants)
    alike = same_states(point, healthy, len(variants))
    battery = vehicle.batteries[0]
    given = row(-point.current(battery), len(variants))
    assert alike.sum() > 0.5 * len(variants)
    return given[alike], -healthy.current(battery)


@pytest.mark.parametrize(("name", "state"), AT_REST)
def test_no_high_resistance_asks_more_of_the_battery(name: str, state: str) -> None:
    """With the engine at rest and every relay as it was, it gives no more current."""
    given, healthy = given_by_battery(name, state, "high_resistance", 2.0)
    assert (given <= healthy + SLACK).all()


@pytest.mark.parametrize(("name", "state"), AT_REST)
def test_no_leakage_asks_less_of_the_battery(name: str, state: str) -> None:
    """From whatever wire it goes to ground, with every relay as it was."""
    given, healthy = given_by_battery(name, state, "leakage", 100.0)
    assert (given >= healthy - SLACK).all()


@pytest.mark.parametrize(("name", "state"), AT_REST)
def test_a_weaker_battery_never_raises_a_voltage_of_a_vehicle(
    name: str, state: str
) -> None:
    """Of any place, while every relay and module stands as before.

    The battery whose minus post is 0 V; of two in series that is the lower one.
    """
    vehicle, healthy = ALL[name], settled(name, state)
    battery = vehicle[vehicle.batteries[0]]
    assert isinstance(battery, Battery)
    variants = [
        vehicle.with_part(change(battery, share))
        for change in WEAKER.values()
        for share in (0.2, 0.5, 1.0)
    ]
    point = together(vehicle, vehicle.states[state], variants)
    alike = same_states(point, healthy, len(variants))
    assert alike.any()
    for place, volts in point.voltages.items():
        higher = row(volts, len(variants))[alike] - healthy.voltages[place]
        assert (higher <= SLACK).all(), place


@pytest.mark.parametrize(("name", "state"), RUNNING)
def test_a_stronger_alternator_never_lowers_the_voltage_of_a_vehicle(
    name: str, state: str
) -> None:
    """By more regulated voltage or more output; between the battery's posts."""
    vehicle = ALL[name]
    (alternator,) = vehicle.of_type(Alternator)
    volts = alternator.regulated_voltage
    variants = [
        vehicle.with_part(dataclasses.replace(alternator, **changes))
        for changes in (
            {"regulated_voltage": 0.96 * volts}, {},
            {"regulated_voltage": 1.04 * volts},
            {"output": tuple((p, 0.2 * a) for p, a in alternator.output)}, {},
            {"output": tuple((p, 2.0 * a) for p, a in alternator.output)},
        )
    ]  # fmt: skip
    point = together(vehicle, vehicle.states[state], variants)
    found = row(point.voltage(vehicle.plus_post), len(variants))
    assert rises(found[:3])
    assert rises(found[3:])


@pytest.mark.parametrize(("name", "state"), STATES)
def test_a_bigger_load_never_helps_the_others(name: str, state: str) -> None:
    """Whichever load is doubled, no other finds more voltage, if no fuse blows.

    Unless the two lie in series.
    """
    vehicle, healthy = ALL[name], settled(name, state)
    work = {n: d for n, d in drops(healthy).items() if is_at_work(healthy, d)}
    if len(work) < 2:
        return
    variants = []
    for drop in work.values():
        part = vehicle[drop.low.partition(":")[0]]
        start = f"{part.name}:30" if isinstance(part, Starter) else drop.high
        twin = Chafe(
            name="twin",
            start=start,
            end=drop.low,
            resistance=drop.across / drop.current,
        )
        variants.append(vehicle.with_part(twin))
    point = together(vehicle, vehicle.states[state], variants)
    alike = same_states(point, healthy, len(variants))
    for number, doubled in enumerate(work):
        for load, drop in work.items():
            way = lost_along(healthy, drop.high, up=True)
            way |= lost_along(healthy, drop.low, up=False)
            in_series = doubled.partition(":")[0] in way
            if load == doubled or in_series or not alike[number]:
                continue
            across = row(point.voltage(drop.high, drop.low), len(variants))[number]
            assert across <= drop.across + 1e-5, (doubled, load)


@pytest.mark.parametrize(("name", "state"), STATES)
def test_more_resistance_lifts_a_shared_ground(name: str, state: str) -> None:
    """The voltage of a ground point rises with its resistance, if no relay lets go."""
    vehicle, healthy = ALL[name], settled(name, state)
    points = [gp.name for gp in vehicle.of_type(GroundPoint)]
    variants = [
        inject(vehicle, Fault(kind="high_resistance", site=gp, resistance=ohms))
        for gp in points
        for ohms in LADDER
    ]
    point = together(vehicle, vehicle.states[state], variants)
    alike = same_states(point, healthy, len(variants)).reshape(-1, len(LADDER))
    for number, gp in enumerate(points):
        body = f"{vehicle[gp].body}"  # type: ignore[attr-defined]
        first = float(healthy.voltage(f"{gp}:31", body))
        lifted = row(point.voltage(f"{gp}:31", body), len(variants))
        story = lifted.reshape(-1, len(LADDER))[number]
        story = [first, *story[: first_false(alike[number])]]
        size = [abs(volts) for volts in story]
        assert all(b >= a - 1e-5 for a, b in pairwise(size)), (gp, story)


MOTORS = [
    (name, state, motor.name)
    for name, state in STATES
    for motor in ALL[name].parts.values()
    if isinstance(motor, (Motor, Wiper, Starter))
    and abs(float(settled(name, state).output(motor.name))) > 0.3
]


@pytest.mark.parametrize(("name", "state", "motor"), MOTORS)
def test_a_worn_motor_turns_slower_and_a_seized_one_not_at_all(
    name: str, state: str, motor: str
) -> None:
    """In every state in which it turns; held fast it takes more current than free."""
    vehicle, healthy = ALL[name], settled(name, state)
    kinds = ("worn", "seized")
    variants = [inject(vehicle, Fault(kind=kind, site=motor)) for kind in kinds]
    worn, seized = (
        operating_point(variant, controls=vehicle.states[state]) for variant in variants
    )
    assert abs(worn.output(motor)) < 0.9 * abs(healthy.output(motor))
    assert abs(seized.output(motor)) < 1e-6
    if not seized.blown:
        free, held = drops(healthy)[motor].current, drops(seized)[motor].current
        assert held > 1.2 * free


def test_windows_and_locks_go_both_ways() -> None:
    """Fed the other way round they turn back as fast, but for the length of wires."""

    def outputs(lever: str, positions: tuple[str, str], motor: str) -> list[float]:
        return [
            float(
                operating_point(VAN, controls={"S1": "on", lever: position}).output(
                    motor
                )
            )
            for position in positions
        ]

    up, down = outputs("S14", ("up", "down"), "M7")
    assert up == pytest.approx(-down, rel=0.02)
    for motor in ("M8", "M9"):
        there, back = outputs("S15", ("lock", "unlock"), motor)
        assert there == pytest.approx(-back, rel=0.05)


BLOWERS = {
    "blower_board": ("M1", "S2", {"S1": "on"}),
    "training_van": ("M4", "S12", {"S1": "on"}),
    "training_truck": ("M3", "S9", {"S2": "drive"}),
}


@pytest.mark.parametrize("name", BLOWERS)
def test_each_step_turns_the_blower_faster(name: str) -> None:
    """And asks more of the battery; the steps of its switch are in that order."""
    motor, switch, controls = BLOWERS[name]
    vehicle = ALL[name]
    assert vehicle.of_type(ResistorPack)
    points = [
        operating_point(vehicle, controls={**controls, switch: position})
        for position in vehicle.control(switch).positions
    ]
    speeds = [float(point.output(motor)) for point in points]
    assert speeds[0] == pytest.approx(0.0, abs=1e-6)
    assert all(b > a + 0.05 for a, b in pairwise(speeds))
    battery = vehicle.batteries[0]
    assert falls(point.current(battery) for point in points)


@pytest.mark.parametrize(
    ("name", "controls"),
    [("sensor_board", {"S1": "on"}), ("training_van", {"S1": "on"})],
)
def test_a_warmer_sensor_gives_a_lower_signal(
    name: str, controls: dict[str, str]
) -> None:
    """From -40 to 130 °C, and never beyond what its module pulls it up to."""
    vehicle = ALL[name]
    (sensor,) = vehicle.of_type(Thermistor)
    degrees = [float(t) for t in range(-40, 131, 10)]
    variants = [
        vehicle.with_part(dataclasses.replace(sensor, temperature_celsius=t))
        for t in degrees
    ]
    point = together(vehicle, controls, variants)
    signals = row(point.voltage(f"{sensor.name}:1"), len(variants))
    assert all(b < a for a, b in pairwise(signals))
    assert 0.0 < signals[-1] < signals[0] < 5.1
