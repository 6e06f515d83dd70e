"""Many circuits that are almost alike, solved by one ngspice process.

The fastest way found to make ngspice solve one circuit with thousands of faults, and so
also the yardstick of the benchmarks. Circuits that differ in values are points of one
sweep of ngspice's temperature, of which their values are functions: ``.dc temp`` then
alters resistances from point to point, keeps the order in which the matrix is
eliminated, starts each point from the one before and writes all points at once.
``alter`` and ``op`` for every point set the matrix up anew and take twice as long.

Options are ngspice's own, with one help: ``.nodeset`` starts the first point of a sweep
near its answer. From nothing Newton's method swings to and fro between the flat sides
of current limits (an alternator's, a sensor reference's), and ngspice then lowers gmin
in some twenty steps, which gives the same answer fourteen times later.

ngspice stops when a step moves no voltage by more than 0.1 %, so an answer may be off
by about as much. Asked again from there it is exact.

An open path that has to close at another point of its sweep is `OPEN`; one that is open
at all points is left out. An island that nothing holds gets `LEAK` to the reference.
"""

import subprocess
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ngspice_netlist import Bent, Circuit, Element, Key, Resistor

OPEN = 1e18
"""[Ω]"""
LEAK = 1e9
"""From an island that nothing holds. [Ω]"""
HELD = 1e20
"""In its place at points where something holds the island. [Ω]"""

MOST_POINTS = 100
"""Of one sweep."""
MOST_EXTRA = 12
"""Bent laws in a sweep that the common circuit lacks: they cost at every point."""


