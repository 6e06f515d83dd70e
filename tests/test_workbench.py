"""The workbench's desk, driven without a browser, and what stands in for it."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from importlib import resources
from pathlib import Path
from typing import Any

import nbformat
import pytest
from nbclient import NotebookClient
from nbformat.v4 import new_code_cell, new_notebook

from ohmwork import start_practice, workbench
from ohmwork.course import copy_for_learner
from ohmwork.faults import Fault
from ohmwork.instruments import TOOLS
from ohmwork.jobcard import MIME
from ohmwork.workbench import widget as widget_module
from ohmwork.workbench import words
from ohmwork.workbench.desk import Desk
from ohmwork.workbench.page import card_bundle
from ohmwork.workbench.widget import RELOADED, Workbench
from small_job import start, write_book

WIDGETS = "application/vnd.jupyter.widget-view+json"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A desk with a practice job on which nothing has been done."""
    write_book(tmp_path, practice=True)
    return Desk(start(tmp_path))


@pytest.fixture
def marked_desk(tmp_path: Path) -> Desk:
    """The same with a job whose marks come from an instructor."""
    write_book(tmp_path, practice=False)
    return Desk(start(tmp_path))


def do(desk: Desk, act: str, **needs: Any) -> str:
    """Do one act as the page asks for it; what is said of it."""
    desk.do({"do": act, **needs})
    message: str = desk.state()["message"]
    return message


def put(desk: Desk, lead: str, place: str) -> str:
    """Put a lead on a place; what is said of it."""
    return do(desk, "place", lead=lead, place=place)


def measure(desk: Desk, place_a: str, place_b: str = "G1:-") -> dict[str, Any]:
    """Place both leads as a learner would; what the display then shows."""
    put(desk, "A", place_a)
    put(desk, "B", place_b)
    shown: dict[str, Any] = desk.state()["reading"]
    return shown


def set_dip(desk: Desk) -> None:
    """Switch on ignition and dip beam, as the driver of the small job did."""
    do(desk, "set_control", part="S1", position="on")
    do(desk, "set_control", part="S2", position="dip")


def conclude(desk: Desk, *rows: tuple[str, str]) -> str:
    """Write these rows of site and kind into the conclusion; what is said of it."""
    return do(desk, "conclude", rows=[list(row) for row in rows])


def acts(desk: Desk) -> list[str]:
    """What was done so far, by name."""
    return [action["do"] for action in desk.bench.actions]


# --- Measuring ------------------------------------------------------------------------


def test_reading_appears_once_both_leads_are_placed(desk: Desk) -> None:
    """Battery at rest: 12.6 V in the vehicle's file, across 10 MΩ nothing is lost."""
    said = put(desk, "A", "G1:+")
    assert said == "Lead A on G1:+."
    assert desk.state()["reading"] is None
    assert desk.state()["sentence"] == "No reading. Lead B is not placed."

    said = put(desk, "B", "G1:-")
    assert said == "Lead B on G1:-. A is 12.60 V above B."
    shown = desk.state()["reading"]
    assert (shown["digits"], shown["unit"]) == ("12.60", "V")
    assert acts(desk) == ["place", "place", "read"]


@pytest.mark.parametrize(
    ("place", "word"), [("G1:+", "live"), ("GP1:31", "ground"), ("X12:3p", "open")]
)
def test_voltmeter_says_a_word(desk: Desk, place: str, word: str) -> None:
    """Battery post, ground bolt and, with the connector apart, a lamp's free pin."""
    do(desk, "plug", part="X12")
    assert measure(desk, place)["verdict"] == word


def test_no_word_between_two_places_off_the_minus_post(desk: Desk) -> None:
    """The words hold only with lead B on the battery's minus post."""
    assert not measure(desk, "G1:+", "GP1:31")["verdict"]


def test_changing_a_control_is_read_again(desk: Desk) -> None:
    """Whatever the display shows is a reading, and every reading is logged."""
    measure(desk, "E3:56b")
    set_dip(desk)

    assert acts(desk).count("read") == desk.state()["readings"] == 3
    assert "Left dip lamp E3 faint." in desk.state()["sights"]
    assert ">faint</text>" in desk.sheet()


