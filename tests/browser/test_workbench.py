"""The workbench in a real JupyterLab, by mouse, keyboard and touch."""

import os
import re
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Any

import nbformat
import pytest
from axe_playwright_python.sync_playwright import Axe
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook
from playwright.sync_api import Locator, Page, expect

from browser.handling import WALK, Hand, go_to, point, points_shown, tab_to, where
from browser.harness import Lab, Notebook
from ohmwork.jobcard import MIME
from small_job import write_book

SHOW = "import ohmwork\nohmwork.start_job('x20_fault', learner='s01').workbench()"
GOOD = 85.0
"""What a sound search is worth at least. [points]"""


@pytest.fixture
def prepared(lab: Lab) -> str:
    """Path of a notebook that shows the workbench of a job not begun yet."""
    lab.wait_until_idle()
    for old in lab.folder.glob("x20_fault.card*"):
        old.unlink()
    write_book(lab.folder, practice=True)
    cells = [
        new_markdown_cell("# Weak left dip beam", id="title"),
        new_code_cell(SHOW, id="bench"),
        new_code_cell("import os\nos.getpid()", id="process"),
    ]
    kernel = {"name": "python3", "display_name": "Python 3"}
    notebook = new_notebook(cells=cells, metadata={"kernelspec": kernel})
    nbformat.write(notebook, lab.folder / "bench.ipynb")
    return "bench.ipynb"


@pytest.fixture
def bench(prepared: str, open_notebook: Callable[[str], Notebook]) -> Notebook:
    """The notebook, run."""
    return run(open_notebook(prepared))


def run(notebook: Notebook) -> Notebook:
    """Run a notebook up to its workbench, and make room for it."""
    notebook.run_all()
    expect(root_of(notebook).locator(".ow-paper svg")).to_be_visible()
    notebook.page.evaluate(
        """() => {
            const { shell } = window.jupyterapp;
            shell.collapseLeft();
        }"""
    )
    notebook.show("bench")
    return notebook


def root_of(notebook: Notebook) -> Locator:
    """The workbench on the page."""
    return notebook.page.locator(".ow")


def card(notebook: Notebook) -> Any:
    """The job card as it stands in the notebook's outputs."""
    return notebook.outputs()["bench"][1]["data"][MIME]


def acts(notebook: Notebook) -> list[str]:
    """What was done so far, by name."""
    return [action["do"] for action in card(notebook)["actions"]]


# --- Whole diagnoses ------------------------------------------------------------------


def diagnose(hand: Hand) -> None:
    """Find, repair and prove the fault of the small job, and hand in."""
    hand.set("Ignition", "on")
    hand.set("Lights", "dip")
    hand.put("B", "G1:-")
    for place in WALK:
        hand.put("A", place)
        hand.note()
    finish(hand)


def finish(hand: Hand) -> None:
    """Conclude, repair, prove and hand in."""
    hand.conclude(("W23", "high resistance"))
    hand.repair("W23")
    hand.put("A", "E3:31")
    hand.note()
    expect(hand.root).to_contain_text("Proof: reading 4.")
    hand.hand_in()


def test_a_diagnosis_by_mouse_alone(bench: Notebook) -> None:
    """From the first switch to the marks; the file on disk then holds it all."""
    root = root_of(bench)
    hand = Hand(root=root)
    diagnose(hand)
    assert points_shown(root) >= GOOD
    expect(root.get_by_role("button", name="Undo")).to_be_disabled()
    bench.screenshot("workbench-marks")
    # The card follows the page by a moment.
    expect(bench.page.locator(".ow-saved")).to_contain_text("Marks.")
    bench.save()

    saved = nbformat.read(bench.lab.folder / bench.path, as_version=4)
    data = saved.cells[1].outputs[1].data[MIME]
    assert data == card(bench)
    assert data["actions"][-1]["do"] == "hand_in"


