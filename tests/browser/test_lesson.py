"""Every lesson by mouse, from the class's hand-out to the marks in the gradebook.

The fault is drawn at test time. A careful learner who sees the bench and the papers
decides what to do; a hand does it on the page, where each reading must be the same.
"""

import os
import random
import secrets
import shutil
from collections.abc import Callable
from pathlib import Path

import nbformat
import pytest
from playwright.sync_api import Locator, expect

import ohmwork
from browser.handling import Hand
from browser.harness import Lab, Notebook
from lessons import NAMES, keys_in, marked_fault
from ohmwork.job import Job
from ohmwork_grading.answers import Key
from ohmwork_grading.classroom import Classroom, create
from ohmwork_grading.scripted import careful

LEARNER = "s01"
GOOD = 85.0
"""What a sound search is worth at least. [points]"""

WORDS = "I measure under load, on both sides, and say what each reading rules out."
"""A written answer; it waits for the instructor."""


@pytest.fixture
def seed(request: pytest.FixtureRequest) -> int:
    """What the fault is drawn with; a failure shows it, OHMWORK_SEED sets it."""
    seed = int(os.environ.get("OHMWORK_SEED", secrets.randbelow(1_000_000)))
    again = f"The same fault is drawn again with OHMWORK_SEED={seed}"
    request.node.add_report_section("setup", "seed", again)
    return seed


def class_of_one(root: Path, lesson: str, seed: int) -> Classroom:
    """A class with the lesson issued and released to its one learner."""
    classroom = create(root / "class", [lesson])
    roster = root / "roster.csv"
    roster.write_text(f"id\n{LEARNER}\n", encoding="utf-8")
    classroom.enrol(roster)
    classroom.issue(lesson, seed=seed)
    classroom.release(lesson)
    return classroom


def decided(lesson: str, folder: Path, seed: int) -> Job:
    """The job as a careful learner does it who has the released folder."""
    job = ohmwork.start_job(marked_fault(lesson), learner=LEARNER, folder=folder)
    careful(job, random.Random(seed))
    return job


def cell_with(notebook: Notebook, source: str) -> Locator:
    """The cell whose code holds these words."""
    cells = nbformat.read(notebook.lab.folder / notebook.path, as_version=4).cells
    return notebook.show(next(cell.id for cell in cells if source in cell.source))


def answer(notebook: Notebook, key: Key) -> None:
    """Answer a question as its key has it."""
    asked = cell_with(notebook, f'ask("{key.question}")')
    if key.number is not None:
        asked.get_by_role("textbox").fill(f"{key.number:g}")
    for letter in filter(None, (key.choice, key.reason)):
        asked.get_by_text(f"{letter}) ").click()
    asked.get_by_role("button", name="Save answer").click()
    expect(asked).to_contain_text("Saved.")


def write(notebook: Notebook, cell: str) -> None:
    """Write an answer in words into a cell of text."""
    text = notebook.show(cell)
    text.locator(".jp-MarkdownOutput").dblclick()
    text.locator(".cm-content").fill(WORDS)
    notebook.press_run()
    expect(text.locator(".jp-MarkdownOutput")).to_have_text(WORDS)


def sign_in(notebook: Notebook) -> Hand:
    """Give a name, run the cell again as it says; a hand on its workbench."""
    asked = notebook.show("marked-bench")
    asked.get_by_role("textbox", name="Name").fill(LEARNER)
    asked.get_by_role("button", name="Go on").click()
    asked.get_by_text(f"Welcome, {LEARNER}.").click()
    notebook.press_run()
    expect(asked.locator(".ow-paper svg")).to_be_visible()
    return Hand(root=notebook.show("marked-bench").locator(".ow"))


@pytest.mark.parametrize("lesson", NAMES)
def test_a_lesson_by_mouse_reaches_the_gradebook(
    lesson: str,
    seed: int,
    lab: Lab,
    open_notebook: Callable[[str], Notebook],
    tmp_path: Path,
) -> None:
    """Questions answered, a drawn fault found, repaired, proved and handed in."""
    classroom = class_of_one(tmp_path, lesson, seed)
    released = classroom.folder("release", ".", lesson)
    job = decided(lesson, Path(shutil.copytree(released, tmp_path / "decided")), seed)
    desk = Path(shutil.copytree(released, lab.folder / lesson))
    keys = keys_in(lesson)

    notebook = open_notebook(f"{lesson}/{lesson}.ipynb")
    notebook.run_all()
    for key in keys:
        answer(notebook, key)
    write(notebook, f"{lesson[:3]}_in_your_words")
    hand = sign_in(notebook)
    expect(hand.root).to_contain_text(job.complaint)
    for act in job.bench.actions:
        hand.do(act, job.bench.vehicle)
        if act["do"] == "conclude":
            notebook.screenshot(f"lesson-{lesson[:3]}-concluded")
    expect(hand.root).to_contain_text("Marks come from your instructor")
    # The card in the notebook follows the page by a moment.
    saved = notebook.cell("marked-bench").locator(".ow-saved")
    expect(saved).to_contain_text("Marks come from your instructor")
    notebook.save()
    notebook.shut_down()

    alone = tmp_path / f"{LEARNER}.ipynb"
    shutil.copyfile(desk / f"{lesson}.ipynb", alone)
    (taken,) = classroom.collect(lesson, [alone])
    assert (taken.learner, taken.state) == (LEARNER, "taken")
    submitted = classroom.folder("submitted", LEARNER, lesson) / f"{lesson}.ipynb"
    assert WORDS in submitted.read_text(encoding="utf-8")
    classroom.mark(lesson)
    (marks,) = classroom.marks(lesson)
    for key in keys:
        assert marks.cells[key.question] == key.points
    points = marks.cells[marked_fault(lesson)]
    assert points is not None
    assert points >= GOOD
