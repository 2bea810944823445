# SPDX-License-Identifier: GPL-3.0-or-later
"""What every test relies on: pictures without a display, one thread a process, examples that repeat themselves."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import hypothesis
import pytest

from tests.support.processes import heed_interrupts

if TYPE_CHECKING:
    from heatsim.engine.session import Session

os.environ.setdefault("MPLBACKEND", "Agg")
os.environ.pop("COLUMNS", None)  # 80 in xdist's processes, or whatever the terminal happens to have
for _library in ("OMP", "OPENBLAS", "MKL"):  # two test processes on two cores
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")

os.environ.setdefault("MPLCONFIGDIR", str(Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "matplotlib"))

# No deadline: a loaded machine is not a fault. Derandomised: a failure is seen by all or by none.
hypothesis.settings.register_profile("heatsim", deadline=None, derandomize=True)
hypothesis.settings.load_profile("heatsim")


@pytest.fixture(scope="session", autouse=True)
def cache_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The user's cache folder, one for all test processes of a run, and for the kernels and programs they start."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "cache"
    os.environ["XDG_CACHE_HOME"] = str(folder)
    return folder


@pytest.fixture(scope="session", autouse=True)
def hasty() -> Iterator[None]:
    """Nothing in these processes waits for the disk: a process that is killed loses nothing of the system's cache, and no test
    cuts the power."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        patch.setattr("heatsim.studies.store.database.SYNCHRONOUS", "OFF")
        yield


@pytest.fixture(scope="session")
def checkout() -> Path:
    """Top folder of the checkout."""
    return Path(__file__).resolve().parents[1]


@pytest.fixture(scope="session")
def session(tmp_path_factory: pytest.TempPathFactory) -> Session:
    """The one simulator of this process, started in an empty folder, as a worker's is; a library serves one session."""
    from heatsim.engine.worker import simulator

    before = Path.cwd()
    os.chdir(tmp_path_factory.mktemp("session"))
    try:
        return simulator()
    finally:
        os.chdir(before)


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
            preexec_fn=heed_interrupts,
        )

    return run
