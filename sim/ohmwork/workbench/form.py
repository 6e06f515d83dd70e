"""The workbench as a form of ipywidgets.

The bench is the only memory: every act goes to it, then the form shows what it says. A
reading is taken as soon as the leads it needs are placed, and after every change.
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

from ohmwork import drawing, faults
from ohmwork.drawing import style
from ohmwork.errors import OhmworkError
from ohmwork.instruments import METER, ONE_LEAD, TOOLS
from ohmwork.parts import Switch
from ohmwork.vehicle import first_upper
from ohmwork.workbench import fragments, pieces, words
from ohmwork.workbench.conclusion import Conclusion
from ohmwork.workbench.page import card_bundle, drawn_state, marks_text
from ohmwork.workbench.sound import tone
from ohmwork.workbench.work import Work

LIGHT = {**style.LIGHT, "panel": "#f4f5f3", "well": "#ffffff", "on-accent": "#ffffff",
         "live": "#8f4a00", "ground": "#3350b0", "open": "#515b60"}  # fmt: skip
DARK = {**style.DARK, "panel": "#2a2d2e", "well": "#1b1d1e", "on-accent": "#1b1d1e",
        "live": "#ffb35c", "ground": "#a9bcff", "open": "#b0babd"}  # fmt: skip
"""The colours of the sheet, and those that only the form has."""

RELOADED = (
    "The page was loaded anew. Run this cell again, so that the notebook keeps your "
    "work as well."
)
"""Without that, the job card is in its file, but no longer reaches the outputs."""

_NOT_PLACED = ("not placed", "")
_numbers = itertools.count(1)


class Form:
    """A job's workbench in a notebook.

    Parameters
    ----------
    job : what is worked on.
    """

    def __init__(self, job: Work) -> None:
        self._is_showing = False
        self._card: Any = None
        self._page: object = None
        self._sentence = ""
        """Why there is no reading."""
        self._look = pieces.html("ow-look", _look())
        self.root = pieces.column(name="ow-form")
        self._take_up(job)

    def _take_up(self, job: Work) -> None:
        """Put a job on the form, in place of the one before."""
        before = self.root.children[1:]
        self.job = job
        self.bench = job.bench
        self._sheet = drawing.sheet(self.bench.vehicle)
        self._prefix = f"ow{next(_numbers)}"
        self._build()
        self._attend()
        for widget in before:
            pieces.close(widget)
        self._say(job.message, warning=True)
        self._read()
        self._show()

    def display(self) -> None:
        """Show the form and, as a second output, the job card."""
        display(self.root)
        self._card = display(card_bundle(self.job), raw=True, display_id=True)
        self._page = _page()

    def close(self) -> None:
        """Take the form off the page and out of the kernel."""
        pieces.close(self.root)

    # -- what is there --

    def _build(self) -> None:
        vehicle, exercise = self.bench.vehicle, self.job.exercise
        self.controls = {
            name: pieces.toggles(label, [(first_upper(p), p) for p in part.positions])
            for name, label in vehicle.controls.items()
            if isinstance(part := vehicle[name], Switch)
        }
        self.undo = pieces.button("Undo")
        self.sound = pieces.switch(True)
        self.audio = pieces.speaker(tone(0.0))
        self.status = pieces.html("ow-status")
        self.part = pieces.chooser("Part")
        self.plug = pieces.button("")
        self.sheet = pieces.html("ow-sheet")
        self.meter = pieces.html("ow-meter")
        self.tools = pieces.toggles(
            "Tool",
            [(TOOLS[t], t) for t in exercise.tools],
            [words.TOOL_HELP[t] for t in exercise.tools],
        )
        self.tools.add_class("ow-tool")
        self.leads = {
            letter: pieces.chooser(f"Lead {letter}", [_NOT_PLACED]) for letter in "AB"
        }
        self.lifts = {
            letter: pieces.button("Lift", tooltip=f"Lift lead {letter}")
            for letter in "AB"
        }
        self.hand = pieces.toggles(
            "A click on the drawing moves", [("Lead A", "A"), ("Lead B", "B")]
        )
        self.hand.add_class("ow-hand")
        self._take_in_hand()
        self.sights = pieces.html("ow-sights")
        self.readings = pieces.html("ow-readings")
        self.live = pieces.html("")
        self.note = pieces.button("Note it")
        self.note_here = pieces.button("Note it", "ow-note-here")
        self.hints = pieces.html("")
        self.hint = pieces.button("Show hint")
        self.concluded = pieces.html("")
        self.by_conclusion = pieces.html("")
        self.conclusion = Conclusion(
            vehicle,
            words.kinds_by_site(vehicle, exercise),
            self.bench.conclusion,
            partial(self._do, self._conclude, self.by_conclusion),
        )
        sites = words.in_order(faults.sites(vehicle))
        self.repairs = pieces.chooser(
            "Repair",
            [("choose", ""), *((words.site_label(vehicle, s), s) for s in sites)],
        )
        self.repair = pieces.button("Repair it")
        self.repaired = pieces.html("")
        self.by_repair = pieces.html("")
        self.check = pieces.html("")
        self.hand_in = pieces.button("Hand in", "ow-hand-in")
        self.confirm = pieces.button("Yes, hand in")
        self.go_on = pieces.button("Go on working")
        self.marks = pieces.html("ow-marks")
        self.another = pieces.button("Another fault", "ow-another")
        self.another.layout.display = "none"
        self._arrange()

    def _arrange(self) -> None:
        """Put everything in its place; the order is that of the Tab key."""
        row, column = pieces.row, pieces.column
        self.lead_rows = {
            letter: row(
                self.leads[letter], self.lifts[letter], name=f"ow-lead-{letter.lower()}"
            )
            for letter in "AB"
        }
        self.live_row = row(self.live, self.note, name="ow-live-row")
        self.sure = row(self.confirm, self.go_on)
        self.sure.layout.display = "none"
        act = column(
            row(*self.controls.values(), row(self.undo, self.sound), name="ow-bar"),
            row(self.status, self.part, self.plug, name="ow-caption"),
            self.sheet,
            row(
                row(self.meter, self.note_here, name="ow-display-row"),
                column(
                    *self.lead_rows.values(), self.hand, self.tools, name="ow-tools"
                ),
                name="ow-bench",
            ),
            name="ow-act",
        )
        card = column(
            column(self.sights),
            column(self.readings, self.live_row),
            row(self.hints, self.hint),
            column(self.concluded, self.conclusion.box, self.by_conclusion),
            column(self.repaired, self.repairs, self.repair, self.by_repair),
            column(row(self.check, self.hand_in), self.sure, self.marks, self.another),
            name="ow-card",
        )
        self.root.children = (
            self._look,
            row(
                pieces.html("ow-head", fragments.head(self.job)),
                act,
                card,
                name="ow-frame",
            ),
            self.audio,
        )

    def _attend(self) -> None:
        """Tie each input to what it does on the bench."""
        bench, on_click = self.bench, pieces.on_click
        for name, control in self.controls.items():
            self._on_choice(control, partial(self._set, name))
        self._on_choice(self.tools, self._use)
        for letter, list_ in self.leads.items():
            self._on_choice(list_, partial(self._touch, letter))
            on_click(self.lifts[letter], partial(self._do, partial(bench.lift, letter)))
        self._on_choice(self.part, lambda _: None)
        self._on_choice(self.sound, lambda _: None)
        for button, act in (
            (self.plug, self._pull_or_fit),
            (self.undo, self._undo),
            (self.note, self._note),
            (self.note_here, self._note),
            (self.hint, self.job.show_hint),
            (self.go_on, lambda: None),
            (self.another, self._another),
        ):
            on_click(button, partial(self._do, act))
        on_click(self.repair, partial(self._do, self._repair, self.by_repair))
        on_click(self.hand_in, partial(self._do, self._ask, self.check))
        on_click(self.confirm, partial(self._do, self.job.hand_in, self.check))

    def _on_choice(self, widget: Any, act: Callable[[Any], object]) -> None:
        """Act on what the learner chooses, not on what the form itself shows."""

        def chosen(value: Any) -> None:
            if not self._is_showing:
                self._do(partial(act, value))

        pieces.on_choice(widget, chosen)

    # -- acts --

    def _do(self, act: Callable[[], object], beside: Any = None) -> None:
        """Do one act, take the reading that follows, show everything.

        What the act returns as text is said; where the learner looks elsewhere than at
        the line that is spoken, also `beside` what was pressed.
        """
        before, hookup = len(self.bench.actions), self.bench.hookup
        job = self.job
        self.sure.layout.display = "none"
        self.by_conclusion.value = self.by_repair.value = ""
        try:
            answer = act()
        except (OhmworkError, OSError) as error:
            self._say(str(error), warning=True)
        else:
            self._say(answer if isinstance(answer, str) else "")
        if self.bench.hookup != hookup:
            self._take_in_hand()
        self._read()
        self._show()
        has_changed = self.job is not job or len(self.bench.actions) > before
        if has_changed and self._card is not None:
            self._card.update(card_bundle(self.job), raw=True)
            if _page() is not self._page:
                self._say(RELOADED, warning=True)
        if beside is not None and self.status.value:
            beside.value = self.status.value

    def _say(self, text: str, *, warning: bool = False) -> None:
        """Put a sentence in the one line that is also spoken."""
        look = ' class="ow-warning"' if warning else ""
        self.status.value = f"<p{look}>{escape(text)}</p>" if text else ""

    def _read(self) -> None:
        """Take a reading if the leads are placed and it is not taken yet."""
        bench = self.bench
        if bench.hookup.missing is not None:
            self._sentence = words.no_reading(bench.hookup)
        elif bench.reading is None and not bench.is_handed_in:
            try:
                reading = bench.read()
            except (OhmworkError, OSError) as error:
                self._sentence = str(error)
            else:
                if not self.status.value:
                    self._say(f"{words.leads_spoken(reading)}. {words.told(reading)}")
                if self.sound.value and reading.pitch is not None:
                    self._play(reading.pitch)

    def _play(self, pitch: float) -> None:
        """Sound a tone, also when it is the same as before.

        The page plays only what differs, so a byte is put after the end of the sound.
        """
        sound = tone(round(pitch, 1))
        self.audio.value = sound + b"\0" if self.audio.value == sound else sound

    def _take_in_hand(self) -> None:
        """Let the next click on the drawing place the lead that is still missing."""
        self.hand.value = self.bench.hookup.missing or "A"

    def _undo(self) -> str:
        self.bench.undo()
        return f"Taken back: {words.taken_back(self.bench)}."

    def _note(self) -> str:
        return f"Noted as reading {self.bench.note().number}."

    def _set(self, control: str, position: str) -> str:
        """Set a control, and say what that changes for eye, ear and meter."""
        before = self.bench.sights
        self.bench.set_control(control, position)
        changed = [s for s in self.bench.sights if s not in before or words.is_heard(s)]
        self._read()
        if self.bench.reading is not None:
            changed.append(words.told(self.bench.reading))
        return " ".join(changed) or "You see and hear no change."

    def _use(self, tool: str) -> str:
        """Take a tool, and say so if that has lifted the leads."""
        before = self.bench.hookup
        self.bench.use(tool)
        after = self.bench.hookup
        if (before.lead_a, before.lead_b) == (after.lead_a, after.lead_b):
            return ""
        whose = "meter" if before.tool in METER else TOOLS[before.tool].lower()
        return f"The {whose}'s leads are lifted."

    def _another(self) -> str:
        self._take_up(self.job.another())
        return "Another fault: read what the driver says."

    def _touch(self, letter: str, place: str) -> None:
        if place:
            self.bench.place(letter, place)
        else:
            self.bench.lift(letter)

    def _pull_or_fit(self) -> None:
        name = self.part.value
        if name in self.bench.setup.apart:
            self.bench.plug(name)
        else:
            self.bench.unplug(name)

    def _conclude(self) -> None:
        """Write the conclusion once every row is complete."""
        rows = self.conclusion.rows
        if not words.missing(rows) and rows != self.bench.conclusion:
            self.bench.conclude(rows)

    def _repair(self) -> str:
        if not self.repairs.value:
            return "Still to choose: where to repair."
        self.bench.repair(self.repairs.value)
        return f"Repaired. You see and hear: {' '.join(self.bench.sights)}"

    def _ask(self) -> str:
        """Ask once more, as handing in cannot be taken back."""
        gap = words.missing(self.conclusion.rows)
        if gap:
            return gap
        self.sure.layout.display = None
        return "Hand in? It cannot be taken back."

    # -- what is shown --

    def _show(self) -> None:
        """Show what the bench says; only what has changed travels to the page."""
        self._is_showing = True
        try:
            self._show_act()
            self._show_card()
        finally:
            self._is_showing = False
        if self.bench.is_handed_in:
            self._close_job()

    def _show_act(self) -> None:
        bench, hookup = self.bench, self.bench.hookup
        sentence = words.told(bench.reading) if bench.reading else self._sentence
        self.meter.value = fragments.meter(bench.reading, sentence)
        for name, control in self.controls.items():
            control.value = bench.position(name)
        self.sound.description = f"Sound: {'on' if self.sound.value else 'off'}"
        self.tools.value = hookup.tool
        places = [
            (f"{p} {words.DASH} {self._sheet.place[p].words}", p)
            for p in words.touchable(bench)
        ]
        for letter, at in (("A", hookup.lead_a), ("B", hookup.lead_b)):
            pieces.offer(self.leads[letter], [_NOT_PLACED, *places], at or "")
        one_lead = "none" if hookup.tool in ONE_LEAD else None
        self.lead_rows["B"].layout.display = one_lead
        self.hand.layout.display = one_lead
        self._show_plugs()
        self.sheet.value = drawing.render(
            self._sheet, drawn_state(bench), prefix=self._prefix
        )

    def _show_plugs(self) -> None:
        vehicle, apart = self.bench.vehicle, self.bench.setup.apart
        names = words.in_order(p.name for p in vehicle.parts.values() if p.plugs_in)
        options = [(words.site_label(vehicle, n), n) for n in names]
        chosen = self.part.value or next(iter([*words.in_order(apart), *names]), None)
        pieces.offer(self.part, options, chosen)
        if chosen is not None:
            verb = words.plug_verb(vehicle[chosen], fit=chosen in apart)
            self.plug.description = first_upper(f"{verb} {chosen}")

    def _show_card(self) -> None:
        bench = self.bench
        self.sights.value = fragments.sights(bench.sights, bench.incidents)
        self.readings.value = fragments.readings(bench)
        reading = bench.reading
        noted = any(note.reading is reading for note in bench.notes)
        is_live = reading is not None and not noted
        for widget in (self.live_row, self.note_here):
            widget.layout.visibility = "visible" if is_live else "hidden"
        if reading is not None:
            self.live.value = fragments.reading_row(
                len(bench.notes) + 1, reading, "on the meter now, not noted"
            )
        self.hints.value = fragments.hints(self.job)
        has_hint = self.job.next_hint_price is not None
        self.hint.layout.display = None if has_hint else "none"
        if bench.repaired:
            self.conclusion.lock()
        self.concluded.value = fragments.conclusion(bench)
        self.repaired.value = fragments.repairs(bench)
        gap = words.missing(self.conclusion.rows)
        self.check.value = fragments.check(self.job, gap)
        is_asked = self.sure.layout.display is None
        is_ready = not (gap or is_asked or bench.is_handed_in)
        (self.hand_in.add_class if is_ready else self.hand_in.remove_class)("ow-ready")

    def _close_job(self) -> None:
        """Let nothing more be done, and show what comes of it."""
        for widget in pieces.family(self.root):
            if hasattr(widget, "disabled") and widget is not self.sound:
                widget.disabled = True
        if not self.marks.value:
            self.marks.value = "<p>Marking\N{HORIZONTAL ELLIPSIS}</p>"
            self.marks.value = f"<pre>{escape(marks_text(self.job))}</pre>"
        if self.job.exercise.practice:
            self.another.disabled = False
            self.another.layout.display = None


def _page() -> object:
    """Return what changes whenever a browser has loaded the page anew."""
    return getattr(widgets.Widget, "_control_comm", None)


def _look() -> str:
    """Return the form's colours and rules, and the guard of its keyboard."""
    light, dark = (
        ";".join(f"--ow-{name}:{value}" for name, value in colours.items())
        for colours in (LIGHT, DARK)
    )
    folder = resources.files("ohmwork.workbench")
    rules = (folder / "form.css").read_text(encoding="utf-8")
    guard = (folder / "guard.js").read_text(encoding="utf-8")
    return (
        f'<style onload="{escape(guard)}">.ow-form{{{light}}}'
        f'[data-jp-theme-light="false"] .ow-form{{{dark}}}{rules}</style>'
    )
