"""The workbench: where a learner measures, notes, concludes and hands in.

`show` puts it into a notebook: as a widget where those can be shown, and as the diagram
with a text anywhere else. Nothing here loads a widget library before that.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from html import escape
from importlib.util import find_spec
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from ohmwork.questions import Question
    from ohmwork.workbench.widget import Workbench
    from ohmwork.workbench.work import Work

__all__ = ["ask_name", "ask_question", "say", "show"]

_NOTICE = (
    "border: 1px solid currentColor; border-radius: 6px; padding: 8px 12px; "
    "max-width: 40em; font-family: var(--jp-ui-font-family)"
)

_shown: dict[Path, Workbench] = {}
"""The one that is open on each job card; two would overwrite each other's work."""


def show(job: Work) -> None:
    """Show a job's workbench, as it stands, in the notebook.

    The cell's outputs also carry the job card, so the notebook alone is enough to hand
    in. Showing a job again goes on where it stopped; one shown before is closed.

    Parameters
    ----------
    job : from `ohmwork.start_job` or `ohmwork.start_practice`.
    """
    if not _can_show_widgets():
        from ohmwork.workbench.page import show_page

        show_page(job)
        return
    from ohmwork.workbench.widget import Workbench

    before = _shown.pop(job.path.resolve(), None)
    if before is not None:
        before.close()
    bench = Workbench(job)
    _shown[job.path.resolve()] = bench
    bench.display()


def say(text: str) -> None:
    """Say on the page what is amiss and what to do.

    Parameters
    ----------
    text : plain text.
    """
    from IPython.display import display

    page = f'<div role="alert" style="{_NOTICE}">{escape(text)}</div>'
    display({"text/html": page, "text/plain": text}, raw=True)


def ask_name(text: str, answer: Callable[[str], str]) -> None:
    """Ask for the learner's name on the page.

    Parameters
    ----------
    text : the question.
    answer : called with the name; returns what to say to it.
    """
    if not _can_show_widgets():
        say(f"{text} Write it into the file learner.txt beside this notebook.")
        return
    from ohmwork.workbench.sign_in import ask

    ask(text, answer)


def ask_question(question: Question, folder: Path) -> None:
    """Put a question of the lesson on the page.

    Parameters
    ----------
    question : what is asked.
    folder : where the answer is kept.
    """
    if not _can_show_widgets():
        say(f"{question.text} Answer it in a notebook with widgets.")
        return
    from ohmwork.workbench.question import Form

    Form(question, folder).display()


def _can_show_widgets() -> bool:
    """Whether somebody is there to use a widget.

    Not while nbgrader runs the notebook: a page of its feedback comes out empty where a
    widget stood.
    """
    if os.environ.get("NBGRADER_EXECUTION") or find_spec("anywidget") is None:
        return False
    from IPython.core.getipython import get_ipython

    return getattr(get_ipython(), "kernel", None) is not None
