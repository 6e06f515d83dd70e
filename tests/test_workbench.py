"""The workbench's desk, driven as its page drives it, and what stands in for it.

What the page alone does (drawing and dragging, asking once more before handing in,
sound) is tested in a browser.
"""

from __future__ import annotations

import math
import subprocess
import sys
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
from ohmwork.workbench.widget import Workbench
from small_job import start, write_book

WIDGETS = "application/vnd.jupyter.widget-view+json"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A desk with a practice job on which nothing has been done."""
    write_book(tmp_path, practice=True)
    return Desk(start(tmp_path))


def do(desk: Desk, act: str, **what: Any) -> dict[str, Any]:
    """Do what the page would ask for; return what it then shows."""
    desk.do({"do": act, **what})
    return desk.state()


def switch(desk: Desk, **controls: str) -> dict[str, Any]:
    """Set controls."""
    for part, position in controls.items():
        do(desk, "set_control", part=part, position=position)
    return desk.state()


def measure(desk: Desk, place_a: str, place_b: str = "G1:-") -> dict[str, Any]:
    """Place both leads as a learner would."""
    do(desk, "place", lead="A", place=place_a)
    return do(desk, "place", lead="B", place=place_b)


def conclude(desk: Desk, *rows: tuple[str, str]) -> dict[str, Any]:
    """Write the conclusion."""
    return do(desk, "conclude", rows=[list(row) for row in rows])


def acts(desk: Desk) -> list[str]:
    """What was done so far, by name."""
    return [action["do"] for action in desk.bench.actions]


GROUND = ("W23", "high_resistance")


# --- Measuring ------------------------------------------------------------------------


def test_reading_appears_once_both_leads_are_placed(desk: Desk) -> None:
    """Battery at rest: 12.6 V in the vehicle's file, across 10 MΩ nothing is lost."""
    shown = do(desk, "place", lead="A", place="G1:+")
    assert shown["reading"] is None
    assert shown["sentence"] == "No reading. Lead B is not placed."

    shown = do(desk, "place", lead="B", place="G1:-")
    assert (shown["reading"]["digits"], shown["reading"]["unit"]) == ("12.60", "V")
    assert shown["sentence"] == "A is 12.60 V above B."
    assert acts(desk) == ["place", "place", "read"]


@pytest.mark.parametrize(
    ("place", "word", "pitch"),
    [
        ("G1:+", "live", 880.0),
        ("GP1:31", "ground", 220.0),
        ("X12:3p", "open", None),
    ],
)
def test_voltmeter_says_a_word_and_sounds(
    desk: Desk, place: str, word: str, pitch: float | None
) -> None:
    """Battery post, ground bolt and, with the connector apart, a lamp's free pin.

    Supply is high, ground low: two octaves apart; an open one is silent.
    """
    do(desk, "plug", part="X12")
    reading = measure(desk, place)["reading"]

    assert reading["verdict"] == word
    assert reading["pitch"] == (None if pitch is None else pytest.approx(pitch, abs=1))


def test_no_word_between_two_places_off_the_minus_post(desk: Desk) -> None:
    """The words hold only with lead B on the battery's minus post."""
    reading = measure(desk, "G1:+", "GP1:31")["reading"]
    assert (reading["verdict"], reading["pitch"]) == (None, None)


def test_changing_a_control_is_read_again(desk: Desk) -> None:
    """Whatever the display shows is a reading, and every reading is logged."""
    measure(desk, "E3:56b")
    shown = switch(desk, S1="on", S2="dip")

    assert acts(desk).count("read") == 3
    assert "Left dip lamp E3 faint." in shown["sights"]
    assert shown["positions"] == {"S1": "on", "S2": "dip"}
    assert 'class="ow-text-state"' in desk.sheet()
    assert ">faint</text>" in desk.sheet()


def test_turning_to_another_sheet_is_no_act(desk: Desk) -> None:
    """Neither is asking for what does not exist."""
    do(desk, "turn", sheet=desk.turned_to)
    do(desk, "turn", sheet="no such sheet")
    do(desk, "whistle")
    assert desk.is_warning
    assert acts(desk) == []


