# SPDX-License-Identifier: GPL-3.0-or-later
"""Notebooks run from top to bottom in a kernel of their own, and hand their results to the tests."""

from __future__ import annotations

import json
import os
import pickle
import re
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
MATCH = FOLDER / "reproduce-a-distorted-coil-waveform.ipynb"
"""Run with the tests of `match`, which go on with its result."""


def cells(path: Path, kind: str) -> list[dict[str, Any]]:
    """Its cells of a kind, "code" or "markdown", as they are in the file, their lines joined to one text."""
    found = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return [cell | {"source": "".join(cell["source"])} for cell in found if cell["cell_type"] == kind]


def text_of(path: Path) -> str:
    """All of its prose, line ends as spaces."""
    return re.sub(r"\s+", " ", " ".join(cell["source"] for cell in cells(path, "markdown")))


def decision(path: Path) -> str:
    """What stands in bold below its title."""
    found = re.search(r"\*\*Decision: (.*?)\*\*", text_of(path))
    assert found is not None, f"{path.name} opens with no decision"
    return found[1]


def run(path: Path, folder: Path, *names: str) -> dict[str, Any]:
    """Run every cell; what a cell raises is raised. Returns the values of these names at the end, by way of a file.

    folder: empty, for what the notebook keeps on disk
    """
    import nbformat
    from nbclient import NotebookClient

    notebook, kept = nbformat.read(path, as_version=4), folder / "kept.pickle"
    told = ", ".join(f"{name!r}: {name}" for name in names)
    text = f"import pickle, pathlib\npathlib.Path({str(kept)!r}).write_bytes(pickle.dumps({{{told}}}))"
    notebook.cells.append(nbformat.v4.new_code_cell(text))
    client = NotebookClient(notebook, timeout=600, kernel_name="python3", resources={"metadata": {"path": str(path.parent)}})
    client.execute(env=os.environ | {"TMPDIR": str(folder)})
    ran = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert ran and all(cell.execution_count for cell in ran)
    found: dict[str, Any] = pickle.loads(kept.read_bytes())
    return found