def test_a_diagnosis_by_keyboard_alone(bench: Notebook) -> None:
    """No key but those of the list that the question mark shows."""
    root, keyboard = root_of(bench), bench.page.keyboard

    def press(button: Locator) -> None:
        tab_to(button)
        keyboard.press("Enter")

    def note() -> None:
        before = root.locator(".ow-notes .ow-number").count()
        keyboard.press("n")
        expect(root.locator(".ow-notes .ow-number")).to_have_count(before + 1)

    for control, position in (("Ignition", "on"), ("Lights", "dip")):
        group = root.get_by_role("group", name=control, exact=True)
        press(group.get_by_role("button", name=position, exact=True))
    expect(root).to_contain_text("Left dip lamp E3 faint")
    go_to(root, "G1:-")
    keyboard.press("w")
    for place in WALK[:2]:
        go_to(root, place)
        keyboard.press("q")
        expect(where(root, "A")).to_contain_text(f"on {place},")
        note()
    keyboard.press("ArrowDown")
    expect(point(root, WALK[2])).to_be_focused()
    keyboard.press("Enter")
    expect(where(root, "A")).to_contain_text(f"on {WALK[2]},")
    note()

    for label, typed in (("Where", "W23"), ("What", "high"), ("Repair", "W23")):
        list_ = root.get_by_label(label, exact=True)
        tab_to(list_)
        keyboard.type(typed)
        expect(list_.locator("option:checked")).to_contain_text(typed)
    press(root.get_by_role("button", name="Repair it"))
    expect(root).to_contain_text("Locked by the repair.")
    go_to(root, "E3:31")
    keyboard.press("q")
    expect(where(root, "A")).to_contain_text("on E3:31,")
    note()
    press(root.get_by_role("button", name="Hand in", exact=True))
    keyboard.press("Enter")
    assert points_shown(root) >= GOOD


def test_a_diagnosis_whose_kernel_is_killed_half_way(bench: Notebook) -> None:
    """What was done stays readable, and run again the cell goes on with it."""
    page, root = bench.page, root_of(bench)
    hand = Hand(root=root)
    hand.set("Ignition", "on")
    hand.set("Lights", "dip")
    hand.put("B", "G1:-")
    for place in WALK[:2]:
        hand.put("A", place)
        hand.note()
    expect(page.locator(".ow-saved")).to_contain_text(f"{WALK[1]} to G1:-")

    process = int(bench.outputs()["process"][0]["data"]["text/plain"])
    os.kill(process, signal.SIGKILL)
    page.get_by_role("dialog").get_by_role("button", name="Ok").click()
    expect(root.locator(".ow-notes")).to_contain_text(f"{WALK[1]} to G1:-")
    hand.set("Lights", "side")
    expect(root.locator(".ow-status")).to_contain_text("run this cell again to go on")
    bench.screenshot("workbench-kernel-killed")
    wait_for_kernel(bench)

    run(bench)
    expect(where(root, "A")).to_contain_text(f"on {WALK[1]},")
    hand.put("A", WALK[2])
    hand.note()
    finish(hand)
    assert points_shown(root) >= GOOD
    assert acts(bench).count("set_control") == 2


def wait_for_kernel(notebook: Notebook) -> None:
    """Wait until the kernel that took the place of a killed one is ready."""
    notebook.page.wait_for_function(
        """() => window.jupyterapp.shell.currentWidget
            .sessionContext.session?.kernel?.status === 'idle'"""
    )


def test_a_diagnosis_by_touch_alone(
    prepared: str, touch_page: Page, lab: Lab, screenshots: Path
) -> None:
    """Taps only: nothing needs a pointer that hovers."""
    notebook = Notebook(
        page=touch_page, lab=lab, path=prepared, screenshots=screenshots
    )
    notebook.open()
    run(notebook)
    root = root_of(notebook)
    diagnose(Hand(root=root, taps=True))
    assert points_shown(root) >= GOOD
    notebook.screenshot("workbench-touch")


