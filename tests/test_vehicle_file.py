"""A vehicle file is data that a teacher may change, and its mistakes are explained."""

from pathlib import Path

import pytest

from ohmwork.errors import QuantityError, UnknownNameError, VehicleError
from ohmwork.parts import COLOURS, PART_KINDS
from ohmwork.quantities import format_quantity, parse_quantity
from ohmwork.vehicle import load_vehicle, read_vehicle, vehicle_names

BOARD = """\
format: ohmwork vehicle 1
name: board
title: Bench board with one lamp
battery: G1
rails: {"30": F1:1, "31": "G1:-"}
controls: {S1: Lights}
parts:
  G1: {kind: battery, open_circuit_voltage: 12.6 V, internal_resistance: 6 mΩ}
  F1: {kind: fuse, label: lamp fuse, rating: 5 A, resistance: 17.9 mΩ}
  S1:
    kind: switch
    label: light switch
    positions: [off, on]
    contacts: {30-58: [on]}
    contact_resistance: 5 mΩ
  E1: {kind: lamp, label: side lamp, supply: 58, type: W5W 12 V}
  X1: {kind: connector, ways: [1, 2]}
  K1: {kind: relay, coil_resistance: 85 Ω, pull_in: 7.2 V, drop_out: 2.4 V}
  GP1: {kind: ground_point, body: Body:31}
  Body: {kind: body}
  W1: {kind: wire, from: "G1:+", to: F1:1, colour: RD, area: 4 mm2, length: 0.5 m}
  W2: {kind: wire, from: F1:2, to: S1:30, colour: RD, area: 1 mm2, length: 1 m}
  W3: {kind: wire, from: S1:58, to: X1:1, colour: GY/BK, area: 1 mm2, length: 2 m}
  W4: {kind: wire, from: X1:1p, to: E1:58, colour: GY, area: 1 mm2, length: 2 m}
  W5: {kind: wire, from: E1:31, to: GP1:31, colour: BN, area: 1 mm2, length: 0.3 m}
  W6: {kind: wire, from: Body:31, to: "G1:-", colour: BK, area: 4 mm2, length: 0.4 m}
  W7: {kind: wire, from: K1:85, to: GP1:31, colour: BN, area: 1 mm2, length: 0.3 m}
  E2: {kind: twin_lamp, label: tail lamp, main: 54, second: 58, type: P21/5W 12 V}
  M1: {kind: motor, supply: "1", rated_voltage: 12 V, rated_current: 8 A,
       stall_current: 60 A}
  R1: {kind: resistor_pack, steps: {1-2: 1.3 Ω, 2-3: 0.7 Ω}}
  B2: {kind: potentiometer, resistance: 1 kΩ, positions: {up: 10 %, down: 85 %}}
  D1: {kind: engine, positions: [stopped, fast], needs: {S1: [on]}}
  G2: {kind: alternator, engine: D1, output: {fast: 90 A}, regulated_voltage: 14.4 V}
  A1: {kind: module, rated_voltage: 12 V, works_from: 6 V, sleep_current: 8 mA,
       awake_current: 0.4 A,
       pins: {"5": {does: reference, voltage: 5 V, limit: 60 mA},
              "6": {does: low_reference},
              "8": {does: input, on_when: high},
              "9": {does: high_side, when: "8", resistance: 30 mΩ, limit: 15 A}}}
  W8: {kind: wire, from: E2:31, to: GP1:31, colour: BN, area: 1 mm2, length: 0.3 m}
  W9: {kind: wire, from: M1:31, to: R1:3, colour: BN, area: 1 mm2, length: 0.3 m}
  W10: {kind: wire, from: A1:5, to: B2:1, colour: BN, area: 1 mm2, length: 0.3 m}
  W11: {kind: wire, from: G2:31, to: GP1:31, colour: BN, area: 1 mm2, length: 0.3 m}
circuits: {side lamp: [E1], tail lamp: ["E2:58"]}
states:
  parked: {}
  driving: {S1: on, D1: fast}
"""

