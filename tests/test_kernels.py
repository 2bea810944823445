# SPDX-License-Identifier: GPL-3.0-or-later
"""The numerical tests hold however linear algebra rounds: run again under a kernel of OpenBLAS that is not this machine's own."""

from __future__ import annotations

import ctypes
import json
import os
import platform
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.support.rounding import moved

OTHERS = ("Haswell", "Nehalem")
"""Kernels that every current x86 processor can run; the former has fused multiply-add and wide vectors, the latter has not
(OpenBLAS, DYNAMIC_ARCH, environment variable OPENBLAS_CORETYPE)."""

ASK = "from tests.test_kernels import kernel; print(kernel())"


def kernel() -> str:
    """Name of the kernel that NumPy's OpenBLAS runs on, empty where it cannot be asked."""
    for library in sorted(Path(np.__file__).parents[1].glob("numpy.libs/*openblas*")):
        ask = getattr(ctypes.CDLL(str(library)), "scipy_openblas_get_corename64_", None)
        if ask is not None:
            ask.restype = ctypes.c_char_p
            return str(ask().decode())
    return ""


def another() -> str:
    """A kernel that is not the one in use."""
    return next(name for name in OTHERS if name != kernel())


def run(name: str, *command: str) -> subprocess.CompletedProcess[str]:
    """Run Python under a kernel."""
    told = {key: value for key, value in os.environ.items() if not key.startswith("PYTEST_")}
    return subprocess.run([sys.executable, *command], env=told | {"OPENBLAS_CORETYPE": name}, capture_output=True, text=True)


elsewhere = pytest.mark.skipif(
    platform.machine() not in ("x86_64", "AMD64") or not kernel(), reason="no other kernel on this machine"
)


@pytest.mark.slow
@pytest.mark.timeout(1500)
@elsewhere
def test_numerical_tests_hold_under_another_kernel(checkout: Path) -> None:
    name = another()
    assert run(name, "-c", ASK).stdout.strip() == name, "the variable chooses the kernel"
    files = [str(path) for path in (checkout / "tests").rglob("test_*.py") if "pytest.mark.numerics" in path.read_text("utf-8")]
    done = run(name, "-m", "pytest", "-q", "-m", "numerics", "-p", "no:cacheprovider", *files)
    assert done.returncode == 0, f"under {name}:\n{done.stdout[-6000:]}{done.stderr[-2000:]}"


def measured(name: str, relative: float = 0.0) -> dict[str, dict[str, object]]:
    """The points of `tests.support.rounding` under a kernel."""
    done = run(name, "-m", "tests.support.rounding", "--relative", str(relative))
    assert done.returncode == 0, done.stderr[-2000:]
    found: dict[str, dict[str, object]] = json.loads(done.stdout)
    return found


@pytest.mark.slow
@pytest.mark.ngspice
@pytest.mark.timeout(1500)
def test_every_measure_moves_by_less_than_its_error_where_nothing_but_rounding_differs() -> None:
    """Under another kernel, where there is one, and with every supply voltage off by 1e-9 of itself: no number should show it, but
    every time step does."""
    here, there = measured(kernel()), measured(another() if kernel() else "", 1e-9)
    assert here.keys() == there.keys() and here != there
    assert {point: told for point in here if (told := moved(here[point], there[point]))} == {}
