"""What a learner can do on the bench, what is refused, and what the log keeps."""

import contextlib
import traceback
from collections.abc import Mapping, Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boards import board, measure
from ohmwork.bench import Bench, true_state
from ohmwork.errors import NotPossibleError, OhmworkError, UnknownNameError
from ohmwork.faults import Fault
from ohmwork.parts import Engine, Module, ModulePin
from ohmwork.vehicle import Vehicle, load_vehicle

VAN = load_vehicle("lighting_board")
OPEN_SUPPLY = Fault(kind="open_circuit", site="W16")
SHORT = Fault(kind="short_to_ground", site="W16")
DIP = {"S1": "on", "S2": "dip"}


def electrical_state(bench: Bench) -> object:
    """Return everything that undo may take back."""
    return bench.situation, bench.notes


def switch_on(bench: Bench) -> Bench:
    """Switch ignition and dip beam on."""
    for control, position in DIP.items():
        bench.set_control(control, position)
    return bench


# Acts and the log


def test_every_act_enters_the_log_in_its_plain_form() -> None:
    """An act is logged with its number, its name and what it was done to."""
    bench = Bench(VAN)

    bench.set_control("S1", "on")
    bench.unplug("F11")
    bench.use("ohms")
    bench.use("volts")
    bench.place("A", "F11:1")
    bench.place("B", "G1:-")
    bench.read()
    bench.note()
    bench.lift("A")
    bench.plug("F11")
    bench.undo()
    bench.hint(1)
    bench.conclude([("W16", "open_circuit")])
    bench.repair("W16")
    bench.hand_in()

    done = [{k: v for k, v in a.items() if k != "n"} for a in bench.actions]
    assert [a["n"] for a in bench.actions] == list(range(1, 16))
    assert done == [
        {"do": "set_control", "part": "S1", "position": "on"},
        {"do": "unplug", "part": "F11"},
        {"do": "use", "tool": "ohms"},
        {"do": "use", "tool": "volts"},
        {"do": "place", "lead": "A", "place": "F11:1"},
        {"do": "place", "lead": "B", "place": "G1:-"},
        {"do": "read", "shown": "0.000 V"},
        {"do": "note"},
        {"do": "lift", "lead": "A"},
        {"do": "plug", "part": "F11"},
        {"do": "undo"},
        {"do": "hint", "number": 1},
        {"do": "conclude", "rows": [["W16", "open_circuit"]]},
        {"do": "repair", "site": "W16"},
        {"do": "hand_in"},
    ]


def test_time_is_the_sum_of_the_acts() -> None:
    """Control 5 s, pull 60, tool 5, lead 15 each, read 10, fit 30; notes are free."""
    bench = Bench(VAN)

    bench.set_control("S1", "on")
    bench.unplug("F11")
    bench.use("volts")
    bench.place("A", "F11:1")
    bench.place("B", "G1:-")
    bench.read()
    bench.note()
    bench.plug("F11")

    assert bench.seconds == 5 + 60 + 5 + 15 + 15 + 10 + 30


def test_on_act_is_called_after_every_act() -> None:
    """The call comes when the act is in the log, so that it can be saved."""
    bench = Bench(VAN)
    lengths = []
    bench.on_act = lambda: lengths.append(len(bench.actions))

    bench.set_control("S1", "on")
    bench.undo()

    assert lengths == [1, 2]


def test_a_refused_act_leaves_no_trace() -> None:
    """What was impossible is not in the log and costs no time."""
    bench = Bench(VAN)

    with pytest.raises(OhmworkError):
        bench.place("A", "E3:57")

    assert (bench.actions, bench.seconds) == ([], 0)


def test_leads_stay_on_between_ranges_of_the_meter() -> None:
    """From volts to ohms the leads stay; another tool comes with its own."""
    bench = Bench(VAN)
    bench.place("A", "E3:56b")
    bench.place("B", "G1:-")

    bench.use("ohms")
    assert (bench.hookup.lead_a, bench.hookup.lead_b) == ("E3:56b", "G1:-")
    bench.use("test_lamp")

    assert (bench.hookup.lead_a, bench.hookup.lead_b) == (None, None)


