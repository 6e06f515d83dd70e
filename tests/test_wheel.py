"""The wheel, installed away from the checkout: it opens the course and marks it."""

import csv
import os
import shutil
import subprocess
import sys
import sysconfig
import venv
from dataclasses import dataclass
from pathlib import Path

import pytest

from lessons import NAMES, keys_in, marked_fault

ROOT = Path(__file__).parents[1]
LESSON, LEARNER = "c10_switches_and_lamps", "s01"

HAND_IN = """\
import random
import sys
from pathlib import Path

import nbformat

import ohmwork
from ohmwork.workbench.page import card_bundle
from ohmwork_grading.scripted import careful

notebook, exercise, learner, sent = sys.argv[1:]
job = ohmwork.start_job(exercise, learner=learner, folder=Path(notebook).parent)
careful(job, random.Random(1))
lesson = nbformat.read(notebook, as_version=4)
(cell,) = (c for c in lesson.cells if f'open_workbench("{exercise}")' in c.source)
cell.outputs = [nbformat.v4.new_output("display_data", card_bundle(job))]
nbformat.write(lesson, sent)
print(ohmwork.__file__)
"""
"""What a careful learner leaves: a notebook with the job card in its outputs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Installed:
    """A virtual environment that knows nothing of the checkout."""

    folder: Path
    """Where its programs run."""
    scripts: Path

    def run(self, program: str, *words: str | Path) -> str:
        """What one of its programs prints; nothing may go to stderr."""
        done = subprocess.run(
            [self.scripts / program, *words],
            cwd=self.folder,
            env=outside(),
            capture_output=True,
            text=True,
            check=False,
        )
        assert (done.returncode, done.stderr) == (0, ""), done.stdout
        return done.stdout


def outside() -> dict[str, str]:
    """The environment without what would lead back to this one's packages."""
    return {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "VIRT"))}


def pip(python: Path, *words: str | Path) -> int:
    """Run pip; returns its exit status."""
    command = [python, "-m", "pip", "--disable-pip-version-check", "-q", *words]
    return subprocess.run(command, env=outside(), check=False).returncode


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Installed:
    """The wheel and what it depends on, in an environment of their own."""
    folder = tmp_path_factory.mktemp("away")
    here = Path(sys.executable)
    if pip(here, "download", "--no-deps", "--retries=0", "-d", folder, "hatchling"):
        message = "No index of packages is in reach, so no wheel can be installed."
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(message)
    assert pip(here, "wheel", "--no-deps", "-w", folder, ROOT) == 0
    (wheel,) = folder.glob("ohmwork-*.whl")
    venv.create(folder / "venv", with_pip=True)
    paths = {"base": str(folder / "venv"), "platbase": str(folder / "venv")}
    scripts = Path(sysconfig.get_path("scripts", "venv", vars=paths))
    assert pip(scripts / "python", "install", wheel) == 0
    return Installed(folder=folder, scripts=scripts)


def test_the_course_is_in_the_wheel(installed: Installed) -> None:
    """A learner's copy has every lesson, the contents, the glossary and no key."""
    installed.run("ohmwork", "open", "my-course", "--learner", LEARNER, "--copy-only")
    copy = installed.folder / "my-course"
    assert sorted(path.parent.name for path in copy.glob("*/*.ipynb")) == NAMES
    assert {path.name for path in copy.glob("*.*")} == {"GLOSSARY.md", "contents.ipynb"}
    for path in copy.glob("*/*.ipynb"):
        text = path.read_text(encoding="utf-8")
        assert "open_workbench" in text
        assert "mark_here" not in text


def test_a_class_is_marked(installed: Installed) -> None:
    """From the folder of a class to the marks of the one who handed in."""
    folder = installed.folder
    installed.run("ohmwork", "class", "new", "my-class", "--lesson", LESSON)
    (folder / "roster.csv").write_text(f"id\n{LEARNER}\n", encoding="utf-8")

    def ohmwork_class(command: str, *words: str | Path) -> str:
        return installed.run(
            "ohmwork", "class", command, *words, "--course", folder / "my-class"
        )

    ohmwork_class("issue", "--roster", folder / "roster.csv")
    ohmwork_class("release")
    own = shutil.copytree(folder / "my-class" / "release" / LESSON, folder / "own")
    inbox = folder / "inbox"
    inbox.mkdir()
    exercise = marked_fault(LESSON)
    used = installed.run(
        "python", "-c", HAND_IN,
        own / f"{LESSON}.ipynb", exercise, LEARNER, inbox / f"{LEARNER}.ipynb",
    )  # fmt: skip
    assert Path(used.strip()).is_relative_to(folder)
    ohmwork_class("collect", inbox)
    ohmwork_class("mark")
    ohmwork_class("export")

    table = folder / "my-class" / f"{LESSON}_marks.csv"
    with table.open(encoding="utf-8-sig", newline="") as file:
        rows = {row["learner"]: row for row in csv.DictReader(file)}
    assert float(rows[LEARNER][exercise]) >= 85.0
    assert rows[LEARNER][keys_in(LESSON)[0].question] == "0"
