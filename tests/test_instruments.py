"""Instruments against closed forms and published examples of what a meter does.

LIEC is *Lessons in Electric Circuits*, vol. I (DC), chapter "DC metering circuits".
UP2 is OpenStax *University Physics* vol. 2. DOE is *DOE Fundamentals Handbook,
Electrical Science* vol. 1. Displays are exact texts, so their tolerance is half of
their last digit.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boards import board, measure
from ohmwork.bench import Bench
from ohmwork.errors import NotPossibleError
from ohmwork.faults import Fault
from ohmwork.instruments import (
    Hookup,
    attachment,
    effect_word,
    pitch,
    tolerance,
)
from ohmwork.network import Network, OperatingPoint, Setup
from ohmwork.parts import Horn, Motor, Relay
from ohmwork.vehicle import Vehicle, load_vehicle

EXACT = 1e-6
"""Relative tolerance for closed forms: a wire of 1 nΩ stands for none. [-]"""


@pytest.fixture(scope="module")
def van() -> Vehicle:
    """Return the healthy lighting board."""
    return load_vehicle("lighting_board")


def with_tool(vehicle: Vehicle, tool: str, a: str, b: str | None) -> OperatingPoint:
    """Return the circuit as it settles with a tool connected."""
    hookup = Hookup(tool=tool, lead_a=a, lead_b=b)
    return Network(vehicle).settle(Setup(), attachment(vehicle, hookup))


def dip_beam(bench: Bench) -> Bench:
    """Switch ignition and dip beam on."""
    bench.set_control("S1", "on")
    bench.set_control("S2", "dip")
    return bench


# Volts


def test_a_voltmeter_loads_what_it_measures() -> None:
    """10 MΩ across one of two 250 MΩ at 24 V shows 0.8889 V, not 12 V (LIEC)."""
    circuit = board(24.0, [("G1:+", "X1:1", 250e6), ("X1:1", "G1:-", 250e6)])

    shown = measure(Bench(circuit), "volts", "X1:1", "G1:-")
    point = with_tool(circuit, "volts", "X1:1", "G1:-")

    assert shown.text == "0.889 V"
    assert point.voltage("X1:1") == pytest.approx(0.8889, abs=5e-5)
    assert point.voltage("G1:+", "X1:1") == pytest.approx(23.1111, abs=5e-5)


def test_a_voltmeter_barely_loads_a_vehicle_circuit() -> None:
    """12 V over two 10 kΩ shows 12 · (10k ∥ 10M) / (10k + 10k ∥ 10M) = 5.997 V."""
    circuit = board(12.0, [("G1:+", "X1:1", 10e3), ("X1:1", "G1:-", 10e3)])

    assert measure(Bench(circuit), "volts", "X1:1", "G1:-").text == "5.997 V"


def test_a_ghost_voltage_fools_the_meter_and_not_the_lamp() -> None:
    """A leak of 1 MΩ shows 10/11 of the battery on 10 MΩ and lights no lamp."""
    circuit = board(12.6, [("G1:+", "X1:1", 1e6)])

    on_meter = measure(Bench(circuit), "volts", "X1:1", "G1:-")
    on_lamp = measure(Bench(circuit), "test_lamp", "X1:1", "G1:-")

    assert on_meter.value == round(12.6 * 10.0 / 11.0, 2)
    assert on_meter.verdict == "live"
    assert on_lamp.text == "off"


def test_a_reading_is_a_minus_b() -> None:
    """Swapping the leads changes the sign and nothing else."""
    circuit = board(9.0, [("G1:+", "X1:1", 10.0), ("X1:1", "G1:-", 5.0)])

    assert measure(Bench(circuit), "volts", "X1:1", "G1:-").text == "3.000 V"
    assert measure(Bench(circuit), "volts", "G1:-", "X1:1").text == "-3.000 V"


def test_nothing_is_shown_without_a_sign() -> None:
    """A reading of nothing is 0.000 V, never -0.000 V."""
    circuit = board(12.0, [])

    assert measure(Bench(circuit), "volts", "G1:-", "G1:-").text == "0.000 V"


@pytest.mark.parametrize(
    ("upper", "lower", "text"),
    [(4.001, 5.999, "5.999 V"), (3.999, 6.001, "6.00 V")],
)
def test_the_display_has_six_thousand_counts(
    upper: float, lower: float, text: str
) -> None:
    """Below 6 V the last digit is 1 mV, from 6 V on it is 10 mV."""
    circuit = board(10.0, [("G1:+", "X1:1", upper), ("X1:1", "G1:-", lower)])

    assert measure(Bench(circuit), "volts", "X1:1", "G1:-").text == text


@pytest.mark.parametrize(
    ("place", "verdict", "hertz"),
    [
        ("G1:-", "ground", 220.0),
        ("X1:1", "between", 440.0),
        ("G1:+", "live", 880.0),
        ("X1:2", "open", None),
    ],
)
def test_pitch_follows_the_voltage(
    place: str, verdict: str, hertz: float | None
) -> None:
    """Low at ground, an octave up at half, two at supply; silent on an open."""
    circuit = board(12.0, [("G1:+", "X1:1", 10.0), ("X1:1", "G1:-", 10.0)])

    shown = measure(Bench(circuit), "volts", place, "G1:-")

    assert shown.verdict == verdict
    assert shown.pitch == (None if hertz is None else pytest.approx(hertz, rel=EXACT))


def test_no_verdict_without_the_minus_post() -> None:
    """With lead B elsewhere a voltage says nothing of live or ground."""
    circuit = board(12.0, [("G1:+", "X1:1", 10.0), ("X1:1", "G1:-", 10.0)])

    shown = measure(Bench(circuit), "volts", "G1:+", "X1:1")

    assert (shown.verdict, shown.pitch) == (None, None)


@given(st.floats(-50.0, 50.0), st.floats(-50.0, 50.0))
def test_a_higher_voltage_never_sounds_lower(one: float, other: float) -> None:
    """Pitch rises with voltage and stays between ground's and supply's."""
    low, high = sorted((one, other))

    assert 220.0 <= pitch(low, 12.0) <= pitch(high, 12.0) <= 880.0


# Ohms, continuity, diode


@pytest.mark.parametrize(
    ("resistors", "text"),
    [
        pytest.param((47.0,), "47.0 Ω", id="one"),
        pytest.param((8.0, 24.0), "6.0 Ω", id="DOE: 8 and 24 Ω make 6 Ω"),
        pytest.param((1.0, 2.0, 2.0), "0.5 Ω", id="UP2: 1, 2 and 2 Ω make 0.50 Ω"),
    ],
)
def test_ohms_of_parallel_resistors(resistors: tuple[float, ...], text: str) -> None:
    """An ohmmeter on a dead circuit shows all paths together."""
    circuit = board(12.0, [("X1:1", "X1:2", ohms) for ohms in resistors])
    bench = Bench(circuit)

    assert measure(bench, "ohms", "X1:1", "X1:2").text == text
    assert bench.incidents == []


@pytest.mark.parametrize(
    ("ohms", "text"),
    [
        (599.9, "599.9 Ω"), (600.1, "0.600 kΩ"), (5999.0, "5.999 kΩ"),
        (6001.0, "6.00 kΩ"), (59.99e3, "59.99 kΩ"), (60.1e3, "60.1 kΩ"),
        (599.9e3, "599.9 kΩ"), (601e3, "0.601 MΩ"), (5.999e6, "5.999 MΩ"),
        (6.01e6, "6.01 MΩ"), (39.99e6, "39.99 MΩ"), (40.01e6, "overload"),
    ],
)  # fmt: skip
def test_ranges_of_the_ohmmeter(ohms: float, text: str) -> None:
    """Each range ends below 6,000 counts; above 40 MΩ there is overload."""
    circuit = board(12.0, [("X1:1", "X1:2", ohms)])

    assert measure(Bench(circuit), "ohms", "X1:1", "X1:2").text == text


def test_no_path_is_overload() -> None:
    """Between two bare places the ohmmeter shows overload and has no value."""
    shown = measure(Bench(board(12.0, [])), "ohms", "X1:1", "X1:2")

    assert (shown.text, shown.value) == ("overload", None)


@pytest.mark.parametrize(("ohms", "beeps"), [(49.9, True), (50.1, False)])
def test_the_beeper_sounds_below_fifty_ohms(ohms: float, *, beeps: bool) -> None:
    """Continuity beeps below 50 Ω (40 to 100 by model; common practice, no source)."""
    circuit = board(12.0, [("X1:1", "X1:2", ohms)])

    shown = measure(Bench(circuit), "continuity", "X1:1", "X1:2")

    assert ("beeps" in shown.sentence) is beeps


@pytest.mark.parametrize(
    ("upper", "lower", "is_live"), [(2990.0, 10.0, False), (2985.0, 15.0, True)]
)
@pytest.mark.parametrize("tool", ["ohms", "continuity", "diode"])
def test_ohms_on_a_live_circuit_is_an_incident(
    tool: str, upper: float, lower: float, *, is_live: bool
) -> None:
    """40 mV counts as dead and 60 mV as live: no reading, and an incident."""
    circuit = board(12.0, [("G1:+", "X1:1", upper), ("X1:1", "G1:-", lower)])
    bench = Bench(circuit)

    shown = measure(bench, tool, "X1:1", "G1:-")

    assert (shown.text == "?") is is_live
    assert [i.kind for i in bench.incidents] == ["ohms_on_live"] * is_live


def test_a_diode_conducts_one_way(van: Vehicle) -> None:
    """About 0.6 V from 85 to 86 and overload back (common practice, no source).

    The coil is open, so that the meter sees the relay's diode alone.
    """
    bench = Bench(van, Fault(kind="relay_coil_open", site="K3"))
    bench.unplug("K3")

    forward = measure(bench, "diode", "K3:85p", "K3:86p")
    reverse = measure(bench, "diode", "K3:86p", "K3:85p")

    assert forward.value == pytest.approx(0.6, abs=0.05)
    assert reverse.text == "overload"


def test_a_coil_hides_its_diode(van: Vehicle) -> None:
    """Across 85 Ω the meter's 3 V and 3 kΩ leave 3 · 85 / 3085 V, either way."""
    bench = Bench(van)
    bench.unplug("K3")

    assert measure(bench, "ohms", "K3:86p", "K3:85p").text == "85.0 Ω"
    assert measure(bench, "diode", "K3:86p", "K3:85p").value == round(255 / 3085, 3)
    assert measure(bench, "diode", "K3:85p", "K3:86p").value == round(255 / 3085, 3)


