"""Every fuse, link and module output of both vehicles, worked by hand.

What each feeds, what it carries when it carries most, what a dead short behind it lets
through and how soon it goes. A vehicle that gains one without a row here fails.

Sources. Lamps, motors and other loads: see `worked_by_hand`. *NBS 100*: NBS Handbook
100, copper of 17.24 mΩ·mm²/m; a good cable has 8 % more (assumed). Resistance and
melting I²t of blade fuses: from memory, ±15 % and ±50 %. *DIN 72581-3*: opening times
of large fuses. What is said of modules, flashers and regulators inside: assumed. All
else stands in the vehicle files.
"""

import dataclasses
from dataclasses import dataclass, field

import pytest

import ohmwork
from ohmwork.faults import Fault
from ohmwork.network import OperatingPoint
from ohmwork.network.arithmetic import Floats
from ohmwork.network.lowering import fuses_of
from ohmwork.parts import Fuse, FuseLink, Module, Wire
from ohmwork.vehicle import Vehicle
from worked_by_hand import (
    COIL,
    COIL_24_R,
    COIL_R,
    DIP,
    DRIVE,
    EVERYTHING,
    H1,
    H4_DIP_24,
    H4_MAIN_24,
    H7,
    HEAD,
    ON,
    P21W,
    P21W_24,
    R10W,
    T4W,
    T4W_24,
    TAIL,
    TAIL_24,
    VEHICLES,
    W5W,
    W5W_24,
    State,
    assert_stops,
    each,
    faulty,
    lamp,
    led,
    motor,
    ohmic,
    sound,
    without,
)

RUNNING = {
    "van": {"S1": "on", "D1": "fast", "B4": "pressure"},
    "truck": {"S2": "drive", "D1": "fast"},
}
"""The engine at speed: the alternator holds 14.2 V at the van's battery, 28.2 V at its
own terminal in the truck, less 0.4 V when it gives its most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseRow:
    """A fuse or a fusible link."""

    name: str
    rating: float
    """[A]"""
    on: State
    """What loads it most, on top of `RUNNING`."""
    amps: float
    """What it then carries, by hand to 2 %: what each load takes, added up."""
    milliohms: float
    """From the battery and back to the fuse's far terminal, by hand to 2 %."""
    fed: State = field(default_factory=dict)
    """What closes the way to it, the engine stopped."""
    stops: str
    """What stops in `EVERYTHING` and `on` if it blows; all else goes on."""


def cable(area: float, length: float) -> float:
    """Return the resistance of a cable of [mm²] and [m]. [mΩ] *NBS 100*"""
    return 17.24 * 1.08 * length / area


BLADE = {
    rating: resistance + 2.0
    for rating, resistance in (
        (2, 53.0), (5, 17.9), (7.5, 10.9), (10, 7.7),
        (15, 4.8), (20, 3.4), (25, 2.5), (30, 2.0),
    )
}  # fmt: skip
"""Rating of a blade fuse [A] to its resistance with both seats. [mΩ]"""

MELTS = {
    2: 3.2, 5: 20.0, 7.5: 56.0, 10: 100.0, 15: 300.0, 20: 500.0, 25: 970.0, 30: 1400.0,
}  # fmt: skip
"""Rating of a blade fuse [A] to its melting I²t. [A²s] Those of 2, 7.5 and 25 A from
their neighbours, as the square of the rating."""

LINK_TIME = 60.0
"""A link melts after this, times (1.1 · rating / current)², 1.1 times being what it
holds. [s] Assumed."""

VOLTS = {"van": 12.6, "truck": 2 * 12.6}
"""Of the batteries at rest."""

CONTACT, SHORT = 3.0 + 2.0, 20.0
"""Of a relay with both seats; of bare strands on sheet metal. [mΩ]"""

