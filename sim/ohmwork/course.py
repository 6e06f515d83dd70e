"""The course: where the masters are, and a learner's own copy of them."""

from __future__ import annotations

import shutil
from importlib import resources
from pathlib import Path

from ohmwork.errors import NotPossibleError
from ohmwork.job import LEARNER_FILE
from ohmwork.progress import write_contents
from ohmwork.questions import FILE_SUFFIX as QUESTIONS_SUFFIX
from ohmwork.tickets import SUFFIX as BOOK_SUFFIX

DEFAULT_FOLDER = "ohmwork-course"
GLOSSARY = "GLOSSARY.md"
LAB_OPTIONS = (
    "--ServerApp.kernel_websocket_connection_class="
    "ohmwork.prompt_server.PromptConnection",
    f"--LabApp.app_settings_dir={Path(__file__).with_name('lab_settings')}",
)
"""What JupyterLab is started with: a server that does not wait to send, and no news
that is fetched or asked about."""

MARKS_LINE = "# Your marks appear here once your instructor has marked your work."
"""Where a master has nothing else to show of a cell with marks."""

ALONE_LINES = """\
# In a class, an instructor marks this and your marks appear here. If you learn alone,
# check yourself with the lesson's folded text and with its practice fault, which is
# marked at once."""
"""The same for who opened the course without the name of a class."""


def course_folder() -> Path:
    """Return the folder of the masters: in the wheel, or in the checkout."""
    package = Path(str(resources.files("ohmwork")))
    shipped = package / "_course"
    return shipped if shipped.is_dir() else package.parents[1] / "course"


def copy_for_learner(target: Path, learner: str | None = None) -> tuple[str, ...]:
    """Put the learner's copy of every lesson into a folder of their own.

    What is there already stays as it is, so work is never overwritten. Only the page of
    contents, which tells how far the work has come, is written anew.

    Parameters
    ----------
    target : the learner's folder; made if need be.
    learner : name in the course, kept in the folder; by default the login name counts.

    Returns
    -------
    Files that were added, as paths within `target`.

    Raises
    ------
    NotPossibleError
        If the folder belongs to another learner.
    """
    added: list[str] = []

    def add(file: Path, to: str) -> None:
        if not (target / to).exists():
            shutil.copyfile(file, target / to)
            added.append(to)

    alone = learner is None and not any(target.glob(f"*/{LEARNER_FILE}"))
    for master in sorted(course_folder().glob("*/*.ipynb")):
        folder = target / master.parent.name
        folder.mkdir(parents=True, exist_ok=True)
        _remember(folder / LEARNER_FILE, learner)
        copy = folder / master.name
        if not copy.exists():
            cut_copy(master, copy, alone=alone)
            added.append(f"{folder.name}/{copy.name}")
        books = master.parent.glob(f"*{BOOK_SUFFIX}")
        questions = master.parent.glob(f"*{QUESTIONS_SUFFIX}")
        for file in sorted((*books, *questions)):
            add(file, f"{folder.name}/{file.name}")
    add(course_folder() / GLOSSARY, GLOSSARY)
    write_contents(target)
    return tuple(added)


def cut_copy(master: Path, copy: Path, *, alone: bool = False) -> None:
    """Write a learner copy of a master, as nbgrader cuts it.

    Parameters
    ----------
    master : notebook with solutions and hidden tests.
    copy : where to write the notebook without them.
    alone : no instructor is known, so say how a learner can check themselves.
    """
    import nbformat
    from nbgrader.preprocessors import (
        ClearHiddenTests,
        ClearOutput,
        ClearSolutions,
        LockCells,
    )

    notebook = nbformat.read(master, as_version=4)
    for step in (LockCells, ClearSolutions, ClearOutput, ClearHiddenTests):
        notebook, _ = step().preprocess(notebook, {})
    if alone:
        for cell in notebook.cells:
            if cell.cell_type == "code":
                cell.source = cell.source.replace(MARKS_LINE, ALONE_LINES)
    nbformat.write(notebook, copy)


def _remember(file: Path, learner: str | None) -> None:
    """Keep the learner's name in the folder."""
    if learner is None:
        return
    if file.exists() and file.read_text(encoding="utf-8").strip() != learner:
        owner = file.read_text(encoding="utf-8").strip()
        raise NotPossibleError(
            f"{file.parent} is the folder of '{owner}'. Choose another folder: "
            f"ohmwork open OTHER_FOLDER --learner {learner}"
        )
    file.write_text(learner + "\n", encoding="utf-8")