MISTAKES = {
    # what is wrong: (the text as it was, the text with the mistake, what must be said)
    "format": (
        "format: ohmwork vehicle 1",
        "format: ohmwork vehicle 9",
        ["'ohmwork vehicle 9'", "'ohmwork vehicle 1'"],
    ),
    "top key misspelt": (
        "title: Ben",
        "heading: Ben",
        ["'heading'", "name, title, battery"],
    ),
    "battery that is none": ("battery: G1", "battery: F1", ["F1 is no battery"]),
    "rails not a table": (
        '{"30": F1:1, "31": "G1:-"}',
        "F1:1",
        ["rails", "name: value"],
    ),
    "rail missing": (', "31": "G1:-"}', "}", ["rails", "'31' is missing"]),
    "rail nowhere": (
        '"30": F1:1',
        '"30": F1:9',
        ["rail 30", "'F1:9'", "'F1:1', 'F1:2'"],
    ),
    "control that is no switch": ("{S1: Lights}", "{K1: Lights}", ["K1 is no switch"]),
    "controls not a table": ("{S1: Lights}", "[S1]", ["controls", "name: value"]),
    "unknown kind": ("kind: fuse,", "kind: fuze,", ["F1", "'fuze'", *PART_KINDS]),
    "kind left out": ("{kind: fuse, label", "{label", ["F1", "kind", *PART_KINDS]),
    "kind a list": ("kind: fuse,", "kind: [fuse],", ["F1", *PART_KINDS]),
    "part without values": ("{kind: body}", "", ["Body", "name: value"]),
    "part name a number": ("  W7:", "  7:", ["text", "'W7'"]),
    "part name with a colon": ("  W7:", '  "W7:a":', ["'W7:a'", "no colon"]),
    "key left out": (", rating: 5 A", "", ["F1", "'rating' is missing"]),
    "key misspelt": (
        "colour: RD, area: 1 ",
        "color: RD, area: 1 ",
        ["W2", "'color'", "from, to, colour, area, length"],
    ),
    "no unit": ("length: 2 m}", "length: 2}", ["W3", "length", "'2'", "number and m"]),
    "wrong unit": (
        "length: 2 m}",
        "length: 2 V}",
        ["W3", "length", "'2 V'", "not in m"],
    ),
    "unknown prefix": ("12.6 V", "12.6 GV", ["G1", "'12.6 GV'", "V, mV, µV"]),
    "no number": ("12.6 V", "twelve V", ["G1", "'twelve V'", "number and V"]),
    "two decimal points": ("12.6 V", "1.2.6 V", ["G1", "'1.2.6'", "no number"]),
    "infinite": ("12.6 V", "1e999 V", ["G1", "out of range", "1e-09 to 1e+09 V"]),
    "source without resistance": (
        "6 mΩ",
        "0 Ω",
        ["G1", "internal_resistance", "above 0"],
    ),
    "fuse without resistance": ("17.9 mΩ", "0 Ω", ["F1", "resistance", "above 0"]),
    "switch without resistance": (
        "5 mΩ",
        "0 Ω",
        ["S1", "contact_resistance", "above 0"],
    ),
    "switch resistance in volts": ("5 mΩ", "5 mV", ["S1", "contact_resistance", "Ω"]),
    "wire without length": ("0.5 m}", "0 m}", ["W1", "length", "above 0"]),
    "negative area": ("area: 4 mm2", "area: -4 mm2", ["W1", "area", "not be negative"]),
    "colder than copper": (
        "length: 0.5 m",
        "length: 0.5 m, temperature: -270 °C",
        ["W1", "-270 °C", "-60 to 250 °C"],
    ),
    "bad colour": ("colour: GY/BK", "colour: grey", ["W3", "'grey'", *COLOURS]),
    "three colours": ("colour: GY/BK", "colour: GY/BK/RD", ["W3", "two joined"]),
    "unknown lamp": (
        "W5W 12 V",
        "W9W 12 V",
        ["E1", "'W9W 12 V'", "W5W 12 V, W5W 24 V"],
    ),
    "lamp on one terminal": (
        "supply: 58",
        "supply: 31",
        ["E1", "'E1:31'", "two places"],
    ),
    "relay that cannot rest": (
        "drop_out: 2.4 V",
        "drop_out: 8 V",
        ["K1", "8 V", "7.2 V"],
    ),
    "positions not a list": ("[off, on]", "on", ["S1", "positions", "list"]),
    "unknown position": ("30-58: [on]", "30-58: [dip]", ["S1", "'dip'", "off, on"]),
    "contact not a pair": ("30-58: [on]", "3058: [on]", ["S1", "30-58: [side, dip]"]),
    "contact to itself": (
        "30-58: [on]",
        "58-58: [on]",
        ["S1", "58-58", "two terminals"],
    ),
    "ways not a list": ("ways: [1, 2]", "ways: 2", ["X1", "ways", "[1, 2, 3]"]),
    "way named twice": ("ways: [1, 2]", "ways: [1, 1]", ["X1", "'X1:1'", "two places"]),
    "neither true nor false": (
        "drop_out: 2.4 V",
        "drop_out: 2.4 V, changeover: maybe",
        ["K1", "changeover", "'maybe'", "true or false"],
    ),
    "unknown part": ("from: X1:1p", "from: X9:1p", ["W4", "No part 'X9'", "'X1'"]),
    "unknown pin": (
        "from: X1:1p",
        "from: X1:7p",
        ["W4", "'X1:7p'", "'X1:1p', 'X1:2p'"],
    ),
    "wire to itself": ("to: S1:30", "to: F1:2", ["W2", "starts and ends at F1:2"]),
    "body unknown": ("body: Body:31", "body: Frame:31", ["GP1", "No part 'Frame'"]),
    "part without a wire": ("from: K1:85", "from: S1:58", ["K1", "no wire"]),
    "two parts of one name": ("  W7:", "  W6:", ["W6", "line 26"]),
    "battery in a list that is none": (
        "battery: G1",
        "battery: [G1, F1]",
        ["F1 is no battery"],
    ),
    "lamp with one filament too few": (
        "P21/5W 12 V",
        "P21W 12 V",
        ["E2", "'P21W 12 V'", "P21/5W 12 V"],
    ),
    "lamp with one filament too many": (
        "W5W 12 V",
        "P21/5W 12 V",
        ["E1", "'P21/5W 12 V'", "P21W 12 V"],
    ),
    "motor that takes less when held fast": (
        "rated_current: 8 A",
        "rated_current: 80 A",
        ["M1", "stall_current", "60 A", "80 A"],
    ),
    "step not a pair": ("2-3: 0.7", "23: 0.7", ["R1", "'23'", "1-2"]),
    "step without resistance": (
        "2-3: 0.7 Ω",
        "2-3: 7",
        ["R1", "steps", "number and Ω"],
    ),
    "slider at the end": ("down: 85 %", "down: 100 %", ["B2", "'down'", "100 %"]),
    "more than all": ("up: 10 %", "up: 110 %", ["B2", "'up'", "110 %"]),
    "engine that needs no control": ("needs: {S1", "needs: {K1", ["D1", "K1 is no"]),
    "engine that needs no such position": (
        "needs: {S1: [on]}",
        "needs: {S1: [run]}",
        ["D1", "S1", "'run'", "off, on"],
    ),
    "alternator of no engine": ("engine: D1", "engine: D9", ["G2", "D9 is no"]),
    "alternator at no such speed": (
        "{fast: 90 A}",
        "{idle: 90 A}",
        ["G2", "D1", "'idle'", "stopped, fast"],
    ),
    "pin that does nothing known": (
        "does: low_reference",
        "does: ground",
        ["A1", "6", "'ground'", "low_reference"],
    ),
    "pin with a field of another": (
        "{does: low_reference}",
        "{does: low_reference, limit: 1 A}",
        ["A1", "6", "'limit'"],
    ),
    "output that asks for no input": (
        'when: "8"',
        'when: "7"',
        ["A1", "9", "'7'", "Its inputs are 8"],
    ),
    "input on when it suits": (
        "on_when: high",
        "on_when: hot",
        ["A1", "8", "'hot'", "high, low"],
    ),
    "material unknown": (
        "length: 0.5 m",
        "length: 0.5 m, material: gold",
        ["W1", "'gold'", "copper, aluminium"],
    ),
    "wire with no strands": (
        "length: 0.5 m",
        "length: 0.5 m, strands_lost: 100 %",
        ["W1", "no strands"],
    ),
    "charge above full": (
        "internal_resistance: 6 mΩ",
        "internal_resistance: 6 mΩ, state_of_charge: 120 %",
        ["G1", "state_of_charge", "120 %", "0 to 100 %"],
    ),
    "circuit of an unknown load": ("[E1]", "[E9]", ["side lamp", "'E9'"]),
    "circuit of an unknown filament": ("E2:58", "E2:59", ["tail lamp", "'E2:59'"]),
    "state of an unknown control": ("{S1: on, D1", "{S9: on, D1", ["driving", "S9"]),
    "state in an unknown position": (
        "D1: fast}",
        "D1: idle}",
        ["driving", "D1", "'idle'", "stopped, fast"],
    ),
    "not YAML": ("{kind: body}", "{kind: body", ["not valid YAML"]),
}


