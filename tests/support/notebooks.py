# SPDX-License-Identifier: GPL-3.0-or-later
"""Notebooks run from top to bottom in a kernel of their own."""

from __future__ import annotations

import pickle
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
MATCH = FOLDER / "reproduce-a-distorted-coil-waveform.ipynb"
"""Run with the tests of `match`, which go on with its result."""


def run(path: Path, keep: str = "", kept: Path | None = None) -> Any:
    """Every cell; what an assertion of a cell says is raised. Returns the value of the name `keep` at the end, by way of a file."""
    import nbformat
    from nbclient import NotebookClient

    notebook = nbformat.read(path, as_version=4)
    if kept is not None:
        text = f"import pickle, pathlib\npathlib.Path({str(kept)!r}).write_bytes(pickle.dumps({keep}))"
        notebook.cells.append(nbformat.v4.new_code_cell(text))
    NotebookClient(notebook, timeout=600, kernel_name="python3", resources={"metadata": {"path": str(path.parent)}}).execute()
    ran = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert ran and all(cell.execution_count for cell in ran)
    assert any("assert" in cell.source for cell in ran)
    return None if kept is None else pickle.loads(kept.read_bytes())