# The van, from ground through the battery to each row of fuses [mΩ].
MINUS = 6.0 + cable(35, 0.4)
F1_OUT = MINUS + cable(16, 0.5) + 0.9
F3_OUT = MINUS + cable(16, 0.5) + 0.7
F4_OUT = MINUS + cable(10, 0.5) + 1.5
F43_IN = F3_OUT + cable(10, 1.2)
F20_IN = F43_IN + cable(6, 0.1)
F22_IN = F20_IN + cable(6, 0.1)
F23_IN = F22_IN + cable(4, 0.1)
F25_IN = F23_IN + cable(4, 0.1)
F33_IN = F3_OUT + cable(6, 1.2) + CONTACT + cable(6, 0.2)
F32_IN = F33_IN + cable(4, 0.1)
F31_IN = F32_IN + cable(4, 0.1)
F30_IN = F31_IN + cable(4, 0.1)
F40_IN = F3_OUT + cable(10, 1.2) + CONTACT + cable(10, 0.2)
F41_IN = F40_IN + cable(6, 0.1)
F42_IN = F41_IN + cable(4, 0.1)
F11_IN = F1_OUT + cable(4, 0.6) + CONTACT + cable(2.5, 0.4)  # as F14
F12_IN = F11_IN + cable(2.5, 0.1)  # as F15
F10_IN = F1_OUT + cable(2.5, 1.9) + 5.0 + cable(1.5, 1.4) + 2.0 + cable(1.5, 0.9)
F44_IN = F43_IN + BLADE[30] + cable(4, 0.2) + CONTACT + cable(4, 0.1)

# The truck.
MAIN = 2 * 4.0 + 0.1 + cable(70, 0.6 + 0.4 + 0.8) + 0.2
T1_OUT = MAIN + cable(16, 2.0) + 0.9
T2_IN = T1_OUT + cable(10, 0.3)
T3_IN = T2_IN + cable(6, 0.1)
T4_IN = T3_IN + cable(6, 0.1)
T5_IN = T4_IN + cable(4, 0.1)
T6_IN = T5_IN + cable(2.5, 0.1)
T16_IN = T2_IN + BLADE[30] + cable(6, 1.2) + 4.0 + cable(6, 1.2)
T15_IN = T16_IN + cable(4, 0.1)
T7_IN = T15_IN + cable(4, 0.1)
T8_IN = T7_IN + cable(2.5, 0.1)
T9_IN = T8_IN + cable(2.5, 0.1)
T10_IN = T1_OUT + cable(4, 0.3) + CONTACT + cable(2.5, 0.2)  # as F12
T11_IN = T10_IN + cable(2.5, 0.1)
T13_IN = T3_IN + BLADE[10] + cable(2.5, 1.4) + 5.0 + cable(2.5, 1.0)
T14_IN = T13_IN + cable(1.5, 0.1)