def test_the_drawing_has_no_leads(desk: Desk) -> None:
    """The page draws those, so that placing one sends no new drawing."""
    before = desk.sheet()
    measure(desk, "G1:+")
    assert desk.sheet() == before


def test_what_cannot_be_touched_is_answered_with_a_sentence(desk: Desk) -> None:
    """The pins of a relay can be touched once it is pulled; a splice never."""
    assert put(desk, "A", "K3:86p") == "K3 is fitted. Pull it to touch its pins."
    assert desk.state()["isWarning"]
    assert desk.state()["leads"]["A"] is None
    assert "inside the loom" in put(desk, "A", "SP7:1")

    assert do(desk, "plug", part="K3") == "K3 pulled."
    assert "Dip relay K3 is out." in desk.state()["sights"]
    assert desk.state()["apart"] == ["K3"]
    assert put(desk, "A", "K3:86p") == "Lead A on K3:86p."
    assert not desk.state()["isWarning"]
    points = set(re.findall(r'ow-point" data-place="([^"]+)"', desk.sheet()))
    assert "K3:86p" in points
    assert not any(place.startswith("SP") for place in points)


def test_each_plug_has_its_own_verb(desk: Desk) -> None:
    """Connectors are opened and joined, fuses and relays pulled and refitted."""
    plugs = desk.fixed()["plugs"]
    assert (plugs["X12"], plugs["F11"], plugs["K3"]) == ("Open", "Pull", "Pull")
    assert "E3" not in plugs
    said = [do(desk, "plug", part=part) for part in ("X12", "X12", "F11", "F11")]
    assert said == ["X12 opened.", "X12 joined.", "F11 pulled.", "F11 refitted."]


def test_an_impossible_act_is_answered_with_a_sentence(desk: Desk) -> None:
    """Nothing changes, and the sentence says why."""
    do(desk, "plug", part="F11")
    do(desk, "use", tool="ohms")
    measure(desk, "F11:1p", "F11:2p")
    before = acts(desk)

    said = do(desk, "plug", part="F11")
    assert said == "Lead A is on F11:1p. Lift it first."
    assert desk.state()["isWarning"]
    assert desk.state()["apart"] == ["F11"]
    assert acts(desk) == before


def test_an_unknown_act_is_answered_with_a_sentence(desk: Desk) -> None:
    """A page of another version is told so; it does not end in a traceback."""
    assert "dance" in do(desk, "dance")
    assert desk.state()["isWarning"]


def test_a_place_where_there_is_nothing_to_see_is_explained(desk: Desk) -> None:
    """What the tool cannot do is said, without a traceback."""
    do(desk, "use", tool="look")
    assert "There is nothing to see on GP1." in put(desk, "A", "GP1:31")


def test_a_tool_says_how_many_leads_it_has(desk: Desk) -> None:
    """A feed has no lead B."""
    leads = {tool["name"]: tool["leads"] for tool in desk.fixed()["tools"]}
    assert leads["volts"] == leads["jumper"] == 2
    assert leads["feed_supply"] == leads["look"] == 1


def test_undo_takes_back_the_last_act(desk: Desk) -> None:
    """Undo adds to the log and the page follows."""
    do(desk, "set_control", part="S2", position="side")
    assert do(desk, "undo") == "Taken back: lights side."
    assert desk.state()["positions"]["S2"] == "off"
    assert acts(desk) == ["set_control", "undo"]
    assert do(desk, "undo") == "There is nothing to undo."
    assert desk.state()["isWarning"]


def test_undo_names_each_act(desk: Desk) -> None:
    """The last one first; what was taken back already is passed over."""
    for part in ("F11", "X12", "X12"):
        do(desk, "plug", part=part)
    measure(desk, "G1:+")
    do(desk, "note")
    do(desk, "leave")
    do(desk, "fetch")
    put(desk, "A", "G1:+")
    do(desk, "lift", lead="A")
    do(desk, "use", tool="ohms")
    do(desk, "move_loom")
    said = [do(desk, "undo").partition(": ")[2].partition(".")[0] for _ in range(12)]
    assert said == [
        "move loom",
        "tool ohms",
        "lead A lifted",
        "lead A on G1:+",
        "fetch",
        "leave",
        "the last note",
        "lead B on G1:-",
        "lead A on G1:+",
        "join X12",
        "open X12",
        "pull F11",
    ]