def test_a_small_vehicle_is_on_one_sheet(desk: Desk) -> None:
    """So there is nothing to turn to, and every lamp is on it."""
    assert desk.fixed()["sheets"] == []
    assert all(lamp in desk.sheet() for lamp in ("E3", "E4", "E5", "E6"))


def test_a_lifted_lead_leaves_no_reading(desk: Desk) -> None:
    """It is logged, and said."""
    measure(desk, "E3:31")
    shown = do(desk, "lift", lead="A")
    assert shown["leads"] == {"A": None, "B": "G1:-"}
    assert shown["reading"] is None
    assert "Lead A lifted." in shown["message"]
    assert acts(desk)[-1] == "lift"


def test_only_what_can_be_touched_is_touched(desk: Desk) -> None:
    """The pins of a relay can be touched once it is pulled; a splice never."""
    for place, why in [("K3:86p", "K3 is fitted."), ("SP7:1", "inside the loom")]:
        shown = do(desk, "place", lead="A", place=place)
        assert shown["isWarning"]
        assert why in shown["message"]
        assert shown["leads"]["A"] is None

    shown = do(desk, "plug", part="K3")
    assert shown["apart"] == ["K3"]
    assert "K3 pulled." in shown["message"]
    assert "Dip relay K3 is out." in shown["sights"]
    shown = do(desk, "place", lead="A", place="K3:86p")
    assert shown["leads"]["A"] == "K3:86p"
    assert not shown["isWarning"]


def test_sites_stand_in_the_order_people_look_them_up(desk: Desk) -> None:
    """X4 comes before X12, as in a parts list; each with what it is."""
    sites = {site: label for site, label, _ in desk.fixed()["sites"]}
    names = [site.partition(":")[0] for site in sites]
    assert names.index("X4") < names.index("X12")
    assert sites["E3"] == "E3 – left dip lamp"
    assert sites["X12:3"] == "X12:3 – left lamp connector, way 3"


def test_an_impossible_act_is_answered_with_a_sentence(desk: Desk) -> None:
    """The page goes on showing what the bench says, and says why."""
    do(desk, "plug", part="K3")
    do(desk, "use", tool="ohms")
    measure(desk, "K3:86p", "K3:85p")
    shown = do(desk, "plug", part="K3")

    assert shown["message"] == "Lead A is on K3:86p. Lift it first."
    assert shown["isWarning"]
    assert shown["apart"] == ["K3"]


def test_a_place_where_there_is_nothing_to_see_is_explained(desk: Desk) -> None:
    """What the tool cannot do is said, not raised."""
    do(desk, "use", tool="look")
    shown = do(desk, "place", lead="A", place="GP1:31")
    assert "There is nothing to see on GP1." in shown["message"]


def test_a_tool_says_how_many_leads_it_has(desk: Desk) -> None:
    """A feed has no lead B."""
    leads = {tool["name"]: tool["leads"] for tool in desk.fixed()["tools"]}
    assert (leads["feed_supply"], leads["volts"]) == (1, 2)


def test_undo_takes_back_the_last_act(desk: Desk) -> None:
    """Undo adds to the log and the page follows."""
    switch(desk, S2="side")
    shown = do(desk, "undo")
    assert shown["positions"]["S2"] == "off"
    assert "Taken back: lights side." in shown["message"]
    assert acts(desk) == ["set_control", "undo"]
    shown = do(desk, "undo")
    assert "There is nothing to undo." in shown["message"]


def test_undo_names_each_act(desk: Desk) -> None:
    """The last one first; what was taken back already is passed over."""
    for part in ("F11", "X12", "X12"):
        do(desk, "plug", part=part)
    measure(desk, "G1:+")
    do(desk, "note")
    do(desk, "leave")
    do(desk, "fetch")
    do(desk, "use", tool="ohms")
    do(desk, "move_loom")
    said = []
    for _ in range(10):
        message = do(desk, "undo")["message"]
        said.append(message.partition("Taken back: ")[2].partition(".")[0])
    assert said == [
        "move loom",
        "tool ohms",
        "fetch",
        "leave",
        "the last note",
        "lead B on G1:-",
        "lead A on G1:+",
        "join X12",
        "open X12",
        "pull F11",
    ]