FUSES = {
    # 14.2 V at the battery less 0.1 V of the alternator's droop for 30 A; then what
    # fuse, wires and grounds take.
    "van": (
        FuseRow(  # dip, main, side lamps, fog lamp, tell-tale, coils of K1 to K4
            name="F1", rating=80, on={"S2": "dip", "S3": "main", "S8": "on"},
            amps=2 * lamp(H7, 13.7) + 2 * lamp(H1, 13.55) + 3 * lamp(W5W, 13.85)
            + 2 * lamp(TAIL, 13.85) + lamp(P21W, 13.3) + 0.02 + 4 * 13.9 / COIL,
            milliohms=F1_OUT,
            stops="E1 E2 E3 E4 E5 E6 E7:58 E8:58 E14 E18 H2 K12 E10 E12 E16 E17 H3 H5 "
            "M2 M3 M4 M5 M6 M7 E24 E25 E26 E27 Y1",
        ),
        FuseRow(  # the alternator's limit: everything together would take 137 A
            name="F2", rating=150, on=EVERYTHING["van"],
            amps=120.0,
            milliohms=MINUS + cable(25, 0.5) + 0.4,
            stops="",
        ),
        FuseRow(  # all that is not on F1 and F4: the sums of F20 to F43, 0.4 V lower
            name="F3", rating=100,
            on={
                "S4": "pressed", "S5": "reverse", "S7": "on", "S9": "pressed",
                "S10": "fast", "S11": "pressed", "S12": "4", "S13": "on", "S14": "up",
                "S15": "lock", "S17": "open", "S19": "open", "B2": "full",
                "B4": "no pressure", "B5": "hot",
            },
            amps=7.7 + 9.4 + 7.5 + 3.2 + 17.0  # F20, F22, F23, F25, F43
            + 1.3 + 4.5 + 9.6  # F30, F31, F33
            + 14.0 + 8.0 + 4.7,  # F40, F41, F42
            milliohms=F3_OUT,
            stops="K12 E10 E11 E12 E13 E7:54 E8:54 E9 H6 M8 M9 E21 E22 E23 Y2 "
            "E16 E17 H3 H5 M2 M3 M5 M6 Y1 M4 M7 E24 E25 E26 E27",
        ),
        FuseRow(  # cranked while hot: battery at 11.0 V; solenoid, fan, pump, module
            name="F4", rating=50, on={"S1": "start", "B3": "hot"},
            amps=10.8 / 1.1 + motor(17, 13, 10.85) + motor(6, 12, 10.8)
            + ohmic(0.6, 12, 11.0),
            milliohms=F4_OUT,
            stops="M1 M5 M6 H3 Y1",
        ),
        FuseRow(  # the regulator's own 2 kΩ (assumed); no load hangs on it
            name="F6", rating=2, on={},
            amps=14.2 / 2000.0,
            milliohms=MINUS + cable(1, 0.4) + BLADE[2],
            stops="",
        ),
        FuseRow(  # 3 · 0.41 + 2 · 0.50
            name="F10", rating=5, on={"S2": "side"}, fed={"S2": "side"},
            amps=3 * lamp(W5W, 13.9) + 2 * lamp(TAIL, 13.9),
            milliohms=F10_IN + BLADE[5],
            stops="E5 E6 E7:58 E8:58 E14",
        ),
        FuseRow(
            name="F11", rating=10, on={"S2": "dip"}, fed=DIP,
            amps=lamp(H7, 13.8),
            milliohms=F11_IN + BLADE[10],
            stops="E3",
        ),
        FuseRow(
            name="F12", rating=10, on={"S2": "dip", "S8": "on"}, fed=DIP,
            amps=lamp(H7, 13.7) + lamp(P21W, 13.4),
            milliohms=F12_IN + BLADE[10],
            stops="E4 E18",
        ),
        FuseRow(
            name="F14", rating=10, on={"S2": "dip", "S3": "main"}, fed={"S3": "flash"},
            amps=lamp(H1, 13.6) + 0.02,
            milliohms=F11_IN + BLADE[10],
            stops="E1 H2",
        ),
        FuseRow(
            name="F15", rating=10, on={"S2": "dip", "S3": "main"}, fed={"S3": "flash"},
            amps=lamp(H1, 13.55),
            milliohms=F12_IN + BLADE[10],
            stops="E2",
        ),
        FuseRow(  # hazard: four lamps, and the flasher's 1 kΩ (assumed)
            name="F20", rating=15, on={"S7": "on"},
            amps=4 * lamp(P21W, 13.4) + 0.014,
            milliohms=F20_IN + BLADE[15],
            stops="K12 E10 E11 E12 E13",
        ),
        FuseRow(  # two stop lamps and the high one; horn and its relay
            name="F22", rating=15, on={"S4": "pressed", "S9": "pressed"},
            amps=2 * lamp(P21W, 13.55) + led(0.25, 13.5, 8.0, 13.6)
            + ohmic(5, 13, 13.8) + 14.0 / COIL_R,
            milliohms=F22_IN + BLADE[15],
            stops="E7:54 E8:54 E9 H6",
        ),
        FuseRow(
            name="F23", rating=15, on={"S15": "lock"},
            amps=2 * motor(3.5, 12, 13.65) + 14.0 / COIL_R,
            milliohms=F23_IN + BLADE[15],
            stops="M8 M9",
        ),
        FuseRow(  # interior lamp, module, load-space lamp, step lamp, heater valve
            name="F25", rating=7.5, on={"S17": "open", "S19": "open", "B5": "hot"},
            amps=lamp(R10W, 13.95) + ohmic(0.25, 12, 14.0) + led(0.8, 13.5, 9.0, 13.85)
            + lamp(W5W, 13.95) + ohmic(0.8, 12, 13.85),
            milliohms=F25_IN + BLADE[7.5],
            stops="E21 E22 E23 Y2",
        ),
        FuseRow(  # boost valve, coils of fan and pump relay; the module's wake-up 10 kΩ
            name="F30", rating=5, on={"B2": "full", "B3": "hot"}, fed=ON,
            amps=ohmic(1, 12, 13.7) + 14.0 / COIL_R + 14.0 / COIL + 0.001,
            milliohms=F30_IN + BLADE[5],
            stops="M5 M6 H3 Y1",
        ),
        FuseRow(  # reversing lamps; engine warning and oil pressure lamp
            name="F31", rating=10, on={"S5": "reverse", "B4": "no pressure"}, fed=ON,
            amps=2 * lamp(P21W, 13.5) + 2 * lamp(T4W, 13.9),
            milliohms=F31_IN + BLADE[10],
            stops="E16 E17 H3 H5",
        ),
        FuseRow(
            name="F32", rating=10, on={"S6": "left"}, fed=ON,
            amps=2 * lamp(P21W, 13.65) + 0.014,
            milliohms=F32_IN + BLADE[10],
            stops="K12 E10 E12",
        ),
        FuseRow(  # the fast winding takes 1.4 times the slow one (assumed)
            name="F33", rating=15, on={"S10": "fast", "S11": "pressed"}, fed=ON,
            amps=motor(1.4 * 5, 13, 13.6) + motor(2.5, 13, 13.75),
            milliohms=F33_IN + BLADE[15],
            stops="M2 M3",
        ),
        FuseRow(
            name="F40", rating=25, on={"S12": "4"}, fed=ON,
            amps=motor(14, 13, 13.5),
            milliohms=F40_IN + BLADE[25],
            stops="M4",
        ),
        FuseRow(
            name="F41", rating=20, on={"S14": "up"}, fed=ON,
            amps=motor(8, 13, 13.5),
            milliohms=F41_IN + BLADE[20],
            stops="M7",
        ),
        FuseRow(  # seat pad; with the coil of K8 the rear window goes too
            name="F42", rating=15, on={"S13": "on"}, fed=ON,
            amps=ohmic(4, 12, 13.9) + 13.9 / COIL_R,
            milliohms=F42_IN + BLADE[15],
            stops="E24 E25 E26 E27",
        ),
        FuseRow(  # self-limiting mirrors take hardly more at more voltage
            name="F43", rating=30, on={"S13": "on"},
            amps=ohmic(14, 13, 13.5) + 2 * 1.4,
            milliohms=F43_IN + BLADE[30],
            stops="E24 E25 E26",
        ),
        FuseRow(
            name="F44", rating=7.5, on={"S13": "on"}, fed=ON | {"S13": "on"},
            amps=2 * 1.4,
            milliohms=F44_IN + BLADE[7.5],
            stops="E25 E26",
        ),
        FuseRow(
            name="F50", rating=30, on={"B3": "hot"},
            amps=motor(17, 13, 13.65),
            milliohms=F4_OUT + cable(4, 0.2) + BLADE[30],
            stops="M5",
        ),
        FuseRow(
            name="F51", rating=15, on={},
            amps=motor(6, 12, 13.7),
            milliohms=F4_OUT + cable(2.5, 0.2) + BLADE[15],
            stops="M6",
        ),
        FuseRow(
            name="F52", rating=7.5, on={},
            amps=ohmic(0.6, 12, 14.1),
            milliohms=F4_OUT + cable(2.5, 0.2) + BLADE[7.5],
            stops="M5 M6 H3 Y1",
        ),
    ),
    # 28.2 V at the alternator; to the main link's far end 10 mΩ: 27.8 V with everything
    # on, else 28.1 V.
    "truck": (
        FuseRow(  # F2, F3, F5, F6 and F12, all 0.3 V lower
            name="F1", rating=80, on=EVERYTHING["truck"] | {"S4": "main"},
            amps=23.1 + 2.65 + 5.0 + 2.75 + 6.0,
            milliohms=T1_OUT,
            stops="E1:56a E2:56a E3 E4 E5 E6 E7:54 E7:58 E8:54 E8:58 E14:54 E14:58 "
            "E15:54 E15:58 K6 E9 E11 E16 E13 P2 M2 M3 E18 P3 Y1 Y2 Y3",
        ),
        FuseRow(  # F7, F8, F9, F15 and F16, 0.3 V lower
            name="F2", rating=30, on=EVERYTHING["truck"] | {"S4": "main"},
            amps=4.15 + 4.5 + 0.1 + 3.7 + 10.65,
            milliohms=T2_IN + BLADE[30],
            stops="E1:56a E2:56a E7:54 E8:54 E14:54 E15:54 K6 E9 E11 E16 E13 P2 M2 M3 "
            "E18 Y2 Y3",
        ),
        FuseRow(  # four of 5 W, four tail filaments
            name="F3", rating=10, on={"S3": "side"},
            amps=4 * lamp(W5W_24, 27.95) + 4 * lamp(TAIL_24, 27.9),
            milliohms=T3_IN + BLADE[10],
            stops="E3 E4 E5 E6 E7:58 E8:58 E14:58 E15:58",
        ),
        FuseRow(  # solenoid while cranking
            name="F4", rating=30, on={"S2": "start", "S7": "neutral"},
            amps=22.2 / 1.4,
            milliohms=T4_IN + BLADE[30],
            stops="M1",
        ),
        FuseRow(  # horn, air horn valve, coil of K4
            name="F5", rating=10, on={"S11": "pressed"},
            amps=ohmic(3.5, 24, 27.75) + ohmic(0.8, 24, 27.7) + 28.0 / COIL_24_R,
            milliohms=T5_IN + BLADE[10],
            stops="P3 Y1",
        ),
        FuseRow(  # module, differential lock valve, full-load valve
            name="F6", rating=7.5, on={"S12": "on", "B1": "full"},
            amps=ohmic(0.3, 24, 28.1) + ohmic(1.2, 24, 27.8) + ohmic(0.9, 24, 27.9),
            milliohms=T6_IN + BLADE[7.5],
            stops="Y2 Y3",
        ),
        FuseRow(
            name="F7", rating=10, on={"S5": "pressed"}, fed=DRIVE,
            amps=2 * lamp(P21W_24, 27.5) + 2 * lamp(P21W_24, 27.2),
            milliohms=T7_IN + BLADE[10],
            stops="E7:54 E8:54 E14:54 E15:54",
        ),
        FuseRow(  # three indicators, reversing lamp and buzzer, flasher's 1 kΩ
            name="F8", rating=10, on={"S6": "left", "S7": "reverse"}, fed=DRIVE,
            amps=lamp(P21W_24, 27.7) + lamp(P21W_24, 27.5) + lamp(P21W_24, 27.3)
            + lamp(P21W_24, 27.65) + ohmic(0.3, 24, 27.6) + 0.028,
            milliohms=T8_IN + BLADE[10],
            stops="K6 E9 E11 E16 E13 P2",
        ),
        FuseRow(  # before starting: charge lamp in series with 10 Ω, so 23.2 V on it;
            # coil of K2; two module inputs of 10 kΩ (assumed)
            name="F9", rating=5, fed=DRIVE,
            on={"D1": "stopped", "S3": "head", "S4": "main", "S12": "on"},
            amps=lamp(T4W_24, 23.2) + 25.0 / COIL_24_R + 2 * 25.0 / 10e3,
            milliohms=T9_IN + BLADE[5],
            stops="P1 E1:56a E2:56a Y2 Y3",
        ),
        FuseRow(
            name="F10", rating=5, on={"S3": "head"}, fed=HEAD,
            amps=lamp(H4_DIP_24, 27.85),
            milliohms=T10_IN + BLADE[5],
            stops="E1:56b",
        ),
        FuseRow(
            name="F11", rating=5, on={"S3": "head"}, fed=HEAD,
            amps=lamp(H4_DIP_24, 27.8),
            milliohms=T11_IN + BLADE[5],
            stops="E2:56b",
        ),
        FuseRow(  # one fuse for both
            name="F12", rating=10,
            on={"S3": "head", "S4": "main"}, fed=HEAD | {"S4": "main"},
            amps=2 * lamp(H4_MAIN_24, 27.75),
            milliohms=T10_IN + BLADE[10],
            stops="E1:56a E2:56a",
        ),
        FuseRow(
            name="F13", rating=5, on={"S3": "side"}, fed={"S3": "side"},
            amps=2 * lamp(W5W_24, 27.95) + 2 * lamp(TAIL_24, 27.9),
            milliohms=T13_IN + BLADE[5],
            stops="E3 E5 E7:58 E14:58",
        ),
        FuseRow(
            name="F14", rating=5, on={"S3": "side"}, fed={"S3": "side"},
            amps=2 * lamp(W5W_24, 27.95) + 2 * lamp(TAIL_24, 27.9),
            milliohms=T14_IN + BLADE[5],
            stops="E4 E6 E8:58 E15:58",
        ),
        FuseRow(
            name="F15", rating=10, on={"S8": "fast"}, fed=DRIVE,
            amps=motor(1.4 * 2.5, 24, 27.8),
            milliohms=T15_IN + BLADE[10],
            stops="M2",
        ),
        FuseRow(
            name="F16", rating=20, on={"S9": "3", "S10": "on"}, fed=DRIVE,
            amps=motor(8, 26, 27.55) + 2.5,
            milliohms=T16_IN + BLADE[20],
            stops="M3 E18",
        ),
    ),
}  # fmt: skip


