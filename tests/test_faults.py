"""Faults are found from the parts, leave no trace and show as physics has it."""

import dataclasses
import itertools
import math

import pytest

from boards import board, measure
from ohmwork.bench import Bench, true_state
from ohmwork.errors import QuantityError, UnknownNameError
from ohmwork.faults import (
    KINDS,
    RANGED,
    RESISTANCE_RANGES,
    Fault,
    inject,
    samples,
    sites,
    universe,
)
from ohmwork.network import OperatingPoint, operating_point
from ohmwork.parts import (
    Body,
    Fuse,
    Lamp,
    Module,
    ModulePin,
    Motor,
    Splice,
    Wire,
)
from ohmwork.vehicle import Vehicle, load_vehicle, vehicle_names

DAY = {"S1": "on", "S2": "day"}
SIDE = {"S1": "off", "S2": "side"}
DIP = {"S1": "on", "S2": "dip"}
OFF = {"S1": "off", "S2": "off"}
STATES = {"side": SIDE, "day": DAY, "dip": DIP}

BREAKS = ("open_circuit", "fuse_blown", "lamp_blown", "relay_coil_open")
"""Kinds that end a current path."""


@pytest.fixture(scope="module")
def van() -> Vehicle:
    """The healthy lighting board."""
    return load_vehicle("lighting_board")


def with_fault(
    van: Vehicle,
    kind: str,
    site: str,
    controls: dict[str, str],
    resistance: float | None = None,
) -> OperatingPoint:
    """Return the state of the van with one fault."""
    fault = Fault(kind=kind, site=site, resistance=resistance)
    return operating_point(inject(van, fault), controls=controls)


def lights(point: OperatingPoint) -> dict[str, float]:
    """Light of each lamp over its rated light. [-]"""
    return {lamp: float(point.output(lamp)) for lamp in ("E3", "E4", "E5", "E6")}


def valued(fault: Fault) -> Fault:
    """Return the fault with some resistance where its kind needs one."""
    return dataclasses.replace(fault, resistance=5.0) if fault.kind in RANGED else fault


# Where faults can be


def test_every_part_that_can_fail_has_a_site(van: Vehicle) -> None:
    """Only the body and the splices have none."""
    named = {site.partition(":")[0] for site in sites(van)}
    spared = {p.name for t in (Body, Splice) for p in van.of_type(t)}
    assert named == set(van.parts) - spared


def test_a_new_wire_brings_its_faults(van: Vehicle) -> None:
    """The universe is found from the parts: a wire more, its six faults more."""
    wire = Wire(
        name="W99",
        start="F10:2",
        end="SP1:1",
        colour="GY",
        area_mm2=1.0,
        length=0.5,
    )
    more = set(universe(van.with_part(wire))) - set(universe(van))
    assert more == {
        Fault(kind=kind, site="W99")
        for kind in (
            "open_circuit",
            "high_resistance",
            "resistance_under_load",
            "short_to_ground",
            "short_to_supply",
            "leakage",
        )
    }


def test_every_kind_occurs() -> None:
    """Some vehicle can have each kind of fault that the trade's words are given for."""
    vehicles = map(load_vehicle, vehicle_names())
    assert {fault.kind for v in vehicles for fault in universe(v)} == set(KINDS)


def test_only_the_kinds_asked_for(van: Vehicle) -> None:
    """A narrower universe holds the faults of these kinds and no other."""
    some = universe(van, ["lamp_blown"])
    assert [fault.site for fault in some] == [lamp.name for lamp in van.of_type(Lamp)]


def test_no_short_where_nothing_would_limit_it(van: Vehicle) -> None:
    """Wires on the battery's posts are spared from shorts."""
    shorts = universe(van, ["short_to_ground", "short_to_supply"])
    assert not {"W1", "W32"} & {fault.site for fault in shorts}