def test_a_control_says_what_it_changes(desk: Desk) -> None:
    """In one sentence each: the lamps that changed, the relay, the meter."""
    measure(desk, "G1:+")
    do(desk, "set_control", part="S1", position="on")
    said = do(desk, "set_control", part="S2", position="dip")
    assert "Right dip lamp E4 full." in said
    assert "clicks." in said
    assert "V above B." in said
    do(desk, "lift", lead="A")
    said = do(desk, "set_control", part="S2", position="side")
    assert "clicks." in said
    assert "E6" not in said
    said = do(desk, "set_control", part="S2", position="side")
    assert said == "You see and hear no change."


def test_a_tool_with_its_own_leads_lifts_the_meters(desk: Desk) -> None:
    """Between the meter's ranges the leads stay; then they are said to be lifted."""
    measure(desk, "G1:+")
    assert "Switch off first, or pull the fuse." in do(desk, "use", tool="ohms")
    assert do(desk, "use", tool="look") == "The meter's leads are lifted."
    assert "Put lead A on the lamp, relay or fuse" in desk.state()["sentence"]


def test_the_same_mistake_in_a_row_is_one_line(desk: Desk) -> None:
    """With how often it was made."""
    do(desk, "use", tool="ohms")
    measure(desk, "G1:+")
    do(desk, "set_control", part="S2", position="side")
    (line,) = desk.state()["incidents"]
    assert line == "Ohms on a live circuit \N{MULTIPLICATION SIGN}2"


def test_every_tool_is_explained(desk: Desk) -> None:
    """One sentence for each tool there is."""
    assert words.TOOL_HELP.keys() == TOOLS.keys()
    helps = {tool["name"]: tool["help"] for tool in desk.fixed()["tools"]}
    assert helps == {name: words.TOOL_HELP[name] for name in desk.bench.tools}


def test_a_tool_that_is_left_connected_is_listed(desk: Desk) -> None:
    """It can be read again, and fetched, while another is in hand."""
    set_dip(desk)
    assert not desk.state()["canLeave"]
    measure(desk, "E3:31")
    assert desk.state()["canLeave"]
    do(desk, "leave")
    assert desk.state()["left"] == [
        {"label": TOOLS["volts"], "places": "E3:31 to G1:-"}
    ]
    do(desk, "use", tool="look")
    said = do(desk, "read", number=1)
    assert said == desk.state()["sentence"]
    assert desk.state()["reading"]["leads"] == "E3:31 to G1:-"
    assert do(desk, "fetch") == "All tools fetched."
    assert desk.state()["left"] == []


def test_held_values_are_the_lowest_and_the_highest(desk: Desk) -> None:
    """Between ignition off and on, at the battery under load and at rest."""
    assert desk.state()["holds"]
    measure(desk, "E3:56b")
    do(desk, "hold")
    set_dip(desk)
    low, high = desk.state()["held"]
    assert low == 0.0
    assert high > 12.0


def test_a_lifted_lead_leaves_no_reading(desk: Desk) -> None:
    """It is logged, and said."""
    measure(desk, "E3:31")
    assert do(desk, "lift", lead="A") == "Lead A lifted."
    assert desk.state()["leads"] == {"A": None, "B": "G1:-"}
    assert desk.state()["reading"] is None
    assert acts(desk)[-1] == "lift"


# --- Sheets ---------------------------------------------------------------------------


def test_a_small_vehicle_is_on_one_sheet(desk: Desk) -> None:
    """So there is nothing to turn to, and every lamp is on it."""
    assert desk.fixed()["sheets"] == []
    assert all(lamp in desk.sheet() for lamp in ("E3", "E4", "E5", "E6"))


def test_turning_to_a_sheet_is_no_act(desk: Desk) -> None:
    """Neither is asking for one that does not exist."""
    do(desk, "turn", sheet=desk.turned_to)
    assert not desk.state()["isWarning"]
    do(desk, "turn", sheet="no such sheet")
    assert desk.state()["isWarning"]
    assert acts(desk) == []


