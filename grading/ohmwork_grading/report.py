"""The marks of a class: a table for the office and a picture for the eye."""

from __future__ import annotations

import csv
import statistics
from collections.abc import Sequence
from pathlib import Path

from ohmwork_grading.classroom import LearnerMarks

INK, SECOND_INK, HAIRLINE, ACCENT = "#1d2427", "#515b60", "#d5dad9", "#0b656d"
NAMED = 40  # with more learners than this, names under the points would overlap


def write_csv(marks: Sequence[LearnerMarks], path: Path) -> None:
    """Write one row for each learner of the roster, handed in or not.

    Points are the gradebook's, to hundredths; a cell is empty while it waits to be
    marked by hand, and where nothing was handed in. What a fault's points are made of
    stands before the sum, and is counted in it once, by the fault's own cell.
    """
    cells = sorted({cell for learner in marks for cell in learner.cells})
    parts = dict.fromkeys(part for learner in marks for part in learner.parts)
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        table = csv.writer(file)
        table.writerow(
            [
                *("learner", "last_name", "first_name"),
                *("handed_in_utc", "hours_late", "status"),
                *cells,
                *parts,
                *("late_penalty", "score", "maximum"),
            ]
        )
        for row in marks:
            table.writerow(
                [
                    *(row.learner, row.last_name, row.first_name),
                    *(row.handed_in or "", _shown(row.hours_late), row.status),
                    *(_shown(row.cells.get(cell)) for cell in cells),
                    *(_shown(row.parts[part]) for part in parts),
                    *map(_shown, (row.penalty, row.score, row.maximum)),
                ]
            )


def draw(marks: Sequence[LearnerMarks], title: str, path: Path) -> None:
    """Draw each learner's score, best first, with the median of those who handed in.

    Parameters
    ----------
    marks : the class, of at least one learner.
    title : what the marks are for.
    path : file to write, in the format of its suffix.
    """
    from matplotlib.figure import Figure  # late: importing it takes half a second
    from matplotlib.patheffects import withStroke
    from matplotlib.ticker import MaxNLocator

    rows = sorted(
        (row for row in marks if row.handed_in is not None),
        key=lambda row: (-row.score, row.learner),
    )
    scores = [row.score for row in rows]
    maximum = max(row.maximum for row in marks)
    named = len(rows) <= NAMED
    figure = Figure(figsize=(9.0, 4.5), layout="constrained")
    axes = figure.add_subplot()
    axes.set_title(title, loc="left", color=INK, fontsize=13, fontweight="bold")
    if scores:
        median = statistics.median(scores)
        axes.axhline(median, color=SECOND_INK, linewidth=1.2, linestyle=(0, (5, 4)))
        axes.annotate(
            f"half of them have {median:.0f} or more",
            (1.0, median),
            (0, 4),
            xycoords=("axes fraction", "data"),
            textcoords="offset points",
            ha="right",
            color=SECOND_INK,
            fontsize=9,
        )
    if named:
        axes.plot(
            scores,
            "o",
            color=ACCENT,
            markerfacecolor="white",
            markeredgewidth=2.4,
            clip_on=False,
        )
        for place, score in enumerate(scores):
            label = axes.annotate(
                f"{score:.0f}",
                (place, score),
                (0, 9),
                textcoords="offset points",
                ha="center",
                color=INK,
                fontsize=9,
            )
            label.set_path_effects([withStroke(linewidth=4, foreground="white")])
    else:
        axes.plot(scores, color=ACCENT, linewidth=2.4)
    absent = len(marks) - len(rows)
    axes.set_xlabel(
        f"{len(rows)} learner{'' if len(rows) == 1 else 's'}, best first"
        + (f"; {absent} handed in nothing" if absent else ""),
        color=INK,
        loc="left",
    )
    axes.set_xticks(
        range(len(rows)) if named else [],
        [row.learner for row in rows] if named else [],
        rotation=90 if len(rows) > 15 else 0,
    )
    round_ones = MaxNLocator(4).tick_values(0.0, maximum)
    ticks = [*(tick for tick in round_ones if tick < 0.9 * maximum), maximum]
    labels = [f"{tick:g}" for tick in ticks]
    axes.set_yticks(ticks, [*labels[:-1], f"{labels[-1]} points"])
    axes.set_ylim(0, maximum * 1.08 or 1.0)
    axes.grid(axis="y", color=HAIRLINE, linewidth=0.8)
    axes.set_axisbelow(True)
    axes.tick_params(length=0, colors=INK)
    for side in axes.spines.values():
        side.set_visible(False)
    figure.savefig(path, dpi=150)


def _shown(points: float | None) -> str:
    return "" if points is None else f"{points:.2f}".rstrip("0").rstrip(".")
