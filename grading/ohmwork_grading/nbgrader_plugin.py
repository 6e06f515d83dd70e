"""How marks reach nbgrader's own gradebook without running a learner's code.

`MarkJobCards` stands where nbgrader's `Execute` stands: it sets the outputs of the
grade cells from the job cards beside the notebook, and everything after it (grades,
comments, late penalties) is nbgrader's own. It works from a course's configuration
alone, under the stock command ``nbgrader autograde`` and in formgrader::

    c.Autograde.autograde_preprocessors = [
        "ohmwork_grading.nbgrader_plugin.MarkJobCards",
        "nbgrader.preprocessors.IgnorePattern", ...
    ]

`AutogradeJobCards` is the quick and crash-safe way for a whole class: one gradebook
connection, and each learner's output built aside and renamed into place when it is
complete. It never executes a notebook, whatever the configuration says.

`MarksFirst` makes nbgrader's feedback page begin with the marks. It too works from
configuration alone, in ``c.GenerateFeedback.preprocessors``; the page's template stays
nbgrader's.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import stat
import sys
import sysconfig
import textwrap
import warnings
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nbconvert.preprocessors import (
    CSSHTMLHeaderPreprocessor,
    ExecutePreprocessor,
    Preprocessor,
)
from nbformat import NotebookNode
from nbformat.v4 import new_markdown_cell, new_output
from nbgrader.api import Gradebook
from nbgrader.converters import Autograde, GenerateAssignment, GenerateFeedback
from nbgrader.converters.base import BaseConverter
from nbgrader.preprocessors import GetGrades, NbGraderPreprocessor
from nbgrader.utils import is_grade, is_solution, rmtree
from sqlalchemy.exc import SAWarning
from traitlets import Bool, List
from traitlets.utils.importstring import import_item

from ohmwork.errors import OhmworkError
from ohmwork.questions import Question, find_question
from ohmwork.tickets import SUFFIX as BOOK_SUFFIX
from ohmwork_grading.answers import AnswerMarks, Key, key_in, mark_answer_in
from ohmwork_grading.handins import STAGING
from ohmwork_grading.rubric import MIME as MARKS_MIME
from ohmwork_grading.rubric import WIDTH, Marks, mark_folder


class MustBeExecutedError(OhmworkError, ValueError):
    """The assignment has grade cells that only execution can mark."""


class MarkJobCards(NbGraderPreprocessor):  # type: ignore[misc]  # nbgrader is untyped
    """Set the outputs of the grade cells from the job cards beside the notebook."""

    def preprocess(
        self, nb: NotebookNode, resources: dict[str, Any]
    ) -> tuple[NotebookNode, dict[str, Any]]:
        """Mark every diagnosis and every answer."""
        who = resources["nbgrader"]
        coursedir = self.parent.parent.coursedir
        books = Path(
            coursedir.format_path(coursedir.source_directory, ".", who["assignment"])
        )
        cells = {cell.metadata.nbgrader.grade_id: cell for cell in _tested(nb)}
        _refuse_execution(cells, books)
        folder = Path(resources["metadata"]["path"])
        for name, cell in cells.items():
            marks: Marks | AnswerMarks
            try:
                key = key_in(cell.source)
                if key is None:
                    marks = mark_folder(folder, name, who["student"], books)
                else:
                    marks = mark_answer_in(folder, books, key)
            except Exception as error:  # noqa: BLE001  (a raising cell is worth 0 too)
                cell.outputs = [
                    new_output(
                        "error",
                        ename=type(error).__name__,
                        evalue=str(error),
                        traceback=_page_lines(error),
                    )
                ]
            else:
                cell.outputs = [
                    new_output("stream", name="stdout", text=marks.text + "\n"),
                    new_output(
                        "execute_result", data={"text/plain": repr(marks.points)}
                    ),
                ]
                if isinstance(marks, Marks):
                    parts = new_output("display_data", data=marks.bundle)
                    cell.outputs.append(parts)
        return nb, resources


def _tested(nb: NotebookNode) -> list[NotebookNode]:
    """Return the grade cells that hold tests, and no answer of a learner's."""
    return [
        cell
        for cell in nb.cells
        if cell.cell_type == "code" and is_grade(cell) and not is_solution(cell)
    ]