# --- Noting ---------------------------------------------------------------------------


def test_live_reading_stays_marked_until_it_is_noted(desk: Desk) -> None:
    """A note has its number, its places, how all was set, and the words."""
    measure(desk, "G1:+")
    assert not desk.state()["isNoted"]

    assert do(desk, "note") == "Reading 1 noted."
    assert desk.state()["isNoted"]
    (note,) = desk.state()["notes"]
    assert (note["number"], note["leads"]) == (1, "G1:+ to G1:-")
    assert note["text"] == "12.60 V"
    assert "Ignition off, lights off." in note["remark"]
    assert do(desk, "note") == "This reading is noted already."


def test_a_fuse_is_drawn_blown_once_it_was_seen(tmp_path: Path) -> None:
    """Until somebody pulls it and looks, a blown fuse is drawn like any other."""
    write_book(tmp_path, practice=True, fault=Fault(kind="fuse_blown", site="F11"))
    desk = Desk(start(tmp_path))
    do(desk, "plug", part="F11")
    assert ">blown</text>" not in desk.sheet()

    do(desk, "use", tool="look")
    put(desk, "A", "F11:1")
    do(desk, "note")
    put(desk, "A", "E3:31")
    assert ">blown</text>" in desk.sheet()


# --- Sound ----------------------------------------------------------------------------


def test_voltmeter_has_a_pitch_but_none_on_an_open(desk: Desk) -> None:
    """Supply is high, ground low, two octaves apart; a free pin is silent."""
    do(desk, "plug", part="X12")
    pitches = [measure(desk, p)["pitch"] for p in ("G1:+", "GP1:31", "X12:3p")]
    assert pitches == [880.0, 220.0, None]


# --- Concluding -----------------------------------------------------------------------


def test_kinds_are_those_of_the_site_and_of_the_exercise(desk: Desk) -> None:
    """A lamp can be blown; that a wrong one is fitted is not asked in this exercise."""
    kinds = {site: [k for k, _ in some] for site, _, some in desk.fixed()["sites"]}
    assert kinds["E3"] == ["lamp_blown"]
    assert kinds["GP1"] == ["open_circuit", "high_resistance"]


def test_the_top_of_a_fitted_fuse_can_be_measured(desk: Desk) -> None:
    """A blade fuse has two bare points; the fuse link F1 has none. 55 W over 8 mΩ."""
    tops = desk.fixed()["tops"]
    assert tops["F11:1"] == "F11:1p"
    assert "F1:1" not in tops
    set_dip(desk)
    do(desk, "use", tool="millivolts")
    shown = measure(desk, tops["F12:1"], tops["F12:2"])
    assert shown["unit"] == "mV"
    assert 20.0 < abs(float(shown["digits"])) < 60.0


def test_sites_stand_in_the_order_people_look_them_up(desk: Desk) -> None:
    """X4 comes before X12, as in a parts list; each says what it is."""
    for sites in (desk.fixed()["sites"], desk.fixed()["repairs"]):
        names = [site[0].partition(":")[0] for site in sites]
        assert names.index("X4") < names.index("X12")
        assert "E3 – left dip lamp" in [site[1] for site in sites]


def test_a_conclusion_is_written_row_by_row(desk: Desk) -> None:
    """Several rows mean one of these; what is not possible is answered."""
    first, second = ("W23", "high_resistance"), ("GP1", "high_resistance")
    assert conclude(desk, first, second) == "Conclusion written."
    assert desk.state()["conclusion"] == [list(first), list(second)]
    conclude(desk, second)
    assert desk.state()["conclusion"] == [list(second)]

    many = [(site, some[0][0]) for site, _, some in desk.fixed()["sites"]]
    assert "Measure more" in conclude(desk, *many)
    assert desk.state()["conclusion"] == [list(second)]


def test_handing_in_without_a_conclusion_is_refused(desk: Desk) -> None:
    """Whatever the page has let through."""
    assert do(desk, "hand_in") == "Still to write: your conclusion."
    assert acts(desk) == []


