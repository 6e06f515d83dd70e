"""A class of three with one small lesson, for the tests of marking and classes.

The lesson has a text answer, one diagnosis cell and one question. Its notebook is made
here with nbformat alone, as an author would make it, and cut by nbgrader.
"""

import os
import shutil
import sqlite3
import subprocess
import sys
import sysconfig
import tempfile
from pathlib import Path
from typing import Any

import nbformat
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from ohmwork import start_job
from ohmwork.jobcard import MIME
from ohmwork.questions import ANSWER_MIME, Answer
from ohmwork.tickets import read_book
from ohmwork_grading.classroom import Classroom, create

LESSON, EXERCISE, QUESTION = "x10_small", "x10_fault", "x10_volts"
LEARNERS = ("s01", "s02", "s03")
EXERCISE_TEXT = """\
format: ohmwork exercise 1
id: x10_fault
title: Left dip lamp
brief: The left dip lamp does not burn as it should.
vehicle: lighting_board
states: [{S1: "on", S2: dip}]
kinds: [open_circuit, high_resistance, fuse_blown]
pool:
  - {kind: open_circuit, site: W17}
  - {kind: high_resistance, site: W31, from: 1 Ω, to: 5 Ω}
  - {kind: fuse_blown, site: F11}
"""
HIDDEN = """\
### BEGIN HIDDEN TESTS
import ohmwork_grading
ohmwork_grading.mark_here("x10_fault")
### END HIDDEN TESTS"""
QUESTIONS_TEXT = """\
format: ohmwork questions 1
questions:
  x10_volts: {text: "What is at the lamp?", unit: V}
"""
ANSWER_KEY = """\
### BEGIN HIDDEN TESTS
import ohmwork_grading
ohmwork_grading.mark_answer(
    "x10_volts", points=4, number=12.37, tolerance=0.05, because="It is a short wire.",
)
### END HIDDEN TESTS"""


def nbgrader_cell(grade_id: str, points: int, *, solution: bool) -> dict[str, Any]:
    """Cell metadata as nbgrader's own editor writes it."""
    return {
        "nbgrader": {
            "schema_version": 3,
            "grade_id": grade_id,
            "points": points,
            "grade": True,
            "solution": solution,
            "locked": not solution,
            "task": False,
        }
    }


def make_master(folder: Path) -> None:
    """Write the lesson's master notebook and its exercise."""
    folder.mkdir(parents=True)
    cells = [
        new_markdown_cell("# A small lesson", id="title"),
        new_markdown_cell(
            "Why?", id="why", metadata=nbgrader_cell("x10_why", 5, solution=True)
        ),
        new_code_cell("'the workbench is shown here'", id="bench"),
        new_code_cell(
            HIDDEN, id="fault", metadata=nbgrader_cell(EXERCISE, 100, solution=False)
        ),
        new_code_cell("'the question is asked here'", id="ask"),
        new_code_cell(
            ANSWER_KEY, id="volts", metadata=nbgrader_cell(QUESTION, 4, solution=False)
        ),
    ]
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    notebook = new_notebook(cells=cells, metadata={"kernelspec": kernel})
    nbformat.write(notebook, folder / f"{LESSON}.ipynb")
    (folder / f"{EXERCISE}.exercise.yaml").write_text(EXERCISE_TEXT, encoding="utf-8")
    questions = folder / f"{LESSON}.questions.yaml"
    questions.write_text(QUESTIONS_TEXT, encoding="utf-8")


def make_class(root: Path, learners: tuple[str, ...] = LEARNERS) -> Classroom:
    """A class with this lesson issued and released to these learners."""
    classroom = create(root, lessons=[])
    make_master(root / "source" / LESSON)
    roster = root / "roster.csv"
    rows = [f"{learner},First {learner},Last" for learner in learners]
    roster.write_text("\n".join(["id,first_name,last_name", *rows]), encoding="utf-8")
    classroom.enrol(roster)
    classroom.issue(LESSON, seed=1)
    classroom.release(LESSON)
    return classroom