def test_the_workbench_works_in_notebook_7_too(
    prepared: str, page: Page, lab: Lab
) -> None:
    """The plainer page that some classes use: drawing, keys, reading."""
    page.goto(f"{lab.url}/notebooks/{prepared}?token={lab.token}")
    cell = page.locator(".jp-CodeCell").first
    cell.locator(".cm-content").click()
    expect(page.locator(".jp-NotebookKernelStatus")).to_be_attached()
    page.keyboard.press("Control+Enter")
    root = page.locator(".ow")
    expect(root.locator(".ow-paper svg")).to_be_visible()
    hand = Hand(root=root)
    hand.put("B", "G1:-")
    go_to(root, "G1:+")
    page.keyboard.press("q")
    expect(root.locator(".ow-verdict")).to_have_text("LIVE")
    page.keyboard.press("b")
    expect(page.locator(".jp-CodeCell")).to_have_count(2)


# --- Mouse ----------------------------------------------------------------------------


def test_a_click_on_the_drawing_places_the_lead_in_hand(bench: Notebook) -> None:
    """First lead A, then lead B, then A again; or the one that the learner picks."""
    root = root_of(bench)
    hand = Hand(root=root)
    in_hand = root.locator('.ow-hand[aria-pressed="true"]')

    expect(in_hand).to_contain_text("Lead A")
    hand.touch("E5:58")
    expect(where(root, "A")).to_contain_text("on E5:58,")
    expect(in_hand).to_contain_text("Lead B")
    hand.touch("G1:-")
    expect(root.locator(".ow-verdict")).to_have_text("GROUND")
    expect(in_hand).to_contain_text("Lead A")
    hand.put("B", "G1:+")
    expect(root.locator(".ow-leads-drawn .ow-flag-a")).to_have_count(1)
    expect(root.locator(".ow-leads-drawn .ow-flag-b")).to_have_count(1)
    root.get_by_role("button", name="Lift lead A").click()
    expect(where(root, "A")).to_have_text("not placed")
    expect(root.locator(".ow-leads-drawn .ow-flag-a")).to_have_count(0)
    places = [a for a in card(bench)["actions"] if a["do"] == "place"]
    assert [(a["lead"], a["place"]) for a in places] == [
        ("A", "E5:58"),
        ("B", "G1:-"),
        ("B", "G1:+"),
    ]


def test_a_lead_is_dragged_and_a_switch_is_clicked(bench: Notebook) -> None:
    """From the meter to a place; a click on a switch's symbol steps it."""
    root = root_of(bench)
    root.locator(".ow-hand").nth(1).drag_to(point(root, "F11:1"))
    expect(where(root, "B")).to_contain_text("on F11:1,")

    # Between the strokes of a blade there is nothing, but a click near them counts.
    root.locator('.ow-switch-part[data-part="S2"]').first.click(force=True)
    lights = root.get_by_role("group", name="Lights", exact=True)
    expect(lights.get_by_role("button", pressed=True)).to_have_text("day")
    expect(root.locator(".ow-paper")).to_contain_text("day")


def test_a_part_is_opened_from_its_caption(bench: Notebook) -> None:
    """The caption names what is marked and offers what can be done there."""
    root = root_of(bench)
    hand = Hand(root=root)
    hand.touch("X12:3")
    caption = root.locator(".ow-caption")
    expect(caption).to_contain_text("left lamp connector, way 3")
    caption.get_by_role("button", name="Open X12").click()
    expect(root.locator(".ow-status")).to_contain_text("X12 opened.")
    expect(root.locator(".ow-status")).to_be_in_viewport(ratio=1.0)
    expect(caption.get_by_role("button", name="Join X12")).to_be_visible()
    expect(root).to_contain_text("Left lamp connector X12 is apart.")

    # Between its halves there is bare paper now, but a click there counts.
    hand.touch("F11:2")
    hand.plug("X12")
    expect(root).not_to_contain_text("Left lamp connector X12 is apart.")


