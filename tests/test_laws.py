"""Laws of what vehicles are made of against published values and limits.

TM is US Army TM 5-3805-262-20, UP2 OpenStax *University Physics*, volume 2. Values
marked "from memory" are recalled from the standard named, not read in it.
"""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ohmwork.faults import Fault, inject
from ohmwork.network import Network, OperatingPoint, Setup, operating_point
from ohmwork.network.fuses import FuseLaw
from ohmwork.network.laws import (
    Accumulator,
    Bent,
    Diode,
    Filament,
    Limited,
    filament,
    led,
    motor,
    warming,
)
from ohmwork.network.lowering import fuses_of
from ohmwork.parts import (
    LAMP_TYPES,
    Battery,
    Breaker,
    Fuse,
    FuseLink,
    Lamp,
    Part,
    Relay,
    Switch,
    SwitchContact,
    TwinLamp,
    Wire,
)
from ohmwork.vehicle import Vehicle, load_vehicle

NOTHING = 1e-6
"""Resistance that stands for none. [Ω]"""


def battery(emf: float) -> Battery:
    """Return a source that stays at its voltage under any load used here."""
    return Battery(name="G1", open_circuit_voltage=emf, internal_resistance=NOTHING)


def cable(start: str, end: str, ohms: float = NOTHING) -> Wire:
    """Return a cable named after its ends, of negligible copper."""
    return Wire(
        name=f"{start} {end}",
        start=start,
        end=end,
        colour="BK",
        area_mm2=1e6,
        length=1e-3,
        added_resistance=ohms,
    )


def vehicle(*parts: Part) -> Vehicle:
    """Return a vehicle of these parts, with battery G1."""
    return Vehicle(
        name="board",
        title="Board",
        batteries=("G1",),
        rails={"30": "G1:+", "31": "G1:-"},
        controls={},
        parts={part.name: part for part in parts},
        text="",
    )


# Lamps


@pytest.mark.parametrize(
    ("name", "volts", "watts"),
    [
        ("H7 12 V", 13.2, 58.0),
        ("H7 24 V", 28.0, 75.0),
        ("W5W 12 V", 13.5, 5.5),
        ("W5W 24 V", 28.0, 7.7),
        ("P21W 12 V", 13.5, 26.5),
        ("P21W 24 V", 28.0, 29.7),
        ("H4 12 V", 13.2, 75.0),
        ("H4 24 V", 28.0, 85.0),
    ],
)
def test_lamps_take_their_objective_power(
    name: str, volts: float, watts: float
) -> None:
    """At test voltage a lamp takes the power of UN Regulation 37, from memory."""
    lamp = LAMP_TYPES[name]
    law = filament(lamp.test_voltage, lamp.test_power)
    assert volts * law.current(volts) == pytest.approx(watts)


@pytest.mark.parametrize("name", LAMP_TYPES)
@pytest.mark.parametrize("share", [0.5, 0.8, 1.1])
def test_lamp_current_follows_the_power_0_55(name: str, share: float) -> None:
    """Current goes as the power 0.55 of voltage, and so power as 1.55, said to be 1.6.

    *Standard Handbook for Electrical Engineers*, 11th ed., p. 22-8, as cited at second
    hand. The bend towards the cold filament may add a ten-thousandth.
    """
    volts = LAMP_TYPES[name].test_voltage
    law = filament(volts, LAMP_TYPES[name].test_power)
    ratio = law.current(share * volts) / law.current(volts)
    assert ratio == pytest.approx(share**0.55, rel=1e-4)
    assert math.log(share * ratio, share) == pytest.approx(1.6, abs=0.06)


@pytest.mark.parametrize(("volts", "light"), [(12.0, 0.67), (11.0, 0.50), (13.5, 1.00)])
def test_light_follows_the_power_3_4(volts: float, light: float) -> None:
    """A 13.5 V lamp gives 0.67 of its light at 12.0 V and 0.50 at 11.0 V.

    From the power 3.4 (same handbook and page), to two digits.
    """
    lamp = Lamp(name="E1", supply="58", type="W5W 12 V")
    board = vehicle(
        battery(volts), lamp, cable("G1:+", "E1:58"), cable("E1:31", "G1:-")
    )
    assert operating_point(board).output("E1") == pytest.approx(light, abs=0.005)


