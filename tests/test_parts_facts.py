"""Parts and vehicles against what books, manuals and standards publish of such parts.

What the laws alone must hold stands in `test_laws`, worked circuits of textbooks in
`test_worked_circuits`, what meters do in `test_instruments`.

*TM 5-3805-262-20*, *TM 5-3820-256-24-4*, *TM 10-3930-671-24*, *TM 9-6115-730-24*:
manuals of the US Army. *NAVEDTRA 14050*: a training manual of the US Navy. *UP2*:
OpenStax, *University Physics*, volume 2, with the number of its module. Values marked
"from memory" are recalled from the standard named; "common practice, no source" is
custom of the trade.
"""

import dataclasses
import math
import statistics
from functools import cache

import numpy as np
import pytest

from boards import NOTHING, board, measure
from ohmwork.bench import Bench
from ohmwork.drawing.drops import Drop, drops, is_at_work, lost_along
from ohmwork.faults import Fault, inject
from ohmwork.instruments import Hookup, attachment
from ohmwork.network import Network, OperatingPoint, Setup, operating_point
from ohmwork.network.lowering import fuses_of
from ohmwork.parts import (
    LAMP_TYPES,
    Alternator,
    Battery,
    Engine,
    Fuse,
    Lamp,
    Module,
    ModulePin,
    Motor,
    Part,
    Potentiometer,
    Relay,
    ResistorPack,
    Starter,
    Thermistor,
    TwinLamp,
    Wire,
)
from ohmwork.vehicle import Vehicle, load_vehicle, vehicle_names

ALL = {name: load_vehicle(name) for name in vehicle_names()}
WHOLE = {12: ALL["training_van"], 24: ALL["training_truck"]}
"""The whole vehicles by what their systems are called. [V]"""

STATES = [(volts, state) for volts, v in WHOLE.items() for state in v.states]

EXACT = 1e-6
"""Relative tolerance where a book's answer is exact: joints of 1 nΩ take less. [-]"""


@cache
def settled(volts: int, state: str) -> OperatingPoint:
    """Return a healthy vehicle in one of its states."""
    vehicle = WHOLE[volts]
    return operating_point(vehicle, controls=vehicle.states[state])


def system(vehicle: Vehicle) -> int:
    """Return 12 or 24: what a vehicle's system is called. [V]"""
    return 24 if vehicle.supply_voltage > 18.0 else 12


def posts(point: OperatingPoint) -> float:
    """Voltage between the battery's posts. [V]"""
    return float(point.voltage(point.network.vehicle.plus_post))


def joined(emf: float, part: Part, plus: str, minus: str) -> OperatingPoint:
    """Return a part right across a battery."""
    joints = [("G1:+", f"{part.name}:{plus}", NOTHING)]
    joints.append((f"{part.name}:{minus}", "G1:-", NOTHING))
    return operating_point(board(emf, joints, part))


# Wires


def metre(area: float, material: str = "copper", celsius: float = 20.0) -> float:
    """Resistance of one metre of cable. [Ω]"""
    return Wire(
        name="W", start="A:1", end="B:1", colour="BK", area_mm2=area, length=1.0,
        material=material, temperature_celsius=celsius,
    ).resistance  # fmt: skip


def gauge_area(gauge: int) -> float:
    """Cross-section of a wire gauge: d = 0.127 mm · 92^((36 - n)/39). [mm²]

    ASTM B258, from memory.
    """
    diameter = 0.127 * math.pow(92.0, (36 - gauge) / 39.0)
    return math.pi / 4.0 * diameter**2


GAUGES = {
    8: 2.06, 10: 3.28, 12: 5.21, 14: 8.28, 16: 13.17, 18: 20.94, 20: 33.29, 22: 52.94,
}  # fmt: skip
"""Wire gauge to the resistance of solid copper. [Ω/km] ASTM B258, from memory."""


def test_the_diameter_of_twelve_gauge() -> None:
    """UP2 m58731: 2.053 mm, 3.31 mm²; so the gauge formula holds."""
    assert gauge_area(12) == pytest.approx(3.31, abs=0.005)
    assert math.sqrt(4.0 / math.pi * gauge_area(12)) == pytest.approx(2.053, abs=0.0005)


@pytest.mark.parametrize("gauge", GAUGES)
def test_wires_go_by_gauge(gauge: int) -> None:
    """Between gauges resistance goes as in the table, which has three digits or more.

    As a stranded cable it is 1.00 to 1.16 times the table's solid copper (the span of
    IEC 60228 class 5, from memory).
    """
    area = gauge_area(gauge)
    assert metre(area) / metre(gauge_area(16)) == pytest.approx(
        GAUGES[gauge] / GAUGES[16], rel=0.002
    )
    assert 1.00 <= metre(area) * 1e3 / GAUGES[gauge] <= 1.16


@pytest.mark.parametrize(
    ("steps", "ratio"),
    [(3, 2.0), (6, 4.0), (10, 10.0)],
    ids=["area", "width", "tenfold"],
)
def test_short_cuts_among_gauges(steps: int, ratio: float) -> None:
    """3 gauges thinner have twice the resistance, 6 half the width, 10 ten times it.

    ASTM B258, from memory; true within 2 %.
    """
    for gauge in (8, 10, 12):
        thin, thick = gauge_area(gauge + steps), gauge_area(gauge)
        assert metre(thin) / metre(thick) == pytest.approx(ratio, rel=0.02)


