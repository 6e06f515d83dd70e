"""The lessons of the course, for tests that go through all of them."""

import nbformat

import ohmwork
from ohmwork_grading.answers import Key, key_in

COURSE = ohmwork.course_folder()
NAMES = sorted(path.parent.name for path in COURSE.glob("*/*.ipynb"))


def marked_fault(lesson: str) -> str:
    """Id of the exercise at the end of a lesson, which counts."""
    return f"{lesson[:3]}_marked_fault"


def keys_in(lesson: str) -> list[Key]:
    """What is right, of each question of a lesson."""
    cells = nbformat.read(COURSE / lesson / f"{lesson}.ipynb", 4).cells
    return [key for key in (key_in(cell.source) for cell in cells) if key is not None]
