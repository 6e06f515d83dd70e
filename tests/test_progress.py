"""The page of contents says how far a learner has come, whatever lies in the folder.

The outside check is a fresh kernel that runs the page as nbclient reads it.
"""

import json
import re
import shutil
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

import ohmwork
from ohmwork.course import copy_for_learner
from ohmwork.progress import CONTENTS_FILE, lessons_in, write_contents
from small_class import EXERCISE, LESSON, QUESTION, make_class

TITLE = "A small lesson"
PRACTICE = "a20_practice_fault"


@pytest.fixture(scope="module")
def released(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small lesson as it is released to s01."""
    root = tmp_path_factory.mktemp("class")
    return make_class(root, ("s01",)).root / "release" / LESSON


@pytest.fixture
def folder(released: Path, tmp_path: Path) -> Path:
    """A folder with the small lesson and one more after it."""
    mine = tmp_path / "mine"
    shutil.copytree(released, mine / LESSON)
    later = mine / "x20_later"
    later.mkdir()
    cells = [
        nbformat.v4.new_markdown_cell("# Find it <now>\n\n## Aims"),
        nbformat.v4.new_markdown_cell("**Time:** 60 to\n90 minutes. **To know:** all."),
    ]
    nbformat.write(nbformat.v4.new_notebook(cells=cells), later / "x20_later.ipynb")
    book = f"a20_two_sides/{PRACTICE}.tickets.json"
    shutil.copy(ohmwork.course_folder() / book, later)
    return mine


def test_a_new_folder_has_nothing_begun(folder: Path) -> None:
    """Title and time come from the lessons; the first is next."""
    first, second = lessons_in(folder)
    assert (first.title, first.state, first.unanswered) == (TITLE, "not begun", 1)
    assert (second.title, second.time) == ("Find it <now>", "60 to 90 minutes")
    lines = ohmwork.contents(folder).text.splitlines()
    assert lines[1] == f"next | x10: {TITLE} |  | not begun | "
    assert lines[2] == " | x20: Find it <now> | 60 to 90 minutes | not begun | "


def test_work_is_seen_until_it_is_handed_in(folder: Path) -> None:
    """Begun with the first card, handed in with the marked one; then comes another."""
    job = ohmwork.start_job(EXERCISE, learner="s01", folder=folder / LESSON)
    assert lessons_in(folder)[0].state == "begun"
    job.bench.conclude([("W8", "open_circuit")])
    job.hand_in()
    assert lessons_in(folder)[0].state == "handed in"
    lines = ohmwork.contents(folder).text.splitlines()
    assert lines[1] == f" | x10: {TITLE} |  | handed in, 1 question open | "
    assert lines[2].startswith("next | x20: Find it")
    (folder / LESSON / f"{QUESTION}.answer.json").write_text("{}", encoding="utf-8")
    assert lessons_in(folder)[0].unanswered == 0


def test_the_best_practice_marks_are_kept(folder: Path) -> None:
    """Of two faults the better one counts, also when it came first."""
    lesson = folder / "x20_later"
    job = ohmwork.start_practice(PRACTICE, folder=lesson)
    truth = job._ticket.fault.answer
    job.bench.conclude([truth])
    job.bench.repair(truth[0])
    job.hand_in()
    best = job.marks()
    other = job.another()
    other.bench.conclude([truth])
    other.hand_in()
    assert other.marks().points < best.points
    assert lessons_in(folder)[1].practice == f"{best.points:g} of 100"
    assert lessons_in(folder)[1].state == "practised"
    (lesson / f"{PRACTICE}.marks.json").write_text("[", encoding="utf-8")
    assert other.marks().points == pytest.approx(
        float(lessons_in(folder)[1].practice.split()[0])
    )


def test_a_marked_practice_fault_moves_next_on(folder: Path) -> None:
    """Who learns alone hands in no marked fault; another fault begun undoes nothing."""
    shutil.copy(folder / f"x20_later/{PRACTICE}.tickets.json", folder / LESSON)
    job = ohmwork.start_practice(PRACTICE, folder=folder / LESSON)
    assert ohmwork.contents(folder).text.splitlines()[1].startswith("next | x10")
    job.bench.conclude([job._ticket.fault.answer])
    job.hand_in()
    points = f"{job.marks().points:g} of 100"
    job.another()
    lines = ohmwork.contents(folder).text.splitlines()
    assert lines[1] == f" | x10: {TITLE} |  | practised, 1 question open | {points}"
    assert lines[2].startswith("next | x20: Find it")


@pytest.mark.parametrize("text", ["", "{", "[]", "3", '{"cells": [{}]}', '{"a": 1}'])
def test_damaged_files_do_not_hide_the_contents(folder: Path, text: str) -> None:
    """The lessons are listed all the same."""
    for name in (
        f"{LESSON}.ipynb",
        f"{EXERCISE}.card.json",
        f"{EXERCISE}.tickets.json",
        f"{EXERCISE}.marks.json",
        f"{LESSON}.questions.yaml",
    ):
        (folder / LESSON / name).write_text(text, encoding="utf-8")
    (first, _) = lessons_in(folder)
    assert (first.title, first.state, first.practice) == (LESSON, "begun", "")


def test_other_files_are_no_lessons(folder: Path) -> None:
    """Checkpoints, copies and a learner's own notes are passed over."""
    before = lessons_in(folder)
    for path in (".ipynb_checkpoints/a.ipynb", f"{LESSON}/copy.ipynb", "own/notes.txt"):
        (folder / path).parent.mkdir(exist_ok=True)
        (folder / path).write_text("{}", encoding="utf-8")
    assert lessons_in(folder) == before


def test_the_page_shows_the_table_and_runs(folder: Path) -> None:
    """It is there before anything is run, and a fresh kernel shows the same."""
    page = nbformat.read(write_contents(folder), as_version=4)
    nbformat.validate(page)
    (output,) = page.cells[1].outputs
    html = output.data["text/html"]
    assert re.findall('href="([^"]*)"', html) == [
        f"{LESSON}/{LESSON}.ipynb",
        "x20_later/x20_later.ipynb",
    ]
    assert "Find it &lt;now&gt;" in html
    again = nbformat.from_dict(json.loads(json.dumps(page)))
    client = NotebookClient(again, resources={"metadata": {"path": str(folder)}})
    client.execute()
    (fresh,) = again.cells[1].outputs
    assert fresh.data["text/html"] == html


def test_the_course_opens_at_its_contents(tmp_path: Path) -> None:
    """Each lesson of the course has a title, a time, and a link that leads to it."""
    copy_for_learner(tmp_path, "someone")
    text = (tmp_path / CONTENTS_FILE).read_text(encoding="utf-8")
    links = re.findall(r'href=\\"([^"\\]*)', text)
    assert [Path(link).parent.name for link in links] == [
        path.parent.name for path in sorted(ohmwork.course_folder().glob("*/*.ipynb"))
    ]
    assert all((tmp_path / link).is_file() for link in links)
    assert all(lesson.title != lesson.name for lesson in lessons_in(tmp_path))
    assert all("minutes" in lesson.time for lesson in lessons_in(tmp_path))
    for target in re.findall(r"\]\((\S+?)\)", text):
        assert (tmp_path / target).is_file()