@pytest.mark.parametrize(
    ("material", "coefficient"), [("copper", 0.00393), ("aluminium", 0.00403)]
)
@pytest.mark.parametrize("celsius", [-40.0, 20.0, 105.0])
def test_conductors_warm_by_their_coefficient(
    material: str, coefficient: float, celsius: float
) -> None:
    """R = R20 (1 + α (t - 20 °C)), 3.93e-3 for copper, 4.03e-3 for aluminium.

    *Industrial Power Engineering and Applications Handbook*, p. 970.
    """
    cold, warm = metre(1.0, material), metre(1.0, material, celsius)
    expected = 1.0 + coefficient * (celsius - 20.0)
    assert warm / cold == pytest.approx(expected, rel=1e-9)


# Fuses

BLADES = [
    pytest.param(fuse, id=f"{name} {fuse.name}")
    for name, vehicle in ALL.items()
    for fuse in vehicle.of_type(Fuse)
    if type(fuse) is Fuse
]

COLD = {
    2.0: 53.0, 3.0: 31.0, 4.0: 23.0, 5.0: 17.9, 7.5: 10.9, 10.0: 7.7, 15.0: 4.8,
    20.0: 3.4, 25.0: 2.5, 30.0: 2.0,
}  # fmt: skip
"""Rating to cold resistance of a blade fuse. [A, mΩ] Data sheets, from memory; ±15 %
is their spread."""


@pytest.mark.parametrize("fuse", BLADES)
def test_blade_fuses_resist_as_their_data_sheets_say(fuse: Fuse) -> None:
    """Every blade of every vehicle has a rating that is made, and its resistance.

    Ratings: DIN 72581, from memory.
    """
    assert fuse.rating in COLD
    assert 1e3 * fuse.resistance == pytest.approx(COLD[fuse.rating], rel=0.15)


@pytest.mark.parametrize("fuse", BLADES)
def test_blade_fuses_drop_60_to_110_millivolts(fuse: Fuse) -> None:
    """At rated current, across the fuse itself. Data sheets, from memory."""
    load = 12.0 / fuse.rating
    joints = [("G1:+", f"{fuse.name}:1", NOTHING), (f"{fuse.name}:2", "G1:-", load)]
    point = operating_point(board(12.0, joints, fuse))
    drop = point.voltage(f"{fuse.name}:1p", f"{fuse.name}:2p")
    assert 0.060 <= drop * fuse.rating / point.current(fuse.name) <= 0.110


@pytest.mark.parametrize(
    ("rating", "melting"), [(5, 20), (10, 100), (15, 300), (20, 500), (30, 1400)]
)
def test_a_fuse_melts_by_its_heat(rating: float, melting: float) -> None:
    """At ten times its rating, I²t is that of melting the link, within a factor 1.6.

    Data sheets, from memory, where it is known to a half. [A, A²s]
    """
    (law,) = fuses_of(Fuse(name="F1", rating=rating, resistance=0.01))
    current = 10.0 * rating
    heat = current**2 * law.melting_time(current, np)
    assert 1.0 / 1.6 <= heat / melting <= 1.6


@pytest.mark.parametrize(("drain", "millivolts"), [(0.130, 1.0), (0.050, 0.39)])
def test_a_drain_shows_at_a_fuse(drain: float, millivolts: float) -> None:
    """130 mA drop 1 mV across a 10 A fuse of 7.7 mΩ, and 50 mA 0.39 mV.

    Ohm's law, to the two digits given; so a meter must show 0.01 mV.
    """
    fuse = Fuse(name="F1", rating=10.0, resistance=7.7e-3)
    joints = [("G1:+", "F1:1", NOTHING), ("F1:2", "G1:-", 12.6 / drain)]
    point = operating_point(board(12.6, joints, fuse))
    assert 1e3 * point.voltage("F1:1p", "F1:2p") == pytest.approx(millivolts, abs=0.006)


# Relays

RELAYS = [
    pytest.param(relay, system(vehicle), id=f"{name} {relay.name}")
    for name, vehicle in ALL.items()
    for relay in vehicle.of_type(Relay)
]
COILS = {12: (60.0, 100.0), 24: (300.0, 400.0)}
"""Resistance of ordinary coils. [Ω] Common practice, no source; 24 V from memory."""
RESISTORS = {12: (470.0, 1000.0), 24: (1200.0, 2700.0)}
"""Suppression resistors. [Ω] From memory."""


@pytest.mark.parametrize(("relay", "volts"), RELAYS)
def test_relays_are_ordinary_ones(relay: Relay, volts: int) -> None:
    """Coil, pull-in and drop-out, contact and suppression as catalogues have them.

    Pull-in at 60 % of 12 or 24 V, drop-out at 10 % or more, 3 to 50 mΩ at the contact:
    common practice, no source.
    """
    least, most = COILS[volts]
    assert least <= relay.coil_resistance <= most
    assert relay.pull_in / volts <= 0.6 + 1e-9
    assert relay.drop_out >= 0.1 * volts
    assert 3e-3 <= relay.contact_resistance <= 50e-3
    if relay.suppression_resistor is not None:
        least, most = RESISTORS[volts]
        assert least <= relay.suppression_resistor <= most