def test_no_short_of_a_rail_to_itself(van: Vehicle) -> None:
    """A wire on terminal 30 has no short to supply: it would change nothing."""
    on_rail = {
        wire.name
        for wire in van.of_type(Wire)
        if van.rails["30"] in (wire.start, wire.end)
    }
    assert on_rail
    shorts = universe(van, ["short_to_supply"])
    assert not on_rail & {fault.site for fault in shorts}


# Injecting and repairing


def test_injecting_leaves_the_vehicle_as_it_is(van: Vehicle) -> None:
    """Each fault gives another vehicle; the first stays equal to what was loaded."""
    fresh = load_vehicle("lighting_board")
    for fault in map(valued, universe(van)):
        assert inject(van, fault) != van
    assert van == fresh


def test_a_fault_touches_one_part(van: Vehicle) -> None:
    """All other parts of the faulty vehicle are the very same."""
    for fault in map(valued, universe(van)):
        faulty = inject(van, fault)
        changed = {n for n, p in faulty.parts.items() if van.parts.get(n) is not p}
        assert len(changed) == 1, fault


def test_repair_undoes_every_fault(van: Vehicle) -> None:
    """A repair at the fault's site makes the van as new; one elsewhere does nothing."""
    for fault in map(valued, universe(van)):
        bench = Bench(van, fault)
        bench.conclude([fault.answer])
        bench.repair("W5" if fault.site != "W5" else "W6")
        assert true_state(bench)[0] == inject(van, fault), fault
        bench.repair(fault.site)
        assert true_state(bench)[0] == van, fault


# What a healthy van does


@pytest.mark.parametrize(
    ("controls", "lit"),
    [
        (OFF, set()),
        (SIDE, {"E5", "E6"}),
        (DAY, {"E3", "E4"}),
        (DIP, {"E3", "E4", "E5", "E6"}),
        ({"S1": "off", "S2": "dip"}, {"E5", "E6"}),
    ],
)
def test_lamps_of_the_healthy_van(
    van: Vehicle, controls: dict[str, str], lit: set[str]
) -> None:
    """A lamp is lit when the switches ask for it, and otherwise gives no light at all.

    Lit means two thirds of the rated light or more: the harness may take 5 % of
    12.6 V, and the power 3.4 of 0.95 times 12.6 over 13.2 or 13.5 V is 0.67 at least.
    """
    for lamp, light in lights(operating_point(van, controls=controls)).items():
        assert light >= 0.66 if lamp in lit else light < 1e-9, lamp


# Symptoms follow from physics


def test_a_broken_path_darkens_a_lamp(van: Vehicle) -> None:
    """Nothing in the van is there for nothing: each break darkens some lamp.

    Open circuits, blown fuses and lamps, an open coil: all that carries current is in
    series with some lamp or with the relay that feeds it.
    """
    healthy = {k: lights(operating_point(van, controls=c)) for k, c in STATES.items()}
    for fault in universe(van, BREAKS):
        faulty = inject(van, fault)
        darkened = [
            (state, lamp)
            for state, controls in STATES.items()
            for lamp, light in lights(
                operating_point(faulty, controls=controls)
            ).items()
            if healthy[state][lamp] > 0.6 and light < 0.1
        ]
        assert darkened, fault.name(van)


@pytest.mark.parametrize(
    ("wire", "fuse", "dark"),
    [
        ("W16", "F11", {"E3"}),
        ("W17", "F11", {"E3"}),
        ("W24", "F12", {"E4"}),
        ("W14", "F10", {"E5", "E6"}),
        ("W9", "F1", {"E3", "E4", "E5", "E6"}),
    ],
)
def test_a_short_blows_the_fuse_before_it(
    van: Vehicle, wire: str, fuse: str, dark: set[str]
) -> None:
    """The last fuse before the short goes, and with it just what it feeds."""
    point = with_fault(van, "short_to_ground", wire, DIP)
    assert point.blown == {fuse}
    assert {lamp for lamp, light in lights(point).items() if light < 1e-9} == dark


