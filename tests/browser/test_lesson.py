"""The marked fault of the lesson, by mouse, from the class's hand-out to its marks."""

import shutil
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import expect

from browser.handling import Hand
from browser.harness import Lab, Notebook
from ohmwork.faults import Fault
from ohmwork_grading.classroom import Classroom, create

LESSON = "a20_two_sides"
LEARNER = "s01"
WALK = ("E3:56b", "E3:31", "X12:3", "F11:2")
"""From the lamp back along its supply side, where a technician would go."""


def class_with_ticket(root: Path) -> Classroom:
    """A class of one whose left dip wire is broken, ready to be handed out."""
    classroom = create(root / "class", [LESSON])
    roster = root / "roster.csv"
    roster.write_text(f"id\n{LEARNER}\n", encoding="utf-8")
    classroom.enrol(roster)
    broken = Fault(kind="open_circuit", site="W16")
    classroom.issue(LESSON, chosen={LEARNER: broken})
    classroom.release(LESSON)
    return classroom


def workbench(notebook: Notebook) -> Hand:
    """A hand on the workbench of the marked fault."""
    return Hand(root=notebook.show("marked-bench").locator(".ow"))


def test_a_marked_fault_by_mouse_reaches_the_gradebook(
    lab: Lab, open_notebook: Callable[[str], Notebook], tmp_path: Path
) -> None:
    """Readings, a closed page, conclusion, repair, proof, hand-in, then the marks."""
    classroom = class_with_ticket(tmp_path)
    desk = lab.folder / LESSON
    shutil.rmtree(desk, ignore_errors=True)
    shutil.copytree(classroom.folder("release", ".", LESSON), desk)

    notebook = open_notebook(f"{LESSON}/{LESSON}.ipynb")
    notebook.run_all()
    asked = notebook.cell("marked-bench")
    asked.get_by_role("textbox", name="Name").fill(LEARNER)
    asked.get_by_role("button", name="Go on").click()
    expect(asked).to_contain_text(f"Welcome, {LEARNER}.")
    notebook.run_all()

    hand = workbench(notebook)
    expect(hand.root).to_contain_text("left dip lamp off")
    hand.set("Ignition", "on")
    hand.set("Lights", "dip")
    hand.put("B", "G1:-")
    for place in WALK:
        hand.put("A", place)
        hand.note()
        expect(hand.root.locator(".ow-notes")).to_contain_text(f"{place} to G1:-")
    notebook.screenshot("lesson-measuring")
    notebook.save()

    notebook.open()
    notebook.run_all()
    hand = workbench(notebook)
    expect(hand.root.locator(".ow-notes")).to_contain_text(f"{WALK[-1]} to G1:-")
    hand.conclude_and_repair("W16", "open circuit")
    expect(hand.root).to_contain_text("Left dip lamp E3 full")
    hand.put("A", "E3:56b")
    hand.note()
    hand.hand_in()
    expect(hand.root).to_contain_text("Marks come from your instructor")
    notebook.screenshot("lesson-handed-in")
    notebook.save()

    alone = tmp_path / f"{LEARNER}.ipynb"
    shutil.copyfile(desk / f"{LESSON}.ipynb", alone)
    (taken,) = classroom.collect(LESSON, [alone])
    assert (taken.learner, taken.state) == (LEARNER, "taken")
    classroom.mark(LESSON)
    (marks,) = classroom.marks(LESSON)
    assert marks.score >= 85.0
