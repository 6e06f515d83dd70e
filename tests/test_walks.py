"""Walks through a workshop's work, each told from top to bottom.

A walk is what a technician does at the vehicle and what the tools must then show.
Beside it stands what a careless person gets wrong there, and what it costs: an incident
on record, a fuse, a module's pin, a quarter of an hour, or a conclusion that is wrong.

Sources. *TM 5-3805*: US Army TM 5-3805-262-20, rested batteries. *TM 9-6115*: US Army
TM 9-6115-730-24, load test. *LIEC*: T. R. Kuphaldt, *Lessons in Electric Circuits*,
volume I, DC. *NEETS 1*: NAVEDTRA 14173. *SHEE*: *Standard Handbook for Electrical
Engineers*, 11th ed., p. 22-8, as cited at second hand. *UP2*: OpenStax, *University
Physics*, volume 2. What a lamp takes is of UN Regulation 37, from memory. "Practice" is
common practice, no source. Other numbers are worked by hand from the vehicle's data.
"""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import pytest

from boards import measure
from ohmwork.bench import Bench
from ohmwork.faults import Fault
from ohmwork.instruments import LEAD_RESISTANCE, LOAD_RESISTANCE, Reading
from ohmwork.parts import Battery, Wire
from ohmwork.vehicle import Vehicle, load_vehicle

VAN = load_vehicle("training_van")
TRUCK = load_vehicle("training_truck")
BLOWER = load_vehicle("blower_board")
RELAY = load_vehicle("relay_board")
SENSOR = load_vehicle("sensor_board")

DIP = {"S1": "on", "S2": "dip"}

BODY_GROUND_LIMIT = 0.1
"""Drop of a sound body ground under load. [V] Practice."""

COLD_H7 = 13.2**2 / 58.0 * 0.350 / 4.8
"""Cold resistance of an H7 lamp, 0.22 Ω: hot 13.2 V and 58 W. [Ω] Cold over hot as the
filament of *UP2* m58731, example: 0.350 Ω cold, 4.8 Ω hot."""


# How a walk is told


def drive(bench: Bench, controls: Mapping[str, str]) -> Bench:
    """Set controls one after the other."""
    for part, position in controls.items():
        bench.set_control(part, position)
    return bench


def connect(bench: Bench, tool: str, a: str, b: str | None = None) -> None:
    """Take a tool, place its leads, B first, and leave it connected."""
    bench.use(tool)
    if b is not None:
        bench.place("B", b)
    bench.place("A", a)
    bench.leave()


def wire(vehicle: Vehicle, start: str, end: str) -> str:
    """Return the name of the wire between two places."""
    (name,) = (
        w.name for w in vehicle.of_type(Wire) if {w.start, w.end} == {start, end}
    )
    return name


def number(shown: Reading) -> float:
    """Return the number on a display."""
    assert shown.value is not None, shown.text
    return shown.value


def read(bench: Bench, tool: str, a: str, b: str | None = None) -> float:
    """Take a tool, place its leads and return the number on its display."""
    return number(measure(bench, tool, a, b))


def volts(bench: Bench, a: str, b: str = "G1:-") -> float:
    """Return what the voltmeter shows; lead B on the battery's own minus post. [V]"""
    return read(bench, "volts", a, b)


def verdict(bench: Bench, place: str) -> str | None:
    """Return the voltmeter's word, with lead B on the battery's own minus post."""
    return measure(bench, "volts", place, "G1:-").verdict


def kinds(bench: Bench) -> list[str]:
    """Return the kinds of incident on record."""
    return [incident.kind for incident in bench.incidents]


def fault(kind: str, site: str, resistance: float | None = None) -> Fault:
    """Return a fault that is always there."""
    return Fault(kind=kind, site=site, resistance=resistance)


def lamp_current(volts: float, test_voltage: float, test_power: float) -> float:
    """Return what a lit lamp takes: as the power 0.55 of voltage, *SHEE*. [A]"""
    return float(test_power / test_voltage * (volts / test_voltage) ** 0.55)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """Where on a vehicle the battery, starter and alternator are measured."""

    vehicle: Vehicle
    batteries: int
    """In series; voltages of the trade double with them."""
    inside: float
    """Resistance of each battery, new. [Ω]"""
    cranking: Mapping[str, str]
    running: Mapping[str, str]
    loaded: Mapping[str, str]
    """What is switched on for a load of 20 A and more."""
    ground_cable: str
    output_cable: str
    """From the alternator; a clamp on it reads negative if it starts at the battery."""
    alternator: str
    charge_lamp: str
    braking: Mapping[str, str]
    tail_ground: tuple[str, str]
    """Ends of the ground wire of the left rear lamp, E7."""

    @property
    def plus(self) -> str:
        """The battery's plus post."""
        return self.vehicle.plus_post


PLANTS = {
    "van": Plant(
        vehicle=VAN,
        batteries=1,
        inside=0.006,
        cranking={"S1": "start"},
        running={"S1": "on", "D1": "fast"},
        loaded={"S2": "dip", "S3": "main", "S12": "4", "S13": "on"},
        ground_cable=wire(VAN, "G1:-", "Body:31"),
        output_cable=wire(VAN, "F2:2", "G2:B+"),
        alternator="G2",
        charge_lamp="H1",
        braking={"S4": "pressed"},
        tail_ground=("X16:1", "GP4:31"),
    ),
    "truck": Plant(
        vehicle=TRUCK,
        batteries=2,
        inside=0.004,
        cranking={"S2": "start"},
        running={"S2": "drive", "D1": "fast"},
        loaded={"S3": "head", "S9": "3", "S10": "on"},
        ground_cable=wire(TRUCK, "G1:-", "GP1:31"),
        output_cable=wire(TRUCK, "G3:B+", "M1:30"),
        alternator="G3",
        charge_lamp="P1",
        braking={"S2": "drive", "S5": "pressed"},
        tail_ground=("E7:31", "GP8:31"),
    ),
}

plants = pytest.mark.parametrize("plant", PLANTS.values(), ids=PLANTS)


def sulphated(vehicle: Vehicle) -> Vehicle:
    """Return the vehicle with batteries whose plates are sulphated.

    Rested they read as good ones; their resistance is several times that of new ones
    (*LIEC*, batteries). Five times here.
    """
    for battery in vehicle.of_type(Battery):
        worn = 5.0 * battery.internal_resistance
        part = dataclasses.replace(battery, internal_resistance=worn)
        vehicle = vehicle.with_part(part)
    return vehicle


# A battery at rest


@plants
def test_a_rested_battery_reads_its_charge(plant: Plant) -> None:
    """Charged, 12.6 V or more (*TM 5-3805*) and 12.8 V at most (practice), each."""
    bench = Bench(plant.vehicle)

    for battery in plant.vehicle.batteries:
        assert 12.6 <= volts(bench, f"{battery}:+", f"{battery}:-") <= 12.8
    assert verdict(bench, plant.plus) == "live"


def test_a_pair_read_as_one_hides_which_battery_is_flat() -> None:
    """24.5 V over both would be two batteries at three fifths; one is full, one flat.

    *TM 5-3805*: 12.0 V are 25 %, 11.7 V are nothing; 11.94 V are 20 %. The meter may
    be off by 0.02 V.
    """
    bench = Bench(TRUCK, fault("discharged", "G1"))

    careless = volts(bench, "G2:+") / 2.0
    assert 12.2 < careless < 12.4  # as if each were half to three quarters full
    assert volts(bench, "G2:+", "G2:-") == pytest.approx(12.6, abs=0.02)
    assert volts(bench, "G1:+", "G1:-") == pytest.approx(11.94, abs=0.02)


