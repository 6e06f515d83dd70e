"""Each lesson, done well, badly and not at all, gets its marks on both marking paths.

The outside check is nbgrader itself: what ``nbgrader autograde`` leaves when it runs
the grade cells is what marking as data must leave.
"""

import random
import shutil
from pathlib import Path

import nbformat
import pytest

import ohmwork
from lessons import NAMES, keys_in, marked_fault
from ohmwork.questions import Answer, Question, find_question, write_answer
from ohmwork_grading.answers import Key
from ohmwork_grading.classroom import CONFIG_FILE, Classroom, create
from ohmwork_grading.scripted import LEARNERS
from small_class import nbgrader, rows

WORK = {"s01": "careful", "s02": "hasty", "s03": "guessing", "s04": ""}
"""Learner to how they look for the fault; the last hands in an empty copy."""

STOCK_CONFIG = "c = get_config()\nc.CourseDirectory.course_id = 'stock'\n"


def answer(kind: str, key: Key, question: Question) -> Answer:
    """What a kind of learner answers.

    The careful one is right. The hasty one slips in the prefix or takes a wrong reason;
    the guessing one is wrong.
    """
    number, choice, reason = key.number, key.choice, key.reason
    if number is not None:
        number *= {"careful": 1.0, "hasty": 1e-3, "guessing": 7.0}[kind]
    elif kind == "hasty":
        reason = next((r for r in question.reasons if r != key.reason), "")
    elif kind == "guessing":
        choice = next(c for c in question.options if c != key.choice)
    return Answer(question=question.id, number=number, choice=choice, reason=reason)


@pytest.fixture(scope="module", params=NAMES)
def handed_in(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, str]:
    """A class of four that has done a lesson; the folder of the class, and the lesson.

    Of the notebooks only the graded cells are kept: all of it runs elsewhere.
    """
    lesson = str(request.param)
    classroom = create(tmp_path_factory.mktemp("class") / "class", [lesson])
    roster = classroom.root / "roster.csv"
    roster.write_text("\n".join(["id", *WORK]), encoding="utf-8")
    classroom.enrol(roster)
    classroom.issue(lesson, seed=3)
    released = classroom.release(lesson)
    keys = keys_in(lesson)
    for learner, kind in WORK.items():
        folder = classroom.folder("submitted", learner, lesson)
        shutil.copytree(released, folder)
        notebook = nbformat.read(folder / f"{lesson}.ipynb", 4)
        notebook.cells = [c for c in notebook.cells if "nbgrader" in c.metadata]
        nbformat.write(notebook, folder / f"{lesson}.ipynb")
        if kind:
            for key in keys:
                question = find_question(key.question, folder)
                write_answer(answer(kind, key, question), folder)
            job = ohmwork.start_job(
                marked_fault(lesson), learner=learner, folder=folder
            )
            LEARNERS[kind](job, random.Random(learner))
    return classroom.root, lesson


def test_both_paths_give_each_learner_their_marks(handed_in: tuple[Path, str]) -> None:
    """All for who is right, half for slips, none for an empty copy; equal rows."""
    root, lesson = handed_in
    stock = shutil.copytree(root, root.with_name("stock"))
    (stock / CONFIG_FILE).write_text(STOCK_CONFIG, encoding="utf-8")
    nbgrader(stock, "autograde", lesson)
    Classroom(root).mark(lesson)
    assert rows(root) == rows(stock)

    points = {row[1:3]: row[3] for row in rows(root) if row[0] == "grade"}
    exercise = marked_fault(lesson)
    assert points["s01", exercise] >= 85.0
    assert points["s03", exercise] <= 45.0
    assert points["s04", exercise] == 0.0
    for key in keys_in(lesson):
        got = [points[learner, key.question] for learner in WORK]
        slip = 0.5 if key.reason or key.number is not None else 1.0
        assert got == [key.points, slip * key.points, 0.0, 0.0]
