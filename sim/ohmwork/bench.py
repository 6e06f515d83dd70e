"""A vehicle on the bench: what a learner does to it, and the log of every act.

The `Rig` is the vehicle with its controls, pulled parts and connected tool; it can be
one vehicle or many variants of one at once, so that the same acts can be replayed on
every fault a learner might have had in mind. The `Bench` is what a learner works on:
it adds readings, notes, incidents, the conclusion and the log.

Acts are plain dictionaries, in order. Undo is an act too: it adds to the log and takes
back what was set, never what was damaged.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from ohmwork import faults
from ohmwork.errors import NotPossibleError, UnknownNameError, unknown_name
from ohmwork.faults import KINDS, Fault
from ohmwork.instruments import (
    FEED_BREAKER,
    JUMPER_FUSE,
    METER,
    METER_FUSE,
    TOOLS,
    Hookup,
    Outcome,
    Reading,
    attachment,
    light_word,
    measure,
    reading,
)
from ohmwork.network import Network, OperatingPoint, Setup
from ohmwork.parts import Connector, Fuse, Lamp, Part, Relay, Switch
from ohmwork.symptoms import State, drive
from ohmwork.vehicle import Vehicle, first_upper

SECONDS = {
    "set_control": 5, "unplug": 60, "plug": 30, "use": 5, "place": 15, "lift": 5,
    "read": 10, "repair": 900,
}  # fmt: skip
"""What each act costs a technician. [s] Assumed; other acts cost nothing."""

MOST_ACTS = 5000
"""That a job card holds; see its schema."""

MOST_ROWS = 20
"""Of a conclusion; see the schema of the job card."""

_TOOL_FUSES = (METER_FUSE.name, FEED_BREAKER.name, JUMPER_FUSE.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Incident:
    """Something a careful technician would not have let happen."""

    action: int
    """Number of the act that caused it."""
    kind: str
    text: str


class Rig:
    """One vehicle, or many variants of it, with controls and a tool.

    Parameters
    ----------
    network : of the vehicle, or of its variants.
    driven : control positions it was driven in before it came in; what blew is blown.
    """

    def __init__(self, network: Network, driven: Sequence[State] = ()) -> None:
        self.network = network
        self.setup = Setup()
        self.hookup = Hookup()
        self.point = drive(network, (*driven, {}))[-1]

    @property
    def vehicle(self) -> Vehicle:
        """The vehicle as its papers show it."""
        return self.network.vehicle

    def change(self, setup: Setup, hookup: Hookup) -> None:
        """Set controls, pulled parts and tool, and let the circuit settle."""
        was_active, tool_changed = self.hookup.is_active, hookup != self.hookup
        settled_anew = setup != self.setup or hookup.is_active or was_active
        self.setup, self.hookup = setup, hookup
        if not settled_anew:
            return
        self._settle(renewed=_TOOL_FUSES if tool_changed else ())

    def measure(self) -> Outcome:
        """Return what the connected tool gives."""
        return measure(self.network, self.setup, self.hookup, self.point)

    def exchange(self, network: Network, renewed: str) -> None:
        """Take on another network, in which a part has been renewed."""
        self.network = network
        self._settle(renewed=(renewed,))

    def _settle(self, renewed: Iterable[str]) -> None:
        """Let the circuit settle with the tool in it; `renewed` fuses are whole."""
        hookup, network = self.hookup, self.network
        self.point = network.settle(
            self.setup,
            attachment(self.vehicle, hookup) if hookup.is_active else None,
            start=self.point,
            blown=dict.fromkeys(renewed, network.same(0.0)),
        )


def after(
    setup: Setup, hookup: Hookup, action: Mapping[str, Any]
) -> tuple[Setup, Hookup]:
    """Return how things stand after one electrical act.

    Parameters
    ----------
    setup, hookup : how they stand before.
    action : set_control, unplug, plug, use, place or lift, as in the log.
    """
    match action["do"]:
        case "set_control":
            controls = {**setup.controls, action["part"]: action["position"]}
            setup = dataclasses.replace(setup, controls=controls)
        case "unplug":
            setup = dataclasses.replace(setup, apart=setup.apart | {action["part"]})
        case "plug":
            setup = dataclasses.replace(setup, apart=setup.apart - {action["part"]})
        case "use":
            same_leads = {hookup.tool, action["tool"]} <= METER
            hookup = dataclasses.replace(
                hookup if same_leads else Hookup(), tool=action["tool"]
            )
        case "place" | "lift":
            lead = {"A": "lead_a", "B": "lead_b"}[action["lead"]]
            changes: dict[str, Any] = {lead: action.get("place")}
            hookup = dataclasses.replace(hookup, **changes)
    return setup, hookup


@dataclass(frozen=True, slots=True)
class _Before:
    """What undo goes back to."""

    setup: Setup
    hookup: Hookup
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A reading the learner wrote down; notes are the evidence."""

    number: int
    action: int
    """Number of the act that took the reading."""
    setup: Setup
    """How controls and plugs stood."""
    reading: Reading


