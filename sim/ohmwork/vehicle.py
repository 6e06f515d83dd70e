"""A vehicle: a validated set of named parts, read from a file a teacher can change.

The file is YAML. A mistake in it is reported with file, line, part and what is allowed.
Voltages everywhere are measured from the minus post of the battery.
"""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from ohmwork.errors import (
    OhmworkError,
    QuantityError,
    UnknownNameError,
    VehicleError,
    unknown_name,
)
from ohmwork.parts import (
    PART_KINDS,
    PIN_FIELDS,
    Alternator,
    Battery,
    Body,
    Chafe,
    Control,
    Engine,
    GroundPoint,
    ModulePin,
    Part,
    Splice,
    Switch,
    SwitchContact,
    Wire,
)
from ohmwork.quantities import parse_quantity

FORMAT = "ohmwork vehicle 1"
P = TypeVar("P", bound=Part)
_TOP_KEYS = ("format", "name", "title", "battery", "rails", "controls", "parts")
_TOP_OPTIONAL = ("circuits", "states")
_NO_CONTROL = "is no switch, engine or potentiometer."
_ALIASES = {
    "start": "from",
    "end": "to",
    "area_mm2": "area",
    "temperature_celsius": "temperature",
    "stands": "positions",
    "pin_table": "pins",
}
"""Name of a field, to what a vehicle file calls it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """A named set of parts."""

    name: str
    title: str
    batteries: tuple[str, ...]
    """Names of the batteries in series; the minus post of the first is 0 V."""
    rails: Mapping[str, str]
    """Terminal mark of a rail (30, 31) to the place that feeds it."""
    controls: Mapping[str, str]
    """Part that a person can set, to what they call it."""
    circuits: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Name of each circuit, to the loads it serves: parts, or places of a part."""
    states: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    """Name of each state a driver puts the vehicle in, to the controls set for it."""
    parts: Mapping[str, Part]
    text: str
    """The file's own text."""

    def __getitem__(self, name: str) -> Part:
        """Return the part of this name, or say which names are near."""
        try:
            return self.parts[name]
        except KeyError:
            raise unknown_name("part", name, self.parts) from None

    @property
    def digest(self) -> str:
        """SHA-256 of the title and the file's text, in hexadecimal.

        One circuit of a vehicle has the same text and a title of its own.
        """
        return hashlib.sha256(f"{self.title}\n{self.text}".encode()).hexdigest()

    @property
    def places(self) -> tuple[str, ...]:
        """Every place, in the order of the file."""
        return tuple(place for part in self.parts.values() for place in part.places)

    @property
    def reachable(self) -> tuple[str, ...]:
        """Every place that a lead can touch; a splice is inside the loom."""
        parts = (p for p in self.parts.values() if not isinstance(p, Splice))
        return tuple(place for part in parts for place in part.places)

    @property
    def wired(self) -> frozenset[str]:
        """Places at which a wire arrives."""
        return frozenset(end for w in self.of_type(Wire) for end in (w.start, w.end))

    @property
    def reference(self) -> str:
        """The battery's minus post, against which voltages are measured."""
        return f"{self.batteries[0]}:-"

    @property
    def plus_post(self) -> str:
        """The battery's plus post; of the last one where several are in series."""
        return f"{self.batteries[-1]}:+"

    @property
    def supply_voltage(self) -> float:
        """What the charged and rested batteries give together. [V]"""
        return sum(
            b.open_circuit_voltage
            for b in self.of_type(Battery)
            if b.name in self.batteries
        )

    def control(self, name: str) -> Control:
        """Return the part of this name that a person can set."""
        part = self[name]
        if not isinstance(part, Control):
            raise unknown_name("control", name, self.controls)
        return part

    def part_of(self, place: str) -> Part:
        """Return the part a place belongs to, or say which places are near."""
        part = self.parts.get(place.partition(":")[0])
        if part is None:
            raise unknown_name("part", place.partition(":")[0], self.parts)
        if place not in part.places:
            names = ", ".join(f"'{p}'" for p in part.places) or "no place of its own"
            label = part.label or part.kind
            raise UnknownNameError(
                f"No place '{place}'. {label.capitalize()} {part.name} has {names}."
            )
        return part

    def ends(self, wire: str) -> tuple[str, str]:
        """Return the places that a wire joins, or say which wires are near."""
        part = self.parts.get(wire)
        if not isinstance(part, Wire):
            raise unknown_name("wire", wire, [w.name for w in self.of_type(Wire)])
        return part.start, part.end

    def of_type(self, cls: type[P]) -> tuple[P, ...]:
        """Return all parts of one class, in the order of the file."""
        return tuple(part for part in self.parts.values() if isinstance(part, cls))

    def with_part(self, part: Part) -> Vehicle:
        """Return a copy in which `part` is added or takes its namesake's place."""
        return dataclasses.replace(self, parts={**self.parts, part.name: part})

    def describe(self, name: str) -> str:
        """Return how a technician would call a part, such as ``wire W3 BN 2.5``."""
        part = self[name]
        if isinstance(part, Wire):
            return f"wire {name} {part.code}, {part.start} to {part.end}"
        return f"{part.label} {name}" if part.label else name