@plants
def test_a_battery_read_with_the_engine_running_looks_charged(plant: Plant) -> None:
    """Running, it is the alternator that is read; stopped, 20 % are 11.94 V."""
    bench = Bench(plant.vehicle, fault("discharged", "G1"))
    drive(bench, plant.running)

    careless = volts(bench, plant.plus)
    assert careless > 12.6 * plant.batteries
    drive(bench, {"D1": "stopped", **dict.fromkeys(plant.cranking, "off")})
    assert volts(bench, "G1:+", "G1:-") < 12.0


# Charging


@plants
def test_charging_is_read_with_the_engine_running(plant: Plant) -> None:
    """13.5 to 14.7 V at the posts of each battery, light and heavy load (practice).

    From alternator to post at most 0.5 V on the plus side and 0.2 V on the ground side,
    at 20 A or more (practice). The charge lamp is out.
    """
    bench = drive(Bench(plant.vehicle), plant.running)
    assert 13.5 <= volts(bench, plant.plus) / plant.batteries <= 14.7
    assert bench.perceived()[plant.charge_lamp] == "off"

    drive(bench, plant.loaded)
    assert abs(read(bench, "clamp", plant.output_cable)) > 20.0
    assert 13.5 <= volts(bench, plant.plus) / plant.batteries <= 14.7
    assert 0.0 < volts(bench, f"{plant.alternator}:B+", plant.plus) < 0.5
    assert 0.0 < volts(bench, "G1:-", f"{plant.alternator}:31") < 0.2


@plants
def test_battery_voltage_with_the_engine_running_is_no_charge(plant: Plant) -> None:
    """12.5 V are the battery's own: below 13.0 V nothing charges (practice).

    The careless see a full battery and stop reading. The clamp and the charge lamp tell
    at once; the voltage alone would in an hour.
    """
    bench = Bench(plant.vehicle, fault("no_charge", plant.alternator))
    drive(bench, plant.running)

    careless = volts(bench, plant.plus) / plant.batteries
    assert 12.4 < careless < 12.8
    assert read(bench, "clamp", plant.output_cable) == pytest.approx(0.0, abs=0.1)
    assert bench.perceived()[plant.charge_lamp] != "off"


@plants
def test_the_alternators_own_terminal_does_not_prove_charging(plant: Plant) -> None:
    """Charging voltage at B+, too little at the post, and the charge lamp is out.

    Ohm: what is lost on the way is 0.2 Ω times the clamp's amperes, within the clamp's
    2 % and 0.3 A and the few hundredths of an ohm of sound cable.
    """
    bench = Bench(plant.vehicle, fault("high_resistance", plant.output_cable, 0.2))
    drive(bench, {**plant.running, **plant.loaded})
    out = f"{plant.alternator}:B+"

    careless = volts(bench, out, f"{plant.alternator}:31") / plant.batteries
    assert careless > 13.5
    assert bench.perceived()[plant.charge_lamp] == "off"
    assert volts(bench, plant.plus) / plant.batteries < 13.0
    amps = abs(read(bench, "clamp", plant.output_cable))
    lost = volts(bench, out, plant.plus)
    assert 0.2 * (0.98 * amps - 0.3) < lost < 0.22 * (1.02 * amps + 0.3)


# Cranking, and the battery under load


@plants
def test_the_lowest_voltage_is_held_while_cranking(plant: Plant) -> None:
    """Held are 9.6 V or more for each battery (practice), and what it had before.

    By hand it loses its resistance times the amperes in the ground cable. The clamp is
    off by 2 % and 0.3 A at most, the meter by 0.5 % and 0.02 V.
    """
    bench = Bench(plant.vehicle)
    before = volts(bench, plant.plus)
    bench.hold()
    drive(bench, plant.cranking)
    assert bench.held is not None
    lowest, highest = bench.held

    assert lowest >= 9.6 * plant.batteries
    assert highest == before
    amps = abs(read(bench, "clamp", plant.ground_cable))
    inside = plant.batteries * plant.inside
    off = inside * (0.02 * amps + 0.3) + 0.005 * lowest + 0.02
    assert lowest == pytest.approx(before - inside * amps, abs=off)


@plants
def test_readings_before_and_after_cranking_miss_a_worn_battery(plant: Plant) -> None:
    """12.6 V before and after; in between the sulphated battery fell below 9.6 V."""
    bench = Bench(sulphated(plant.vehicle))

    before = volts(bench, plant.plus)
    bench.hold()
    drive(bench, plant.cranking)
    drive(bench, dict.fromkeys(plant.cranking, "off"))
    after = number(bench.read())
    assert before == after == pytest.approx(12.6 * plant.batteries, abs=0.02)
    assert bench.held is not None
    assert bench.held[0] < 9.6 * plant.batteries


@plants
def test_a_battery_is_proved_under_load(plant: Plant) -> None:
    """9.6 V or more under the load (*TM 9-6115*), each battery of a pair for itself.

    By hand 12.6 V over its own resistance and the tester's.
    """
    bench = Bench(plant.vehicle)
    by_hand = 12.6 * LOAD_RESISTANCE / (LOAD_RESISTANCE + plant.inside)

    for battery in plant.vehicle.batteries:
        shown = read(bench, "load_test", f"{battery}:+", f"{battery}:-")
        assert shown >= 9.6
        assert shown == pytest.approx(by_hand, abs=0.03)


@plants
def test_a_rested_reading_passes_a_battery_that_cannot_give(plant: Plant) -> None:
    """12.6 V at rest and below 9.6 V under load (*TM 9-6115*): plates sulphated."""
    bench = Bench(sulphated(plant.vehicle))
    by_hand = 12.6 * LOAD_RESISTANCE / (LOAD_RESISTANCE + 5.0 * plant.inside)

    careless = volts(bench, "G1:+", "G1:-")
    assert careless == pytest.approx(12.6, abs=0.02)
    shown = read(bench, "load_test", "G1:+", "G1:-")
    assert shown == pytest.approx(by_hand, abs=0.03)
    assert shown < 9.6


def test_a_load_across_two_batteries_costs_its_link() -> None:
    """Twice the voltage is twice the current and four times the heat."""
    bench = Bench(TRUCK)

    assert measure(bench, "load_test", "G2:+", "G1:-").text == "link blown"
    assert kinds(bench) == ["tool_fuse"]


@plants
def test_the_clamp_reads_the_starter_in_the_battery_cables(plant: Plant) -> None:
    """What leaves the plus post by all its cables comes back by the ground cable.

    Kirchhoff, to half of the last digit of each reading.
    """
    bench = drive(Bench(plant.vehicle), plant.cranking)
    leaving = [w for w in plant.vehicle.of_type(Wire) if w.start == plant.plus]

    out = sum(read(bench, "clamp", wire.name) for wire in leaving)
    back = -read(bench, "clamp", plant.ground_cable)
    assert back > 150.0
    assert out == pytest.approx(back, abs=0.05 * (len(leaving) + 1))


@plants
def test_an_ammeter_across_the_posts_costs_its_fuse(plant: Plant) -> None:
    """Amps where volts belong is a short by way of the meter (*UP2* m58456)."""
    bench = Bench(plant.vehicle)

    assert measure(bench, "amps", plant.plus, "G1:-").text == "fuse blown"
    assert kinds(bench) == ["tool_fuse"]