# Outputs of modules that shut off
# --------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputRow:
    """An output of a module, which shuts off when it carries too much."""

    name: str
    on: State
    """What turns it on, the engine stopped."""
    amps: float
    """What it then carries, by hand to 2 %."""
    limit: float
    """[A]"""
    wire: str
    """From its pin, or from the load that it grounds."""
    short: str
    """Overloads it: to ground where it feeds a load, to supply where it grounds one."""
    stops: str
    """What then stops in `EVERYTHING` and `on`."""


OUTPUTS = {
    "van": (
        OutputRow(
            name="A1:6", on=ON | {"B3": "hot"}, amps=12.35 / COIL_R, limit=1.0,
            wire="W211", short="short_to_supply", stops="M5",
        ),
        OutputRow(
            name="A1:7", on=ON, amps=12.45 / COIL, limit=1.0,
            wire="W219", short="short_to_supply", stops="M6",
        ),
        OutputRow(  # 12 Ω
            name="A1:8", on=ON | {"B2": "full"}, amps=12.2 / 12.0, limit=3.0,
            wire="W207", short="short_to_supply", stops="Y1",
        ),
        OutputRow(
            name="A1:9", on=ON, amps=lamp(T4W, 12.35), limit=1.0,
            wire="W205", short="short_to_supply", stops="H3",
        ),
        OutputRow(  # 12.52 - 0.05 V at the module, 0.11 V on output, wires and ground
            name="A2:3", on=ON | {"S19": "open"},
            amps=led(0.8, 13.5, 9.0, 12.36), limit=5.0,
            wire="W234", short="short_to_ground", stops="E23",
        ),
        OutputRow(
            name="A2:4", on=ON | {"S18": "open"}, amps=lamp(W5W, 12.4), limit=5.0,
            wire="W236", short="short_to_ground", stops="E22",
        ),
        OutputRow(  # 15 Ω
            name="A2:8", on=ON | {"B5": "hot"}, amps=12.3 / 15.0, limit=3.0,
            wire="W241", short="short_to_ground", stops="Y2",
        ),
    ),
    "truck": (
        OutputRow(  # 20 Ω
            name="A1:5", on=DRIVE | {"S12": "on"}, amps=24.9 / 20.0, limit=5.0,
            wire="W146", short="short_to_ground", stops="Y2",
        ),
        OutputRow(  # 26.7 Ω
            name="A1:6", on=DRIVE | {"B1": "full"}, amps=25.0 * 0.9 / 24.0, limit=5.0,
            wire="W148", short="short_to_ground", stops="Y3",
        ),
    ),
}  # fmt: skip


