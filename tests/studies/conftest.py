# SPDX-License-Identifier: GPL-3.0-or-later
"""Stores of earlier versions."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest


@pytest.fixture
def version_1(tmp_path: Path) -> Path:
    """A store as heatsim wrote it before point keys told of versions; two made-up sweeps, a sweep and a map."""
    path = tmp_path / "old" / "points.db"
    path.parent.mkdir()
    link = sqlite3.connect(path)
    link.executescript((Path(__file__).parents[1] / "support" / "store_version_1.sql").read_text(encoding="utf-8"))
    link.close()
    return path