def test_a_short_behind_an_open_switch_waits(van: Vehicle) -> None:
    """No current arrives there, so no fuse blows until the switch is closed."""
    assert with_fault(van, "short_to_ground", "W16", OFF).blown == frozenset()
    assert with_fault(van, "short_to_ground", "W16", DAY).blown == {"F11"}


def test_a_short_on_the_ground_side_shows_nowhere(van: Vehicle) -> None:
    """A ground wire on the sheet metal only shortens the way: lamps burn as before."""
    healthy = lights(operating_point(van, controls=DIP))
    faulty = lights(with_fault(van, "short_to_ground", "W23", DIP))
    # 4.5 mΩ of wire at 4.7 A are 20 mV, of 12 V 0.2 %, and light goes as 3.4 of it.
    assert faulty == pytest.approx(healthy, rel=0.01)


@pytest.mark.parametrize(
    ("wire", "lit"), [("W7", {"E3", "E4"}), ("W9", {"E3", "E4"}), ("W11", {"E5", "E6"})]
)
def test_a_short_to_supply_needs_no_switch(
    van: Vehicle, wire: str, lit: set[str]
) -> None:
    """What the wire feeds burns with everything switched off; by W7 the relay does."""
    point = with_fault(van, "short_to_supply", wire, OFF)
    assert {lamp for lamp, light in lights(point).items() if light > 0.6} == lit
    assert bool(point.relays["K3"]) == (wire == "W7")


def test_a_shared_ground_lost_makes_the_side_lamps_glow(van: Vehicle) -> None:
    """With W23 open in "day", current of E3 finds ground through E5 and E6 in series.

    It leaves SP7 backwards through E5, over SP1, and forwards through E6 to GP2. The
    two small lamps are equal and take all but what the big one needs at their current:
    half of 12.6 V each, at which they give (6.3 / 13.5)^3.4 = 0.075 of their light.
    The harness and E3 take up to 0.4 V, so up to 0.07 times 3.4 of the light.
    """
    point = with_fault(van, "open_circuit", "W23", DAY)
    seen = lights(point)
    current = point.current("E6")
    assert point.current("E5") == pytest.approx(-current)
    assert point.current("E3") == pytest.approx(current)
    assert seen["E5"] == pytest.approx(seen["E6"], rel=0.01)
    assert 0.75 * 0.075 <= seen["E6"] <= 0.075
    assert seen["E3"] < 1e-6
    assert seen["E4"] > 0.6


@pytest.mark.parametrize("site", ["W23", "GP1"])
def test_a_poor_shared_ground_dims_all_that_share_it(van: Vehicle, site: str) -> None:
    """A resistance that E3 and E5 return through dims both, and neither E4 nor E6."""
    healthy = lights(operating_point(van, controls=DIP))
    faulty = lights(with_fault(van, "high_resistance", site, DIP, 0.5))
    for lamp in ("E3", "E5"):
        assert faulty[lamp] < 0.8 * healthy[lamp]
    for lamp in ("E4", "E6"):
        assert faulty[lamp] >= healthy[lamp]


@pytest.mark.parametrize("site", ["W16", "X12:3", "W17", "W19", "X12:4", "W21"])
def test_resistance_acts_alike_on_either_side(van: Vehicle, site: str) -> None:
    """On the supply side and the ground side of E3 alone, one ohm takes as much.

    By hand: the lamp's current is (V / 13.2)^0.55 times 58 / 13.2 A, and V plus 1 Ω
    times it is what the lamp had before, give or take the harness's 0.05 Ω: 0.2 V.
    """
    before = lamp_voltage(operating_point(van, controls=DAY), "E3")
    volts = before
    for _ in range(50):
        volts = before - 58.0 / 13.2 * (volts / 13.2) ** 0.55
    point = with_fault(van, "high_resistance", site, DAY, 1.0)
    assert lamp_voltage(point, "E3") == pytest.approx(volts, abs=0.2)
    lost = point.current(*branch_of(site)) * 1.0
    assert drop(point, site) == pytest.approx(lost, rel=0.05)


