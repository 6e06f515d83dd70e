"""The question for the learner's name, where the login does not tell it."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as widgets
from IPython.display import display


def ask(text: str, answer: Callable[[str], str]) -> None:
    """Show the question.

    Parameters
    ----------
    text : the question.
    answer : called with the name; returns what to say to it.
    """
    question = widgets.Label(text)
    name = widgets.Text(description="Name", placeholder="as on your instructor's list")
    send = widgets.Button(description="Go on")

    def take(_: object) -> None:
        if name.value.strip():
            question.value = answer(name.value.strip())

    send.on_click(take)
    display(widgets.VBox([question, widgets.HBox([name, send])]))