# Amps


@pytest.mark.parametrize(
    ("ohms", "without", "amps", "text"),
    [(3.0, 0.6667, 0.57143, "0.571 A"), (1.5, 1.3333, 1.000, "1.000 A")],
)
def test_an_ammeter_burdens_what_it_measures(
    ohms: float, without: float, amps: float, text: str
) -> None:
    """2 V on 3 and on 1.5 Ω with a meter of 0.5 Ω: 571.43 mA and 1.000 A (LIEC).

    The meter has 0.04 Ω; a lead of 0.46 Ω makes up the example's.
    """
    circuit = board(2.0, [("G1:+", "X1:1", ohms), ("X1:2", "G1:-", 0.46)])

    point = with_tool(circuit, "amps", "X1:1", "X1:2")

    assert 2.0 / ohms == pytest.approx(without, abs=5e-5)
    assert point.current("tool") == pytest.approx(amps, abs=5e-6)
    assert measure(Bench(circuit), "amps", "X1:1", "X1:2").text == text


def test_amps_across_the_battery_blow_the_meter_fuse(van: Vehicle) -> None:
    """12.6 V / 46 mΩ is 274 A: the fuse goes, the incident stays, the van lives."""
    bench = Bench(van)

    shown = measure(bench, "amps", "G1:+", "G1:-")

    assert shown.text == "fuse blown"
    assert [i.kind for i in bench.incidents] == ["tool_fuse"]
    assert bench.incidents[0].text == "Amps across a supply: the meter's fuse blew"
    assert measure(bench, "volts", "G1:+", "G1:-").text == "12.60 V"