def mini_relay(**more: object) -> Relay:
    """Return an ordinary 12 V relay."""
    values = {"coil_resistance": 85.0, "pull_in": 7.2, "drop_out": 2.4, **more}
    return Relay(name="K1", **values)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("kelvin", "factor"), [(0.0, 1.0), (60.0, 1.24), (-40.0, 0.84)]
)
def test_a_hot_coil_needs_more_voltage(kelvin: float, factor: float) -> None:
    """The current that pulls in is the same, so voltage goes as copper's resistance.

    0.00393 per kelvin (*Industrial Power Engineering and Applications Handbook*,
    p. 970), so 1.24 times at 60 K over 20 °C.
    """
    relay = mini_relay(temperature_celsius=20.0 + kelvin)
    pulls_in = 7.2 * factor
    for emf, expected in ((0.99 * pulls_in, 0.0), (1.01 * pulls_in, 1.0)):
        assert joined(emf, relay, "86", "85").relays["K1"] == expected
    amps = joined(12.0, relay, "86", "85").current("K1", "coil")
    assert amps == pytest.approx(12.0 / (85.0 * factor), rel=0.005)


def test_a_new_contact_drops_30_millivolts() -> None:
    """At 10 A, common practice, no source; 0.1 V would be the most to accept."""
    joints = [
        ("G1:+", "K1:86", NOTHING), ("K1:85", "G1:-", NOTHING),
        ("G1:+", "K1:30", NOTHING), ("K1:87", "G1:-", 1.195),
    ]  # fmt: skip
    point = operating_point(board(12.0, joints, mini_relay()))
    assert point.current("K1", "30-87") == pytest.approx(10.0, rel=1e-3)
    assert point.voltage("K1:30p", "K1:87p") == pytest.approx(0.030, rel=1e-3)
    assert point.voltage("K1:30", "K1:87") < 0.1


@pytest.mark.parametrize("plus", ["86", "85"])
def test_a_suppression_resistor_has_no_polarity(plus: str) -> None:
    """It takes 12 V / 680 Ω beside the coil's 12 V / 85 Ω, either way round.

    Common practice, no source; 680 Ω from memory. The seats' 2 mΩ are left out.
    """
    relay = mini_relay(suppression_resistor=680.0)
    point = joined(12.0, relay, plus, {"86": "85", "85": "86"}[plus])
    assert -point.current("G1") == pytest.approx(12.0 / 85.0 + 12.0 / 680.0, rel=1e-4)
    assert point.relays["K1"]


DIODES = [
    (volts, relay.name)
    for volts, vehicle in WHOLE.items()
    for relay in vehicle.of_type(Relay)
    if relay.suppression_diode
]


@pytest.mark.parametrize(("volts", "name"), DIODES)
def test_a_reversed_diode_is_a_short(volts: int, name: str) -> None:
    """Wherever the relay is fed, its coil gets no more than a diode's voltage.

    Common practice, no source: 86 must be plus. A fuse blows, or a poor wire gets hot.
    """
    vehicle = WHOLE[volts]
    state = next(s for s in vehicle.states if settled(volts, s).relays[name])
    faulty = inject(vehicle, Fault(kind="diode_reversed", site=name))
    point = operating_point(faulty, controls=vehicle.states[state])
    assert not point.relays[name]
    assert point.voltage(f"{name}:86p", f"{name}:85p") < 1.5
    assert point.blown or point.current(name, "diode") > 5.0


# Lamps

OBJECTIVE = {
    "H1 12 V": (13.2, 68.0), "H1 24 V": (28.0, 84.0),
    "H3 12 V": (13.2, 68.0), "H3 24 V": (28.0, 84.0),
    "H4 12 V": (13.2, 75.0, 68.0), "H4 24 V": (28.0, 85.0, 80.0),
    "H7 12 V": (13.2, 58.0), "H7 24 V": (28.0, 75.0),
    "P21W 12 V": (13.5, 26.5), "P21W 24 V": (28.0, 29.7),
    "P21/5W 12 V": (13.5, 26.5, 6.6), "P21/5W 24 V": (28.0, 29.7, 11.0),
    "R5W 12 V": (13.5, 5.5), "R5W 24 V": (28.0, 7.7),
    "R10W 12 V": (13.5, 11.0), "R10W 24 V": (28.0, 14.0),
    "W5W 12 V": (13.5, 5.5), "W5W 24 V": (28.0, 7.7),
    "C5W 12 V": (13.5, 5.5), "C5W 24 V": (28.0, 7.7),
    "T4W 12 V": (13.5, 4.4), "T4W 24 V": (28.0, 5.5),
}  # fmt: skip
"""Category to test voltage and objective power of its filaments. [V, W] UN Regulation
37, from memory."""