class UnsolvedError(Exception):
    """ngspice has found no answer, by any of its ways."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """How one circuit differs from the common one."""

    elements: Circuit = field(default_factory=dict)
    """Elements that are new or have other values."""
    missing: frozenset[Key] = frozenset()
    """Elements of the common circuit that it lacks."""


def change(
    common: Circuit, new: Circuit, replaced: Iterable[Key] | None = None
) -> Change:
    """Return how a circuit differs from the common one.

    Parameters
    ----------
    common : the circuit that all share.
    new : its elements, or those in place of `replaced`.
    replaced : keys of `common`; all by default.
    """
    return Change(
        elements={key: e for key, e in new.items() if common.get(key) != e},
        missing=frozenset(common if replaced is None else replaced).difference(new),
    )


@dataclass(frozen=True, slots=True)
class Answer:
    """What ngspice finds in one circuit."""

    columns: Mapping[str, int]
    """Place, to its entry in `voltages`."""
    voltages: NDArray[np.float64]
    """Against the reference. [V]"""
    islands: Sequence[Sequence[str]]
    """Places of each island that nothing holds; only their differences count."""

    def volts(self, a: str, b: str | None = None) -> float:
        """Return the voltage of a place, over another if one is named. [V]"""
        base = 0.0 if b is None else self.volts(b)
        return float(self.voltages[self.columns[a]]) - base


class Islands:
    """Finds what nothing holds, given how a circuit differs from the common one."""

    def __init__(self, common: Circuit, reference: str) -> None:
        self.common, self.reference = common, reference
        self.next: dict[str, list[tuple[str, Key]]] = {reference: []}
        for key, element in common.items():
            self.next.setdefault(element.a, [])
            self.next.setdefault(element.b, [])
            if element.holds:
                self.next[element.a].append((element.b, key))
                self.next[element.b].append((element.a, key))
        self.usual = self._find(frozenset(), [])

    def of(self, change: Change) -> list[list[str]]:
        """Return the places of every island that nothing holds."""
        gone = [k for k in change.missing if self.common[k].holds]
        made = []
        for key, element in change.elements.items():
            before = key in self.common and self.common[key].holds
            if before and not element.holds:
                gone.append(key)
            elif (element.holds and not before) or key not in self.common:
                made.append(element)
        return self._find(frozenset(gone), made) if gone or made else self.usual

    def _find(self, gone: frozenset[Key], made: Sequence[Element]) -> list[list[str]]:
        more: dict[str, list[str]] = {}
        for element in made:
            ends = (element.a, element.b)
            for a, b in (ends, ends[::-1]):
                more.setdefault(a, []).extend([b] if element.holds else [])
        seen: set[str] = set()
        islands = []
        for start in (self.reference, *self.next, *more):
            if start in seen:
                continue
            seen.add(start)
            island = [start]
            for place in island:
                beside = [b for b, k in self.next.get(place, ()) if k not in gone]
                for other in beside + more.get(place, []):
                    if other not in seen:
                        seen.add(other)
                        island.append(other)
            islands.append(island)
        return islands[1:]


def _groups(changes: Sequence[Change], rows: Iterable[int]) -> Iterator[list[int]]:
    """Divide the circuits into sweeps, those without bent laws of their own first."""
    own = {
        row: {k for k, e in changes[row].elements.items() if isinstance(e, Bent)}
        for row in rows
    }
    group: list[int] = []
    extra: set[Key] = set()
    for row in sorted(own, key=lambda row: len(own[row])):
        if group and (len(group) == MOST_POINTS or len(extra | own[row]) > MOST_EXTRA):
            yield group
            group, extra = [], set()
        group.append(row)
        extra |= own[row]
    yield group


class _Sweep:
    """The netlist of some circuits, one a point of a sweep."""

    def __init__(
        self,
        common: Circuit,
        changes: Sequence[Change],
        islands: Sequence[Sequence[Sequence[str]]],
        rows: Sequence[int],
        reference: str,
        near: Mapping[str, float],
    ) -> None:
        self.common, self.rows, self.near = common, rows, near
        self.changes = [changes[row] for row in rows]
        self.islands = [islands[row] for row in rows]
        self.reference = reference
        self.nodes = {reference: "0"}
        self.lines: list[str] = []
        altered: dict[Key, Element] = {}
        for c in self.changes:
            altered.update((key, common[key]) for key in c.missing)
            altered.update(c.elements)
        for key, element in (common | altered).items():
            a, b = self.node(element.a), self.node(element.b)
            if key in altered:
                self.altered(key, element, a, b)
            elif element.conducts:
                self.write(element, a, b, self.constants(element))
        held: dict[str, list[str]] = {}
        for point, found in enumerate(self.islands):
            for island in found:
                points = held.setdefault(island[0], [repr(HELD)] * len(rows))
                points[point] = repr(LEAK)
        for anchor, values in held.items():
            self.resistor(self.node(anchor), "0", _by_point(values))

    def node(self, place: str) -> str:
        return self.nodes.setdefault(place, f"n{len(self.nodes)}")

    def constants(self, element: Element) -> list[str]:
        """Return the numbers of an element as they stand."""
        if isinstance(element, Bent):
            return [repr(number) for number in element.numbers]
        return [repr(element.ohms if element.conducts else OPEN)]

    def altered(self, key: Key, known: Element, a: str, b: str) -> None:
        """Write an element whose numbers depend on the point."""
        usual = self.common.get(key)
        absent = (
            [repr(OPEN)]
            if isinstance(known, Resistor)
            else ["0.0", *self.constants(known)[1:]]
        )
        standard = absent if usual is None else self.constants(usual)
        points = []
        for c in self.changes:
            if key in c.elements:
                points.append(self.constants(c.elements[key]))
            else:
                points.append(absent if key in c.missing else standard)
        numbers = [_by_point(column) for column in zip(*points, strict=True)]
        if numbers[0] not in (repr(OPEN), "0.0"):
            self.write(known, a, b, numbers)

    def write(self, element: Element, a: str, b: str, numbers: Sequence[str]) -> None:
        if isinstance(element, Resistor):
            self.resistor(a, b, numbers[0])
        else:
            formula = element.formula.format(*numbers, v=f"v({a},{b})")
            self.lines.append(f"B{len(self.lines)} {a} {b} i={formula}")

    def resistor(self, a: str, b: str, ohms: str) -> None:
        value = f"'{ohms}'" if "temper" in ohms else ohms
        self.lines.append(f"R{len(self.lines)} {a} {b} {value}")

    def text(self) -> str:
        """Return the netlist."""
        starts = [
            f".nodeset v({node})={self.near[place]!r}"
            for place, node in self.nodes.items()
            if node != "0" and place in self.near
        ]
        return "\n".join(("one sweep", *self.lines, *starts, ".end", ""))

    def answers(self, path: Path) -> Mapping[int, Answer]:
        """Read the answers of the circuits up to the first that has none."""
        if not path.exists():
            return {}
        header, _, data = path.read_bytes().partition(b"Binary:\n")
        lines = header.decode("ascii").split("Variables:\n")[1].splitlines()
        names = {line.split()[1]: int(line.split()[0]) for line in lines}
        table = np.frombuffer(data).reshape(-1, len(names)).copy()
        # The sweep's own column becomes the reference's.
        columns = {self.reference: names["temp-sweep"]}
        table[:, names["temp-sweep"]] = 0.0
        for place, node in self.nodes.items():
            if node != "0":
                columns[place] = names[f"v({node})"]
        return {
            row: Answer(columns, voltages, islands)
            for row, voltages, islands in zip(
                self.rows, table, self.islands, strict=False
            )
        }


def _by_point(values: Sequence[str], first: int = 0) -> str:
    """Return values as a function of the point: questions that halve the points."""
    if len(set(values)) == 1:
        return values[0]
    half = len(values) // 2
    low = _by_point(values[:half], first)
    high = _by_point(values[half:], first + half)
    return f"(temper<{first + half - 0.5} ? {low} : {high})"


def solve(
    ngspice: str,
    folder: Path,
    common: Circuit,
    changes: Sequence[Change],
    reference: str,
    near: Callable[[int], Mapping[str, float]] = lambda _: {},
) -> list[Answer]:
    """Return ngspice's answer for every circuit.

    Parameters
    ----------
    ngspice : path of the program.
    folder : for its files.
    common : the circuit that all share.
    changes : how each differs.
    reference : the place that is 0 V.
    near : gives voltages near the answer of one of the circuits, where known. [V]

    Raises
    ------
    UnsolvedError
        If there is a circuit that it cannot solve.
    """
    find = Islands(common, reference)
    islands = [find.of(c) for c in changes]
    answers: dict[int, Answer] = {}
    rows = list(range(len(changes)))
    while rows:
        sweeps = [
            _Sweep(common, changes, islands, group, reference, near(group[0]))
            for group in _groups(changes, rows)
        ]
        errors = _run(ngspice, folder, sweeps)
        for number, sweep in enumerate(sweeps):
            found = sweep.answers(folder / f"{number}.raw")
            if not found:
                raise UnsolvedError(f"circuit {sweep.rows[0]}: {errors[-2000:]}")
            answers.update(found)
        rows = [row for row in rows if row not in answers]
    return [answers[row] for row in range(len(changes))]


def _run(ngspice: str, folder: Path, sweeps: Sequence[_Sweep]) -> str:
    """Run all sweeps; return what ngspice has complained of."""
    script = ["sweeps", ".control", "set filetype=binary"]
    for number, sweep in enumerate(sweeps):
        (folder / f"{number}.raw").unlink(missing_ok=True)
        (folder / f"{number}.cir").write_text(sweep.text(), encoding="ascii")
        script += [
            f"source {number}.cir",
            f"dc temp 0 {len(sweep.rows) - 1} 1",
            f"write {number}.raw",
            "remcirc",
            "destroy all",
        ]
    script += ["quit", ".endc", ".end", ""]
    (folder / "all.sp").write_text("\n".join(script), encoding="ascii")
    return subprocess.run(
        [ngspice, "-b", "all.sp"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    ).stderr