def branch_of(site: str) -> tuple[str, str]:
    """Owner and role of the branch that a wire or a connector way is."""
    name, _, way = site.partition(":")
    return (name, f"seat {way}" if way else "")


def drop(point: OperatingPoint, site: str, part_of_it: str = "") -> float:
    """Voltage lost along a site, or along one branch of it. [V]"""
    owner, role = branch_of(site)
    role = part_of_it or role
    branch = next(b for b in point.branches if (b.owner, b.role) == (owner, role))
    return float(point.voltage(branch.a, branch.b))


def lamp_voltage(point: OperatingPoint, lamp: str) -> float:
    """Voltage at a dip lamp. [V]"""
    return float(point.voltage(f"{lamp}:56b", f"{lamp}:31"))


def test_a_blown_lamp_leaves_its_full_voltage(van: Vehicle) -> None:
    """No current, and across the break all that the battery has left of 12.6 V."""
    point = with_fault(van, "lamp_blown", "E3", DAY)
    assert point.current("E3") == 0.0
    assert lamp_voltage(point, "E3") > lamp_voltage(point, "E4")
    # What E4 draws, 4.3 A, runs through less than 50 mΩ of shared supply.
    assert 12.6 - 0.25 < lamp_voltage(point, "E3") < 12.6


def test_a_24_volt_lamp_on_12_volts(van: Vehicle) -> None:
    """It gives (V / 28)^3.4 of its light, about a sixteenth at 12.4 V."""
    point = with_fault(van, "wrong_lamp", "E3", DAY)
    assert lights(point)["E3"] == pytest.approx((12.4 / 28.0) ** 3.4, rel=0.05)


def test_an_open_coil_leaves_the_relay_at_rest(van: Vehicle) -> None:
    """The coil has its voltage and draws nothing; the dip beam stays dark."""
    point = with_fault(van, "relay_coil_open", "K3", DIP)
    assert not point.relays["K3"]
    assert point.voltage("K3:86", "K3:85") > 12.0
    assert point.current("K3", "coil") == 0.0
    seen = lights(point)
    assert max(seen["E3"], seen["E4"]) < 1e-9
    assert seen["E5"] > 0.6


def test_a_burnt_contact_dims_both_dip_lamps(van: Vehicle) -> None:
    """The relay pulls in all the same; what its contact loses both lamps lack."""
    point = with_fault(van, "relay_contact_burnt", "K3", DIP, 0.5)
    assert point.relays["K3"]
    seen = lights(point)
    assert seen["E3"] < 0.5
    assert seen["E4"] < 0.5
    assert seen["E5"] > 0.6


def test_a_worn_wire_hides_from_the_ohmmeter(van: Vehicle) -> None:
    """What is 0.1 Ω at a meter's milliampere resists several times as much under load.

    So the lamp is dim though ohms look good (common practice, no source).
    """
    cold = 0.1
    point = with_fault(van, "resistance_under_load", "W16", DIP, cold)
    hot = drop(point, "W16", "worn") / point.current("W16", "worn")
    bench = Bench(van, Fault(kind="resistance_under_load", site="W16", resistance=cold))
    bench.unplug("F11")
    bench.unplug("X12")
    shown = measure(bench, "ohms", "F11:2", "X12:3").value

    assert shown == pytest.approx(cold, abs=0.05)
    assert hot > 5.0 * cold
    assert lights(point)["E3"] < 0.6


def test_leakage_draws_by_ohms_law(van: Vehicle) -> None:
    """100 Ω to ground take 0.12 A of the fuse while the wire is live, else nothing."""
    lit = with_fault(van, "leakage", "W16", DIP, 100.0)
    path = "chafe of W16"
    assert lit.current(path) == pytest.approx(lit.voltage("F11:2") / 100.0, rel=1e-3)
    assert lit.current("F11") == pytest.approx(
        operating_point(van, controls=DIP).current("F11") + lit.current(path), rel=0.01
    )
    assert with_fault(van, "leakage", "W16", OFF, 100.0).current(path) < 1e-9


