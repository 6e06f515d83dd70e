"""Exercise files: what they give, and each mistake with its message."""

from pathlib import Path
from typing import Any

import pytest

from ohmwork import course_folder
from ohmwork.errors import VehicleError
from ohmwork.exercise import (
    POINTS,
    Hint,
    PoolEntry,
    check_exercise,
    load_exercise,
    read_exercise,
    vehicle_of,
)
from ohmwork.instruments import TOOLS
from ohmwork.vehicle import load_vehicle, vehicle_names

VAN = load_vehicle("lighting_board")
MINIMAL: dict[str, Any] = {
    "format": "ohmwork exercise 1",
    "id": "x40_fault",
    "title": "A lamp that is not right",
    "brief": "Find it.",
    "vehicle": "lighting_board",
    "states": [{"S1": "on", "S2": "dip"}],
    "kinds": ["open_circuit", "high_resistance"],
}


def test_what_an_exercise_leaves_out_has_its_usual_value() -> None:
    """No practice, all tools, no hints, no pool, and 40 + 30 + 10 + 10 + 10 points."""
    exercise = read_exercise(MINIMAL, "x")

    assert not exercise.practice
    assert exercise.tools == tuple(TOOLS)
    assert (exercise.hints, exercise.pool) == ((), ())
    assert exercise.points == {
        "conclusion": 40, "evidence": 30, "care": 10, "economy": 10, "repair": 10,
    }  # fmt: skip
    assert exercise.maximum == 100


def test_an_exercise_may_change_points_and_tools() -> None:
    """A row that is named changes; the others stay, and the maximum follows."""
    exercise = read_exercise(
        {**MINIMAL, "points": {"care": 20, "economy": 0}, "tools": ["volts"]}, "x"
    )

    assert exercise.points == {**POINTS, "care": 20, "economy": 0}
    assert exercise.maximum == 100
    assert exercise.tools == ("volts",)


def test_hints_and_pool_are_read_with_their_units() -> None:
    """A range may be written in any multiple of Ω."""
    exercise = read_exercise(
        {
            **MINIMAL,
            "hints": [{"price": 4, "text": "Look."}],
            "pool": [
                {"kind": "open_circuit", "site": "W16"},
                {
                    "kind": "high_resistance",
                    "site": "GP1",
                    "from": "800 mΩ",
                    "to": "0.01 kΩ",
                },
            ],
        },
        "x",
    )

    assert exercise.hints == (Hint(price=4, text="Look."),)
    assert exercise.pool == (
        PoolEntry(kind="open_circuit", site="W16"),
        PoolEntry(kind="high_resistance", site="GP1", low=0.8, high=10.0),
    )


def test_plain_data_gives_the_exercise_again() -> None:
    """What a ticket book carries is the whole exercise but for its pool."""
    exercise = read_exercise(
        {**MINIMAL, "hints": [{"price": 4, "text": "Look."}], "practice": True}, "x"
    )

    assert read_exercise(exercise.to_data(), "x") == exercise


def test_the_courses_exercises_fit_their_vehicles() -> None:
    """Every exercise of the course is whole, and named as its file."""
    paths = sorted(course_folder().glob("*/*.exercise.yaml"))

    assert paths
    for path in paths:
        exercise = load_exercise(path)
        check_exercise(exercise, load_vehicle(exercise.vehicle))
        assert path.name == f"{exercise.id}.exercise.yaml"
        assert exercise.maximum == 100


def pool(**entry: str) -> dict[str, Any]:
    """Return a pool of one entry."""
    return {"pool": [entry]}


def ranged(kind: str, site: str, low: str, high: str) -> dict[str, Any]:
    """Return a pool of one entry with a range."""
    return pool(**{"kind": kind, "site": site, "from": low, "to": high})


