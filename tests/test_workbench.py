"""The workbench's form, driven without a browser, and what stands in for it."""

from __future__ import annotations

import io
import math
import subprocess
import sys
import wave
from array import array
from itertools import pairwise
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
from ohmwork.workbench import form as form_module
from ohmwork.workbench import words
from ohmwork.workbench.form import RELOADED, Form
from ohmwork.workbench.sound import DURATION, tone
from small_job import start, write_book

WIDGETS = "application/vnd.jupyter.widget-view+json"


@pytest.fixture
def form(tmp_path: Path) -> Form:
    """A form on a practice job on which nothing has been done."""
    write_book(tmp_path, practice=True)
    return Form(start(tmp_path))


@pytest.fixture
def marked_form(tmp_path: Path) -> Form:
    """The same on a job whose marks come from an instructor."""
    write_book(tmp_path, practice=False)
    return Form(start(tmp_path))


def measure(form: Form, place_a: str, place_b: str = "G1:-") -> None:
    """Place both leads as a learner would."""
    form.leads["A"].value = place_a
    form.leads["B"].value = place_b


def conclude(form: Form, site: str, kind: str, number: int = 0) -> None:
    """Choose site and kind in one row of the conclusion."""
    answer = form.conclusion.answers[number]
    answer.site.value = site
    answer.kind.value = kind


def acts(form: Form) -> list[str]:
    """What was done so far, by name."""
    return [action["do"] for action in form.bench.actions]


def offered(list_: Any) -> list[str]:
    """Values that a list offers."""
    return [value for _, value in list_.options if value]


# --- Measuring ------------------------------------------------------------------------


def test_reading_appears_once_both_leads_are_placed(form: Form) -> None:
    """Battery at rest: 12.6 V in the vehicle's file, across 10 MΩ nothing is lost."""
    form.leads["A"].value = "G1:+"
    assert "No reading. Lead B is not placed." in form.meter.value

    form.leads["B"].value = "G1:-"
    assert "12.60" in form.meter.value
    assert "A is 12.60 V above B." in form.status.value
    assert acts(form) == ["place", "place", "read"]


@pytest.mark.parametrize(
    ("place", "word"),
    [("G1:+", "LIVE"), ("GP1:31", "GROUND"), ("X12:3p", "OPEN")],
)
def test_voltmeter_says_a_word_with_its_shape(
    form: Form, place: str, word: str
) -> None:
    """Battery post, ground bolt and, with the connector apart, a lamp's free pin."""
    form.part.value = "X12"
    form.plug.click()
    measure(form, place)

    assert f"</svg>{word}<" in form.meter.value


def test_no_word_between_two_places_off_the_minus_post(form: Form) -> None:
    """The words hold only with lead B on the battery's minus post."""
    measure(form, "G1:+", "GP1:31")
    assert "</svg>" not in form.meter.value


def test_changing_a_control_is_read_again(form: Form) -> None:
    """Whatever the display shows is a reading, and every reading is logged."""
    measure(form, "E3:56b")
    form.controls["S1"].value = "on"
    form.controls["S2"].value = "dip"

    assert acts(form).count("read") == 3
    assert "Left dip lamp E3 faint." in form.sights.value
    assert 'class="ow-text-state"' in form.sheet.value
    assert ">faint</text>" in form.sheet.value


def test_changing_nothing_is_not_logged(form: Form) -> None:
    """Choosing a part, or switching sound, is no act on the vehicle."""
    form.part.value = "X14"
    form.sound.value = False
    form.plug.click()
    assert acts(form) == ["unplug"]


def test_a_lead_is_lifted_by_its_button_and_by_the_list(form: Form) -> None:
    """Both ways leave the same act in the log."""
    measure(form, "E3:31")
    form.lifts["A"].click()
    assert form.leads["A"].value == ""
    form.leads["B"].value = ""
    assert acts(form)[-2:] == ["lift", "lift"]


def test_only_what_can_be_touched_is_offered(form: Form) -> None:
    """The pins of a relay can be touched once it is pulled; a splice never.

    A fitted fuse has a bare top for the meter.
    """
    assert "K3:86p" not in offered(form.leads["A"])
    assert "F11:1p" in offered(form.leads["A"])
    assert not any(place.startswith("SP") for place in offered(form.leads["A"]))

    form.part.value = "K3"
    assert form.plug.description == "Pull K3"
    form.plug.click()
    assert "K3:86p" in offered(form.leads["A"])
    assert form.plug.description == "Refit K3"
    assert "Dip relay K3 is out." in form.sights.value


