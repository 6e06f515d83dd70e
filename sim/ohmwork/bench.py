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
from dataclasses import dataclass, field
from typing import Any

from ohmwork import faults
from ohmwork.errors import NotPossibleError, UnknownNameError, unknown_name
from ohmwork.faults import KINDS, Fault
from ohmwork.instruments import (
    SECOND,
    TOOL_FUSES,
    TOOLS,
    Hookup,
    Outcome,
    Reading,
    attachment,
    describe_effect,
    measure,
    reading,
)
from ohmwork.network import Network, OperatingPoint, Setup, position
from ohmwork.parts import Connector, Engine, Part, Relay
from ohmwork.symptoms import State, drive, perceived
from ohmwork.vehicle import Vehicle, first_upper

SECONDS = {
    "set_control": 5, "unplug": 60, "plug": 30, "use": 5, "place": 15, "lift": 5,
    "read": 10, "leave": 5, "fetch": 10, "move_loom": 20, "warm_up": 600,
    "repair": 900,
}  # fmt: skip
"""What each act costs a technician. [s] Assumed; other acts cost nothing."""

METERS = 2
"""Multimeters on the trolley."""

HOLDS = frozenset({"volts", "millivolts", "amps", "clamp"})
"""Tools that can keep the lowest and highest value."""

MOST_ACTS = 5000
"""That a job card holds; see its schema."""

MOST_ROWS = 20
"""Of a conclusion; see the schema of the job card."""

