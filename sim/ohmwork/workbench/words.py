"""What the workbench says: places, sites and readings, in plain words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

from ohmwork import faults
from ohmwork.bench import Bench
from ohmwork.errors import OhmworkError
from ohmwork.exercise import Exercise
from ohmwork.faults import KINDS
from ohmwork.instruments import TOOLS, Hookup, Reading
from ohmwork.network import Setup
from ohmwork.parts import Connector, Part, Wire
from ohmwork.symptoms import describe_state
from ohmwork.vehicle import Vehicle, first_upper
from ohmwork.workbench.work import Work

DASH = "\N{EN DASH}"

TOOL_HELP = {
    "volts": "Shows how far lead A is above lead B: the first tool on a live circuit.",
    "ohms": "Measures resistance between A and B, with the supply off.",
    "continuity": "Beeps where A and B are joined, with the supply off.",
    "diode": "Shows which way current can pass from A to B, with the supply off.",
    "amps": "Carries the current from A to B: fit it in place of a fuse or in a gap.",
    "test_lamp": "Lights where A and B can drive a lamp, so it loads the circuit.",
    "feed_supply": "Gives supply to one place through a breaker, to try what follows.",
    "feed_ground": "Gives ground to one place through a breaker, to bridge a poor one.",
    "jumper": "Joins A and B through a fuse, to bridge a gap for a test.",
    "millivolts": "Volts up to 0.6 V, finely: for the drop across a fuse or a joint.",
    "clamp": "Shows the current in a wire without opening it: put it round the wire.",
    "led_lamp": "Lights where A and B differ, and draws next to nothing.",
    "feed_5v": "Gives 5 V from A to B through a small breaker, for sensor circuits.",
    "feed_3v": "Gives 3 V from A to B through a small breaker, for sensor circuits.",
    "load_test": "Draws a heavy current between A and B: for battery posts alone.",
    "look": "Looks at a lamp, a motor, a relay or a pulled fuse, beside measuring.",
}
"""What each tool does and when it serves."""

UNDOABLE = {
    "set_control", "unplug", "plug", "use", "place", "lift", "note", "leave", "fetch",
    "move_loom", "warm_up",
}  # fmt: skip
"""Acts that undo can take back."""


def in_order(names: Iterable[str]) -> list[str]:
    """Return names as people sort them: X4 before X12."""
    return sorted(
        names,
        key=lambda name: [
            (1, int(piece), "") if piece.isdigit() else (0, 0, piece)
            for piece in re.findall(r"\d+|\D+", name)
        ],
    )


def site_label(vehicle: Vehicle, site: str) -> str:
    """Return a site with its name first, such as ``E3 – left dip lamp``."""
    name, _, detail = site.partition(":")
    part = vehicle[name]
    if isinstance(part, Wire):
        start, end = (place.partition(":")[0] for place in (part.start, part.end))
        return f"{name} {DASH} wire {part.code}, {start} to {end}"
    label = part.label or part.kind
    if detail:
        label += f", {'way' if isinstance(part, Connector) else 'contact'} {detail}"
    return f"{site} {DASH} {label}"


def kinds_by_site(vehicle: Vehicle, exercise: Exercise) -> dict[str, tuple[str, ...]]:
    """Return each site with the kinds that may be concluded there, sorted."""
    possible = faults.sites(vehicle)
    allowed = {
        site: tuple(kind for kind in possible[site] if kind in exercise.kinds)
        for site in in_order(possible)
    }
    return {site: kinds for site, kinds in allowed.items() if kinds}


def answer_text(vehicle: Vehicle, answer: Sequence[tuple[str, str]]) -> str:
    """Return a conclusion as a sentence."""
    rows = [
        f"{faults.describe_site(vehicle, site)}: {KINDS[kind]}" for site, kind in answer
    ]
    if not rows:
        return "No conclusion yet."
    text = first_upper(", or ".join(rows))
    return f"{'One of these: ' if len(rows) > 1 else ''}{text}."


def is_heard(sight: str) -> bool:
    """Whether a sentence tells of a sound, which lasts no longer than its act."""
    return sight.endswith((" clicks.", " buzzes."))


def no_reading(hookup: Hookup) -> str:
    """Return why there is no reading while a lead is missing."""
    if hookup.tool == "look":
        return "Put lead A on the lamp, relay or fuse you want to look at."
    return f"No reading. Lead {hookup.missing} is not placed."


def told(reading: Reading) -> str:
    """Return a reading in words, with what to do where it means nothing."""
    if reading.text == "?":
        return f"{reading.sentence} Switch off first, or pull the fuse."
    return reading.sentence


def setup_text(vehicle: Vehicle, setup: Setup) -> str:
    """Return controls and open plugs, such as ``Lights dip; F11 apart.``."""
    apart = f"; {', '.join(in_order(setup.apart))} apart" if setup.apart else ""
    return f"{describe_state(vehicle, setup.controls)}{apart}."


def plug_verb(part: Part, *, fit: bool) -> str:
    """Return what is done to a plug to fit it or to take it apart."""
    if isinstance(part, Connector):
        return "join" if fit else "open"
    return "refit" if fit else "pull"


def taken_back(bench: Bench) -> str:
    """Return which act the undo at the end of the log took back."""
    standing: list[dict[str, Any]] = []
    for act in bench.actions[:-1]:
        if act["do"] == "undo":
            standing.pop()
        elif act["do"] == "repair":
            standing.clear()
        elif act["do"] in UNDOABLE:
            standing.append(act)
    act = standing[-1]
    match act["do"]:
        case "set_control":
            return f"{bench.vehicle.controls[act['part']].lower()} {act['position']}"
        case "use":
            return f"tool {TOOLS[act['tool']].lower()}"
        case "place":
            return f"lead {act['lead']} on {act['place']}"
        case "lift":
            return f"lead {act['lead']} lifted"
        case "note":
            return "the last note"
        case "leave" | "fetch" | "move_loom" | "warm_up":
            return str(act["do"]).replace("_", " ")
        case verb:
            part = act["part"]
            return f"{plug_verb(bench.vehicle[part], fit=verb == 'plug')} {part}"


def proof(job: Work) -> int | None:
    """Return the number of the reading that can prove the last repair, if any."""
    note = job.bench.proof(job.exercise.states)
    return None if note is None else note.number


def undone(job: Work) -> str:
    """Return what could still be done for better marks; empty when nothing."""
    bench, left = job.bench, []
    if not bench.notes:
        left.append("no reading is noted")
    if not bench.repaired:
        left.append("nothing is repaired")
    elif proof(job) is None:
        left.append("no reading proves the repair")
    return f"Not done yet: {', '.join(left)}." if left else ""


def words_of(reading: Reading) -> str:
    """Return what was read, after the tool it was read with."""
    return f"{TOOLS[reading.tool]}: {reading.sentence}"


def leads_text(reading: Reading) -> str:
    """Return where a reading was taken, such as ``E3:31 to G1:-``."""
    if reading.lead_b is None:
        return reading.lead_a
    return f"{reading.lead_a} to {reading.lead_b}"


def marks_text(job: Work) -> str:
    """Return the marks of a job that is handed in, or why they are not here.

    Lines that go on are joined, as a page breaks lines by itself.
    """
    try:
        return re.sub(r"\n +", " ", job.marks().text)
    except OhmworkError as error:
        return str(error)