def mistaken(mistake: str) -> tuple[str, int]:
    """Return the board with one mistake in it, and the number of that line."""
    right, wrong, _ = MISTAKES[mistake]
    start = BOARD.index(right)
    return BOARD.replace(right, wrong, 1), BOARD[:start].count("\n") + 1


def test_the_board_itself_is_right() -> None:
    """Without a mistake it loads, so that each error below is of its mistake alone."""
    board = read_vehicle(BOARD)
    assert list(board.parts)[:3] == ["G1", "F1", "S1"]
    assert board.circuits == {"side lamp": ("E1",), "tail lamp": ("E2:58",)}
    assert board.states == {"parked": {}, "driving": {"S1": "on", "D1": "fast"}}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_explained(mistake: str) -> None:
    """The error names the file and says what is wrong and what is allowed."""
    text, _ = mistaken(mistake)
    with pytest.raises(VehicleError) as caught:
        read_vehicle(text, "board.yaml")
    message = str(caught.value)
    assert message.startswith("board.yaml, line ")
    assert [word for word in MISTAKES[mistake][2] if word not in message] == []
    assert message.endswith((".", "?"))
    assert "\n" not in message


# Here the mistake shows only at another line than that of the change.
ELSEWHERE = {
    "rail missing",  # where the rails begin
    "unknown position",  # where the switch begins
    "contact to itself",
    "part without a wire",  # where the part stands
    "motor that takes less when held fast",  # where the part begins
    "step not a pair",
    "slider at the end",
    "more than all",
    "output that asks for no input",
    "input on when it suits",
    "not YAML",  # where reading ends
}