def new_lamp(name: str) -> Lamp | TwinLamp:
    """Return a lamp E1 of a category, fed at 1, or at 1 and 2."""
    if len(OBJECTIVE[name]) == 2:
        return Lamp(name="E1", supply="1", type=name)
    return TwinLamp(name="E1", main="1", second="2", type=name)


def test_every_lamp_type_is_checked() -> None:
    """A new category needs a value from outside."""
    assert set(OBJECTIVE) == set(LAMP_TYPES)


@pytest.mark.parametrize("name", OBJECTIVE)
def test_lamps_take_their_power_in_a_circuit(name: str) -> None:
    """At test voltage each filament takes its objective power, and gives full light.

    UN Regulation 37, from memory.
    """
    volts, *powers = OBJECTIVE[name]
    marks = ("1", "2")[: len(powers)]
    for mark, watts in zip(marks, powers, strict=True):
        point = joined(volts, new_lamp(name), mark, "31")
        role = mark if len(powers) == 2 else ""
        assert volts * point.current("E1", role) == pytest.approx(watts, rel=EXACT)
        effect = f"E1:{mark}" if role else "E1"
        assert point.output(effect) == pytest.approx(1.0, rel=EXACT)


@pytest.mark.parametrize("name", [n for n, (v, *_) in OBJECTIVE.items() if v == 13.5])
@pytest.mark.parametrize(("volts", "light"), [(12.0, 0.67), (11.0, 0.50)])
def test_light_left_at_low_voltage(name: str, volts: float, light: float) -> None:
    """A 13.5 V lamp has 0.67 of its light at 12.0 V and half at 11.0 V.

    Power 3.4 of voltage: *Standard Handbook for Electrical Engineers*, 11th ed.,
    p. 22-8, as cited at second hand. To two digits.
    """
    point = joined(volts, new_lamp(name), "1", "31")
    effect = "E1" if len(OBJECTIVE[name]) == 2 else "E1:1"
    assert point.output(effect) == pytest.approx(light, abs=0.005)


def test_a_21_watt_lamp_takes_two_amperes() -> None:
    """26.5 W at 13.5 V are 1.96 A, not 21 W / 12 V (UN Regulation 37, from memory)."""
    point = joined(13.5, Lamp(name="E1", supply="1", type="P21W 12 V"), "1", "31")
    assert point.current("E1") == pytest.approx(1.96, abs=0.005)


# Batteries

BATTERIES = [
    pytest.param(battery, id=f"{name} {battery.name}")
    for name, vehicle in ALL.items()
    for battery in vehicle.of_type(Battery)
]


