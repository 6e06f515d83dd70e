"""Errors speak to the learner in one sentence, also in a notebook."""

import subprocess
import sys

SCRIPT = """
from IPython.core.interactiveshell import InteractiveShell
shell = InteractiveShell()
shell.run_cell("import ohmwork; ohmwork.load_vehicle('lighting')")
"""


def test_a_notebook_shows_the_sentence_alone() -> None:
    """A cell that fails shows what is wrong and what is near, and no traceback."""
    shown = subprocess.run(
        [sys.executable, "-c", SCRIPT], capture_output=True, check=True, text=True
    )
    assert shown.stdout.split("\n")[0] == (
        "No vehicle 'lighting'. Did you mean 'lighting_board'?"
    )
    assert "Traceback" not in shown.stdout
