"""One job on the lighting board, for the tests of what a learner sees."""

from pathlib import Path

import ohmwork
from ohmwork.exercise import POINTS, Exercise, Hint, PoolEntry
from ohmwork.faults import KINDS, Fault
from ohmwork.job import Job
from ohmwork_grading.tickets import issue_book

FAULT = Fault(kind="high_resistance", site="W23", resistance=1.5)


VAN_FAULT = Fault(kind="open_circuit", site="GP4")


def write_van_book(folder: Path) -> None:
    """Write a ticket book on the whole van: s01 has lost a rear ground point."""
    van = ohmwork.load_vehicle("training_van")
    exercise = Exercise(
        id="x20_fault",
        title="Strange rear lamps",
        brief="The van came in this morning.",
        vehicle=van.name,
        states=(van.states["side lamps"], van.states["brake"]),
        kinds=("open_circuit", "high_resistance"),
        points=POINTS,
        pool=(PoolEntry(kind="open_circuit", site="GP4"),),
    )
    book = issue_book(exercise, van, ("s01",), chosen={"s01": VAN_FAULT}, seed=1)
    (folder / "x20_fault.tickets.json").write_text(book.to_text(), encoding="utf-8")


def write_book(folder: Path, *, practice: bool, fault: Fault = FAULT) -> None:
    """Write a ticket book in which s01 has a fault: a poor left front ground wire."""
    exercise = Exercise(
        id="x20_fault",
        title="Weak left dip beam",
        brief="The van came in this morning.",
        vehicle="lighting_board",
        states=({"S1": "on", "S2": "dip"},),
        kinds=tuple(kind for kind in KINDS if kind != "wrong_lamp"),
        practice=practice,
        points={
            "conclusion": 40,
            "evidence": 30,
            "care": 10,
            "economy": 10,
            "repair": 10,
        },
        hints=(Hint(price=4, text="Compare left and right."),),
        pool=(PoolEntry(kind="high_resistance", site="W23", low=0.5, high=2.0),),
    )
    vehicle = ohmwork.load_vehicle("lighting_board")
    book = issue_book(exercise, vehicle, ("s01",), chosen={"s01": fault}, seed=1)
    (folder / "x20_fault.tickets.json").write_text(book.to_text(), encoding="utf-8")


def start(folder: Path) -> Job:
    """Open the job of s01, or go on with it."""
    return ohmwork.start_job("x20_fault", learner="s01", folder=folder)