@pytest.mark.parametrize(("amps", "text"), [(10.9, "10.90 A"), (11.1, "fuse blown")])
def test_the_meter_fuse_holds_to_its_limit(amps: float, text: str) -> None:
    """A 10 A fuse carries 1.1 times its rating (ISO 8820-3, from memory)."""
    circuit = board(12.0, [("X1:1", "G1:-", 12.0 / amps - 0.04)])

    assert measure(Bench(circuit), "amps", "G1:+", "X1:1").text == text


# Test lamp, feeds, jumper


def test_a_test_lamp_is_a_real_load() -> None:
    """Its 5.5 W at 13.5 V (W5W, from memory) are a current of 5.5/13.5 A."""
    point = with_tool(board(13.5, []), "test_lamp", "G1:+", "G1:-")

    assert point.current("tool") == pytest.approx(5.5 / 13.5, rel=EXACT)


def test_a_test_lamp_shines_on_a_sound_supply(van: Vehicle) -> None:
    """Bright at the battery, off between two places of one potential."""
    assert measure(Bench(van), "test_lamp", "G1:+", "Body:31").text == "bright"
    assert measure(Bench(van), "test_lamp", "GP1:31", "Body:31").text == "off"


def test_a_feed_shows_its_current() -> None:
    """12.6 V over 6 mΩ, the feed's 30 mΩ and the rest of 6.3 Ω give 2.00 A."""
    circuit = board(12.6, [("X1:1", "G1:-", 6.3 - 0.036)], internal=0.006)
    bench = Bench(circuit)

    assert measure(bench, "feed_supply", "X1:1").text == "2.00 A"
    assert bench.incidents == []