def test_a_click_on_a_symbol_or_a_wire_marks_it(bench: Notebook) -> None:
    """A lead goes to circles alone; what is marked can be taken as the conclusion."""
    root = root_of(bench)
    hand = Hand(root=root)
    caption, status = root.locator(".ow-caption"), root.locator(".ow-status")
    take = root.locator(".ow-take")
    root.locator('.ow-fuse-part[data-part="F11"]').click(force=True)
    expect(status).to_have_text(re.compile("F11 is marked.*: F11:[12], F11:[12]"))
    expect(caption.get_by_role("button", name="Pull F11")).to_be_visible()
    expect(where(root, "A")).to_have_text("not placed")
    caption.get_by_role("button", name="On its top").click()
    expect(where(root, "A")).to_contain_text("p, top of the fuse")
    expect(take).to_have_text("Take F11 from the drawing")

    wire = root.locator("#ow-W23 >> css=*").first
    wire.click(position={"x": 4.0, "y": 12.0}, force=True)
    expect(caption).to_contain_text("W23 wire BN 2.5, SP7 to GP1")
    hand.set("Ignition", "on")
    take.click()
    expect(status).to_contain_text("Taken: W23")
    hand.choose("What", "high resistance")
    hand.touch("S2:56")
    expect(take).to_have_text("Take S2:15-56 from the drawing")
    hand.touch("Body:31")
    expect(take).to_have_text("Take a part from the drawing")
    take.click()
    expect(status).to_contain_text("choose from the list")
    (concluded,) = (a for a in card(bench)["actions"] if a["do"] == "conclude")
    assert concluded["rows"] == [["W23", "high_resistance"]]


def test_the_whole_drawing_fits_on_request(bench: Notebook) -> None:
    """In a low window the ground side lies below; F shows all of it."""
    page, root = bench.page, root_of(bench)
    before = page.viewport_size
    assert before is not None
    page.set_viewport_size({"width": 1280, "height": 800})
    try:
        sheet, whole = root.locator(".ow-sheet"), root.locator(".ow-whole")
        whole.click()
        cut = (
            "node => Math.max(node.scrollHeight - node.clientHeight,"
            " node.scrollWidth - node.clientWidth)"
        )
        assert sheet.evaluate(cut) <= 1
        bench.screenshot("workbench-whole-drawing")
        Hand(root=root).touch("GP1:31")
        expect(where(root, "A")).to_contain_text("on GP1:31,")
        point(root, "GP1:31").press("f")
        assert sheet.evaluate(cut) > 1
    finally:
        page.set_viewport_size(before)


# --- Keyboard -------------------------------------------------------------------------


def test_keys_stay_in_the_workbench(bench: Notebook) -> None:
    """In JupyterLab B adds a cell, X cuts one, D twice deletes one."""
    page, root = bench.page, root_of(bench)
    count = "() => window.jupyterapp.shell.currentWidget.content.widgets.length"
    before = page.evaluate(count)
    places = (
        point(root, "F11:2"),
        root.get_by_role("button", name="Undo"),
        root.get_by_label("Where", exact=True),
        root.get_by_label("Go to a place", exact=True),
    )
    for place in places:
        place.focus()
        for key in "abcddijkmrvxyz001":
            page.keyboard.press(key)
        page.keyboard.press("Shift+M")
    assert page.evaluate(count) == before
    assert list(bench.outputs()) == ["bench", "process"]
    assert acts(bench) == []
    expect(page.get_by_role("dialog")).to_have_count(0)


def test_keys_work_the_bench(bench: Notebook) -> None:
    """T takes the next tool, E opens or steps, U undoes, S silences, Esc leaves."""
    page, root = bench.page, root_of(bench)
    keyboard = page.keyboard
    point(root, "G1:-").focus()
    go_to(root, "X12:1")
    keyboard.press("e")
    expect(root.locator(".ow-status")).to_contain_text("X12 opened.")
    keyboard.press("u")
    expect(root.locator(".ow-status")).to_contain_text("Taken back: open X12.")
    keyboard.press("t")
    chosen = root.locator('.ow-tool[aria-pressed="true"]')
    expect(chosen).not_to_have_text("Volts DC")
    keyboard.press("u")
    expect(chosen).to_have_text("Volts DC")
    go_to(root, "S1:15")
    keyboard.press("e")
    ignition = root.get_by_role("group", name="Ignition", exact=True)
    expect(ignition.get_by_role("button", pressed=True)).to_have_text("on")
    keyboard.press("?")
    expect(root.locator(".ow-keys")).to_contain_text("put lead B here")
    expect(root.locator(".ow-keys")).to_be_visible()

    keyboard.press("g")
    keyboard.type("zz9")
    keyboard.press("Enter")
    expect(root.locator(".ow-status")).to_contain_text("No place is called zz9.")
    keyboard.press("Escape")
    assert not root.evaluate("node => node.contains(document.activeElement)")