def test_first_repair_locks_the_conclusion(desk: Desk) -> None:
    """Then the rows cannot be changed."""
    assert "Write your conclusion first" in do(desk, "repair", site="W23")
    assert not desk.state()["isLocked"]

    conclude(desk, ("W23", "high_resistance"))
    said = do(desk, "repair", site="W23")
    assert said.startswith("Repaired: ")
    assert "Left dip lamp E3 off." in said
    assert desk.bench.repaired == ("W23",)
    assert desk.state()["isLocked"]
    assert "locked" in conclude(desk, ("E3", "lamp_blown"))
    assert desk.state()["conclusion"] == [["W23", "high_resistance"]]


def test_a_reading_after_the_repair_is_the_proof(desk: Desk) -> None:
    """The reading from before is no proof: the display is read anew."""
    assert "nothing is repaired" in desk.state()["undone"]
    set_dip(desk)
    measure(desk, "E3:31")
    do(desk, "note")
    conclude(desk, ("W23", "high_resistance"))
    do(desk, "repair", site="W23")
    assert "no reading proves the repair" in desk.state()["undone"]
    assert desk.state()["proof"] is None

    do(desk, "plug", part="F12")
    do(desk, "note")
    assert desk.state()["proof"] is None
    do(desk, "undo")
    do(desk, "plug", part="F12")
    do(desk, "note")
    before, after = (note.reading.value for note in desk.bench.notes)
    assert before is not None
    assert after is not None
    # A sound ground path is worth some tens of millivolts at most (common practice).
    assert after < 0.1 < before
    assert desk.state()["proof"] == 2
    assert desk.state()["undone"] == ""


# --- Hints and handing in -------------------------------------------------------------


def test_price_of_a_hint_stands_before_it(desk: Desk) -> None:
    """The price is seen first; after the last hint there is none."""
    assert desk.state()["hints"] == {"shown": [], "price": 4, "count": 1}
    do(desk, "hint")
    assert desk.state()["hints"] == {
        "shown": ["Compare left and right."],
        "price": None,
        "count": 1,
    }


def test_handing_in_closes_the_job(marked_desk: Desk) -> None:
    """On a marked ticket the marks come from the instructor, and there is one fault."""
    desk = marked_desk
    conclude(desk, ("W23", "high_resistance"))
    assert desk.state()["marksText"] == ""
    do(desk, "hand_in")
    state = desk.state()
    assert state["isHandedIn"]
    assert not state["isPractice"]
    assert state["marksText"] == "Handed in. Marks come from your instructor."
    assert "handed in" in do(desk, "set_control", part="S1", position="on")
    assert "no other" in do(desk, "another")
    assert acts(desk) == ["conclude", "hand_in"]


def test_practice_shows_its_marks(desk: Desk, tmp_path: Path) -> None:
    """After handing in, on the page, in the saved notebook and when reopened."""
    conclude(desk, ("W23", "high_resistance"))
    do(desk, "hand_in")
    again = Desk(start(tmp_path))
    saved = card_bundle(desk.job)["text/plain"]
    for row in desk.job.marks().rows:
        for text in (desk.state()["marksText"], again.state()["marksText"], saved):
            assert row.name.lower() in text.lower()


# --- The job card in the notebook -----------------------------------------------------


class Shown:
    """Stands in for a notebook's outputs."""

    def __init__(self) -> None:
        self.outputs: list[Any] = []

    def __call__(self, output: Any, **_: Any) -> Shown:
        """Take an output, as ``display`` does."""
        self.outputs.append(output)
        return self

    def update(self, output: Any, **_: Any) -> None:
        """Change the last output, as a display handle does."""
        self.outputs[-1] = output


