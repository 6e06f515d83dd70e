"""What `ohmwork check` warns of: allowed in a vehicle file, yet hardly meant."""

import pytest

from ohmwork.parts import LAMP_TYPES
from ohmwork.vehicle import load_vehicle, read_vehicle, vehicle_names
from ohmwork.wiring_check import warnings

BOARD = """\
format: ohmwork vehicle 1
name: board
title: Board with two stop lamps
battery: G1
rails: {"30": F1:1, "31": "G1:-"}
controls: {S1: Brake, B1: Pedal, D1: Engine}
parts:
  G1: {kind: battery, open_circuit_voltage: 12.6 V, internal_resistance: 6 mΩ}
  F1: {kind: fuse, label: stop lamp fuse, rating: 5 A, resistance: 17.9 mΩ}
  S1:
    kind: switch
    label: brake switch
    positions: [released, pressed]
    contacts: {30-54: [pressed]}
    contact_resistance: 5 mΩ
  E1: {kind: lamp, label: left stop lamp, supply: 54, type: P21W 12 V}
  E2: {kind: lamp, label: right stop lamp, supply: 54, type: P21W 12 V}
  B1: {kind: potentiometer, resistance: 1 kΩ, positions: {up: 10 %, down: 85 %}}
  D1: {kind: engine, positions: [stopped, idling]}
  G2: {kind: alternator, engine: D1, output: {idling: 60 A}, regulated_voltage: 14.2 V}
  K1: {kind: relay, coil_resistance: 85 Ω, pull_in: 7.2 V, drop_out: 2.4 V}
  W1: {kind: wire, from: "G1:+", to: F1:1, colour: RD, area: 4 mm2, length: 0.5 m}
  W2: {kind: wire, from: F1:2, to: S1:30, colour: RD, area: 1 mm2, length: 1 m}
  W3: {kind: wire, from: S1:54, to: E1:54, colour: BK, area: 1 mm2, length: 2 m}
  W4: {kind: wire, from: S1:54, to: E2:54, colour: BK, area: 1 mm2, length: 2 m}
  W5: {kind: wire, from: E1:31, to: "G1:-", colour: BN, area: 1 mm2, length: 1 m}
  W6: {kind: wire, from: E2:31, to: "G1:-", colour: BN, area: 1 mm2, length: 1 m}
  W7: {kind: wire, from: F1:1, to: B1:1, colour: YE, area: 1 mm2, length: 1 m}
  W8: {kind: wire, from: B1:3, to: "G1:-", colour: BN, area: 1 mm2, length: 1 m}
  W9: {kind: wire, from: B1:2, to: K1:86, colour: YE, area: 1 mm2, length: 1 m}
  W10: {kind: wire, from: K1:85, to: "G1:-", colour: BN, area: 1 mm2, length: 1 m}
  W11: {kind: wire, from: F1:1, to: K1:30, colour: RD, area: 1 mm2, length: 1 m}
  W12: {kind: wire, from: K1:87, to: E1:54, colour: RD, area: 1 mm2, length: 1 m}
  W13: {kind: wire, from: "G2:B+", to: F1:1, colour: RD, area: 4 mm2, length: 1 m}
  W14: {kind: wire, from: "G2:31", to: "G1:-", colour: BN, area: 4 mm2, length: 1 m}
  W15: {kind: wire, from: "G2:D+", to: F1:1, colour: BU, area: 1 mm2, length: 1 m}
"""


def warned(*changes: tuple[str, str]) -> list[str]:
    """Return what is told of the board with pieces of its text changed."""
    text = BOARD
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return warnings(read_vehicle(text))


@pytest.mark.parametrize("name", vehicle_names())
def test_nothing_is_told_of_a_vehicle_of_ours(name: str) -> None:
    """They are what a teacher copies: a false alarm there would be everywhere."""
    assert warnings(load_vehicle(name)) == []


def test_nothing_is_told_of_a_sound_board() -> None:
    """So that what the other tests meet comes from their change alone."""
    assert warned() == []


def test_terminals_without_a_wire_are_told() -> None:
    """The contact of a relay that nobody wired; its plug's own pins need no wire."""
    changed = ("to: E1:54, colour: RD", "to: K1:30, colour: RD")

    assert warned(changed, ("from: K1:87,", "from: F1:1,")) == [
        "K1: no wire at K1:87.",
    ]


def test_a_wire_that_ends_in_a_connector_is_told() -> None:
    """Of a connector both sides count: nothing goes on from its pin."""
    connector = "  X1: {kind: connector, label: tail plug, ways: [1]}\n  W1: {"

    told = warned(("  W1: {", connector), ("W3: {kind: wire, from: S1:54, to: E1:54",
                  "W3: {kind: wire, from: S1:54, to: X1:1"))  # fmt: skip

    assert told == ["Tail plug X1: no wire at X1:1p."]


