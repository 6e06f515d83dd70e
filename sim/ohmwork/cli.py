"""The command ``ohmwork``.

``open`` and ``check`` are here; other commands (``class``, ``demo``) come from entry
points of the group ``ohmwork.commands``.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
from collections.abc import Sequence
from importlib.metadata import entry_points, version
from pathlib import Path

from ohmwork.circuits import circuit_of
from ohmwork.errors import OhmworkError
from ohmwork.vehicle import Vehicle, load_vehicle

OTHERS = {
    "class": "run a class: tickets, hand-ins, marks, feedback",
    "demo": "see a whole class from tickets to marks, with scripted learners",
}
"""What commands from entry points do, for the list of commands."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status.

    Parameters
    ----------
    arguments : words of the command line; those of the process by default.
    """
    words = list(sys.argv[1:] if arguments is None else arguments)
    others = {e.name: e for e in entry_points(group="ohmwork.commands")}
    try:
        if words and words[0] in others:
            status: int = others[words[0]].load()(words[1:])
            return status
        options = _parser(sorted(others)).parse_args(words)
        return int(options.run(options))
    except OhmworkError as error:
        print(error)
        return 1
    except BrokenPipeError:  # who reads our words, such as a pager, has left
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as error:
        print(f"{error.filename}: {error.strerror}." if error.filename else error)
        return 1
    except KeyboardInterrupt:
        print("\nStopped. Nothing that was saved is lost.")
        return 130


def _parser(others: Sequence[str]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ohmwork",
        description="Finding electrical faults in vehicles: course, bench and marking.",
        epilog="Each command has its own --help.",
    )
    parser.add_argument("--version", action="version", version=version("ohmwork"))
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    opening = commands.add_parser(
        "open",
        help="open your copy of the course in JupyterLab",
        description="Put your copy of the course in a folder and open JupyterLab "
        "on it. Work that is there already is never overwritten.",
    )
    opening.add_argument("folder", nargs="?", type=Path, default=None)
    opening.add_argument("--learner", help="the name you go by in your course")
    opening.add_argument(
        "--copy-only", action="store_true", help="do not start JupyterLab"
    )
    opening.add_argument(
        "--no-browser", action="store_true", help="start JupyterLab, print its address"
    )
    opening.set_defaults(run=_open)

    checking = commands.add_parser(
        "check",
        help="check a vehicle file and draw it",
        description="Check a vehicle, say which faults it can carry and what is most "
        "likely not meant, and draw it.",
    )
    checking.add_argument("vehicle", help="a YAML file, or the name of a vehicle")
    checking.add_argument(
        "--drawing",
        type=Path,
        metavar="FILE",
        help="write the diagram as SVG here; of a vehicle with circuits one file each",
    )
    checking.add_argument(
        "--sites", action="store_true", help="list every site with its kinds of fault"
    )
    checking.add_argument(
        "--circuit", metavar="NAME", help="this circuit alone, with a list of its parts"
    )
    checking.set_defaults(run=_check)
    for name in others:
        commands.add_parser(name, help=OTHERS.get(name), add_help=False)
    return parser


def _open(options: argparse.Namespace) -> int:
    from ohmwork.course import DEFAULT_FOLDER, LAB_OPTIONS, copy_for_learner
    from ohmwork.progress import CONTENTS_FILE

    folder = options.folder or Path(DEFAULT_FOLDER)
    print("Preparing your copy of the course ...", flush=True)
    added = copy_for_learner(folder, options.learner)
    for name in added:
        print(f"  added {name}")
    print(f"Your course is in {folder.resolve()}.")
    if not added:
        print("Nothing was missing; your work is as you left it.")
    if options.copy_only:
        return 0
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        f"--ServerApp.root_dir={folder}",
        f"--LabApp.default_url=/lab/tree/{CONTENTS_FILE}",
        *LAB_OPTIONS,
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    if options.no_browser:
        command.append("--no-browser")
    else:
        command.append("--log-level=WARN")
        print("JupyterLab opens in your browser. Stop it here with Ctrl+C.", flush=True)
    # Compiled for this machine meanwhile, so that the first hint comes at once.
    compiling = [sys.executable, "-m", "ohmwork.network.lanes"]
    with subprocess.Popen(compiling, stdout=subprocess.DEVNULL):
        return subprocess.run(command, check=False).returncode


def _check(options: argparse.Namespace) -> int:
    from ohmwork import faults
    from ohmwork.wiring_check import warnings

    whole = load_vehicle(options.vehicle)
    vehicle = circuit_of(whole, options.circuit) if options.circuit else whole
    kinds = faults.sites(vehicle)
    rows = [
        (words, sum(kind in found for found in kinds.values()))
        for kind, words in faults.KINDS.items()
    ]
    print(f"{vehicle.title}: no mistakes found.")
    print(f"{len(vehicle.parts)} parts, {len(vehicle.places)} places.")
    if options.circuit:
        print(*(f"  {vehicle.describe(name)}" for name in vehicle.parts), sep="\n")
    elif vehicle.circuits:
        print(f"{len(vehicle.circuits)} circuits: {', '.join(vehicle.circuits)}.")
    print(f"{sum(count for _, count in rows)} faults at {len(kinds)} sites:")
    width = max(len(words) for words, _ in rows)
    for words, count in rows:
        if count:
            print(f"  {words:<{width}}  {count:>4} {'site' if count == 1 else 'sites'}")
    if options.sites:
        print("Each site, with its kinds as --fault of `class issue` wants them:")
        for site, found in kinds.items():
            print(f"  {faults.describe_site(vehicle, site)}")
            print(f"    {site}: {', '.join(found)}")
    if told := warnings(whole):
        print("Allowed, but is it meant?", *told, sep="\n  ")
    if options.drawing:
        for path, part in _to_draw(vehicle, options.drawing).items():
            from ohmwork import drawing

            path.write_text(drawing.svg(part), encoding="utf-8")
            print(f"Diagram written to {path}.")
    return 0


def _to_draw(vehicle: Vehicle, path: Path) -> dict[Path, Vehicle]:
    """Return which file is to show what: each circuit of several, or the vehicle."""
    if len(vehicle.circuits) < 2:
        return {path: vehicle}
    ends = {name: re.sub(r"\W+", "-", name) for name in vehicle.circuits}
    return {
        path.with_stem(f"{path.stem}-{end}"): circuit_of(vehicle, name)
        for name, end in ends.items()
    }


if __name__ == "__main__":
    sys.exit(main())