def test_ways_that_touch(van: Vehicle) -> None:
    """Feed and ground of the lamp meet in X12: F11 blows; through water it holds."""
    assert with_fault(van, "short_between", "X12:3-4", DIP).blown == {"F11"}
    wet = with_fault(van, "water_path", "X12:3-4", DIP, 1e3)
    assert wet.blown == frozenset()
    across = wet.voltage("X12:3", "X12:4")
    assert wet.current("chafe of X12:3-4") == pytest.approx(across / 1e3)


def test_what_stays_closed_stays_lit(van: Vehicle) -> None:
    """A welded relay lights the dip beam with all switched off; a stuck contact not.

    The stuck one is behind the ignition: with that on it lights the dip beam in "side".
    """
    welded = with_fault(van, "relay_contact_welded", "K3", OFF)
    assert {lamp for lamp, light in lights(welded).items() if light > 0.6} == {
        "E3",
        "E4",
    }
    stuck = [
        with_fault(van, "contact_stuck", "S2:15-56", controls)
        for controls in (OFF, {"S1": "on", "S2": "side"})
    ]
    assert [lights(point)["E3"] > 0.6 for point in stuck] == [False, True]


def test_a_coil_with_shorted_turns_draws_four_times_as_much(van: Vehicle) -> None:
    """A quarter of its resistance is left."""
    sound = operating_point(van, controls=DIP).current("K3", "coil")
    shorted = with_fault(van, "relay_coil_shorted", "K3", DIP).current("K3", "coil")
    assert shorted == pytest.approx(4.0 * sound, rel=0.02)


def test_a_diode_the_wrong_way_round_is_a_short(van: Vehicle) -> None:
    """Asked for, the relay blows the fuse of its coil and does not pull in."""
    point = with_fault(van, "diode_reversed", "K3", DIP)
    assert point.blown
    assert not point.relays["K3"]
    assert with_fault(van, "diode_reversed", "K3", OFF).blown == frozenset()


@pytest.mark.parametrize(
    ("kind", "volts"), [("cell_dead", 12.6 * 5 / 6), ("discharged", 11.94)]
)
def test_a_battery_at_rest_tells_its_state(
    van: Vehicle, kind: str, volts: float
) -> None:
    """Five cells of six; or 20 %, on a line from 11.7 V at 0 % to 12.0 V at 25 %.

    US Army TM 5-3805-262-20.
    """
    point = with_fault(van, kind, "G1", OFF)
    assert point.voltage("G1:+") == pytest.approx(volts, abs=1e-3)


def motor_point(kind: str | None) -> OperatingPoint:
    """Return the state of a fused 12 V motor of 8 A, 60 A held fast, with a fault."""
    motor = Motor(
        name="M1", supply="1", rated_voltage=12.0, rated_current=8.0, stall_current=60.0
    )
    fuse = Fuse(name="F1", rating=20.0, resistance=3.4e-3)
    feeds = [("G1:+", "F1:1", 1e-3), ("F1:2", "M1:1", 1e-3), ("M1:31", "G1:-", 1e-3)]
    circuit = board(12.6, feeds, motor, fuse, internal=6e-3)
    if kind is not None:
        circuit = inject(circuit, Fault(kind=kind, site="M1"))
    return operating_point(circuit)


def test_motors_fail_in_four_ways() -> None:
    """Worn it turns slowly; seized or shorted it blows its fuse; open it does nothing.

    Common practice, no source.
    """
    sound = motor_point(None)
    worn = motor_point("worn")
    assert sound.output("M1") == pytest.approx(1.0, abs=0.1)
    assert 0.2 < worn.output("M1") < 0.8 * sound.output("M1")
    assert motor_point("open_inside").current("M1") == 0.0
    for kind in ("seized", "shorted_inside"):
        assert motor_point(kind).blown == {"F1"}
        assert motor_point(kind).output("M1") == 0.0


