"""Job cards: the published schema, whole at any moment, and every bad one refused."""

import contextlib
import dataclasses
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from ohmwork.bench import Bench
from ohmwork.errors import JobCardError, NotPossibleError
from ohmwork.exercise import Exercise, load_exercise
from ohmwork.faults import Fault, universe
from ohmwork.job import Job
from ohmwork.jobcard import (
    JobCard,
    blank_card,
    card_schema,
    parse_card,
    previous_state,
    read_card,
    write_card,
)
from ohmwork.tickets import Ticket
from ohmwork.vehicle import Vehicle, load_vehicle, read_vehicle
from ohmwork_grading.rubric import mark_card

EXERCISE_TEXT = """\
format: ohmwork exercise 1
id: x20_fault
title: A lamp that is not right
brief: Find it.
vehicle: lighting_board
states: [{S1: "on", S2: dip}]
kinds: [open_circuit, lamp_blown]
pool:
  - {kind: open_circuit, site: W16}
"""
FAULT = Fault(kind="open_circuit", site="W16")


@pytest.fixture(scope="module")
def van() -> Vehicle:
    """Return the healthy lighting board."""
    return load_vehicle("lighting_board")


@pytest.fixture(scope="module")
def exercise(tmp_path_factory: pytest.TempPathFactory) -> Exercise:
    """Return a small exercise on the dip beam."""
    path = tmp_path_factory.mktemp("exercise") / "x20_fault.exercise.yaml"
    path.write_text(EXERCISE_TEXT, encoding="utf-8")
    return load_exercise(path)


@pytest.fixture(scope="module")
def ticket(van: Vehicle, exercise: Exercise) -> Ticket:
    """Return Ada's ticket."""
    return Ticket(id="t1", learner="ada", exercise=exercise, vehicle=van, fault=FAULT)


def do_work(bench: Bench) -> None:
    """Do every kind of act there is."""
    bench.set_control("S1", "on")
    bench.set_control("S2", "dip")
    bench.set_control("S2", "off")
    bench.unplug("X14")
    bench.plug("X14")
    bench.use("volts")
    bench.place("B", "G1:-")
    bench.place("A", "E3:56b")
    bench.read()
    bench.note()
    bench.lift("A")
    bench.undo()
    bench.hint(1)
    bench.conclude([FAULT.answer, ("X12:3", "open_circuit")])
    bench.repair("W16")
    bench.hand_in()


@pytest.fixture(scope="module")
def card(ticket: Ticket) -> JobCard:
    """Return a card that has every kind of act in it."""
    bench = Bench(ticket.vehicle, ticket.fault, driven=ticket.exercise.states)
    do_work(bench)
    return dataclasses.replace(blank_card(ticket), actions=tuple(bench.actions))


# Schema


def test_the_published_schema_is_itself_valid() -> None:
    """The schema is a JSON schema of draft 2020-12."""
    jsonschema.Draft202012Validator.check_schema(card_schema())


def test_the_schema_knows_every_act(card: JobCard) -> None:
    """A card with each kind of act on it fits the schema."""
    jsonschema.Draft202012Validator(card_schema()).validate(card.to_data())

    assert {a["do"] for a in card.actions} == {
        "set_control", "unplug", "plug", "use", "place", "lift", "read", "note",
        "undo", "hint", "conclude", "repair", "hand_in",
    }  # fmt: skip


def test_a_card_comes_back_as_it_was_written(card: JobCard, tmp_path: Path) -> None:
    """Writing and reading changes nothing, and the file is plain JSON."""
    path = tmp_path / "x20_fault.card.json"

    write_card(path, card)

    assert read_card(path) == card
    assert json.loads(path.read_text("utf-8")) == card.to_data()


def test_a_card_fits_the_vehicle_and_model_it_was_made_on(ticket: Ticket) -> None:
    """A blank card carries the digest of the vehicle and its ticket's numbers."""
    blank = blank_card(ticket)

    blank.check_belongs_to(ticket)
    assert (blank.vehicle, blank.actions) == (ticket.vehicle.digest, ())


# Whole at any moment


class CrashError(Exception):
    """The machine stops here."""


