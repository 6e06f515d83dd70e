"""The demo: a whole class from tickets to marks; its learners see the bench alone."""

import ast
import csv
import inspect
import random
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from nbgrader.api import Gradebook

from ohmwork import course_folder
from ohmwork.cli import main
from ohmwork.exercise import load_exercise
from ohmwork.faults import Fault
from ohmwork.job import Job
from ohmwork.tickets import Ticket, read_book
from ohmwork.vehicle import load_vehicle
from ohmwork_grading import scripted
from ohmwork_grading.demo import EXERCISE, LESSON, invented_class

CLASS = invented_class(12)
KINDS = {who.id: who.kind for who in CLASS}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, str, float]:
    """Run ``ohmwork demo`` once: its folder, what it printed, and its time. [s]"""
    out = tmp_path_factory.mktemp("demo") / "class"
    command = [sys.executable, "-m", "ohmwork.cli", "demo", "--out", str(out)]
    began = time.perf_counter()
    run = subprocess.run(
        command, capture_output=True, text=True, check=True, cwd=out.parent
    )
    return out, run.stdout, run.stderr, time.perf_counter() - began


@pytest.fixture(scope="module")
def folder(demo: tuple[Path, str, str, float]) -> Path:
    """Return the class folder that the demo left."""
    return demo[0]


def rows_of(folder: Path) -> list[dict[str, str]]:
    """Return the rows of the table of marks."""
    with (folder / f"{LESSON}_marks.csv").open(encoding="utf-8-sig") as file:
        return list(csv.DictReader(file))


def test_the_demo_shows_progress_marks_and_one_feedback(
    demo: tuple[Path, str, str, float], record_property: Callable[[str, object], None]
) -> None:
    """It says what it does, prints marks and a learner's feedback, warns of nothing."""
    _, shown, errors, seconds = demo
    record_property("seconds of a demo with 12 learners", round(seconds, 1))

    assert errors == ""
    assert "12 of 12 learners have handed in" in shown
    assert all(f"\n{who.id:<14}{who.kind:<11}" in shown for who in CLASS)
    assert "Feedback for ben, as on the feedback page:" in shown
    assert "Your readings\n1. " in shown
    assert "ms a card (median)" in shown


@pytest.mark.parametrize(
    ("kind", "least", "most"), [("careful", 105.0, 120.0), ("guessing", 0.0, 45.0)]
)
def test_kinds_of_learners_reach_what_they_may(
    kind: str, least: float, most: float, folder: Path
) -> None:
    """Each careful one gets 85 of 100 and all questions right; guessers stay low."""
    scores = {
        row["learner"]: float(row["score"])
        for row in rows_of(folder)
        if KINDS[row["learner"]] == kind
    }

    assert len(scores) == 4
    assert all(least <= score <= most for score in scores.values()), scores


def test_the_gradebook_holds_the_same_marks(folder: Path) -> None:
    """Read by nbgrader itself, each of the twelve has the table's score."""
    with Gradebook(f"sqlite:///{folder / 'gradebook.db'}") as gradebook:
        marks = {
            s.student_id: s.score for s in gradebook.assignment_submissions(LESSON)
        }

    assert set(marks) == set(KINDS)
    assert marks == pytest.approx(
        {row["learner"]: float(row["score"]) for row in rows_of(folder)}, abs=0.005
    )


def test_every_learner_has_a_feedback_page(folder: Path) -> None:
    """Each page shows the points and the reasons of that learner's own card."""
    for who in CLASS:
        page = folder / "feedback" / who.id / LESSON / f"{LESSON}.html"
        text = page.read_text("utf-8")
        assert "A sound search on this vehicle" in text
        assert "HIDDEN TESTS" not in text
        assert "open_workbench" not in text


def test_there_is_a_picture_of_the_marks(folder: Path) -> None:
    """A PNG that is more than a blank page."""
    picture = (folder / f"{LESSON}_marks.png").read_bytes()

    assert picture.startswith(b"\x89PNG\r\n\x1a\n")
    assert len(picture) > 10_000


