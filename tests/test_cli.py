"""The command line: a learner's own copy is never overwritten; errors are sentences."""

import json
import re
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path
from xml.etree import ElementTree

import nbformat
import pytest

import ohmwork.cli
from ohmwork import course_folder
from ohmwork.circuits import circuit_of
from ohmwork.cli import main
from ohmwork.course import ALONE_LINES, MARKS_LINE, copy_for_learner
from ohmwork.faults import KINDS, sites, universe
from ohmwork.progress import CONTENTS_FILE
from ohmwork.vehicle import load_vehicle

NOTEBOOK = "a20_two_sides/a20_two_sides.ipynb"


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder, but for the page of contents, which is ours."""
    return {
        file.relative_to(folder).as_posix(): file.read_bytes()
        for file in sorted(folder.rglob("*"))
        if file.is_file() and file.name != CONTENTS_FILE
    }


@pytest.fixture
def copy(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Return the folder of Ada's fresh copy of the course."""
    folder = tmp_path / "mine"
    assert main(["open", str(folder), "--copy-only", "--learner", "ada"]) == 0
    capsys.readouterr()
    return folder


# open


def test_open_gives_every_lesson_with_its_ticket_books(copy: Path) -> None:
    """Notebook, books and the learner's name; no exercise file with its pool."""
    names = set(contents(copy))
    masters = course_folder()

    for master in masters.glob("*/*.ipynb"):
        assert f"{master.parent.name}/{master.name}" in names
        assert contents(copy)[f"{master.parent.name}/learner.txt"] == b"ada\n"
    for book in masters.glob("*/*.tickets.json"):
        assert f"{book.parent.name}/{book.name}" in names
    assert not [name for name in names if name.endswith(".exercise.yaml")]
    assert "GLOSSARY.md" in names
    assert "GUIDE.md" not in names


def test_open_gives_a_learner_copy(copy: Path) -> None:
    """No hidden test, no solution and no output is in a learner's notebook."""
    for path in copy.glob("*/*.ipynb"):
        text = path.read_text("utf-8")
        assert "HIDDEN TESTS" not in text
        assert "BEGIN SOLUTION" not in text
        cells = json.loads(text)["cells"]
        assert not [cell for cell in cells if cell.get("outputs")]


def test_who_learns_alone_is_told_how_to_check_themselves(tmp_path: Path) -> None:
    """In each cell with marks, where no name in a course was given; no key is told."""
    alone, named = tmp_path / "alone", tmp_path / "named"
    copy_for_learner(alone)
    copy_for_learner(named, "ada")
    paths = sorted(path.relative_to(alone) for path in alone.glob("*/*.ipynb"))
    assert paths
    for path in paths:
        cells = [
            [cell.source for cell in nbformat.read(folder / path, 4).cells]
            for folder in (alone, named)
        ]
        changed = [(a, b) for a, b in zip(*cells, strict=True) if a != b]
        assert set(changed) == {(ALONE_LINES, MARKS_LINE)}
        assert MARKS_LINE not in cells[0]
    (named / NOTEBOOK).unlink()
    copy_for_learner(named)
    assert MARKS_LINE in (named / NOTEBOOK).read_text("utf-8")