@pytest.mark.parametrize("missing", MINIMAL)
def test_a_missing_entry_is_named(missing: str) -> None:
    """Each entry that every exercise must have is missed by name."""
    data = {name: value for name, value in MINIMAL.items() if name != missing}

    with pytest.raises(VehicleError, match=rf"^it\.yaml: '{missing}' is missing\.$"):
        read_exercise(data, "it.yaml")


@pytest.mark.parametrize(
    ("entries", "text"),
    [
        (
            {"colour": "blue"},
            r"^it\.yaml: 'colour' is not known\. Allowed are format, id, .*, pool\.$",
        ),
        ({"format": "1"}, r"^it\.yaml: format must be 'ohmwork exercise 1'\.$"),
        (
            {"kinds": ["rust"]},
            r"^it\.yaml: kinds: 'rust'\. Allowed are open_circuit, .*stays_awake\.$",
        ),
        ({"tools": ["nose"]}, r"^it\.yaml: tools: 'nose'\. Allowed are volts, "),
        ({"points": {"style": 5}}, r"^it\.yaml: points: allowed are conclusion, .*"),
        (
            {"points": {"care": "ten"}},
            r"^it\.yaml: points: care is 'ten'\. It must be a whole number from 0",
        ),
        ({"points": {"care": -1}}, r"^it\.yaml: points: care is -1\. It must be"),
        ({"points": 100}, r"^it\.yaml: points: write 'name: value' entries\.$"),
        ({"kinds": "open_circuit"}, r"^it\.yaml: kinds: write a list\.$"),
        ({"kinds": []}, r"^it\.yaml: kinds: write at least one\.$"),
        ({"states": []}, r"^it\.yaml: states: write at least one\.$"),
        ({"states": {"S1": "on"}}, r"^it\.yaml: states: write a list\.$"),
        (
            {"states": ["on"]},
            r"^it\.yaml: states: write entries such as \{S1: \"on\"\}\.$",
        ),
        (
            {"hints": [{"text": "Look."}]},
            r"^it\.yaml: hints: each has a 'price' and a 'text'\.$",
        ),
        (
            {"hints": [{"price": -3, "text": "Look."}]},
            r"^it\.yaml: hints: price is -3\. It must be a whole number from 0 on\.$",
        ),
        (
            pool(kind="high_resistance", site="GP1"),
            r"^it\.yaml: pool, GP1: high_resistance needs 'from' and 'to' in Ω\.$",
        ),
        (
            {"pool": [{"kind": "high_resistance", "site": "GP1", "from": "1 Ω"}]},
            r"^it\.yaml: pool, GP1: high_resistance needs 'from' and 'to' in Ω\.$",
        ),
        (
            ranged("lamp_blown", "E3", "1 Ω", "2 Ω"),
            r"^it\.yaml: pool, E3: lamp_blown takes no 'from' and 'to' in Ω\.$",
        ),
        (
            pool(kind="lamp_blown", site="E3", to="2 Ω"),
            r"^it\.yaml: pool, E3: lamp_blown takes no 'from' and 'to' in Ω\.$",
        ),
        (
            ranged("high_resistance", "GP1", "1 V", "2 Ω"),
            r"^it\.yaml: pool, GP1: '1 V' is not in Ω\. Write a number and Ω\.$",
        ),
        (
            ranged("high_resistance", "GP1", "6 Ω", "1 Ω"),
            r"^it\.yaml: pool, GP1: from 6 Ω to 1 Ω is no range\. It must begin above",
        ),
        (
            ranged("high_resistance", "GP1", "0 Ω", "1 Ω"),
            r"^it\.yaml: pool, GP1: from 0 Ω to 1 Ω is no range\.",
        ),
        ({"pool": ["W16"]}, r"^it\.yaml: pool: each has a 'kind' and a 'site'\.$"),
        ({"pool": [{"site": "W16"}]}, r"^it\.yaml: pool: each has a 'kind' and a"),
    ],
)  # fmt: skip
def test_a_mistake_is_named_with_what_is_allowed(
    entries: dict[str, Any], text: str
) -> None:
    """The message names the file, the entry and what may stand there."""
    with pytest.raises(VehicleError, match=text):
        read_exercise({**MINIMAL, **entries}, "it.yaml")