def test_an_ammeter_for_a_blower_costs_its_fuse_where_the_clamp_does_not() -> None:
    """In place of the 25 A fuse the meter's 10 A fuse must carry the blower's 14 A.

    By hand between 14 A at 13 V and as much less as the voltage is; the clamp's doubt
    is 2 % and 0.3 A.
    """
    bench = drive(Bench(VAN), {"S1": "on", "S12": "4"})
    supply = volts(bench, "M4:33", "M4:31")
    clamped = read(bench, "clamp", wire(VAN, "X22:2p", "M4:33"))
    assert 0.98 * 14.0 * supply / 13.0 - 0.3 < clamped < 14.0

    bench.unplug("F40")
    assert measure(bench, "amps", "F40:1", "F40:2").text == "fuse blown"
    assert kinds(bench) == ["tool_fuse"]
    assert bench.perceived()["M4"] == "still"


# Supply at a lamp's connector

LEFT_DIP_FEED = wire(VAN, "F11:2", "X12:3")
LEFT_GROUND = wire(VAN, "SP7:1", "GP1:31")


def test_supply_is_proved_at_the_lamp_connector() -> None:
    """Connector apart, dip beam on: live, 0.5 V below the battery at most (practice).

    The test lamp, which loads it, is bright as well.
    """
    bench = drive(Bench(VAN), DIP)
    bench.unplug("X12")

    assert verdict(bench, "X12:3") == "live"
    assert volts(bench, "G1:+", "X12:3") < 0.5
    assert measure(bench, "test_lamp", "X12:3", "G1:-").text == "bright"


def test_a_meter_alone_calls_a_corroded_feed_good() -> None:
    """5 Ω in the feed: the meter's microampere loses nothing on it, the lamp does.

    A 10 MΩ meter reads full voltage through a poor joint (*LIEC*, meters). Under load
    the lamp's current by its own law (*SHEE*) is what Ohm finds in the 5 Ω; each
    reading is good to half a per cent, and the wire adds as much.
    """
    bench = drive(Bench(VAN, fault("high_resistance", LEFT_DIP_FEED, 5.0)), DIP)
    assert bench.perceived()["E3"] == "off"
    bench.unplug("X12")

    assert verdict(bench, "X12:3") == "live"  # the careless condemn the lamp
    assert measure(bench, "test_lamp", "X12:3", "G1:-").text == "dim"
    bench.plug("X12")
    assert verdict(bench, "X12:3") == "between"
    lost, left = volts(bench, "F11:2", "X12:3"), volts(bench, "E3:56b", "E3:31")
    assert lost / 5.0 == pytest.approx(lamp_current(left, 13.2, 58.0), rel=0.02)


def test_an_open_feed_leaves_the_lead_hanging_free() -> None:
    """Connector apart, wire open: the meter says open; joined, the lamp grounds it."""
    bench = drive(Bench(VAN, fault("open_circuit", LEFT_DIP_FEED)), DIP)

    assert verdict(bench, "X12:3") == "ground"
    bench.unplug("X12")
    assert verdict(bench, "X12:3") == "open"


# Ground at a shared ground point


def test_a_shared_ground_is_proved_under_load() -> None:
    """With its lamps burning no more than 0.1 V stand on the point (practice)."""
    bench = drive(Bench(VAN), {**DIP, "S3": "main"})

    shown = measure(bench, "volts", "GP1:31", "G1:-")
    assert shown.verdict == "ground"
    assert 0.0 < number(shown) < BODY_GROUND_LIMIT


def test_a_bad_shared_ground_shows_under_load_only() -> None:
    """3 Ω in the common ground wire: nothing at rest, volts on it under load.

    Ohm: the current of the lamps that share it, by their own law (*SHEE*), less what
    their neighbours' cold filaments lead away, is in the 3 Ω.
    """
    bench = Bench(VAN, fault("high_resistance", LEFT_GROUND, 3.0))

    careless = measure(bench, "volts", "E3:31", "G1:-")
    assert (careless.verdict, number(careless)) == ("ground", 0.0)
    drive(bench, DIP)
    assert verdict(bench, "E3:31") == "between"
    assert volts(bench, "E3:31") > BODY_GROUND_LIMIT
    assert volts(bench, "GP1:31") < BODY_GROUND_LIMIT  # so it lies before the point
    words = bench.perceived()
    assert (words["E3"], words["E4"]) == ("dim", "full")
    assert words["E5"] in ("dim", "faint")
    taken = lamp_current(volts(bench, "E3:56b", "E3:31"), 13.2, 58.0)
    taken += lamp_current(volts(bench, "E5:58", "E5:31"), 13.5, 5.5)
    assert 0.3 * taken < volts(bench, "E3:31", "GP1:31") / 3.0 < taken


def test_ohms_to_ground_pass_a_bad_ground_that_has_a_way_round() -> None:
    """At rest 3 Ω read half an ohm and less: cold lamps bridge to the right-hand side.

    By hand two cold H7 lamps and 0.1 Ω of wire lie beside the 3 Ω, and other lamps
    besides. With the beam on, ohms are an incident and mean nothing.
    """
    bench = Bench(VAN, fault("high_resistance", LEFT_GROUND, 3.0))

    careless = read(bench, "ohms", "E3:31", "G1:-")
    assert careless < 1.0 / (1.0 / 3.0 + 1.0 / (2 * COLD_H7 + 0.1))
    drive(bench, DIP)
    assert bench.read().text == "?"
    assert kinds(bench) == ["ohms_on_live"]


# A fuse in its box


def test_both_sides_of_a_good_fuse_are_live() -> None:
    """Under load both sides read supply; its top drops 7.7 mΩ times the lamp's current.

    A fuse of 10 A has about 7.7 mΩ (from memory, 15 % more or less).
    """
    bench = drive(Bench(VAN), DIP)

    assert verdict(bench, "F11:1") == verdict(bench, "F11:2") == "live"
    drop = read(bench, "millivolts", "F11:1p", "F11:2p")
    amps = lamp_current(volts(bench, "E3:56b", "E3:31"), 13.2, 58.0)
    assert drop == pytest.approx(0.0077 * amps, rel=0.02)


def test_a_blown_fuse_is_live_on_one_side() -> None:
    """Live before it, ground behind it, and the whole supply across the break.

    *NEETS 1*, p. 3-44: across an open stands the full supply voltage. Pulled, it looks
    blown; a new one brings the lamp back.
    """
    bench = drive(Bench(VAN, fault("fuse_blown", "F11")), DIP)

    assert verdict(bench, "F11:1") == "live"
    assert verdict(bench, "F11:2") == "ground"
    assert volts(bench, "F11:1", "F11:2") == pytest.approx(
        volts(bench, "F11:1"), abs=0.02
    )
    bench.unplug("F11")
    assert measure(bench, "look", "F11:1").text == "blown"
    bench.plug("F11")
    bench.conclude([("F11", "fuse_blown")])
    bench.repair("F11")
    assert bench.perceived()["E3"] == "full"


