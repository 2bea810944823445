# SPDX-License-Identifier: GPL-3.0-or-later
"""What every test relies on: pictures without a display, one thread a process, examples that repeat themselves."""

from __future__ import annotations

import os
from pathlib import Path

import hypothesis
import pytest

os.environ.setdefault("MPLBACKEND", "Agg")
for _library in ("OMP", "OPENBLAS", "MKL"):  # two test processes on two cores
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")

# No deadline: a loaded machine is not a fault. Derandomised: a failure is seen by all or by none.
hypothesis.settings.register_profile("heatsim", deadline=None, derandomize=True)
hypothesis.settings.load_profile("heatsim")


@pytest.fixture(scope="session")
def checkout() -> Path:
    """Top folder of the checkout."""
    return Path(__file__).resolve().parents[1]
