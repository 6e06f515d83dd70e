"""How a learner handles the workbench: by mouse, by touch or by keyboard."""

import re
from dataclasses import dataclass
from typing import Any

from playwright.sync_api import Locator, expect

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
        """Set a control."""
        group = self.root.get_by_role("group", name=control, exact=True)
        self.press(group.get_by_role("button", name=position, exact=True))

    def touch(self, place: str) -> None:
        """Press a place on the drawing, so that the lead in hand goes there."""
        self.press(point(self.root, place))

    def put(self, lead: str, place: str) -> None:
        """Take a lead and put it on a place."""
        self.press_named(f"{lead} Lead {lead}")
        self.touch(place)
        expect(where(self.root, lead)).to_contain_text(f"on {place},")

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

    def conclude_and_repair(self, site: str, kind: str) -> None:
        """Write a conclusion of one row and repair what it names."""
        self.choose("Where", site)
        self.choose("What", kind)
        expect(self.root.locator(".ow-status")).to_have_text("Conclusion written.")
        self.choose("Repair", site)
        self.press_named("Repair it")
        expect(self.root).to_contain_text("Locked by the repair.")

    def hand_in(self) -> None:
        """Hand in and confirm it."""
        self.press_named("Hand in")
        self.press_named("Yes, hand in")


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