def test_a_fuse_in_a_corroded_seat_is_good_at_its_top() -> None:
    """0.5 Ω in one seat: pulled, the fuse is whole, and the careless put it back.

    Left in, the drop stands between socket and blade: half an ohm times the lamp's
    current (*SHEE*). The sound seat beside it drops millivolts.
    """
    bench = drive(Bench(VAN, fault("high_resistance", "F11", 0.5)), DIP)
    assert bench.perceived()["E3"] == "dim"

    amps = lamp_current(volts(bench, "E3:56b", "E3:31"), 13.2, 58.0)
    assert volts(bench, "F11:1", "F11:1p") == pytest.approx(0.5 * amps, rel=0.02)
    assert 0.0 < read(bench, "millivolts", "F11:2p", "F11:2") < 0.01
    bench.unplug("F11")
    assert measure(bench, "look", "F11:1").text == "whole"
    assert read(bench, "ohms", "F11:1p", "F11:2p") < 0.1


def test_a_fuse_read_with_its_circuit_off_seems_to_lack_supply() -> None:
    """Both sides dead: the careless look for a break before the fuse box."""
    bench = Bench(VAN, fault("fuse_blown", "F11"))

    assert verdict(bench, "F11:1") == verdict(bench, "F11:2") == "ground"
    drive(bench, DIP)
    assert verdict(bench, "F11:1") == "live"


def test_a_blown_fuse_beeps_in_its_box() -> None:
    """Cold dip lamps behind F11 and F12 join its ends: the beeper calls it whole.

    By hand two cold H7 lamps and 0.1 Ω of wire. Pulled, it has no path.
    """
    bench = Bench(VAN, fault("fuse_blown", "F11"))

    careless = measure(bench, "continuity", "F11:1", "F11:2")
    assert "beeps" in careless.sentence
    assert number(careless) == pytest.approx(2 * COLD_H7 + 0.1, abs=0.1)
    bench.unplug("F11")
    assert measure(bench, "continuity", "F11:1p", "F11:2p").text == "overload"


def test_ohms_across_a_fuse_in_use_are_an_incident() -> None:
    """A blown fuse has the supply across it: ohms there mean nothing (*UP2* m58456)."""
    bench = drive(Bench(VAN, fault("fuse_blown", "F11")), DIP)

    assert measure(bench, "ohms", "F11:1", "F11:2").text == "?"
    assert kinds(bench) == ["ohms_on_live"]


def test_a_fuse_bridged_or_renewed_before_its_short_is_found_costs_another() -> None:
    """The jumper's fuse blows into the short, and so does the new one."""
    short = fault("short_to_ground", LEFT_DIP_FEED)
    bench = drive(Bench(VAN, short, driven=[DIP]), DIP)

    assert measure(bench, "jumper", "F11:1", "F11:2").text == "fuse blown"
    bench.lift("A")
    bench.conclude([("F11", "fuse_blown")])
    bench.repair("F11")
    assert kinds(bench) == ["tool_fuse", "fuse_into_short"]
    assert bench.perceived()["E3"] == "off"


# A switch


def test_a_switch_is_proved_by_bridging_it() -> None:
    """Pedal pressed, no stop lamps: with a fused jumper over the switch they burn."""
    bench = Bench(VAN, fault("open_circuit", "S4:30-54"))
    drive(bench, {"S4": "pressed"})
    assert bench.perceived()["E7:54"] == "off"

    assert (verdict(bench, "S4:30"), verdict(bench, "S4:54")) == ("live", "ground")
    assert measure(bench, "jumper", "S4:30", "S4:54").text == "fitted"
    words = bench.perceived()
    assert (words["E7:54"], words["E8:54"], words["E9"]) == ("full", "full", "full")
    assert bench.incidents == []


# A dead tail lamp


@dataclass(frozen=True, slots=True, kw_only=True)
class Tail:
    """A tail lamp, and how it is wired."""

    vehicle: Vehicle
    on: Mapping[str, str]
    wire: str
    """The last wire of its feed."""
    pin: str
    """Where its own wire, or its own terminal, can be fed."""
    sound: str
    """A place that the same feed still reaches."""
    neighbour: str
    test_voltage: float
    test_power: float


TAILS = {
    "van": Tail(
        vehicle=VAN,
        on={"S2": "side"},
        wire=wire(VAN, "SP1:1", "X16:2"),
        pin="X16:2",
        sound="E5:58",
        neighbour="E8:58",
        test_voltage=13.5,
        test_power=6.6,
    ),
    "truck": Tail(
        vehicle=TRUCK,
        on={"S3": "side"},
        wire=wire(TRUCK, "SP3:1", "E7:58"),
        pin="E7:58",
        sound="E5:58",
        neighbour="E8:58",
        test_voltage=28.0,
        test_power=11.0,
    ),
}

tails = pytest.mark.parametrize("tail", TAILS.values(), ids=TAILS)


@tails
def test_a_dead_tail_lamp_has_ground_but_no_supply(tail: Tail) -> None:
    """Ground good, supply missing, lamp good: it burns when its wire is fed.

    The feed shows what the filament takes at the battery's voltage (*SHEE*), less what
    the leads lose. Then the wire is mended and the lamp burns by itself.
    """
    bench = drive(Bench(tail.vehicle, fault("open_circuit", tail.wire)), tail.on)
    words = bench.perceived()
    assert (words["E7:58"], words[tail.neighbour]) == ("off", "full")

    assert verdict(bench, tail.sound) == "live"
    assert verdict(bench, tail.pin) == "ground"
    fed = measure(bench, "feed_supply", tail.pin)
    assert bench.perceived()["E7:58"] == "full"
    supply = tail.vehicle.supply_voltage
    by_hand = lamp_current(supply, tail.test_voltage, tail.test_power)
    assert number(fed) == pytest.approx(by_hand, abs=0.01)
    bench.leave()
    assert abs(volts(bench, "E7:31")) < BODY_GROUND_LIMIT
    bench.fetch()
    bench.conclude([(tail.wire, "open_circuit")])
    bench.repair(tail.wire)
    assert bench.perceived()["E7:58"] == "full"
    assert bench.incidents == []


@tails
def test_a_lamp_renewed_on_suspicion_stays_dead(tail: Tail) -> None:
    """A quarter of an hour for a lamp that was good; the wire is still open."""
    bench = drive(Bench(tail.vehicle, fault("open_circuit", tail.wire)), tail.on)
    before = bench.seconds

    bench.conclude([("E7:58", "lamp_blown")])
    bench.repair("E7:58")
    assert bench.seconds - before == 15 * 60
    assert bench.perceived()["E7:58"] == "off"


@tails
def test_supply_fed_to_the_ground_wire_trips_the_feed(tail: Tail) -> None:
    """One terminal to the side the feed meets ground: its breaker opens."""
    bench = drive(Bench(tail.vehicle, fault("open_circuit", tail.wire)), tail.on)

    assert measure(bench, "feed_supply", "E7:31").text == "tripped"
    assert kinds(bench) == ["tool_fuse"]
    assert bench.perceived()["E7:58"] == "off"


def test_a_jumper_to_ground_on_the_supply_side_blows_the_vehicles_fuse() -> None:
    """A jumper with 10 A does not guard a fuse of 5 A: F10 goes and stays blown."""
    bench = drive(Bench(VAN), {"S2": "side"})

    measure(bench, "jumper", "X16:2", "G1:-")
    assert kinds(bench) == ["vehicle_fuse"]
    bench.lift("A")
    words = bench.perceived()
    assert (words["E5"], words["E7:58"], words["E8:58"]) == ("off", "off", "off")


# A reading at the rear lamp with the battery's own post as reference


