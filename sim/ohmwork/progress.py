"""How far a learner has come: the table of contents of their folder.

All is read from what lies in the lessons' folders. What cannot be read counts as not
being there; the lesson itself says what is amiss with it.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ohmwork.errors import OhmworkError
from ohmwork.job import MARKS_SUFFIX
from ohmwork.jobcard import SUFFIX as CARD_SUFFIX
from ohmwork.jobcard import read_card
from ohmwork.questions import ANSWER_SUFFIX, FILE_SUFFIX, read_questions
from ohmwork.tickets import SUFFIX as BOOK_SUFFIX

if TYPE_CHECKING:
    from ohmwork.lesson import Shown

CONTENTS_FILE = "contents.ipynb"
DONE = ("practised", "handed in")
"""States after which the next lesson comes: a practice fault marked, or the marked one
handed in. Who learns alone need not hand in."""

HEADS = ("", "Lesson", "Time", "State", "Best practice marks")
_TEXT = """\
# Contents

Click on a lesson to open it. The next one for you is marked. If you are new here, begin
with the first; each builds on those before it.

The mark moves on once you have handed in a practice fault of a lesson, or its marked
fault. When you come back from a lesson, bring the table up to date: choose
*Run > Run All Cells* in the menu. Keep no notes on this page: it is made anew whenever
you open the course.

The words of the trade are explained in the [glossary](GLOSSARY.md).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """One lesson as it stands."""

    name: str
    title: str
    time: str
    """As the lesson says it, such as ``60 to 90 minutes``; empty if it does not."""
    state: str
    """``not begun``, ``begun``, or one of `DONE`."""
    unanswered: int
    """Questions without an answer. [-]"""
    practice: str
    """Best marks of a practice fault, such as ``85 of 100``; empty if none."""


def lessons_in(folder: Path) -> tuple[Progress, ...]:
    """Return the lessons of a learner's folder, in their order.

    Parameters
    ----------
    folder : with a folder for each lesson in it, and in that a notebook of its name.
    """
    folders = sorted(path for path in folder.iterdir() if path.is_dir())
    return tuple(_lesson(f) for f in folders if (f / f"{f.name}.ipynb").is_file())


def _lesson(folder: Path) -> Progress:
    text = _prose(folder / f"{folder.name}.ipynb")
    title = re.search(r"^# (.+)$", text, re.MULTILINE)
    time = re.search(r"\*\*Time:\*\*\s+([^.]+)\.", text)
    answered = _names(folder, ANSWER_SUFFIX)
    books = _names(folder, BOOK_SUFFIX)
    marked = [folder / f"{b}{CARD_SUFFIX}" for b in books if not _practice(folder, b)]
    practice = _best(folder)
    if marked and all(map(_is_handed_in, marked)):
        state = "handed in"
    elif practice:
        state = "practised"
    else:
        is_begun = bool(answered or _names(folder, CARD_SUFFIX))
        state = "begun" if is_begun else "not begun"
    return Progress(
        name=folder.name,
        title=title[1] if title else folder.name,
        time=" ".join(time[1].split()) if time else "",
        state=state,
        unanswered=len(_questions(folder) - answered),
        practice=practice,
    )


def _names(folder: Path, suffix: str) -> set[str]:
    """Return the files of a folder with this ending, without it."""
    return {path.name.removesuffix(suffix) for path in folder.glob(f"*{suffix}")}


def _json(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None


def _prose(notebook: Path) -> str:
    """Return the text cells of a notebook; nothing if it is damaged."""
    try:
        cells = _json(notebook)["cells"]
        texts = [c["source"] for c in cells if c["cell_type"] == "markdown"]
        return "\n".join("".join(text) for text in texts)
    except (LookupError, TypeError):
        return ""


def _practice(folder: Path, exercise: str) -> bool:
    """Return whether an exercise may be done over and over."""
    book = _json(folder / f"{exercise}{BOOK_SUFFIX}")
    try:
        return bool(book["exercise"]["practice"])
    except (LookupError, TypeError):
        return False


def _is_handed_in(card: Path) -> bool:
    try:
        actions = read_card(card).actions
    except OhmworkError:
        return False
    return bool(actions) and actions[-1]["do"] == "hand_in"


def _questions(folder: Path) -> set[str]:
    try:
        files = folder.glob(f"*{FILE_SUFFIX}")
        return {name for file in files for name in read_questions(file)}
    except OhmworkError:
        return set()


def _best(folder: Path) -> str:
    """Return the best marks that a practice fault of the lesson has had."""
    files = folder.glob(f"*{MARKS_SUFFIX}")
    best = [marks for file in files if (marks := _json(file))]
    try:
        top = max(best, key=lambda marks: float(marks["points"]), default=None)
        return f"{top['points']:g} of {top['maximum']:g}" if top else ""
    except (LookupError, TypeError, ValueError):
        return ""


def contents(folder: Path | str = ".") -> Shown:
    """Return the table of the lessons in a learner's folder, the next one marked.

    Parameters
    ----------
    folder : where the contents are shown; links lead from there.
    """
    from ohmwork.lesson import Shown

    lessons = lessons_in(Path(folder))
    following = next((k for k in lessons if k.state not in DONE), None)
    rows, lines = [], []
    for lesson in lessons:
        state = lesson.state
        if state != "not begun" and lesson.unanswered:
            plural = "s" * (lesson.unanswered > 1)
            state += f", {lesson.unanswered} question{plural} open"
        mark = "next" if lesson is following else ""
        called = f"{lesson.name.partition('_')[0]}: {lesson.title}"
        link = f'<a href="{lesson.name}/{lesson.name}.ipynb">{escape(called)}</a>'
        cells = map(_unbroken, (lesson.time, state, lesson.practice))
        rows.append(_row("td", f"<b>{mark}</b>", link, *cells))
        lines.append(" | ".join((mark, called, lesson.time, state, lesson.practice)))
    return Shown(
        html=f"<table>{_row('th', *HEADS)}{''.join(rows)}</table>",
        text="\n".join([" | ".join(HEADS), *lines]),
    )


def _unbroken(text: str) -> str:
    """Return a short text as HTML that stays on one line."""
    return escape(text).replace(" ", "&nbsp;")


def _row(tag: str, *cells: str) -> str:
    """Return a row of the table, all of it HTML already."""
    side = 'style="text-align:left"'  # JupyterLab puts it to the right otherwise
    return f"<tr>{''.join(f'<{tag} {side}>{cell}</{tag}>' for cell in cells)}</tr>"


def write_contents(folder: Path) -> Path:
    """Write the notebook of contents anew, with its table; returns its path.

    Parameters
    ----------
    folder : a learner's, with the lessons in it.
    """
    import nbformat
    from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

    shown = contents(folder)
    data = {"text/html": shown.html, "text/plain": shown.text}
    table = new_code_cell(
        "# The table of lessons\nimport ohmwork\n\nohmwork.contents()",
        id="table",
        metadata={"jupyter": {"source_hidden": True}},
        outputs=[new_output("display_data", data)],
    )
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    notebook = new_notebook(
        cells=[new_markdown_cell(_TEXT, id="contents"), table],
        metadata={"kernelspec": kernel},
    )
    path = folder / CONTENTS_FILE
    nbformat.write(notebook, path)
    return path
