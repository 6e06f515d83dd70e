"""The instructor's guide and the glossary: what they name exists, and who gets them."""

import re
from pathlib import Path

import pytest
import textstat

import ohmwork
from ohmwork.course import copy_for_learner
from ohmwork.exercise import POINTS
from ohmwork_grading import report
from ohmwork_grading.classroom import create
from ohmwork_grading.commands import class_command

COURSE = ohmwork.course_folder()
GUIDE = (COURSE / "GUIDE.md").read_text(encoding="utf-8")
GLOSSARY = (COURSE / "GLOSSARY.md").read_text(encoding="utf-8")


def test_the_plan_has_every_lesson_in_twelve_weeks() -> None:
    """Each lesson once, in the order of the course, over weeks 1 to 12."""
    rows = re.findall(r"^\| (\d+) \| (.*?) \|", GUIDE, re.MULTILINE)
    assert [int(week) for week, _ in rows] == list(range(1, 13))
    planned = [name for _, text in rows for name in re.findall(r"\b([abc]\d0): ", text)]
    assert planned == sorted(set(planned))
    there = {path.parent.name[:3] for path in COURSE.glob("*/*.ipynb")}
    assert there <= set(planned)


@pytest.mark.parametrize(
    "command", sorted(set(re.findall(r"ohmwork class (\w+)", GUIDE)))
)
def test_every_command_of_the_guide_exists(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """With each option that the guide gives it."""
    with pytest.raises(SystemExit) as end:
        class_command([command, "--help"])
    assert end.value.code == 0
    shown = capsys.readouterr().out
    lines = re.findall(rf"ohmwork class {command}\b(.*)", GUIDE)
    for option in re.findall(r"--[a-z]+", " ".join(lines)):
        assert option in shown


def test_the_guide_names_the_points_of_the_fault() -> None:
    """The table has the rows and points of every exercise."""
    rows = dict(re.findall(r"^\| ([a-z ]+?) \| (\d+) \|", GUIDE, re.MULTILINE))
    assert {name: int(number) for name, number in rows.items()} == {
        "conclusion": 40,
        "evidence": 30,
        "care": 10,
        "economy": 10,
        "repair and its proof": 10,
    }


def test_the_guide_names_the_columns_of_the_table(tmp_path: Path) -> None:
    """Those of every table, and the parts that a fault's points are made of."""
    report.write_csv([], tmp_path / "marks.csv")
    columns = (tmp_path / "marks.csv").read_text(encoding="utf-8-sig").strip()
    for name in (*columns.split(","), "questions"):
        assert f"`{name}`" in GUIDE
    for part in (*POINTS, "hints"):
        assert f"_{part}`" in GUIDE


@pytest.mark.parametrize("text", [GUIDE, GLOSSARY], ids=["guide", "glossary"])
def test_both_are_plain_to_read(text: str) -> None:
    """Flesch-Kincaid grade 7 at most, tables and commands aside."""
    prose = re.sub(r"```.*?```|^\|.*$", "", text, flags=re.DOTALL | re.MULTILINE)
    assert textstat.flesch_kincaid_grade(re.sub(r"[*`#]", "", prose)) <= 7.0


def test_each_word_is_explained_once_and_in_order() -> None:
    """By the alphabet, within headings that say so."""
    _, *sections = GLOSSARY.split("\n## ")
    names = []
    for section in sections:
        first, last = section[0], section.partition("\n")[0][-1]
        found = re.findall(r"^- \*\*(?:To )?(.+?)\*\*", section, re.MULTILINE)
        letters = [name[0].upper() for name in found if name[0].isalpha()]
        assert all(first <= letter <= last for letter in letters)
        names += [name.lower() for name in found]
    assert names == sorted(set(names))


def test_learners_get_the_glossary_and_instructors_both(tmp_path: Path) -> None:
    """The guide is not for learners; a class folder has what is to be handed out."""
    copy_for_learner(tmp_path / "mine", "someone")
    create(tmp_path / "class", [])
    names = {
        name: {page.name for page in (tmp_path / name).glob("*.md")}
        for name in ("mine", "class")
    }
    assert names == {"mine": {"GLOSSARY.md"}, "class": {"GLOSSARY.md", "GUIDE.md"}}