def test_the_rear_lamp_is_read_against_the_batterys_own_post() -> None:
    """Braking, GP4 with 0.5 Ω: supply good, but 0.1 V and more on the ground side.

    *NEETS 1*, p. 3-93: the same place reads otherwise against another ground. By hand
    each stop lamp takes its current (*SHEE*), and both return by the 0.5 Ω but for what
    their neighbours' filaments lead away.
    """
    bench = drive(Bench(VAN, fault("high_resistance", "GP4", 0.5)), {"S4": "pressed"})
    assert bench.perceived()["E7:54"] == "dim"

    assert volts(bench, "G1:+", "E7:54") < 0.5
    on_ground = volts(bench, "E7:31")
    assert on_ground > BODY_GROUND_LIMIT
    each = lamp_current(volts(bench, "E7:54", "E7:31"), 13.5, 26.5)
    assert 0.6 * 0.5 * 2 * each < on_ground < 0.5 * 2 * each


def test_a_local_reference_hides_the_bad_ground() -> None:
    """Against its own bolt the lamp's ground is perfect, and its supply looks poor.

    The careless then look for a drop in the supply, which has none.
    """
    bench = drive(Bench(VAN, fault("high_resistance", "GP4", 0.5)), {"S4": "pressed"})

    assert abs(volts(bench, "E7:31", "GP4:31")) < BODY_GROUND_LIMIT
    assert volts(bench, "G1:+") - volts(bench, "E7:54", "GP4:31") > 1.0
    assert volts(bench, "G1:+", "E7:54") < 0.5


# A blower, off the vehicle and on it


@dataclass(frozen=True, slots=True, kw_only=True)
class Blower:
    """A blower, its connector and how it is switched on."""

    vehicle: Vehicle
    motor: str
    plug: str
    supply: str
    """Way of the connector."""
    ground: str
    bolt: str
    switch: str
    rated: float
    """At 13 V. [A]"""
    stall: float
    """At 13 V, held fast. [A]"""

    def pin(self, way: str) -> str:
        """Return the place of a way on the blower's own side."""
        return f"{self.plug}:{way}p"


BLOWERS = {
    "board": Blower(
        vehicle=BLOWER,
        motor="M1",
        plug="X1",
        supply="1",
        ground="2",
        bolt="GP1:31",
        switch="S2",
        rated=10.0,
        stall=45.0,
    ),
    "van": Blower(
        vehicle=VAN,
        motor="M4",
        plug="X22",
        supply="2",
        ground="1",
        bolt="GP3:31",
        switch="S12",
        rated=14.0,
        stall=62.0,
    ),
}

blowers = pytest.mark.parametrize("blower", BLOWERS.values(), ids=BLOWERS)


@blowers
def test_a_blower_is_proved_off_the_vehicle(blower: Blower) -> None:
    """Connector apart, supply and then ground fed to its own pins: it turns.

    By hand: friction takes half of its rated current at 13 V; the rest falls with
    voltage, at most as the voltage does. What two feed leads lose is off the 12.6 V.
    """
    bench = Bench(blower.vehicle)
    bench.unplug(blower.plug)

    connect(bench, "feed_supply", blower.pin(blower.supply))
    assert number(bench.read(1)) == 0.0
    assert bench.perceived()[blower.motor] == "still"
    fed = read(bench, "feed_ground", blower.pin(blower.ground))
    left = (12.6 - 2 * LEAD_RESISTANCE * fed) / 13.0
    assert blower.rated * left < fed < 0.5 * blower.rated * (1.0 + left)
    assert number(bench.read(1)) == fed
    assert bench.perceived()[blower.motor] == "turns"
    assert bench.incidents == []


@blowers
def test_a_blower_fed_the_wrong_way_round_turns_backwards(blower: Blower) -> None:
    """It turns, so the careless tick it off; a motor with magnets has a direction."""
    bench = Bench(blower.vehicle)
    bench.unplug(blower.plug)

    connect(bench, "feed_supply", blower.pin(blower.ground))
    connect(bench, "feed_ground", blower.pin(blower.supply))
    assert bench.perceived()[blower.motor] == "turns backwards"


@blowers
def test_both_feeds_on_one_pin_are_a_short(blower: Blower) -> None:
    """Supply and ground meet at one clip: one slip on record, and nothing turns."""
    bench = Bench(blower.vehicle)
    bench.unplug(blower.plug)

    connect(bench, "feed_supply", blower.pin(blower.supply))
    connect(bench, "feed_ground", blower.pin(blower.supply))
    assert kinds(bench) == ["tool_fuse"]
    assert bench.perceived()[blower.motor] == "still"


@blowers
def test_a_seized_blower_trips_the_feed(blower: Blower) -> None:
    """Held fast it takes its stall current, more than the feed's breaker bears.

    By hand its winding has 13 V over that current, some tenths of an ohm, which ohms
    show beforehand. A sound one at rest has no more: ohms do not tell them apart.
    """
    winding = []
    for what in (None, fault("seized", blower.motor)):
        bench = Bench(blower.vehicle, what)
        bench.unplug(blower.plug)
        pins = blower.pin(blower.supply), blower.pin(blower.ground)
        winding.append(read(bench, "ohms", *pins))
    by_hand = 13.0 / blower.stall
    assert winding[0] == winding[1] == pytest.approx(by_hand, abs=0.05)

    connect(bench, "feed_supply", blower.pin(blower.supply))
    connect(bench, "feed_ground", blower.pin(blower.ground))
    assert bench.perceived()[blower.motor] == "still"
    assert kinds(bench) == ["tool_fuse"]


@blowers
def test_a_missing_ground_is_proved_by_feeding_ground(blower: Blower) -> None:
    """Supply on both sides of a still motor: nothing returns. Ground fed, it runs.

    *NEETS 1*, p. 3-44: an open has the whole supply across it, so the motor has none.
    The ground goes on the last place that is live.
    """
    last = f"{blower.plug}:{blower.ground}"
    missing = fault("open_circuit", wire(blower.vehicle, last, blower.bolt))
    bench = Bench(blower.vehicle, missing)
    drive(bench, {"S1": "on", blower.switch: "4"})
    assert bench.perceived()[blower.motor] == "still"

    for place in (f"{blower.motor}:33", f"{blower.motor}:31", last):
        assert verdict(bench, place) == "live"
    assert verdict(bench, blower.bolt) == "ground"
    measure(bench, "feed_ground", last)
    assert bench.perceived()[blower.motor] == "turns"
    assert bench.incidents == []


@blowers
def test_ground_fed_to_the_supply_pin_is_a_short(blower: Blower) -> None:
    """One pin to the side, the feed grounds the supply; its breaker opens."""
    last = f"{blower.plug}:{blower.ground}"
    missing = fault("open_circuit", wire(blower.vehicle, last, blower.bolt))
    bench = Bench(blower.vehicle, missing)
    drive(bench, {"S1": "on", blower.switch: "4"})

    assert measure(bench, "feed_ground", f"{blower.motor}:33").text == "tripped"
    assert kinds(bench) == ["tool_fuse"]
    assert bench.perceived()[blower.motor] == "still"


def test_a_window_motor_fed_where_it_sits_is_a_short() -> None:
    """At rest the switch holds both its ends at ground: the feed trips, the motor not.

    The careless call it seized; nothing is wrong with it.
    """
    bench = Bench(VAN)

    assert verdict(bench, "M7:1") == verdict(bench, "M7:2") == "ground"
    assert measure(bench, "feed_supply", "M7:1").text == "tripped"
    assert kinds(bench) == ["tool_fuse"]
    bench.lift("A")
    drive(bench, {"S1": "on", "S14": "up"})
    assert "turns" in bench.perceived()["M7"]