def car_battery(**more: float) -> Battery:
    """Return a battery like the van's."""
    (battery,) = WHOLE[12].of_type(Battery)
    return dataclasses.replace(battery, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("battery", BATTERIES)
def test_batteries_are_sound(battery: Battery) -> None:
    """12.6 V or more rested: charged (TM 5-3805-262-20); 3 to 10 mΩ (from memory)."""
    assert battery.rested_voltage >= 12.6
    assert 3e-3 <= battery.resistance <= 10e-3


@pytest.mark.parametrize(
    ("charge", "volts"), [(100, 12.65), (75, 12.45), (50, 12.24), (25, 12.06)]
)
def test_another_scale_of_charge(charge: float, volts: float) -> None:
    """A battery of 12.65 V follows the other usual scale within 20 mV.

    Common practice, no source. When empty the scales differ, 11.7 V and 11.89 V.
    """
    battery = car_battery(open_circuit_voltage=12.65, state_of_charge=charge)
    shown = operating_point(board(1.0, [], battery)).voltage("G1:+")
    assert shown == pytest.approx(volts, abs=0.02)


def test_a_fleece_battery_of_good_repute() -> None:
    """Charged at 12.8 to 13.0 V it gives 550 A and keeps 9.6 V (TM 9-6115-730-24).

    With the van's 6 mΩ a battery of 12.9 V just does.
    """
    battery = car_battery(open_circuit_voltage=12.9)
    load = 9.6 / 550.0
    point = operating_point(board(1.0, [("G1:+", "G1:-", load)], battery))
    assert posts(point) == pytest.approx(9.6, abs=0.05)
    assert -point.current("G1") == pytest.approx(550.0, rel=0.01)


COLDEST = {20: 9.6, 16: 9.5, 10: 9.4, 4: 9.3, -1: 9.1, -7: 8.9, -12: 8.7, -18: 8.5}
"""Temperature to the least voltage under half the cold-cranking current. [°C, V]
Common practice, no source."""


def cranking_current(battery: Battery) -> float:
    """What a battery gives at -18 °C and 7.2 V. [A] SAE J537, from memory."""
    cold = dataclasses.replace(battery, temperature_celsius=-18.0)
    return (cold.rested_voltage - 7.2) / cold.resistance


def test_cold_cranking_current_of_a_car_battery() -> None:
    """Starters of 12 V ask for some hundred amperes; 300 to 900 A are sold.

    SAE J537 (-18 °C, 7.2 V) from memory; the span: common practice, no source.
    """
    for vehicle in WHOLE.values():
        for battery in vehicle.of_type(Battery):
            assert 300.0 <= cranking_current(battery) <= 900.0


@pytest.mark.parametrize("celsius", COLDEST)
def test_a_good_battery_passes_the_load_test_at_any_temperature(celsius: int) -> None:
    """Half its cold-cranking current leaves it above the least voltage."""
    battery = car_battery(temperature_celsius=float(celsius))
    amps = 0.5 * cranking_current(battery)
    under_load = battery.rested_voltage - amps * battery.resistance
    point = operating_point(board(1.0, [("G1:+", "G1:-", under_load / amps)], battery))
    assert -point.current("G1") == pytest.approx(amps, rel=EXACT)
    assert posts(point) >= COLDEST[celsius]


@pytest.mark.parametrize("volts", WHOLE)
def test_the_load_test_finds_a_dead_cell(volts: int) -> None:
    """9.6 V is the least (TM 9-6115-730-24): each battery passes, a cell less fails.

    Half charged (12.2 V) is too little to be tested, says TM 5-3805-262-20: 12.4 V.
    """
    vehicle = WHOLE[volts]
    for name in vehicle.batteries:
        across = (f"{name}:+", f"{name}:-")
        for fault, passes in (
            (None, True),
            (Fault(kind="cell_dead", site=name), False),
        ):
            bench = Bench(vehicle, fault)
            value = measure(bench, "load_test", *across).value
            assert value is not None
            assert (value >= 9.6) == passes
        flat = Bench(vehicle, Fault(kind="discharged", site=name))
        rested = measure(flat, "volts", *across).value
        assert rested is not None
        assert rested < 12.4


@pytest.mark.parametrize(("volts", "least"), [(12, 9.6), (24, 19.2)])
def test_cranking_voltage(volts: int, least: float) -> None:
    """A warm engine leaves 9.6 or 19.2 V while it is cranked: common practice.

    No source; and it is seen to fall, by more than a volt on 12 V.
    """
    point = settled(volts, "cranking")
    assert point.output("M1") > 0.9
    assert least <= posts(point) <= posts(settled(volts, "parked")) - volts / 12.0


@pytest.mark.parametrize(("volts", "most"), [(12, 0.050), (24, 0.100)])
def test_drain_of_a_parked_vehicle(volts: int, most: float) -> None:
    """Less than 50 mA, on 24 V than 100 mA: common practice, no source.

    Something sleeps, so it is not nothing.
    """
    (first, *_) = WHOLE[volts].batteries
    assert 1e-3 < -settled(volts, "parked").current(first) < most


# Charging

CHARGING = {12: (13.5, 14.7), 24: (27.0, 29.4)}
"""Engine running. [V] Common practice, no source (2.25 to 2.45 V per cell)."""


def charging_states(volts: int) -> list[str]:
    """Return the states in which the alternator charges."""
    (alternator,) = WHOLE[volts].of_type(Alternator)
    found = [s for v, s in STATES if v == volts and "D1" in WHOLE[v].states[s]]
    assert all(settled(volts, s).triggers[alternator.name] for s in found)
    return found


@pytest.mark.parametrize("volts", WHOLE)
def test_charging_voltage(volts: int) -> None:
    """13.5 to 14.7 V, or twice that, at the posts in every state with the engine on."""
    least, most = CHARGING[volts]
    assert len(charging_states(volts)) > 3
    for state in charging_states(volts):
        assert least <= posts(settled(volts, state)) <= most


@pytest.mark.parametrize("volts", WHOLE)
def test_what_is_said_of_bad_charging(volts: int) -> None:
    """Below 13.0 V it does not charge, above 15 V it charges too high; twice on 24 V.

    Common practice, no source.
    """
    vehicle = WHOLE[volts]
    (alternator,) = vehicle.of_type(Alternator)
    factor = volts / 12.0
    state = vehicle.states[charging_states(volts)[0]]
    for kind, least, most in (("no_charge", 11.0, 13.0), ("overcharge", 15.0, 18.0)):
        faulty = inject(vehicle, Fault(kind=kind, site=alternator.name))
        found = posts(operating_point(faulty, controls=state))
        assert least * factor < found < most * factor


@pytest.mark.parametrize("speed", ["idle", "fast"])
@pytest.mark.parametrize("share", [0.5, 0.8, 1.2, 2.0])
def test_an_alternator_gives_its_output_and_no_more(speed: str, share: float) -> None:
    """Within its output it regulates; beyond, the battery gives the rest.

    A load of twice its output gets the rest from the battery at less than 12.6 V. A
    limit softer than 5 % is no limit: assumed.
    """
    outputs = {"idle": 60.0, "fast": 120.0}
    alternator = Alternator(
        name="G2", engine="D1", output=tuple(outputs.items()), regulated_voltage=14.2
    )
    joints = [
        ("G1:+", "G2:B+", NOTHING), ("G2:31", "G1:-", NOTHING),
        ("G1:+", "G2:D+", 50.0), ("G1:+", "G1:-", 14.0 / (share * outputs[speed])),
    ]  # fmt: skip
    engine = Engine(name="D1", positions=("stopped", "idle", "fast"))
    vehicle = board(1.0, joints, car_battery(), alternator, engine)
    vehicle = dataclasses.replace(vehicle, controls={"D1": "Engine"})
    point = operating_point(vehicle, controls={"D1": speed})
    given = -point.current("G2", f"output {speed}")
    assert given <= 1.05 * outputs[speed]
    if share < 1.0:
        assert posts(point) > 13.6
        assert point.current("G1") > 0.0
    else:
        assert posts(point) < 13.5
        assert given > 0.95 * outputs[speed]
    if share == 2.0:
        assert point.current("G1") < 0.0
        assert posts(point) < 12.6


# Starters and motors


def starter(**more: object) -> Starter:
    """Return a starter of 0.0500 Ω whose switch and solenoid take next to nothing."""
    values = {
        "rated_voltage": 12.0, "rated_current": 80.0, "stall_current": 240.0,
        "coil_resistance": 1e9, "pull_in": 1.0, "drop_out": 0.5,
        "contact_resistance": NOTHING, **more,
    }  # fmt: skip
    return Starter(name="M1", **values)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("corrosion", "amps", "volts", "watts"),
    [(NOTHING, 200.0, 10.0, 2000.0), (0.0900, 80.0, 4.00, 320.0)],
)
def test_a_starter_with_corroded_terminals(
    corrosion: float, amps: float, volts: float, watts: float
) -> None:
    """UP2 m58453: 0.0500 Ω on 12.0 V and 0.0100 Ω: 200 A, 2.00 kW; corroded 80 A.

    The book's motor is a resistance: it is held fast here.
    """
    joints = [
        ("G1:+", "M1:30", corrosion), ("G1:+", "M1:50", NOTHING),
        ("M1:31", "G1:-", NOTHING),
    ]  # fmt: skip
    vehicle = board(12.0, joints, starter(failure="seized"), internal=0.0100)
    point = operating_point(vehicle)
    assert point.current("M1", "motor") == pytest.approx(amps, rel=EXACT)
    assert point.voltage("M1:30", "M1:31") == pytest.approx(volts, rel=EXACT)
    power = point.voltage("M1:30", "M1:31") * point.current("M1", "motor")
    assert power == pytest.approx(watts, rel=EXACT)
    assert point.output("M1") == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("volts", "running", "stalled", "ohms", "back_emf"),
    [(48.0, 20.0, 120.0, 0.400, 40.0), (12.0, 4.0, 24.0, 0.5, 10.0)],
    ids=["m58481 example", "m58481 problem"],
)
def test_motors_run_and_stall(
    volts: float, running: float, stalled: float, ohms: float, back_emf: float
) -> None:
    """UP2 m58481: a motor's current running and held fast, by its back-EMF.

    Example: 48.0 V, 0.400 Ω, back-EMF 40 V: 20 A and 160 W in its coils, 120 A and
    5.76 kW when stalled. Problem: 12 V, 24 A locked and 4.0 A running, so 0.5 Ω and
    10 V (our arithmetic; the book prints no answer).
    """
    motor = Motor(
        name="M1", supply="1", rated_voltage=volts, rated_current=running,
        stall_current=stalled,
    )  # fmt: skip
    free = joined(volts, motor, "1", "31")
    held = joined(volts, dataclasses.replace(motor, failure="seized"), "1", "31")
    amps = float(free.current("M1"))
    assert amps == pytest.approx(running, rel=EXACT)
    assert held.current("M1") == pytest.approx(volts / ohms, rel=EXACT)
    assert volts - ohms * amps == pytest.approx(back_emf, rel=EXACT)
    assert free.output("M1") == pytest.approx(1.0, rel=EXACT)
    assert held.output("M1") == pytest.approx(0.0, abs=1e-9)
    heat = ohms * amps**2
    assert heat == pytest.approx((volts - back_emf) * running, rel=EXACT)


