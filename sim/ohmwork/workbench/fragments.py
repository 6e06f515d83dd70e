"""What a form shows without being asked: meter, readings, symptoms, as HTML."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from ohmwork.bench import Incident, Note
from ohmwork.instruments import Reading
from ohmwork.workbench.words import leads_text

_SHAPES = {
    "live": '<path d="M8 2 15 14H1Z" fill="currentColor"/>',
    "ground": '<path d="M1 5H15M4 9H12M6.500 13H9.500" stroke="currentColor" '
    'stroke-width="2"/>',
    "open": '<path d="M8 2 14 8 8 14 2 8Z" fill="none" stroke="currentColor" '
    'stroke-width="2"/>',
}
"""A filled triangle, bars narrowing down, a hollow diamond; in a box of 16."""


def verdict(reading: Reading) -> str:
    """Return the voltmeter's word with its shape, or nothing where it has no word."""
    if reading.verdict not in _SHAPES:
        return ""
    return (
        f'<span class="ow-verdict ow-is-{reading.verdict}">'
        f'<svg viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">'
        f"{_SHAPES[reading.verdict]}</svg>{reading.verdict.upper()}</span>"
    )


def meter(reading: Reading | None, sentence: str) -> str:
    """Return the display with the sentence under it.

    Parameters
    ----------
    reading : what is displayed, if anything.
    sentence : the same in words, or why there is nothing to display.
    """
    if reading is None:
        shown = "--"
    elif reading.value is None:
        shown = escape(reading.text)
    else:
        number, _, unit = reading.text.rpartition(" ")
        shown = f'{escape(number)}<span class="ow-unit">{escape(unit)}</span>'
    words = verdict(reading) if reading else ""
    return (
        f'<div class="ow-display"><span class="ow-digits">{shown}</span>{words}</div>'
        f'<div class="ow-sentence">{escape(sentence)}</div>'
    )


def reading_row(number: int, reading: Reading, remark: str) -> str:
    """Return one line of the list of readings."""
    return (
        f'<div class="ow-row"><span class="ow-number">{number}</span>'
        f"<span>{escape(leads_text(reading))}</span>"
        f'<span class="ow-value">{escape(reading.text)}</span>'
        f'<span class="ow-remark">{escape(remark)}</span></div>'
    )


def readings(notes: Sequence[Note]) -> str:
    """Return the noted readings, or what to do while there are none."""
    rows = "".join(
        reading_row(note.number, note.reading, note.reading.sentence) for note in notes
    )
    return (
        f'<div class="ow-rows">{rows}</div>'
        if rows
        else "<p>No readings noted. Choose a tool and touch two places.</p>"
    )


def sights(sentences: Iterable[str], incidents: Iterable[Incident]) -> str:
    """Return what can be seen and heard, and what went amiss."""
    damage = "".join(
        f'<p class="ow-warning">{escape(incident.text)}.</p>' for incident in incidents
    )
    return f"<p>{escape(' '.join(sentences))}</p>{damage}"


def section(title: str, body: str = "") -> str:
    """Return a heading of the job card with what follows it."""
    return f"<h4>{escape(title)}</h4>{body}"
