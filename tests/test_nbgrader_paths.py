"""Marks reach nbgrader's gradebook on three roads, and all leave the same rows.

The outside check is nbgrader itself: what ``nbgrader autograde`` leaves when it runs
the grade cells is what the ways that run no learner's code must leave.
"""

import copy
import json
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest
from nbgrader.api import Gradebook
from nbgrader.apps.api import NbGraderAPI

from ohmwork.exercise import POINTS
from ohmwork_grading.classroom import CONFIG_FILE, Classroom
from ohmwork_grading.nbgrader_plugin import MarksFirst, MustBeExecutedError
from small_class import (
    EXERCISE,
    LEARNERS,
    LESSON,
    QUESTION,
    hand_in,
    job_cards,
    make_class,
    nbgrader,
    nbgrader_cell,
    rows,
    scores,
)

STOCK_CONFIG = "c = get_config()\nc.CourseDirectory.course_id = 'stock'\n"


@pytest.fixture(scope="module")
def handed_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A class that handed in a right card, a wrong one, and work with no card.

    The first answered the question rightly, the second in millivolts instead of volts.
    The second wrote a text answer and code that leaves a file behind when it is run;
    the third also handed in late.
    """
    root = tmp_path_factory.mktemp("class")
    classroom = make_class(root)
    right, wrong = job_cards(root)
    cards = {"s01": right, "s02": wrong, "s03": None}
    hand_in(root, cards, {"s01": 12.4, "s02": 0.01237})
    folder = classroom.folder("submitted", "s02", LESSON)
    notebook = nbformat.read(folder / f"{LESSON}.ipynb", 4)
    notebook.cells[1].source = "Because it was dim."
    notebook.cells[2].source = "open('was_run.txt', 'w').close()"
    nbformat.write(notebook, folder / f"{LESSON}.ipynb")
    with classroom.gradebook() as gradebook:
        gradebook.update_or_create_assignment(LESSON, duedate="2026-01-01 12:00 UTC")
    for learner, day in zip(LEARNERS, ("01-01", "01-01", "01-02"), strict=True):
        stamp = classroom.folder("submitted", learner, LESSON) / "timestamp.txt"
        stamp.write_text(f"2026-{day} 11:00:00 UTC\n", encoding="utf-8")
    return root


@pytest.fixture
def root(handed_in: Path, tmp_path: Path) -> Path:
    """A copy of that class for one test, with the configuration Ohmwork writes."""
    return shutil.copytree(handed_in, tmp_path / "class")


@pytest.fixture(scope="module")
def stock(handed_in: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy with nbgrader's own configuration, autograded by nbgrader alone."""
    root = shutil.copytree(handed_in, tmp_path_factory.mktemp("stock") / "class")
    (root / CONFIG_FILE).write_text(STOCK_CONFIG, encoding="utf-8")
    nbgrader(root, "autograde", LESSON)
    return root


def test_nbgrader_alone_gives_the_points_of_the_rubric(stock: Path) -> None:
    """Right beats wrong, and nothing handed in is nothing earned."""
    points = scores(stock)
    assert points["s01"] > points["s02"] >= 0.0
    assert points["s03"] == 0.0
    assert scores(stock, QUESTION) == {"s01": 4.0, "s02": 2.0, "s03": 0.0}


def test_marking_as_data_leaves_the_rows_of_plain_autograde(
    root: Path, stock: Path
) -> None:
    """Equal rows: points, comments, flags, penalties and times."""
    outcomes = Classroom(root).mark(LESSON)
    assert [outcome.state for outcome in outcomes] == ["done"] * 3
    assert rows(root) == rows(stock)


def test_configuration_alone_leaves_the_same_rows(root: Path, stock: Path) -> None:
    """The stock command, and formgrader with it, marks as data when told so."""
    nbgrader(root, "autograde", LESSON)
    assert rows(root) == rows(stock)
    assert not list(root.rglob("was_run.txt"))


def test_no_code_of_a_learner_is_run(root: Path, stock: Path) -> None:
    """The file that the learner's code leaves is there after plain autograde only."""
    Classroom(root).mark(LESSON)
    assert list(stock.rglob("was_run.txt"))
    assert not list(root.rglob("was_run.txt"))


def test_marks_by_hand_and_penalties_survive_marking_again(
    root: Path, stock: Path, tmp_path: Path
) -> None:
    """A second autograde, either way after either way, keeps what a person gave."""
    stock = shutil.copytree(stock, tmp_path / "stock")
    Classroom(root).mark(LESSON)
    for course in (root, stock):
        with Gradebook(f"sqlite:///{course / 'gradebook.db'}", "") as gradebook:
            gradebook.find_grade("x10_why", LESSON, LESSON, "s02").manual_score = 4.0
            gradebook.db.commit()
    nbgrader(stock, "autograde", LESSON, "--force")
    Classroom(root).mark(LESSON, again=True)
    assert rows(root) == rows(stock)
    Classroom(stock).mark(LESSON, again=True)
    (root / CONFIG_FILE).write_text(STOCK_CONFIG, encoding="utf-8")
    nbgrader(root, "autograde", LESSON, "--force")
    assert rows(root) == rows(stock)
    assert ("grade", "s02", "x10_why", None, 4.0) in [row[:5] for row in rows(root)]