# Sensors

TABLE = {
    -20: 15970, 0: 5975, 20: 2502, 40: 1152, 60: 575.8, 80: 308.6, 100: 175.7,
    120: 105.4,
}  # fmt: skip
OTHER = {0: 5790, 20: 2450, 40: 1148, 60: 586.5, 80: 322.2, 100: 188.4, 120: 116.3}
"""Temperature to resistance of two makers' coolant sensors. [°C, Ω] Common practice,
no source."""


def thermistor(ohms: float, beta: float, celsius: float) -> float:
    """Resistance of a thermistor. [Ω]"""
    return Thermistor(
        name="B1", resistance=ohms, beta=beta, temperature_celsius=celsius
    ).present_resistance


@pytest.mark.parametrize("celsius", TABLE)
def test_a_coolant_sensor_follows_its_table(celsius: int) -> None:
    """With B = 3632 K within 4 % from 0 to 120 °C, and 11 % too high at -20 °C.

    The B formula is the textbook's (from memory).
    """
    ohms = thermistor(TABLE[20], 3632.0, celsius)
    assert ohms == pytest.approx(TABLE[celsius], rel=0.04 if celsius >= 0 else 0.12)


@pytest.mark.parametrize("celsius", OTHER)
def test_another_makers_coolant_sensor(celsius: int) -> None:
    """The same formula with B = 3550 K (of 3500 to 3630 K) keeps within 5 %."""
    ohms = thermistor(OTHER[20], 3550.0, celsius)
    assert ohms == pytest.approx(OTHER[celsius], rel=0.05)


