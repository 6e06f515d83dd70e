"""A class folder: taking in, what is missing, marks and their report."""

import csv
import dataclasses
import datetime
import json
import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from ohmwork.cli import main
from ohmwork.errors import OhmworkError, UnknownNameError
from ohmwork.exercise import POINTS
from ohmwork.vehicle import load_vehicle
from ohmwork_grading import commands, report
from ohmwork_grading.classroom import CONFIG_FILE, Classroom, ClassroomError, create
from ohmwork_grading.commands import ClassCommandError
from small_class import (
    EXERCISE,
    LEARNERS,
    LESSON,
    hand_in,
    job_cards,
    make_class,
    make_master,
    nbgrader,
    scores,
    send,
)

NOTEBOOK, CARD = f"{LESSON}.ipynb", f"{EXERCISE}.card.json"


@pytest.fixture(scope="module")
def released(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A class to which the lesson has been released."""
    return make_class(tmp_path_factory.mktemp("class")).root


@pytest.fixture
def root(released: Path, tmp_path: Path) -> Path:
    """A copy of it for one test."""
    return shutil.copytree(released, tmp_path / "class")


def submitted(root: Path, learner: str) -> Path:
    """Folder of what this learner handed in."""
    return root / "submitted" / learner / LESSON


def taken(root: Path, *paths: Path, learner: str | None = None) -> list[str]:
    """Take these in; whose each was and what became of it."""
    found = Classroom(root).collect(LESSON, paths, learner)
    return [f"{hand_in.learner} {hand_in.state}" for hand_in in found]


# Tickets


def key(root: Path) -> dict[str, str]:
    """Fault by learner."""
    return {
        ticket.learner: ticket.fault.name(ticket.vehicle)
        for ticket in Classroom(root).key(LESSON)
    }


def test_a_ticket_that_was_issued_stays(root: Path) -> None:
    """Who joins late gets one; the others keep theirs, unless all is drawn anew."""
    before = key(root)
    assert len(set(before.values())) == len(LEARNERS)  # the pool has three
    (root / "late.csv").write_text("id\ns04\n", encoding="utf-8")
    classroom = Classroom(root)
    classroom.enrol(root / "late.csv")
    (new,) = classroom.issue(LESSON).values()
    after = key(root)
    assert new == ("s04",)
    assert {who: after[who] for who in LEARNERS} == before
    assert after.keys() == {*LEARNERS, "s04"}
    (new,) = classroom.issue(LESSON, again=True).values()
    assert new == (*LEARNERS, "s04")


def test_a_fault_may_be_chosen_for_one_learner(root: Path) -> None:
    """In place of the ticket that was drawn; nobody else's changes."""
    before = key(root)
    words = ["issue", "--course", str(root), "--yes", "--fault"]
    for fault, message in (
        ("s02 high_resistance W17", "needs a resistance"),
        ("s02 rust W17", "Kinds are open_circuit"),
        ("s02 open_circuit W99", "no open_circuit at 'W99'. Choose one of S1:30-15, "),
        ("s09 open_circuit W17", "No learner 's09'"),
        ("s09 high_resistance W17 3.2V", "No learner 's09'"),
        ("s02 high_resistance W99 3.2V", "no high_resistance at 'W99'"),
        ("s02 fuse_blown W17", "Choose one of F1, F10, F11, F12. What each is"),
        ("s02 high_resistance W17 3.2V", "not in Ω"),
        ("s02 high_resistance W17 -1Ω", "may be 0.2 to 200 Ω, not -1Ω"),
        ("s02 wrong_lamp E3", "Choose one of its kinds: open_circuit"),
        ("s02 high_resistance W20 0.2Ω", "notice nothing .* a higher resistance or"),
    ):
        with pytest.raises(OhmworkError, match=message):
            commands.class_command([*words, *fault.split()])
    for resistance in ("3.2Ω", "3.2 Ω", "3.2ohm", "3.2"):
        chosen = ["s02", "high_resistance", "W17", *resistance.split()]
        assert commands.class_command([*words, *chosen]) == 0
        assert key(root).pop("s02").endswith("high resistance, 3.2 Ω")
    assert {**key(root), "s02": before["s02"]} == before


def test_no_work_is_lost_by_a_new_ticket_unasked(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One handed in and was marked, one handed in since; one has the copy only."""
    right, wrong = job_cards(root)
    hand_in(root, {"s01": right})
    Classroom(root).mark(LESSON)
    hand_in_late = send(root, "s02", wrong, root / "late")
    taken(root, hand_in_late)
    before = key(root)
    words = ["issue", "--course", str(root)]
    choice = ["--fault", "s02", "open_circuit", "W17"]
    for more, who in (
        (choice, r"s02 \(handed in\)"),
        (["--again"], r"s01 \(marked\), s02 \(handed in\), s03 \(released\)"),
    ):
        message = f"marked any more: {who}. No ticket was changed. .* add --yes"
        with pytest.raises(ClassCommandError, match=message):
            commands.class_command([*words, *more])
    assert key(root) == before
    capsys.readouterr()
    commands.class_command([*words, *choice, "--yes"])
    said = capsys.readouterr().out
    assert "1 new ticket in" in said
    assert "another fault now: s02 (handed in)." in said
    commands.class_command([*words, "--again", "--yes"])
    assert "3 new tickets in" in capsys.readouterr().out


def test_who_has_nothing_to_lose_is_not_asked_about(tmp_path: Path) -> None:
    """Before the release nobody can have begun, and a late joiner has no ticket."""
    classroom = create(tmp_path / "class", lessons=[])
    make_master(classroom.source(LESSON))
    roster = tmp_path / "roster.csv"
    roster.write_text("id\ns01\n", encoding="utf-8")
    words = ["issue", "--course", str(classroom.root)]
    choice = ["--fault", "s01", "open_circuit", "W17"]
    assert commands.class_command([*words, "--roster", str(roster)]) == 0
    assert commands.class_command([*words, *choice]) == 0
    assert commands.class_command([*words, "--again"]) == 0
    classroom.release(LESSON)
    roster.write_text("id\ns02\n", encoding="utf-8")
    choice[1] = "s02"
    assert commands.class_command([*words, "--roster", str(roster), *choice]) == 0


def test_each_lesson_shows_a_fault_that_may_be_chosen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A board, a circuit of the van, one of the truck: the words do as they say."""
    classroom = create(tmp_path / "class", ["a20", "b50", "c10"])
    (tmp_path / "roster.csv").write_text("id\ns01\n", encoding="utf-8")
    classroom.enrol(tmp_path / "roster.csv")
    monkeypatch.chdir(classroom.root)
    for lesson in classroom.lessons:
        with pytest.raises(ClassCommandError) as error:
            commands.class_command(["issue", "--lesson", lesson, "--fault"])
        _, example, kinds, sites = str(error.value).replace("As in: ", "\n").split("\n")
        chosen = example.removesuffix(".").split()
        assert commands.class_command(["issue", "--lesson", lesson, *chosen]) == 0
        assert chosen[2] in kinds.removeprefix("Kinds are ").removesuffix(".").split(
            ", "
        )
        assert main(shlex.split(sites.removeprefix("Sites: ohmwork "))) == 0


def test_sites_of_ones_own_vehicle_are_listed_by_its_file(
    root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The command names the file, not the vehicle of Ohmwork's that it goes before."""
    text = load_vehicle("lighting_board").text.replace("W17", "W177")
    (root / "source" / LESSON / "lighting_board.yaml").write_text(text, "utf-8")
    monkeypatch.chdir(root)
    exercise = root / "source" / LESSON / f"{EXERCISE}.exercise.yaml"
    exercise.write_text(exercise.read_text("utf-8").replace("W17", "W177"), "utf-8")
    with pytest.raises(ClassCommandError, match="--fault s01 high_resistance") as error:
        commands.class_command(["issue", "--fault"])
    command = str(error.value).partition("Sites: ohmwork ")[2]
    assert main(shlex.split(command)) == 0
    assert "W177: open_circuit" in capsys.readouterr().out


def test_the_key_names_learner_and_ticket(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The ticket's number is the one that the job shows and the card bears."""
    card, _ = job_cards(root)
    commands.class_command(["key", "--course", str(root)])
    (line,) = (line for line in capsys.readouterr().out.splitlines() if " s01 " in line)
    assert "s01  First s01 Last" in line
    assert line.endswith(f"(ticket {card['ticket']})")


def test_without_learners_or_tickets_nothing_goes_out(tmp_path: Path) -> None:
    """No empty book, no copy without tickets, no picture of nobody."""
    classroom = create(tmp_path / "class", lessons=[])
    make_master(classroom.source(LESSON))
    for act in (classroom.release, classroom.key):
        with pytest.raises(ClassroomError, match="Nobody has a ticket"):
            act(LESSON)
    with pytest.raises(ClassroomError, match="roster is empty"):
        classroom.issue(LESSON)
    nbgrader(classroom.root, "generate_assignment", LESSON)
    with pytest.raises(ClassroomError, match="roster is empty"):
        commands.class_command(["export", "--course", str(classroom.root)])
    assert not list(classroom.root.glob("*.png"))


# The roster


def test_what_is_wrong_with_a_roster_is_said(root: Path, tmp_path: Path) -> None:
    """The file, the line, what is allowed; and nobody is entered."""
    roster = tmp_path / "roster.csv"
    with pytest.raises(ClassroomError, match=r"roster\.csv: No such file"):
        Classroom(root).enrol(roster)
    for text, message in (
        ("", "is empty. Begin it with the line id,first_name"),
        ("id,first_name\n", "names nobody"),
        ("id,frist_name\ns04,Fourth\n", "column 'frist_name'. Allowed are id, first"),
        ("first_name\nFourth\n", "no column 'id'"),
        ("id\ns04\ns05\ns04\n", "line 4: id 's04' is there twice"),
        ("id,first_name\ns04,Fourth,Last\n", "line 2: more entries than"),
        ("id,first_name\ns04,Fourth\n../s05,Fifth\n", r"line 3: id '\.\./s05'"),
        ("id,first_name\ns04,Zo\xeb\n", "save it as CSV UTF-8"),
    ):
        roster.write_bytes(text.encode("latin-1"))
        with pytest.raises(ClassroomError, match=message):
            Classroom(root).enrol(roster)
    assert Classroom(root).roster() == list(LEARNERS)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_spreadsheet_may_separate_as_it_likes(root: Path, delimiter: str) -> None:
    """Comma, semicolon or tab; the byte order mark and spare columns do no harm."""
    rows = (("ID", "Last_name", "first_name", ""), ("s04", "Last", "Zo\u00eb", ""))
    text = "\r\n".join(map(delimiter.join, rows))
    (root / "roster.csv").write_text(text, encoding="utf-8-sig")
    assert Classroom(root).enrol(root / "roster.csv") == ["s04"]
    assert Classroom(root).names()["s04"] == "Zo\u00eb Last"


def test_who_is_not_on_the_roster_is_mentioned(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """And the command that is named takes them out of nbgrader's gradebook."""
    (root / "new.csv").write_text("id\ns01\ns02\n", encoding="utf-8")
    commands.class_command(
        ["issue", "--course", str(root), "--roster", str(root / "new.csv")]
    )
    said = capsys.readouterr().out
    assert "2 learners of" in said
    assert "not in new.csv: s03. " in said
    (command,) = (line for line in said.splitlines() if "nbgrader db" in line)
    nbgrader(root, *command.partition("nbgrader ")[2].split())
    assert Classroom(root).roster() == ["s01", "s02"]


# Taking in


def test_a_single_notebook_brings_its_job_card(root: Path) -> None:
    """The card in the outputs becomes the file that is marked."""
    right, _ = job_cards(root)
    assert taken(root, send(root, "s01", right, root / "inbox")) == ["s01 taken"]
    card = submitted(root, "s01") / CARD
    assert json.loads(card.read_text(encoding="utf-8")) == right
    assert (submitted(root, "s01") / NOTEBOOK).exists()


def test_the_time_of_hand_in_is_the_files_last_change(root: Path) -> None:
    """1 767 268 800 seconds after the epoch is noon of 1 January 2026 in UTC."""
    notebook = send(root, "s01", None, root / "inbox")
    os.utime(notebook, (1_767_268_800, 1_767_268_800))
    taken(root, notebook)
    stamp = (submitted(root, "s01") / "timestamp.txt").read_text(encoding="utf-8")
    assert stamp == "2026-01-01 12:00:00 UTC\n"


def test_every_usual_shape_of_hand_in_is_found(root: Path) -> None:
    """A learner's folder, a copy of the whole course, and a file, in one inbox."""
    right, wrong = job_cards(root)
    inbox = root / "inbox"
    send(root, "s01", right, inbox)
    flat, nested = inbox / "s02 Second", inbox / "unpacked" / "s03" / LESSON
    flat.mkdir()
    (flat / CARD).write_text(json.dumps(wrong), encoding="utf-8")
    shutil.copy(root / "release" / LESSON / NOTEBOOK, flat)
    nested.mkdir(parents=True)
    shutil.copy(root / "release" / LESSON / NOTEBOOK, nested)
    assert sorted(taken(root, inbox)) == ["s01 taken", "s02 taken", "s03 taken"]
    assert (submitted(root, "s02") / CARD).exists()


def test_the_card_tells_whose_a_nameless_file_is(root: Path) -> None:
    """And a file that nothing tells the owner of is refused, not guessed."""
    right, _ = job_cards(root)
    nameless = send(root, "s01", right, root / "inbox").rename(root / "download.ipynb")
    assert taken(root, nameless) == ["s01 taken"]
    blank = send(root, "s02", None, root / "inbox").rename(root / "other.ipynb")
    assert taken(root, blank) == [" refused"]
    assert taken(root, blank, learner="s02") == ["s02 taken"]


def notes(root: Path, *paths: Path) -> list[str]:
    """Take these in; state and note of each."""
    found = Classroom(root).collect(LESSON, paths)
    return [f"{hand_in.state}: {hand_in.note}" for hand_in in found]


def test_what_cannot_be_used_is_refused_and_the_rest_taken(root: Path) -> None:
    """An empty folder, one with nothing of ours, a packed file."""
    inbox = root / "inbox"
    send(root, "s01", None, inbox)
    (inbox / "s02" / LESSON).mkdir(parents=True)
    (inbox / "s03" / LESSON).mkdir(parents=True)
    (inbox / "s03" / LESSON / "thoughts.txt").write_text("none", encoding="utf-8")
    (inbox / "s03 again").mkdir()
    (inbox / "s03.zip").write_bytes(b"PK")
    assert notes(root, inbox) == [
        "taken: no job card in it",
        "refused: empty folder",
        "refused: no notebook and no job card in it",
        "refused: empty folder",
        "refused: a packed file: unpack it first",
    ]


def test_the_classs_own_copies_are_no_hand_ins(root: Path) -> None:
    """Neither from above, nor the folder itself, nor from within it."""
    hand_in(root, {"s01": None})
    Classroom(root).mark(LESSON)
    within = root / "autograded" / "s01"
    for path in (root.parent, root, root / "release", root / "submitted", within):
        with pytest.raises(ClassroomError, match="is the class's own, no hand-in"):
            taken(root, path)
    assert taken(root, root / "inbox") == ["s01 unchanged"]


def test_what_is_amiss_with_a_card_is_said_when_it_is_taken(root: Path) -> None:
    """Cut short, or a neighbour's: taken, and noted."""
    right, _ = job_cards(root)
    inbox = root / "inbox"
    send(root, "s02", right, inbox)
    cut = inbox / f"s03_{CARD}"
    cut.write_text(json.dumps(right)[:100], encoding="utf-8")
    neighbours, damaged = notes(root, inbox)
    assert neighbours == "taken: its job card says s01"
    assert damaged.startswith(f"taken: {CARD} is damaged or cut short")


def test_a_name_but_for_its_capitals_is_asked_about(root: Path) -> None:
    """An id is what folders are named by, so it is not guessed."""
    folder = root / "inbox" / "S02 Second"
    folder.mkdir(parents=True)
    shutil.copy(root / "release" / LESSON / NOTEBOOK, folder)
    (said,) = notes(root, root / "inbox")
    assert "'S02 Second' begins with no id of the roster. Did you mean 's02'" in said


def test_a_neighbours_card_stays_with_whoever_handed_it_in(root: Path) -> None:
    """So that the marking refuses it, and the neighbour loses nothing."""
    right, _ = job_cards(root)
    assert taken(root, send(root, "s02", right, root / "inbox")) == ["s02 taken"]
    Classroom(root).mark(LESSON)
    assert scores(root) == {"s02": 0.0}


def test_an_id_is_never_taken_for_the_beginning_of_another(tmp_path: Path) -> None:
    """Work of s10 is not work of s1."""
    root = make_class(tmp_path / "class", ("s1", "s10")).root
    assert taken(root, send(root, "s10", None, root / "inbox")) == ["s10 taken"]


def test_a_job_card_alone_is_enough(root: Path) -> None:
    """It is marked with the released notebook, and joins what came before."""
    right, wrong = job_cards(root)
    card = root / f"s01_{CARD}"
    card.write_text(json.dumps(right), encoding="utf-8")
    assert taken(root, card) == ["s01 taken"]
    send(root, "s02", None, root / "inbox")
    assert taken(root, root / "inbox") == ["s02 taken"]
    late = root / f"s02 {CARD}"
    late.write_text(json.dumps(wrong), encoding="utf-8")
    assert taken(root, late) == ["s02 taken"]
    assert {f.name for f in submitted(root, "s02").iterdir()} >= {NOTEBOOK, CARD}
    Classroom(root).mark(LESSON)
    assert scores(root)["s01"] > 0.0


def test_the_longer_of_two_cards_is_the_later(root: Path) -> None:
    """A damaged file gives way to the one in the notebook; a full one stays."""
    right, _ = job_cards(root)
    notebook = send(root, "s01", right, root / "inbox")
    folder = root / "s01"
    folder.mkdir()
    notebook.rename(folder / NOTEBOOK)
    (folder / CARD).write_text(json.dumps(right)[:100], encoding="utf-8")
    taken(root, folder)
    assert json.loads((submitted(root, "s01") / CARD).read_text()) == right
    longer = {**right, "actions": [*right["actions"], *right["actions"]]}
    (folder / CARD).write_text(json.dumps(longer), encoding="utf-8")
    taken(root, folder)
    assert json.loads((submitted(root, "s01") / CARD).read_text()) == longer


def test_of_two_cards_that_part_neither_is_chosen(root: Path) -> None:
    """Only people can tell which counts: refused, with what to do."""
    right, wrong = job_cards(root)
    folder = root / "s01"
    send(root, "s01", right, folder)
    other = {**wrong, "learner": "s01"}
    (folder / CARD).write_text(json.dumps(other), encoding="utf-8")
    (note,) = notes(root, folder)
    assert note.startswith("refused: two job cards of")
    assert "neither goes on with the other" in note
    assert not (root / "submitted" / "s01").exists()


def test_the_work_of_another_lesson_is_refused(root: Path) -> None:
    """Taken under this lesson it would be marked as not done."""
    right, _ = job_cards(root)
    send(root, "s01", {**right, "exercise": "b99_fault"}, root / "inbox")
    (note,) = notes(root, root / "inbox")
    assert note.startswith("refused: not of this lesson")
    assert "b99_fault" in note


def test_a_renamed_notebook_gets_its_name_back(root: Path) -> None:
    """A browser's "(1)" must not cost the learner the marks."""
    right, _ = job_cards(root)
    folder = root / "s01"
    send(root, "s01", right, folder).rename(folder / f"{LESSON} (1).ipynb")
    (folder / CARD).write_text(json.dumps(right), encoding="utf-8")
    taken(root, folder)
    assert (submitted(root, "s01") / NOTEBOOK).exists()


def test_what_is_replaced_is_kept_and_marked_again(root: Path) -> None:
    """Twice the same changes nothing; newer replaces; older stays out."""
    right, wrong = job_cards(root)
    inbox = root / "inbox"
    first = send(root, "s01", {**wrong, "learner": "s01"}, inbox)
    os.utime(first, (1_767_000_000,) * 2)
    assert taken(root, inbox) == ["s01 taken"]
    assert taken(root, inbox) == ["s01 unchanged"]
    Classroom(root).mark(LESSON)
    poor = scores(root)["s01"]
    os.utime(send(root, "s01", right, inbox), (1_767_000_060,) * 2)
    assert taken(root, inbox) == ["s01 taken"]
    assert (root / "replaced" / "submitted" / "s01" / f"{LESSON}.1" / CARD).exists()
    Classroom(root).mark(LESSON)
    assert scores(root)["s01"] > poor
    os.utime(send(root, "s01", None, inbox), (1_766_000_000,) * 2)
    assert taken(root, inbox) == ["s01 older"]


def test_links_lead_nowhere(root: Path) -> None:
    """A link in a hand-in cannot bring a file of the instructor's into feedback."""
    folder = root / "s01"
    folder.mkdir()
    shutil.copy(root / "release" / LESSON / NOTEBOOK, folder)
    (folder / "notes.txt").symlink_to(root / "gradebook.db")
    taken(root, folder)
    assert not (submitted(root, "s01") / "notes.txt").exists()


def test_who_is_missing(root: Path) -> None:
    """The roster less those who handed in."""
    hand_in(root, {"s02": None})
    assert Classroom(root).missing(LESSON) == ["s01", "s03"]


# The folder


def test_an_existing_course_is_left_as_it_was(tmp_path: Path) -> None:
    """Its configuration is read, not replaced; without ours it would run code."""
    text = "c = get_config()\nc.CourseDirectory.submitted_directory = 'inbox'\n"
    (tmp_path / CONFIG_FILE).write_text(text, encoding="utf-8")
    classroom = create(tmp_path, lessons=[])
    assert (tmp_path / CONFIG_FILE).read_text(encoding="utf-8") == text
    assert classroom.folder("submitted", "s01", LESSON).parts[-3] == "inbox"
    assert not classroom.marks_as_data
    assert create(tmp_path / "new", lessons=[]).marks_as_data


def test_the_release_holds_no_hidden_text(released: Path) -> None:
    """Neither the tests of the grade cell, nor a card, nor a list of faults."""
    folder = released / "release" / LESSON
    assert "mark_here" not in (folder / NOTEBOOK).read_text(encoding="utf-8")
    assert (folder / f"{EXERCISE}.tickets.json").exists()
    assert not [*folder.glob("*.card.json"), *folder.glob("*.exercise.yaml")]


def test_messages_say_what_to_do_next(root: Path, tmp_path: Path) -> None:
    """Each wrong turn is met with what is there and what to do."""
    with pytest.raises(ClassroomError, match="ohmwork class new"):
        Classroom(tmp_path)
    with pytest.raises(UnknownNameError, match=f"Did you mean '{LESSON}'"):
        Classroom(root).lesson("x10_smal")
    with pytest.raises(UnknownNameError, match="No learner 's09'"):
        taken(root, root, learner="s09")
    with pytest.raises(ClassroomError, match="Name what was handed in"):
        taken(root, root / "nowhere")
    with pytest.raises(ClassroomError, match="release, collect, mark"):
        Classroom(root).mark(LESSON)
    with pytest.raises(ClassroomError, match=r"roster\.csv is a file"):
        create(root / "roster.csv")


def test_a_lesson_is_known_by_its_number_too(root: Path, tmp_path: Path) -> None:
    """What people say is "lesson c10", not the folder's whole name."""
    number, _, _ = LESSON.partition("_")
    assert Classroom(root).lesson(number) == LESSON
    two = [tmp_path / "two", *("--lesson", "c10", "--lesson", "b40_fuses")]
    assert commands.class_command(["new", *map(str, two)]) == 0
    there = Classroom(tmp_path / "two").lessons
    assert there == ["b40_fuses", "c10_switches_and_lamps"]
    with pytest.raises(UnknownNameError, match="No lesson 'c99'"):
        create(tmp_path / "three", ["c99"])


def test_a_number_that_two_lessons_have_names_neither(root: Path) -> None:
    """Their whole names do."""
    shutil.copytree(root / "source" / LESSON, root / "source" / "x10_other")
    number, _, _ = LESSON.partition("_")
    with pytest.raises(UnknownNameError, match=f"No lesson '{number}'"):
        Classroom(root).lesson(number)
    assert Classroom(root).lesson(LESSON) == LESSON


def test_the_next_command_is_said_with_the_words_it_needs(
    root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The lesson where there are several, the folder where one is not in it."""
    right, _ = job_cards(root)
    send(root, "s01", right, root / "inbox")
    shutil.copytree(root / "source" / LESSON, root / "source" / "x20_other")

    def said(*words: str) -> str:
        capsys.readouterr()
        commands.class_command([*words, "--lesson", "x10"])
        (line,) = (
            line for line in capsys.readouterr().out.splitlines() if "Next" in line
        )
        return line.partition(": ")[2]

    course = ["--course", str(root)]
    assert said("issue", *course) == (
        f"ohmwork class release --course {root} --lesson {LESSON}"
    )
    monkeypatch.chdir(root)
    assert said("release") == f"ohmwork class collect --lesson {LESSON} PATH"
    assert said("collect", "inbox") == f"ohmwork class mark --lesson {LESSON}"
    assert said("mark") == f"ohmwork class feedback --lesson {LESSON}"
    assert said("feedback") == f"ohmwork class export --lesson {LESSON}"
    shutil.rmtree(root / "source" / "x20_other")
    assert said("mark") == "ohmwork class feedback"


# The report and the commands


def test_the_table_agrees_with_nbgraders_own_export(root: Path) -> None:
    """Score and time of every learner, those who handed in nothing included."""
    right, wrong = job_cards(root)
    hand_in(root, {"s01": right, "s02": wrong})
    classroom = Classroom(root)
    classroom.mark(LESSON)
    report.write_csv(classroom.marks(LESSON), root / "ours.csv")
    nbgrader(root, "export", "--to", "theirs.csv")
    with (root / "ours.csv").open(encoding="utf-8-sig", newline="") as file:
        ours = {row["learner"]: row for row in csv.DictReader(file)}
    with (root / "theirs.csv").open(encoding="utf-8", newline="") as file:
        theirs = {row["student_id"]: row for row in csv.DictReader(file)}
    assert ours.keys() == theirs.keys() == set(LEARNERS)
    for learner, row in ours.items():
        # Half a hundredth, since the table is written to hundredths.
        assert float(row["score"]) == pytest.approx(
            float(theirs[learner]["score"]), abs=0.005
        )
        assert row["handed_in_utc"] == theirs[learner]["timestamp"]


def test_the_table_tells_what_the_points_are_made_of(root: Path) -> None:
    """The parts add up to the fault's points, and no more is in the score."""
    right, wrong = job_cards(root)
    hand_in(root, {"s01": right, "s02": wrong}, {"s01": 12.4})
    commands.class_command(["mark", "--course", str(root)])
    commands.class_command(["export", "--course", str(root)])
    table = root / f"{LESSON}_marks.csv"
    with table.open(encoding="utf-8-sig", newline="") as file:
        rows = {row["learner"]: row for row in csv.DictReader(file)}
    names = [f"{EXERCISE}_{part}" for part in (*POINTS, "hints")]
    for learner in ("s01", "s02"):
        row = rows[learner]
        parts = sum(float(row[name]) for name in names)
        # A fault has a decimal, each of its six parts is written to hundredths.
        assert parts == pytest.approx(float(row[EXERCISE]), abs=0.05 + 6 * 0.005)
        score = float(row[EXERCISE]) + float(row["questions"])  # no text was written
        assert score == pytest.approx(float(row["score"]), abs=0.005)
    assert rows["s01"]["questions"] == "4"
    assert rows["s02"]["questions"] == "0"
    assert {rows["s03"][name] for name in (*names, "questions")} == {""}


def test_a_hand_in_that_cannot_be_marked_is_told_from_a_poor_one(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """When it is marked, each time that is asked for, and in the table."""
    right, _ = job_cards(root)
    hand_in(root, {"s01": right, "s02": right})
    mark = ["mark", "--course", str(root)]
    for count in ("1 marked, 1 could not be marked, 0 left", "0 marked, 1 could not"):
        assert commands.class_command(mark) == 0
        said = capsys.readouterr().out
        assert count in said
        assert f"s02: {EXERCISE}: This job card is for learner s01" in said
    send(root, "s03", None, root / "inbox")
    taken(root, root / "inbox")
    (root / "more.csv").write_text("id\ns04\n", encoding="utf-8")
    Classroom(root).enrol(root / "more.csv")
    status = {row.learner: row.status for row in Classroom(root).marks(LESSON)}
    reason = status.pop("s02")
    assert reason.startswith("could not be marked: This job card is for learner s01")
    assert status == {"s01": "marked", "s03": "not marked yet", "s04": "not handed in"}
    commands.class_command(["export", "--course", str(root)])
    table = root / f"{LESSON}_marks.csv"
    with table.open(encoding="utf-8-sig", newline="") as file:
        rows = {row["learner"]: row for row in csv.DictReader(file)}
    assert rows["s02"]["status"] == reason


@pytest.mark.parametrize("learners", [1, 12, 60])
def test_a_picture_is_drawn_of_any_class(
    root: Path, tmp_path: Path, learners: int
) -> None:
    """One, a class with names, one too large for them; and before any hand-in."""
    absent = Classroom(root).marks(LESSON)[0]
    present = dataclasses.replace(absent, handed_in=datetime.datetime(2026, 1, 1))
    for row in (absent, present):
        report.draw([row] * learners, "Marks", tmp_path / "marks.png")
        assert (tmp_path / "marks.png").read_bytes().startswith(b"\x89PNG")


def test_the_whole_course_of_a_class_by_commands(
    root: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Collect to export, from within the folder; nothing goes to stderr."""
    monkeypatch.chdir(root)
    right, wrong = job_cards(root)
    send(root, "s01", right, root / "inbox")
    send(root, "s02", wrong, root / "inbox")
    (root / "inbox" / "strange.ipynb").write_text("{}", encoding="utf-8")
    expected = {
        "key": (0, "s03"),
        "collect inbox": (1, "2 taken, 1 refused"),
        "missing": (0, "1 of 3 have handed in nothing"),
        "mark": (0, "2 marked, 0 left as they were, 0 failed"),
        "feedback": (0, "2 written"),
        "export": (0, f"{LESSON}_marks.png"),
    }
    for words, (status, text) in expected.items():
        assert commands.class_command(words.split()) == status, words
        said = capsys.readouterr()
        assert text in said.out
        assert said.err == ""
    assert (root / "feedback" / "s01" / LESSON / f"{LESSON}.html").exists()


def test_help_needs_no_nbgrader() -> None:
    """Help comes at once: importing nbgrader takes seconds."""
    code = (
        "import contextlib, io, sys; from ohmwork_grading import commands\n"
        "sys.stdout = io.StringIO()\n"
        "with contextlib.suppress(SystemExit): commands.class_command(['mark', '-h'])\n"
        "sys.stdout = sys.__stdout__\n"
        "print('nbgrader' in sys.modules)"
    )
    run = [sys.executable, "-W", "error", "-c", code]
    done = subprocess.run(run, capture_output=True, text=True, check=True)
    assert (done.stdout, done.stderr) == ("False\n", "")