def test_the_top_of_a_fitted_fuse_can_be_touched() -> None:
    """It is bare metal, made for the meter; the seat's 1 mΩ lies before it.

    The dip lamp's 4.3 A drop 4 mV in the seat, and 33 mV in the 7.7 mΩ of the fuse.
    """
    bench = switch_on(Bench(VAN))

    assert measure(bench, "millivolts", "F11:1", "F11:1p").value == pytest.approx(
        4.3e-3, rel=0.1
    )
    assert measure(bench, "millivolts", "F11:1p", "F11:2p").value == pytest.approx(
        33e-3, rel=0.1
    )


def test_sights_tell_lamps_relays_and_open_plugs() -> None:
    """Lamps by word, the relay that has just clicked, and what is apart."""
    bench = switch_on(Bench(VAN))

    assert "Left dip lamp E3 full." in bench.sights
    assert "Left side lamp E5 full." in bench.sights
    assert "Dip relay K3 clicks." in bench.sights
    bench.unplug("X12")
    assert "Left lamp connector X12 is apart." in bench.sights
    assert "Left dip lamp E3 off." in bench.sights
    assert "Dip relay K3 clicks." not in bench.sights
    bench.unplug("F12")
    assert "Right dip fuse F12 is out." in bench.sights


def test_a_pulled_relay_lets_go() -> None:
    """Without K3 both dip lamps are off and the side lamps burn."""
    bench = switch_on(Bench(VAN))
    bench.unplug("K3")

    lamps = [s for s in bench.sights if " lamp E" in s]
    assert lamps == [
        "Left dip lamp E3 off.",
        "Left side lamp E5 full.",
        "Right dip lamp E4 off.",
        "Right side lamp E6 full.",
    ]


def test_a_poor_shared_ground_sends_current_back_through_the_side_lamp() -> None:
    """GP1 open with the dip beam alone: the side lamp burns in series, E3 does not.

    The small lamp's cold resistance is some ten times the dip lamp's, so nearly all
    the voltage is across it.
    """
    bench = Bench(VAN, Fault(kind="open_circuit", site="GP1"))
    bench.set_control("S1", "on")
    bench.set_control("S2", "day")

    assert bench.outputs()["E5"] > 0.02 > bench.outputs()["E3"]


# Refusals


def act(do: str, **what: object) -> dict[str, object]:
    """Return an act as it is written in the log."""
    return {"do": do, **what}


READ = [
    act("place", lead="A", place="G1:+"),
    act("place", lead="B", place="G1:-"),
    act("read"),
]
CONCLUDE = act("conclude", rows=[("W16", "open_circuit")])
UNPLUG = act("unplug", part="X12")
UNPLUG_K3 = act("unplug", part="K3")