def test_the_rest_of_nbgrader_works_after_marking_as_data(root: Path) -> None:
    """Feedback pages, the export and formgrader's lists show the marks."""
    Classroom(root).mark(LESSON)
    points = scores(root)["s01"]
    nbgrader(root, "generate_feedback", LESSON)
    page = root / "feedback" / "s02" / LESSON / f"{LESSON}.html"
    assert "look at the prefix again" in page.read_text(encoding="utf-8")
    page = root / "feedback" / "s01" / LESSON / f"{LESSON}.html"
    assert "Conclusion" in page.read_text(encoding="utf-8")
    page = root / "feedback" / "s03" / LESSON / f"{LESSON}.html"
    (box,) = re.findall(
        r"<pre><code>(There is no job card .*?)</code></pre>",
        page.read_text(encoding="utf-8"),
        re.DOTALL,
    )
    # Of the 88 characters that fit, and with no name of a Python class before it.
    assert max(map(len, box.strip().splitlines())) <= 88
    assert box.count("\n") > 0
    nbgrader(root, "export", "--to", "grades.csv")
    points += scores(root, QUESTION)["s01"]
    assert f"s01,Last,First s01,,{points}," in (root / "grades.csv").read_text()
    api = NbGraderAPI(Classroom(root).coursedir)
    listed = {row["student"]: row for row in api.get_submissions(LESSON)}
    assert listed["s01"]["score"] == points
    assert listed["s01"]["autograded"]


def body(root: Path, learner: str) -> str:
    """What a feedback page shows, its head with scripts and styles aside."""
    page = root / "feedback" / learner / LESSON / f"{LESSON}.html"
    return page.read_text(encoding="utf-8").partition("</head>")[2]


def test_feedback_begins_with_the_marks(root: Path) -> None:
    """The fault, then the rest as in the notebook, with what was asked; the lesson."""
    Classroom(root).mark(LESSON)
    Classroom(root).feedback(LESSON)
    page = body(root, "s02")
    order = [
        "Conclusion: ",
        "Because it was dim.",
        "What is at the lamp?",
        "look at the prefix again",
        "Below is the lesson",
        "was_run.txt",  # the learner's own code, which nothing keeps folded
    ]
    places = [page.index(text) for text in order]
    assert places == sorted(places)


def test_feedback_shows_no_code_of_ours(root: Path) -> None:
    """Neither the key of the question, nor what a lesson keeps folded."""
    for path in root.glob(f"submitted/*/{LESSON}/*.ipynb"):
        notebook = nbformat.read(path, 4)
        notebook.cells[4].metadata["jupyter"] = {"source_hidden": True}
        nbformat.write(notebook, path)
    Classroom(root).mark(LESSON)
    Classroom(root).feedback(LESSON)
    for text in ("HIDDEN TESTS", "tolerance", "mark_here", "the question is asked"):
        assert text not in body(root, "s01")
    assert "the workbench is shown here" in body(root, "s01")


def test_both_ways_to_feedback_give_the_same_page(root: Path) -> None:
    """Nbgrader's own command, by the course's configuration; scores and links too."""
    Classroom(root).mark(LESSON)
    Classroom(root).feedback(LESSON)
    ours = {learner: body(root, learner) for learner in LEARNERS}
    nbgrader(root, "generate_feedback", LESSON, "--force")
    assert {learner: body(root, learner) for learner in LEARNERS} == ours
    for cell in (EXERCISE, QUESTION, "x10_why"):
        assert f'href="#{cell}"' in ours["s01"]
        assert f'name="{cell}"' in ours["s01"]


def test_feedback_after_plain_autograde_begins_with_the_marks_too(
    stock: Path, tmp_path: Path
) -> None:
    """And the parts of the marks are there for the table, whoever marked.

    nbgrader's page without ours has nothing to say about them.
    """
    root = shutil.copytree(stock, tmp_path / "class")
    assert "UserWarning" not in nbgrader(root, "generate_feedback", LESSON)
    Classroom(root).feedback(LESSON)
    assert "HIDDEN TESTS" not in body(root, "s01")
    assert "Conclusion: " in body(root, "s01")
    (marks, *_) = Classroom(root).marks(LESSON)
    parts = [marks.parts[f"{EXERCISE}_{name}"] or 0.0 for name in (*POINTS, "hints")]
    assert sum(parts) == pytest.approx(marks.cells[EXERCISE], abs=0.05)  # a decimal