def test_leads_stay_between_the_meters_ranges(desk: Desk) -> None:
    """Another tool comes with its own; what to do with it is said."""
    measure(desk, "G1:+")
    shown = do(desk, "use", tool="ohms")
    assert "Switch off first, or pull the fuse." in shown["sentence"]
    shown = do(desk, "use", tool="look")
    assert shown["leads"] == {"A": None, "B": None}
    assert "Put lead A on the lamp, relay or fuse" in shown["sentence"]


def test_the_same_mistake_in_a_row_is_one_line(desk: Desk) -> None:
    """With how often it was made."""
    do(desk, "use", tool="ohms")
    measure(desk, "G1:+")
    shown = switch(desk, S2="side")
    assert shown["incidents"] == ["Ohms on a live circuit \N{MULTIPLICATION SIGN}2"]


def test_every_tool_is_explained(desk: Desk) -> None:
    """One sentence for each tool there is."""
    assert words.TOOL_HELP.keys() == TOOLS.keys()
    helps = {tool["name"]: tool["help"] for tool in desk.fixed()["tools"]}
    assert helps == {tool: words.TOOL_HELP[tool] for tool in desk.bench.tools}


# --- Tools left connected, holding ----------------------------------------------------


def test_a_tool_that_is_left_can_be_read_again(desk: Desk) -> None:
    """It is listed with its places; eyes cannot be left."""
    assert not desk.state()["canLeave"]
    assert measure(desk, "G1:+")["canLeave"]
    shown = do(desk, "leave")
    assert shown["left"] == [{"label": "Volts DC", "places": "G1:+ to G1:-"}]
    assert shown["leads"] == {"A": None, "B": None}

    shown = do(desk, "read", number=1)
    assert shown["reading"]["text"] == "12.60 V"
    assert do(desk, "fetch")["left"] == []


def test_what_is_held_is_shown(desk: Desk) -> None:
    """Lowest and highest, for tools that can."""
    measure(desk, "E3:56b")
    assert do(desk, "hold")["held"] == (0.0, 0.0)
    low, high = switch(desk, S1="on", S2="dip")["held"]
    assert low == 0.0
    assert high > 12.0
    assert not do(desk, "use", tool="ohms")["holds"]


# --- Noting ---------------------------------------------------------------------------


def test_a_reading_is_shown_as_noted_once_it_is(desk: Desk) -> None:
    """The note says where and how things stood."""
    assert not measure(desk, "G1:+")["isNoted"]

    shown = do(desk, "note")
    assert shown["message"] == "Reading 1 noted."
    assert shown["isNoted"]
    (note,) = shown["notes"]
    assert (note["number"], note["leads"], note["text"]) == (
        1,
        "G1:+ to G1:-",
        "12.60 V",
    )
    assert "Ignition off, lights off." in note["remark"]
    assert "This reading is noted already." in do(desk, "note")["message"]


def test_a_fuse_is_drawn_blown_once_it_was_seen(tmp_path: Path) -> None:
    """Until somebody pulls it and looks, a blown fuse is drawn like any other."""
    write_book(tmp_path, practice=True, fault=Fault(kind="fuse_blown", site="F11"))
    desk = Desk(start(tmp_path))
    do(desk, "plug", part="F11")
    assert ">blown</text>" not in desk.sheet()

    do(desk, "use", tool="look")
    do(desk, "place", lead="A", place="F11:1")
    do(desk, "note")
    do(desk, "place", lead="A", place="E3:31")
    assert ">blown</text>" in desk.sheet()


# --- Concluding -----------------------------------------------------------------------


def test_kinds_are_those_of_the_site_and_of_the_exercise(desk: Desk) -> None:
    """A lamp can be blown; that a wrong one is fitted is not asked in this exercise."""
    kinds = {site: [k for k, _ in kinds] for site, _, kinds in desk.fixed()["sites"]}
    assert kinds["E3"] == ["lamp_blown"]
    assert kinds["GP1"] == ["open_circuit", "high_resistance"]