def test_a_ground_feed_shows_its_current() -> None:
    """The same from the other side."""
    circuit = board(12.6, [("G1:+", "X1:1", 6.3 - 0.036)], internal=0.006)

    assert measure(Bench(circuit), "feed_ground", "X1:1").text == "2.00 A"


def test_feeding_supply_to_a_grounded_place_trips(van: Vehicle) -> None:
    """The breaker opens and the incident says what was done."""
    bench = Bench(van)

    shown = measure(bench, "feed_supply", "GP1:31")

    assert shown.text == "tripped"
    (incident,) = bench.incidents
    assert incident.kind == "tool_fuse"
    assert incident.text == "Supply was fed to a grounded place: the breaker tripped"
    assert incident.action == 2


def test_feeding_ground_to_a_live_place_trips(van: Vehicle) -> None:
    """Behind the 80 A link the feed's 10 A breaker is the weakest."""
    bench = Bench(van)

    assert measure(bench, "feed_ground", "S1:30").text == "tripped"
    assert [i.kind for i in bench.incidents] == ["tool_fuse"]


def test_a_feeds_breaker_is_faster_than_a_fuse(van: Vehicle) -> None:
    """Ground fed to a burning lamp's supply trips the breaker; its fuse F11 holds."""
    bench = dip_beam(Bench(van))

    assert measure(bench, "feed_ground", "E3:56b").text == "tripped"
    assert [i.kind for i in bench.incidents] == ["tool_fuse"]
    assert "Left dip lamp E3 full." in bench.sights


def test_a_jumper_to_ground_blows_the_vehicles_fuse(van: Vehicle) -> None:
    """Both fuses are of 10 A; F11 carries the lamp's current on top and goes first."""
    bench = dip_beam(Bench(van))

    measure(bench, "jumper", "E3:56b", "Body:31")

    assert [i.kind for i in bench.incidents] == ["vehicle_fuse"]
    assert bench.incidents[0].text == "Fuse F11 blew through the fused jumper"
    assert "Left dip lamp E3 off." in bench.sights
    assert "Right dip lamp E4 full." in bench.sights


def test_a_feed_reaches_everything_that_is_joined(van: Vehicle) -> None:
    """Feeding one dip lamp lights the other through the fuse box, not a side lamp."""
    bench = Bench(van)

    measure(bench, "feed_supply", "E3:56b")

    assert "Left dip lamp E3 full." in bench.sights
    assert "Right dip lamp E4 full." in bench.sights
    assert "Left side lamp E5 off." in bench.sights


def test_a_jumper_bridges_an_open(van: Vehicle) -> None:
    """With wire W17 open the lamp burns as soon as a jumper stands in for it."""
    bench = dip_beam(Bench(van, Fault(kind="open_circuit", site="W17")))
    assert "Left dip lamp E3 off." in bench.sights

    shown = measure(bench, "jumper", "X12:3p", "E3:56b")

    assert shown.text == "fitted"
    assert "Left dip lamp E3 full." in bench.sights
    assert bench.incidents == []


