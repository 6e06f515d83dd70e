"""Every relay, starter and flasher of both vehicles, its states worked by hand.

What pulls it in and what leaves it at rest, what its coil gets, what it needs, what
stops with it. A vehicle that gains one without a row here fails. Lamps, motors and
other loads: see `worked_by_hand`. All else stands in the vehicle files.
"""

from dataclasses import dataclass

import pytest

import ohmwork
from ohmwork.faults import Fault
from ohmwork.network import Network, OperatingPoint, Setup
from ohmwork.parts import Flasher, Relay, Starter
from worked_by_hand import (
    COIL,
    COIL_24,
    COIL_24_R,
    COIL_R,
    DIP,
    DRIVE,
    EVERYTHING,
    HEAD,
    ON,
    START,
    VEHICLES,
    State,
    assert_stops,
    at_work,
    each,
    sound,
    without,
)

TRIES = ((0.75, True, True), (0.40, False, True), (0.13, False, False))
"""Share of 12 V or 24 V left to a coil; whether it pulls in on it; whether it stays in.
The relays of both vehicles pull in at 0.60 and drop out at 0.20, their starters at 0.58
or 0.60 and 0.21 or 0.20."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayRow:
    """A relay, a starter's solenoid or a flasher."""

    name: str
    pulls: tuple[State, ...]
    """Positions that pull it in, all else at rest and the engine stopped."""
    rests: tuple[State, ...]
    """Positions that do not."""
    volts: float
    """At its coil in the first of `pulls`, by hand: ±0.05 V at 12 V, ±0.1 V at 24 V."""
    needs: tuple[str, ...]
    """Without any one of these it stays at rest in the first of `pulls`."""
    clicks_without: tuple[str, ...] = ()
    """Without these it pulls in, and nothing that it feeds works."""
    coil_wire: str
    """A wire that nothing but the coil is behind."""
    ohms: float = COIL
    """Of the coil, with its resistor. [Ω]"""
    stops: str
    """What stops in `EVERYTHING` and the first of `pulls` if that wire comes off."""


