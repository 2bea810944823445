# SPDX-License-Identifier: GPL-3.0-or-later
"""A fresh process for what must not happen in the one that runs the tests."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest


@pytest.fixture
def python(checkout: Path, tmp_path: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    """Run a piece of Python in a fresh process; keyword arguments are added to its environment."""

    def run(code: str, *arguments: str, cwd: Path | None = None, **environment: str) -> subprocess.CompletedProcess[str]:
        script = tmp_path / "script.py"
        script.write_text(code, encoding="utf-8")
        return subprocess.run(
            [sys.executable, str(script), *arguments],
            cwd=cwd or tmp_path,
            capture_output=True,
            text=True,
            timeout=120,
            env={**os.environ, "PYTHONPATH": str(checkout), **environment},
        )

    return run