def test_a_module_that_does_not_sleep_drains_the_battery() -> None:
    """Awake it takes 0.4 A, asleep 8 mA at 12 V, whatever its wake-up line says."""
    module = Module(
        name="A1", rated_voltage=12.0, works_from=6.0, sleep_current=8e-3,
        awake_current=0.4, pin_table=(ModulePin(name="8", does="input"),),
    )  # fmt: skip
    feeds = [("G1:+", "A1:30", 1e-3), ("A1:31", "G1:-", 1e-3), ("A1:15", "X1:1", 1e-3)]
    circuit = board(12.0, feeds, module)
    faulty = inject(circuit, Fault(kind="stays_awake", site="A1"))
    drawn = [-operating_point(v).current("G1") for v in (circuit, faulty)]
    assert drawn == pytest.approx([8e-3, 0.4], rel=0.01)


# Passing faults


def present(
    fault: Fault, *, moves: int = 0, is_warm: bool = False, is_running: bool = False
) -> bool:
    """Whether a fault is there; by default at rest, cold, with the engine stopped."""
    return fault.is_present(moves=moves, is_warm=is_warm, is_running=is_running)


def test_passing_faults_come_and_go() -> None:
    """Each shows at its own time, and one without a time always."""
    always, moved, warm, running = (
        Fault(kind="open_circuit", site="W16", when=when)
        for when in (None, "loom_moved", "warm", "engine_running")
    )
    assert present(always)
    assert not any(map(present, (moved, warm, running)))
    assert present(warm, is_warm=True)
    assert present(running, is_running=True)
    assert not present(warm, is_running=True)


@pytest.mark.parametrize("seed", range(20))
def test_a_loose_joint_shows_at_every_third_movement_at_the_latest(seed: int) -> None:
    """And the same seed gives the same story, which need not be that of another."""
    loose = Fault(kind="open_circuit", site="W16", when="loom_moved", seed=seed)
    story = [present(loose, moves=n) for n in range(1, 31)]
    assert all(any(story[k : k + 3]) for k in range(28))
    assert story == [present(loose, moves=n) for n in range(1, 31)]


def test_loose_joints_are_not_all_alike() -> None:
    """Over many seeds a movement shows the fault often, and not always."""
    shown = [
        present(
            Fault(kind="open_circuit", site="W16", when="loom_moved", seed=seed),
            moves=1,
        )
        for seed in range(200)
    ]
    assert 0.4 < sum(shown) / len(shown) < 0.8


def test_an_unknown_time_is_refused(van: Vehicle) -> None:
    """The error names those there are."""
    with pytest.raises(UnknownNameError, match=r"^No time for a fault 'at night'"):
        inject(van, Fault(kind="open_circuit", site="W16", when="at night"))


# Limits


@pytest.mark.parametrize("kind", sorted(RANGED))
def test_no_added_resistance_is_no_fault(van: Vehicle, kind: str) -> None:
    """At the limit where it is nothing, a ranged fault leaves the circuit as it is.

    Added in a path that is 0 Ω; as a path of its own 1 TΩ, which passes 12 pA.
    """
    site, ohms = {
        "high_resistance": ("W16", 0.0),
        "relay_contact_burnt": ("K3", 0.0),
        "resistance_under_load": ("W16", 0.0),
        "leakage": ("W16", 1e12),
        "water_path": ("X12:3-4", 1e12),
    }[kind]
    healthy = operating_point(van, controls=DIP)
    point = with_fault(van, kind, site, DIP, ohms)
    assert dict(point.voltages) == pytest.approx(dict(healthy.voltages), abs=1e-9)