# How the tables are tried
# ------------------------


def short_behind(vehicle: Vehicle, fuse: str) -> Vehicle:
    """Return the vehicle with a dead short to ground at a fuse's far terminal."""
    wire = next(w.name for w in vehicle.of_type(Wire) if w.start == f"{fuse}:2")
    return ohmwork.inject(vehicle, Fault(kind="short_to_ground", site=wire))


def unmelted(vehicle: Vehicle, state: State) -> OperatingPoint:
    """Return a state before any fuse has had time to melt."""
    for fuse in vehicle.of_type(Fuse):
        vehicle = vehicle.with_part(dataclasses.replace(fuse, rating=1e6))
    return ohmwork.operating_point(vehicle, controls=state)


def melting_time(point: OperatingPoint, fuse: Fuse) -> float:
    """Return how soon a fuse melts. [s]"""
    (law,) = fuses_of(fuse)
    return float(law.melting_time(point.current(fuse.name), Floats))


@each(FUSES)
def test_a_blown_fuse_stops_just_its_loads(vehicle: str, row: FuseRow) -> None:
    """With everything on, what it feeds stops, and all else goes on."""
    state = EVERYTHING[vehicle] | row.on

    assert_stops(vehicle, state, without(vehicle, row.name, state), row.stops)


@each(FUSES)
def test_a_fuse_carries_the_sum_of_its_loads(vehicle: str, row: FuseRow) -> None:
    """At its most it carries what its loads take together, and less than its rating."""
    point = sound(vehicle, RUNNING[vehicle] | row.on)

    assert abs(point.current(row.name)) == pytest.approx(row.amps, rel=0.02)
    assert row.amps < row.rating
    assert not point.blown