def test_who_is_late_is_told(root: Path) -> None:
    """Due on the first at noon, handed in on the second at eleven: 23 hours."""
    Classroom(root).mark(LESSON)
    late = {row.learner: row.hours_late for row in Classroom(root).marks(LESSON)}
    assert late == {"s01": 0.0, "s02": 0.0, "s03": 23.0}


def test_what_a_learner_brings_in_stays_text(root: Path) -> None:
    """A name on a card that is markup is shown as it was written."""
    right, _ = job_cards(root)
    card = root / "submitted" / "s01" / LESSON / f"{EXERCISE}.card.json"
    name = "</pre>\n\n<script>alert(1)</script>"
    card.write_text(json.dumps({**right, "learner": name}), encoding="utf-8")
    Classroom(root).mark(LESSON)
    Classroom(root).feedback(LESSON)
    assert "<script>alert" not in body(root, "s01")
    assert "&lt;script&gt;alert(1)" in body(root, "s01")


def test_a_page_without_marks_of_ours_is_left_as_it_is() -> None:
    """Other assignments of the course keep nbgrader's page, tests and all."""
    cell = nbformat.v4.new_code_cell(
        "assert answer == 42", metadata=nbgrader_cell("other", 3, solution=False)
    )
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("1"), cell])
    before = copy.deepcopy(notebook)
    after, _ = MarksFirst().preprocess(notebook, {})  # type: ignore[no-untyped-call]
    assert after == before


KILL = """\
import os, signal, sys
from pathlib import Path
from ohmwork_grading import nbgrader_plugin
from ohmwork_grading.classroom import Classroom

mark = nbgrader_plugin.MarkJobCards.preprocess
def killed(self, nb, resources):
    if resources["nbgrader"]["student"] == "s02":
        os.kill(os.getpid(), signal.SIGKILL)
    return mark(self, nb, resources)
nbgrader_plugin.MarkJobCards.preprocess = killed
Classroom(Path(sys.argv[1])).mark(sys.argv[2])
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL there")
def test_a_run_that_was_killed_goes_on_where_it_was(root: Path, stock: Path) -> None:
    """Killed in the second learner's notebook, run again: nobody is passed over."""
    killed = subprocess.run(
        [sys.executable, "-c", KILL, str(root), LESSON], check=False
    )
    assert killed.returncode == -signal.SIGKILL
    assert (root / "autograded" / "s01").exists()
    assert not (root / "autograded" / "s02").exists()
    outcomes = Classroom(root).mark(LESSON)
    assert [outcome.state for outcome in outcomes] == ["kept", "done", "done"]
    assert rows(root) == rows(stock)
    assert not list(root.glob(".ohmwork*"))


def test_what_plain_autograde_left_when_killed_is_marked(
    root: Path, stock: Path
) -> None:
    """Its half-made folder, which nbgrader would skip for ever, is taken as such."""
    half = root / "autograded" / "s01" / LESSON
    half.mkdir(parents=True)
    shutil.copy(root / "submitted" / "s01" / LESSON / f"{LESSON}.ipynb", half)
    Classroom(root).mark(LESSON)
    assert rows(root) == rows(stock)


def test_a_broken_notebook_does_not_stop_the_class(root: Path, stock: Path) -> None:
    """It fails with its reason; the others get their marks."""
    broken = root / "submitted" / "s02" / LESSON / f"{LESSON}.ipynb"
    broken.write_text(broken.read_text(encoding="utf-8")[:200], encoding="utf-8")
    outcomes = Classroom(root).mark(LESSON)
    assert [outcome.state for outcome in outcomes] == ["done", "failed", "done"]
    assert "JSON" in outcomes[1].problems[0]
    assert scores(root)["s01"] == scores(stock)["s01"]


def test_code_answers_are_left_to_autograde(root: Path) -> None:
    """An autograded cell without a ticket book cannot be marked as data."""
    (root / "source" / LESSON / f"{EXERCISE}.tickets.json").unlink()
    with pytest.raises(MustBeExecutedError, match="must be executed: use nbgrader"):
        Classroom(root).mark(LESSON)


def test_a_card_that_cannot_be_marked_is_worth_nothing_either_way(
    root: Path, tmp_path: Path
) -> None:
    """Cut in half, another learner's, empty: no points, and the reason is told."""
    right, _ = job_cards(root)
    text = json.dumps(right)
    damaged = {"s01": text[: len(text) // 2], "s02": text, "s03": ""}
    for learner, content in damaged.items():
        card = root / "submitted" / learner / LESSON / f"{EXERCISE}.card.json"
        card.write_text(content, encoding="utf-8")
    stock = shutil.copytree(root, tmp_path / "stock")
    (stock / CONFIG_FILE).write_text(STOCK_CONFIG, encoding="utf-8")
    nbgrader(stock, "autograde", LESSON)
    outcomes = Classroom(root).mark(LESSON)
    assert all(EXERCISE in outcome.problems[0] for outcome in outcomes)
    assert scores(root) == dict.fromkeys(LEARNERS, 0.0)
    assert rows(root) == rows(stock)