@pytest.mark.parametrize("name", LAMP_TYPES)
def test_hot_filament_over_cold(name: str) -> None:
    """Hot over cold resistance is 4.8 to 0.350, so inrush 10 to 15 times the current.

    OpenStax *University Physics* vol. 2, m58731, example of a filament (0.350 Ω at
    20 °C, 4.8 Ω at 2850 °C); inrush: common practice, no source.
    """
    lamp = LAMP_TYPES[name]
    law = filament(lamp.test_voltage, lamp.test_power)
    hot = lamp.test_voltage / law.current(lamp.test_voltage)
    cold = 1e-6 / law.current(1e-6)
    assert hot / cold == pytest.approx(4.8 / 0.350)
    assert 10.0 < hot / cold < 15.0


@pytest.mark.parametrize(
    ("name", "main", "second"),
    [
        ("P21/5W 12 V", 26.5 / 13.5, 6.6 / 13.5),
        ("P21/5W 24 V", 29.7 / 28.0, 11.0 / 28.0),
        ("H4 12 V", 75.0 / 13.2, 68.0 / 13.2),
        ("H4 24 V", 85.0 / 28.0, 80.0 / 28.0),
    ],
)
def test_lamps_with_two_filaments(name: str, main: float, second: float) -> None:
    """Each filament takes its own power at test voltage: UN Regulation 37, from memory.

    Fed together they take the sum, fed alone each its own; 1 µΩ takes 1 in 10^6.
    """
    lamp = TwinLamp(name="E1", main="54", second="58", type=name)
    volts = LAMP_TYPES[name].test_voltage
    ground = cable("E1:31", "G1:-")
    feeds = {mark: cable("G1:+", f"E1:{mark}") for mark in ("54", "58")}
    both = operating_point(vehicle(battery(volts), lamp, ground, *feeds.values()))
    assert -both.current("G1") == pytest.approx(main + second, rel=1e-5)
    for mark, amps in (("54", main), ("58", second)):
        alone = operating_point(vehicle(battery(volts), lamp, ground, feeds[mark]))
        other = {"54": "58", "58": "54"}[mark]
        assert -alone.current("G1") == pytest.approx(amps, rel=1e-5)
        assert alone.output(f"E1:{mark}") == pytest.approx(1.0, rel=1e-5)
        assert alone.output(f"E1:{other}") == pytest.approx(0.0, abs=1e-12)


def test_a_filament_open_between_two_lets_current_back() -> None:
    """Without its ground a twin lamp passes current from one feed to the other's load.

    The other load here is a W5W: both filaments and it lie in series.
    """
    point = operating_point(
        vehicle(
            battery(13.5),
            TwinLamp(name="E1", main="54", second="58", type="P21/5W 12 V"),
            Lamp(name="E2", supply="58", type="W5W 12 V"),
            cable("G1:+", "E1:54"),
            cable("E1:58", "E2:58"),
            cable("E2:31", "G1:-"),
        )
    )
    assert point.current("E1", "54") == pytest.approx(point.current("E2"))
    assert point.current("E1", "58") == pytest.approx(-point.current("E2"))
    assert point.output("E2") > point.output("E1:54") > 0.0


@given(
    st.floats(0.01, 100.0),
    st.floats(0.5, 100.0),
    st.floats(0.1, 0.45),
    st.floats(-40.0, 40.0),
)
def test_filament_slope_is_the_derivative(
    conductance: float, knee: float, bend: float, volts: float
) -> None:
    """The slope equals a central difference, whose own error is below one in 10^6."""
    law = Filament(conductance, knee, bend)
    step = 1e-4 * knee
    difference = law.current(volts + step) - law.current(volts - step)
    assert law.at(volts)[1] == pytest.approx(difference / (2 * step), rel=1e-6)