BANDS = {20: (2100, 2900, 3.5), 50: (680, 1000, 2.2), 90: (236, 260, 0.9)}
"""Temperature to a sound coolant sensor's resistance, and its signal on a 5 V divider.
[°C, Ω, V] Common practice, no source."""

SENSORS = [
    pytest.param(sensor, id=f"{name} {sensor.name}")
    for name, vehicle in ALL.items()
    for sensor in vehicle.of_type(Thermistor)
]


@pytest.mark.parametrize("sensor", SENSORS)
@pytest.mark.parametrize("celsius", BANDS)
def test_coolant_sensors_lie_in_the_workshops_band(
    sensor: Thermistor, celsius: int
) -> None:
    """At 20, 50 and 90 °C, each of every vehicle."""
    least, most, _ = BANDS[celsius]
    warm = dataclasses.replace(sensor, temperature_celsius=float(celsius))
    assert least <= warm.present_resistance <= most


@pytest.mark.parametrize("celsius", BANDS)
def test_signal_of_a_coolant_sensor(celsius: int) -> None:
    """3.5, 2.2 and 0.9 V, within 0.1 V, on a 5 V divider.

    Its upper resistor, 1.07 kΩ, follows from 3.5 V at 2.5 kΩ.
    """
    pins = (ModulePin(name="1", does="input", pulled_up_to=5.0, through=1.07e3),)
    module = Module(
        name="A1", rated_voltage=12.0, works_from=6.0, sleep_current=5e-3,
        awake_current=0.1, wake="30", pin_table=pins,
    )  # fmt: skip
    sensor = Thermistor(
        name="B1", resistance=2500.0, beta=3600.0, temperature_celsius=float(celsius)
    )
    joints = [
        ("G1:+", "A1:30", NOTHING), ("A1:31", "G1:-", NOTHING),
        ("A1:1", "B1:1", NOTHING), ("B1:2", "G1:-", NOTHING),
    ]  # fmt: skip
    point = operating_point(board(12.6, joints, module, sensor))
    assert point.voltage("A1:1") == pytest.approx(BANDS[celsius][2], abs=0.1)


AWAKE = {
    "sensor_board": {"S1": "on"},
    "training_van": {"S1": "on"},
    "training_truck": {"S2": "drive"},
}
"""What wakes the modules of each vehicle that has some."""

MODULES = [
    pytest.param(name, module, id=f"{name} {module.name}")
    for name in AWAKE
    for module in ALL[name].of_type(Module)
]


@pytest.mark.parametrize(("name", "module"), MODULES)
def test_references_of_modules(name: str, module: Module) -> None:
    """4.9 to 5.1 V between reference and low reference, and the low one near ground.

    Less than 50 mV to battery minus, at the low reference and at the module's own
    ground: common practice, no source. A 3 V reference keeps 2 % as well.
    """
    point = operating_point(ALL[name], controls=AWAKE[name])
    assert abs(point.voltage(f"{module.name}:{module.ground}")) < 0.05
    pins = {
        does: [pin for pin in module.pin_table if pin.does == does]
        for does in ("reference", "low_reference")
    }
    for low in pins["low_reference"]:
        place = f"{module.name}:{low.name}"
        assert abs(point.voltage(place)) < 0.05
        for pin in pins["reference"]:
            shown = point.voltage(f"{module.name}:{pin.name}", place)
            assert shown == pytest.approx(pin.voltage, rel=0.02)


@pytest.mark.parametrize(("name", "module"), MODULES)
def test_a_shorted_reference_is_limited(name: str, module: Module) -> None:
    """Into 1 mΩ it gives its limit and little more, and the module lives.

    "Little" is a half: assumed.
    """
    vehicle, setup = ALL[name], Setup(controls=AWAKE[name])
    for pin in module.pin_table:
        if pin.does != "reference":
            continue
        place = f"{module.name}:{pin.name}"
        short = attachment(
            vehicle, Hookup(tool="jumper", lead_a=place, lead_b=vehicle.reference)
        )
        point = Network(vehicle).settle(setup, short)
        amps = point.current("tool")
        assert pin.limit <= amps <= 1.5 * pin.limit
        assert point.voltage(place) < 0.1
        assert not point.blown


POTENTIOMETERS = [
    pytest.param(name, sensor, id=f"{name} {sensor.name}")
    for name in AWAKE
    for sensor in ALL[name].of_type(Potentiometer)
]


