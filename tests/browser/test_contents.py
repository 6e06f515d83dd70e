"""The page of contents in a real JupyterLab: there before anything runs; its links."""

from collections.abc import Callable

from playwright.sync_api import expect

import ohmwork
from browser.harness import Lab, Notebook
from ohmwork.course import copy_for_learner
from ohmwork.progress import lessons_in


def test_the_contents_lead_to_a_lesson_and_show_that_it_was_begun(
    lab: Lab, open_notebook: Callable[[str], Notebook]
) -> None:
    """By a click in the table; run again, it tells of the work."""
    folder = lab.folder / "course"
    copy_for_learner(folder, "s07")
    lesson = next(k for k in lessons_in(folder) if k.name == "a20_two_sides")
    notebook = open_notebook("course/contents.ipynb")
    table = notebook.cell("table").locator("table")
    row = table.locator("tr", has_text=lesson.title)
    expect(row).to_contain_text("not begun")
    expect(table.get_by_text("next", exact=True)).to_have_count(1)
    notebook.screenshot("contents")

    ohmwork.start_practice("a20_practice_fault", folder=folder / lesson.name)
    notebook.run_all()
    expect(row).to_contain_text("begun, 3 questions open")
    notebook.save()

    row.get_by_role("link", name=f"a20: {lesson.title}").click()
    notebook.page.wait_for_function(
        """path => window.jupyterapp.shell.currentWidget?.context?.path === path""",
        arg=f"course/{lesson.name}/{lesson.name}.ipynb",
    )
    notebook.screenshot("contents-lesson")


def test_the_glossary_is_a_click_away(
    lab: Lab, open_notebook: Callable[[str], Notebook]
) -> None:
    """From the contents, and from the end of a lesson."""
    folder = lab.folder / "words"
    copy_for_learner(folder, "s07")
    for path, cell in (
        ("contents.ipynb", "contents"),
        ("a20_two_sides/a20_two_sides.ipynb", "why"),
    ):
        notebook = open_notebook(f"words/{path}")
        notebook.show(cell).get_by_role("link", name="glossary").click()
        notebook.page.wait_for_function(
            "() => window.jupyterapp.shell.currentWidget?.context?.path"
            " === 'words/GLOSSARY.md'"
        )
        expect(notebook.page.get_by_text("trade words of the lessons")).to_be_visible()
    notebook.screenshot("contents-glossary")