BENT: dict[str, tuple[Bent, float]] = {
    "filament": (filament(13.5, 5.5), 1e-6),
    "heater": (warming(12.0, 10.0, 3.0, 0.45), 1e-3),
    "diode": (Diode(1.0), 1e-6),
    "LED": (led(12.0, 0.1, 2.0), 1e-5),
    "motor": (motor(12.0, 8.0, 60.0), 1e-4),
    "battery": (Accumulator(1.0 / 6e-3, 12.6, 0.02), 1e-6),
    "alternator": (Limited(250.0, 14.4, 100.0), 1e-6),
    "reference": (Limited(1.2, 5.0, 0.06), 1e-6),
}
"""Laws of things in a vehicle, and a step much shorter than their bends. [V]"""


@pytest.mark.parametrize("name", BENT)
@given(volts=st.floats(-30.0, 30.0))
def test_slope_is_the_derivative(name: str, volts: float) -> None:
    """The slope of each law equals a central difference, and is never below zero.

    The difference itself is off by the law's bend over one step, and by the rounding of
    two currents.
    """
    law, step = BENT[name]
    below, here, above = (law.at(volts + k * step) for k in (-1, 0, 1))
    rounded = 4e-16 * (abs(above[0]) + abs(below[0]) + 1e-13) / step
    bend = 0.3 * abs(above[1] - below[1])
    difference = (above[0] - below[0]) / (2 * step)
    assert here[1] == pytest.approx(difference, rel=1e-6, abs=rounded + bend)
    assert here[1] >= 0.0
    assert here[0] == law.current(volts)


@pytest.mark.parametrize("name", BENT)
def test_laws_are_the_same_for_arrays(name: str) -> None:
    """Many circuits at once get what one circuit gets, to the last roundings."""
    law, _ = BENT[name]
    volts = np.linspace(-20.0, 20.0, 401)
    currents, slopes = law.at(volts)
    each = [law.at(float(v)) for v in volts]
    assert currents == pytest.approx([i for i, _ in each], rel=1e-13, abs=1e-20)
    assert slopes == pytest.approx([g for _, g in each], rel=1e-13, abs=1e-20)


@given(st.floats(0.0, 200.0), st.floats(0.0, 200.0))
def test_more_resistance_never_brightens_the_lamp_it_feeds(
    one: float, other: float
) -> None:
    """A lamp behind a larger series resistance is darker, or as dark."""

    def light(ohms: float) -> float:
        lamp = Lamp(name="E1", supply="58", type="W5W 12 V")
        feed = cable("G1:+", "E1:58", NOTHING + ohms)
        board = vehicle(battery(12.6), lamp, feed, cable("E1:31", "G1:-"))
        return float(operating_point(board).output("E1"))

    low, high = sorted((one, other))
    # Both solves stop within 1e-9 V; light changes by less than 1 per volt.
    assert light(high) <= light(low) + 1e-9


@settings(deadline=None)
@given(
    st.sampled_from(["W4", "W9", "W16", "X12:3", "W17", "W19", "X12:4", "W23", "GP1"]),
    st.floats(0.2, 200.0),
    st.floats(0.2, 200.0),
)
def test_more_resistance_never_brightens_a_dip_lamp(
    site: str, one: float, other: float
) -> None:
    """In the van too, on the supply side and on the ground side, shared or not."""
    van = load_vehicle("lighting_board")
    low, high = sorted((one, other))
    lights = []
    for ohms in (low, high):
        fault = Fault(kind="high_resistance", site=site, resistance=ohms)
        point = operating_point(inject(van, fault), controls={"S1": "on", "S2": "day"})
        lights.append(point.output("E3"))
    # Both solves stop within 1e-9 V; light changes by less than 1 per volt.
    assert lights[1] <= lights[0] + 1e-9


# Wires

CLASS_5 = {
    0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30,
    10.0: 1.91, 16.0: 1.21, 25.0: 0.780, 35.0: 0.554, 50.0: 0.386,
}  # fmt: skip
"""Size to largest resistance of plain copper, class 5. [mm², mΩ/m] IEC 60228, values
from memory."""


