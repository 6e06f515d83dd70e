"""A learner reads the lesson in a real JupyterLab and practises, by mouse alone."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Locator, expect

from browser.handling import Hand
from browser.harness import Lab, Notebook
from ohmwork.course import copy_for_learner

LESSON = "a20_two_sides"


@pytest.fixture
def notebook(lab: Lab, open_notebook: Callable[[str], Notebook]) -> Notebook:
    """A learner's own copy, run from top to bottom."""
    copy_for_learner(lab.folder / "own", "s07")
    notebook = open_notebook(f"own/{LESSON}/{LESSON}.ipynb")
    notebook.run_all()
    return notebook


def run_again(notebook: Notebook, root: Locator) -> None:
    """Click on the practice workbench and press the run button, as the lesson says."""
    count = """() => window.jupyterapp.shell.currentWidget.content.widgets
        .find(cell => cell.model.id === 'practice-bench').model.executionCount"""
    before = notebook.page.evaluate(count)
    root.locator(".ow-card h3").click()
    notebook.press_run()
    notebook.page.wait_for_function(f"before => ({count})() > before", arg=before)


def ticket(root: Locator) -> str:
    """The number of the ticket in work."""
    found = re.search(r"Ticket (\w+)", root.inner_text())
    assert found is not None
    return found[1]


def test_readings_stay_folded_until_they_are_asked_for(notebook: Notebook) -> None:
    """A prediction can come first, though every cell has run."""
    folded = notebook.show("measure-healthy").locator("details")
    expect(folded.locator("table")).to_be_hidden()
    folded.locator("summary").click()
    expect(folded.locator("table")).to_contain_text("12.27 V")
    notebook.screenshot("lesson-healthy")

    answer = notebook.show("complaint").locator("details")
    expect(answer).not_to_have_attribute("open", "")
    answer.locator("summary").click()
    expect(answer).to_contain_text("Answer 2")


def test_another_practice_fault_comes_once_the_first_is_handed_in(
    notebook: Notebook,
) -> None:
    """Run before that, the cell goes on with the same one."""
    root = notebook.show("practice-bench").locator(".ow")
    hand = Hand(root=root)
    hand.set("Ignition", "on")
    first = ticket(root)
    run_again(notebook, root)
    notebook.show("practice-bench")
    hand.set("Lights", "day")
    assert ticket(root) == first

    root.get_by_label("Where", exact=True).select_option(index=1)
    root.get_by_label("What", exact=True).select_option(index=1)
    hand.hand_in()
    expect(root).to_contain_text("A sound search", timeout=60_000)
    expect(root).to_contain_text("Marked. Your marks are below.")
    expect(root).not_to_contain_text("Save the notebook")
    notebook.screenshot("lesson-practice-marks")
    hand.press_named("Another fault")
    expect(root).not_to_contain_text(first)
    expect(root).to_contain_text("No readings noted yet")
    expect(root.locator(".ow-bar")).to_be_in_viewport()
    notebook.screenshot("lesson-practice-another")