def test_a_jumper_from_supply_to_ground_blows_its_fuse(van: Vehicle) -> None:
    """The jumper has a 10 A fuse and joins what should not be joined."""
    bench = Bench(van)

    assert measure(bench, "jumper", "S1:30", "Body:31").text == "fuse blown"
    assert [i.kind for i in bench.incidents] == ["tool_fuse"]


def relay_board(grounded: str, *, diode: bool) -> Vehicle:
    """Return a loose relay of 85 Ω with one end of its coil on ground."""
    relay = Relay(
        name="K1",
        label="relay",
        coil_resistance=85.0,
        pull_in=7.2,
        drop_out=2.4,
        suppression_diode=diode,
    )
    return board(12.0, [(f"K1:{grounded}", "G1:-", 1e-3)], relay)


@pytest.mark.parametrize(
    ("fed", "grounded", "diode", "text"),
    [
        ("86", "85", True, "0.14 A"),
        ("85", "86", True, "tripped"),
        ("85", "86", False, "0.14 A"),
    ],
)
def test_a_relay_with_a_diode_has_a_direction(
    fed: str, grounded: str, text: str, *, diode: bool
) -> None:
    """Fed at 86 the coil takes 12 V / 85 Ω; fed at 85 the diode is a short.

    A bare coil takes either way (common practice, no source).
    """
    bench = Bench(relay_board(grounded, diode=diode))

    assert measure(bench, "feed_supply", f"K1:{fed}").text == text


# The eye


def test_looking_at_a_fuse_needs_it_pulled(van: Vehicle) -> None:
    """A fitted fuse hides its link; a pulled one shows whether it is whole."""
    bench = Bench(van, Fault(kind="fuse_blown", site="F11"))
    with pytest.raises(NotPossibleError, match=r"^F11 is fitted\. Pull it to see"):
        measure(bench, "look", "F11:1")
    bench.unplug("F11")
    bench.unplug("F12")

    assert measure(bench, "look", "F11:1").text == "blown"
    assert measure(bench, "look", "F12:1").text == "whole"


def test_looking_at_relay_and_lamp(van: Vehicle) -> None:
    """The eye sees whether a relay has pulled in and how a lamp burns."""
    bench = Bench(van)
    assert measure(bench, "look", "K3:85").text == "at rest"
    assert measure(bench, "look", "E3:56b").text == "off"
    dip_beam(bench)

    assert measure(bench, "look", "K3:85").text == "pulled in"
    assert measure(bench, "look", "E3:56b").text == "full"


def test_there_is_nothing_to_see_on_a_bolt(van: Vehicle) -> None:
    """Looking elsewhere is refused, with what can be looked at."""
    with pytest.raises(
        NotPossibleError,
        match=r"^There is nothing to see on GP1\. "
        r"Look at a lamp, a motor, a relay or a fuse\.$",
    ):
        measure(Bench(van), "look", "GP1:31")


def test_looking_at_a_motor_and_a_horn() -> None:
    """A motor turns, the other way round backwards; a horn sounds."""
    motor = Motor(
        name="M1",
        supply="1",
        ground="2",
        rated_voltage=12.0,
        rated_current=8.0,
        stall_current=60.0,
    )
    horn = Horn(name="B1", supply="1", rated_voltage=12.0, rated_current=4.0)
    words = {}
    for plus, minus in (("1", "2"), ("2", "1")):
        feeds = [
            ("G1:+", f"M1:{plus}", 1e-3), (f"M1:{minus}", "G1:-", 1e-3),
            ("G1:+", "B1:1", 1e-3), ("B1:31", "G1:-", 3.0),
        ]  # fmt: skip
        bench = Bench(board(12.0, feeds, motor, horn))
        words[plus] = measure(bench, "look", "M1:1").text
        # Half of its voltage is left to the horn.
        assert measure(bench, "look", "B1:1").text == "weak"

    assert words == {"1": "turns", "2": "turns backwards"}


@pytest.mark.parametrize(
    ("light", "word"),
    [
        (0.0, "off"), (0.019, "off"), (0.02, "faint"), (0.199, "faint"),
        (0.2, "dim"), (0.599, "dim"), (0.6, "full"), (1.2, "full"),
    ],
)  # fmt: skip
def test_words_for_light(light: float, word: str) -> None:
    """Off, faint, dim and full meet at 0.02, 0.2 and 0.6 of rated light."""
    assert effect_word("light", light) == word


