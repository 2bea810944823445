# SPDX-License-Identifier: GPL-3.0-or-later
"""Every notebook runs from top to bottom; each holds its own assertions."""

from pathlib import Path

import pytest

NOTEBOOKS = sorted((Path(__file__).parents[1] / "notebooks").glob("*.ipynb"))


@pytest.mark.slow
@pytest.mark.timeout(900)
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_runs_and_its_assertions_hold(path):
    import nbformat
    from nbclient import NotebookClient

    notebook = nbformat.read(path, as_version=4)
    NotebookClient(notebook, timeout=600, kernel_name="python3", resources={"metadata": {"path": str(path.parent)}}).execute()
    ran = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert ran and all(cell.execution_count for cell in ran)
    assert any("assert" in cell.source for cell in ran)


def test_there_is_a_notebook():
    assert NOTEBOOKS