def test_places_stand_in_the_order_people_look_them_up(form: Form) -> None:
    """X4 comes before X12, as in a parts list."""
    names = [place.partition(":")[0] for place in offered(form.leads["A"])]
    assert names.index("X4") < names.index("X12")
    labels = dict((value, label) for label, value in form.leads["A"].options)
    assert labels["E3:31"] == "E3:31 – left dip lamp, ground side"


def test_an_impossible_act_is_answered_with_a_sentence(form: Form) -> None:
    """The form goes back to what the bench says, and says why."""
    form.part.value = "F11"
    form.plug.click()
    form.tools.value = "ohms"
    measure(form, "F11:1p", "F11:2p")
    form.plug.click()

    assert "Lead A is on F11:1p. Lift it first." in form.status.value
    assert form.plug.description == "Refit F11"


def test_a_place_where_there_is_nothing_to_see_is_explained(form: Form) -> None:
    """What the tool cannot do stands under the display, not in a traceback."""
    form.tools.value = "look"
    form.leads["A"].value = "GP1:31"
    assert "There is nothing to see on GP1." in form.meter.value


def test_a_tool_with_one_lead_hides_the_other(form: Form) -> None:
    """A feed has no lead B."""
    form.tools.value = "feed_supply"
    assert form.lead_rows["B"].layout.display == "none"
    form.tools.value = "volts"
    assert form.lead_rows["B"].layout.display is None


def test_undo_takes_back_the_last_act(form: Form) -> None:
    """Undo adds to the log and the form follows."""
    form.controls["S2"].value = "side"
    form.undo.click()
    assert form.controls["S2"].value == "off"
    assert "Taken back: lights side." in form.status.value
    assert acts(form) == ["set_control", "undo"]
    form.undo.click()
    assert "There is nothing to undo." in form.status.value


def test_undo_names_each_act(form: Form) -> None:
    """The last one first; what was taken back already is passed over."""
    form.part.value = "F11"
    form.plug.click()
    form.part.value = "X12"
    form.plug.click()
    form.plug.click()
    measure(form, "G1:+")
    form.note.click()
    form.lifts["A"].click()
    form.tools.value = "ohms"
    said = []
    for _ in range(8):
        form.undo.click()
        said.append(form.status.value.partition(": ")[2].partition(".<")[0])
    assert said == [
        "tool ohms",
        "lead A lifted",
        "the last note",
        "lead B on G1:-",
        "lead A on G1:+",
        "join X12",
        "open X12",
        "pull F11",
    ]


def test_a_control_says_what_it_changes(form: Form) -> None:
    """Beside the controls: the lamps that changed, the relay, the meter."""
    measure(form, "G1:+")
    form.controls["S1"].value = "on"
    form.controls["S2"].value = "dip"
    assert "Right dip lamp E4 full." in form.status.value
    assert "clicks." in form.status.value
    assert "V above B." in form.status.value
    form.lifts["A"].click()
    form.controls["S2"].value = "side"
    assert "clicks." in form.status.value
    assert "E6" not in form.status.value


def test_a_tool_with_its_own_leads_lifts_the_meters(form: Form) -> None:
    """Between the meter's ranges the leads stay; then they are said to be lifted."""
    measure(form, "G1:+")
    form.tools.value = "ohms"
    assert "Switch off first, or pull the fuse." in form.meter.value
    form.tools.value = "look"
    assert "leads are lifted." in form.status.value
    assert "Put lead A on the lamp, relay or fuse" in form.meter.value


def test_the_same_mistake_in_a_row_is_one_line(form: Form) -> None:
    """With how often it was made."""
    form.tools.value = "ohms"
    measure(form, "G1:+")
    form.controls["S2"].value = "side"
    assert "Ohms on a live circuit \N{MULTIPLICATION SIGN}2." in form.sights.value


def test_every_tool_is_explained(form: Form) -> None:
    """One sentence for each tool there is."""
    assert words.TOOL_HELP.keys() == TOOLS.keys()
    assert form.tools.tooltips == tuple(words.TOOL_HELP[t] for t in form.bench.tools)


# --- Noting ---------------------------------------------------------------------------


