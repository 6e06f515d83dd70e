"""The browser tests stand on a JupyterLab that really runs and saves a notebook."""

from collections.abc import Callable

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from browser.harness import Lab, Notebook


@pytest.fixture
def trivial(lab: Lab, open_notebook: Callable[[str], Notebook]) -> Notebook:
    """A notebook of one text cell and two code cells, open in the browser."""
    cells = [
        new_markdown_cell("# Two sums", id="title"),
        new_code_cell("total = 6 * 7\nprint(total)", id="product"),
        new_code_cell("total + 1", id="sum"),
    ]
    kernel = {"name": "python3", "display_name": "Python 3"}
    notebook = new_notebook(cells=cells, metadata={"kernelspec": kernel})
    nbformat.write(notebook, lab.folder / "trivial.ipynb")
    return open_notebook("trivial.ipynb")


def test_cells_run_in_order_and_show_their_outputs(trivial: Notebook) -> None:
    """Running all cells leaves each one's output, in the model and on the page."""
    trivial.run_all()

    outputs = trivial.outputs()
    assert outputs["product"][0]["text"] == "42\n"
    assert outputs["sum"][0]["data"]["text/plain"] == "43"
    assert "43" in trivial.cell("sum").inner_text()
    assert trivial.screenshot("trivial").is_file()


def test_saved_notebook_keeps_its_outputs(trivial: Notebook) -> None:
    """What ran in the browser stands in the file after saving."""
    trivial.run_all()
    trivial.save()

    saved = nbformat.read(trivial.lab.folder / trivial.path, as_version=4)
    assert saved.cells[2].outputs[0].data["text/plain"] == "43"


def test_unknown_cell_is_named(trivial: Notebook) -> None:
    """A misspelt cell id gives an error that names it, not the wrong cell."""
    with pytest.raises(LookupError, match="No cell 'sums'"):
        trivial.cell("sums")