@pytest.mark.parametrize("mistake", sorted(set(MISTAKES) - ELSEWHERE))
def test_a_mistake_is_found_in_its_line(mistake: str) -> None:
    """The error names the line that was changed."""
    text, line = mistaken(mistake)
    with pytest.raises(VehicleError, match=rf"^board.yaml, line {line}: "):
        read_vehicle(text, "board.yaml")


@pytest.mark.parametrize("text", ["", "- G1", "a few words", "42"])
def test_a_file_that_is_no_table(text: str) -> None:
    """A file without 'name: value' entries is refused by its name."""
    with pytest.raises(VehicleError, match=r"board\.yaml: the file must be a list of"):
        read_vehicle(text, "board.yaml")


def test_an_unknown_vehicle() -> None:
    """A name that does not exist is answered with one that does."""
    with pytest.raises(UnknownNameError, match="Did you mean 'lighting_board'"):
        load_vehicle("lightning_board")


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    """The error names the path."""
    with pytest.raises(UnknownNameError, match=r"van\.yaml: No such file"):
        load_vehicle(tmp_path / "van.yaml")


def test_a_file_that_is_no_text(tmp_path: Path) -> None:
    """A picture saved under the name of a vehicle is refused."""
    path = tmp_path / "van.yaml"
    path.write_bytes(b"\x89PNG\xff\xfe")
    with pytest.raises(VehicleError, match=r"van\.yaml is not text"):
        load_vehicle(path)


def test_a_teachers_own_file(tmp_path: Path) -> None:
    """A file anywhere loads as the vehicles that come with the package do."""
    path = tmp_path / "board.yaml"
    path.write_text(BOARD, encoding="utf-8")
    assert load_vehicle(path) == read_vehicle(BOARD)


# What a vehicle that loads is


@pytest.mark.parametrize("name", vehicle_names())
def test_vehicles_of_the_package_load(name: str) -> None:
    """Each loads under its own name, and its text alone makes the same vehicle."""
    vehicle = load_vehicle(name)
    assert vehicle.name == name
    assert read_vehicle(vehicle.text) == vehicle


def test_part_of_a_place() -> None:
    """A place names its part; an unknown place is answered with those there are."""
    board = read_vehicle(BOARD)
    assert board.part_of("E1:58").name == "E1"
    message = "No place 'E1:59'. Side lamp E1 has 'E1:58', 'E1:31'."
    with pytest.raises(UnknownNameError) as caught:
        board.part_of("E1:59")
    assert str(caught.value) == message


# Quantities


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("7.7 mΩ", "Ω", 0.0077),
        ("7.7 mohm", "Ω", 0.0077),
        ("10MΩ", "Ω", 1e7),
        ("0.75 mm²", "mm2", 0.75),
        ("1.5 mm2", "mm2", 1.5),
        ("-40 °C", "°C", -40.0),
        ("3 m", "m", 3.0),
        ("3 mm", "m", 0.003),
        ("1e3 V", "V", 1000.0),
    ],
)
def test_quantities(text: str, unit: str, value: float) -> None:
    """A number, a prefix of SI and a unit, with a space or without."""
    assert parse_quantity(text, unit) == pytest.approx(value)


@pytest.mark.parametrize(
    "text",
    ["", "V", "12", "12 A", "12 mm2", "1,2 V", "nan V", "inf V", "1e10 V", "1e-10 V"],
)
def test_no_quantities(text: str) -> None:
    """Whatever is no number of volts between 1e-9 and 1e9 is refused."""
    with pytest.raises(QuantityError):
        parse_quantity(text, "V")


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.0077, "Ω", "7.7 mΩ"),
        (-12.5664, "V", "-12.6 V"),
        (2.5, "mm2", "2.5 mm2"),
        (1e7, "Ω", "10 MΩ"),
        (999.9, "Ω", "1 kΩ"),
        (0.0, "A", "0 A"),
    ],
)
def test_values_in_words(value: float, unit: str, text: str) -> None:
    """Three digits and an engineering prefix."""
    assert format_quantity(value, unit) == text