# A relay on the bench

CHANGEOVERS = {"board": (RELAY, "K1"), "van": (VAN, "K10")}


@pytest.mark.parametrize(("plus", "minus"), [("86p", "85p"), ("85p", "86p")])
@pytest.mark.parametrize(
    ("vehicle", "relay"), CHANGEOVERS.values(), ids=list(CHANGEOVERS)
)
def test_a_changeover_relay_is_proved_on_the_bench(
    vehicle: Vehicle, relay: str, plus: str, minus: str
) -> None:
    """Pulled, 30-87a makes; fed either way round it clicks, and 30-87 makes instead.

    So a changeover relay and a bare coil (practice). The coil has 85 Ω beside 680 Ω of
    suppression: by hand 75.6 Ω, which take 0.17 A from 12.6 V. The meter that was left
    on 30-87 overloads before and beeps after; a second one finds 87a open.
    """
    bench = Bench(vehicle)
    bench.unplug(relay)
    coil = 1.0 / (1.0 / 85.0 + 1.0 / 680.0)
    assert read(bench, "ohms", f"{relay}:86p", f"{relay}:85p") == pytest.approx(
        coil, abs=0.1
    )
    assert read(bench, "ohms", f"{relay}:30p", f"{relay}:87ap") < 0.1

    connect(bench, "continuity", f"{relay}:30p", f"{relay}:87p")
    assert bench.read(1).text == "overload"
    connect(bench, "feed_supply", f"{relay}:{plus}")
    bench.use("feed_ground")
    bench.place("A", f"{relay}:{minus}")
    assert any(sight.endswith(f"{relay} clicks.") for sight in bench.sights)
    bench.leave()
    assert "beeps" in bench.read(1).sentence
    assert number(bench.read(2)) == pytest.approx(12.6 / coil, abs=0.005)
    assert measure(bench, "ohms", f"{relay}:30p", f"{relay}:87ap").text == "overload"
    assert bench.incidents == []


@pytest.mark.parametrize(("plus", "minus"), [("86p", "85p"), ("85p", "86p")])
def test_a_relay_of_24_v_is_proved_likewise(plus: str, minus: str) -> None:
    """350 Ω beside 1.8 kΩ: by hand 293 Ω, and 0.09 A from 25.2 V; either way round."""
    bench = Bench(TRUCK)
    bench.unplug("K2")
    coil = 1.0 / (1.0 / 350.0 + 1.0 / 1800.0)
    assert read(bench, "ohms", "K2:86p", "K2:85p") == pytest.approx(coil, abs=0.1)
    assert measure(bench, "ohms", "K2:30p", "K2:87p").text == "overload"

    connect(bench, "feed_supply", f"K2:{plus}")
    connect(bench, "feed_ground", f"K2:{minus}")
    assert number(bench.read(2)) == pytest.approx(25.2 / coil, abs=0.005)
    assert read(bench, "ohms", "K2:30p", "K2:87p") < 0.1
    assert bench.incidents == []


DIODE_RELAYS = {"van": (VAN, "K3"), "truck": (TRUCK, "K1")}
diode_relays = pytest.mark.parametrize(
    ("vehicle", "relay"), DIODE_RELAYS.values(), ids=list(DIODE_RELAYS)
)


@diode_relays
def test_a_coil_with_a_diode_has_a_right_way_round(
    vehicle: Vehicle, relay: str
) -> None:
    """Plus on 86 it clicks; plus on 85 the diode is a short (practice).

    The careless, used to bare coils, lose the breaker and condemn a good relay.
    """
    bench = Bench(vehicle)
    bench.unplug(relay)
    connect(bench, "feed_supply", f"{relay}:86p")
    connect(bench, "feed_ground", f"{relay}:85p")
    assert read(bench, "ohms", f"{relay}:30p", f"{relay}:87p") < 0.1
    assert bench.incidents == []

    bench.fetch()
    connect(bench, "feed_supply", f"{relay}:85p")
    connect(bench, "feed_ground", f"{relay}:86p")
    assert measure(bench, "ohms", f"{relay}:30p", f"{relay}:87p").text == "overload"
    assert kinds(bench) == ["tool_fuse"]


@diode_relays
def test_a_reversed_diode_trips_the_feed_that_is_right(
    vehicle: Vehicle, relay: str
) -> None:
    """Plus on 86 as it should be, and a short: the diode is the wrong way round."""
    bench = Bench(vehicle, fault("diode_reversed", relay))
    bench.unplug(relay)

    connect(bench, "feed_supply", f"{relay}:86p")
    connect(bench, "feed_ground", f"{relay}:85p")
    assert "tripped" in (bench.read(1).text, bench.read(2).text)
    assert kinds(bench) == ["tool_fuse"]


def test_the_meters_diode_range_does_not_see_a_reversed_diode() -> None:
    """The coil beside it takes the milliampere: 0.08 V both ways, sound or reversed.

    By hand 3 V behind 3 kΩ, and 85 Ω: 0.083 V, where silicon wants 0.6 V (practice).
    """
    by_hand = 3.0 * 85.0 / (3e3 + 85.0)
    for what in (None, fault("diode_reversed", "K3")):
        bench = Bench(VAN, what)
        bench.unplug("K3")
        for a, b in (("K3:85p", "K3:86p"), ("K3:86p", "K3:85p")):
            assert read(bench, "diode", a, b) == pytest.approx(by_hand, abs=0.001)


def test_ohms_on_a_fed_coil_are_an_incident() -> None:
    """The feeds are on it still: ohms mean nothing there (*UP2* m58456)."""
    bench = Bench(RELAY)
    bench.unplug("K1")
    connect(bench, "feed_supply", "K1:86p")
    connect(bench, "feed_ground", "K1:85p")

    assert measure(bench, "ohms", "K1:86p", "K1:85p").text == "?"
    assert kinds(bench) == ["ohms_on_live"]


def test_a_click_and_a_beep_pass_a_burnt_contact() -> None:
    """2 Ω in the contact click and beep; under load more than 0.3 V drop (practice).

    By hand the lamp's current (*SHEE*) times 2 Ω.
    """
    bench = Bench(RELAY, fault("relay_contact_burnt", "K1", 2.0))
    bench.unplug("K1")
    connect(bench, "feed_supply", "K1:86p")
    connect(bench, "feed_ground", "K1:85p")
    assert "beeps" in measure(bench, "continuity", "K1:30p", "K1:87p").sentence

    bench.lift("A")
    bench.lift("B")
    bench.fetch()
    bench.plug("K1")
    drive(bench, {"S1": "on", "S2": "pressed"})
    drop = volts(bench, "K1:30", "K1:87")
    assert drop > 0.3
    amps = lamp_current(volts(bench, "E2:87", "E2:31"), 13.5, 26.5)
    assert drop == pytest.approx(2.0 * amps, rel=0.02)


# The feeds themselves, and what they are for


@diode_relays
def test_every_feed_is_checked_with_a_meter(vehicle: Vehicle, relay: str) -> None:
    """3 V and 5 V between two free pins; the battery's voltage and ground on one.

    They give nothing while nothing asks. The pins of a pulled relay are free.
    """
    bench = Bench(vehicle)
    bench.unplug(relay)
    one, other = f"{relay}:30p", f"{relay}:87p"

    for tool, stated in (("feed_3v", 3.0), ("feed_5v", 5.0)):
        connect(bench, tool, one, other)
        assert volts(bench, one, other) == pytest.approx(stated, abs=0.01)
        assert volts(bench, other, one) == pytest.approx(-stated, abs=0.01)
        assert number(bench.read(1)) == pytest.approx(0.0, abs=1e-4)
        bench.fetch()
    connect(bench, "feed_supply", one)
    connect(bench, "feed_ground", other)
    assert volts(bench, one) == pytest.approx(vehicle.supply_voltage, abs=0.02)
    assert (verdict(bench, one), verdict(bench, other)) == ("live", "ground")
    assert bench.incidents == []