def test_focus_is_never_lost(bench: Notebook) -> None:
    """Where a button goes with its act, the drawing takes the focus."""
    page, root = bench.page, root_of(bench)
    point(root, "G1:+").focus()
    for name in ("Put lead A here", "Put lead B here"):
        root.get_by_role("button", name=name).focus()
        page.keyboard.press("Enter")
        expect(root.locator(".ow-status")).to_contain_text("on G1:+.")
        expect(point(root, "G1:+")).to_be_focused()
    root.locator(".ow-note").focus()
    page.keyboard.press("Enter")
    expect(root.locator(".ow-status")).to_contain_text("Reading 1 noted.")
    expect(point(root, "G1:+")).to_be_focused()
    status = root.locator(".ow-status")
    expect(status).to_have_attribute("aria-live", "polite")


# --- Sound ----------------------------------------------------------------------------


def test_supply_sounds_high_and_ground_low(bench: Notebook) -> None:
    """Two octaves apart; silent on an open and when switched off, also next time."""
    root = root_of(bench)
    hand = Hand(root=root)
    hand.put("B", "G1:-")
    hand.put("A", "G1:+")
    expect(root).to_have_attribute("data-heard", "880")
    hand.put("A", "GP1:31")
    expect(root).to_have_attribute("data-heard", "220")

    root.get_by_role("button", name="Sound on").click()
    hand.put("A", "G1:+")
    expect(root).to_have_attribute("data-heard", "220")
    bench.open()
    run(bench)
    expect(root.get_by_role("button", name="Sound off")).to_be_visible()
    root.get_by_role("button", name="Sound off").click()


# --- The card -------------------------------------------------------------------------


def test_what_is_missing_is_said(bench: Notebook) -> None:
    """Hand in names the gap and hands nothing in; so does the repair."""
    root = root_of(bench)
    hand = Hand(root=root)
    status, hand_in = root.locator(".ow-status"), root.locator(".ow-hand-in")
    gap = "Still to choose: where and what is wrong."
    expect(root.locator(".ow-card")).to_contain_text(gap)
    expect(hand_in).not_to_have_class("ow-hand-in ow-ready")
    hand.press_named("Repair it")
    expect(status).to_have_text("Still to choose: where to repair.")
    hand.choose("Where", "W23")
    hand_in.click()
    expect(status).to_have_text("Still to choose: what is wrong.")
    expect(root.get_by_role("button", name="Yes, hand in")).to_be_hidden()

    hand.choose("What", "high resistance")
    expect(hand_in).to_have_class("ow-hand-in ow-ready")
    hand.press_named("Add another answer")
    empty = "Answer 2 is empty: fill it or remove it."
    expect(root.locator(".ow-card")).to_contain_text(empty)
    root.get_by_role("button", name="Remove").last.click()
    expect(hand_in).to_have_class("ow-hand-in ow-ready")
    hand_in.click()
    expect(root).to_contain_text("It cannot be taken back.")
    hand.press_named("Go on working")
    expect(root.get_by_role("button", name="Yes, hand in")).to_be_hidden()
    expect(bench.page.locator(".ow-saved")).to_contain_text("high resistance")
    assert acts(bench) == ["conclude"]


def test_a_kind_survives_another_site_that_can_have_it(bench: Notebook) -> None:
    """Else it must be chosen anew, and a repair locks no conclusion half-changed."""
    root = root_of(bench)
    hand = Hand(root=root)
    hand.choose("Where", "W23")
    hand.choose("What", "high resistance")
    expect(bench.page.locator(".ow-saved")).to_contain_text("W23")
    hand.choose("Where", "GP1")
    expect(bench.page.locator(".ow-saved")).to_contain_text("GP1")
    what = root.get_by_label("What", exact=True).locator("option:checked")
    expect(what).to_have_text("high resistance")
    hand.choose("Where", "E3")
    expect(what).to_have_text("choose")
    hand.choose("Repair", "E3")
    hand.press_named("Repair it")
    status = root.locator(".ow-status")
    expect(status).to_have_text("Still to choose: what is wrong.")
    hand.choose("What", "lamp blown")
    hand.press_named("Repair it")
    expect(root).to_contain_text("Locked by the repair.")
    expect(root.get_by_label("Where", exact=True)).to_be_disabled()
    expect(bench.page.locator(".ow-saved")).to_contain_text("Repaired.")
    last = [a for a in card(bench)["actions"] if a["do"] == "conclude"][-1]
    assert last["rows"] == [["E3", "lamp_blown"]]