RELAYS = {
    # 12.6 V less 6.2 mΩ of battery and ground cable. Ignition on: fuel pump 6, seat pad
    # 4, modules 0.9, lamps and coils 1.3, together 12 A: 12.52 V at the plus post.
    # Cranking: starter 222, solenoid 10, pump 6, the rest 1 A: 11.1 V.
    "van": (
        RelayRow(
            name="K1", pulls=(ON, START), rests=({}, {"S2": "dip", "S4": "pressed"}),
            volts=12.5, needs=("F1", "W8", "W9"), clicks_without=("F3", "W10"),
            coil_wire="W9",
            stops="K12 E10 E12 E16 E17 H3 H5 M2 M3 M5 M6 Y1",
        ),
        RelayRow(  # it sheds its loads while the engine is cranked
            name="K2", pulls=(ON,), rests=({}, START),
            volts=12.5, needs=("F1", "W11", "W12"), clicks_without=("F3", "W13"),
            coil_wire="W12",
            stops="M4 M7 E24 E25 E26 E27",
        ),
        RelayRow(  # dip lamps 8.7 A more: 12.60 - 0.13 - 0.01 - 0.01 V
            name="K3", pulls=(DIP, ON | {"S2": "day"}, DIP | {"S3": "main"}),
            rests=(ON, {"S2": "dip"}, ON | {"S2": "side"}, ON | {"S3": "flash"}),
            volts=12.45, needs=("F1", "X4", "W40", "W46"), clicks_without=("W43",),
            coil_wire="W46",
            stops="E3 E4 E18",
        ),
        RelayRow(  # flash is fed from terminal 30: 10.4 A, 12.60 - 0.08 - 0.01 V
            name="K4", pulls=({"S3": "flash"}, DIP | {"S3": "main"}),
            rests=(DIP, {"S2": "dip", "S3": "main"}, ON | {"S2": "side", "S3": "main"}),
            volts=12.5, needs=("F1", "X4", "W41", "W62"), clicks_without=("W59",),
            coil_wire="W62",
            stops="E1 E2 H2",
        ),
        RelayRow(
            name="K5", pulls=(START,), rests=({}, ON),
            volts=11.1, needs=("F1", "W29", "W30"), clicks_without=("F4", "W28", "W31"),
            coil_wire="W30",
            stops="M1",
        ),
        RelayRow(  # horn 4.8 A: 12.60 - 0.03 - 0.05 - 0.02 - 0.01 V
            name="K6",
            pulls=({"S9": "pressed"}, ON | {"S9": "pressed"}), rests=({}, ON),
            volts=12.5, needs=("F3", "F22", "W143", "W144"), clicks_without=("W145",),
            coil_wire="W143", ohms=COIL_R,
            stops="H6",
        ),
        RelayRow(  # module's output 0.2 Ω · 0.15 A = 0.03 V, wires and fuses 0.04 V
            name="K7", pulls=(ON, START), rests=({}, {"B3": "hot"}),
            volts=12.45, needs=("F1", "F3", "F30", "F52", "F4", "W195", "W219"),
            clicks_without=("F51", "W220"),
            coil_wire="W219",
            stops="M6",
        ),
        RelayRow(  # rear window 16 A more: 12.60 - 0.18 - 0.03 - 0.04 - 0.03 - 0.01 V
            name="K8", pulls=(ON | {"S13": "on"},),
            rests=(ON, {"S13": "on"}, START | {"S13": "on"}),
            volts=12.3, needs=("F1", "F3", "F42", "W165"), clicks_without=("F43",),
            coil_wire="W165", ohms=COIL_R,
            stops="E24 E25 E26",
        ),
        RelayRow(  # fan 16.6 A more: 12.60 - 0.18 - 0.05 V, output 0.03 V
            name="K9", pulls=(ON | {"B3": "hot"},), rests=(ON, {"B3": "hot"}),
            volts=12.35, needs=("F3", "F4", "F30", "F52", "W195", "W211", "W214"),
            clicks_without=("F50", "W212"),
            coil_wire="W211", ohms=COIL_R,
            stops="M5",
        ),
        RelayRow(  # lock motors 7.2 A: 12.60 - 0.05 - 0.08 - 0.02 V
            name="K10", pulls=({"S15": "lock"}, ON | {"S15": "lock"}),
            rests=({}, ON, {"S15": "unlock"}),
            volts=12.45, needs=("F3", "F23", "W182"), clicks_without=("W179", "W186"),
            coil_wire="W182", ohms=COIL_R,
            stops="M8 M9",
        ),
        RelayRow(
            name="K11", pulls=({"S15": "unlock"}, ON | {"S15": "unlock"}),
            rests=({}, ON, {"S15": "lock"}),
            volts=12.45, needs=("F3", "F23", "W184"), clicks_without=("W180", "W185"),
            coil_wire="W184", ohms=COIL_R,
            stops="M8 M9",
        ),
        RelayRow(  # 49 to 31, two lamps 3.7 A: 12.60 - 0.10 - 0.08 - 0.09 V
            name="K12", pulls=(ON | {"S6": "left"}, ON | {"S6": "right"}, {"S7": "on"}),
            rests=({}, ON, {"S6": "left"}),
            volts=12.3, needs=("F3", "F32", "W103", "W104", "W105"),
            coil_wire="W103",
            stops="K12 E10 E12",
        ),
        RelayRow(  # 11.1 V less 0.04 V at F4, 0.13 V to the coil, 0.08 V of ground
            name="M1", pulls=(START,), rests=({}, ON),
            volts=10.85, needs=("F1", "F4", "K5", "W30", "W31"),
            clicks_without=("W26",),
            coil_wire="W31", ohms=1.1,
            stops="M1",
        ),
    ),
    # 25.2 V less 12.0 mΩ from ground to the main link's far end. Cranking: starter 255,
    # solenoid 16 A over 8.8 mΩ: 22.8 V at the main switch.
    "truck": (
        RelayRow(  # dip lamps 5.4 A, charge lamp and module 0.5 A: 25.2 - 0.07 - 0.02 V
            name="K1", pulls=(HEAD, {"S2": "start", "S3": "head"}),
            rests=(DRIVE, {"S3": "head"}, HEAD | {"S3": "side"}, HEAD | {"S4": "main"}),
            volts=25.1, needs=("F1", "F2", "F9", "W31", "W34"), clicks_without=("W36",),
            coil_wire="W34", ohms=COIL_24,
            stops="E1:56b E2:56b",
        ),
        RelayRow(
            name="K2", pulls=(HEAD | {"S4": "main"},),
            rests=(HEAD, {"S3": "head", "S4": "main"}, DRIVE | {"S4": "main"}),
            volts=25.1, needs=("F1", "F2", "F9", "W31", "W35"),
            clicks_without=("F12", "W37"),
            coil_wire="W35", ohms=COIL_24_R,
            stops="E1:56a E2:56a",
        ),
        RelayRow(  # in neutral alone
            name="K3", pulls=({"S2": "start", "S7": "neutral"},),
            rests=(
                {}, DRIVE, {"S2": "start", "S7": "forward"},
                {"S2": "start", "S7": "reverse"}, {"S1": "off", "S2": "start"},
            ),
            volts=22.75, needs=("F1", "F2", "W23", "W24", "W25"),
            clicks_without=("F4", "W27"),
            coil_wire="W24", ohms=COIL_24,
            stops="M1",
        ),
        RelayRow(  # horn and valve 4.5 A: 25.2 - 0.05 - 0.05 - 0.01 V
            name="K4", pulls=({"S11": "pressed"}, DRIVE | {"S11": "pressed"}),
            rests=({}, DRIVE, {"S1": "off", "S11": "pressed"}),
            volts=25.1, needs=("F1", "F5", "W131", "W132"), clicks_without=("W130",),
            coil_wire="W132", ohms=COIL_24_R,
            stops="P3 Y1",
        ),
        RelayRow(  # 49 to 31, three lamps 3.0 A: 25.2 - 0.04 - 0.10 V
            name="K6", pulls=(DRIVE | {"S6": "left"}, DRIVE | {"S6": "right"}),
            rests=({}, DRIVE, {"S6": "left"}),
            volts=25.05, needs=("F1", "F2", "F8", "W45", "W46", "W47"),
            coil_wire="W45",
            stops="K6 E9 E11 E16",
        ),
        RelayRow(  # 22.8 V less 0.13 V at F1 and F4, 0.32 V to it, 0.13 V of ground
            name="M1", pulls=({"S2": "start", "S7": "neutral"},),
            rests=({}, DRIVE, {"S2": "start", "S7": "forward"}),
            volts=22.2, needs=("F1", "F2", "F4", "K3", "W24", "W27"),
            clicks_without=("W4",),
            coil_wire="W27", ohms=1.4,
            stops="M1",
        ),
    ),
}  # fmt: skip