def test_several_rows_mean_one_of_these(desk: Desk) -> None:
    """The last conclusion stands."""
    other = ("GP1", "high_resistance")
    assert conclude(desk, GROUND, other)["conclusion"] == [list(GROUND), list(other)]
    assert conclude(desk, other)["conclusion"] == [list(other)]


def test_first_repair_locks_the_conclusion(desk: Desk) -> None:
    """Then its rows cannot be changed."""
    shown = do(desk, "repair", site="W23")
    assert "Write your conclusion first" in shown["message"]
    assert not shown["isLocked"]

    conclude(desk, GROUND)
    shown = do(desk, "repair", site="W23")
    assert desk.bench.repaired == ("W23",)
    assert shown["isLocked"]
    assert "Repaired: wire W23" in shown["message"]
    assert "locked the conclusion" in conclude(desk, GROUND)["message"]


def test_a_reading_after_the_repair_is_the_proof(desk: Desk) -> None:
    """The reading from before is no proof: the display is read anew."""
    switch(desk, S1="on", S2="dip")
    measure(desk, "E3:31")
    do(desk, "note")
    conclude(desk, GROUND)
    shown = do(desk, "repair", site="W23")
    assert "no reading is noted after the repair" in shown["undone"]
    assert shown["proof"] is None

    shown = do(desk, "note")
    before, after = (note.reading.value for note in desk.bench.notes)
    assert before is not None
    assert after is not None
    # A sound ground path is worth some tens of millivolts at most (common practice).
    assert after < 0.1 < before
    assert (shown["proof"], shown["undone"]) == (2, "")


# --- Hints and handing in -------------------------------------------------------------


def test_price_of_a_hint_stands_before_it(desk: Desk) -> None:
    """The price is seen first; after the last hint there is none."""
    assert desk.state()["hints"] == {"shown": [], "price": 4, "count": 1}
    shown = do(desk, "hint")
    assert shown["hints"] == {
        "shown": ["Compare left and right."],
        "price": None,
        "count": 1,
    }
    assert "There are no more hints." in do(desk, "hint")["message"]


def test_handing_in_closes_the_job(tmp_path: Path) -> None:
    """On a marked ticket the marks come from the instructor."""
    write_book(tmp_path, practice=False)
    desk = Desk(start(tmp_path))
    assert "Still to write: your conclusion." in do(desk, "hand_in")["message"]
    conclude(desk, GROUND)
    assert "no reading is noted" in desk.state()["undone"]
    shown = do(desk, "hand_in")
    assert desk.bench.is_handed_in
    assert (shown["isHandedIn"], shown["isPractice"]) == (True, False)
    assert shown["marksText"] == "Handed in. Marks come from your instructor."
    assert "The job is handed in" in switch(desk, S1="on")["message"]
    assert "there is no other" in do(desk, "another")["message"]


# --- In a notebook --------------------------------------------------------------------


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
def shown(monkeypatch: pytest.MonkeyPatch) -> Shown:
    """What a notebook has in its outputs."""
    shown = Shown()
    monkeypatch.setattr(widget_module, "display", shown)
    return shown


@pytest.fixture
def bench(tmp_path: Path, shown: Shown) -> Workbench:
    """A workbench that is shown in a notebook."""
    write_book(tmp_path, practice=True)
    bench = Workbench(start(tmp_path))
    bench.display()
    assert len(shown.outputs) == 2
    return bench


def ask(bench: Workbench, act: str, **what: Any) -> None:
    """Send an operation as the page does."""
    bench._handle_custom_msg({"do": act, **what}, [])


def hand_in(bench: Workbench, site: str, kind: str) -> None:
    """Conclude and hand in."""
    ask(bench, "conclude", rows=[[site, kind]])
    ask(bench, "hand_in")


