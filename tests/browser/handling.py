"""How a learner handles the workbench: by mouse, by touch or by keyboard."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from playwright.sync_api import Locator, expect

from ohmwork.faults import KINDS
from ohmwork.instruments import TOOLS
from ohmwork.vehicle import Vehicle

WALK = ("E3:31", "X12:4", "GP1:31")
"""From a faint lamp along its ground side, where a technician would go."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """A hand on the workbench `root`: it clicks with a mouse, or taps."""

    root: Locator
    taps: bool = False

    def press(self, target: Locator) -> None:
        """Click or tap on something."""
        if self.taps:
            target.tap()
        else:
            target.click()

    def press_named(self, name: str) -> None:
        """Press the button of this name."""
        self.press(self.root.get_by_role("button", name=name, exact=True))

    def set(self, control: str, position: str) -> None:
        """Set a control, whether it has a key for each position or a list of them."""
        keys = self.root.get_by_role("group", name=control, exact=True)
        list_ = self.root.get_by_role("combobox", name=control, exact=True)
        expect(keys.or_(list_)).to_be_visible()
        if keys.count():
            self.press(keys.get_by_role("button", name=position, exact=True))
        else:
            list_.select_option(label=position)

    def take(self, tool: str) -> None:
        """Take a tool."""
        self.press_named(tool)
        expect(self.root.locator('.ow-tool[aria-pressed="true"]')).to_have_text(tool)

    def touch(self, place: str) -> None:
        """Press a place on the drawing, so that the lead in hand goes there."""
        self.press(point(self.root, place))

    def put(self, lead: str, place: str) -> None:
        """Take a lead and put it on a place."""
        self.press_named(f"{lead} Lead {lead}")
        self.touch(place)
        expect(where(self.root, lead)).to_contain_text(f"on {place},")

    def lift(self, lead: str) -> None:
        """Lift a lead."""
        self.press_named(f"Lift lead {lead}")
        expect(where(self.root, lead)).to_have_text("not placed")

    def plug(self, part: str) -> None:
        """Open or join a connector, pull or refit a fuse or a relay."""
        symbol = self.root.locator(f'g[class$="-part"][data-part="{part}"]').first
        symbol.click(force=True)  # the middle of a symbol may be bare paper
        caption = self.root.locator(".ow-caption")
        verbs = re.compile(rf"^(Open|Join|Pull|Refit) {part}\b")
        self.press(caption.get_by_role("button", name=verbs))
        done = re.compile(rf"\b{part} (opened|joined|pulled|refitted)\.")
        expect(self.root.locator(".ow-status")).to_have_text(done)

    def note(self) -> None:
        """Note the reading that stands on the meter."""
        before = self.root.locator(".ow-notes .ow-number").count()
        self.press(self.root.locator(".ow-note"))
        expect(self.root.locator(".ow-notes .ow-number")).to_have_count(before + 1)

    def choose(self, label: str, name: str) -> None:
        """Choose the one line of a list that has this name before its dash."""
        list_ = self.root.get_by_label(label, exact=True)
        lines = list_.locator("option").all_text_contents()
        (line,) = [text for text in lines if text.partition(" – ")[0] == name]
        list_.select_option(label=line)

    def conclude(self, *rows: tuple[str, str]) -> None:
        """Write a conclusion: one of these places, each with what is wrong there."""
        for number, (site, kind) in enumerate(rows):
            if number:
                self.press_named("Add another answer")
            row = Hand(root=self.root.locator(".ow-answer").nth(number))
            row.choose("or where" if number else "Where", site)
            row.choose("What", kind)
            expect(self.root.locator(".ow-status")).to_have_text("Conclusion written.")

    def repair(self, site: str) -> None:
        """Repair what is at a place."""
        self.choose("Repair", site)
        self.press_named("Repair it")
        expect(self.root.locator(".ow-status")).to_contain_text("Repaired: ")
        expect(self.root).to_contain_text("Locked by the repair.")

    def hand_in(self) -> None:
        """Hand in and confirm it."""
        self.press_named("Hand in")
        self.press_named("Yes, hand in")
        told = re.compile("Handed in. Save the notebook.|Marked. Your marks are below.")
        expect(self.root).to_contain_text(told)

    def do(self, act: Mapping[str, Any], vehicle: Vehicle) -> None:
        """Do what one act of a job card says; a reading must be what it says as well.

        A workbench reads by itself once the leads are placed.
        """
        match act["do"]:
            case "set_control":
                self.set(vehicle.controls[act["part"]], act["position"])
                expect(self.root.locator(".ow-status")).not_to_have_text("")
            case "plug" | "unplug":
                self.plug(act["part"])
            case "use":
                self.take(TOOLS[act["tool"]])
            case "place":
                self.put(act["lead"], act["place"])
            case "lift":
                self.lift(act["lead"])
            case "read":
                shown = self.root.locator(".ow-live-row .ow-value")
                expect(shown).to_have_text(act["shown"])
            case "note":
                self.note()
            case "conclude":
                self.conclude(*((site, KINDS[kind]) for site, kind in act["rows"]))
            case "repair":
                self.repair(act["site"])
            case "hand_in":
                self.hand_in()
            case other:
                raise NotImplementedError(other)


def point(root: Locator, place: str) -> Locator:
    """A place on the drawing."""
    return root.locator(f'.ow-point[data-place="{place}"]').first


def where(root: Locator, lead: str) -> Locator:
    """The words that tell where a lead is."""
    return root.locator(".ow-lead", has_text=f"Lead {lead}").locator(".ow-where")


def points_shown(root: Locator) -> float:
    """The marks that a practice job shows once it is handed in. [points]"""
    shown = root.locator(".ow-marks")
    expect(shown).to_contain_text("points", timeout=90_000)
    found = re.search(r": ([\d.]+) of 100 points", shown.inner_text())
    assert found is not None
    return float(found[1])


def has_focus(target: Locator) -> bool:
    """Whether the keyboard's focus is on this element."""
    found: Any = target.evaluate("node => node === document.activeElement")
    return bool(found)


def tab_to(target: Locator, *, most: int = 120) -> None:
    """Press the Tab key until the focus is on something."""
    for _ in range(most):
        target.page.keyboard.press("Tab")
        if has_focus(target):
            return
    message = f"The Tab key does not reach {target}."
    raise AssertionError(message)


def go_to(root: Locator, place: str) -> None:
    """Go to a place by its name, from anywhere inside the workbench."""
    keyboard = root.page.keyboard
    keyboard.press("g")
    keyboard.type(place.lower())
    keyboard.press("Enter")
    expect(point(root, place)).to_be_focused()
