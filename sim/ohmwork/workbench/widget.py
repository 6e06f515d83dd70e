"""The workbench in a notebook: a desk behind a page of JavaScript.

The page gets three values: what does not change, what does, and the drawing; each
travels only when it has changed.
"""

from __future__ import annotations

from importlib import resources
from typing import Any

import anywidget
import ipywidgets
import traitlets
from IPython.display import display

from ohmwork.drawing import style
from ohmwork.workbench.desk import Desk
from ohmwork.workbench.page import card_bundle
from ohmwork.workbench.work import Work

LIGHT = {**style.LIGHT, "panel": "#f4f5f3", "well": "#ffffff", "on-accent": "#ffffff",
         "on-flag": "#ffffff", "live": "#8f4a00", "ground": "#3350b0",
         "open": "#515b60"}  # fmt: skip
DARK = {**style.DARK, "panel": "#2a2d2e", "well": "#1b1d1e", "on-accent": "#1b1d1e",
        "on-flag": "#1b1d1e", "live": "#ffb35c", "ground": "#a9bcff",
        "open": "#b0babd"}  # fmt: skip
"""The colours of the sheet, and those that only the workbench has."""


RELOADED = (
    "The page was loaded anew. Run this cell again, so that the notebook keeps your "
    "work as well."
)
"""Without that, the job card is in its file, but no longer reaches the outputs."""


def _page() -> object:
    """Return what changes whenever a browser has loaded the page anew."""
    return getattr(ipywidgets.Widget, "_control_comm", None)


def _text(name: str) -> str:
    return (resources.files("ohmwork.workbench") / name).read_text(encoding="utf-8")


def _css() -> str:
    """Return the colours of both themes and the rules."""
    light, dark = (
        ";".join(f"--ow-{name}:{value}" for name, value in colours.items())
        for colours in (LIGHT, DARK)
    )
    return (
        f".ow{{{light}}}\n"
        f'[data-jp-theme-light="false"] .ow{{{dark}}}\n{_text("workbench.css")}'
    )


class Workbench(anywidget.AnyWidget):
    """A job's workbench in a notebook.

    Parameters
    ----------
    job : what is worked on.
    """

    _esm = _text("workbench.js")
    _css = _css()
    fixed = traitlets.Dict().tag(sync=True)
    state = traitlets.Dict().tag(sync=True)
    sheet = traitlets.Unicode().tag(sync=True)

    def __init__(self, job: Work) -> None:
        self.desk = Desk(job)
        self._card: Any = None
        self._page = _page()
        desk = self.desk
        super().__init__(fixed=desk.fixed(), state=desk.state(), sheet=desk.sheet())
        self.on_msg(self._asked)

    def display(self) -> None:
        """Show the workbench and, as a second output, the job card."""
        display(self)
        self._card = display(card_bundle(self.desk.job), raw=True, display_id=True)

    def _asked(self, _widget: Any, operation: dict[str, Any], _buffers: Any) -> None:
        """Do what the page asks for, answer, then bring the job card up to date."""
        desk = self.desk
        job, acts = desk.job, len(desk.bench.actions)
        with job.saved_at_the_end():
            desk.do(operation)
            if _page() is not self._page:
                desk.message, desk.is_warning = RELOADED, True
            with self.hold_sync():
                if desk.job is not job:
                    self.fixed = desk.fixed()
                self.sheet = desk.sheet()
                self.state = desk.state()
        if self._card is not None and (
            desk.job is not job or len(desk.bench.actions) > acts
        ):
            self._card.update(card_bundle(desk.job), raw=True)