def rows(root: Path) -> list[tuple[Any, ...]]:
    """Everything nbgrader's gradebook holds of the hand-ins, read with SQL alone."""
    query = """
        SELECT 'grade', student_id, base_cell.name, auto_score, manual_score,
               extra_credit, needs_manual_grade, late_submission_penalty, timestamp
        FROM grade
        JOIN base_cell ON base_cell.id = grade.cell_id
        JOIN submitted_notebook ON submitted_notebook.id = grade.notebook_id
        JOIN submitted_assignment
          ON submitted_assignment.id = submitted_notebook.assignment_id
        UNION ALL
        SELECT 'comment', student_id, base_cell.name, auto_comment, manual_comment,
               NULL, NULL, NULL, extension
        FROM comment
        JOIN base_cell ON base_cell.id = comment.cell_id
        JOIN submitted_notebook ON submitted_notebook.id = comment.notebook_id
        JOIN submitted_assignment
          ON submitted_assignment.id = submitted_notebook.assignment_id
        ORDER BY 1, 2, 3
    """
    with sqlite3.connect(root / "gradebook.db") as database:
        return database.execute(query).fetchall()


def scores(root: Path, cell: str = EXERCISE) -> dict[str, float]:
    """Points of a cell, the diagnosis by default, by learner, from the gradebook."""
    return {
        row[1]: row[3] for row in rows(root) if row[0] == "grade" and row[2] == cell
    }


def nbgrader(root: Path, *words: str) -> str:
    """Run one of nbgrader's own commands in the course; returns what it said."""
    scripts = sysconfig.get_path("scripts")
    environment = {**os.environ, "PATH": f"{scripts}{os.pathsep}{os.environ['PATH']}"}
    done = subprocess.run(
        [sys.executable, "-m", "nbgrader", *words],
        cwd=root,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout + done.stderr


def send(
    root: Path, learner: str, card: Any, inbox: Path, volts: float | None = None
) -> Path:
    """One notebook as a learner would send it, card and answer in its outputs."""
    released = root / "release" / LESSON / f"{LESSON}.ipynb"
    notebook = nbformat.read(released, 4)
    if card is not None:
        data = {"text/plain": "job card", MIME: card}
        notebook.cells[2].outputs = [nbformat.v4.new_output("display_data", data)]
    if volts is not None:
        data = {ANSWER_MIME: Answer(question=QUESTION, number=volts).to_data()}
        notebook.cells[4].outputs = [nbformat.v4.new_output("display_data", data)]
    inbox.mkdir(exist_ok=True)
    path = inbox / f"{learner}_{LESSON}.ipynb"
    nbformat.write(notebook, path)
    return path


def hand_in(
    root: Path, cards: dict[str, Any], volts: dict[str, float] | None = None
) -> None:
    """Have the class's notebooks, each with its card and answer, sent and taken in."""
    inbox = root / "inbox"
    for learner, card in cards.items():
        send(root, learner, card, inbox, (volts or {}).get(learner))
    states = [h.state for h in Classroom(root).collect(LESSON, [inbox])]
    assert states == ["taken"] * len(cards)


def job_cards(root: Path) -> tuple[Any, Any]:
    """A card of s01 with the right conclusion and one of s02 with a wrong one."""
    return job_card(root, "s01", right=True), job_card(root, "s02", right=False)


def job_card(root: Path, learner: str, *, right: bool) -> Any:
    """The job card of a learner who takes one reading and concludes.

    Only the test knows the fault; the learner's bench does not tell it.
    """
    source = root / "source" / LESSON
    fault = read_book(source / f"{EXERCISE}.tickets.json").open(learner).fault
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(source / f"{EXERCISE}.tickets.json", folder)
        job = start_job(EXERCISE, learner=learner, folder=folder)
        job.bench.set_control("S1", "on")
        job.bench.set_control("S2", "dip")
        job.bench.use("volts")
        job.bench.place("A", "E3:56b")
        job.bench.place("B", "G1:-")
        job.bench.read()
        job.bench.note()
        job.bench.conclude(
            [(fault.site, fault.kind) if right else ("W8", "open_circuit")]
        )
        job.hand_in()
        return job.card().to_data()