@pytest.mark.parametrize(
    ("what", "share", "word"),
    [
        ("turn", 0.0, "still"), ("turn", 0.2, "barely turns"), ("turn", 1.0, "turns"),
        ("turn", -1.0, "turns backwards"), ("turn", -0.01, "still"),
        ("heat", 0.01, "cold"), ("heat", 1.0, "hot"), ("sound", 0.1, "silent"),
        ("pull", 0.9, "pulls"), ("flash", 0.5, "flashes fast"),
        ("flash", 1.0, "flashes"),
    ],
)  # fmt: skip
def test_words_for_what_is_felt_and_heard(what: str, share: float, word: str) -> None:
    """What a motor, a heater, a horn, a solenoid or a flasher does, in a word."""
    assert effect_word(what, share) == word


# Millivolts, clamp, loads and small feeds


@pytest.mark.parametrize(
    ("ohms", "text"),
    [(0.01, "20.00 mV"), (0.05, "99.3 mV"), (1.0, "overload"), (1e-9, "0.00 mV")],
)
def test_millivolts_show_the_drop_of_a_joint(ohms: float, text: str) -> None:
    """12 V over 5.99 Ω and a joint: 20.00 mV of 10 mΩ; too much above 600 mV."""
    circuit = board(12.0, [("G1:+", "X1:1", ohms), ("X1:1", "G1:-", 5.99)])

    assert measure(Bench(circuit), "millivolts", "G1:+", "X1:1").text == text


@pytest.mark.parametrize(("ohms", "text"), [(6.0, "2.0 A"), (0.06, "200.0 A")])
def test_a_clamp_opens_nothing(ohms: float, text: str) -> None:
    """It goes round a wire and shows what flows in it, and which way."""
    circuit = board(12.0, [("G1:+", "X1:1", ohms), ("G1:-", "X1:1", 1e-9)])
    bench = Bench(circuit)

    shown = measure(bench, "clamp", "R1")

    assert (shown.text, shown.sentence) == (text, f"{text} from G1:+ to X1:1.")
    assert measure(bench, "clamp", "R2").text == f"-{text}"
    assert bench.incidents == []


def test_a_sound_battery_passes_the_load_test() -> None:
    """12.6 V over 6 + 30 mΩ: 10.50 V, above the 9.6 V of US Army TM 9-6115-730-24.

    An old one of 24 mΩ gives 7.00 V, and fails.
    """
    sound, old = (board(12.6, [], internal=ohms) for ohms in (6e-3, 24e-3))

    shown = measure(Bench(sound), "load_test", "G1:+", "G1:-")
    assert (shown.text, shown.verdict) == ("10.50 V", None)
    assert measure(Bench(old), "load_test", "G1:+", "G1:-").text == "7.00 V"


def test_a_load_test_across_two_batteries_blows_its_link() -> None:
    """25.2 V over 12 + 30 mΩ are 600 A, and it is made for some 350."""
    bench = Bench(board(25.2, [], internal=12e-3))

    assert measure(bench, "load_test", "G1:+", "G1:-").text == "link blown"
    assert [i.kind for i in bench.incidents] == ["tool_fuse"]


@pytest.mark.parametrize(("volts", "amps"), [(13.5, 5.5 / 13.5), (28.0, 7.7 / 28.0)])
def test_the_test_lamp_has_the_bulb_of_the_vehicle(volts: float, amps: float) -> None:
    """W5W of 12 or 24 V, by its objective power (UN Regulation 37, from memory)."""
    point = with_tool(board(volts, []), "test_lamp", "G1:+", "G1:-")

    assert point.current("tool") == pytest.approx(amps, rel=EXACT)
    assert measure(Bench(board(volts, [])), "test_lamp", "G1:+", "G1:-").text == (
        "bright"
    )


