"""What the workbench says: places, sites and what is still missing, in plain words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from ohmwork import faults
from ohmwork.bench import Bench
from ohmwork.errors import NotPossibleError
from ohmwork.exercise import Exercise
from ohmwork.faults import KINDS
from ohmwork.instruments import Reading
from ohmwork.parts import Connector, Wire
from ohmwork.vehicle import Vehicle

Row = tuple[str, str]
"""Site and kind of a row of the conclusion, empty where nothing is chosen yet."""

DASH = "\N{EN DASH}"


def in_order(names: Iterable[str]) -> list[str]:
    """Return names as people sort them: X4 before X12."""
    return sorted(
        names,
        key=lambda name: [
            (1, int(piece), "") if piece.isdigit() else (0, 0, piece)
            for piece in re.findall(r"\d+|\D+", name)
        ],
    )


def first_upper(text: str) -> str:
    """Return a sentence's text with its first letter in upper case."""
    return text[:1].upper() + text[1:]


def touchable(bench: Bench) -> list[str]:
    """Return the places that a lead can touch as things stand, sorted."""
    places = []
    for place in in_order(bench.vehicle.reachable):
        try:
            bench.can_touch(place)
        except NotPossibleError:
            continue
        places.append(place)
    return places


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


def missing(rows: Iterable[Row]) -> str:
    """Return what must still be chosen before handing in; empty when nothing."""
    gaps = {
        words
        for site, kind in rows
        for words, gap in (("where", not site), ("what is wrong", not kind))
        if gap
    }
    if not gaps:
        return ""
    return f"Still to choose: {' and '.join(sorted(gaps, reverse=True))}."


def proof(bench: Bench) -> int | None:
    """Return the number of the first reading noted after the last repair, if any."""
    repaired_at = max((a["n"] for a in bench.actions if a["do"] == "repair"), default=0)
    after = (note.number for note in bench.notes if 0 < repaired_at < note.action)
    return next(after, None)


def undone(bench: Bench) -> str:
    """Return what could still be done for better marks; empty when nothing."""
    left = []
    if not bench.notes:
        left.append("no reading is noted")
    if not bench.repaired:
        left.append("nothing is repaired")
    elif proof(bench) is None:
        left.append("no reading is noted after the repair")
    return f"Not done yet: {', '.join(left)}." if left else ""


def leads_text(reading: Reading) -> str:
    """Return where a reading was taken, such as ``E3:31 to G1:-``."""
    if reading.lead_b is None:
        return reading.lead_a
    return f"{reading.lead_a} to {reading.lead_b}"


def leads_spoken(reading: Reading) -> str:
    """Return the same to be read aloud, such as ``A on E3:31, B on G1:-``."""
    second = "" if reading.lead_b is None else f", B on {reading.lead_b}"
    return f"A on {reading.lead_a}{second}"