def test_a_hints_price_stands_before_it(bench: Notebook) -> None:
    """The price is seen first; with the last hint the button goes."""
    root = root_of(bench)
    expect(root).to_contain_text("Hint 1 of 1 costs 4 marks.")
    expect(root).not_to_contain_text("Compare left and right.")
    root.get_by_role("button", name="Show hint").click()
    expect(root).to_contain_text("Compare left and right.")
    expect(root.get_by_role("button", name="Show hint")).to_be_hidden()


# --- Nothing lost ---------------------------------------------------------------------


def test_work_is_readable_without_a_kernel_and_goes_on(bench: Notebook) -> None:
    """Reopened, the notebook shows the card in words; run again, the workbench."""
    root = root_of(bench)
    Hand(root=root).set("Lights", "dip")
    expect(root).to_contain_text("Right dip lamp E4 off")
    expect(bench.page.locator(".ow-saved")).to_contain_text("lights dip")
    bench.save()
    bench.page.evaluate(
        """async () => {
            const panel = window.jupyterapp.shell.currentWidget;
            await panel.sessionContext.session.kernel.restart();
        }"""
    )
    bench.open()
    expect(bench.page.locator(".ow-saved")).to_contain_text("lights dip")

    run(bench)
    expect(bench.page.locator(".ow-saved")).to_be_hidden()
    expect(root.locator(".ow-paper")).to_contain_text("dip")
    assert acts(bench) == ["set_control"]


def test_a_page_loaded_anew_is_told_to_run_the_cell(bench: Notebook) -> None:
    """The workbench still works there, but the notebook no longer gets the card."""
    root = root_of(bench)
    hand = Hand(root=root)
    hand.set("Ignition", "on")
    expect(bench.page.locator(".ow-saved")).to_contain_text("Ignition on")
    bench.save()
    bench.open()
    bench.show("bench")
    hand.set("Lights", "dip")
    expect(root.locator(".ow-status")).to_contain_text("Run this cell again")
    run(bench)
    assert acts(bench) == ["set_control", "set_control"]
    hand.set("Lights", "side")
    expect(root.locator(".ow-status")).not_to_contain_text("Run this cell again")


# --- Looks ----------------------------------------------------------------------------


@pytest.mark.parametrize("theme", ["Light", "Dark"])
def test_every_view_is_whole_and_accessible(bench: Notebook, theme: str) -> None:
    """No serious finding of axe-core; nothing is cut off from 1000 to 1920 px wide.

    The screenshots are for people to look at.
    """
    page, root = bench.page, root_of(bench)
    before = page.viewport_size
    assert before is not None
    use_theme(page, theme)
    page.emulate_media(reduced_motion="reduce")
    hand = Hand(root=root)
    try:
        assert serious_findings(page) == []
        hand.press_named("Keys")
        hand.set("Ignition", "on")
        hand.set("Lights", "dip")
        hand.put("B", "G1:-")
        hand.put("A", "E3:31")
        hand.note()
        hand.put("A", "G1:+")
        expect(root.locator(".ow-verdict")).to_have_text("LIVE")
        hand.press_named("Ohms")
        expect(root).to_contain_text("Ohms on a live circuit")
        assert serious_findings(page) == []
        hand.press_named("Keys")
        durations = root.locator("button").evaluate_all(
            "all => all.map(one => getComputedStyle(one).transitionDuration)"
        )
        assert set(durations) == {"0s"}
        for width, height in ((1000, 700), (1280, 800), (1920, 1080)):
            page.set_viewport_size({"width": width, "height": height})
            root.evaluate("node => node.scrollIntoView()")
            bench.screenshot(f"workbench-{theme.lower()}-{width}")
            assert cut_off(root) == []
    finally:
        page.emulate_media(reduced_motion="no-preference")
        page.set_viewport_size(before)
        use_theme(page, "Light")