def _page_lines(error: Exception) -> list[str]:
    """What the feedback page shows of an error; the page does not wrap lines."""
    meant_for_learners = isinstance(error, OhmworkError)
    name = "" if meant_for_learners else f"{type(error).__name__}: "
    return textwrap.wrap(f"{name}{error}", WIDTH)


class MarksFirst(Preprocessor):
    """Put the marks before the lesson on a feedback page, as text and without code.

    What learners read first is then what was marked, their own fault before all. The
    code of our grade cells, with its keys, and the cells that a lesson keeps folded are
    left out. A notebook without a grade cell of ours stays as it is.
    """

    enabled = Bool(default_value=True, config=True)

    def preprocess(
        self, nb: NotebookNode, resources: dict[str, Any]
    ) -> tuple[NotebookNode, dict[str, Any]]:
        """Reorder the cells; `GetGrades` has entered points and comments before."""
        ours = {id(c) for c in _tested(nb) if "ohmwork_grading" in c.source}
        if not ours:
            return nb, resources
        folder = Path(resources["metadata"]["path"])
        faults: list[NotebookNode] = []
        others: list[NotebookNode] = []
        lesson: list[NotebookNode] = []
        for cell in nb.cells:
            if id(cell) in ours:
                key = key_in(cell.source)
                (others if key else faults).append(_as_text(cell, key, folder))
            elif is_grade(cell):
                if lesson and lesson[-1].cell_type == "markdown":  # it asks
                    others.append(lesson.pop())
                others.append(cell)
            else:
                if cell.metadata.get("jupyter", {}).get("source_hidden"):
                    cell.metadata.transient = {"remove_source": True}
                lesson.append(cell)
        below = new_markdown_cell("*Below is the lesson, as it was handed in.*")
        nb.cells = [*faults, *others, below, *lesson]
        return nb, resources


def _as_text(cell: NotebookNode, key: Key | None, folder: Path) -> NotebookNode:
    """Return a marked cell as text alone: what was asked, and what the cell says."""
    said = [] if key is None else [_asked(find_question(key.question, folder))]
    for output in cell.outputs:
        if output.output_type == "error":
            said.append(textwrap.fill(output.evalue, WIDTH))
        elif output.output_type == "stream":
            said.append(output.text)
    # Indented, Markdown shows it as it is, whatever a learner has brought into it.
    source = textwrap.indent("\n\n".join(said), "    ")
    text: NotebookNode = new_markdown_cell(source, metadata=cell.metadata)
    return text


def _asked(question: Question) -> str:
    """Return a question with what there was to choose from, in lines of the page."""
    choices = {**question.options, **question.reasons}
    lines = [question.text, *(f"{name}: {text}" for name, text in choices.items())]
    return "\n".join(textwrap.fill(line, WIDTH) for line in lines)


def problems_in(folder: Path) -> dict[str, str]:
    """Error of each grade cell that has one, in the marked notebooks of a folder."""
    return {
        cell: output["evalue"]
        for cell, output in _outputs_in(folder)
        if output["output_type"] == "error"
    }


def parts_in(folder: Path) -> dict[str, dict[str, float]]:
    """Points of each part of the marks, by grade cell of a fault, in such a folder."""
    return {
        cell: output["data"][MARKS_MIME]
        for cell, output in _outputs_in(folder)
        if MARKS_MIME in output.get("data", {})
    }