SENSORS = {
    "5 V": ("feed_5v", "A1:1", "A1:3", "A1:2", "B2", {"released": 12, "full": 85}),
    "3 V": ("feed_3v", "A2:5", "A2:6", "A2:7", "B5", {"cold": 10, "hot": 90}),
}


@pytest.mark.parametrize(
    ("tool", "reference", "signal", "low", "sensor", "stands"),
    SENSORS.values(),
    ids=list(SENSORS),
)
def test_a_sensor_is_proved_by_a_feed_of_its_own_voltage(
    tool: str,
    reference: str,
    signal: str,
    low: str,
    sensor: str,
    stands: dict[str, int],
) -> None:
    """Its module's reference is dead; fed in its place, the sensor's signal follows.

    A potentiometer gives its share of the feed; the module's input, which pulls up
    through 220 kΩ, lifts it by 3 % at most.
    """
    bench = drive(Bench(VAN, fault("pin_dead", reference)), {"S1": "on"})
    assert volts(bench, reference, low) == pytest.approx(0.0, abs=0.05)

    connect(bench, tool, f"{sensor}:1", f"{sensor}:3")
    stated = float(tool.removeprefix("feed_").removesuffix("v"))
    for position, percent in stands.items():
        bench.set_control(sensor, position)
        expected = percent / 100.0 * stated
        assert volts(bench, signal, low) == pytest.approx(expected, rel=0.03)
    assert bench.incidents == []


@pytest.mark.parametrize(
    ("vehicle", "on"),
    [(VAN, {"S1": "on"}), (TRUCK, {"S2": "drive"})],
    ids=["van", "truck"],
)
def test_battery_voltage_on_a_reference_kills_the_pin(
    vehicle: Vehicle, on: Mapping[str, str]
) -> None:
    """5 V are borne up to 6 V: fed with the battery, the reference is gone for good."""
    bench = drive(Bench(vehicle), on)
    assert 4.9 <= volts(bench, "A1:1") <= 5.1  # practice

    measure(bench, "feed_supply", "A1:1")
    assert kinds(bench) == ["module_fed"]
    bench.lift("A")
    # What other inputs pull up reaches it through the sensor: some millivolts.
    assert volts(bench, "A1:1") == pytest.approx(0.0, abs=0.05)


def test_battery_voltage_on_a_signal_makes_the_module_deaf() -> None:
    """The sensor's signal still comes, the lamp that follows it does not any more."""
    bench = drive(Bench(SENSOR), {"S1": "on", "B1": "full"})
    assert bench.perceived()["E1"] == "full"
    before = volts(bench, "A1:2", "A1:3")

    measure(bench, "feed_supply", "A1:2")
    bench.lift("A")
    assert kinds(bench) == ["module_fed"]
    assert volts(bench, "A1:2", "A1:3") == pytest.approx(before, abs=0.02)
    assert bench.perceived()["E1"] == "off"


def test_a_small_feed_on_a_live_wire_trips() -> None:
    """5 V meet 12 V: the feed's breaker opens, the vehicle does not mind."""
    bench = drive(Bench(VAN), DIP)

    assert measure(bench, "feed_5v", "E3:56b", "G1:-").text == "tripped"
    assert kinds(bench) == ["tool_fuse"]
    assert bench.perceived()["E3"] == "full"


# A drain


@dataclass(frozen=True, slots=True, kw_only=True)
class Drain:
    """A circuit that nothing switches, and the leak in it."""

    vehicle: Vehicle
    fuse: str
    fuse_resistance: float
    """[Ω]"""
    wire: str
    leak: float
    """[Ω]"""
    cable: str
    """From the battery."""


DRAINS = {
    "van": Drain(
        vehicle=VAN,
        fuse="F22",
        fuse_resistance=4.8e-3,
        wire=wire(VAN, "F22:2", "K6:30"),
        leak=250.0,
        cable=wire(VAN, "G1:-", "Body:31"),
    ),
    "truck": Drain(
        vehicle=TRUCK,
        fuse="F5",
        fuse_resistance=7.7e-3,
        wire=wire(TRUCK, "F5:2", "K4:30"),
        leak=500.0,
        cable=wire(TRUCK, "G1:-", "GP1:31"),
    ),
}

drains = pytest.mark.parametrize("drain", DRAINS.values(), ids=DRAINS)


@drains
def test_a_drain_is_found_by_the_drop_of_its_fuse(drain: Drain) -> None:
    """Everything off: 50 mA through 7.7 mΩ of a 10 A fuse are 0.39 mV.

    From memory, 15 % more or less; the van's 15 A fuse has 4.8 mΩ and 0.24 mV. The top
    of the fuse is read; every other fuse that is as large shows nothing. Then the fuse
    is pulled and an ammeter in its place confirms.
    """
    vehicle = drain.vehicle
    bench = Bench(vehicle, fault("leakage", drain.wire, drain.leak))
    by_hand = vehicle.supply_voltage / drain.leak

    drop = read(bench, "millivolts", f"{drain.fuse}:1p", f"{drain.fuse}:2p")
    assert drop == pytest.approx(by_hand * drain.fuse_resistance, abs=2e-5)
    bench.unplug(drain.fuse)
    amps = read(bench, "amps", f"{drain.fuse}:1", f"{drain.fuse}:2")
    assert amps == pytest.approx(by_hand, abs=0.002)
    assert bench.incidents == []


@drains
def test_a_drain_is_missed_by_volts_and_by_the_clamp(drain: Drain) -> None:
    """Volts show 0.000, and the clamp's 0.3 A of doubt hide 50 mA: "no drain"."""
    bench = Bench(drain.vehicle, fault("leakage", drain.wire, drain.leak))

    careless = measure(bench, "volts", f"{drain.fuse}:1p", f"{drain.fuse}:2p")
    assert careless.text == "0.000 V"
    clamped = measure(bench, "clamp", drain.cable)
    assert clamped.uncertainty is not None
    assert abs(number(clamped)) < clamped.uncertainty


def test_a_module_that_stays_awake_shows_in_its_fuse() -> None:
    """Asleep 8 mA, awake 0.25 A: by hand 0.09 and 2.7 mV over the 10.9 mΩ of its fuse.

    The careless look for lamps and motors that are on, and see nothing.
    """
    sound, awake = Bench(VAN), Bench(VAN, fault("stays_awake", "A2"))

    assert awake.perceived() == sound.perceived()
    drop = read(sound, "millivolts", "F25:1p", "F25:2p")
    assert drop == pytest.approx(8e-3 * 10.9e-3, abs=2e-5)
    drop = read(awake, "millivolts", "F25:1p", "F25:2p")
    assert drop == pytest.approx(0.25 * 10.9e-3, rel=0.1)


# A voltage that is not there


GHOSTS = {"a megohm": (1e6, "off"), "water": (50e3, "dim")}


