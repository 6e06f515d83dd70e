"""The workbench where no form can be shown, and the job card inside a notebook.

A saved notebook is read without a kernel, by people and by the marking, so its outputs
carry the card as data and the same in words.
"""

from __future__ import annotations

from html import escape
from typing import Any

from ohmwork.faults import describe_site
from ohmwork.jobcard import MIME
from ohmwork.symptoms import describe_state
from ohmwork.vehicle import first_upper
from ohmwork.workbench.desk import Desk
from ohmwork.workbench.words import (
    answer_text,
    leads_text,
    marks_text,
    setup_text,
    words_of,
)
from ohmwork.workbench.work import Work

CALLS = """\
The workbench needs a notebook with widgets. Without it, these calls do the same:
    bench = job.bench
    bench.set_control("<control>", "<position>")
    bench.use("volts")
    bench.place("A", "<part>:<terminal>")
    bench.place("B", "<part>:<terminal>")
    bench.read()
    bench.note()
    bench.conclude([("<part>", "<kind of fault>")])
    bench.repair("<part>")
    job.hand_in()
Names of parts and terminals stand in the wiring diagram. A name that does not exist is
answered with those that do."""

STYLE = """\
<style>
.ow-saved table{margin:0}
.ow-saved p{white-space:pre-line}
.jp-OutputArea-output.jupyter-widgets:not(:has(*)){display:none}
</style>"""
"""The last rule hides the line that stands where a form can no longer be shown."""


def facts(job: Work) -> list[tuple[str, str]]:
    """Return how a job stands, as pairs of heading and text."""
    bench = job.bench
    positions = {name: bench.position(name) for name in bench.vehicle.controls}
    rows = [
        ("The driver says", job.complaint),
        ("Controls", f"{describe_state(bench.vehicle, positions)}."),
        ("You see and hear", " ".join(bench.sights)),
        ("Conclusion", answer_text(bench.vehicle, bench.conclusion)),
    ]
    if bench.repaired:
        names = (describe_site(bench.vehicle, site) for site in bench.repaired)
        rows.append(("Repaired", f"{first_upper(', '.join(names))}."))
    if bench.is_handed_in:
        rows += [("Handed in", "Yes."), ("Marks", marks_text(job))]
    return rows


def as_text(job: Work) -> str:
    """Return how a job stands as plain text."""
    lines = [f"Job card of {job.learner}: {job.exercise.title}"]
    lines += [f"{heading}: {text}" for heading, text in facts(job)]
    lines += [
        f"Reading {note.number}: {leads_text(note.reading)}, {note.reading.text}"
        for note in job.bench.notes
    ] or ["No readings noted yet."]
    return "\n".join(lines)


def as_html(job: Work) -> str:
    """Return how a job stands for a page; it needs no kernel."""
    terms = "".join(
        f"<p><b>{escape(heading)}.</b> {escape(text)}</p>"
        for heading, text in facts(job)
    )
    rows = "".join(
        f"<tr><th>{note.number}</th>"
        f"<td>{escape(setup_text(job.bench.vehicle, note.setup))}</td>"
        f"<td>{escape(leads_text(note.reading))}</td>"
        f"<td>{escape(note.reading.text)}</td><td>{escape(words_of(note.reading))}</td></tr>"
        for note in job.bench.notes
    )
    table = (
        "<table><caption>Noted readings</caption><tr><th>No.</th><th>Set</th>"
        f"<th>Leads</th><th>Reading</th><th>In words</th></tr>{rows}</table>"
        if rows
        else "<p>No readings noted yet.</p>"
    )
    return (
        f'{STYLE}<div class="ow-saved"><h4>Job card of {escape(job.learner)}: '
        f"{escape(job.exercise.title)}</h4>{terms}{table}"
        "<p>This is the work as it was saved. Run the cell to go on with it.</p></div>"
    )


def card_bundle(job: Work) -> dict[str, Any]:
    """Return the job card as a notebook's output: as data, as a page, as text."""
    return {
        MIME: job.card().to_data(),
        "text/html": as_html(job),
        "text/plain": as_text(job),
    }


def show_page(job: Work) -> None:
    """Show how a job stands where no form can be shown."""
    from IPython.core.getipython import get_ipython
    from IPython.display import display

    text = f"{as_text(job)}\n\n{CALLS}"
    if get_ipython() is None:
        display(text)
        return
    picture = Desk(job).sheet()
    bundle = card_bundle(job)
    bundle["text/html"] = f"{picture}{bundle['text/html']}<pre>{escape(CALLS)}</pre>"
    bundle["text/plain"] = text
    display(bundle, raw=True)