COILS = {
    vehicle: [r for r in rows if not isinstance(VEHICLES[vehicle][r.name], Flasher)]
    for vehicle, rows in RELAYS.items()
}
"""All but flashers."""


def is_in(point: OperatingPoint, name: str) -> bool:
    """Whether a relay is pulled in; a flasher, whether it flashes."""
    assert point.buzzing == 0.0
    if name in point.relays:
        return bool(point.relays[name])
    return bool(point.output(name) > 0.1)


def coil_volts(vehicle: str, point: OperatingPoint, name: str) -> float:
    """Return the voltage between a relay's coil pins, or what stands for them. [V]"""
    ends = {Relay: ("86p", "85p"), Starter: ("50", "31"), Flasher: ("49", "31")}
    a, b = ends[type(VEHICLES[vehicle][name])]
    return float(point.voltage(f"{name}:{a}", f"{name}:{b}"))


@each(RELAYS)
def test_positions_pull_a_relay_in_or_leave_it(vehicle: str, row: RelayRow) -> None:
    """It pulls in where its coil is fed on both sides, and nowhere else."""
    for state in row.pulls:
        assert is_in(sound(vehicle, state), row.name), state
    for state in row.rests:
        assert not is_in(sound(vehicle, state), row.name), state


@each(RELAYS)
def test_a_coil_gets_the_supply_less_the_drops(vehicle: str, row: RelayRow) -> None:
    """Battery voltage less what all current on the way makes of all resistance."""
    volts = coil_volts(vehicle, sound(vehicle, row.pulls[0]), row.name)

    assert volts == pytest.approx(row.volts, abs=0.1 if vehicle == "truck" else 0.05)