@each(FUSES)
def test_a_dead_short_blows_its_own_fuse_alone(vehicle: str, row: FuseRow) -> None:
    """Battery voltage over all resistance flows; no other is due within twice its time.

    It melts after its melting I²t over the current squared, within a factor of two.
    *DIN 72581-3*: a link within 60 s at twice its rating, within 7 s at 3.5 times.
    """
    intact = VEHICLES[vehicle]
    shorted = short_behind(intact, row.name)
    amps = VOLTS[vehicle] / (row.milliohms + SHORT) * 1e3

    point = unmelted(shorted, row.fed)
    assert point.current(row.name) == pytest.approx(amps, rel=0.02)
    times = {fuse.name: melting_time(point, fuse) for fuse in intact.of_type(Fuse)}
    own = times.pop(row.name)
    if isinstance(intact[row.name], FuseLink):
        by_hand = LINK_TIME * (1.1 * row.rating / amps) ** 2
        assert amps > 2.0 * row.rating
        assert own < (7.0 if amps > 3.5 * row.rating else 60.0)
    else:
        by_hand = MELTS[row.rating] / amps**2
    assert 0.5 * by_hand < own < 2.0 * by_hand
    assert min(times.values()) > 2.0 * own
    assert ohmwork.operating_point(shorted, controls=row.fed).blown == {row.name}