_FUSES_OF_TOOLS = {
    **{name: tool for tool, (name, *_) in TOOL_FUSES.items()},
    SECOND + TOOL_FUSES["amps"][0]: "amps",
}
"""Name of a tool's fuse to the tool."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Incident:
    """Something a careful technician would not have let happen."""

    action: int
    """Number of the act that caused it."""
    kind: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """How a vehicle stands: what is set, connected, moved and warm."""

    setup: Setup = field(default_factory=Setup)
    hookup: Hookup = field(default_factory=Hookup)
    """The tool in hand."""
    left: tuple[Hookup, ...] = ()
    """Tools that were left connected."""
    moves: int = 0
    """How often the loom has been moved."""
    is_warm: bool = False

    def connected(self) -> dict[int, Hookup]:
        """Return the tools that act: 0 in hand, 1, 2, ... among those left."""
        tools = enumerate((self.hookup, *self.left))
        return {number: hookup for number, hookup in tools if hookup.is_active}

    def after(self, action: Mapping[str, Any]) -> Situation:
        """Return how things stand after one act that changes them.

        Parameters
        ----------
        action : as in the log.
        """
        setup, hookup = self.setup, self.hookup
        match action["do"]:
            case "set_control":
                controls = {**setup.controls, action["part"]: action["position"]}
                setup = dataclasses.replace(setup, controls=controls)
            case "unplug":
                setup = dataclasses.replace(setup, apart=setup.apart | {action["part"]})
            case "plug":
                setup = dataclasses.replace(setup, apart=setup.apart - {action["part"]})
            case "use":
                wanted = Hookup(tool=action["tool"])
                if hookup.instrument == wanted.instrument:
                    wanted = dataclasses.replace(hookup, tool=action["tool"])
                hookup = wanted
            case "place" | "lift":
                lead = {"A": "lead_a", "B": "lead_b"}[action["lead"]]
                changes: dict[str, Any] = {lead: action.get("place")}
                hookup = dataclasses.replace(hookup, **changes)
            case "leave":
                left = (*self.left, hookup)
                meters = sum(h.instrument == "meter" for h in left)
                free = Hookup(tool="volts" if meters < METERS else "look")
                return dataclasses.replace(self, hookup=free, left=left)
            case "fetch":
                return dataclasses.replace(self, left=())
            case "move_loom":
                return dataclasses.replace(self, moves=self.moves + 1)
            case "warm_up":
                return dataclasses.replace(self, is_warm=True)
        return dataclasses.replace(self, setup=setup, hookup=hookup)


class Rig:
    """One vehicle, or many variants of it, with controls and tools.

    Parameters
    ----------
    network : of the vehicle, or of its variants.
    driven : control positions it was driven in before it came in; what blew is blown.
    """

    def __init__(self, network: Network, driven: Sequence[State] = ()) -> None:
        self.network = network
        self.situation = Situation()
        self.point = drive(network, (*driven, {}))[-1]

    @property
    def vehicle(self) -> Vehicle:
        """The vehicle as its papers show it."""
        return self.network.vehicle

    def change(self, situation: Situation, network: Network | None = None) -> None:
        """Bring the vehicle into a situation, and let the circuit settle.

        Parameters
        ----------
        situation : to come.
        network : if another fault shows in it, the circuit that then holds.
        """
        before, self.situation = self.situation, situation
        same_tools = before.connected() == situation.connected()
        same_network = network is None or network is self.network
        if before.setup == situation.setup and same_tools and same_network:
            return
        self.network = network or self.network
        connected = before.connected().values()
        kept = {h.tool for h in situation.connected().values() if h in connected}
        self._settle(
            renewed=[f for f, tool in _FUSES_OF_TOOLS.items() if tool not in kept]
        )

    def measure(self, number: int = 0) -> Outcome:
        """Return what the tool in hand gives, or one that was left, from 1 on."""
        situation = self.situation
        hookup = (situation.hookup, *situation.left)[number]
        owner = "tool" if number == 0 else f"tool {number + 1}"
        return measure(self.network, situation.setup, hookup, self.point, owner=owner)

    def exchange(self, network: Network, renewed: str) -> None:
        """Take on another network, in which a part has been renewed."""
        self.network = network
        self._settle(renewed=[f.name for f in network.fuses if f.owner == renewed])

    def _settle(self, renewed: Iterable[str]) -> None:
        """Let the circuit settle with the tools in it; `renewed` fuses are whole."""
        situation, network = self.situation, self.network
        acting = tuple(
            h if h.is_active else dataclasses.replace(h, lead_a=None)
            for h in (situation.hookup, *situation.left)
        )
        self.point = network.settle(
            situation.setup,
            attachment(self.vehicle, *acting),
            start=self.point,
            blown=dict.fromkeys(renewed, 0.0),
        )


@dataclass(frozen=True, slots=True)
class _Before:
    """What undo goes back to."""

    situation: Situation
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
    tool_number: int = 0
    """0 for the tool in hand, 1, 2, ... for those left connected."""


class Bench:
    """What a learner works on.

    Parameters
    ----------
    vehicle : as its papers show it.
    fault : what is wrong with it; never shown.
    more : what else is wrong with it.
    driven : control positions it was driven in before it came in.
    tools : names of the tools that are allowed.
    """

    def __init__(
        self,
        vehicle: Vehicle,
        fault: Fault | None = None,
        *,
        more: Sequence[Fault] = (),
        driven: Sequence[State] = (),
        tools: Sequence[str] = tuple(TOOLS),
    ) -> None:
        self.vehicle = vehicle
        self.tools = tuple(tools)
        self._faults = (*((fault,) if fault else ()), *more)
        self._networks: dict[tuple[Fault, ...], Network] = {}
        self._rig = Rig(self._network(Situation()), driven)
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
        self.seen_blown: frozenset[str] = frozenset()
        """Fuses that were looked at, found blown and not renewed since."""
        self.held: tuple[float, float] | None = None
        """Lowest and highest value since holding began, in the tool's unit."""
        self._holds = False
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
        return self._rig.situation.setup

    @property
    def hookup(self) -> Hookup:
        """The tool in use and its leads."""
        return self._rig.situation.hookup

    @property
    def situation(self) -> Situation:
        """How everything stands."""
        return self._rig.situation

    @property
    def left(self) -> tuple[Hookup, ...]:
        """Tools that were left connected, the first one first."""
        return self._rig.situation.left

    @property
    def seconds(self) -> int:
        """Time the work has taken so far. [s]"""
        return sum(SECONDS.get(a["do"], 0) for a in self.actions)

    def position(self, control: str) -> str:
        """Return where a control stands."""
        return position(self.vehicle, self.setup, control)

    def proof(self, states: Sequence[State]) -> Note | None:
        """Return the first note that can prove the last repair, if there is one.

        It is taken with nothing apart and the controls as in one of the states. A
        current proves anywhere, as an ammeter closes the path that it stands in.

        Parameters
        ----------
        states : in which the driver saw the complaint.
        """
        repairs = [a["n"] for a in self.actions if a["do"] == "repair"]
        driven = [self._positions(state) for state in states]
        for note in self.notes:
            carries = note.reading.tool == "amps" and bool(note.reading.value)
            is_driven = not note.setup.apart and (
                self._positions(note.setup.controls) in driven
            )
            if repairs and note.action > repairs[-1] and (carries or is_driven):
                return note
        return None

    def _positions(self, controls: State) -> list[str]:
        """Return where every control stands, those not named at rest."""
        setup = Setup(controls=dict(controls))
        return [position(self.vehicle, setup, name) for name in self.vehicle.controls]

    def outputs(self) -> dict[str, float]:
        """Return what each lamp, motor, heater ... does over its full effect. [-]"""
        point = self._rig.point
        return {name: float(point.output(name)) for name in point.network.effects}

    def perceived(self) -> dict[str, str]:
        """Return the word for what each part does."""
        return perceived(self._rig.point)

    @property
    def sights(self) -> tuple[str, ...]:
        """What can be seen and heard now, a sentence each."""
        return (*self.seen().values(), *self.heard)

    def seen(self) -> dict[str, str]:
        """Return what each part does as a sentence, by name of the effect."""
        return {
            name: f"{first_upper(describe_effect(self.vehicle, name))} {word}."
            for name, word in self.perceived().items()
        }

    @property
    def heard(self) -> tuple[str, ...]:
        """What was heard at the last act, and what is apart, a sentence each."""
        apart = [
            f"{first_upper(self.vehicle.describe(name))} is "
            f"{'apart' if isinstance(self.vehicle[name], Connector) else 'out'}."
            for name in sorted(self.setup.apart)
        ]
        return (*self._heard, *apart)

    def can_touch(self, place: str) -> None:
        """Raise unless a lead can touch this place as things stand.

        A clamp goes round a wire instead.
        """
        if self.hookup.tool == "clamp":
            self.vehicle.ends(place)
            return
        part = self.vehicle.part_of(place)
        if place not in self.vehicle.reachable:
            raise NotPossibleError(
                f"{place} is inside the loom. Choose a place at the end of a wire."
            )
        # The top of a fitted fuse is bare metal, made for the meter.
        hidden = isinstance(part, Relay) and place in part.pins
        if hidden and part.name not in self.setup.apart:
            raise NotPossibleError(f"{part.name} is fitted. Pull it to touch its pins.")

    # -- acts --

    def set_control(self, part: str, position: str) -> None:
        """Set what the driver can set."""
        if part not in self.vehicle.controls:
            raise unknown_name("control", part, self.vehicle.controls)
        control = self.vehicle.control(part)
        if position not in control.positions:
            raise unknown_name(f"position of {part}", position, control.positions)
        if isinstance(control, Engine) and position != control.positions[0]:
            for name, allowed in control.needs:
                if self.position(name) not in allowed:
                    raise NotPossibleError(
                        f"The {control.label or 'engine'} does not run with "
                        f"{self.vehicle.describe(name)} in '{self.position(name)}'. "
                        f"Set it to {' or '.join(allowed)} first."
                    )
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
        hookups = (self.hookup, *self.left)
        leads = [(lead, h.lead_a if lead == "A" else h.lead_b)
                 for h in hookups for lead in ("A", "B")]  # fmt: skip
        for lead, place in leads:
            if place in self._plug(part).pins and not isinstance(
                self.vehicle[part], Connector
            ):
                raise NotPossibleError(f"Lead {lead} is on {place}. Lift it first.")
        self._do({"do": "plug", "part": part})

    def use(self, tool: str) -> None:
        """Take another tool; the meter's leads stay placed between its own ranges."""
        if tool not in self.tools:
            raise unknown_name("tool", tool, self.tools)
        instrument = Hookup(tool=tool).instrument
        taken = sum(h.instrument == instrument for h in self.left)
        if taken >= (METERS if instrument == "meter" else 1):
            raise NotPossibleError(
                f"{TOOLS[tool]} is left connected elsewhere. Fetch it first."
            )
        self._do({"do": "use", "tool": tool})

    def leave(self) -> None:
        """Leave the tool in hand connected, so that another can be used besides."""
        if self.hookup.missing is not None:
            raise NotPossibleError(
                f"Lead {self.hookup.missing} is not placed; there is nothing to leave."
            )
        if self.hookup.tool == "look":
            raise NotPossibleError("Eyes cannot be left connected.")
        self._do({"do": "leave"})

    def fetch(self) -> None:
        """Take off every tool that was left connected."""
        if not self.left:
            raise NotPossibleError("No tool was left connected.")
        self._do({"do": "fetch"})

    def hold(self) -> None:
        """Begin to keep the lowest and highest value, or end it."""
        with self._act({"do": "hold"}):
            self._holds = not self._holds
            self.held = None
            if self._holds:
                self._hold_on()

    def move_loom(self) -> None:
        """Move the wiring loom about; a loose joint may show itself, now and then."""
        self._do({"do": "move_loom"})

    def warm_up(self) -> None:
        """Let the vehicle get warm."""
        self._do({"do": "warm_up"})

    def place(self, lead: str, place: str) -> None:
        """Put lead A or lead B on a place."""
        self._lead(lead)
        self.can_touch(place)
        self._do({"do": "place", "lead": lead, "place": place})

    def lift(self, lead: str) -> None:
        """Take a lead off."""
        self._lead(lead)
        self._do({"do": "lift", "lead": lead})

    def read(self, number: int = 0) -> Reading:
        """Return what a tool shows now; looking at a display takes its time.

        Parameters
        ----------
        number : 0 for the tool in hand; 1, 2, ... for those left connected.
        """
        if not 0 <= number <= len(self.left):
            raise NotPossibleError(
                f"There is no tool {number}. {len(self.left)} are left connected."
            )
        outcome = self._rig.measure(number)
        shown = reading(self.vehicle, (self.hookup, *self.left)[number], outcome)
        action: dict[str, Any] = {"do": "read", "shown": shown.text}
        if number:
            action["number"] = number
        with self._act(action):
            self.reading = shown
            if shown.text == "blown":
                name = shown.lead_a.partition(":")[0]
                self.seen_blown |= {name}
            if outcome.channels.get("live") and self._lived != self.setup:
                self._lived = self.setup
                self._incident("ohms_on_live", "Ohms on a live circuit")
        return shown

    def note(self) -> Note:
        """Write down the reading now displayed."""
        if self.reading is None:
            raise NotPossibleError("There is no reading to note. Take one first.")
        last = max(
            (a for a in self.actions if a["do"] == "read"), key=lambda a: int(a["n"])
        )
        taken = last["n"]
        if any(note.action == taken for note in self.notes):
            raise NotPossibleError("This reading is noted already.")
        note = Note(
            number=len(self.notes) + 1,
            action=taken,
            setup=self.setup,
            reading=self.reading,
            tool_number=last.get("number", 0),
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
            self._change(before.situation)

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
            self._faults = tuple(
                f for f in self._faults if f.site.partition(":")[0] != name
            )
            self._networks.clear()
            self._undo.clear()
            self.repaired = (*self.repaired, site)
            self.seen_blown -= {name}
            self.reading = None
            before, situation = self._rig.point, self._rig.situation
            self._rig.exchange(self._network(situation), name)
            self._notice(before, before.blown - {name}, by_tools=False)
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
        self._undo.append(_Before(self._rig.situation, self.notes))

    def _do(self, action: dict[str, Any]) -> None:
        """Do one electrical act and see what comes of it."""
        with self._act(action):
            self._remember()
            self._change(self._rig.situation.after(action))

    def _change(self, situation: Situation) -> None:
        self.reading = None
        before, rig = self._rig.point, self._rig
        if situation.hookup != rig.situation.hookup:
            self.held = None
        rig.change(situation, self._network(situation))
        self._notice(before, before.blown)
        if self._holds:
            self._hold_on()

    def _network(self, situation: Situation) -> Network:
        """Return the circuit with the faults that show in a situation."""
        known, setup = self._networks, situation.setup
        is_running = any(
            position(self.vehicle, setup, engine.name) != engine.positions[0]
            for engine in self.vehicle.of_type(Engine)
        )
        present = tuple(
            fault
            for fault in self._faults
            if fault.is_present(
                moves=situation.moves, is_warm=situation.is_warm, is_running=is_running
            )
        )
        if present not in known:
            known[present] = Network(faults.inject(self.vehicle, *present))
        return known[present]

    def _hold_on(self) -> None:
        """Widen what is held by what the tool in hand shows now."""
        if self.hookup.missing is not None or self.hookup.tool not in HOLDS:
            return
        shown = reading(self.vehicle, self.hookup, self._rig.measure())
        if shown.value is not None:
            low, high = self.held or (shown.value, shown.value)
            self.held = (min(low, shown.value), max(high, shown.value))

    def _notice(
        self, before: OperatingPoint, blown: frozenset[str], *, by_tools: bool = True
    ) -> None:
        """Hear relays; record what the tools in use have broken."""
        after = self._rig.point
        heard = [
            f"{first_upper(self.vehicle.describe(name))} clicks."
            for name in after.relays
            if after.relays[name] != before.relays[name]
        ]
        if after.buzzing:
            heard = ["A relay buzzes."]
        self._heard = tuple(heard)
        if not by_tools:
            return
        connected = self._rig.situation.connected().values()
        tools = [TOOLS[h.tool].lower() for h in connected]
        lost = sorted(after.blown - blown)
        slips = [_FUSES_OF_TOOLS[name] for name in lost if name in _FUSES_OF_TOOLS]
        if slips:
            # Two feeds that meet trip each other, by one slip.
            self._incident("tool_fuse", _TOOL_TEXTS[slips[0]])
        for name in lost:
            if name in _FUSES_OF_TOOLS or not tools:
                continue
            if ":" not in name:
                text = f"Fuse {name} blew through the {' and the '.join(tools)}"
                self._incident("vehicle_fuse", text)
            elif self._is_dead(name):
                module = self.vehicle.describe(name.partition(":")[0])
                self._incident("module_fed", f"Pin {name} of {module} was fed and died")

    def _is_dead(self, pin: str) -> bool:
        """Whether a pin that has opened stays so."""
        laws = self._rig.network.fuses
        return any(law.name == pin and not law.resets for law in laws)

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
                self.read(action.get("number", 0))
            case "leave":
                self.leave()
            case "fetch":
                self.fetch()
            case "hold":
                self.hold()
            case "move_loom":
                self.move_loom()
            case "warm_up":
                self.warm_up()
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
    vehicle = bench._rig.network.vehicle
    return vehicle, bench._rig.point


_TOOL_TEXTS = {
    "amps": "Amps across a supply: the meter's fuse blew",
    "feed_supply": "Supply was fed to a grounded place: the breaker tripped",
    "feed_ground": "Ground was fed to a live place: the breaker tripped",
    "feed_5v": "The 5 V feed met another supply or a short: its breaker tripped",
    "feed_3v": "The 3 V feed met another supply or a short: its breaker tripped",
    "jumper": "The jumper joined supply and ground: its fuse blew",
    "load_test": "The battery load met more than one battery: its link blew",
}