REFUSED = {
    "no such control": (
        [act("set_control", part="S3", position="on")],
        r"^No control 'S3'\. Did you mean 'S\d' or 'S\d'\?$",
    ),
    "no such position": (
        [act("set_control", part="S2", position="high")],
        r"^No position of S2 'high'\. There is day, dip, off, side\.$",
    ),
    "no such part": ([act("unplug", part="X99")], r"^No part 'X99'\."),
    "not a plug": (
        [act("unplug", part="GP1")],
        r"^left front ground point GP1 cannot be unplugged\. What can: .*X12",
    ),
    "bolted in": (
        [act("unplug", part="F1")],
        r"^main fuse link F1 cannot be unplugged\.",
    ),
    "fitted already": ([act("plug", part="X12")], r"^X12 is fitted already\.$"),
    "apart already": ([UNPLUG, UNPLUG], r"^X12 is apart already\.$"),
    "no such tool": (
        [act("use", tool="scope")],
        r"^No tool 'scope'\. There are 16, from amps to volts\.$",
    ),
    "no such lead": (
        [act("place", lead="C", place="G1:-")],
        r"^No lead 'C'\. There is A, B\.$",
    ),
    "no such lead to lift": (
        [act("lift", lead="red")],
        r"^No lead 'red'\. There is A, B\.$",
    ),
    "no such pin": (
        [act("place", lead="A", place="X12:5")],
        r"^No place 'X12:5'\. Left lamp connector X12 has 'X12:1', .*'X12:4p'\.$",
    ),
    "inside the loom": (
        [act("place", lead="A", place="SP7:1")],
        r"^SP7:1 is inside the loom\. Choose a place at the end of a wire\.$",
    ),
    "pin of a fitted relay": (
        [act("place", lead="A", place="K3:86p")],
        r"^K3 is fitted\. Pull it to touch its pins\.$",
    ),
    "refitting with a lead on the pin": (
        [
            act("unplug", part="K3"),
            act("place", lead="A", place="K3:86p"),
            act("plug", part="K3"),
        ],
        r"^Lead A is on K3:86p\. Lift it first\.$",
    ),
    "nothing to note": (
        [act("note")],
        r"^There is no reading to note\. Take one first\.$",
    ),
    "noted already": (
        [*READ, act("note"), act("note")],
        r"^This reading is noted already\.$",
    ),
    "reading of another state": (
        [*READ, UNPLUG, act("note")],
        r"^There is no reading to note\.",
    ),
    "reading from before the repair": (
        [CONCLUDE, *READ, act("repair", site="W16"), act("note")],
        r"^There is no reading to note\.",
    ),
    "nothing to undo": ([act("undo")], r"^There is nothing to undo\.$"),
    "undo across a repair": (
        [UNPLUG, CONCLUDE, act("repair", site="W16"), act("undo")],
        r"^There is nothing to undo\.$",
    ),
    "no such kind": (
        [act("conclude", rows=[("W16", "rust")])],
        r"^No kind of fault 'rust'\. There are 28, from cell_dead to wrong_lamp\.$",
    ),
    "no such site": (
        [act("conclude", rows=[("W99", "open_circuit")])],
        r"^No place for a fault 'W99'\. Did you mean ",
    ),
    "a kind that cannot be there": (
        [act("conclude", rows=[("E3", "open_circuit")])],
        r"^left dip lamp E3 cannot have 'open_circuit'\. "
        r"Possible there: lamp_blown, wrong_lamp\.$",
    ),
    "repair before the conclusion": (
        [act("repair", site="W16")],
        r"^Write your conclusion first; the first repair locks it\.$",
    ),
    "repair nowhere": (
        [CONCLUDE, act("repair", site="SP7")],
        r"^No place to repair 'SP7'\. ",
    ),
    "conclusion after a repair": (
        [CONCLUDE, act("repair", site="W17"), CONCLUDE],
        r"^The first repair has locked the conclusion\.$",
    ),
    "handing in nothing": (
        [act("hand_in")],
        r"^Still to write: your conclusion\.$",
    ),
    "an act nobody can do": (
        [act("bribe")],
        r"^No act 'bribe'\. There are 14, from fetch to warm_up\.$",
    ),
    "leaving a tool that hangs free": (
        [act("place", lead="A", place="G1:+"), act("leave")],
        r"^Lead B is not placed; there is nothing to leave\.$",
    ),
    "leaving one's eyes": (
        [act("use", tool="look"), act("place", lead="A", place="E3:56b"), act("leave")],
        r"^Eyes cannot be left connected\.$",
    ),
    "fetching nothing": ([act("fetch")], r"^No tool was left connected\.$"),
    "a third meter": (
        [*READ, act("leave"), *READ, act("leave"), act("use", tool="ohms")],
        r"^Ohms is left connected elsewhere\. Fetch it first\.$",
    ),
    "no third meter in hand": (
        [*READ, act("leave"), *READ, act("leave"), *READ],
        r"^There is nothing to see on G1\.",
    ),
    "a second test lamp": (
        [
            act("use", tool="test_lamp"),
            *READ,
            act("leave"),
            act("use", tool="test_lamp"),
        ],
        r"^Test lamp is left connected elsewhere\. Fetch it first\.$",
    ),
    "reading what was not left": (
        [*READ, act("leave"), act("read", number=2)],
        r"^There is no tool 2\. 1 are left connected\.$",
    ),
    "refitting with a left lead on the pin": (
        [
            UNPLUG_K3,
            act("place", lead="A", place="K3:86p"),
            act("place", lead="B", place="G1:-"),
            act("leave"),
            act("plug", part="K3"),
        ],
        r"^Lead A is on K3:86p\. Lift it first\.$",
    ),
    "a clamp on no wire": (
        [act("use", tool="clamp"), act("place", lead="A", place="E3:56b")],
        r"^No wire 'E3:56b'\.",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusals_say_why_and_what_is_allowed(case: str) -> None:
    """The last act of each case is refused in words a learner can act on."""
    acts, text = REFUSED[case]
    bench = Bench.replay(VAN, acts[:-1])

    with pytest.raises((NotPossibleError, UnknownNameError), match=text):
        bench.perform(acts[-1])


@pytest.mark.parametrize(
    "late",
    [
        act("set_control", part="S2", position="dip"),
        UNPLUG,
        act("use", tool="ohms"),
        act("place", lead="A", place="G1:-"),
        act("lift", lead="A"),
        act("read"),
        act("note"),
        act("leave"),
        act("fetch"),
        act("hold"),
        act("move_loom"),
        act("warm_up"),
        act("undo"),
        act("hint", number=1),
        CONCLUDE,
        act("repair", site="W16"),
        act("hand_in"),
    ],
    ids=lambda late: str(late["do"]),
)
def test_nothing_changes_after_handing_in(late: dict[str, object]) -> None:
    """A job that is handed in refuses every act and stays exactly as it was."""
    bench = Bench.replay(VAN, [*READ, act("leave"), *READ, CONCLUDE, act("hand_in")])
    before = electrical_state(bench), bench.actions[:], bench.conclusion

    with pytest.raises(NotPossibleError, match=r"^The job is handed in"):
        bench.perform(late)

    assert (electrical_state(bench), bench.actions, bench.conclusion) == before
    assert bench.repaired == ()


def test_tools_an_exercise_leaves_out_are_refused() -> None:
    """Only the tools that are allowed can be taken; the others are not offered."""
    bench = Bench(VAN, tools=("volts", "look"))

    with pytest.raises(
        UnknownNameError, match=r"^No tool 'ohms'\. There is look, volts\.$"
    ):
        bench.use("ohms")


# Undo


def test_undo_adds_to_the_log_and_takes_back_the_setting() -> None:
    """Undo is an act of its own; the log never gets shorter."""
    bench = Bench(VAN)
    before = electrical_state(bench)
    bench.set_control("S1", "on")
    bench.place("A", "E3:56b")

    bench.undo()
    bench.undo()

    assert electrical_state(bench) == before
    assert [a["do"] for a in bench.actions] == ["set_control", "place", "undo", "undo"]


def test_undo_takes_back_a_note() -> None:
    """A note taken back is no evidence any more; its act stays in the log."""
    bench = Bench(VAN)
    measure(bench, "volts", "G1:+", "G1:-")
    bench.note()

    bench.undo()

    assert bench.notes == ()
    assert [a["do"] for a in bench.actions][-2:] == ["note", "undo"]


def test_undo_never_takes_back_damage() -> None:
    """A fuse that blew through a jumper stays blown, and the incident stays."""
    bench = switch_on(Bench(VAN))
    bench.use("jumper")
    bench.place("B", "Body:31")
    bench.place("A", "E3:56b")
    assert "F11" in true_state(bench)[1].blown

    for _ in range(3):
        bench.undo()

    assert bench.hookup.tool == "volts"
    assert "Left dip lamp E3 off." in bench.sights
    assert [i.kind for i in bench.incidents] == ["vehicle_fuse"]


def test_undo_never_takes_back_an_incident_of_the_meter() -> None:
    """Ohms on a live circuit stays on record when the range is taken back."""
    bench = Bench(VAN)
    bench.place("A", "G1:+")
    bench.place("B", "G1:-")
    bench.use("ohms")
    bench.read()

    bench.undo()

    assert [i.kind for i in bench.incidents] == ["ohms_on_live"]


def do_all(bench: Bench, acts: Sequence[Mapping[str, object]]) -> None:
    """Do these acts, of which none may be refused."""
    for one in acts:
        bench.perform(one)


ACTS = st.sampled_from(
    [
        {"do": "set_control", "part": "S1", "position": "on"},
        {"do": "set_control", "part": "S1", "position": "off"},
        {"do": "set_control", "part": "S2", "position": "dip"},
        {"do": "set_control", "part": "S2", "position": "day"},
        {"do": "unplug", "part": "X12"},
        {"do": "plug", "part": "X12"},
        {"do": "unplug", "part": "K3"},
        {"do": "plug", "part": "K3"},
        {"do": "use", "tool": "volts"},
        {"do": "use", "tool": "ohms"},
        {"do": "use", "tool": "jumper"},
        {"do": "use", "tool": "feed_supply"},
        {"do": "place", "lead": "A", "place": "E3:56b"},
        {"do": "place", "lead": "A", "place": "K3:86p"},
        {"do": "place", "lead": "B", "place": "Body:31"},
        {"do": "lift", "lead": "A"},
        {"do": "read"},
        {"do": "read", "number": 1},
        {"do": "note"},
        {"do": "leave"},
        {"do": "fetch"},
        {"do": "hold"},
        {"do": "move_loom"},
        {"do": "warm_up"},
        {"do": "undo"},
    ]
)


def work(bench: Bench, acts: Sequence[Mapping[str, object]]) -> None:
    """Do what is possible of these acts and pass over what is refused."""
    for one in acts:
        with contextlib.suppress(OhmworkError):
            bench.perform(one)


@settings(max_examples=40, deadline=None)
@given(st.lists(ACTS, max_size=15))
def test_a_replay_gives_the_same(acts: list[dict[str, str]]) -> None:
    """The log done again leads to the same bench: readings, notes, damage, time."""
    bench = Bench(VAN, SHORT, driven=[DIP])
    work(bench, acts)

    again = Bench.replay(VAN, bench.actions, SHORT, driven=[DIP])

    assert again.actions == bench.actions
    assert electrical_state(again) == electrical_state(bench)
    assert again.incidents == bench.incidents
    assert again.held == bench.held
    assert again.sights == bench.sights
    assert again.seconds == bench.seconds


@settings(max_examples=40, deadline=None)
@given(st.lists(ACTS, max_size=15))
def test_undoing_everything_leads_back_to_the_start(acts: list[dict[str, str]]) -> None:
    """Controls, leads, plugs and notes all come back; the log only grew."""
    bench = Bench(VAN)
    start = electrical_state(bench)
    work(bench, acts)
    length = len(bench.actions)

    undone = 0
    with contextlib.suppress(NotPossibleError):
        while True:
            bench.undo()
            undone += 1

    assert electrical_state(bench) == start
    assert len(bench.actions) == length + undone


# Conclusion and repair


def test_a_conclusion_may_be_one_of_two_and_be_changed() -> None:
    """Several rows are legal, doubles count once, and the last one stands."""
    bench = Bench(VAN)
    bench.conclude([("W16", "open_circuit")])

    rows = [("W16", "open_circuit"), ("X12:3", "open_circuit")]
    bench.conclude([*rows, rows[0]])

    assert bench.conclusion == tuple(rows)


def test_the_right_repair_cures() -> None:
    """With W16 made as new the left dip lamp burns."""
    bench = switch_on(Bench(VAN, OPEN_SUPPLY))
    bench.conclude([OPEN_SUPPLY.answer])

    bench.repair("W16")

    assert "Left dip lamp E3 full." in bench.sights


def test_the_wrong_repair_cures_nothing() -> None:
    """Renewing the good parts of the path leaves the lamp off."""
    bench = switch_on(Bench(VAN, OPEN_SUPPLY))
    bench.conclude([("W17", "open_circuit")])

    for site in ("W17", "X12:3", "F11", "E3"):
        bench.repair(site)

    assert bench.repaired == ("W17", "X12:3", "F11", "E3")
    assert "Left dip lamp E3 off." in bench.sights


def test_a_blown_fuse_needs_its_own_repair() -> None:
    """A short blew F11; the wire made as new does not make the fuse whole."""
    bench = switch_on(Bench(VAN, SHORT, driven=[DIP]))
    bench.conclude([SHORT.answer])

    bench.repair("W16")
    assert "Left dip lamp E3 off." in bench.sights
    bench.repair("F11")

    assert "Left dip lamp E3 full." in bench.sights
    assert bench.incidents == []


def test_a_new_fuse_into_a_short_blows() -> None:
    """Fitting a fuse before the short is found costs the fuse, on record."""
    bench = switch_on(Bench(VAN, SHORT, driven=[DIP]))
    bench.conclude([SHORT.answer])

    bench.repair("F11")

    (incident,) = bench.incidents
    assert incident.kind == "fuse_into_short"
    assert incident.text == "The new fuse F11 has blown: the short is still there"
    assert incident.action == 4


def test_one_act_is_one_incident_of_a_kind() -> None:
    """Reading twice while the leads stay is two acts; the fuse blew in one."""
    bench = Bench(VAN)
    measure(bench, "amps", "G1:+", "G1:-")
    bench.read()

    assert [(i.kind, i.action) for i in bench.incidents] == [("tool_fuse", 3)]


def test_what_blew_on_the_road_is_no_incident() -> None:
    """A fuse that a fault blew before or on the bench is not the learner's doing."""
    on_road = Bench(VAN, SHORT, driven=[DIP])
    on_bench = switch_on(Bench(VAN, SHORT))

    assert "F11" in true_state(on_road)[1].blown
    assert "F11" in true_state(on_bench)[1].blown
    assert on_road.incidents == on_bench.incidents == []


# Notes


def test_notes_are_numbered_and_know_their_reading() -> None:
    """Note 2 is of the act that took its reading, with what was displayed."""
    bench = switch_on(Bench(VAN))
    measure(bench, "volts", "G1:+", "G1:-")
    bench.note()
    bench.place("A", "E3:31")
    shown = bench.read()
    note = bench.note()

    assert (note.number, note.reading) == (2, shown)
    assert bench.actions[note.action - 1]["do"] == "read"
    assert [n.number for n in bench.notes] == [1, 2]


# Tools left connected


def three_ohms_twice() -> Vehicle:
    """Return 12 V over 3 Ω, a gap from X1:1 to X1:2, and 3 Ω; X1:3 is 0.1 Ω away."""
    return board(
        12.0,
        [("G1:+", "X1:1", 3.0), ("X1:2", "G1:-", 3.0), ("X1:3", "G1:-", 0.1)],
    )


def test_two_meters_at_once() -> None:
    """One left in series shows 12 V / 6.04 Ω; the other its burden of 40 mΩ."""
    bench = Bench(three_ohms_twice())
    assert measure(bench, "amps", "X1:1", "X1:2").text == "1.987 A"

    bench.leave()

    assert bench.read(1).text == "1.987 A"
    assert measure(bench, "volts", "X1:1", "X1:2").text == "0.079 V"
    bench.note()
    assert bench.read(1).text == "1.987 A"
    bench.note()
    assert [note.tool_number for note in bench.notes] == [0, 1]


def test_fetched_tools_are_off() -> None:
    """Without the ammeter the circuit is open, and all 12 V stand across the gap."""
    bench = Bench(three_ohms_twice())
    measure(bench, "amps", "X1:1", "X1:2")
    bench.leave()

    bench.fetch()

    assert bench.left == ()
    assert measure(bench, "volts", "X1:1", "X1:2").text == "12.00 V"
    bench.undo()
    bench.undo()
    bench.undo()
    assert bench.left == ()
    bench.undo()
    assert bench.read(1).text == "1.987 A"


def test_each_meter_has_a_fuse_of_its_own() -> None:
    """The second one blows on 12 V over 0.14 Ω; the first goes on measuring."""
    bench = Bench(three_ohms_twice())
    measure(bench, "amps", "X1:1", "X1:2")
    bench.leave()

    assert measure(bench, "amps", "G1:+", "X1:3").text == "fuse blown"
    assert bench.read(1).text == "1.987 A"
    bench.leave()

    assert [bench.read(n).text for n in (1, 2)] == ["1.987 A", "fuse blown"]
    assert [i.kind for i in bench.incidents] == ["tool_fuse"]


def test_a_lamp_left_as_a_load_shows_a_poor_feed() -> None:
    """Behind 1 kΩ the meter shows the full voltage, and with a lamp almost nothing.

    Cold, the lamp has 13.5 V / (13.7 · 5.5 W / 13.5 V) = 2.4 Ω, so 30 mV are left.
    """
    bench = Bench(board(12.6, [("G1:+", "X1:1", 1e3)]))
    assert measure(bench, "volts", "X1:1", "G1:-").text == "12.60 V"
    measure(bench, "test_lamp", "X1:1", "G1:-")

    bench.leave()

    shown = measure(bench, "volts", "X1:1", "G1:-").value
    assert shown is not None
    assert 0.030 <= shown < 0.040


# Holding


def test_what_is_held_is_the_lowest_and_the_highest() -> None:
    """While the dip beam is switched on and off the lamp's feed goes up and down."""
    bench = Bench(VAN)
    bench.place("A", "E3:56b")
    bench.place("B", "G1:-")
    bench.hold()
    assert bench.held == (0.0, 0.0)

    switch_on(bench)
    lit = bench.read().value
    bench.set_control("S2", "off")

    assert bench.held == (0.0, lit)
    bench.hold()
    assert bench.held is None


def test_moving_a_lead_begins_to_hold_anew() -> None:
    """What another place showed says nothing of this one."""
    bench = switch_on(Bench(VAN))
    bench.place("A", "E3:56b")
    bench.place("B", "G1:-")
    bench.hold()

    bench.place("A", "G1:-")

    assert bench.held == (0.0, 0.0)


# Passing faults


def test_a_loose_joint_shows_when_the_loom_is_moved() -> None:
    """At rest the lamp burns; within three movements it goes out; the next may cure."""
    bench = switch_on(Bench(VAN, replace(OPEN_SUPPLY, when="loom_moved", seed=7)))
    assert "Left dip lamp E3 full." in bench.sights

    words = []
    for _ in range(9):
        bench.move_loom()
        words.append(bench.perceived()["E3"])

    assert "off" in words[:3]
    assert set(words) == {"off", "full"}


def test_holding_catches_a_loose_joint() -> None:
    """What lasts only while the loom is moved stays in the lowest value."""
    bench = switch_on(Bench(VAN, replace(OPEN_SUPPLY, when="loom_moved")))
    bench.place("A", "E3:56b")
    bench.place("B", "G1:-")
    bench.hold()
    for _ in range(3):
        bench.move_loom()

    assert bench.held is not None
    low, high = bench.held
    assert low < 0.1
    assert high > 12.0


def test_a_fault_of_warmth_shows_when_warm() -> None:
    """Ten minutes later the lamp is out, and it is not the learner's doing."""
    bench = switch_on(Bench(VAN, replace(OPEN_SUPPLY, when="warm")))
    assert "Left dip lamp E3 full." in bench.sights

    bench.warm_up()

    assert "Left dip lamp E3 off." in bench.sights
    assert bench.seconds == 5 + 5 + 600
    assert bench.incidents == []


def with_engine() -> Vehicle:
    """Return the lighting board with an engine that runs with the ignition on."""
    engine = Engine(
        name="D1",
        label="engine",
        positions=("stopped", "idle"),
        needs=(("S1", ("on",)),),
    )
    return replace(
        VAN.with_part(engine), controls={**VAN.controls, engine.name: "Engine"}
    )


def test_a_fault_of_the_running_engine() -> None:
    """It is there while the engine runs, and gone when it stops or is switched off."""
    bench = Bench(with_engine(), replace(OPEN_SUPPLY, when="engine_running"))
    switch_on(bench)
    words = [bench.perceived()["E3"]]
    for control, position in [("D1", "idle"), ("D1", "stopped"), ("D1", "idle")]:
        bench.set_control(control, position)
        words.append(bench.perceived()["E3"])

    assert words == ["full", "off", "full", "off"]
    bench.set_control("S1", "off")
    assert bench.position("D1") == "stopped"


def test_an_engine_needs_its_ignition() -> None:
    """It does not run with the ignition off, and the refusal says what to set."""
    with pytest.raises(
        NotPossibleError, match=r"^The engine does not run .* Set it to on first\.$"
    ):
        Bench(with_engine()).set_control("D1", "idle")


def test_a_repaired_passing_fault_is_gone() -> None:
    """However often the loom is moved."""
    bench = switch_on(Bench(VAN, replace(OPEN_SUPPLY, when="loom_moved")))
    bench.conclude([OPEN_SUPPLY.answer])
    bench.repair("W16")
    for _ in range(3):
        bench.move_loom()
        assert bench.perceived()["E3"] == "full"


def test_two_faults_need_two_repairs() -> None:
    """The lamp has no supply and no ground; one repair alone lights nothing."""
    second = Fault(kind="open_circuit", site="W21")
    bench = switch_on(Bench(VAN, OPEN_SUPPLY, more=(second,)))
    bench.conclude([OPEN_SUPPLY.answer, second.answer])

    bench.repair("W16")
    assert bench.perceived()["E3"] == "off"
    bench.repair("W21")

    assert bench.perceived()["E3"] == "full"


# Modules


def module_board() -> Vehicle:
    """Return a module A1 on 12 V; pin 7 is pulled up to 5 V, pin 5 gives 5 V."""
    pins = (
        ModulePin(name="5", does="reference", voltage=5.0, limit=0.06, bears=6.0),
        ModulePin(name="7", does="input", pulled_up_to=5.0, through=2.2e3, bears=6.0),
        ModulePin(name="8", does="input", on_when="high"),
        ModulePin(name="9", does="high_side", when="8", resistance=0.03, limit=15.0),
    )
    module = Module(
        name="A1",
        label="module",
        rated_voltage=12.0,
        works_from=6.0,
        sleep_current=8e-3,
        awake_current=0.4,
        pin_table=pins,
    )
    feeds = [
        ("G1:+", "A1:30", 1e-3), ("G1:+", "A1:15", 1e-3), ("A1:31", "G1:-", 1e-3),
        ("A1:9", "G1:-", 6.0),
    ]  # fmt: skip
    return board(12.0, feeds, module)


def test_a_pin_that_bears_five_volts_dies_of_twelve() -> None:
    """Fed 12 V it dies for good, an incident; fed 5 V it lives."""
    bench = Bench(module_board())
    pulled = measure(bench, "volts", "A1:7", "G1:-").value
    # An input itself draws a little, some 50 µA through 2.2 kΩ.
    assert pulled == pytest.approx(5.0, abs=0.15)
    measure(bench, "feed_5v", "A1:7", "G1:-")
    assert bench.incidents == []

    measure(bench, "feed_supply", "A1:7")

    (incident,) = bench.incidents
    assert incident.kind == "module_fed"
    assert incident.text == "Pin A1:7 of module A1 was fed and died"
    shown = measure(bench, "volts", "A1:7", "G1:-").value
    assert shown is not None
    assert abs(shown) < 0.1


def test_a_module_switches_what_its_input_asks_for() -> None:
    """Pin 9 gives supply to its 6 Ω while pin 8 has 12 V: 2 A (0.03 Ω take 1 %)."""
    bench = Bench(module_board())
    assert measure(bench, "clamp", "R4").value == pytest.approx(0.0, abs=0.1)
    bench.use("feed_supply")
    bench.place("A", "A1:8")
    bench.leave()

    assert measure(bench, "clamp", "R4").text == "2.0 A"
    assert bench.incidents == []


# Nothing shows the fault


def test_repr_shows_no_fault() -> None:
    """A faulty bench looks like a healthy one to repr, str and dir."""
    healthy, faulty = Bench(VAN), Bench(VAN, SHORT)

    assert repr(faulty) == repr(healthy)
    assert str(faulty) == f"<Bench: {VAN.title}; 0 actions>"
    assert dir(faulty) == dir(healthy)
    assert "fault" not in " ".join(n for n in dir(faulty) if not n.startswith("_"))


def test_public_attributes_show_no_fault() -> None:
    """What a learner can print at rest is the same on a faulty van."""
    healthy, faulty = Bench(VAN), Bench(VAN, Fault(kind="lamp_blown", site="E3"))
    public = [n for n in dir(faulty) if not n.startswith("_")]
    values = [n for n in public if not callable(getattr(faulty, n))]

    assert [str(getattr(faulty, n)) for n in values] == [
        str(getattr(healthy, n)) for n in values
    ]


@pytest.mark.parametrize("case", REFUSED)
def test_tracebacks_show_no_fault(case: str) -> None:
    """A refusal's traceback reads the same on a faulty van as on a healthy one."""
    acts, _ = REFUSED[case]

    def told(bench: Bench) -> str:
        with pytest.raises(OhmworkError) as refused:
            do_all(bench, acts)
        return "".join(traceback.format_exception(refused.value))

    assert told(Bench(VAN, Fault(kind="short_to_supply", site="W12"))) == told(
        Bench(VAN)
    )