def test_open_again_never_overwrites_work(
    copy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever a learner changed or added is byte for byte as it was."""
    (copy / NOTEBOOK).write_text("my work", encoding="utf-8")
    (copy / "a20_two_sides" / "a20_marked_fault.card.json").write_text("{}", "utf-8")
    (copy / "a20_two_sides" / "a20_marked_fault.tickets.json").write_text("x", "utf-8")
    before = contents(copy)

    assert main(["open", str(copy), "--copy-only", "--learner", "ada"]) == 0

    assert contents(copy) == before
    assert (
        "Nothing was missing; your work is as you left it." in capsys.readouterr().out
    )


def test_open_brings_back_what_is_missing(
    copy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A deleted notebook comes back; the rest stays, and the name need not be given."""
    before = contents(copy)
    (copy / NOTEBOOK).unlink()

    assert main(["open", str(copy), "--copy-only"]) == 0

    assert contents(copy).keys() == before.keys()
    assert f"  added {NOTEBOOK}\n" in capsys.readouterr().out


def test_open_refuses_anothers_folder(
    copy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ben is told whose folder it is and how to get his own."""
    before = contents(copy)

    assert main(["open", str(copy), "--copy-only", "--learner", "ben"]) == 1

    shown = capsys.readouterr().out
    assert "is the folder of 'ada'. Choose another folder: " in shown
    assert "ohmwork open OTHER_FOLDER --learner ben" in shown
    assert contents(copy) == before


def test_open_starts_jupyterlab_on_the_folder(
    copy: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """JupyterLab gets the learner's folder, and its exit status is the command's."""
    commands: list[list[str]] = []

    def start(command: list[str], *, check: bool) -> subprocess.CompletedProcess[str]:
        assert not check
        commands.append(command)
        return subprocess.CompletedProcess(command, 7)

    monkeypatch.setattr(subprocess, "run", start)

    assert main(["open", str(copy)]) == 7
    (command,) = commands
    assert command[:3] == [sys.executable, "-m", "jupyterlab"]
    assert any(str(copy) in word for word in command)
    assert any(word.endswith(f"/lab/tree/{CONTENTS_FILE}") for word in command)
    (settings,) = (word for word in command if "app_settings_dir" in word)
    overrides = Path(settings.partition("=")[2]) / "overrides.json"
    (asks,) = json.loads(overrides.read_text(encoding="utf-8")).values()
    assert asks == {"checkForUpdates": False, "fetchNews": "false"}


def test_open_on_a_file_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file cannot be the folder, and the message says which."""
    path = tmp_path / "notes.txt"
    path.write_text("mine", encoding="utf-8")

    assert main(["open", str(path), "--copy-only"]) == 1

    assert str(path) in capsys.readouterr().out
    assert path.read_text("utf-8") == "mine"


# check


def test_check_says_what_a_vehicle_has(capsys: pytest.CaptureFixture[str]) -> None:
    """No mistakes, how many parts and places, and how many sites of each kind."""
    van = load_vehicle("lighting_board")

    assert main(["check", "lighting_board"]) == 0

    shown = capsys.readouterr().out
    assert f"{van.title}: no mistakes found.\n" in shown
    assert f"{len(van.parts)} parts, {len(van.places)} places.\n" in shown
    faults = universe(van)
    table = dict(re.findall(r"^  (.+?)  +(\d+) sites?$", shown, re.MULTILINE))
    assert table == {
        words: str(sum(fault.kind == kind for fault in faults))
        for kind, words in KINDS.items()
        if any(fault.kind == kind for fault in faults)
    }
    assert f"{len(faults)} faults at " in shown


def test_check_draws_a_vehicle(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The diagram is an SVG file that names every lamp."""
    path = tmp_path / "van.svg"

    assert main(["check", "lighting_board", "--drawing", str(path)]) == 0

    assert f"Diagram written to {path}." in capsys.readouterr().out
    root = ElementTree.parse(path).getroot()
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    text = "".join(root.itertext())
    assert all(lamp in text for lamp in ("E3", "E4", "E5", "E6"))


def test_check_draws_one_circuit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A circuit that is named is drawn alone, in the file that is named."""
    path = tmp_path / "rest.svg"
    words = ["check", "relay_board", "--circuit", "rest lamp", "--drawing", str(path)]

    assert main(words) == 0

    assert f"Diagram written to {path}." in capsys.readouterr().out
    text = "".join(ElementTree.parse(path).getroot().itertext())
    assert "E1" in text
    assert "E2" not in text


def test_check_draws_each_circuit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With no circuit named, each gets a file with its name."""
    path = tmp_path / "board.svg"

    assert main(["check", "relay_board", "--drawing", str(path)]) == 0

    shown = capsys.readouterr().out
    assert "2 circuits: rest lamp, work lamp.\n" in shown
    files = {tmp_path / f"board-{name}-lamp.svg" for name in ("rest", "work")}
    assert set(tmp_path.iterdir()) == files
    assert all(f"Diagram written to {file}." in shown for file in files)


def test_check_lists_the_parts_of_one_circuit(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """By their names on the drawing, with the sites that this circuit has alone."""
    words = ["check", "relay_board", "--circuit", "rest lamp", "--sites"]

    assert main(words) == 0

    shown = capsys.readouterr().out
    rest = circuit_of(load_vehicle("relay_board"), "rest lamp")
    assert shown.startswith(
        f"{rest.title}: no mistakes found.\n{len(rest.parts)} parts"
    )
    assert all(f"  {rest.describe(name)}\n" in shown for name in rest.parts)
    listed = re.findall(r"^    (\S+): [a-z_, ]+$", shown, re.MULTILINE)
    assert listed == list(sites(rest))
    assert "work lamp" not in shown


def test_check_says_which_circuits_there_are(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """An unknown circuit is met with those there are; nothing is said before."""
    words = ["check", "relay_board", "--circuit", "horn", "--drawing", "x.svg"]

    assert main(words) == 1

    assert capsys.readouterr().out == (
        "No circuit 'horn'. Relay board, 12 V: a changeover relay has rest lamp, "
        "work lamp.\n"
    )


def test_check_warns_and_does_not_fail(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A fuse of 2 A for a lamp of 55 W: it can be used, and the sentence says so."""
    text = load_vehicle("lighting_board").text
    (line,) = (t for t in text.splitlines() if t.lstrip().startswith("F11:"))
    smaller = re.sub(r"rating: \d+ A", "rating: 2 A", line)
    assert smaller != line
    path = tmp_path / "mine.yaml"
    path.write_text(text.replace(line, smaller), encoding="utf-8")

    for vehicle, warned in (("lighting_board", False), (str(path), True)):
        assert main(["check", vehicle]) == 0
        shown = capsys.readouterr().out
        assert "no mistakes found" in shown
        assert ("Allowed, but is it meant?\n  " in shown) == warned
        assert ("F11 is 2 A, and what it feeds takes" in shown) == warned


def test_a_pager_may_leave_early() -> None:
    """``ohmwork check ... | head -1``: no traceback."""
    command = [sys.executable, "-m", "ohmwork.cli", "check", "training_van", "--sites"]

    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.close()
        said = running.stderr.read()

    assert said == b""
    assert running.returncode == 1


def test_check_names_file_line_part_and_what_is_allowed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong unit is found at its line."""
    lines = load_vehicle("lighting_board").text.splitlines()
    (number,) = (n for n, line in enumerate(lines) if line.lstrip().startswith("W16:"))
    lines[number] = lines[number].replace("2.2 m", "2.2 kg")
    path = tmp_path / "mine.yaml"
    path.write_text("\n".join(lines), encoding="utf-8")

    assert main(["check", str(path)]) == 1

    shown = capsys.readouterr().out
    assert shown.startswith(f"mine.yaml, line {number + 1}")
    assert "W16" in shown
    assert "'2.2 kg' is not in m. Write a number and m." in shown


@pytest.mark.parametrize(
    ("vehicle", "text"),
    [
        ("lighting", "No vehicle 'lighting'. Did you mean 'lighting_board'?\n"),
        ("missing.yaml", "missing.yaml: No such file or directory.\n"),
    ],
)
def test_check_on_nothing(
    vehicle: str, text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """An unknown name is met with the nearest, a missing file with its name."""
    assert main(["check", vehicle]) == 1

    assert capsys.readouterr().out == text


def test_a_drawing_that_cannot_be_written_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that does not exist is named, without a traceback."""
    path = tmp_path / "nowhere" / "van.svg"

    assert main(["check", "lighting_board", "--drawing", str(path)]) == 1

    assert f"{path}: No such file or directory." in capsys.readouterr().out


# Any command


def test_every_command_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    """The help names the four commands."""
    with pytest.raises(SystemExit) as end:
        main(["--help"])

    assert end.value.code == 0
    shown = capsys.readouterr().out
    assert all(f"    {name} " in shown for name in ("open", "check", "class", "demo"))


def test_the_version_is_the_distributions(capsys: pytest.CaptureFixture[str]) -> None:
    """``--version`` prints it and no more."""
    with pytest.raises(SystemExit) as end:
        main(["--version"])

    assert end.value.code == 0
    assert capsys.readouterr().out == f"{version('ohmwork')}\n"


@pytest.mark.parametrize("words", [[], ["paint"], ["check"]])
def test_a_wrong_command_ends_with_usage(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Status 2 and a line on usage, as any command line tool gives."""
    with pytest.raises(SystemExit) as end:
        main(words)

    assert end.value.code == 2
    assert "usage: ohmwork" in capsys.readouterr().err


def test_stopping_by_hand_is_no_error(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ctrl+C ends with a calm sentence and the usual status of 130."""

    def stop(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(ohmwork.cli, "load_vehicle", stop)

    assert main(["check", "lighting_board"]) == 130
    assert capsys.readouterr().out == "\nStopped. Nothing that was saved is lost.\n"