def test_the_page_gets_what_the_desk_shows(bench: Workbench) -> None:
    """After every operation state and drawing are those of the desk."""
    ask(bench, "set_control", part="S1", position="on")
    ask(bench, "set_control", part="S2", position="dip")
    assert bench.state == bench.desk.state()
    assert bench.sheet == bench.desk.sheet()
    assert bench.fixed == bench.desk.fixed()
    assert ">faint</text>" in bench.sheet


def test_outputs_carry_the_card_after_every_act(bench: Workbench, shown: Shown) -> None:
    """A saved notebook holds the whole log and the same in words."""
    ask(bench, "set_control", part="S2", position="side")
    ask(bench, "place", lead="A", place="G1:+")
    ask(bench, "place", lead="B", place="G1:-")
    ask(bench, "note")

    output = shown.outputs[1]
    assert output[MIME] == bench.desk.job.card().to_data()
    assert [a["do"] for a in output[MIME]["actions"]] == acts(bench.desk)
    assert "lights side" in output["text/plain"]
    assert "Reading 1: G1:+ to G1:-, 12.60 V" in output["text/plain"]
    assert "12.60 V" in output["text/html"]


def test_practice_shows_its_marks(
    bench: Workbench, shown: Shown, tmp_path: Path
) -> None:
    """After handing in, on the page, in the saved notebook and when reopened."""
    hand_in(bench, *GROUND)
    again = Desk(start(tmp_path)).state()["marksText"]
    for row in bench.desk.job.marks().rows:
        for text in (bench.state["marksText"], again, shown.outputs[1]["text/plain"]):
            assert row.name.lower() in text.lower()


def test_another_practice_fault_takes_the_place_of_the_first(
    tmp_path: Path, shown: Shown
) -> None:
    """The same page then shows an open job, and nothing is left of the one before."""
    copy_for_learner(tmp_path, "s07")
    folder = tmp_path / "a20_two_sides"
    bench = Workbench(start_practice("a20_practice_fault", folder=folder))
    bench.display()
    first = bench.desk.job.ticket_number
    site, _, ((kind, _), *_) = bench.fixed["sites"][0]
    hand_in(bench, site, kind)
    ask(bench, "another")

    assert bench.desk.job.ticket_number != first
    assert bench.fixed["ticket"] == bench.desk.job.ticket_number
    assert not bench.state["isHandedIn"]
    assert bench.state["marksText"] == ""
    assert shown.outputs[1][MIME]["actions"] == []
    ask(bench, "set_control", part="S1", position="on")
    assert acts(bench.desk) == ["set_control"]


def test_the_desk_goes_on_from_the_card(desk: Desk, tmp_path: Path) -> None:
    """Another day, another kernel: everything is there, nothing is added."""
    switch(desk, S2="side")
    do(desk, "plug", part="X12")
    measure(desk, "G1:+")
    do(desk, "note")
    conclude(desk, GROUND)

    again = Desk(start(tmp_path))
    shown = again.state()
    assert shown["positions"]["S2"] == "side"
    assert shown["leads"]["A"] == "G1:+"
    assert shown["apart"] == ["X12"]
    assert shown["sentence"] == "A is 12.60 V above B."
    assert shown["conclusion"] == [list(GROUND)]
    assert acts(again) == acts(desk)


def test_a_damaged_card_is_told(desk: Desk, tmp_path: Path) -> None:
    """The message of the job stands in the line that is also spoken."""
    switch(desk, S2="side")
    switch(desk, S2="dip")
    desk.job.path.write_text("{", encoding="utf-8")
    shown = Desk(start(tmp_path)).state()
    assert "damaged" in shown["message"]
    assert shown["isWarning"]


def test_showing_a_job_again_closes_the_workbench_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, shown: Shown
) -> None:
    """Two on one card would overwrite each other's work."""
    write_book(tmp_path, practice=True)
    monkeypatch.setattr(workbench, "_can_show_widgets", lambda: True)
    workbench.show(start(tmp_path))
    first = shown.outputs[0]
    assert first.comm is not None
    workbench.show(start(tmp_path))
    assert first.comm is None
    assert shown.outputs[2].comm is not None


# --- Where there is no workbench ------------------------------------------------------


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