def test_a_switch_wired_on_one_side_sets_nothing() -> None:
    """Its free terminal is told as well, since that is where to mend it."""
    told = warned(("from: F1:2, to: S1:30", "from: F1:2, to: S1:54"))

    assert told == [
        "Brake switch S1: no wire at S1:30.",
        "Brake switch S1: nothing uses it, so setting it changes nothing.",
    ]


def test_a_potentiometer_whose_slider_is_free_sets_nothing() -> None:
    """Its track alone takes the same current wherever the slider stands."""
    told = warned(("from: B1:2, to: K1:86", "from: F1:1, to: K1:86"))

    assert told[-1] == "B1: nothing uses it, so setting it changes nothing."


def test_an_engine_that_turns_nothing_is_told() -> None:
    """No alternator names it, and it needs no other control."""
    first = "  D1: {kind: engine, positions: [stopped, idling]}\n"
    second = "  D2: {kind: engine, positions: [stopped, idling]}\n"

    told = warned((first, first + second), ("D1: Engine", "D1: Engine, D2: Other"))

    assert told == ["D2: nothing uses it, so setting it changes nothing."]


def test_a_fuse_smaller_than_its_load_is_told() -> None:
    """Two stop lamps of 26.5 W at 13.5 V take 3.9 A by hand: 5 A holds, 3 A does not.

    Current of a lamp goes with the 0.55 power of voltage (common practice, no source):
    at the 14 V of a running engine 4.0 A, at a battery's 12.6 V 3.8 A.
    """
    lamp = LAMP_TYPES["P21W 12 V"]
    by_hand = 2 * lamp.test_power / lamp.test_voltage
    smaller = ("rating: 5 A", "rating: 3 A")

    (told,) = warned(smaller)

    assert told.startswith("Stop lamp fuse F1 is 3 A, and what it feeds takes "), told
    assert told.endswith(" A in the state 'S1 pressed, B1 up, D1 idling'.")
    current = float(told.partition("takes ")[2].partition(" A")[0])
    assert current == pytest.approx(by_hand, rel=0.05)


def test_the_states_of_a_vehicle_are_what_is_driven() -> None:
    """Where the brake is in none of them, no fuse is too small for it."""
    smaller = ("rating: 5 A", "rating: 3 A")
    parked, braking = "{}", "{S1: pressed}"

    for state, expected in ((parked, 0), (braking, 1)):
        told = warned(smaller, ("parts:", f"states: {{tried: {state}}}\nparts:"))
        assert len(told) == expected
        assert all("in the state 'tried'." in sentence for sentence in told)


def test_a_fuse_that_shares_its_load_is_not_told() -> None:
    """Two of 3 A side by side carry 2 A each."""
    twin = "  F2: {kind: fuse, rating: 3 A, resistance: 17.9 mΩ}\n  W1: {"
    wires = (
        "  W16: {kind: wire, from: F2:1, to: F1:1, colour: RD, area: 4 mm2, "
        "length: 0.1 m}\n"
        "  W17: {kind: wire, from: F2:2, to: F1:2, colour: RD, area: 4 mm2, "
        "length: 0.1 m}\n  W2: {"
    )

    assert warned(("rating: 5 A", "rating: 3 A"), ("  W1: {", twin),
                  ("  W2: {", wires)) == []  # fmt: skip


def test_fuses_go_unjudged_where_states_are_many_and_not_named() -> None:
    """Seven more switches make 1,024 positions together, too many to try each."""
    smaller = ("rating: 5 A", "rating: 3 A")
    names = [f"S{number}" for number in range(10, 17)]
    switches = "".join(
        f"""
  {name}: {{kind: switch, positions: ["off", "on"], contacts: {{1-2: ["on"]}},
           contact_resistance: 5 mΩ}}
  W{name}: {{kind: wire, from: "{name}:1", to: F1:1, colour: RD, area: 1 mm2,
             length: 1 m}}
  V{name}: {{kind: wire, from: "{name}:2", to: K1:86, colour: RD, area: 1 mm2,
             length: 1 m}}"""
        for name in names
    )
    listed = ("D1: Engine", f"D1: Engine, {', '.join(f'{n}: {n}' for n in names)}")
    parts = ("  E1: {kind: lamp", f"{switches}\n  E1: {{kind: lamp".lstrip("\n"))

    assert len(warned(smaller)) == 1
    assert warned(smaller, listed, parts) == []