@pytest.mark.parametrize("area", CLASS_5)
def test_wires_have_the_resistance_of_copper_cable(area: float) -> None:
    """A metre has 1.00 to 1.16 times its copper's resistance, and meets class 5.

    Copper 0.017241 Ω·mm²/m: NBS Handbook 100 (58 S·m/mm²).
    """
    metre = Wire(
        name="W", start="A:1", end="B:1", colour="BK", area_mm2=area, length=1.0
    ).resistance
    assert 1.00 <= metre / (0.017241 / area) <= 1.16
    assert metre <= CLASS_5[area] * 1e-3


@pytest.mark.parametrize(
    ("celsius", "factor"),
    [(5, 1.064), (20, 1.0), (30, 0.962), (60, 0.862), (80, 0.806), (100, 0.758)],
)
def test_wires_warm_up_as_copper_does(celsius: float, factor: float) -> None:
    """The factor back to 20 °C is that of IEC 60228 (from memory), within 0.5 %.

    That table rounds 254.5 / (234.5 + t) to 250 / (230 + t), which makes up to 0.4 %.
    """
    cold = Wire(name="W", start="A:1", end="B:1", colour="BK", area_mm2=1.0, length=1.0)
    warm = dataclasses.replace(cold, temperature_celsius=celsius)
    assert cold.resistance / warm.resistance == pytest.approx(factor, rel=0.005)


def test_aluminium_resists_more() -> None:
    """61 % of the conductivity of copper.

    *Industrial Power Engineering and Applications Handbook*, p. 970.
    """
    copper = Wire(
        name="W", start="A:1", end="B:1", colour="BK", area_mm2=1.0, length=1.0
    )
    aluminium = dataclasses.replace(copper, material="aluminium")
    assert copper.resistance / aluminium.resistance == pytest.approx(0.61, rel=1e-3)


def test_a_wire_with_half_its_strands_resists_twice() -> None:
    """Resistance goes as one over the copper left."""
    whole = Wire(
        name="W", start="A:1", end="B:1", colour="BK", area_mm2=1.0, length=1.0
    )
    half = dataclasses.replace(whole, strands_lost=50.0)
    assert half.resistance == pytest.approx(2.0 * whole.resistance)


# Fuses

(BLADE,) = fuses_of(Fuse(name="F", rating=10.0, resistance=0.0077))
(LARGE,) = fuses_of(FuseLink(name="F", rating=80.0, resistance=9e-4))
HOUR = 3600.0


def melting_time(law: FuseLaw, multiple: float) -> float:
    """Time to melt at a multiple of the rating; without end where it holds. [s]"""
    current = multiple * law.rating
    if law.heat(current) <= 0.0:
        return math.inf
    return float(law.melting_time(current, np))


@pytest.mark.parametrize(
    ("multiple", "shortest", "longest"),
    [
        (1.1, 100 * HOUR, math.inf),
        (1.35, 0.75, 600.0),
        (2.0, 0.15, 5.0),
        (3.5, 0.08, 0.5),
        (6.0, 0.0, 0.1),
    ],
)
def test_blade_fuses_melt_in_time(
    multiple: float, shortest: float, longest: float
) -> None:
    """Within the limits of ISO 8820-3, types C and F, from memory."""
    assert shortest <= melting_time(BLADE, multiple) <= longest


@pytest.mark.parametrize(
    ("multiple", "shortest", "longest"),
    [
        (1.0, 100 * HOUR, math.inf),
        (1.35, 60.0, 0.5 * HOUR),
        (2.0, 2.0, 60.0),
        (3.5, 0.2, 7.0),
    ],
)
def test_large_fuses_melt_in_time(
    multiple: float, shortest: float, longest: float
) -> None:
    """Within the limits of DIN 72581-3, form E (values from memory)."""
    assert shortest <= melting_time(LARGE, multiple) <= longest


