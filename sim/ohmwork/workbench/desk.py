"""The workbench without its page: what it shows, as plain data, and what can be done.

The page sends small operations; each goes to the bench, a reading is taken where the
leads are placed, and what is then to be seen goes back. Nothing here needs a notebook.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from itertools import groupby
from typing import Any

from ohmwork import drawing, faults
from ohmwork.bench import HOLDS, Bench
from ohmwork.circuits import circuit_of
from ohmwork.drawing import State
from ohmwork.errors import OhmworkError, unknown_name
from ohmwork.faults import KINDS, describe_site
from ohmwork.instruments import EFFECT_WORDS, ONE_LEAD, TOOLS, Hookup, Reading
from ohmwork.network.lowering import effects_of
from ohmwork.parts import Fuse
from ohmwork.vehicle import Vehicle, first_upper
from ohmwork.workbench import words
from ohmwork.workbench.work import Work


class Desk:
    """A job with what its workbench says.

    Parameters
    ----------
    job : what is worked on.
    """

    def __init__(self, job: Work) -> None:
        self.take_up(job)

    def take_up(self, job: Work) -> None:
        """Put a job on the desk, in place of the one before."""
        self.job = job
        self.bench = job.bench
        self.message = job.message
        self.is_warning = bool(job.message)
        self._circuits = _circuits(self.bench.vehicle)
        self.turned_to = self._first_sheet()
        self._sheets: dict[str, drawing.Sheet] = {}
        self._drawn: tuple[str, State | None] = ("", None)
        self._picture = ""
        """The sheet as drawn last, and in which state: leads do not change it."""
        self._read()

    # -- what can be done --

    def do(self, operation: Mapping[str, Any]) -> None:
        """Do what the page asks for, and take the reading that follows.

        Parameters
        ----------
        operation : ``do`` and what it needs, such as a lead and a place.
        """
        self.message, self.is_warning = "", False
        before = self.bench.reading
        try:
            self.message = self._act(operation)
            self._read()
            reading = self.bench.reading
            if reading is not None and reading is not before:
                self.message = f"{self.message} {words.told(reading)}".lstrip()
        except (OhmworkError, OSError) as error:
            self.message, self.is_warning = str(error), True

    def _act(self, operation: Mapping[str, Any]) -> str:
        """Do one act; return what is to be said of it."""
        bench, do = self.bench, operation["do"]
        match do:
            case "set_control":
                return self._set(operation["part"], operation["position"])
            case "plug":
                return self._pull_or_fit(operation["part"])
            case "use":
                return self._use(operation["tool"])
            case "place":
                lead, place = operation["lead"], operation["place"]
                bench.place(lead, place)
                return f"Lead {lead} on {place}."
            case "lift":
                bench.lift(operation["lead"])
                return f"Lead {operation['lead']} lifted."
            case "read":
                bench.read(operation["number"])
            case "note":
                note = bench.note()
                return f"Reading {note.number} noted."
            case "undo":
                bench.undo()
                return f"Taken back: {words.taken_back(bench)}."
            case "turn":
                if operation["sheet"] not in self._circuits:
                    raise unknown_name("sheet", operation["sheet"], self._circuits)
                self.turned_to = operation["sheet"]
            case "leave" | "fetch" | "hold" | "move_loom" | "warm_up":
                getattr(bench, do)()
                return _DONE[do]
            case "hint":
                self.job.show_hint()
            case "conclude":
                bench.conclude([(site, kind) for site, kind in operation["rows"]])
                return "Conclusion written."
            case "repair":
                bench.repair(operation["site"])
                name = describe_site(bench.vehicle, operation["site"])
                return f"Repaired: {name}. {' '.join(bench.sights)}"
            case "hand_in":
                self.job.hand_in()
            case "another":
                self.take_up(self.job.another())
                return "Another vehicle has come in, with another fault."
            case _:
                raise unknown_name("act", str(do), (*_DONE, "place", "lift", "use"))
        return ""

    def _set(self, control: str, position: str) -> str:
        """Set a control; return what that changes for eye and ear."""
        before = self.bench.sights
        self.bench.set_control(control, position)
        changed = [s for s in self.bench.sights if s not in before or words.is_heard(s)]
        return " ".join(changed) or "You see and hear no change."

    def _use(self, tool: str) -> str:
        """Take a tool; return whose leads that has lifted."""
        before = self.bench.hookup
        self.bench.use(tool)
        after = self.bench.hookup
        if (before.lead_a, before.lead_b) == (after.lead_a, after.lead_b):
            return ""
        is_meter = before.instrument == "meter"
        whose = "meter" if is_meter else TOOLS[before.tool].lower()
        return f"The {whose}'s leads are lifted."

    def _pull_or_fit(self, name: str) -> str:
        part = self.bench.vehicle[name]
        is_apart = name in self.bench.setup.apart
        if is_apart:
            self.bench.plug(name)
        else:
            self.bench.unplug(name)
        verb = words.plug_verb(part, fit=is_apart)
        done = {"join": "joined", "open": "opened", "refit": "refitted"}
        return f"{name} {done.get(verb, 'pulled')}."

    def _read(self) -> None:
        """Take a reading if the leads are placed and it is not taken yet."""
        bench = self.bench
        is_due = bench.reading is None and not bench.is_handed_in
        if is_due and bench.hookup.missing is None:
            bench.read()

    # -- what is shown --

    def sheet(self) -> str:
        """Return the wiring diagram as it now stands, as SVG, without the leads."""
        name = self.turned_to
        if name not in self._sheets:
            self._sheets[name] = drawing.sheet(self._circuits[name])
        bare = dataclasses.replace(drawn_state(self.bench), lead_a=None, lead_b=None)
        if (name, bare) != self._drawn:
            self._drawn = (name, bare)
            self._picture = drawing.render(self._sheets[name], bare)
        return self._picture

    def _first_sheet(self) -> str:
        """Return the sheet that shows most of what the driver speaks of."""
        vehicle, complaint = self.bench.vehicle, self.job.complaint.lower()

        def spoken_of(name: str) -> int:
            loads = vehicle.circuits.get(name, ())
            labels = (vehicle[load.partition(":")[0]].label for load in loads)
            return sum(label.lower() in complaint for label in labels)

        return max(self._circuits, key=spoken_of)

    def fixed(self) -> dict[str, Any]:
        """Return what does not change while the job lasts."""
        job, vehicle = self.job, self.bench.vehicle
        exercise = job.exercise
        kinds = words.kinds_by_site(vehicle, exercise)
        return {
            "ticket": job.ticket_number,
            "marks": exercise.maximum,
            "title": exercise.title,
            "brief": exercise.brief,
            "complaint": job.complaint,
            "controls": [
                {
                    "name": name,
                    "label": label,
                    "positions": list(vehicle.control(name).positions),
                }
                for name, label in vehicle.controls.items()
            ],
            "tools": [
                {
                    "name": tool,
                    "label": TOOLS[tool],
                    "help": words.TOOL_HELP[tool],
                    "isMeter": Hookup(tool=tool).instrument == "meter",
                    "leads": 1 if tool in ONE_LEAD else 2,
                }
                for tool in exercise.tools
            ],
            "plugs": {
                part.name: first_upper(words.plug_verb(part, fit=False))
                for part in vehicle.parts.values()
                if part.plugs_in
            },
            "tops": {
                socket: pin
                for fuse in vehicle.of_type(Fuse)
                if fuse.plugs_in and "millivolts" in exercise.tools
                for socket, pin in zip(fuse.sockets, fuse.pins, strict=True)
            },
            "sites": [
                [site, words.site_label(vehicle, site), [[k, KINDS[k]] for k in found]]
                for site, found in kinds.items()
            ],
            "repairs": [
                [site, words.site_label(vehicle, site)]
                for site in words.in_order(faults.sites(vehicle))
            ],
            "mayMoveLoom": exercise.passing,
            "sheets": list(self._circuits) if len(self._circuits) > 1 else [],
            "places": self._places() if len(self._circuits) > 1 else [],
        }

    def _places(self) -> list[tuple[str, str, list[str]]]:
        """Return each place with what it belongs to and the sheets that show it."""
        sheets: dict[str, list[str]] = {}
        for name, circuit in self._circuits.items():
            for place in circuit.reachable:
                sheets.setdefault(place, []).append(name)
        describe, part_of = self.bench.vehicle.describe, self.bench.vehicle.part_of
        return [
            (place, describe(part_of(place).name), sheets[place])
            for place in words.in_order(sheets)
        ]

    def state(self) -> dict[str, Any]:
        """Return what the page shows now."""
        bench, hookup = self.bench, self.bench.hookup
        reading = bench.reading
        is_noted = any(note.reading is reading for note in bench.notes)
        return {
            "turnedTo": self.turned_to,
            "sheetControls": list(self._circuits[self.turned_to].controls),
            "message": self.message,
            "isWarning": self.is_warning,
            "positions": {n: bench.position(n) for n in bench.vehicle.controls},
            "apart": sorted(bench.setup.apart),
            "tool": hookup.tool,
            "leads": {"A": hookup.lead_a, "B": hookup.lead_b},
            "reading": _shown(reading),
            "readings": sum(act["do"] == "read" for act in bench.actions),
            "sentence": words.told(reading) if reading else words.no_reading(hookup),
            "isNoted": is_noted,
            "canLeave": hookup.missing is None and hookup.tool != "look",
            "holds": hookup.tool in HOLDS,
            "held": bench.held,
            "left": [self._left(k) for k in range(len(bench.left))],
            "sights": self._sights(),
            "working": self._working(),
            "incidents": [
                text if count == 1 else f"{text} \N{MULTIPLICATION SIGN}{count}"
                for text, same in groupby(i.text for i in bench.incidents)
                for count in [len(list(same))]
            ],
            "notes": [
                {
                    "number": note.number,
                    "leads": words.leads_text(note.reading),
                    "text": note.reading.text,
                    "remark": f"{words.words_of(note.reading)} "
                    f"{words.setup_text(bench.vehicle, note.setup)}",
                }
                for note in bench.notes
            ],
            "hints": self._hints(),
            "conclusion": [list(row) for row in bench.conclusion],
            "isLocked": bool(bench.repaired),
            "repaired": [describe_site(bench.vehicle, s) for s in bench.repaired],
            "proof": words.proof(self.job),
            "undone": words.undone(self.job),
            "isHandedIn": bench.is_handed_in,
            "isPractice": self.job.exercise.practice,
            "marksText": words.marks_text(self.job) if bench.is_handed_in else "",
        }

    def _working(self) -> dict[str, dict[str, Any]]:
        """Return how each part but lamps works that does anything; those are drawn."""
        now, outputs = self.bench.perceived(), self.bench.outputs()
        return {
            effect.name: {"what": effect.what, "share": outputs[effect.name]}
            for part in self.bench.vehicle.parts.values()
            for effect in effects_of(part)
            if effect.what in ("turn", "crank", "heat", "sound", "pull")
            and now[effect.name] not in AT_REST
        }

    def _sights(self) -> list[str]:
        """Return what is seen of this sheet, what else works, and what is heard."""
        now, seen = self.bench.perceived(), self.bench.seen()
        near = self._circuits[self.turned_to].parts
        told = [
            sentence
            for name, sentence in seen.items()
            if name.partition(":")[0] in near or now[name] not in AT_REST
        ]
        if len(told) < len(seen):
            told.append("All else is off or at rest.")
        return [*told, *self.bench.heard]

    def _left(self, number: int) -> dict[str, str]:
        """Return what a tool that was left connected is, and where."""
        hookup = self.bench.left[number]
        places = hookup.lead_a or ""
        if hookup.lead_b is not None:
            places += f" to {hookup.lead_b}"
        return {"label": TOOLS[hookup.tool], "places": places}

    def _hints(self) -> dict[str, Any]:
        job = self.job
        return {
            "shown": list(job.hints_shown),
            "price": job.next_hint_price,
            "count": len(job.exercise.hints),
        }


AT_REST = frozenset({"parked"}).union(
    words_[0][1] for what, words_ in EFFECT_WORDS.items() if what != "park"
)
"""Words for parts that do nothing."""

ONE_SHEET = 80
"""Most parts that are drawn on one sheet; a larger vehicle has one for each circuit."""


def _circuits(vehicle: Vehicle) -> dict[str, Vehicle]:
    """Return what each sheet shows, by its name."""
    if len(vehicle.parts) <= ONE_SHEET or not vehicle.circuits:
        return {vehicle.title: vehicle}
    return {name: circuit_of(vehicle, name) for name in vehicle.circuits}


_DONE = {
    "leave": "Left connected. Take another tool.",
    "fetch": "All tools fetched.",
    "hold": "Lowest and highest value: changed.",
    "move_loom": "You moved the loom.",
    "warm_up": "The vehicle is warm.",
}


def _shown(reading: Reading | None) -> dict[str, Any] | None:
    """Return a reading as the display shows it."""
    if reading is None:
        return None
    number, _, unit = reading.text.rpartition(" ")
    is_number = reading.value is not None
    return {
        "digits": number if is_number else reading.text,
        "unit": unit if is_number else "",
        "verdict": reading.verdict,
        "pitch": reading.pitch,
        "leads": words.leads_text(reading),
        "text": reading.text,
    }


def drawn_state(bench: Bench) -> State:
    """Return what the wiring diagram may show of a bench."""
    return State(
        brightness=bench.outputs(),
        positions={name: bench.position(name) for name in bench.vehicle.controls},
        apart=bench.setup.apart,
        blown=bench.seen_blown,
        lead_a=bench.hookup.lead_a,
        lead_b=bench.hookup.lead_b,
    )