class Bench:
    """What a learner works on.

    Parameters
    ----------
    vehicle : as its papers show it.
    fault : what is wrong with it; never shown.
    driven : control positions it was driven in before it came in.
    tools : names of the tools that are allowed.
    """

    def __init__(
        self,
        vehicle: Vehicle,
        fault: Fault | None = None,
        *,
        driven: Sequence[State] = (),
        tools: Sequence[str] = tuple(TOOLS),
    ) -> None:
        self.vehicle = vehicle
        self.tools = tuple(tools)
        self._faulty = vehicle if fault is None else faults.inject(vehicle, fault)
        self._rig = Rig(Network(self._faulty), driven)
        self._undo: list[_Before] = []
        self._heard: tuple[str, ...] = ()
        self._lived: Setup | None = None
        """Where ohms met a live circuit last; looking again is no new mistake."""
        self.actions: list[dict[str, Any]] = []
        self.incidents: list[Incident] = []
        self.notes: tuple[Note, ...] = ()
        self.reading: Reading | None = None
        """The reading now displayed."""
        self.conclusion: tuple[tuple[str, str], ...] = ()
        self.repaired: tuple[str, ...] = ()
        self.is_handed_in = False
        self.on_act: Callable[[], None] = lambda: None
        """Called after every act that enters the log."""

    def __repr__(self) -> str:
        """Return what a person could see, nothing more."""
        return f"<Bench: {self.vehicle.title}; {len(self.actions)} actions>"

    # -- what can be seen without a tool --

    @property
    def setup(self) -> Setup:
        """Controls and parts that are apart."""
        return self._rig.setup

    @property
    def hookup(self) -> Hookup:
        """The tool in use and its leads."""
        return self._rig.hookup

    @property
    def seconds(self) -> int:
        """Time the work has taken so far. [s]"""
        return sum(SECONDS.get(a["do"], 0) for a in self.actions)

    def position(self, control: str) -> str:
        """Return where a control stands."""
        return self._rig.network.position(self.setup, control)

    def lights(self) -> dict[str, float]:
        """Return the light of each lamp over its rated light. [-]"""
        point = self._rig.point
        return {p.name: float(point.light(p.name)) for p in self.vehicle.of_type(Lamp)}

    @property
    def sights(self) -> tuple[str, ...]:
        """What can be seen and heard now, a sentence each."""
        lamps = [
            f"{first_upper(self.vehicle.describe(name))} {light_word(light)}."
            for name, light in self.lights().items()
        ]
        apart = [
            f"{first_upper(self.vehicle.describe(name))} is "
            f"{'apart' if isinstance(self.vehicle[name], Connector) else 'out'}."
            for name in sorted(self.setup.apart)
        ]
        return (*lamps, *self._heard, *apart)

    def can_touch(self, place: str) -> None:
        """Raise unless a lead can touch this place as things stand."""
        part = self.vehicle.part_of(place)
        if place not in self.vehicle.reachable:
            raise NotPossibleError(
                f"{place} is inside the loom. Choose a place at the end of a wire."
            )
        hidden = isinstance(part, (Fuse, Relay)) and place in part.pins
        if hidden and part.name not in self.setup.apart:
            raise NotPossibleError(f"{part.name} is fitted. Pull it to touch its pins.")

    # -- acts --

    def set_control(self, part: str, position: str) -> None:
        """Set what the driver can set."""
        if part not in self.vehicle.controls:
            raise unknown_name("control", part, self.vehicle.controls)
        switch = self.vehicle[part]
        assert isinstance(switch, Switch)
        if position not in switch.positions:
            raise unknown_name(f"position of {part}", position, switch.positions)
        self._do({"do": "set_control", "part": part, "position": position})

    def unplug(self, part: str) -> None:
        """Open a connector, or pull a fuse or a relay."""
        if self._plug(part).name in self.setup.apart:
            raise NotPossibleError(f"{part} is apart already.")
        self._do({"do": "unplug", "part": part})

    def plug(self, part: str) -> None:
        """Join a connector again, or refit a fuse or a relay."""
        if self._plug(part).name not in self.setup.apart:
            raise NotPossibleError(f"{part} is fitted already.")
        for lead, place in (("A", self.hookup.lead_a), ("B", self.hookup.lead_b)):
            if place in self._plug(part).pins and not isinstance(
                self.vehicle[part], Connector
            ):
                raise NotPossibleError(f"Lead {lead} is on {place}. Lift it first.")
        self._do({"do": "plug", "part": part})

    def use(self, tool: str) -> None:
        """Take another tool; the meter's leads stay placed between its own ranges."""
        if tool not in self.tools:
            raise unknown_name("tool", tool, self.tools)
        self._do({"do": "use", "tool": tool})

    def place(self, lead: str, place: str) -> None:
        """Put lead A or lead B on a place."""
        self._lead(lead)
        self.can_touch(place)
        self._do({"do": "place", "lead": lead, "place": place})

    def lift(self, lead: str) -> None:
        """Take a lead off."""
        self._lead(lead)
        self._do({"do": "lift", "lead": lead})

    def read(self) -> Reading:
        """Return what the tool shows now; looking at a display takes its time."""
        outcome = self._rig.measure()
        shown = reading(self.vehicle, self.hookup, outcome)
        with self._act({"do": "read", "shown": shown.text}):
            self.reading = shown
            if outcome.channels.get("live") and self._lived != self.setup:
                self._lived = self.setup
                self._incident("ohms_on_live", "Ohms on a live circuit")
        return shown

    def note(self) -> Note:
        """Write down the reading now displayed."""
        if self.reading is None:
            raise NotPossibleError("There is no reading to note. Take one first.")
        taken = max(a["n"] for a in self.actions if a["do"] == "read")
        if any(note.action == taken for note in self.notes):
            raise NotPossibleError("This reading is noted already.")
        note = Note(
            number=len(self.notes) + 1,
            action=taken,
            setup=self.setup,
            reading=self.reading,
        )
        with self._act({"do": "note"}):
            self._remember()
            self.notes = (*self.notes, note)
        return note

    def undo(self) -> None:
        """Take back the last act on controls, leads, plugs or notes; never damage."""
        if not self._undo:
            raise NotPossibleError("There is nothing to undo.")
        with self._act({"do": "undo"}):
            before = self._undo.pop()
            self.notes = before.notes
            self._change(before.setup, before.hookup)

    def hint(self, number: int) -> None:
        """Log that a hint was shown; its price is in the exercise."""
        with self._act({"do": "hint", "number": number}):
            pass

    def conclude(self, rows: Iterable[tuple[str, str]]) -> None:
        """Write the conclusion: rows of site and kind; several mean "one of these".

        Raises
        ------
        NotPossibleError
            After the first repair, which locks the conclusion, or with too many rows.
        UnknownNameError
            If a site or a kind does not exist.
        """
        if self.repaired:
            raise NotPossibleError("The first repair has locked the conclusion.")
        answer = tuple(dict.fromkeys((str(site), str(kind)) for site, kind in rows))
        if len(answer) > MOST_ROWS:
            raise NotPossibleError(
                f"{len(answer)} possibilities; at most {MOST_ROWS} may be named. "
                "Measure more to narrow them down."
            )
        for site, kind in answer:
            if kind not in KINDS:
                raise unknown_name("kind of fault", kind, KINDS)
            faults.check(self.vehicle, Fault(kind=kind, site=site))
        with self._act({"do": "conclude", "rows": [list(row) for row in answer]}):
            self.conclusion = answer

    def repair(self, site: str) -> None:
        """Make the part at a site as new. The first repair locks the conclusion.

        What was damaged elsewhere, such as a blown fuse, needs its own repair.
        """
        if not self.conclusion:
            raise NotPossibleError(
                "Write your conclusion first; the first repair locks it."
            )
        if site not in faults.sites(self.vehicle):
            raise unknown_name("place to repair", site, faults.sites(self.vehicle))
        name = site.partition(":")[0]
        with self._act({"do": "repair", "site": site}):
            self._faulty = faults.repair(self._faulty, self.vehicle, site)
            self._undo.clear()
            self.repaired = (*self.repaired, site)
            self.reading = None
            before = self._rig.point
            self._rig.exchange(Network(self._faulty), name)
            self._notice(before, before.blown - {name})
            if name in self._rig.point.blown:
                text = f"The new fuse {name} has blown: the short is still there"
                self._incident("fuse_into_short", text)

    def hand_in(self) -> None:
        """Close the job.

        Raises
        ------
        NotPossibleError
            If there is no conclusion yet.
        """
        if not self.conclusion:
            raise NotPossibleError("Still to write: your conclusion.")
        with self._act({"do": "hand_in"}):
            self.is_handed_in = True

    # -- inside --

    def _plug(self, name: str) -> Part:
        part = self.vehicle[name]
        if not part.plugs_in:
            allowed = [p.name for p in self.vehicle.parts.values() if p.plugs_in]
            raise UnknownNameError(
                f"{self.vehicle.describe(name)} cannot be unplugged. "
                f"What can: {', '.join(allowed)}."
            )
        return part

    @staticmethod
    def _lead(lead: str) -> None:
        if lead not in ("A", "B"):
            raise unknown_name("lead", lead, ("A", "B"))

    @contextmanager
    def _act(self, action: dict[str, Any]) -> Iterator[None]:
        """Enter an act in the log, let it happen, and tell who listens."""
        if self.is_handed_in:
            raise NotPossibleError("The job is handed in; nothing can be added.")
        if len(self.actions) >= MOST_ACTS:
            raise NotPossibleError(
                f"The job card is full: {MOST_ACTS} acts. It counts as it stands."
            )
        self.actions.append({"n": len(self.actions) + 1, **action})
        yield
        self.on_act()

    def _remember(self) -> None:
        self._undo.append(_Before(self.setup, self.hookup, self.notes))

    def _do(self, action: dict[str, Any]) -> None:
        """Do one electrical act and see what comes of it."""
        with self._act(action):
            self._remember()
            self._change(*after(self.setup, self.hookup, action))

    def _change(self, setup: Setup, hookup: Hookup) -> None:
        self.reading = None
        before = self._rig.point
        self._rig.change(setup, hookup)
        self._notice(before, before.blown)

    def _notice(self, before: OperatingPoint, blown: frozenset[str]) -> None:
        """Hear relays; record what the tool in use has broken."""
        after = self._rig.point
        heard = [
            f"{first_upper(self.vehicle.describe(name))} clicks."
            for name in after.relays
            if after.relays[name] != before.relays[name]
        ]
        if after.buzzing:
            heard = ["A relay buzzes."]
        self._heard = tuple(heard)
        for name in sorted(after.blown - blown):
            if name in _TOOL_FUSES:
                self._incident("tool_fuse", _TOOL_TEXTS[self.hookup.tool])
            elif self.hookup.is_active:
                text = f"Fuse {name} blew through the {TOOLS[self.hookup.tool].lower()}"
                self._incident("vehicle_fuse", text)

    def _incident(self, kind: str, text: str) -> None:
        number = len(self.actions)
        self.incidents.append(Incident(action=number, kind=kind, text=text))

    @classmethod
    def replay(
        cls,
        vehicle: Vehicle,
        actions: Sequence[Mapping[str, Any]],
        fault: Fault | None = None,
        *,
        driven: Sequence[State] = (),
        tools: Sequence[str] = tuple(TOOLS),
    ) -> Bench:
        """Return a bench on which all these acts have been done again.

        Raises
        ------
        OhmworkError
            If an act is not possible on this vehicle.
        """
        bench = cls(vehicle, fault, driven=driven, tools=tools)
        for action in actions:
            bench.perform(action)
        return bench

    def perform(self, action: Mapping[str, Any]) -> None:
        """Do an act that is written as in the log."""
        match action["do"]:
            case "set_control":
                self.set_control(action["part"], action["position"])
            case "unplug":
                self.unplug(action["part"])
            case "plug":
                self.plug(action["part"])
            case "use":
                self.use(action["tool"])
            case "place":
                self.place(action["lead"], action["place"])
            case "lift":
                self.lift(action["lead"])
            case "read":
                self.read()
            case "note":
                self.note()
            case "undo":
                self.undo()
            case "hint":
                self.hint(action["number"])
            case "conclude":
                self.conclude([(site, kind) for site, kind in action["rows"]])
            case "repair":
                self.repair(action["site"])
            case "hand_in":
                self.hand_in()
            case other:
                raise unknown_name("act", str(other), (*SECONDS, "note", "undo"))


def true_state(bench: Bench) -> tuple[Vehicle, OperatingPoint]:
    """Return what only the vehicle knows, for those who mark."""
    return bench._faulty, bench._rig.point


_TOOL_TEXTS = {
    "amps": "Amps across a supply: the meter's fuse blew",
    "feed_supply": "Supply was fed to a grounded place: the breaker tripped",
    "feed_ground": "Ground was fed to a live place: the breaker tripped",
    "jumper": "The jumper joined supply and ground: its fuse blew",
}