@given(st.floats(1.11, 50.0), st.floats(1.01, 5.0))
def test_more_current_melts_a_fuse_sooner(multiple: float, more: float) -> None:
    """Opening time falls with current, whatever the table."""
    assert melting_time(BLADE, more * multiple) < melting_time(BLADE, multiple)


@pytest.mark.parametrize(
    ("multiple", "melts"), [(1.0, False), (1.05, False), (1.35, True)]
)
def test_a_fuse_opens_its_circuit(multiple: float, melts: bool) -> None:
    """At its rating it holds for good; at 1.35 times it opens (both as above)."""
    fuse = Fuse(name="F1", rating=10.0, resistance=7.7e-3)
    load = 12.0 / (multiple * fuse.rating)
    # The fuse and its blades take 9.7 mΩ of it.
    board = vehicle(
        battery(12.0),
        fuse,
        cable("G1:+", "F1:1"),
        cable("F1:2", "G1:-", load - 9.7e-3),
    )
    point = operating_point(board)
    assert point.blown == ({"F1"} if melts else set())
    left = 0.0 if melts else multiple * fuse.rating
    assert point.current("F1") == pytest.approx(left, rel=1e-4)


@pytest.mark.parametrize(("kind", "resets"), [(Breaker, True), (Fuse, False)])
def test_a_breaker_closes_again_once_it_is_relieved(
    kind: type[Fuse], *, resets: bool
) -> None:
    """Tripped by 30 A of its 10 A it stays open while the load is on; a fuse for good.

    Common practice, no source. Less than 20 mA may keep the breaker warm.
    """
    load = SwitchContact(start="1", end="2", closed_in=("on",), resistance=0.4)
    board = vehicle(
        battery(12.0),
        kind(name="F1", rating=10.0, resistance=7.7e-3),
        Switch(name="S1", positions=("off", "on"), contacts=(load,)),
        cable("G1:+", "F1:1"),
        cable("F1:2", "S1:1"),
        cable("S1:2", "G1:-"),
    )
    network, point = Network(board), None
    for position, opened in [("on", True), ("on", True), ("off", not resets)]:
        point = network.settle(Setup(controls={"S1": position}), start=point)
        assert point.blown == ({"F1"} if opened else set()), position
        assert 0.0 <= point.current("S1", "1-2") < 0.02


def test_fuses_of_the_van_drop_what_fuses_drop() -> None:
    """At rated current a blade drops 60 to 110 mV, a large fuse 100 mV at most.

    Blades: component data sheets, from memory; large: DIN 72581-3, value from memory.
    """
    for fuse in load_vehicle("lighting_board").of_type(Fuse):
        drop = fuse.rating * fuse.resistance
        assert drop <= 0.100 if isinstance(fuse, FuseLink) else 0.060 <= drop <= 0.110


# Relays


def relay_board(
    emf: float, *, reversed_feed: bool = False, diode: bool = False
) -> Network:
    """Return a relay of 85 Ω whose coil lies on a source, 7.2 V in and 2.4 V out."""
    relay = Relay(
        name="K1",
        coil_resistance=85.0,
        pull_in=7.2,
        drop_out=2.4,
        suppression_diode=diode,
    )
    plus, minus = ("K1:85", "K1:86") if reversed_feed else ("K1:86", "K1:85")
    return Network(
        vehicle(battery(emf), relay, cable("G1:+", plus), cable(minus, "G1:-"))
    )


def test_a_relay_remembers() -> None:
    """It pulls in at 7.2 V, still holds at 3 V, and lets go at 2.4 V and below.

    The seats of 1 mΩ take 0.2 mV of it.
    """
    point = relay_board(7.1).settle(Setup())
    assert not point.relays["K1"]
    story = [
        (7.3, True),
        (3.0, True),
        (2.3, False),
        (3.0, False),
        (7.1, False),
        (12, True),
    ]
    for emf, pulled_in in story:
        point = relay_board(emf).settle(Setup(), start=point)
        assert bool(point.relays["K1"]) == pulled_in, emf


