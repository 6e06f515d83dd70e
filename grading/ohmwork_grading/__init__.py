"""Tickets, marks and classes: the instructor's half of Ohmwork.

The marks of a job card reach nbgrader's gradebook on two roads that leave equal rows:
`mark_here` in a grade cell that nbgrader executes, and `nbgrader_plugin`, which runs
none of the learner's code.
"""

import os
from pathlib import Path
from typing import Any

from ohmwork_grading.answers import Key, mark_answer_in
from ohmwork_grading.rubric import mark_folder

__all__ = ["mark_answer", "mark_folder", "mark_here"]


def mark_here(exercise: str) -> float:
    """Points for the job card beside the notebook; the reasons are printed.

    For a grade cell that `nbgrader autograde` executes. The learner is known from
    nbgrader's folder, ``autograded/<learner>/<assignment>``. Anywhere else nothing is
    marked, so that a lesson can be run from top to bottom by its author.

    Parameters
    ----------
    exercise : name of the exercise, which is also the cell's grade_id.

    Returns
    -------
    Points, from zero to the exercise's maximum. [-]

    Raises
    ------
    OhmworkError
        If the card or the ticket book is missing, damaged or somebody else's; nbgrader
        gives no points to a cell that raises.
    """
    if os.environ.get("NBGRADER_EXECUTION") != "autograde":
        print("Marks are given after the hand-in.")  # noqa: T201  (nbgrader's feedback)
        return 0.0
    from IPython.display import display

    folder = Path.cwd()
    marks = mark_folder(folder, exercise, learner=folder.parent.name, books=folder)
    print(marks.text)  # noqa: T201  (shown in nbgrader's feedback)
    display(marks.bundle, raw=True)
    return marks.points


def mark_answer(question: str, **key: Any) -> float:
    """Points for the answer beside the notebook; the reasons are printed.

    For a grade cell, like `mark_here`.

    Parameters
    ----------
    question : its id.
    key : what is right, as in `ohmwork_grading.answers.Key`; plain values only.

    Returns
    -------
    Points, from zero to the key's. [-]
    """
    if os.environ.get("NBGRADER_EXECUTION") != "autograde":
        print("Marks are given after the hand-in.")  # noqa: T201  (nbgrader's feedback)
        return 0.0
    folder = Path.cwd()
    marks = mark_answer_in(folder, folder, Key(question=question, **key))
    print(marks.text)  # noqa: T201  (shown in nbgrader's feedback)
    return marks.points
