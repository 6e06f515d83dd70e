"""A learner answers a lesson's questions in a real JupyterLab, by mouse and typing."""

from collections.abc import Callable

from playwright.sync_api import expect

from browser.harness import Lab, Notebook
from ohmwork.course import copy_for_learner
from ohmwork.questions import Answer, read_answer
from ohmwork_grading.handins import read

LESSON = "a20_two_sides"


def test_answers_are_saved_and_travel_in_the_notebook(
    lab: Lab, open_notebook: Callable[[str], Notebook]
) -> None:
    """A number and a choice with its reason: in files, and in the saved notebook."""
    copy_for_learner(lab.folder / "asked", "s07")
    folder = lab.folder / "asked" / LESSON
    notebook = open_notebook(f"asked/{LESSON}/{LESSON}.ipynb")
    notebook.run_all()

    number = notebook.show("a20-across-lamp-question")
    number.get_by_label("Answer in V").fill("8,200")
    number.get_by_role("button", name="Save answer").click()
    expect(number).to_contain_text("Write it without the comma")
    number.get_by_label("Answer in V").fill("8.2")
    number.get_by_role("button", name="Save answer").click()
    expect(number).to_contain_text("Your answer: 8.2 V")

    choice = notebook.show("a20-which-side-question")
    choice.get_by_text("c) On the ground side.").click()
    choice.get_by_text("z) The ground terminal").click()
    choice.get_by_role("button", name="Save answer").click()
    expect(choice).to_contain_text("Your answer: c, because z")
    notebook.screenshot("question-choice")
    notebook.show("a20-no-load-question")
    notebook.screenshot("question-long")

    notebook.save()
    answers = [
        Answer(question="a20_across_lamp", number=8.2),
        Answer(question="a20_which_side", choice="c", reason="z"),
    ]
    assert read(folder).answers == {a.question: a.to_data() for a in answers}
    for answer in answers:
        assert read_answer(answer.question, folder) == answer
