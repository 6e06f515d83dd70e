"""A vehicle: a validated set of named parts, read from a file a teacher can change.

The file is YAML. A mistake in it is reported with file, line, part and what is allowed.
Voltages everywhere are measured from the minus post of the battery.
"""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
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
    Body,
    Chafe,
    GroundPoint,
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """A named set of parts."""

    name: str
    title: str
    battery: str
    """Name of the battery; its minus post is 0 V."""
    rails: Mapping[str, str]
    """Terminal mark of a rail (30, 31) to the place that feeds it."""
    controls: Mapping[str, str]
    """Switch a driver can set, to what the driver calls it."""
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
        """SHA-256 of the file's text, in hexadecimal."""
        return hashlib.sha256(self.text.encode()).hexdigest()

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
    def reference(self) -> str:
        """The minus post of the battery."""
        return f"{self.battery}:-"

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
        self.keys(top, _TOP_KEYS, "the file")
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
        vehicle = Vehicle(
            name=str(top["name"]),
            title=str(top["title"]),
            battery=str(top["battery"]),
            rails={str(k): str(v) for k, v in rails.items()},
            controls={str(k): str(v) for k, v in controls.items()},
            parts=parts,
            text=self.text,
        )
        self.cross_check(vehicle, top, entries)
        return vehicle

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
        fields = {f.name: f for f in dataclasses.fields(cls)}
        aliases = {"from": "start", "to": "end", "area": "area_mm2",
                   "temperature": "temperature_celsius"}  # fmt: skip
        if cls is Switch:
            return self.switch(name, entry, line)
        hidden = {"name", "added_resistance", "blown"}
        names = {
            next((a for a, f in aliases.items() if f == field), field): field
            for field in fields
            if field not in hidden
        }
        needed = tuple(
            key
            for key, field in names.items()
            if fields[field].default is dataclasses.MISSING
        )
        optional = tuple(key for key in names if key not in needed)
        self.keys(entry, ("kind", *needed), name, optional)
        values: dict[str, Any] = {}
        for key, value in entry.items():
            if key == "kind":
                continue
            at = entry.lc.key(key)[0]
            values[names[key]] = self.value(
                fields[names[key]], value, f"{name}: {key}", at
            )
        return self.build(cls, line, name=name, **values)

    def value(self, field: Any, value: Any, what: str, line: int) -> Any:
        """Read one value as its field asks."""
        if "unit" in field.metadata:
            try:
                return parse_quantity(value, field.metadata["unit"])
            except QuantityError as error:
                raise self.fail(line, f"{what}: {error}") from None
        if field.type == "bool":
            if not isinstance(value, bool):
                raise self.fail(line, f"{what}: '{value}' is not true or false.")
            return value
        if field.type.startswith("tuple"):
            if not isinstance(value, list):
                raise self.fail(line, f"{what}: write a list, such as [1, 2, 3].")
            return tuple(str(item) for item in value)
        return str(value)

    def switch(self, name: str, entry: Any, line: int) -> Part:
        """Read a switch, whose contacts are a table of their own."""
        self.keys(
            entry,
            ("kind", "positions", "contacts", "contact_resistance"),
            name,
            ("label",),
        )
        at = entry.lc.key("contact_resistance")[0]
        try:
            resistance = parse_quantity(entry["contact_resistance"], "Ω")
        except QuantityError as error:
            raise self.fail(at, f"{name}: contact_resistance: {error}") from None
        if resistance <= 0.0:
            raise self.fail(at, f"{name}: contact_resistance must be above 0.")
        positions = entry["positions"]
        if not isinstance(positions, list):
            at = entry.lc.key("positions")[0]
            raise self.fail(at, f"{name}: positions: write a list, such as [off, on].")
        table = self.mapping(entry["contacts"], line, f"{name}: contacts")
        contacts = []
        for key, closed_in in table.items():
            start, dash, end = str(key).partition("-")
            if not dash or not isinstance(closed_in, list):
                raise self.fail(
                    table.lc.key(key)[0],
                    f"{name}: write a contact as 30-58: [side, dip], terminals first.",
                )
            contacts.append(
                SwitchContact(
                    start=start,
                    end=end,
                    closed_in=tuple(str(p) for p in closed_in),
                    resistance=resistance,
                )
            )
        return self.build(
            Switch,
            line,
            name=name,
            label=str(entry.get("label", "")),
            positions=tuple(str(p) for p in positions),
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

        def exists(place: str, line: int, what: str) -> None:
            try:
                vehicle.part_of(place)
            except OhmworkError as error:
                raise self.fail(line, f"{what}: {error}") from None

        for part in vehicle.parts.values():
            line = entries.lc.key(part.name)[0]
            if isinstance(part, Wire):
                exists(part.start, line, part.name)
                exists(part.end, line, part.name)
                if part.start == part.end:
                    raise self.fail(line, f"{part.name} starts and ends at {part.end}.")
            if isinstance(part, GroundPoint):
                exists(part.body, line, part.name)
        for key, cls in (("battery", "battery"), ("controls", "switch")):
            for name in [top[key]] if key == "battery" else top[key]:
                if getattr(vehicle.parts.get(str(name)), "kind", None) != cls:
                    raise self.fail(top.lc.key(key)[0], f"{key}: {name} is no {cls}.")
        for mark in ("30", "31"):
            if mark not in vehicle.rails:
                raise self.fail(top.lc.key("rails")[0], f"rails: '{mark}' is missing.")
        for mark, place in vehicle.rails.items():
            exists(place, top.lc.key("rails")[0], f"rail {mark}")
        joined = {end for w in vehicle.of_type(Wire) for end in (w.start, w.end)}
        for part in vehicle.parts.values():
            if isinstance(part, (Wire, Body, Chafe)):
                continue
            if not joined.intersection(part.places):
                line = entries.lc.key(part.name)[0]
                raise self.fail(line, f"{part.name} has no wire. Join it or remove it.")