@pytest.fixture
def outputs(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What a notebook that shows a workbench has in its outputs."""
    shown = Shown()
    monkeypatch.setattr(widget_module, "display", shown)
    return shown.outputs


def ask(bench: Workbench, act: str, **needs: Any) -> None:
    """Ask for an act, as a message from the page does."""
    bench._handle_custom_msg({"do": act, **needs}, [])


def test_outputs_carry_the_card_after_every_act(desk: Desk, outputs: list[Any]) -> None:
    """A saved notebook holds the whole log and the same in words."""
    bench = Workbench(desk.job)
    bench.display()
    assert outputs[0] is bench
    ask(bench, "set_control", part="S2", position="side")
    ask(bench, "place", lead="A", place="G1:+")
    ask(bench, "place", lead="B", place="G1:-")
    ask(bench, "note")

    card = outputs[1][MIME]
    assert card == desk.job.card().to_data()
    assert [a["do"] for a in card["actions"]] == acts(bench.desk)
    assert "lights side" in outputs[1]["text/plain"]
    assert "Reading 1: G1:+ to G1:-, 12.60 V" in outputs[1]["text/plain"]
    assert "12.60 V" in outputs[1]["text/html"]


def test_the_page_gets_what_the_desk_shows(desk: Desk) -> None:
    """After every operation state and drawing are those of the desk."""
    bench = Workbench(desk.job)
    ask(bench, "set_control", part="S1", position="on")
    ask(bench, "set_control", part="S2", position="dip")
    assert bench.state == bench.desk.state()
    assert bench.sheet == bench.desk.sheet()
    assert bench.fixed == bench.desk.fixed()
    assert ">faint</text>" in bench.sheet


def test_a_page_loaded_anew_is_told_to_run_the_cell(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From then on the card in the outputs would stand still."""
    bench = Workbench(desk.job)
    ask(bench, "set_control", part="S2", position="side")
    assert bench.state["message"] != RELOADED
    monkeypatch.setattr(widget_module, "_page", object)
    ask(bench, "set_control", part="S2", position="dip")
    assert bench.state["message"] == RELOADED
    assert bench.state["isWarning"]


def test_another_practice_fault_takes_the_place_of_the_first(
    tmp_path: Path, outputs: list[Any]
) -> None:
    """The same workbench shows an open job, and nothing is left of the one before."""
    copy_for_learner(tmp_path, "s07")
    folder = tmp_path / "a20_two_sides"
    bench = Workbench(start_practice("a20_practice_fault", folder=folder))
    bench.display()
    first = bench.fixed["ticket"]
    site, _, kinds = bench.fixed["sites"][0]
    ask(bench, "conclude", rows=[[site, kinds[0][0]]])
    ask(bench, "hand_in")
    assert bench.state["marksText"]
    ask(bench, "another")

    assert bench.fixed["ticket"] != first
    assert bench.state["marksText"] == ""
    assert not bench.state["isHandedIn"]
    assert outputs[1][MIME]["actions"] == []
    ask(bench, "set_control", part="S1", position="on")
    assert acts(bench.desk) == ["set_control"]


def test_desk_goes_on_from_the_card(desk: Desk, tmp_path: Path) -> None:
    """Another day, another kernel: everything is there, nothing is added."""
    do(desk, "set_control", part="S2", position="side")
    do(desk, "plug", part="X14")
    measure(desk, "G1:+")
    do(desk, "note")
    conclude(desk, ("W23", "high_resistance"))

    again = Desk(start(tmp_path))
    spoken = {"message", "isWarning"}
    one, other = (
        {k: v for k, v in d.state().items() if k not in spoken} for d in (desk, again)
    )
    assert other == one
    assert other["positions"]["S2"] == "side"
    assert other["apart"] == ["X14"]
    assert other["sentence"] == "A is 12.60 V above B."
    assert again.sheet() == desk.sheet()
    assert acts(again) == acts(desk)


def test_a_damaged_card_is_told(desk: Desk, tmp_path: Path) -> None:
    """The message of the job stands in the line that is also spoken."""
    do(desk, "set_control", part="S2", position="side")
    do(desk, "set_control", part="S2", position="dip")
    desk.job.path.write_text("{", encoding="utf-8")
    again = Desk(start(tmp_path))
    assert "damaged" in again.state()["message"]
    assert again.state()["isWarning"]


@pytest.mark.usefixtures("outputs")
def test_showing_a_job_again_closes_the_one_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two workbenches on one card would overwrite each other's work."""
    write_book(tmp_path, practice=True)
    monkeypatch.setattr(workbench, "_can_show_widgets", lambda: True)
    closed: list[Workbench] = []
    close = Workbench.close

    def spy(bench: Workbench) -> None:
        closed.append(bench)
        close(bench)

    monkeypatch.setattr(Workbench, "close", spy)
    workbench.show(start(tmp_path))
    assert closed == []
    workbench.show(start(tmp_path))
    assert [bench.comm for bench in closed] == [None]


# --- Where there is no widget ---------------------------------------------------------


def run_cell(folder: Path) -> list[Any]:
    """Outputs of a cell that shows the workbench, run in a kernel of its own."""
    source = "import ohmwork\nohmwork.start_job('x20_fault', learner='s01').workbench()"
    notebook = new_notebook(cells=[new_code_cell(source)])
    NotebookClient(notebook, resources={"metadata": {"path": str(folder)}}).execute()
    outputs: list[Any] = notebook.cells[0].outputs
    return outputs


def test_a_notebook_shows_the_workbench_and_the_card(tmp_path: Path) -> None:
    """Two outputs, and nothing on stderr, which would cost marks in a grade cell."""
    write_book(tmp_path, practice=True)
    page, card = run_cell(tmp_path)
    assert WIDGETS in page.data
    assert nbformat.from_dict(card.data)[MIME]["exercise"] == "x20_fault"


def test_nbgrader_gets_a_picture_and_a_text(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A widget would leave the page of its feedback empty."""
    monkeypatch.setenv("NBGRADER_EXECUTION", "autograde")
    write_book(tmp_path, practice=True)
    (page,) = run_cell(tmp_path)
    assert WIDGETS not in page.data
    assert "<svg" in page.data["text/html"]
    assert "The driver says" in page.data["text/plain"]
    assert page.data[MIME]["actions"] == []


def test_outside_a_notebook_the_plain_calls_are_offered(tmp_path: Path) -> None:
    """Text on stdout, nothing on stderr, and no widget library is even loaded."""
    write_book(tmp_path, practice=True)
    code = (
        "import sys, ohmwork, ohmwork.workbench\n"
        "ohmwork.start_job('x20_fault', learner='s01').workbench()\n"
        "print({'anywidget', 'ipywidgets'} & set(sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    assert "bench = job.bench" in done.stdout
    assert done.stdout.splitlines()[-1] == "set()"
    assert done.stderr == ""


# --- Words and colours ----------------------------------------------------------------


def test_names_sort_as_people_do() -> None:
    """Digits count as numbers."""
    assert words.in_order(["X12:1", "X4:2", "E10", "E3"]) == [
        "E3",
        "E10",
        "X4:2",
        "X12:1",
    ]


def test_the_pages_code_is_small_and_fetches_nothing() -> None:
    """Under 60 kB with its rules; no address, no import, nothing asked of a network."""
    folder = resources.files("ohmwork.workbench")
    code, rules = (
        (folder / f"workbench.{ending}").read_text(encoding="utf-8")
        for ending in ("js", "css")
    )
    assert len(code.encode()) + len(rules.encode()) < 60_000
    # The one address is the name of SVG's namespace, which nothing is fetched from.
    bare = code.replace("http://www.w3.org/2000/svg", "")
    asks = r"https?:|^import\b|\bimport\(|fetch\(|XMLHttpRequest|WebSocket|sendBeacon"
    assert re.findall(asks, bare, re.MULTILINE) == []
    assert re.findall(r"@import|url\(", rules) == []


@pytest.mark.parametrize("colours", [widget_module.LIGHT, widget_module.DARK])
@pytest.mark.parametrize(
    "ink", ["ink", "ink2", "live", "ground", "open", "warn", "accent"]
)
def test_text_is_legible_in_both_themes(colours: dict[str, str], ink: str) -> None:
    """WCAG 2.1, success criterion 1.4.3: at least 4.5 to 1 on whatever lies behind."""
    for behind in ("panel", "well", "sheet"):
        assert contrast(colours[ink], colours[behind]) >= 4.5
    assert contrast(colours["on-accent"], colours["accent"]) >= 4.5


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours by the formula of WCAG 2.1."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def luminance(colour: str) -> float:
    """Relative luminance by the formula of WCAG 2.1."""
    channels = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    linear = [
        c / 12.92 if c <= 0.03928 else math.pow((c + 0.055) / 1.055, 2.4)
        for c in channels
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