def first_upper(text: str) -> str:
    """Return a text with its first letter in upper case, names in it as they are."""
    return text[:1].upper() + text[1:]


def vehicle_names() -> tuple[str, ...]:
    """Return the names of the vehicles that come with Ohmwork."""
    folder = resources.files("ohmwork") / "vehicles"
    files = (entry.name for entry in folder.iterdir())
    return tuple(sorted(f.removesuffix(".yaml") for f in files if f.endswith(".yaml")))


def load_vehicle(source: str | Path) -> Vehicle:
    """Return the vehicle of this name or in this file.

    Parameters
    ----------
    source : name of a vehicle that comes with Ohmwork, or path of a YAML file.

    Raises
    ------
    UnknownNameError
        If there is neither such a name nor such a file.
    VehicleError
        If the file has a mistake; the text names file, line, part and what is allowed.
    """
    path = Path(source)
    if path.suffix != ".yaml":
        if str(source) not in vehicle_names():
            raise unknown_name("vehicle", str(source), vehicle_names())
        entry = resources.files("ohmwork") / "vehicles" / f"{source}.yaml"
        return read_vehicle(entry.read_text(encoding="utf-8"), f"{source}.yaml")
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise UnknownNameError(f"{path}: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise VehicleError(f"{path.name} is not text in UTF-8.") from None
    return read_vehicle(text, path.name)


@lru_cache(maxsize=32)
def read_vehicle(text: str, file_name: str = "vehicle") -> Vehicle:
    """Return the vehicle that a YAML text describes; see `load_vehicle`."""
    return _Reader(text, file_name).vehicle()


class _Reader:
    """One pass over a vehicle file, knowing the line of everything it reads."""

    def __init__(self, text: str, file_name: str) -> None:
        self.text = text
        self.file_name = file_name

    def fail(self, line: int | None, message: str) -> VehicleError:
        """Return an error that names the file and, if known, the line."""
        where = self.file_name if line is None else f"{self.file_name}, line {line + 1}"
        return VehicleError(f"{where}: {message}")

    def vehicle(self) -> Vehicle:
        """Read and validate the whole file."""
        top = self.mapping(self.parse(), None, "the file")
        self.keys(top, _TOP_KEYS, "the file", _TOP_OPTIONAL)
        if top["format"] != FORMAT:
            raise self.fail(
                top.lc.key("format")[0],
                f"format '{top['format']}' cannot be read. Write '{FORMAT}'.",
            )
        entries = self.mapping(top["parts"], top.lc.key("parts")[0], "parts")
        rails, controls = (
            self.mapping(top[key], top.lc.key(key)[0], key)
            for key in ("rails", "controls")
        )
        parts = {
            name: self.part(name, entry, entries.lc.key(name)[0])
            for name, entry in entries.items()
        }
        battery = top["battery"]
        batteries = battery if isinstance(battery, list) else [battery]
        vehicle = Vehicle(
            name=str(top["name"]),
            title=str(top["title"]),
            batteries=tuple(map(str, batteries)),
            rails={str(k): str(v) for k, v in rails.items()},
            controls={str(k): str(v) for k, v in controls.items()},
            circuits=self.circuits(top),
            states=self.states(top),
            parts=parts,
            text=self.text,
        )
        self.cross_check(vehicle, top, entries)
        return vehicle

    def circuits(self, top: Any) -> dict[str, tuple[str, ...]]:
        """Read which loads each circuit serves."""
        if "circuits" not in top:
            return {}
        at = top.lc.key("circuits")[0]
        return dict(self.table("list", top["circuits"], "circuits", at))

    def states(self, top: Any) -> dict[str, dict[str, str]]:
        """Read the states a driver puts the vehicle in."""
        if "states" not in top:
            return {}
        table = self.mapping(top["states"], top.lc.key("states")[0], "states")
        return {
            str(name): {
                str(control): str(position)
                for control, position in self.mapping(
                    entry, table.lc.key(name)[0], f"states: {name}"
                ).items()
            }
            for name, entry in table.items()
        }

    def parse(self) -> Any:
        """Return the YAML tree, with line numbers."""
        from ruamel.yaml import YAML
        from ruamel.yaml.constructor import DuplicateKeyError
        from ruamel.yaml.error import YAMLError

        try:
            return YAML(typ="rt").load(self.text)
        except DuplicateKeyError as error:
            line = error.problem_mark.line
            name = self.text.splitlines()[line].strip().partition(":")[0]
            first = error.context_mark.line
            for number, row in enumerate(self.text.splitlines()[first:line], first):
                if row.strip().partition(":")[0] == name:
                    first = number
                    break
            raise self.fail(
                line,
                f"two entries are called {name}; the first stands in line {first + 1}. "
                "Give each its own name.",
            ) from None
        except YAMLError as error:
            mark = getattr(error, "problem_mark", None)
            problem = getattr(error, "problem", None) or "cannot be read"
            raise self.fail(
                mark.line if mark else None, f"not valid YAML: {problem}."
            ) from None

    def mapping(self, node: Any, line: int | None, what: str) -> Any:
        """Return a node that must be a mapping."""
        if not hasattr(node, "lc") or not isinstance(node, Mapping):
            raise self.fail(line, f"{what} must be a list of 'name: value' entries.")
        return node

    def keys(
        self, node: Any, required: tuple[str, ...], what: str, optional: Any = ()
    ) -> None:
        """Check that a mapping has the keys it needs and no other."""
        for key in node:
            if key not in required and key not in optional:
                allowed = ", ".join((*required, *optional))
                raise self.fail(
                    node.lc.key(key)[0],
                    f"{what}: '{key}' is not known here. Allowed are {allowed}.",
                )
        for key in required:
            if key not in node:
                raise self.fail(node.lc.line, f"{what}: '{key}' is missing.")

    def part(self, name: Any, entry: Any, line: int) -> Part:
        """Read one part."""
        if not isinstance(name, str):
            raise self.fail(line, f"a part's name must be text, such as 'W{name}'.")
        entry = self.mapping(entry, line, name)
        if ":" in name:
            raise self.fail(line, f"'{name}': a part's name must hold no colon.")
        kind = str(entry.get("kind"))
        if kind not in PART_KINDS:
            raise self.fail(
                line,
                f"{name}: kind '{kind}' is unknown. "
                f"Allowed are {', '.join(PART_KINDS)}.",
            )
        cls = PART_KINDS[kind]
        if cls is Switch:
            return self.switch(name, entry, line)
        return self.build(cls, line, name=name, **self.fields(cls, entry, name))

    def fields(
        self, cls: type[Any], entry: Any, what: str, *, given: Collection[str] = ()
    ) -> dict[str, Any]:
        """Read the fields of a part, or of an entry in its table.

        Parameters
        ----------
        given : the fields that this entry may have; all of them by default.
        """
        fields = {
            _ALIASES.get(f.name, f.name): f
            for f in dataclasses.fields(cls)
            if f.name != "name" and "condition" not in f.metadata
        }
        if given:
            fields = {key: f for key, f in fields.items() if key in given}
        required = [k for k, f in fields.items() if f.default is dataclasses.MISSING]
        if cls in PART_KINDS.values():
            required.insert(0, "kind")
        self.keys(
            entry, tuple(required), what, [k for k in fields if k not in required]
        )
        return {
            fields[key].name: self.value(
                fields[key], value, f"{what}: {key}", entry.lc.key(key)[0]
            )
            for key, value in entry.items()
            if key != "kind"
        }

    def value(self, field: Any, value: Any, what: str, line: int) -> Any:
        """Read one value as its field asks."""
        if "unit" in field.metadata:
            return self.quantity(value, field.metadata["unit"], what, line)
        if "table" in field.metadata:
            return self.table(field.metadata["table"], value, what, line)
        if field.type == "bool":
            if not isinstance(value, bool):
                raise self.fail(line, f"{what}: '{value}' is not true or false.")
            return value
        if field.type.startswith("tuple"):
            return self.words(value, what, line)
        return str(value)

    def quantity(self, value: Any, unit: str, what: str, line: int) -> float:
        """Read a number with its unit."""
        try:
            return parse_quantity(value, unit)
        except QuantityError as error:
            raise self.fail(line, f"{what}: {error}") from None

    def words(self, value: Any, what: str, line: int) -> tuple[str, ...]:
        """Read a list of words."""
        if not isinstance(value, list):
            raise self.fail(line, f"{what}: write a list, such as [1, 2, 3].")
        return tuple(str(item) for item in value)

    def table(self, of: str | type[Any], node: Any, what: str, line: int) -> Any:
        """Read a table: name to quantity, to list of words, or to an entry."""
        entries = []
        for key, value in self.mapping(node, line, what).items():
            at = node.lc.key(key)[0]
            entry: Any
            if of is ModulePin:
                entry = self.pin(str(key), value, f"{what}: {key}", at)
            elif of == "list":
                entry = (str(key), self.words(value, f"{what}: {key}", at))
            else:
                entry = (str(key), self.quantity(value, str(of), f"{what}: {key}", at))
            entries.append(entry)
        return tuple(entries)

    def pin(self, name: str, node: Any, what: str, line: int) -> ModulePin:
        """Read one pin of a module."""
        entry = self.mapping(node, line, what)
        does = str(entry.get("does"))
        if does not in PIN_FIELDS:
            allowed = ", ".join(PIN_FIELDS)
            raise self.fail(line, f"{what}: does '{does}'. Allowed are {allowed}.")
        given = {"does", *PIN_FIELDS[does]}
        return ModulePin(name=name, **self.fields(ModulePin, entry, what, given=given))

    def switch(self, name: str, entry: Any, line: int) -> Part:
        """Read a switch, whose contacts are a table of their own."""
        self.keys(
            entry,
            ("kind", "positions", "contacts", "contact_resistance"),
            name,
            ("label",),
        )

        def at(key: str) -> int:
            return int(entry.lc.key(key)[0])

        resistance = self.quantity(
            entry["contact_resistance"],
            "Ω",
            f"{name}: contact_resistance",
            at("contact_resistance"),
        )
        if resistance <= 0.0:
            raise self.fail(
                at("contact_resistance"), f"{name}: contact_resistance must be above 0."
            )
        positions = self.words(
            entry["positions"], f"{name}: positions", at("positions")
        )
        contacts = []
        for key, closed_in in self.table(
            "list", entry["contacts"], f"{name}: contacts", at("contacts")
        ):
            start, dash, end = key.partition("-")
            if not dash:
                given = next(k for k in entry["contacts"] if str(k) == key)
                raise self.fail(
                    entry["contacts"].lc.key(given)[0],
                    f"{name}: write a contact as 30-58: [side, dip], terminals first.",
                )
            contacts.append(
                SwitchContact(
                    start=start, end=end, closed_in=closed_in, resistance=resistance
                )
            )
        return self.build(
            Switch,
            line,
            name=name,
            label=str(entry.get("label", "")),
            positions=positions,
            contacts=tuple(contacts),
        )

    def build(self, cls: type[Part], line: int, **values: Any) -> Part:
        """Make the part; its own checks speak with file and line."""
        try:
            return cls(**values)
        except VehicleError as error:
            raise self.fail(line, str(error)) from None

    def cross_check(self, vehicle: Vehicle, top: Any, entries: Any) -> None:
        """Check that everything that is named exists."""
        parts = vehicle.parts
        for part in parts.values():
            line = entries.lc.key(part.name)[0]
            if isinstance(part, Wire):
                self.exists(vehicle, part.start, line, part.name)
                self.exists(vehicle, part.end, line, part.name)
                if part.start == part.end:
                    raise self.fail(line, f"{part.name} starts and ends at {part.end}.")
            if isinstance(part, GroundPoint):
                self.exists(vehicle, part.body, line, part.name)
        for name in vehicle.batteries:
            if not isinstance(parts.get(name), Battery):
                line = top.lc.key("battery")[0]
                raise self.fail(line, f"battery: {name} is no battery.")
        for name in vehicle.controls:
            if not isinstance(parts.get(name), Control):
                line = top.lc.key("controls")[0]
                raise self.fail(
                    line, f"controls: {name} is no switch or other control."
                )
        self.check_positions(vehicle, top, entries)
        for mark in ("30", "31"):
            if mark not in vehicle.rails:
                raise self.fail(top.lc.key("rails")[0], f"rails: '{mark}' is missing.")
        for mark, place in vehicle.rails.items():
            self.exists(vehicle, place, top.lc.key("rails")[0], f"rail {mark}")
        wired = vehicle.wired
        for part in parts.values():
            if isinstance(part, (Wire, Body, Chafe, Engine)):
                continue
            if not wired.intersection(part.places):
                line = entries.lc.key(part.name)[0]
                raise self.fail(line, f"{part.name} has no wire. Join it or remove it.")

    def exists(self, vehicle: Vehicle, place: str, line: int, what: str) -> None:
        """Check that a place that is named exists."""
        try:
            vehicle.part_of(place)
        except OhmworkError as error:
            raise self.fail(line, f"{what}: {error}") from None

    def check_positions(self, vehicle: Vehicle, top: Any, entries: Any) -> None:
        """Check what names a control's position, and the loads of circuits."""

        def stands(name: str, positions: Collection[str], line: int, what: str) -> None:
            part = vehicle.parts.get(name)
            if not isinstance(part, Control):
                raise self.fail(line, f"{what}: {name} {_NO_CONTROL}")
            for position in positions:
                if position not in part.positions:
                    raise self.fail(
                        line,
                        f"{what}: {name} has no position '{position}'. "
                        f"It has {', '.join(part.positions)}.",
                    )

        for part in vehicle.parts.values():
            line = entries.lc.key(part.name)[0]
            if isinstance(part, Engine):
                for name, positions in part.needs:
                    stands(name, positions, line, f"{part.name}: needs")
            if isinstance(part, Alternator):
                turning = [position for position, _ in part.output]
                stands(part.engine, turning, line, f"{part.name}: output")
        for state, controls in vehicle.states.items():
            line = top["states"].lc.key(state)[0]
            for name, position in controls.items():
                stands(name, [position], line, f"states: {state}")
        for circuit, loads in vehicle.circuits.items():
            for load in loads:
                line = top["circuits"].lc.key(circuit)[0]
                if ":" in load:
                    self.exists(vehicle, load, line, f"circuits: {circuit}")
                elif load not in vehicle.parts:
                    raise self.fail(line, f"circuits: {circuit}: no part '{load}'.")
