"""What a form shows without being asked: meter, readings, symptoms, as HTML."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from itertools import groupby

from ohmwork.bench import Bench, Incident
from ohmwork.faults import describe_site
from ohmwork.instruments import TOOLS, Reading
from ohmwork.workbench.words import leads_text, proof, setup_text, undone
from ohmwork.workbench.work import Work

_SHAPES = {
    "live": '<path d="M8 2 15 14H1Z" fill="currentColor"/>',
    "ground": '<path d="M1 5H15M4 9H12M6.5 13H9.5" stroke="currentColor" '
    'stroke-width="2"/>',
    "open": '<path d="M8 2 14 8 8 14 2 8Z" fill="none" stroke="currentColor" '
    'stroke-width="2"/>',
}
"""A filled triangle, bars narrowing down, a hollow diamond; in a box of 16."""

_PROVE = "Then prove it: set the controls as the driver did and note a reading."


def verdict(reading: Reading) -> str:
    """Return the voltmeter's word with its shape, or nothing where it has no word."""
    if reading.verdict not in _SHAPES:
        return ""
    return (
        f'<span class="ow-is-{reading.verdict}">'
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
    size = "ow-digits" if reading is None or reading.value is not None else "ow-word"
    return (
        f'<div class="ow-display {size}">{shown}</div>'
        f'<div class="ow-verdict">{verdict(reading) if reading else ""}</div>'
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


def words_of(reading: Reading) -> str:
    """Return what was read, after the tool it was read with."""
    return f"{TOOLS[reading.tool]}: {reading.sentence}"


def readings(bench: Bench) -> str:
    """Return the noted readings, or what to do while there are none."""
    rows = "".join(
        reading_row(
            note.number,
            note.reading,
            f"{words_of(note.reading)} {setup_text(bench.vehicle, note.setup)}",
        )
        for note in bench.notes
    )
    if not rows:
        rows = "<p>No readings noted yet. Choose a tool and touch two places.</p>"
    return f'<h4>Readings</h4><div class="ow-rows">{rows}</div>'


def sights(sentences: Iterable[str], incidents: Iterable[Incident]) -> str:
    """Return what can be seen and heard, and what went amiss."""
    damage = ""
    for text, same in groupby(incident.text for incident in incidents):
        count = len(list(same))
        times = f" \N{MULTIPLICATION SIGN}{count}" if count > 1 else ""
        damage += f'<p class="ow-warning">{escape(text)}{times}.</p>'
    seen = escape(" ".join(sentences))
    return f"<h4>You see and hear</h4><p>{seen}</p>{damage}"


def head(job: Work) -> str:
    """Return what the job is: title, framing and complaint."""
    exercise = job.exercise
    return (
        f'<div class="ow-over"><span>Ticket {escape(job.ticket_number)}</span>'
        f"<span>{exercise.maximum} marks</span></div>"
        f"<h3>{escape(exercise.title)}</h3><p>{escape(exercise.brief)}</p>"
        f"<p>The driver says: \N{LEFT DOUBLE QUOTATION MARK}{escape(job.complaint)}"
        "\N{RIGHT DOUBLE QUOTATION MARK}</p>"
    )


def hints(job: Work) -> str:
    """Return the hints that were shown, and the price of the next."""
    shown = "".join(f"<p>{escape(text)}</p>" for text in job.hints_shown)
    price = job.next_hint_price
    if price is None:
        offer = "There are no more hints." if shown else "There are no hints."
    else:
        number, count = len(job.hints_shown) + 1, len(job.exercise.hints)
        offer = f"Hint {number} of {count} costs {price} marks."
    return f"<h4>Stuck?</h4>{shown}<p>{offer}</p>"


def conclusion(bench: Bench) -> str:
    """Return what stands over the rows of the conclusion."""
    locked = "<p>Locked by the repair.</p>" if bench.repaired else ""
    return f"<h4>Conclusion</h4>{locked}"


def repairs(bench: Bench) -> str:
    """Return what was repaired and what proves it, or what the first repair does."""
    names = ", ".join(describe_site(bench.vehicle, s) for s in bench.repaired)
    number = proof(bench)
    if not names:
        text = f"The first repair locks your conclusion. {_PROVE}"
    elif number is None:
        text = f"Repaired: {names}. {_PROVE}"
    else:
        text = f"Repaired: {names}. Proof: reading {number}."
    return f"<h4>Repair</h4><p>{escape(text)}</p>"


def check(job: Work, gap: str) -> str:
    """Return what stands between the learner and handing in.

    Parameters
    ----------
    job : as it stands.
    gap : what must still be chosen, if anything.
    """
    if job.bench.is_handed_in:
        text = "Handed in. Save the notebook."
    elif gap:
        text = gap
    else:
        practice = job.exercise.practice
        once = "Hand in to see your marks." if practice else "You can hand in once."
        text = f"{once} {undone(job.bench)}"
    return f"<p>{escape(text)}</p>"