@each(RELAYS)
def test_a_relay_rests_without_any_one_need(vehicle: str, row: RelayRow) -> None:
    """A fuse, a connector, a wire or a module's ground away: no click."""
    for part in row.needs:
        assert not is_in(without(vehicle, part, row.pulls[0]), row.name), part


@each(RELAYS)
def test_a_click_does_not_prove_the_contact_circuit(
    vehicle: str, row: RelayRow
) -> None:
    """Coil and contact have feeds of their own: it clicks, and its loads are dead."""
    loads = at_work(sound(vehicle, row.pulls[0])) & set(row.stops.split())
    assert loads
    for part in row.clicks_without:
        point = without(vehicle, part, row.pulls[0])
        assert is_in(point, row.name), part
        assert not at_work(point) & loads, part


@each(RELAYS)
def test_with_a_relay_at_rest_just_its_loads_stop(vehicle: str, row: RelayRow) -> None:
    """With everything on, what its contact feeds stops, and all else goes on."""
    state = EVERYTHING[vehicle] | row.pulls[0]
    assert is_in(sound(vehicle, state), row.name)

    after = without(vehicle, row.coil_wire, state)
    assert not is_in(after, row.name)
    assert_stops(vehicle, state, after, row.stops)


@each(COILS)
def test_a_relay_holds_on_less_than_pulls_it_in(vehicle: str, row: RelayRow) -> None:
    """Ohms in the coil's wire, coil · (V/wanted - 1), leave it the wanted voltage.

    It pulls in on much of it; between both thresholds it stays as it was; on little it
    lets go.
    """
    state, nominal = row.pulls[0], 24.0 if vehicle == "truck" else 12.0
    before = sound(vehicle, state)
    for share, pulls_in, stays_in in TRIES:
        wanted = share * nominal
        ohms = row.ohms * (row.volts / wanted - 1.0)
        fault = Fault(kind="high_resistance", site=row.coil_wire, resistance=ohms)
        worn = ohmwork.inject(VEHICLES[vehicle], fault)
        from_rest = ohmwork.operating_point(worn, controls=state)
        once_in = Network(worn).settle(Setup(controls=state), start=before)
        assert is_in(from_rest, row.name) is pulls_in
        assert is_in(once_in, row.name) is stays_in
        if stays_in:
            volts = coil_volts(vehicle, once_in, row.name)
            assert volts == pytest.approx(wanted, rel=0.03)


def test_a_changeover_at_rest_grounds_its_motors() -> None:
    """The locks turn through one relay that is in and the other at rest."""
    lock, unlock = (sound("van", {"S15": way}) for way in ("lock", "unlock"))

    assert lock.output("M8") > 0.9
    assert unlock.output("M8") < -0.9
    assert abs(without("van", "K11", {"S15": "lock"}).output("M8")) < 0.02
    assert abs(without("van", "K10", {"S15": "unlock"}).output("M8")) < 0.02


@pytest.mark.parametrize("vehicle", RELAYS)
def test_every_relay_has_a_row(vehicle: str) -> None:
    """Each relay, starter and flasher just one."""
    parts = VEHICLES[vehicle].parts.values()
    relays = [p.name for p in parts if isinstance(p, Relay | Starter | Flasher)]

    assert sorted(row.name for row in RELAYS[vehicle]) == sorted(relays)
