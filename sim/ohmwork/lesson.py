"""What a lesson shows beside the workbench: readings that wait, and pictures.

A lesson asks for a prediction first, so what is measured stays folded until the learner
opens it. All of it is plain HTML, which outlives the kernel and needs no widget.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from html import escape

from ohmwork.bench import Bench
from ohmwork.drawing.profile import Way, voltage_profile


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """Something to look at, for a page and as plain text."""

    html: str
    text: str

    def __repr__(self) -> str:
        """Return the plain text, for where there is no page."""
        return self.text

    def _repr_html_(self) -> str:
        return self.html


def readings(bench: Bench, *leads: tuple[str, ...], title: str) -> Shown:
    """Return readings of the tool in use, folded under a title.

    Parameters
    ----------
    bench : in the state to measure in.
    leads : where lead A and lead B go, for each reading; a clamp's wire alone.
    title : what stays visible.
    """
    rows = []
    for places in leads:
        for lead, place in zip("AB", places, strict=False):
            bench.place(lead, place)
        rows.append((*places, bench.read().text))
    head = ("Lead A", "Lead B", "Meter") if len(rows[0]) > 2 else ("Wire", "Meter")
    cells = "".join(
        f"<tr><td>{'</td><td>'.join(map(escape, row))}</td></tr>" for row in rows
    )
    table = f"<table><tr><th>{'</th><th>'.join(head)}</th></tr>{cells}</table>"
    return _folded(title, table, [" | ".join(row) for row in rows])


def sights(bench: Bench, *positions: tuple[str, str], title: str) -> Shown:
    """Return what is seen and heard in positions of a control, folded under a title.

    Parameters
    ----------
    bench : to set and to look at.
    positions : control and position, for each look.
    title : what stays visible.
    """
    lines = []
    for control, position in positions:
        bench.set_control(control, position)
        label = bench.vehicle.controls[control]
        lines.append(f"{label} {position}: {' '.join(bench.sights)}")
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return _folded(title, f"<ul>{items}</ul>", lines)


def along(bench: Bench, places: tuple[str, ...]) -> list[tuple[str, float]]:
    """Return the voltage at each place against battery minus. [V]

    Parameters
    ----------
    bench : with its meter in volts and the circuit switched as wanted.
    places : in the order of the current.
    """
    bench.place("B", bench.vehicle.reference)
    way = []
    for place in places:
        bench.place("A", place)
        volts = bench.read().value
        assert volts is not None, "a meter in volts always shows a number"
        way.append((place, volts))
    return way


def profile(
    measured: Way, compared: Way, *, labels: tuple[str, str], title: str
) -> Shown:
    """Return a plot of the voltage along a circuit, folded under a title.

    For those who cannot see it, it is described by its numbers.

    Parameters
    ----------
    measured, compared : from `along`. [V]
    labels : words for the two.
    title : what stays visible.
    """
    label, other = labels
    figure = voltage_profile(
        measured, compared, measured_label=label, compared_label=other
    )
    buffer = io.BytesIO()
    figure.savefig(buffer, format="svg")
    data = base64.b64encode(buffer.getvalue()).decode()
    lines = [
        f"Voltage along the circuit, {words}: "
        + ", ".join(f"{place} {volts:.2f} V" for place, volts in way)
        for words, way in ((label, measured), (other, compared))
    ]
    picture = f"data:image/svg+xml;base64,{data}"
    image = f'<img src="{picture}" alt="{escape(". ".join(lines))}">'
    return _folded(title, image, lines)


def _folded(title: str, html: str, lines: list[str]) -> Shown:
    return Shown(
        html=(
            f"<details><summary><b>{escape(title)}</b></summary>"
            f'<div style="overflow-x:auto">{html}</div></details>'
        ),
        text="\n".join([title, *lines]),
    )
