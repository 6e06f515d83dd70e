"""Faults are found from the parts, leave no trace and show as physics has it."""

import dataclasses
import itertools
import math

import pytest

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
from ohmwork.parts import Body, Lamp, Splice, Wire
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


def drop(point: OperatingPoint, site: str) -> float:
    """Voltage lost along a site. [V]"""
    owner, role = branch_of(site)
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