@pytest.mark.parametrize(("leak", "glow"), GHOSTS.values(), ids=list(GHOSTS))
def test_a_ghost_voltage_is_told_by_a_filament_test_lamp(
    leak: float, glow: str
) -> None:
    """An open feed with a leak from its live neighbour: only a lamp tells.

    By hand a 10 MΩ meter shows 10/11 of the supply through 1 MΩ (*LIEC*, meters:
    loading). The LED lamp, 2 kΩ, gets a fifth of a milliampere through 50 kΩ and glows;
    the filament lamp, a third of an ampere, never does. A sound feed lights both.
    """
    water = fault("water_path", "X12:2-3", leak)
    bench = Bench(VAN, fault("open_circuit", LEFT_DIP_FEED), more=[water])
    drive(bench, DIP)
    bench.unplug("X12")

    supply = volts(bench, "X12:2")
    by_hand = supply * 10e6 / (10e6 + leak)
    assert volts(bench, "X12:3") == pytest.approx(by_hand, abs=0.02)
    assert verdict(bench, "X12:3") != "ground"
    assert measure(bench, "led_lamp", "X12:3", "G1:-").text == glow
    assert measure(bench, "test_lamp", "X12:3", "G1:-").text == "off"

    sound = drive(Bench(VAN), DIP)
    sound.unplug("X12")
    for tool in ("led_lamp", "test_lamp"):
        assert measure(sound, tool, "X12:3", "G1:-").text == "bright"


def test_a_filament_test_lamp_pulls_a_reference_down() -> None:
    """Dark, so the careless call a good 5 V reference dead; the LED lamp leaves it.

    By hand 3 V over the LED lamp's 2 kΩ are 1.5 mA of the 60 mA it can give; the cold
    filament, 2.4 Ω, asks for all of them.
    """
    bench = drive(Bench(VAN), {"S1": "on"})

    connect(bench, "test_lamp", "A1:1", "A1:2")
    assert bench.read(1).text == "off"
    assert volts(bench, "A1:1", "A1:2") < 1.0
    bench.fetch()
    connect(bench, "led_lamp", "A1:1", "A1:2")
    assert bench.read(1).text == "dim"
    assert 4.9 <= volts(bench, "A1:1", "A1:2") <= 5.1  # practice
    assert bench.incidents == []


def test_a_test_lamp_clipped_to_plus_kills_a_reference() -> None:
    """Looking for ground with a lamp on plus feeds the pin it touches."""
    bench = drive(Bench(VAN), {"S1": "on"})

    measure(bench, "test_lamp", "A1:1", "G1:+")
    assert kinds(bench) == ["module_fed"]


# Faults that come and go


def test_a_loose_pin_is_caught_by_moving_the_loom() -> None:
    """At rest all is well; held, the lamp's supply falls to nothing on the way.

    Two meters at once then say on which side of the connector it breaks.
    """
    bench = drive(
        Bench(VAN, Fault(kind="open_circuit", site="X12:3", when="loom_moved")), DIP
    )
    connect(bench, "volts", "X12:3", "G1:-")
    assert verdict(bench, "E3:56b") == "live"
    bench.hold()
    for _ in range(3):
        bench.move_loom()
    assert bench.held is not None
    assert bench.held[0] < 0.1 < 12.0 < bench.held[1]

    while bench.perceived()["E3"] != "off":
        bench.move_loom()
    assert bench.read(1).verdict == "live"  # before the pin
    assert bench.read().verdict == "ground"  # behind it


def test_a_fault_that_comes_with_warmth_passes_a_cold_check() -> None:
    """Cold, the fuel pump's relay holds; after ten minutes its coil is open."""
    bench = drive(
        Bench(VAN, Fault(kind="relay_coil_open", site="K7", when="warm")), {"S1": "on"}
    )
    assert bench.perceived()["M6"] == "turns"  # the careless hand the van back

    before = bench.seconds
    bench.warm_up()
    assert bench.seconds - before == 10 * 60
    assert bench.perceived()["M6"] == "still"
    assert verdict(bench, "K7:86") == "live"
    assert volts(bench, "K7:86", "K7:85") > 12.0  # fed on both ends, and no pull
    bench.unplug("K7")
    assert measure(bench, "ohms", "K7:86p", "K7:85p").text == "overload"


@plants
def test_a_fault_that_comes_with_the_engine_is_not_found_with_it_stopped(
    plant: Plant,
) -> None:
    """The tail lamp's ground breaks as the engine shakes: read with it running."""
    ground = wire(plant.vehicle, *plant.tail_ground)
    shaken = dataclasses.replace(
        fault("high_resistance", ground, 5.0), when="engine_running"
    )
    bench = Bench(plant.vehicle, shaken)
    drive(bench, plant.braking)
    assert volts(bench, "E7:31") < BODY_GROUND_LIMIT  # passes with the engine stopped

    drive(bench, plant.running)
    assert volts(bench, "E7:31") > BODY_GROUND_LIMIT


# Two faults at once


def test_the_second_fault_shows_when_the_first_is_mended() -> None:
    """Tail lamp dead: feed open, and its ground open as well.

    Fed, it burns all the same, dimmer, by way of its neighbours' cold filaments; so the
    careless mend the feed and call the rest a worn lamp. A tenth of a volt on its
    ground and the brake pedal tell. Ground fed, then mended, ends it.
    """
    feed = wire(VAN, "SP1:1", "X16:2")
    ground = wire(VAN, "X16:1", "GP4:31")
    bench = Bench(
        VAN, fault("open_circuit", feed), more=[fault("open_circuit", ground)]
    )
    drive(bench, {"S2": "side"})
    assert bench.perceived()["E7:58"] == "off"

    connect(bench, "feed_supply", "X16:2")
    assert bench.perceived()["E7:58"] != "off"
    assert volts(bench, "E7:31") > BODY_GROUND_LIMIT
    bench.fetch()
    bench.conclude([(feed, "open_circuit"), (ground, "open_circuit")])
    bench.repair(feed)
    assert bench.perceived()["E7:58"] != "off"
    drive(bench, {"S4": "pressed"})
    assert bench.perceived()["E7:54"] != "full"
    assert volts(bench, "E7:31") > 1.0
    connect(bench, "feed_ground", "X16:1")
    assert bench.perceived()["E7:54"] == "full"
    bench.fetch()
    bench.repair(ground)
    assert bench.perceived()["E7:54"] == bench.perceived()["E7:58"] == "full"
    assert bench.incidents == []


def test_two_faults_in_one_feed_are_told_apart_by_their_drops() -> None:
    """Dim dip lamp: 0.5 Ω in the feed and 0.5 Ω in the ground, a drop on each side.

    Who mends the supply side alone leaves it dim. By hand each drop is half an ohm
    times the lamp's current (*SHEE*), on the ground side the side lamp's as well.
    """
    feed = fault("high_resistance", LEFT_DIP_FEED, 0.5)
    ground = fault("high_resistance", LEFT_GROUND, 0.5)
    bench = drive(Bench(VAN, feed, more=[ground]), DIP)
    assert bench.perceived()["E3"] == "dim"

    amps = lamp_current(volts(bench, "E3:56b", "E3:31"), 13.2, 58.0)
    assert volts(bench, "F11:2", "X12:3") == pytest.approx(0.5 * amps, rel=0.1)
    assert volts(bench, "E3:31") > BODY_GROUND_LIMIT
    bench.conclude([feed.answer, ground.answer])
    bench.repair(LEFT_DIP_FEED)
    assert bench.perceived()["E3"] == "dim"
    bench.repair(LEFT_GROUND)
    assert bench.perceived()["E3"] == "full"
