"""One circuit of a vehicle: complete, no more than it needs, and true to the whole.

What belongs to a circuit was traced by hand on the vehicles' files. That nothing is
missing shows in what the circuit does: by itself it works as in the whole vehicle.
"""

import dataclasses
from functools import cache

import pytest

import ohmwork
from ohmwork.circuits import PartOfSwitch, Terminals, circuit_of
from ohmwork.errors import UnknownNameError
from ohmwork.network import Network, Setup
from ohmwork.parts import Connector, Module, Relay, Wire
from ohmwork.symptoms import perceived
from ohmwork.vehicle import Vehicle, vehicle_names

CIRCUITS = [
    (name, circuit)
    for name in vehicle_names()
    for circuit in ohmwork.load_vehicle(name).circuits
]


def circuit(name: str, of: str) -> Vehicle:
    """Return one circuit of a vehicle that comes with Ohmwork."""
    return circuit_of(ohmwork.load_vehicle(of), name)


def names(vehicle: Vehicle) -> set[str]:
    """Return the names of all parts but wires."""
    return {p.name for p in vehicle.parts.values() if not isinstance(p, Wire)}


@cache
def in_the_whole(of: str, state: str) -> dict[str, str]:
    """Return the word for what each part of a whole vehicle does in a state."""
    vehicle = ohmwork.load_vehicle(of)
    setup = Setup(controls=dict(vehicle.states[state]))
    return perceived(Network(vehicle).settle(setup))


@pytest.mark.parametrize(("of", "name"), CIRCUITS)
def test_a_circuit_by_itself_does_what_it_does_in_the_vehicle(
    of: str, name: str
) -> None:
    """In every state its loads burn, turn and sound as they do in the whole vehicle.

    While cranking the starter pulls down the voltage of all others; that state is left
    out for circuits without it.
    """
    part = circuit(name, of)
    loads, network = set(part.circuits[name]), Network(part)
    for state in part.states.keys() - {"cranking"}:
        alone = perceived(network.settle(Setup(controls=dict(part.states[state]))))
        together = in_the_whole(of, state)
        for load in alone:
            if loads & {load, load.partition(":")[0]}:
                assert alone[load] == together[load], (state, load)


@pytest.mark.parametrize(
    ("of", "name", "expected"),
    [
        (
            "training_van",
            "horn",
            "G1 F1 F3 F43 F20 F22 K6 S9 H6 GP1 GP3 Body",
        ),
        (
            "training_truck",
            "seat heater",
            "G1 G2 S1 F1 F2 S2 F16 S10 E18 GP1 GP4 Body",
        ),
        (
            "training_truck",
            "starting",
            "G1 G2 S1 F1 F2 F3 F4 S2 K3 S7 M1 GP1 GP2 GP3 GP4 SP2 Body Block",
        ),
        ("sensor_board", "sensor warning", "G1 F1 S1 A1 B1 B2 E2 GP1 Body"),
    ],
)
def test_a_circuit_has_what_it_needs(of: str, name: str, expected: str) -> None:
    """Its parts are those found by following the file with a finger."""
    assert names(circuit(name, of)) == set(expected.split())


def test_alternatives_belong_to_a_circuit() -> None:
    """The indicators are fed through the ignition, and by the hazard switch without."""
    indicators = circuit("left indicators", "training_van")
    assert {"S1", "K1", "S6", "S7", "K12"} <= indicators.parts.keys()
    window = circuit("window", "training_van")
    assert len(indicators["S7"].places) == 5
    assert {"S14:1", "S14:2", "S14:15", "S14:31"} == set(window["S14"].places)


def test_parts_keep_what_is_used() -> None:
    """Other ways, contacts and pins are left out; names stay."""
    whole = ohmwork.load_vehicle("training_truck")
    lock = circuit_of(whole, "differential lock")
    assert isinstance(module := lock["A1"], Module)
    assert [pin.name for pin in module.pin_table] == ["4", "5"]
    reversing = circuit_of(whole, "reversing")
    assert isinstance(connector := reversing["X3"], Connector)
    assert connector.ways == ("6",)
    assert reversing["S7"].places == ("S7:15", "S7:1")
    ignition = reversing["S2"]
    assert isinstance(ignition, PartOfSwitch)
    assert [contact.name for contact in ignition.contacts] == ["30-15"]
    rest = circuit("work lamp", "relay_board")
    assert isinstance(relay := rest["K1"], Relay)
    assert not relay.changeover


def test_passed_terminals_stay() -> None:
    """A fuse whose terminal only joins the wires to the next one is that terminal."""
    heater = circuit("horn", "training_truck")
    assert isinstance(passed := heater["F2"], Terminals)
    assert passed.places == ("F2:1",)
    light = circuit("main beam", "training_van")["S2"]
    assert isinstance(light, PartOfSwitch)
    assert light.passed == ("30",)
    assert set(light.places) == {"S2:15", "S2:56", "S2:30"}


def test_only_one_filament_is_followed() -> None:
    """A load may be one filament of a lamp: the feed of the other is left out."""
    whole = ohmwork.load_vehicle("training_truck")
    stop = circuit_of(whole_with(whole, {"stop": ("E7:54",)}), "stop")
    assert "S5" in stop.parts
    assert "S3" not in stop.parts


def whole_with(vehicle: Vehicle, circuits: dict[str, tuple[str, ...]]) -> Vehicle:
    """Return a vehicle with other circuits."""
    return dataclasses.replace(vehicle, circuits=circuits)


@pytest.mark.parametrize(("of", "name"), CIRCUITS)
def test_controls_and_places_are_those_that_remain(of: str, name: str) -> None:
    """Controls, states and the ends of wires name parts of the circuit alone."""
    part = circuit(name, of)
    assert part.controls.keys() <= part.parts.keys()
    for controls in part.states.values():
        assert controls.keys() <= part.controls.keys()
    for wire in part.of_type(Wire):
        assert {wire.start, wire.end} <= set(part.places)
    assert {*part.rails.values(), part.plus_post, part.reference} <= set(part.places)


def test_the_engine_comes_with_the_alternator() -> None:
    """It is a control of the charging circuit, and of no lamp's."""
    assert "D1" in circuit("charging", "training_van").controls
    assert "D1" not in circuit("horn", "training_van").parts


def test_an_unknown_circuit_is_met_with_those_there_are() -> None:
    """The message names every circuit, or says that there is none to choose."""
    with pytest.raises(UnknownNameError) as error:
        circuit("horn", "relay_board")
    assert str(error.value) == (
        "No circuit 'horn'. Relay board, 12 V: a changeover relay has rest lamp, "
        "work lamp."
    )
    with pytest.raises(UnknownNameError, match="has no circuits: it is one by itself"):
        circuit("horn", "lighting_board")