def test_a_huge_resistance_is_an_open(van: Vehicle) -> None:
    """At its upper limit a high resistance and an open circuit are one and the same.

    A gigaohm passes 12 nA, which in any lamp is less than 1 µV.
    """
    opened = with_fault(van, "open_circuit", "W16", DIP)
    huge = with_fault(van, "high_resistance", "W16", DIP, 1e9)
    assert dict(huge.voltages) == pytest.approx(dict(opened.voltages), abs=1e-6)


# Ranges and words


def test_samples_span_the_range() -> None:
    """From the lowest resistance to the highest, in equal ratios."""
    ohms = [
        float(fault.resistance or math.nan)
        for fault in samples(Fault(kind="high_resistance", site="W5"), steps=7)
    ]
    low, high = RESISTANCE_RANGES["high_resistance"]
    assert ohms[0] == pytest.approx(low)
    assert ohms[-1] == pytest.approx(high)
    ratios = [b / a for a, b in itertools.pairwise(ohms)]
    assert ratios == pytest.approx([(high / low) ** (1 / 6)] * 6)


@pytest.mark.parametrize(
    "fault",
    [
        Fault(kind="open_circuit", site="W5"),
        Fault(kind="high_resistance", site="W5", resistance=3.0),
    ],
)
def test_a_fault_with_its_value_is_its_own_sample(fault: Fault) -> None:
    """There is nothing to choose."""
    assert samples(fault) == (fault,)


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (
            Fault(kind="high_resistance", site="W31", resistance=3.2),
            "wire W31 BN 2.5, SP8:1 to GP2:31: high resistance, 3.2 Ω",
        ),
        (
            Fault(kind="open_circuit", site="X12:3"),
            "left lamp connector X12, way 3: open circuit",
        ),
        (
            Fault(kind="open_circuit", site="S2:15-56"),
            "light switch S2, contact 15-56: open circuit",
        ),
        (Fault(kind="fuse_blown", site="F11"), "left dip fuse F11: fuse blown"),
        (
            Fault(kind="short_between", site="X12:3-4"),
            "left lamp connector X12, ways 3-4: short between circuits",
        ),
        (
            Fault(kind="open_circuit", site="GP1", when="loom_moved"),
            "left front ground point GP1: open circuit, only while the loom is moved",
        ),
    ],
)
def test_faults_in_a_technicians_words(van: Vehicle, fault: Fault, words: str) -> None:
    """The part, what it is and where it runs, and what is wrong with it."""
    assert fault.name(van) == words


# Errors


def test_an_unknown_site(van: Vehicle) -> None:
    """The error names the site."""
    with pytest.raises(UnknownNameError, match="No place for a fault 'X12:5'"):
        inject(van, Fault(kind="open_circuit", site="X12:5"))


@pytest.mark.parametrize(
    ("kind", "site", "possible"),
    [
        ("lamp_blown", "W16", "open_circuit, high_resistance, resistance_under_load"),
        ("short_to_ground", "W32", "open_circuit, high_resistance"),
        ("open_circuit", "F11", "fuse_blown, high_resistance"),
        ("loose", "K3", "relay_coil_open, relay_coil_shorted, relay_contact_burnt"),
        ("open_circuit", "X12:3-4", "short_between, water_path"),
    ],
)
def test_a_kind_that_cannot_be_there(
    van: Vehicle, kind: str, site: str, possible: str
) -> None:
    """The error names what is possible at this site."""
    with pytest.raises(UnknownNameError) as caught:
        inject(van, Fault(kind=kind, site=site))
    assert f"cannot have '{kind}'" in str(caught.value)
    assert f"Possible there: {possible}" in str(caught.value)


@pytest.mark.parametrize(
    ("kind", "site"), [("high_resistance", "W16"), ("relay_contact_burnt", "K3")]
)
def test_a_ranged_kind_needs_its_resistance(van: Vehicle, kind: str, site: str) -> None:
    """It can be concluded without a value, but not injected."""
    with pytest.raises(QuantityError, match=f"{kind} at {site} needs a resistance"):
        inject(van, Fault(kind=kind, site=site))