def test_the_relay_of_the_van_is_an_ordinary_one() -> None:
    """80 to 100 Ω; must pull in at 60 % of 12 V and let go at 10 % (all from memory).

    So its pull-in voltage is at most 7.2 V, and its drop-out voltage at least 1.2 V.
    """
    for relay in load_vehicle("lighting_board").of_type(Relay):
        assert 80.0 <= relay.coil_resistance <= 100.0
        assert relay.pull_in <= 7.2
        assert relay.drop_out >= 1.2


def test_a_bare_coil_has_no_polarity() -> None:
    """Fed the other way round it pulls in as well (common practice, no source)."""
    assert relay_board(12.0, reversed_feed=True).settle(Setup()).relays["K1"]


def test_a_coil_with_a_diode_fed_in_reverse_is_a_short() -> None:
    """Rightly fed only the coil draws, 12 V / 85 Ω; in reverse the diode shorts it.

    Common practice, no source: the diode's cathode is at 86, so 86 must be plus.
    """

    def draw(*, reversed_feed: bool) -> float:
        network = relay_board(12.0, reversed_feed=reversed_feed, diode=True)
        return -float(network.settle(Setup()).current("G1"))

    assert draw(reversed_feed=False) == pytest.approx(12.0 / 85.0, rel=1e-4)
    assert draw(reversed_feed=True) > 100.0


def changeover(coil_feed: str) -> OperatingPoint:
    """Return the state of a changeover relay whose coil is fed from one of its pins."""
    relay = Relay(
        name="K1", coil_resistance=85.0, pull_in=7.2, drop_out=2.4, changeover=True
    )
    board = vehicle(
        battery(12.0),
        relay,
        cable("G1:+", "K1:30"),
        cable(coil_feed, "K1:86"),
        cable("K1:85", "G1:-"),
        cable("K1:87", "G1:-", 100.0),
        cable("K1:87a", "G1:-", 100.0),
    )
    return operating_point(board)


@pytest.mark.parametrize(
    ("coil_feed", "live", "dead"),
    [("G1:+", "K1:87", "K1:87a"), ("G1:-", "K1:87a", "K1:87")],
)
def test_a_changeover_relay_makes_one_contact(
    coil_feed: str, live: str, dead: str
) -> None:
    """30 to 87a at rest and to 87 when energised, never both (common practice)."""
    point = changeover(coil_feed)
    # The contact and its seats, 5 mΩ, take half a millivolt at 0.12 A.
    assert point.voltage(live) == pytest.approx(12.0, abs=1e-3)
    assert point.voltage(dead) == 0.0


def test_a_relay_fed_by_its_own_rest_contact_buzzes() -> None:
    """At rest its coil is fed and it pulls in; then the coil is not fed: no rest."""
    assert changeover("K1:87a").buzzing
    assert not changeover("G1:+").buzzing


# Diodes


def test_a_diode_drops_six_tenths_of_a_volt() -> None:
    """At 1 mA a silicon diode drops about 0.6 V, as a diode test shows it.

    Common practice, no source; 0.55 to 0.65 V round to it.
    """
    law = Diode(1.0)
    assert law.current(0.55) < 1e-3 < law.current(0.65)


def test_a_diode_blocks() -> None:
    """Reversed at 24 V it leaks less than 1 nA (common practice, no source)."""
    assert -1e-9 < Diode(1.0).current(-24.0) < 0.0


# Batteries


@pytest.mark.parametrize(
    ("charge", "volts"), [(100, 12.6), (75, 12.4), (50, 12.2), (25, 12.0), (0, 11.7)]
)
@pytest.mark.parametrize("in_series", [1, 2])
def test_a_rested_battery_shows_its_charge(
    charge: float, volts: float, in_series: int
) -> None:
    """TM: 12.6 V rested when charged, 11.7 V when empty; twice as much of two."""
    found = [
        Battery(
            name=f"G{n}",
            open_circuit_voltage=12.6,
            internal_resistance=6e-3,
            state_of_charge=charge,
        )
        for n in range(1, in_series + 1)
    ]
    joints = [cable(f"G{n}:+", f"G{n + 1}:-") for n in range(1, in_series)]
    board = dataclasses.replace(
        vehicle(*found, *joints), batteries=tuple(b.name for b in found)
    )
    point = operating_point(board)
    assert point.voltage(board.plus_post) == pytest.approx(in_series * volts)
    assert board.supply_voltage == in_series * 12.6