@pytest.mark.parametrize("data", [None, [], "text", 5])
def test_a_file_without_entries_is_refused(data: object) -> None:
    """A list, a text or nothing at all is no exercise."""
    with pytest.raises(VehicleError, match=r"^it\.yaml: write 'name: value' entries"):
        read_exercise(data, "it.yaml")


@pytest.mark.parametrize(
    ("entries", "text"),
    [
        (
            {"states": [{"S1": "on", "S2": "high"}]},
            r"^x40_fault: states: no S2 in 'high'\.",
        ),
        ({"states": [{"S7": "on"}]}, r"^x40_fault: states: no S7 in 'on'\."),
        ({"states": [{"E3": "on"}]}, r"^x40_fault: states: no E3 in 'on'\."),
        (
            pool(kind="open_circuit", site="W99"),
            r"^x40_fault: pool: No place for a fault 'W99'\. Did you mean ",
        ),
        (
            pool(kind="open_circuit", site="E3"),
            r"^x40_fault: pool: left dip lamp E3 cannot have 'open_circuit'\. ",
        ),
        (
            pool(kind="lamp_blown", site="E3"),
            r"^x40_fault: pool: lamp_blown is not among the exercise's kinds\.$",
        ),
    ],
)
def test_what_the_vehicle_does_not_have_is_refused(
    entries: dict[str, Any], text: str
) -> None:
    """States and pool are held against the vehicle before anything is issued."""
    exercise = read_exercise({**MINIMAL, **entries}, "it.yaml")

    with pytest.raises(VehicleError, match=text):
        check_exercise(exercise, VAN)


def test_a_file_that_is_no_yaml_is_refused(tmp_path: Path) -> None:
    """The parser's own words follow the file's name."""
    path = tmp_path / "it.exercise.yaml"
    path.write_text("kinds: [open_circuit", encoding="utf-8")

    with pytest.raises(VehicleError, match=r"^it\.exercise\.yaml: not valid YAML: "):
        load_exercise(path)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    """The file's name stands in the message."""
    with pytest.raises(
        VehicleError, match=r"^it\.exercise\.yaml: No such file or directory\.$"
    ):
        load_exercise(tmp_path / "it.exercise.yaml")


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    """A picture under an exercise's name is no text."""
    path = tmp_path / "it.exercise.yaml"
    path.write_bytes(b"\x89PNG\xff\xfe")

    with pytest.raises(VehicleError, match=r"^it\.exercise\.yaml is not text in UTF-8"):
        load_exercise(path)


# Its vehicle


@pytest.mark.parametrize("name", ["my_board", "my_board.yaml", "lighting_board"])
def test_a_vehicle_file_beside_the_exercise_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """With its ending or without, wherever one works; it goes before ours."""
    lesson = tmp_path / "lesson"
    lesson.mkdir()
    file = lesson / f"{name.removesuffix('.yaml')}.yaml"
    file.write_text(VAN.text.replace(VAN.title, "My own board"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    exercise = read_exercise({**MINIMAL, "vehicle": name}, "x")

    assert vehicle_of(exercise, Path("lesson")).title == "My own board"
    if name == "lighting_board":
        assert vehicle_of(exercise, tmp_path) == VAN


def test_where_a_vehicle_was_looked_for_is_said(tmp_path: Path) -> None:
    """A file of the folder one happens to be in is not what was meant."""
    exercise = read_exercise({**MINIMAL, "vehicle": "my_van.yaml"}, "x")

    with pytest.raises(VehicleError) as error:
        vehicle_of(exercise, tmp_path)

    assert str(error.value) == (
        "x40_fault: there is no vehicle 'my_van.yaml'. Looked for the file "
        f"{tmp_path / 'my_van.yaml'}, and among the vehicles of Ohmwork: "
        f"{', '.join(vehicle_names())}."
    )