@pytest.mark.parametrize("act", [1, 2, 3])
@pytest.mark.parametrize("step", ["replace", "copyfile"])
def test_a_crash_while_writing_loses_one_act_at_most(
    act: int, step: str, ticket: Ticket, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wherever the machine stops, starting again finds that act or the one before."""
    path = tmp_path / "x20_fault.card.json"
    job = Job(ticket, path)
    module = {"replace": os, "copyfile": shutil}[step]
    fatal = {"replace": path, "copyfile": previous_state(path)}[step]
    whole = getattr(module, step)

    def crash(source: Path, target: Path) -> None:
        if len(job.bench.actions) < act or target != fatal:
            whole(source, target)
            return
        if step == "copyfile":
            target.write_bytes(source.read_bytes()[:100])
        raise CrashError

    monkeypatch.setattr(module, step, crash)
    with contextlib.suppress(CrashError):
        drive_to_dip_and_back(job.bench)
    monkeypatch.undo()

    done = len(job.bench.actions)
    again = Job(ticket, path)
    assert len(again.bench.actions) in (done - 1, done)
    assert again.bench.actions == job.bench.actions[: len(again.bench.actions)]
    assert again.message == ""


def drive_to_dip_and_back(bench: Bench) -> None:
    """Set three controls."""
    bench.set_control("S1", "on")
    bench.set_control("S2", "dip")
    bench.set_control("S2", "off")


def test_a_crash_in_the_middle_of_a_file_hurts_nothing(
    card: JobCard, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While a new state is being written, the old one is whole under its name."""
    path = tmp_path / "x20_fault.card.json"
    write_card(path, card)

    def crash(_: int) -> None:
        raise CrashError

    monkeypatch.setattr(os, "fsync", crash)
    with pytest.raises(CrashError):
        write_card(path, dataclasses.replace(card, actions=()))

    assert read_card(path) == card


def test_every_act_is_on_disk_at_once(ticket: Ticket, tmp_path: Path) -> None:
    """After each act the file holds all acts so far."""
    path = tmp_path / "x20_fault.card.json"
    job = Job(ticket, path)
    assert read_card(path).actions == ()

    job.bench.set_control("S1", "on")
    assert len(read_card(path).actions) == 1
    job.bench.set_control("S2", "dip")

    assert read_card(path).actions == tuple(job.bench.actions)


def test_going_on_where_the_work_stopped(ticket: Ticket, tmp_path: Path) -> None:
    """Starting again gives the same bench, and acts go on being numbered."""
    path = tmp_path / "x20_fault.card.json"
    first = Job(ticket, path)
    drive_to_dip_and_back(first.bench)

    second = Job(ticket, path)
    second.bench.set_control("S2", "side")

    assert second.message == ""
    assert [a["n"] for a in second.bench.actions] == [1, 2, 3, 4]
    assert second.bench.sights[-1] == "Right side lamp E6 full."


@pytest.mark.parametrize(
    "damage",
    [
        pytest.param(lambda text: text[: len(text) // 2], id="cut in half"),
        pytest.param(lambda _: "", id="empty"),
        pytest.param(lambda text: text.replace('"do"', '"did"'), id="scribbled in"),
    ],
)
def test_a_damaged_file_gives_an_error_and_the_last_good_state(
    damage: Callable[[str], str], ticket: Ticket, tmp_path: Path
) -> None:
    """The work goes on one act back, says so, and keeps the damaged file."""
    path = tmp_path / "x20_fault.card.json"
    drive_to_dip_and_back(Job(ticket, path).bench)
    broken = damage(path.read_text("utf-8"))
    path.write_text(broken, encoding="utf-8")

    job = Job(ticket, path)

    assert len(job.bench.actions) == 2
    assert job.message.startswith("x20_fault.card.json is ")
    assert job.message.endswith(
        "The work goes on from its last good state, 2 acts; the damaged file is kept "
        "as x20_fault.card.damaged.json."
    )
    kept = tmp_path / "x20_fault.card.damaged.json"
    assert kept.read_text("utf-8") == broken
    assert read_card(path).actions == tuple(job.bench.actions)


def test_a_damaged_file_with_nothing_before_it_is_refused(
    ticket: Ticket, tmp_path: Path
) -> None:
    """Without a last good state the error itself is shown; nothing is overwritten."""
    path = tmp_path / "x20_fault.card.json"
    path.write_text('{"format": "ohmwork job', encoding="utf-8")

    with pytest.raises(JobCardError, match=r"is damaged or cut short: "):
        Job(ticket, path)

    assert path.read_text("utf-8") == '{"format": "ohmwork job'


# Bad input


def changed(card: JobCard, **entries: Any) -> str:
    """Return the text of a card with some entries changed."""
    return json.dumps({**card.to_data(), **entries})


def without(card: JobCard, entry: str) -> str:
    """Return the text of a card that lacks an entry."""
    return json.dumps({k: v for k, v in card.to_data().items() if k != entry})


@pytest.mark.parametrize(
    ("spoil", "text"),
    [
        pytest.param(
            lambda c: changed(c, version=2),
            r"^it is a job card of version 2; this Ohmwork reads version 1\. "
            r"Use the Ohmwork it was made with\.$",
            id="another version",
        ),
        pytest.param(
            lambda c: json.dumps(c.to_data())[:300],
            r"^it is damaged or cut short: ",
            id="cut in half",
        ),
        pytest.param(lambda _: "", r"^it is damaged or cut short: ", id="empty"),
        pytest.param(
            lambda _: "[" * 100_000,
            r"^it is damaged or cut short: ",
            id="nested without end",
        ),
        pytest.param(
            lambda c: changed(c, format="shopping list"),
            r"^it is no valid job card\. At format: 'ohmwork job card' was expected\.$",
            id="another format",
        ),
        pytest.param(
            lambda _: "[1, 2]", r"^it is no valid job card\. At its top level: ",
            id="a list",
        ),
        pytest.param(
            lambda c: without(c, "learner"),
            r"^it is no valid job card\. At its top level: 'learner' is a required",
            id="an entry missing",
        ),
        pytest.param(
            lambda c: changed(c, marks=100),
            r"^it is no valid job card\. At its top level: .*'marks' was unexpected",
            id="an entry too many",
        ),
        pytest.param(
            lambda c: changed(c, actions=[{"n": 1, "do": "bribe"}]),
            r"^it is no valid job card\. At actions/0: ",
            id="an act nobody can do",
        ),
        pytest.param(
            lambda c: changed(c, actions=[{"n": 2, "do": "undo"}]),
            r"^it: act 1 is numbered 2\.$",
            id="an act cut out",
        ),
        pytest.param(
            lambda c: changed(c, actions=[{"n": 1, "do": "undo"}] * 5001),
            r"^it is no valid job card\. At actions: .* is too long\.$",
            id="acts without end",
        ),
    ],
)  # fmt: skip
def test_a_bad_card_is_refused_with_the_reason(
    spoil: Callable[[JobCard], str], text: str, card: JobCard
) -> None:
    """What cannot be read is refused in words that say what is wrong where."""
    with pytest.raises(JobCardError, match=text) as refused:
        parse_card(spoil(card), "it")

    assert len(str(refused.value)) < 1000


def test_a_card_of_50_mb_is_refused_unread(tmp_path: Path) -> None:
    """Size alone tells that this is no job card; its content does not matter."""
    path = tmp_path / "x20_fault.card.json"
    with path.open("wb") as file:
        file.truncate(50_000_000)

    with pytest.raises(
        JobCardError,
        match=r"^x20_fault\.card\.json has 50 MB; a job card has at most 2 MB\. "
        r"It cannot be one\.$",
    ):
        read_card(path)


def test_a_long_days_work_stays_far_below_the_limit(
    ticket: Ticket, card: JobCard, tmp_path: Path
) -> None:
    """The 5,000 acts that a card may hold fit into 2 MB."""
    path = tmp_path / "x20_fault.card.json"
    longest = max(card.actions, key=lambda a: len(json.dumps(a)))
    acts = tuple({**longest, "n": n} for n in range(1, 5001))

    write_card(path, dataclasses.replace(blank_card(ticket), actions=acts))

    assert len(read_card(path).actions) == 5000


def test_the_bench_writes_no_card_that_could_not_be_read(ticket: Ticket) -> None:
    """A conclusion of 21 rows is refused at once, and so is act 5,001."""
    limits = card_schema()["properties"]["actions"]
    (rows,) = (
        act["properties"]["rows"]["maxItems"]
        for act in limits["items"]["oneOf"]
        if "rows" in act["properties"]
    )
    bench = Bench(ticket.vehicle)
    answers = [f.answer for f in universe(ticket.vehicle)[: rows + 1]]
    bench.conclude(answers[:rows])
    with pytest.raises(NotPossibleError, match=r"^21 possibilities; at most 20 may"):
        bench.conclude(answers)
    while len(bench.actions) < limits["maxItems"]:
        bench.hint(1)

    with pytest.raises(NotPossibleError, match=r"^The job card is full: 5000 acts\."):
        bench.hint(1)


def test_a_missing_card_is_said_to_be_missing(tmp_path: Path) -> None:
    """The message tells where a card comes from."""
    with pytest.raises(
        JobCardError, match=r"^There is no job card x20_fault\.card\.json\. It is "
    ):
        read_card(tmp_path / "x20_fault.card.json")


def test_a_card_that_is_no_text_is_damaged(tmp_path: Path) -> None:
    """A picture under a card's name is refused as damaged."""
    path = tmp_path / "x20_fault.card.json"
    path.write_bytes(b"\x89PNG\xff\xfe")

    with pytest.raises(JobCardError, match=r"is damaged: it is not text\.$"):
        read_card(path)


def other_vehicle(van: Vehicle) -> Vehicle:
    """Return the van with another line in its file."""
    return read_vehicle(van.text + "# another\n")


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (
            lambda _: {"learner": "ben"},
            r"^This job card is for learner ada; wanted is ben\. Hand in the card ",
        ),
        (
            lambda t: {"exercise": dataclasses.replace(t.exercise, id="x21_fault")},
            r"^This job card is for exercise x20_fault; wanted is x21_fault\. ",
        ),
        (
            lambda t: {"vehicle": other_vehicle(t.vehicle)},
            r"^This job card is for vehicle file [0-9a-f]{10}; wanted is [0-9a-f]{10}",
        ),
        (
            lambda _: {"id": "t2"},
            r"^This job card is for ticket t1; wanted is t2\. ",
        ),
    ],
    ids=["another learner's", "another exercise", "another vehicle", "another ticket"],
)
def test_a_foreign_card_is_refused(
    change: Callable[[Ticket], dict[str, Any]],
    text: str,
    ticket: Ticket,
    card: JobCard,
) -> None:
    """A card counts for the one ticket it was made on, and says whose it is."""
    wanted = dataclasses.replace(ticket, **change(ticket))

    with pytest.raises(JobCardError, match=text):
        mark_card(card, wanted)


def test_a_card_of_another_model_version_is_refused(
    ticket: Ticket, card: JobCard
) -> None:
    """A change of the model never changes a mark: the card is refused instead."""
    older = dataclasses.replace(card, model=card.model - 1)

    with pytest.raises(
        JobCardError,
        match=rf"is for model version {older.model}; wanted is {card.model}\.",
    ):
        mark_card(older, ticket)


@pytest.mark.parametrize("shown", ["12.60 V", "0.102 V", "", "zero", "0.000 A"])
def test_a_forged_reading_is_refused(shown: str, ticket: Ticket, card: JobCard) -> None:
    """With the lights off there is 0.000 V; a card that shows other is not believed."""
    acts = tuple(
        {**a, "shown": shown} if a["do"] == "read" else a for a in card.actions
    )
    forged = dataclasses.replace(card, actions=acts)

    with pytest.raises(
        JobCardError,
        match=rf"^Act 9 of the job card shows '{shown}'; this vehicle gives "
        r"'0\.000 V'\. The card was not made on this ticket\.$",
    ):
        mark_card(forged, ticket)


def test_an_act_that_is_not_possible_is_refused(ticket: Ticket, card: JobCard) -> None:
    """A pin that does not exist cannot have been touched."""
    acts = tuple(
        {**a, "place": "X12:9"} if a.get("lead") == "A" and "place" in a else a
        for a in card.actions
    )

    with pytest.raises(
        JobCardError,
        match=r"^Act 8 of the job card is not possible here: No place 'X12:9'\.",
    ):
        mark_card(dataclasses.replace(card, actions=acts), ticket)


def test_the_state_before_is_beside_the_card() -> None:
    """It is the card's name with `previous` in it."""
    assert previous_state(Path("a") / "x.card.json") == Path("a/x.card.previous.json")
