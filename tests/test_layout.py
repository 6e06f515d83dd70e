"""The repository's shape: its top level, its arrows and what importing costs."""

import ast
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

TOP_LEVEL = {
    ".ci",
    ".readme",
    ".gitignore",
    ".pre-commit-config.yaml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "course",
    "grading",
    "pyproject.toml",
    "sim",
    "tests",
}

LAYERS = {
    "ohmwork": (
        "errors",
        "quantities",
        "questions",
        "parts",
        "vehicle",
        "circuits",
        "faults",
        "network",
        "wiring_check",
        "instruments",
        "symptoms",
        "drawing",
        "bench",
        "lesson",
        "exercise",
        "reasoning",
        "tickets",
        "jobcard",
        "workbench",
        "job",
        "prompt_server",
        "progress",
        "course",
        "cli",
    ),
    "ohmwork_grading": (
        "tickets",
        "replay",
        "rubric",
        "answers",
        "scripted",
        "handins",
        "nbgrader_plugin",
        "classroom",
        "report",
        "demo",
        "commands",
    ),
}
"""Modules of each package; one may import those that stand before it, and itself.

The package's own `__init__` gathers names for the user, so no module imports it.
"""

SOURCES = {
    "ohmwork": ROOT / "sim" / "ohmwork",
    "ohmwork_grading": ROOT / "grading" / "ohmwork_grading",
}

HEAVY = {
    "IPython", "anywidget", "ipywidgets", "matplotlib", "nbgrader", "numpy", "scipy",
    "traitlets",
}  # fmt: skip

MACHINE_PATH = re.compile(
    rb"(?<![\w.])/(?:farm|home/\w+|root|work|Users)/|\b[A-Z]:\\+Users\b"
)


@pytest.fixture(scope="module")
def tracked() -> list[Path]:
    """Files under version control; skips in a copy that has left it."""
    git = shutil.which("git")
    if git is None or not (ROOT / ".git").exists():
        pytest.skip("not a git checkout")
    listing = subprocess.run(
        [git, "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True, text=True
    )
    names = filter(None, listing.stdout.split("\0"))
    return [path for name in names if (path := ROOT / name).is_file()]


def modules(package: str) -> Iterator[tuple[str, Path]]:
    """Layer and file of every module of a package; its `__init__` has layer ""."""
    source = SOURCES[package]
    for path in sorted(source.rglob("*.py")):
        head = path.relative_to(source).parts[0]
        yield "" if head == "__init__.py" else head.removesuffix(".py"), path


def imports(path: Path, package: str) -> Iterator[str]:
    """Dotted names a file imports, at its top or later, relative ones spelt out."""
    inside = (package, *path.relative_to(SOURCES[package]).parts[:-1])
    for node in ast.walk(ast.parse(path.read_bytes())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            here = inside[: len(inside) - node.level + 1] if node.level else ()
            base = ".".join((*here, *filter(None, [node.module])))
            yield from (f"{base}.{alias.name}" for alias in node.names)


def test_top_level_holds_only_what_is_allowed(tracked: list[Path]) -> None:
    """A newcomer sees three documents, the package's description and four folders."""
    assert {path.relative_to(ROOT).parts[0] for path in tracked} <= TOP_LEVEL


@pytest.mark.parametrize("package", LAYERS)
def test_every_module_has_its_place_in_the_order(package: str) -> None:
    """A new module is written into LAYERS before anything may import it."""
    assert {layer for layer, _ in modules(package)} <= {"", *LAYERS[package]}


@pytest.mark.parametrize("package", LAYERS)
def test_arrows_point_one_way(package: str) -> None:
    """A module imports only modules before it, nowhere the package as a whole."""
    order = LAYERS[package]
    backward = [
        f"{path.relative_to(ROOT)} imports {name}"
        for layer, path in modules(package)
        if layer
        for name in imports(path, package)
        if re.match(rf"{package}\b", name)
        and f"{name}.".split(".")[1] not in order[: order.index(layer) + 1]
    ]
    assert backward == []


def test_simulator_knows_nothing_of_grading() -> None:
    """What runs on a learner's machine imports nothing of the instructor's package."""
    strays = [
        f"{path.relative_to(ROOT)} imports {name}"
        for _, path in modules("ohmwork")
        for name in imports(path, "ohmwork")
        if name.split(".")[0] == "ohmwork_grading"
    ]
    assert strays == []


def fresh_python(code: str) -> str:
    """What a new interpreter prints when it runs `code` away from the checkout."""
    finished = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        cwd=Path(sys.executable).parent,
        capture_output=True,
        check=True,
        text=True,
    )
    assert finished.stderr == ""
    return finished.stdout


def test_import_loads_no_heavy_library() -> None:
    """Plotting, widgets, arrays and grading are loaded only when they are used.

    So a learner's first cell answers at once.
    """
    code = "import sys, ohmwork; print(*{name.split('.')[0] for name in sys.modules})"
    assert HEAVY.intersection(fresh_python(code).split()) == set()


def test_no_file_names_a_path_of_somebodys_machine(tracked: list[Path]) -> None:
    """Tracked files hold no path of a home or work folder."""
    leaks = [
        str(path.relative_to(ROOT))
        for path in tracked
        if MACHINE_PATH.search(path.read_bytes())
    ]
    assert leaks == []


@pytest.mark.parametrize(
    ("separator", "folders"),
    [
        ("/", ("", "home", "mary", "course")),
        ("/", ("", "root", "course")),
        ("/", ("", "Users", "mary")),
        ("\\", ("C:", "Users", "mary")),
    ],
)
def test_leaked_paths_would_be_found(separator: str, folders: tuple[str, ...]) -> None:
    """The pattern finds each usual kind; they are joined here so as not to be one."""
    leak = f"saved in '{separator.join(folders)}'"
    assert MACHINE_PATH.search(leak.encode())


def test_continuous_integration_runs_the_readmes_test_command() -> None:
    """People and continuous integration run one and the same command."""
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    (command,) = re.findall(r"^test_command='(.*)'$", script, re.MULTILINE)
    assert command in (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
