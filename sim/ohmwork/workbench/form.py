"""The workbench as a form of ipywidgets.

The bench is the only memory: every act goes to it, then the form shows what it says.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from functools import partial
from html import escape
from importlib import resources
from typing import Any

import ipywidgets as widgets
from IPython.display import display

from ohmwork import drawing
from ohmwork.drawing.style import DARK, LIGHT
from ohmwork.errors import OhmworkError
from ohmwork.faults import KINDS
from ohmwork.instruments import ONE_LEAD, TOOLS
from ohmwork.job import Job
from ohmwork.parts import Connector, Switch
from ohmwork.workbench import fragments, words
from ohmwork.workbench.page import card_bundle, drawn_state
from ohmwork.workbench.sound import tone

_OWN_LIGHT = {"panel": "#f4f5f3", "well": "#ffffff", "live": "#8f4a00",
              "ground": "#3350b0", "open": "#515b60"}  # fmt: skip
_OWN_DARK = {"panel": "#2a2d2e", "well": "#1b1d1e", "live": "#ffb35c",
             "ground": "#a9bcff", "open": "#b0babd"}  # fmt: skip
_numbers = itertools.count(1)


class Form:
    """A job's workbench in a notebook.

    Parameters
    ----------
    job : what is worked on.
    """

    def __init__(self, job: Job) -> None:
        self.job = job
        self.bench = job.bench
        self._prefix = f"ow{next(_numbers)}"
        self._sheet = drawing.sheet(self.bench.vehicle)
        self._kinds = words.kinds_by_site(self.bench.vehicle, job.exercise)
        self._showing = False
        self._answers: list[Answer] = []
        self._card: Any = None
        self._page: Any = None
        self._build()
        self._attend()
        for answer in self.bench.conclusion or ((None, None),):
            self._add_answer(*answer)
        self._read(aloud=False)
        self.status.value = _line(job.message)
        self._show()

    def display(self) -> None:
        """Show the form and, as a second output, the job card."""
        display(self.root)
        self._card = display(card_bundle(self.job), raw=True, display_id=True)
        self._page = _page_of_browser()

    def close(self) -> None:
        """Take the form off the page and out of the kernel."""
        for widget in _family(self.root):
            widget.close()

    # -- what is there --

    def _build(self) -> None:
        vehicle, exercise = self.bench.vehicle, self.job.exercise
        self.controls = {
            name: _toggles(label, [(words.first_upper(p), p) for p in part.positions])
            for name, label in vehicle.controls.items()
            if isinstance(part := vehicle[name], Switch)
        }
        self.undo = widgets.Button(description="Undo")
        self.sound = widgets.ToggleButton(description="Sound on", value=True)
        self.audio = widgets.Audio(format="wav", loop=False, controls=False)
        self.status = _html("ow-status")
        self.part = _chooser("Part that plugs in")
        self.plug = widgets.Button()
        self.sheet = _html("ow-sheet")
        self.meter = _html("ow-meter")
        self.tools = _toggles("Tool", [(TOOLS[tool], tool) for tool in exercise.tools])
        self.leads = {letter: _chooser(f"Lead {letter}") for letter in "AB"}
        self.lifts = {
            letter: widgets.Button(description="Lift", tooltip=f"Lift lead {letter}")
            for letter in "AB"
        }
        self.sights = _html("ow-sights")
        self.readings = _html("ow-readings")
        self.live = _html("ow-live-row")
        self.note = widgets.Button(description="Note it")
        self.hints = _html("ow-hints")
        self.hint = widgets.Button(description="Show hint")
        self.answers = widgets.VBox()
        self.add = widgets.Button(description="Add another row")
        self.repairs = _chooser("Repair")
        self.repair = widgets.Button(description="Repair it")
        self.repaired = _html("ow-repaired")
        self.check = _html("ow-check")
        self.hand_in = widgets.Button(description="Hand in")
        self.confirm = widgets.Button(description="Yes, hand in")
        self.go_on = widgets.Button(description="Go on working")
        self.marks = _html("ow-marks")
        lead_rows = [
            _row(self.leads[a], self.lifts[a], name=f"ow-lead-{a.lower()}") for a in "AB"
        ]
        self.live_box = _row(self.live, self.note, name="ow-live")
        self.sure = _row(self.confirm, self.go_on)
        buttons = _row(self.undo, self.sound, name="ow-end")
        self.act = _column(
            _row(*self.controls.values(), buttons, name="ow-bar"),
            _row(self.status, self.part, self.plug, name="ow-caption"),
            self.sheet,
            _row(self.meter, _column(*lead_rows, self.tools), name="ow-bench"),
            name="ow-act",
        )
        self.think = _column(
            _html("ow-head", _head(self.job)),
            self.sights,
            self.readings,
            self.live_box,
            _row(self.hints, self.hint),
            _html("", fragments.section("Conclusion")),
            self.answers,
            self.add,
            self.repairs,
            _row(self.repaired, self.repair),
            _row(self.check, self.hand_in),
            self.sure,
            self.marks,
            name="ow-think",
        )
        frame = _row(self.act, self.think, name="ow-frame")
        self.root = _column(_html("ow-look", _look()), frame, self.audio, name="ow-form")

    def _attend(self) -> None:
        """Tie each input to what it does on the bench."""
        bench = self.bench
        for name, control in self.controls.items():
            self._on_choice(control, partial(bench.set_control, name))
        self._on_choice(self.tools, bench.use)
        for letter, chooser in self.leads.items():
            self._on_choice(chooser, partial(self._touch, letter))
            self._on_click(self.lifts[letter], partial(bench.lift, letter))
        self._on_choice(self.part, lambda _: None)
        self._on_choice(self.sound, lambda _: None)
        self._on_choice(self.repairs, lambda _: None)
        self._on_click(self.plug, self._pull_or_fit)
        self._on_click(self.undo, bench.undo, "The last act is taken back.")
        self._on_click(self.note, bench.note)
        self._on_click(self.hint, self.job.show_hint)
        self._on_click(self.add, self._add_answer)
        self._on_click(self.repair, self._repair)
        self._on_click(self.hand_in, self._ask)
        self._on_click(self.confirm, self._hand_in)
        self._on_click(self.go_on, lambda: None)

    def _on_choice(self, widget: Any, act: Callable[[Any], object]) -> None:
        def chosen(change: Any) -> None:
            if not self._showing:
                self._do(partial(act, change.new))

        widget.observe(chosen, "value")

    def _on_click(self, button: Any, act: Callable[[], object], done: str = "") -> None:
        button.on_click(lambda _: self._do(act, done))

    # -- acts --

    def _do(self, act: Callable[[], object], done: str = "") -> None:
        """Do one act, take the reading that follows, show everything."""
        self.sure.layout.display = "none"
        before = len(self.bench.actions)
        message, failed = done, False
        try:
            act()
        except (OhmworkError, OSError) as error:
            message, failed = str(error), True
        self._read(aloud=True)
        if not message and self.bench.reading and len(self.bench.actions) > before:
            reading = self.bench.reading
            message = f"{words.leads_text(reading)}: {reading.sentence}"
        self.status.value = _line(message, warning=failed)
        self._show()
        if self._card is not None and len(self.bench.actions) > before:
            self._card.update(card_bundle(self.job), raw=True)

    def _read(self, *, aloud: bool) -> None:
        """Take a reading if the leads are placed and it is not taken yet."""
        bench = self.bench
        self._sentence = ""
        if bench.hookup.missing is not None:
            self._sentence = f"No reading. Lead {bench.hookup.missing} is not placed."
        elif bench.reading is None and not bench.is_handed_in:
            try:
                reading = bench.read()
            except (OhmworkError, OSError) as error:
                self._sentence = str(error)
            else:
                if aloud and self.sound.value and reading.pitch is not None:
                    self._play(reading.pitch)

    def _play(self, pitch: float) -> None:
        """Sound a tone, also when it is the same as before."""
        wave = tone(round(pitch, 1))
        if self.audio.value == wave:
            self.audio.send_state("value")
        self.audio.value = wave

    def _touch(self, letter: str, place: str | None) -> None:
        if place is None:
            self.bench.lift(letter)
        else:
            self.bench.place(letter, place)

    def _pull_or_fit(self) -> None:
        name = self.part.value
        if name in self.bench.setup.apart:
            self.bench.plug(name)
        else:
            self.bench.unplug(name)

    def _add_answer(self, site: str | None = None, kind: str | None = None) -> None:
        answer = Answer(self, site, kind)
        self._answers.append(answer)
        self._on_choice(answer.site, lambda _: self._conclude())
        self._on_choice(answer.kind, lambda _: self._conclude())
        self._on_click(answer.remove, partial(self._remove_answer, answer))

    def _remove_answer(self, answer: Answer) -> None:
        if len(self._answers) == 1:
            answer.clear()
        else:
            self._answers.remove(answer)
        self._conclude()

    def _conclude(self) -> None:
        """Write the conclusion once every row is complete."""
        for answer in self._answers:
            answer.offer_kinds()
        rows = tuple(dict.fromkeys(answer.row for answer in self._answers))
        if not words.missing(rows) and rows != self.bench.conclusion:
            self.bench.conclude([(str(site), str(kind)) for site, kind in rows])

    def _repair(self) -> None:
        self.bench.repair(self.repairs.value)

    def _ask(self) -> None:
        """Ask once more, unless something is missing."""
        gap = words.missing(answer.row for answer in self._answers)
        if gap:
            raise NotPossibleError(gap)
        self.sure.layout.display = "flex"

    def _hand_in(self) -> None:
        self.job.hand_in()

    # -- what is shown --
