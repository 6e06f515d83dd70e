"""What a job is: vehicle, complaint, what may be wrong, what it is worth.

An exercise is a text file beside its lesson, ``<id>.exercise.yaml``, which a teacher
can change. Its pool says which faults are issued; it never travels to a learner.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ohmwork import faults
from ohmwork.circuits import circuit_of
from ohmwork.errors import OhmworkError, QuantityError, VehicleError
from ohmwork.faults import KINDS, Fault
from ohmwork.instruments import TOOLS
from ohmwork.parts import Control
from ohmwork.quantities import parse_quantity
from ohmwork.vehicle import Vehicle, load_vehicle, vehicle_names

FORMAT = "ohmwork exercise 1"
POINTS = {"conclusion": 40, "evidence": 30, "care": 10, "economy": 10, "repair": 10}
"""What a job is worth unless its exercise says otherwise."""

_REQUIRED = ("format", "id", "title", "brief", "vehicle", "states", "kinds")
_LISTS = ("states", "kinds", "tools", "hints", "pool")
_OPTIONAL = ("circuit", "practice", "passing", "tools", "points", "hints", "pool")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hint:
    """Help that costs marks."""

    price: int
    """[points]"""
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PoolEntry:
    """A fault that may be issued; a range is drawn from."""

    kind: str
    site: str
    low: float | None = None
    """[Ω]"""
    high: float | None = None
    """[Ω]"""

    def at(self, share: float) -> Fault:
        """Return the fault at a share from 0 to 1 of its range, on a ratio scale."""
        if self.low is None or self.high is None:
            return Fault(kind=self.kind, site=self.site)
        value = self.low * (self.high / self.low) ** share
        return Fault(kind=self.kind, site=self.site, resistance=float(f"{value:.3g}"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Exercise:
    """One job for a learner."""

    id: str
    title: str
    brief: str
    vehicle: str
    circuit: str = ""
    """The one circuit of the vehicle that the job is about; the whole if empty."""
    states: tuple[Mapping[str, str], ...]
    """Control positions the driver saw the trouble in, in the order of driving."""
    kinds: tuple[str, ...]
    """Kinds of fault that may be concluded."""
    practice: bool = False
    passing: bool = False
    """Whether a fault may show only now and then, so that looms are moved."""
    tools: tuple[str, ...] = tuple(TOOLS)
    points: Mapping[str, int]
    hints: tuple[Hint, ...] = ()
    pool: tuple[PoolEntry, ...] = ()

    @property
    def maximum(self) -> int:
        """Points for a perfect job. [points]"""
        return sum(self.points.values())

    def to_data(self) -> dict[str, Any]:
        """Return the exercise without its pool, as plain data."""
        return {
            "format": FORMAT,
            "id": self.id,
            "title": self.title,
            "brief": self.brief,
            "vehicle": self.vehicle,
            "circuit": self.circuit,
            "states": [dict(s) for s in self.states],
            "kinds": list(self.kinds),
            "practice": self.practice,
            "passing": self.passing,
            "tools": list(self.tools),
            "points": dict(self.points),
            "hints": [{"price": h.price, "text": h.text} for h in self.hints],
        }


def vehicle_source(exercise: Exercise, folder: Path) -> str | Path:
    """Return where an exercise's vehicle is: a file beside it, or a name of Ohmwork's.

    Parameters
    ----------
    exercise : what asks for a vehicle, whole or one circuit of it.
    folder : where the exercise's own file is.

    Raises
    ------
    VehicleError
        If there is neither.
    """
    name = exercise.vehicle
    own = folder / f"{name.removesuffix('.yaml')}.yaml"
    if own.exists():
        return own
    if name not in vehicle_names():
        raise VehicleError(
            f"{exercise.id}: there is no vehicle '{name}'. Looked for the file "
            f"{own.resolve()}, and among the vehicles of Ohmwork: "
            f"{', '.join(vehicle_names())}."
        )
    return name


def vehicle_of(exercise: Exercise, folder: Path) -> Vehicle:
    """Return the vehicle an exercise of this folder names; see `vehicle_source`."""
    return load_vehicle(vehicle_source(exercise, folder))


def scope(exercise: Exercise, vehicle: Vehicle) -> Vehicle:
    """Return what of a vehicle an exercise is about; what is cut already stays so.

    Raises
    ------
    UnknownNameError
        If the vehicle has no such circuit.
    """
    if not exercise.circuit or set(vehicle.circuits) == {exercise.circuit}:
        return vehicle
    return circuit_of(vehicle, exercise.circuit)


def load_exercise(path: Path) -> Exercise:
    """Return the exercise in a file.

    Raises
    ------
    VehicleError
        If the file has a mistake; the text names it and what is allowed.
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    try:
        data = YAML(typ="safe").load(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise VehicleError(f"{path.name}: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise VehicleError(f"{path.name} is not text in UTF-8.") from None
    except YAMLError as error:
        raise VehicleError(f"{path.name}: not valid YAML: {error}") from None
    return read_exercise(data, path.name)


def read_exercise(data: Any, file_name: str) -> Exercise:
    """Return the exercise that plain data describes; see `load_exercise`."""

    def need(condition: bool, message: str) -> None:
        if not condition:
            raise VehicleError(f"{file_name}: {message}")

    need(isinstance(data, dict), "write 'name: value' entries.")
    for key in _REQUIRED:
        need(key in data, f"'{key}' is missing.")
    for key in data:
        known = (*_REQUIRED, *_OPTIONAL)
        need(key in known, f"'{key}' is not known. Allowed are {', '.join(known)}.")
    need(data["format"] == FORMAT, f"format must be '{FORMAT}'.")
    for name in _LISTS:
        need(isinstance(data.get(name, []), list), f"{name}: write a list.")
    for name in ("states", "kinds", "tools"):
        need(len(data.get(name, TOOLS)) > 0, f"{name}: write at least one.")
    for name, allowed in (("kinds", KINDS), ("tools", TOOLS)):
        for item in data.get(name, ()):
            need(
                item in allowed, f"{name}: '{item}'. Allowed are {', '.join(allowed)}."
            )
    for state in data["states"]:
        need(isinstance(state, dict), 'states: write entries such as {S1: "on"}.')
    need(
        isinstance(data.get("points", {}), dict),
        "points: write 'name: value' entries.",
    )
    points = {**POINTS, **data.get("points", {})}
    need(set(points) == set(POINTS), f"points: allowed are {', '.join(POINTS)}.")
    for hint in data.get("hints", ()):
        need(
            isinstance(hint, dict) and set(hint) == {"price", "text"},
            "hints: each has a 'price' and a 'text'.",
        )
    hints = tuple(Hint(price=h["price"], text=h["text"]) for h in data.get("hints", ()))
    for what, number in (
        *((f"points: {name}", value) for name, value in points.items()),
        *(("hints: price", hint.price) for hint in hints),
    ):
        need(
            isinstance(number, int) and number >= 0,
            f"{what} is {number!r}. It must be a whole number from 0 on.",
        )
    return Exercise(
        id=data["id"],
        title=data["title"],
        brief=data["brief"],
        vehicle=data["vehicle"],
        circuit=data.get("circuit", ""),
        states=tuple({str(k): str(v) for k, v in s.items()} for s in data["states"]),
        kinds=tuple(data["kinds"]),
        practice=bool(data.get("practice", False)),
        passing=bool(data.get("passing", False)),
        tools=tuple(data.get("tools", TOOLS)),
        points=points,
        hints=hints,
        pool=tuple(_pool_entry(e, file_name) for e in data.get("pool", ())),
    )


def _pool_entry(entry: Any, file_name: str) -> PoolEntry:
    """Read one fault of the pool, with its range if the kind has one."""
    if not isinstance(entry, dict) or not {"kind", "site"} <= set(entry):
        raise VehicleError(f"{file_name}: pool: each has a 'kind' and a 'site'.")
    kind, site = str(entry["kind"]), str(entry["site"])
    ends = [entry[end] for end in ("from", "to") if end in entry]
    if len(ends) != (2 if kind in faults.RANGED else 0):
        raise VehicleError(
            f"{file_name}: pool, {site}: {kind} "
            + ("needs" if kind in faults.RANGED else "takes no")
            + " 'from' and 'to' in Ω."
        )
    if not ends:
        return PoolEntry(kind=kind, site=site)
    try:
        low, high = (parse_quantity(end, "Ω") for end in ends)
    except QuantityError as error:
        raise VehicleError(f"{file_name}: pool, {site}: {error}") from None
    if not 0.0 < low <= high:
        raise VehicleError(
            f"{file_name}: pool, {site}: from {ends[0]} to {ends[1]} is no range. "
            "It must begin above 0 and not end below its beginning."
        )
    return PoolEntry(kind=kind, site=site, low=low, high=high)


def check_exercise(exercise: Exercise, vehicle: Vehicle) -> None:
    """Raise `VehicleError` if the exercise asks for what the vehicle does not have."""
    for state in exercise.states:
        for name, position in state.items():
            part = vehicle.parts.get(name)
            if not isinstance(part, Control) or position not in part.positions:
                raise VehicleError(f"{exercise.id}: states: no {name} in '{position}'.")
    for entry in exercise.pool:
        try:
            faults.check(vehicle, Fault(kind=entry.kind, site=entry.site))
        except OhmworkError as error:
            raise VehicleError(f"{exercise.id}: pool: {error}") from None
        if entry.kind not in exercise.kinds:
            raise VehicleError(
                f"{exercise.id}: pool: {entry.kind} is not among the exercise's kinds."
            )