def test_a_dead_cell_takes_a_sixth() -> None:
    """Five cells of six are left: 10.5 V."""
    sound = Battery(name="G1", open_circuit_voltage=12.6, internal_resistance=6e-3)
    assert dataclasses.replace(sound, dead_cells=1).rested_voltage == pytest.approx(
        12.6 * 5 / 6
    )


@given(st.floats(0.0, 100.0), st.floats(0.0, 100.0), st.floats(-30.0, 40.0))
def test_no_battery_is_better_than_new_charged_and_warm(
    charge: float, age: float, celsius: float
) -> None:
    """An empty, an old and a cold battery resist more (common practice, no source)."""
    new = Battery(name="G1", open_circuit_voltage=12.6, internal_resistance=6e-3)
    worse = (
        dataclasses.replace(new, state_of_charge=charge),
        dataclasses.replace(new, age=age),
        dataclasses.replace(new, temperature_celsius=min(celsius, 25.0)),
    )
    assert all(b.resistance >= 6e-3 and b.rested_voltage <= 12.6 for b in worse)


def test_a_battery_is_charged_with_reluctance() -> None:
    """At 14.4 V a charged one takes a few amperes, and gives hundreds at 10 V.

    Common practice, no source.
    """
    law = Accumulator(1.0 / 6e-3, 12.6, 0.02)
    assert 2.0 < law.current(14.4) < 20.0
    assert law.current(10.0) < -300.0
    assert law.current(12.6) == 0.0


# Motors, LEDs, supplies


def test_back_emf_of_a_motor() -> None:
    """UP2 m58481: 48.0 V, 0.400 Ω, back-EMF 40 V: 20 A; 120 A when it is held fast."""
    law = motor(48.0, 20.0, 120.0)
    assert law.current(48.0) == pytest.approx(20.0)
    assert law.back_emf(48.0) == pytest.approx(40.0)
    assert dataclasses.replace(law, slip=1.0).current(48.0) == pytest.approx(120.0)


def test_a_motor_fed_the_other_way_round_turns_back() -> None:
    """Current and back-EMF change their sign and nothing else."""
    law = motor(12.0, 8.0, 60.0)
    assert law.current(-12.0) == -law.current(12.0)
    assert law.back_emf(-12.0) == -law.back_emf(12.0)


@given(st.floats(0.05, 1.0), st.floats(0.05, 1.0))
def test_more_voltage_turns_a_motor_faster(one: float, other: float) -> None:
    """Speed never falls with voltage."""
    law = motor(12.0, 8.0, 60.0)
    low, high = sorted((12.0 * one, 12.0 * other))
    assert law.back_emf(low) <= law.back_emf(high)


def test_an_led_lamp_takes_its_rated_current() -> None:
    """At rated voltage; reversed it stays dark and takes next to nothing."""
    law = led(12.0, 0.1, 2.0)
    assert law.current(12.0) == pytest.approx(0.1, rel=1e-3)
    assert abs(law.current(-12.0)) < 1e-5


@pytest.mark.parametrize(("volts", "limit"), [(14.4, 100.0), (5.0, 0.06)])
def test_a_limited_supply(volts: float, limit: float) -> None:
    """It holds its voltage, gives little more than its limit, and takes none back."""
    law = Limited(limit / 0.05, volts, limit)
    assert law.current(volts) == pytest.approx(0.0, abs=1e-6 * limit)
    assert -law.current(volts - 0.1) == pytest.approx(limit, rel=0.05)
    assert limit < -law.current(0.0) < 1.5 * limit
    assert 0.0 <= law.current(volts + 1.0) < 0.1 * limit