def test_live_reading_stays_marked_until_it_is_noted(form: Form) -> None:
    """The reading on the meter is the last row, under the number it would get."""
    assert form.live_row.layout.visibility == "hidden"
    measure(form, "G1:+")
    assert form.live_row.layout.visibility == "visible"
    assert "not noted" in form.live.value

    form.note.click()
    assert "Noted as reading 1." in form.status.value
    assert form.live_row.layout.visibility == "hidden"
    assert "G1:+ to G1:-" in form.readings.value
    assert "Ignition off, lights off." in form.readings.value
    form.note.click()
    assert "This reading is noted already." in form.status.value


def test_a_fuse_is_drawn_blown_once_it_was_seen(tmp_path: Path) -> None:
    """Until somebody pulls it and looks, a blown fuse is drawn like any other."""
    write_book(tmp_path, practice=True, fault=Fault(kind="fuse_blown", site="F11"))
    form = Form(start(tmp_path))
    form.part.value = "F11"
    form.plug.click()
    assert ">blown</text>" not in form.sheet.value

    form.tools.value = "look"
    form.leads["A"].value = "F11:1"
    form.note.click()
    form.leads["A"].value = "E3:31"
    assert ">blown</text>" in form.sheet.value


# --- Sound ----------------------------------------------------------------------------


@pytest.mark.parametrize("pitch", [220.0, 440.0, 880.0])
def test_tone_has_the_pitch_asked_for(pitch: float) -> None:
    """A sine crosses zero twice in each period."""
    with wave.open(io.BytesIO(tone(pitch))) as sound:
        samples = array("h", sound.readframes(sound.getnframes()))
    signs = [sample > 0 for sample in samples if sample]
    crossings = sum(a != b for a, b in pairwise(signs))
    # Two crossings may be lost where the tone fades in and out.
    assert crossings == pytest.approx(2.0 * pitch * DURATION, abs=2)
    assert max(samples) < 32767 * 0.2


def test_voltmeter_is_heard_at_the_pitch_of_its_reading(form: Form) -> None:
    """Supply is high, ground low: two octaves apart."""
    measure(form, "G1:+")
    high = form.audio.value
    form.leads["A"].value = "GP1:31"
    low = form.audio.value

    assert high == tone(880.0)
    assert low == tone(220.0)

    form.lifts["A"].click()
    form.leads["A"].value = "GP1:31"
    # What is the same to the page would not be played again.
    assert form.audio.value != low


def test_voltmeter_is_silent_on_an_open_and_when_switched_off(form: Form) -> None:
    """Silence itself is the answer on a lead that hangs free."""
    silence = form.audio.value
    form.part.value = "X12"
    form.plug.click()
    measure(form, "X12:3p")
    assert form.audio.value == silence

    form.sound.value = False
    form.leads["A"].value = "G1:+"
    assert form.audio.value == silence
    assert form.sound.description == "Sound: off"


# --- Concluding -----------------------------------------------------------------------


def test_kinds_are_those_of_the_site_and_of_the_exercise(form: Form) -> None:
    """A lamp can be blown; that a wrong one is fitted is not asked in this exercise."""
    answer = form.conclusion.answers[0]
    answer.site.value = "E3"
    assert offered(answer.kind) == ["lamp_blown"]
    answer.site.value = "GP1"
    assert offered(answer.kind) == ["open_circuit", "high_resistance"]


def test_a_kind_survives_another_site_that_can_have_it(form: Form) -> None:
    """Changing where does not make a learner choose what again, if it still fits."""
    conclude(form, "W23", "high_resistance")
    form.conclusion.answers[0].site.value = "GP1"
    assert form.bench.conclusion == (("GP1", "high_resistance"),)
    form.conclusion.answers[0].site.value = "E3"
    assert form.conclusion.answers[0].kind.value == ""


def test_what_is_missing_is_said(form: Form) -> None:
    """Hand in names the gap and hands nothing in."""
    assert "Still to choose: where and what is wrong." in form.check.value
    form.conclusion.answers[0].site.value = "W23"
    assert "Still to choose: what is wrong." in form.check.value

    form.hand_in.click()
    assert "Still to choose: what is wrong." in form.status.value
    assert form.sure.layout.display == "none"
    assert acts(form) == []


def test_several_rows_mean_one_of_these(form: Form) -> None:
    """A row that is removed leaves the conclusion."""
    conclude(form, "W23", "high_resistance")
    form.conclusion.add.click()
    assert "The second answer is empty: fill it or remove it." in form.check.value
    conclude(form, "GP1", "high_resistance", 1)
    assert [site for site, _ in form.bench.conclusion] == ["W23", "GP1"]

    form.conclusion.answers[0].remove.click()
    assert [site for site, _ in form.bench.conclusion] == ["GP1"]