def test_an_led_test_lamp_asks_for_little() -> None:
    """It shines behind 1 kΩ, where a filament stays dark; behind 1 MΩ both are dark.

    It takes 5 mA of 12 V, either way round (2 to 20 mA are usual; common practice, no
    source).
    """
    words = {
        (tool, ohms): measure(
            Bench(board(12.0, [("G1:+", "X1:1", ohms)])), tool, "X1:1", "G1:-"
        ).text
        for tool in ("led_lamp", "test_lamp")
        for ohms in (1e-3, 1e3, 1e6)
    }

    assert words == {
        ("led_lamp", 1e-3): "bright", ("led_lamp", 1e3): "bright",
        ("led_lamp", 1e6): "off", ("test_lamp", 1e-3): "bright",
        ("test_lamp", 1e3): "off", ("test_lamp", 1e6): "off",
    }  # fmt: skip
    for a, b in (("G1:+", "G1:-"), ("G1:-", "G1:+")):
        point = with_tool(board(12.0, []), "led_lamp", a, b)
        assert -point.current("G1") == pytest.approx(5e-3, rel=0.01)


@pytest.mark.parametrize(("tool", "volts"), [("feed_5v", 5.0), ("feed_3v", 3.0)])
def test_a_small_feed_shows_small_currents(tool: str, volts: float) -> None:
    """A sensor of 999 Ω behind the feed's 1 Ω takes 5.0 or 3.0 mA."""
    circuit = board(12.0, [("X1:1", "G1:-", 999.0)])
    bench = Bench(circuit)

    assert measure(bench, tool, "X1:1", "G1:-").value == pytest.approx(volts / 1e3)
    assert bench.incidents == []


def test_a_small_feed_into_a_short_trips() -> None:
    """5 V on 2 Ω are more than its 0.1 A; the incident says what was done."""
    bench = Bench(board(12.0, [("X1:1", "G1:-", 1.0)]))

    assert measure(bench, "feed_5v", "X1:1", "G1:-").text == "tripped"
    (incident,) = bench.incidents
    assert incident.text.startswith("The 5 V feed met another supply or a short")


# All tools


def test_a_buzzing_relay_shows_nothing() -> None:
    """A relay that breaks its own coil through 87a buzzes; no display stands still."""
    buzzer = Relay(
        name="K1",
        label="buzzer",
        coil_resistance=85.0,
        pull_in=7.2,
        drop_out=2.4,
        changeover=True,
    )
    wires = [
        ("G1:+", "K1:30", 1e-3), ("K1:87a", "K1:86", 1e-3), ("K1:85", "G1:-", 1e-3),
    ]  # fmt: skip
    bench = Bench(board(12.0, wires, buzzer))

    shown = measure(bench, "volts", "K1:86", "G1:-")

    assert (shown.text, shown.value) == ("moving", None)
    assert "A relay buzzes." in bench.sights


def test_a_reading_needs_its_leads(van: Vehicle) -> None:
    """The missing lead is named, A before B."""
    bench = Bench(van)
    with pytest.raises(NotPossibleError, match=r"^No reading\. Lead A is not placed"):
        bench.read()
    bench.place("A", "G1:+")

    with pytest.raises(NotPossibleError, match=r"^No reading\. Lead B is not placed"):
        bench.read()


@given(st.floats(0.0, 30.0))
def test_tolerance_covers_the_meters_own_band(value: float) -> None:
    """Nobody is asked to tell apart what 0.5 % and 2 counts leave open.

    The band is a usual one (common practice, no source).
    """
    volts = 0.005 * value + 2 * (0.001 if value < 6.0 else 0.01)
    ohms = 0.005 * value + 2 * 0.1
    amps = 0.005 * value + 2 * 0.01

    assert tolerance("volts", value) > volts
    assert tolerance("ohms", value) > ohms
    assert tolerance("amps", value) > amps


@given(st.floats(1.0, 20.0), st.floats(1.0, 1e5), st.floats(1.0, 1e5))
def test_volts_are_those_of_a_loaded_divider(
    emf: float, upper: float, lower: float
) -> None:
    """Display is E · R / (R_upper + R) with R = R_lower ∥ 10 MΩ, to its last digit."""
    circuit = board(emf, [("G1:+", "X1:1", upper), ("X1:1", "G1:-", lower)])
    loaded = lower * 10e6 / (lower + 10e6)
    true = emf * loaded / (upper + loaded)

    shown = measure(Bench(circuit), "volts", "X1:1", "G1:-")

    assert shown.value is not None
    last_digit = 10.0 ** -len(shown.text.split(" ")[0].partition(".")[2])
    assert math.isclose(shown.value, true, abs_tol=0.51 * last_digit)