def test_no_two_learners_share_a_fault(folder: Path) -> None:
    """Twelve learners, and more than twelve entries in the pool."""
    path = folder / "release" / LESSON / f"{EXERCISE}.tickets.json"
    book = read_book(path)

    answers = {book.open(who.id).fault.answer for who in CLASS}

    assert len(answers) == len(CLASS)


def test_all_got_the_same_files(folder: Path) -> None:
    """The ticket book at every desk is the released one, byte for byte."""
    name = f"{EXERCISE}.tickets.json"
    released = (folder / "release" / LESSON / name).read_bytes()

    desks = [folder / "desks" / who.id / LESSON / name for who in CLASS]
    assert {desk.read_bytes() for desk in desks} == {released}


def test_a_bare_notebook_is_a_hand_in_as_well(folder: Path) -> None:
    """Every fourth handed in no card of its own, and has marks all the same."""
    bare = [
        who.id
        for who in CLASS
        if not (folder / "desks" / who.id / LESSON / f"{EXERCISE}.card.json").exists()
    ]

    assert bare == ["dan", "hari", "lena"]
    handed_in = {row["learner"] for row in rows_of(folder) if row["handed_in_utc"]}
    assert set(bare) <= handed_in


# The scripts see what a learner sees


def test_scripts_use_nothing_private() -> None:
    """No private attribute, no way round one, and nothing that knows a fault."""
    tree = ast.parse(inspect.getsource(scripted))
    nodes = list(ast.walk(tree))
    attributes = {n.attr for n in nodes if isinstance(n, ast.Attribute)}
    names = {n.id for n in nodes if isinstance(n, ast.Name)}
    imported = {
        alias.name
        for n in nodes
        if isinstance(n, (ast.Import, ast.ImportFrom))
        for alias in n.names
    }

    assert not {a for a in attributes if a.startswith("_")}
    assert not names & {"getattr", "vars", "eval", "exec", "locals", "globals", "open"}
    assert not imported & {
        "true_state",
        "Ticket",
        "read_book",
        "inject",
        "replay",
        "gc",
    }
    assert "fault" not in attributes


@pytest.mark.parametrize("kind", list(scripted.LEARNERS))
def test_scripts_cannot_tell_what_the_bench_does_not_show(
    kind: str, tmp_path: Path
) -> None:
    """W14 and W15 touch ground at the same splice: up to the conclusion all is equal.

    The two faults are one circuit, so a script that acts differently knows more than
    the bench shows.
    """
    path = course_folder() / LESSON / f"{EXERCISE}.exercise.yaml"
    logs = []
    for site in ("W14", "W15"):
        ticket = Ticket(
            id="t1",
            learner="ada",
            exercise=load_exercise(path),
            vehicle=load_vehicle("lighting_board"),
            fault=Fault(kind="short_to_ground", site=site),
        )
        job = Job(ticket, tmp_path / f"{site}.card.json")
        scripted.LEARNERS[kind](job, random.Random(1))
        does = [act["do"] for act in job.bench.actions]
        logs.append(job.bench.actions[: does.index("conclude") + 1])

    assert logs[0] == logs[1]


# Refusals


def test_the_demo_never_writes_into_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that is not empty is left alone."""
    (tmp_path / "work.txt").write_text("mine", encoding="utf-8")

    status = main(["demo", "--out", str(tmp_path)])

    assert status == 1
    assert "is not empty. Name a new folder: " in capsys.readouterr().out
    assert [p.name for p in tmp_path.iterdir()] == ["work.txt"]


@pytest.mark.parametrize("size", ["0", "-3"])
def test_a_class_has_at_least_one_learner(
    size: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Fewer are refused with a number that works."""
    status = main(["demo", "--out", str(tmp_path / "new"), "--learners", size])

    assert status == 1
    assert capsys.readouterr().out == (
        "A class has at least 1 learner. Give --learners 12.\n"
    )
    assert not (tmp_path / "new").exists()