def test_without_the_alternator_link_the_battery_feeds_all() -> None:
    """No load stops, but 14.2 V become the battery's 12.6 V, less 6 mΩ · 13 A."""
    point = without("van", "F2", RUNNING["van"])

    assert sound("van", RUNNING["van"]).voltage("G1:+") == pytest.approx(14.2, abs=0.1)
    assert point.voltage("G1:+") == pytest.approx(12.5, abs=0.05)
    assert point.current("F1") > 0.0


def test_without_the_sense_fuse_the_alternator_overcharges() -> None:
    """It makes up for what it does not sense, by 1.5 V at most (assumed).

    14.2 + 1.5 V less 0.1 V of droop for 30 A; above 15 V is overcharging (common
    practice, no source).
    """
    point = without("van", "F6", RUNNING["van"])

    assert point.voltage("G2:B+") == pytest.approx(15.6, abs=0.05)
    assert point.voltage("G1:+") > 15.0


@each(OUTPUTS)
def test_an_output_carries_its_load(vehicle: str, row: OutputRow) -> None:
    """What its load takes, which is below its limit; with the pin dead, that stops."""
    module, _, pin = row.name.partition(":")
    point = sound(vehicle, row.on)
    state = EVERYTHING[vehicle] | row.on

    assert point.current(module, pin) == pytest.approx(row.amps, rel=0.02)
    assert row.amps < row.limit
    assert_stops(
        vehicle, state, faulty(vehicle, "pin_dead", row.name, state), row.stops
    )


@each(OUTPUTS)
def test_an_overloaded_output_shuts_off_alone(vehicle: str, row: OutputRow) -> None:
    """Its own load stops; no fuse blows, and the module's other outputs go on."""
    state = EVERYTHING[vehicle] | row.on
    point = faulty(vehicle, row.short, row.wire, state)

    assert point.blown == {row.name}
    assert_stops(vehicle, state, point, row.stops)


@pytest.mark.parametrize("vehicle", FUSES)
def test_every_fuse_and_output_has_a_row(vehicle: str) -> None:
    """Each just one; with its rating or its limit."""
    parts = VEHICLES[vehicle].of_type
    rated = {fuse.name: fuse.rating for fuse in parts(Fuse)}
    limits = {
        f"{module.name}:{pin.name}": pin.limit
        for module in parts(Module)
        for pin in module.pin_table
        if pin.does in ("high_side", "low_side")
    }

    assert sorted((r.name, r.rating) for r in FUSES[vehicle]) == sorted(rated.items())
    assert sorted((r.name, r.limit) for r in OUTPUTS[vehicle]) == sorted(limits.items())