def test_first_repair_locks_the_conclusion(form: Form) -> None:
    """Said before the button; then the rows cannot be changed."""
    assert "The first repair locks your conclusion." in form.repaired.value
    form.repair.click()
    assert "Still to choose: where to repair." in form.status.value
    assert "Still to choose: where to repair." in form.by_repair.value
    form.repairs.value = "W23"
    form.repair.click()
    assert "Write your conclusion first" in form.status.value

    conclude(form, "W23", "high_resistance")
    form.repair.click()
    assert form.bench.repaired == ("W23",)
    assert "You see and hear: Left dip lamp E3 off." in form.by_repair.value
    assert form.conclusion.answers[0].site.disabled
    assert "Locked by the repair." in form.concluded.value


def test_a_reading_after_the_repair_is_the_proof(form: Form) -> None:
    """The reading from before is no proof: the display is read anew."""
    form.controls["S1"].value = "on"
    form.controls["S2"].value = "dip"
    measure(form, "E3:31")
    form.note.click()
    conclude(form, "W23", "high_resistance")
    form.repairs.value = "W23"
    form.repair.click()
    assert "no reading is noted after the repair" in form.check.value

    form.note.click()
    before, after = (note.reading.value for note in form.bench.notes)
    assert before is not None
    assert after is not None
    # A sound ground path is worth some tens of millivolts at most (common practice).
    assert after < 0.1 < before
    assert "Proof: reading 2." in form.repaired.value
    assert "Not done yet" not in form.check.value


# --- Hints and handing in -------------------------------------------------------------


def test_price_of_a_hint_stands_before_it(form: Form) -> None:
    """The price is seen first; with the last hint the button goes."""
    assert "Hint 1 of 1 costs 4 marks." in form.hints.value
    assert "Compare" not in form.hints.value
    form.hint.click()
    assert "Compare left and right." in form.hints.value
    assert form.hint.layout.display == "none"


def test_handing_in_asks_once_and_closes_the_job(marked_form: Form) -> None:
    """On a marked ticket the marks come from the instructor."""
    form = marked_form
    conclude(form, "W23", "high_resistance")
    form.hand_in.click()
    assert "It cannot be taken back." in form.status.value
    assert "It cannot be taken back." in form.check.value
    assert "ow-ready" not in form.hand_in._dom_classes
    form.go_on.click()
    assert "You can hand in once." in form.check.value
    assert "ow-ready" in form.hand_in._dom_classes
    assert form.sure.layout.display == "none"
    assert not form.bench.is_handed_in

    form.hand_in.click()
    form.confirm.click()
    assert form.bench.is_handed_in
    assert "Handed in. Marks come from your instructor." in form.marks.value
    assert form.controls["S1"].disabled
    assert form.hand_in.disabled
    assert form.another.layout.display == "none"


def test_practice_shows_its_marks(
    form: Form, outputs: list[Any], tmp_path: Path
) -> None:
    """After handing in, in the form, in the saved page and when reopened."""
    conclude(form, "W23", "high_resistance")
    assert "Hand in to see your marks." in form.check.value
    form.hand_in.click()
    form.confirm.click()
    again = Form(start(tmp_path))
    for row in form.job.marks().rows:
        for text in (form.marks.value, again.marks.value, outputs[1]["text/plain"]):
            assert row.name.lower() in text.lower()


def test_another_practice_fault_takes_the_place_of_the_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same form then shows an open job, and nothing is left of the one before."""
    shown = Shown()
    monkeypatch.setattr(form_module, "display", shown)
    copy_for_learner(tmp_path, "s07")
    folder = tmp_path / "a20_two_sides"
    form = Form(start_practice("a20_practice_fault", folder=folder))
    form.display()
    root, first = form.root, form.job.ticket_number
    site, (kind, *_) = next(
        iter(words.kinds_by_site(form.bench.vehicle, form.job.exercise).items())
    )
    conclude(form, site, kind)
    form.hand_in.click()
    form.confirm.click()
    undo = form.undo
    form.another.click()

    assert form.root is root
    assert form.job.ticket_number != first
    assert undo.comm is None
    assert not form.undo.disabled
    assert form.marks.value == ""
    assert shown.outputs[1][MIME]["actions"] == []
    form.controls["S1"].value = "on"
    assert acts(form) == ["set_control"]


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
def outputs(form: Form, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What a notebook that shows the form has in its outputs."""
    shown = Shown()
    monkeypatch.setattr(form_module, "display", shown)
    form.display()
    return shown.outputs


