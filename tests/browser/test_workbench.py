"""The workbench in a real JupyterLab, by mouse, by keyboard and without a kernel."""

from collections.abc import Callable
from typing import Any

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook
from playwright.sync_api import Locator, expect

from browser.harness import Lab, Notebook
from ohmwork.jobcard import MIME
from small_job import write_book

SHOW = "import ohmwork\nohmwork.start_job('x20_fault', learner='s01').workbench()"


@pytest.fixture
def bench(lab: Lab, open_notebook: Callable[[str], Notebook]) -> Notebook:
    """A notebook in which the workbench is shown."""
    (lab.folder / "x20_fault.card.json").unlink(missing_ok=True)
    write_book(lab.folder, practice=True)
    cells = [
        new_markdown_cell("# Weak left dip beam", id="title"),
        new_code_cell(SHOW, id="bench"),
    ]
    kernel = {"name": "python3", "display_name": "Python 3"}
    notebook = new_notebook(cells=cells, metadata={"kernelspec": kernel})
    nbformat.write(notebook, lab.folder / "bench.ipynb")
    opened = open_notebook("bench.ipynb")
    opened.run_all()
    expect(opened.page.locator(".ow-sheet svg")).to_be_visible()
    return opened


def list_of(notebook: Notebook, label: str) -> Locator:
    """The list with this label, found as assistive technology finds it."""
    return notebook.page.locator(".ow-form").get_by_label(label, exact=True)


def card(notebook: Notebook) -> Any:
    """The job card as it stands in the notebook's outputs."""
    return notebook.outputs()["bench"][1]["data"][MIME]


def test_a_reading_by_mouse_is_in_the_saved_notebook(bench: Notebook) -> None:
    """Controls, leads, note: the file on disk then holds the whole log."""
    form = bench.page.locator(".ow-form")
    form.get_by_role("group", name="Lights").get_by_role("button", name="Side").click()
    list_of(bench, "Lead A").select_option(label="E5:58 – left side lamp, supply side")
    list_of(bench, "Lead B").select_option(label="G1:- – battery, minus post")
    expect(form.locator(".ow-verdict")).to_have_text("LIVE")
    form.get_by_role("button", name="Note it").first.click()
    expect(form.locator(".ow-readings")).to_contain_text("E5:58 to G1:-")
    # The card follows the form by a moment.
    expect(bench.page.locator(".ow-saved")).to_contain_text("E5:58 to G1:-")
    bench.save()

    saved = nbformat.read(bench.lab.folder / bench.path, as_version=4)
    acts = [a["do"] for a in saved.cells[1].outputs[1].data[MIME]["actions"]]
    assert acts == ["set_control", "place", "place", "read", "note"]
    bench.screenshot("workbench")


def test_a_click_on_the_drawing_places_the_lead_in_hand(bench: Notebook) -> None:
    """First lead A, then lead B, then A again; or the one that the learner picks."""
    form = bench.page.locator(".ow-form")
    hand = form.get_by_role("group", name="A click on the drawing moves")
    in_hand = hand.locator(".mod-active")

    def click(place: str) -> None:
        form.locator(f'.ow-point[data-place="{place}"]').first.click()

    expect(in_hand).to_have_text("Lead A")
    click("E5:58")
    expect(list_of(bench, "Lead A").locator("option:checked")).to_contain_text("E5:58")
    expect(in_hand).to_have_text("Lead B")
    click("G1:-")
    expect(form.locator(".ow-verdict")).to_have_text("GROUND")
    expect(in_hand).to_have_text("Lead A")
    hand.get_by_role("button", name="Lead B").click()
    click("G1:+")
    expect(list_of(bench, "Lead B").locator("option:checked")).to_contain_text("G1:+")
    bench.screenshot("clicked")
    acts = [(a["do"], a.get("lead"), a.get("place")) for a in card(bench)["actions"]]
    assert [act for act in acts if act[0] == "place"] == [
        ("place", "A", "E5:58"),
        ("place", "B", "G1:-"),
        ("place", "B", "G1:+"),
    ]


@pytest.mark.parametrize("width", [1000, 1100])
def test_nothing_is_cut_off_beside_the_file_browser(
    bench: Notebook, width: int
) -> None:
    """What a learner presses or chooses from ends inside the form, but for the tools.

    Those scroll in a row of their own where a window is low.
    """
    page = bench.page
    before = page.viewport_size
    assert before is not None
    page.evaluate("window.jupyterapp.commands.execute('filebrowser:activate')")
    page.set_viewport_size({"width": width, "height": 768})
    try:
        expect(page.locator("#filebrowser")).to_be_visible()
        bench.screenshot(f"narrow-{width}")
        inputs = page.locator(
            ".ow-form :is(button, select, .ow-card, .ow-bench):visible"
        ).and_(page.locator(":not(.ow-tool *)"))
        ends = inputs.evaluate_all(
            "all => all.map(one => one.getBoundingClientRect().right)"
        )
        form = page.locator(".ow-form").bounding_box()
        assert form is not None
        assert len(ends) > 20
        assert max(ends) <= form["x"] + form["width"] <= width
    finally:
        page.set_viewport_size(before)


def test_keys_stay_in_the_form(bench: Notebook) -> None:
    """Typing X14 in a list chooses a place; in JupyterLab, X alone cuts the cell."""
    keyboard = bench.page.keyboard
    list_of(bench, "Lead B").select_option(label="G1:- – battery, minus post")
    list_of(bench, "Lead A").focus()
    keyboard.type("x14:4p")
    chosen = list_of(bench, "Lead A").locator("option:checked")
    expect(chosen).to_contain_text("X14:4p")
    # Each letter chooses; ipywidgets sends a button's click past choices that wait.
    expect(bench.page.locator(".ow-status")).to_contain_text("A on X14:4p")
    keyboard.press("Tab")
    keyboard.type("ddb")
    assert set(bench.outputs()) == {"bench"}

    keyboard.press("Space")
    expect(chosen).to_have_text("not placed")
    expect(bench.page.locator(".ow-status")).to_have_attribute("aria-live", "polite")


def test_work_is_readable_without_a_kernel_and_goes_on(bench: Notebook) -> None:
    """Reopened, the notebook shows the card in words; run again, the form."""
    bench.page.get_by_role("button", name="Dip").click()
    expect(bench.page.locator(".ow-sights")).to_contain_text("Right dip lamp E4 off")
    bench.save()
    bench.page.evaluate(
        """async () => {
            const panel = window.jupyterapp.shell.currentWidget;
            await panel.sessionContext.session.kernel.restart();
        }"""
    )
    expect(bench.page.locator(".ow-form.jupyter-widgets-disconnected")).to_be_visible()
    bench.open()
    expect(bench.page.locator(".ow-saved")).to_contain_text("lights dip")

    bench.run_all()
    expect(bench.page.locator(".ow-saved")).to_be_hidden()
    expect(bench.page.locator(".ow-sheet")).to_contain_text("dip")
    assert [a["do"] for a in card(bench)["actions"]] == ["set_control"]
