"""``ohmwork demo``: the main job from end to end, without a browser.

An invented class gets tickets, each learner another fault. Scripted learners work the
bench; their notebooks are handed in, marked and fed back through nbgrader. The class
folder that is left is an ordinary nbgrader course.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import random
import shutil
import statistics
import time
from collections.abc import Sequence
from pathlib import Path

from ohmwork.errors import NotPossibleError

LESSON = "a20_two_sides"
EXERCISE = "a20_marked_fault"
NAMES = (
    "Ada Brook", "Ben Farrow", "Cleo Marsh", "Dan Holt", "Edie Vale", "Finn Quarry",
    "Gwen Lowe", "Hari Stone", "Isla Croft", "Jon Weir", "Kit Meadow", "Lena Thorn",
)  # fmt: skip
SEED = 20
KNOWS = {"careful": 1.0, "hasty": 0.6, "guessing": 0.2}
"""Kind of learner to how likely they know the answer to a question."""


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Learner:
    """One of the invented class."""

    id: str
    first_name: str
    last_name: str
    kind: str


def invented_class(size: int) -> list[Learner]:
    """Return learners of three kinds in turn, the first dozen with names."""
    from ohmwork_grading.scripted import LEARNERS

    kinds = list(LEARNERS)
    learners = []
    for number in range(size):
        name = NAMES[number] if number < len(NAMES) else f"Learner {number + 1}"
        first, _, last = name.partition(" ")
        short = first.lower() if number < len(NAMES) else f"learner{number + 1:03d}"
        learners.append(
            Learner(id=short, first_name=first, last_name=last, kind=kinds[number % 3])
        )
    return learners


def demo_command(arguments: Sequence[str]) -> int:
    """Run ``ohmwork demo``; returns the exit status.

    Parameters
    ----------
    arguments : words of the command line after ``demo``.
    """
    parser = argparse.ArgumentParser(
        prog="ohmwork demo",
        description="A whole class, from tickets to marks, with scripted learners.",
    )
    parser.add_argument(
        "--out",
        type=Path,
        default=Path("ohmwork-demo"),
        help="new folder for the class",
    )
    parser.add_argument("--learners", type=int, default=len(NAMES), metavar="N")
    options = parser.parse_args(arguments)
    if options.learners < 1:
        raise NotPossibleError("A class has at least 1 learner. Give --learners 12.")
    if options.out.exists() and any(options.out.iterdir()):
        raise NotPossibleError(
            f"{options.out} is not empty. Name a new folder: ohmwork demo --out DIR"
        )
    run(options.out, options.learners)
    return 0


def run(out: Path, size: int) -> None:
    """Run the demo into a folder, saying what it does.

    Parameters
    ----------
    out : new folder for the class.
    size : number of learners.
    """
    print("Ohmwork demo: an invented college class and its lighting board.", flush=True)
    print("Starting nbgrader ...", flush=True)
    from ohmwork_grading import report
    from ohmwork_grading.classroom import create

    learners = invented_class(size)
    classroom = create(out, [LESSON])
    roster = out / "roster.csv"
    rows = [f"{who.id},{who.first_name},{who.last_name}" for who in learners]
    roster.write_text("\n".join(["id,first_name,last_name", *rows]) + "\n", "utf-8")
    classroom.enrol(roster)
    classroom.issue(LESSON, seed=SEED)
    released = classroom.release(LESSON)
    print(f"Tickets for {size} learners, the same files for all.", flush=True)

    desks = out / "desks"
    for number, who in enumerate(learners, 1):
        desk = desks / who.id / LESSON
        shutil.copytree(released, desk)
        _answer(desk, classroom.source(LESSON), who)
        _work(desk, who, number)
        if number % 3 == 0 or number == size:
            print(f"  {number} of {size} learners have handed in", flush=True)
    taken = list(classroom.collect(LESSON, [desks]))
    print(f"{len(taken)} hand-ins taken in. Marking ...", flush=True)

    times: list[float] = []
    last = time.perf_counter()

    def clock(_: object) -> None:
        nonlocal last
        times.append(time.perf_counter() - last)
        last = time.perf_counter()
        if len(times) % 50 == 0:
            print(f"  {len(times)} marked", flush=True)

    classroom.mark(LESSON, clock)
    marks = classroom.marks(LESSON)
    kinds = {who.id: who.kind for who in learners}
    print(f"\n{'learner':<14}{'kind':<11}points of {marks[0].maximum:g}")
    for row in marks:
        print(f"{row.learner:<14}{kinds[row.learner]:<11}{row.score:5.1f}")
    print("The answer in their own words is still to be marked by a person.")
    shown = next(
        w.id for w in learners if w.kind == ("hasty" if size > 1 else "careful")
    )
    print(f"\nFeedback for {shown}, as on the feedback page:\n")
    print(_feedback_of(classroom.folder("autograded", shown, LESSON)))
    print(f"\nMarking took {1e3 * statistics.median(times):.0f} ms a card (median).")

    print("Writing feedback pages ...", flush=True)
    classroom.feedback(LESSON)
    report.write_csv(marks, out / f"{LESSON}_marks.csv")
    report.draw(marks, f"Marks of {LESSON}", out / f"{LESSON}_marks.png")
    page = classroom.folder("feedback", shown, LESSON) / f"{LESSON}.html"
    print(f"\nThe class is in {out.resolve()}, an nbgrader course:")
    print(f"  gradebook   {out / 'gradebook.db'}")
    print(f"  feedback    {page}")
    print(f"  marks       {out / f'{LESSON}_marks.csv'}")
    print(f"  picture     {out / f'{LESSON}_marks.png'}")


def _answer(desk: Path, master: Path, who: Learner) -> None:
    """Let a scripted learner answer the questions, by what their kind knows."""
    from ohmwork.questions import Answer, find_question, write_answer
    from ohmwork_grading.answers import key_in

    draw = random.Random(f"{SEED} {who.id} answers")
    notebook = json.loads((master / f"{LESSON}.ipynb").read_text("utf-8"))
    for key in filter(None, (key_in("".join(c["source"])) for c in notebook["cells"])):
        question = find_question(key.question, master)
        number, choice, reason = key.number, key.choice, key.reason
        if draw.random() > KNOWS[who.kind]:
            number = None if number is None else round(draw.uniform(0.0, 15.0), 1)
            choice = draw.choice(list(question.options) or [""])
            reason = draw.choice(list(question.reasons) or [""])
        answer = Answer(
            question=question.id, number=number, choice=choice, reason=reason
        )
        write_answer(answer, desk)


def _work(desk: Path, who: Learner, number: int) -> None:
    """Let a scripted learner do the job; every fourth hands in a bare notebook."""
    import ohmwork
    from ohmwork.jobcard import MIME
    from ohmwork.questions import ANSWER_MIME, ANSWER_SUFFIX
    from ohmwork_grading.scripted import LEARNERS

    job = ohmwork.start_job(EXERCISE, learner=who.id, folder=desk)
    LEARNERS[who.kind](job, random.Random(f"{SEED} {who.id}"))
    if number % 4:
        return
    path = desk / f"{LESSON}.ipynb"
    notebook = json.loads(path.read_text("utf-8"))
    shown = {f'open_workbench("{EXERCISE}")': (MIME, job.path)}
    for file in desk.glob(f"*{ANSWER_SUFFIX}"):
        question = file.name.removesuffix(ANSWER_SUFFIX)
        shown[f'ohmwork.ask("{question}")'] = (ANSWER_MIME, file)
    for call, (mime, file) in shown.items():
        cell = next(c for c in notebook["cells"] if call in "".join(c["source"]))
        data = {mime: json.loads(file.read_text("utf-8"))}
        output = {"output_type": "display_data", "data": data, "metadata": {}}
        cell["outputs"] = [output]
        file.unlink()
    path.write_text(json.dumps(notebook, indent=1), "utf-8")


def _feedback_of(folder: Path) -> str:
    """Return what the grade cell of a marked notebook says."""
    notebook = json.loads((folder / f"{LESSON}.ipynb").read_text("utf-8"))
    for cell in notebook["cells"]:
        if cell["metadata"].get("nbgrader", {}).get("grade_id") == EXERCISE:
            for output in cell["outputs"]:
                if output["output_type"] == "stream":
                    return "".join(output["text"])
                if output["output_type"] == "error":
                    return str(output["evalue"])
    return ""