def test_outputs_carry_the_card_after_every_act(form: Form, outputs: list[Any]) -> None:
    """A saved notebook holds the whole log and the same in words."""
    assert len(outputs) == 2
    form.controls["S2"].value = "side"
    measure(form, "G1:+")
    form.note.click()

    card = outputs[1][MIME]
    assert card == form.job.card().to_data()
    assert [a["do"] for a in card["actions"]] == acts(form)
    assert "lights side" in outputs[1]["text/plain"]
    assert "Reading 1: G1:+ to G1:-, 12.60 V" in outputs[1]["text/plain"]
    assert "12.60 V" in outputs[1]["text/html"]


def test_page_loaded_anew_is_told_to_run_the_cell(
    form: Form, outputs: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """From then on the card in the outputs would stand still."""
    assert len(outputs) == 2
    monkeypatch.setattr(form_module, "_page", object)
    form.controls["S2"].value = "side"
    assert RELOADED in form.status.value


def test_form_goes_on_from_the_card(form: Form, tmp_path: Path) -> None:
    """Another day, another kernel: everything is there, nothing is added."""
    form.controls["S2"].value = "side"
    measure(form, "G1:+")
    form.note.click()
    conclude(form, "W23", "high_resistance")

    again = Form(start(tmp_path))
    assert again.controls["S2"].value == "side"
    assert again.leads["A"].value == "G1:+"
    assert "12.60" in again.meter.value
    assert "A is 12.60 V above B." in again.meter.value
    assert again.conclusion.rows == (("W23", "high_resistance"),)
    assert acts(again) == acts(form)


def test_form_goes_on_with_the_part_that_is_apart(form: Form, tmp_path: Path) -> None:
    """So that it is not forgotten."""
    form.part.value = "X12"
    form.plug.click()
    assert Form(start(tmp_path)).plug.description == "Join X12"


def test_a_damaged_card_is_told_in_the_form(form: Form, tmp_path: Path) -> None:
    """The message of the job stands in the line that is also spoken."""
    form.controls["S2"].value = "side"
    form.controls["S2"].value = "dip"
    form.job.path.write_text("{", encoding="utf-8")
    again = Form(start(tmp_path))
    assert "damaged" in again.status.value


def test_showing_a_job_again_closes_the_form_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two forms on one card would overwrite each other's work."""
    write_book(tmp_path, practice=True)
    monkeypatch.setattr(workbench, "_can_show_widgets", lambda: True)
    monkeypatch.setattr(form_module, "display", Shown())
    closed: list[Form] = []
    close = Form.close

    def spy(form: Form) -> None:
        closed.append(form)
        close(form)

    monkeypatch.setattr(Form, "close", spy)
    workbench.show(start(tmp_path))
    assert closed == []
    workbench.show(start(tmp_path))
    assert [form.undo.comm for form in closed] == [None]


# --- Where there is no form -----------------------------------------------------------


def run_cell(folder: Path) -> list[Any]:
    """Outputs of a cell that shows the workbench, run in a kernel of its own."""
    source = "import ohmwork\nohmwork.start_job('x20_fault', learner='s01').workbench()"
    notebook = new_notebook(cells=[new_code_cell(source)])
    NotebookClient(notebook, resources={"metadata": {"path": str(folder)}}).execute()
    outputs: list[Any] = notebook.cells[0].outputs
    return outputs


def test_a_notebook_shows_the_form_and_the_card(tmp_path: Path) -> None:
    """Two outputs, and nothing on stderr, which would cost marks in a grade cell."""
    write_book(tmp_path, practice=True)
    form, card = run_cell(tmp_path)
    assert WIDGETS in form.data
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
    """Text on stdout, nothing on stderr, and ipywidgets is not even loaded."""
    write_book(tmp_path, practice=True)
    code = (
        "import sys, ohmwork, ohmwork.workbench\n"
        "ohmwork.start_job('x20_fault', learner='s01').workbench()\n"
        "print('ipywidgets' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    assert "bench = job.bench" in done.stdout
    assert done.stdout.splitlines()[-1] == "False"
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


@pytest.mark.parametrize("colours", [form_module.LIGHT, form_module.DARK])
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