def _outputs_in(folder: Path) -> Iterator[tuple[str, Any]]:
    """Yield each output of a grade cell, with the cell's name."""
    for path in sorted(folder.glob("*.ipynb")):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            meta = cell["metadata"].get("nbgrader", {})
            if meta.get("grade"):
                for output in cell.get("outputs", ()):
                    yield meta["grade_id"], output


def _refuse_execution(cells: Mapping[str, NotebookNode], books: Path) -> None:
    """Refuse an assignment with a grade cell that has neither ticket book nor key."""
    executed = [
        name
        for name, cell in cells.items()
        if not (books / f"{name}{BOOK_SUFFIX}").exists() and key_in(cell.source) is None
    ]
    if executed:
        message = (
            "This assignment has cells that must be executed: use nbgrader autograde. "
            f"No ticket book for {', '.join(executed)} in {books}."
        )
        raise MustBeExecutedError(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one learner: done, left as it was, or failed.

    `problems` are why cells could not be marked, or the reason of the failure.
    """

    learner: str
    state: str
    problems: tuple[str, ...] = ()


class OneByOne(BaseConverter):  # type: ignore[misc]
    """Mixed into a converter of nbgrader's: each learner's output appears whole.

    The output is built in a staging folder and renamed into place when complete, so a
    run that is killed leaves nothing that a later run takes for finished work, and one
    learner's broken file does not stop the class. `report` hears of each learner.
    """

    report: Callable[[Outcome], None]

    def convert_notebooks(self) -> None:
        """Convert every learner's notebooks, in the order of their names."""
        names = self._format_source(
            "(?P<assignment_id>.*)", "(?P<student_id>.*)", escape=True
        )
        for source in sorted(self.assignments):
            self.notebooks = sorted(self.assignments[source])
            who = re.match(names, source)
            self.report(self._convert(**who.groupdict()))  # type: ignore[union-attr]

    def _convert(self, assignment_id: str, student_id: str) -> Outcome:
        try:
            if not self.init_destination(assignment_id, student_id):
                return self._outcome(assignment_id, student_id, "kept")
            self.run_pre_convert_hook()
            self.init_assignment(assignment_id, student_id)
            for notebook in self.notebooks:
                self.convert_single_notebook(notebook)
            self.set_permissions(assignment_id, student_id)
            self.run_post_convert_hook()
        except MustBeExecutedError:
            raise
        except Exception as error:  # noqa: BLE001  (the rest of the class goes on)
            problem = f"{type(error).__name__}: {error}"
            return Outcome(learner=student_id, state="failed", problems=(problem,))
        finally:
            self._clear_staging(assignment_id, student_id)
        return self._outcome(assignment_id, student_id, "done")

    def _outcome(self, assignment: str, learner: str, state: str) -> Outcome:
        errors = problems_in(self._finished(assignment, learner))
        problems = tuple(f"{cell}: {error}" for cell, error in errors.items())
        return Outcome(learner=learner, state=state, problems=problems)

    @property
    def _output_directory(self) -> str:
        return STAGING

    def init_destination(self, assignment_id: str, student_id: str) -> bool:
        """Whether this learner has work to be converted."""
        self._clear_staging(assignment_id, student_id)
        wanted = super().init_destination(assignment_id, student_id)
        return wanted and (
            self.force or not self._is_finished(assignment_id, student_id)
        )

    def set_permissions(self, assignment_id: str, student_id: str) -> None:
        """Set the files' permissions, then rename the whole folder into place."""
        super().set_permissions(assignment_id, student_id)
        finished = self._finished(assignment_id, student_id)
        if finished.exists():
            rmtree(finished)
        finished.parent.mkdir(parents=True, exist_ok=True)
        os.rename(self._format_dest(assignment_id, student_id), finished)

    def _is_finished(self, assignment: str, learner: str) -> bool:
        """Whether the output is complete and no newer hand-in has come.

        Permissions are set last, by nbgrader too: a notebook without its final ones
        was left behind by a run that was killed.
        """
        finished = self._finished(assignment, learner)
        suffix = self.exporter.file_extension
        names = [Path(notebook).stem + suffix for notebook in self.notebooks]
        modes = [
            stat.S_IMODE((finished / name).stat().st_mode)
            for name in names
            if (finished / name).exists()
        ]
        if set(modes) != {int(str(self.permissions), 8)}:
            return False
        handed_in, marked = (
            self.coursedir.get_existing_timestamp(folder)
            for folder in (self._format_source(assignment, learner), finished)
        )
        return handed_in is None or marked is None or handed_in <= marked

    def _finished(self, assignment: str, learner: str) -> Path:
        """Folder where the complete output belongs."""
        step = super()._output_directory
        return Path(self.coursedir.format_path(step, learner, assignment))

    def _clear_staging(self, assignment: str, learner: str) -> None:
        staged = os.path.normpath(self._format_dest(assignment, learner))
        if os.path.exists(staged):
            rmtree(staged)
        with contextlib.suppress(OSError):  # the first folder that is not empty
            os.removedirs(os.path.dirname(staged))


class AutogradeJobCards(OneByOne, Autograde):  # type: ignore[misc]
    """nbgrader's Autograde, which here never executes a notebook."""

    autograde_preprocessors: Any

    @property
    def _input_directory(self) -> str:
        return super()._input_directory if self._sanitizing else STAGING

    def _init_preprocessors(self) -> None:
        self.autograde_preprocessors = [
            MarkJobCards if executes(preprocessor) else preprocessor
            for preprocessor in self.autograde_preprocessors
        ]
        super()._init_preprocessors()


class CutLearnerCopy(OneByOne, GenerateAssignment):  # type: ignore[misc]
    """nbgrader's GenerateAssignment: the copy every learner gets."""


class WriteFeedback(OneByOne, GenerateFeedback):  # type: ignore[misc]
    """nbgrader's GenerateFeedback: one page for each notebook, its marks first."""

    preprocessors = List(
        [GetGrades, MarksFirst, CSSHTMLHeaderPreprocessor], config=True
    )


def executes(preprocessor: Any) -> bool:
    """Whether a preprocessor, a class or its dotted name, runs the notebook."""
    if isinstance(preprocessor, str):
        preprocessor = import_item(preprocessor)
    return isinstance(preprocessor, type) and issubclass(
        preprocessor, ExecutePreprocessor
    )


class _KeptGradebook(Gradebook):  # type: ignore[misc]
    """A gradebook that ends its session on closing but keeps its connection."""

    def close(self) -> None:
        self.db.remove()


@contextlib.contextmanager
def one_gradebook(coursedir: Any) -> Iterator[Gradebook]:
    """Let nbgrader's converters share one connection while the block runs.

    nbgrader opens its gradebook some ten times for a submission, and each opening
    compares every table with the file. Sessions, and what they commit, stay nbgrader's.
    """
    gradebook = _KeptGradebook(coursedir.db_url, coursedir.course_id)
    users = [
        module
        for name, module in sys.modules.items()
        if name.startswith(("nbgrader.converters.", "nbgrader.preprocessors."))
        and getattr(module, "Gradebook", None) is Gradebook
    ]
    for module in users:
        module.Gradebook = lambda *_args, **_options: gradebook  # type: ignore[attr-defined]
    try:
        with warnings.catch_warnings():  # of nbgrader's under newer SQLAlchemy
            warnings.simplefilter("ignore", SAWarning)
            yield gradebook
    finally:
        for module in users:
            module.Gradebook = Gradebook  # type: ignore[attr-defined]
        Gradebook.close(gradebook)


def put_alembic_on_path() -> None:
    """Put this Python's scripts on PATH, where nbgrader looks for ``alembic``."""
    scripts = sysconfig.get_path("scripts")
    folders = os.environ.get("PATH", "").split(os.pathsep)
    if scripts not in folders:
        os.environ["PATH"] = os.pathsep.join([scripts, *folders])