@pytest.mark.parametrize(("name", "sensor"), POTENTIOMETERS)
def test_signals_of_position_sensors(name: str, sensor: Potentiometer) -> None:
    """About 0.5 V at rest to 4.5 V at full; outside 0.25 to 4.75 V with a broken wire.

    Common practice, no source; of a 3 V reference the same shares. The signal is what
    its module finds, so on the far side of a broken signal wire.
    """
    vehicle, (reference, signal, _) = ALL[name], sensor.sockets
    wires = {
        place: next(w for w in vehicle.of_type(Wire) if place in (w.start, w.end))
        for place in sensor.sockets
    }
    sound = []
    for position in sensor.positions:
        controls = {**AWAKE[name], sensor.name: position}
        point = operating_point(vehicle, controls=controls)
        fed = round(float(point.voltage(reference)))
        sound.append(float(point.voltage(signal)) / fed)
        for place, wire in wires.items():
            opened = inject(vehicle, Fault(kind="open_circuit", site=wire.name))
            ends = {wire.start, wire.end} - {place}
            pin = ends.pop() if place == signal else signal
            broken = operating_point(opened, controls=controls).voltage(pin) / fed
            assert not 0.05 <= broken <= 0.95, (wire.name, position)
    assert sound == sorted(sound)
    assert sound[0] == pytest.approx(0.1, abs=0.05)
    assert sound[-1] == pytest.approx(0.9, abs=0.06)


@pytest.mark.parametrize(
    ("kind", "least", "most"), [("open_inside", 4.7, 5.1), ("shorted_inside", 0.0, 0.1)]
)
def test_signals_of_dead_thermistors(kind: str, least: float, most: float) -> None:
    """Open it reads about 5 V, very cold; shorted about 0 V, very hot.

    Common practice, no source.
    """
    for name, controls in AWAKE.items():
        for sensor in ALL[name].of_type(Thermistor):
            faulty = inject(ALL[name], Fault(kind=kind, site=sensor.name))
            point = operating_point(faulty, controls=controls)
            assert least <= point.voltage(f"{sensor.name}:1") <= most


# Meters


def test_accuracy_of_the_meter() -> None:
    """0.5 % and 2 counts in volts, 0.8 % and 2 counts in ohms: common practice.

    No source. 12.00 V: 0.06 and 0.02 V; 100.0 Ω: 0.8 and 0.2 Ω.
    """
    bench = Bench(board(12.0, [("X1:1", "X1:2", 100.0)]))
    assert measure(bench, "volts", "G1:+", "G1:-").uncertainty == pytest.approx(0.08)
    assert measure(bench, "ohms", "X1:1", "X1:2").uncertainty == pytest.approx(1.0)


def test_open_voltage_of_the_ohmmeter() -> None:
    """At most 3.2 V between its leads: common practice, no source."""
    vehicle = board(12.0, [])
    leads = attachment(vehicle, Hookup(tool="ohms", lead_a="X1:1", lead_b="G1:-"))
    point = Network(vehicle).settle(Setup(), leads)
    assert 0.0 < point.voltage("X1:1") <= 3.2


# Voltage drop on healthy vehicles


def is_reduced(point: OperatingPoint, drop: Drop) -> bool:
    """Whether a load has a resistor pack before it, or an alternator behind it."""
    way = lost_along(point, drop.high, up=True) | lost_along(point, drop.low, up=False)
    parts = [point.network.vehicle[name] for name, lost in way.items() if lost > 0.1]
    return any(isinstance(part, (ResistorPack, Alternator)) for part in parts)


@pytest.mark.parametrize("volts", WHOLE)
def test_loads_get_what_the_battery_has(volts: int) -> None:
    """A load finds the battery's voltage less about 0.5 V, on 24 V less about 1 V.

    Common practice, no source. "About": half of all loads in all states lose less, and
    none loses more than one and a half times as much. The charge lamp and a slowed
    blower have their resistances on purpose.
    """
    limit = 0.5 * volts / 12.0
    points = [settled(v, state) for v, state in STATES if v == volts]
    lost = [
        d.supply + d.ground
        for point in points
        for d in drops(point).values()
        if is_at_work(point, d) and not is_reduced(point, d)
    ]
    assert statistics.median(lost) <= limit
    assert max(lost) <= 1.5 * limit


@pytest.mark.parametrize("volts", WHOLE)
def test_cranking_path(volts: int) -> None:
    """Each cable 0.2 V, each switch 0.1 V (NAVEDTRA 14050, cranking circuits).

    From plus post to solenoid 0.4 V (TM 10-3930-671-24); the ground side 0.2 V
    (TM 5-3820-256-24-4).
    """
    point = settled(volts, "cranking")
    start = drops(point)["M1"]
    supply = lost_along(point, start.high, up=True)
    ground = lost_along(point, start.low, up=False)
    for name, lost in (supply | ground).items():
        assert lost <= (0.2 if isinstance(WHOLE[volts][name], Wire) else 0.1), name
    assert sum(v for name, v in supply.items() if name != "M1") <= 0.4
    assert start.ground <= 0.2


# System voltages

CODES = {12: (9.0, 16.0), 24: (18.0, 32.0)}
"""Where electronics must work. [V] ISO 16750-2, codes C and H, from memory."""


@pytest.mark.parametrize(("volts", "state"), STATES)
def test_modules_find_a_voltage_they_are_made_for(volts: int, state: str) -> None:
    """In every state of a sound vehicle, cranking too, if the main switch is on."""
    least, most = CODES[volts]
    point = settled(volts, state)
    for module in WHOLE[volts].of_type(Module):
        supply, ground = (f"{module.name}:{m}" for m in (module.supply, module.ground))
        found = point.voltage(supply, ground)
        assert least <= found <= most or state == "laid up"