def use_theme(page: Page, theme: str) -> None:
    """Choose one of JupyterLab's own themes."""
    page.evaluate(
        """theme => window.jupyterapp.commands.execute(
            'apputils:change-theme', { theme: `JupyterLab ${theme}` })""",
        theme,
    )
    is_light = str(theme == "Light").lower()
    expect(page.locator("body")).to_have_attribute("data-jp-theme-light", is_light)


def serious_findings(page: Page) -> list[str]:
    """What axe-core finds serious or critical about the workbench."""
    found = Axe().run(page, ".ow").response["violations"]
    return [
        f"{one['id']}: {node['html'][:200]} {node['failureSummary']}"
        for one in found
        if one["impact"] in ("serious", "critical")
        for node in one["nodes"]
    ]


def cut_off(root: Locator) -> list[str]:
    """What a learner presses or chooses from that ends outside the workbench."""
    found: list[str] = root.evaluate(
        """root => {
            const end = root.getBoundingClientRect().right;
            return [...root.querySelectorAll('button, select, input')]
                .filter(one => one.offsetParent && (
                    one.getBoundingClientRect().right > end + 0.5
                    || one.matches('button') && one.scrollWidth > one.clientWidth + 1))
                .map(one => one.textContent);
        }"""
    )
    return found


def test_what_a_repair_is_answered_with_is_not_cut_off(bench: Notebook) -> None:
    """It takes more than one line, and all of them are in sight."""
    page, root = bench.page, root_of(bench)
    before = page.viewport_size
    assert before is not None
    hand = Hand(root=root)
    hand.set("Ignition", "on")
    hand.set("Lights", "dip")
    hand.conclude(("W23", "high resistance"))
    hand.repair("W23")
    status = root.locator(".ow-status")
    try:
        for width, height in ((1440, 900), (1000, 700)):
            page.set_viewport_size({"width": width, "height": height})
            lines, hidden = status.evaluate(
                """node => {
                    const range = document.createRange();
                    range.selectNodeContents(node);
                    const tops = [...range.getClientRects()].map(one => one.top);
                    return [new Set(tops).size, node.scrollHeight - node.clientHeight];
                }"""
            )
            assert lines > 1
            assert hidden <= 0
            root.evaluate("node => node.scrollIntoView()")
            bench.screenshot(f"workbench-repaired-{width}")
    finally:
        page.set_viewport_size(before)


def test_nothing_is_cut_off_beside_the_file_browser(bench: Notebook) -> None:
    """With JupyterLab's own side panel open, in a narrow window."""
    page, root = bench.page, root_of(bench)
    before = page.viewport_size
    assert before is not None
    page.evaluate("window.jupyterapp.commands.execute('filebrowser:activate')")
    page.set_viewport_size({"width": 1000, "height": 768})
    try:
        expect(page.locator("#filebrowser")).to_be_visible()
        bench.screenshot("workbench-beside-files")
        assert cut_off(root) == []
    finally:
        page.set_viewport_size(before)


def test_a_clamp_goes_round_the_wire_that_is_clicked(bench: Notebook) -> None:
    """A wire is thin; a click near it counts. 55 W at 12 V take some 4 A."""
    root = root_of(bench)
    hand = Hand(root=root)
    hand.set("Ignition", "on")
    hand.set("Lights", "dip")
    hand.press_named("Current clamp")
    clamp = root.locator('.ow-tool[aria-pressed="true"]')
    expect(clamp).to_have_text("Current clamp")
    wire = root.locator("#ow-W24 >> css=*").first
    wire.click(position={"x": 4.0, "y": 40.0}, force=True)
    expect(root.locator(".ow-where").first).to_contain_text("on W24")
    expect(root.locator(".ow-display")).to_contain_text("A")
