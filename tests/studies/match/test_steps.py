# SPDX-License-Identifier: GPL-3.0-or-later
"""What the simulator's steps falsify, and what is left, against the independent integration of the same heaters."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest

from heatsim.engine.session import Session
from heatsim.measures.lines import lines_of_period
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.discrepancy import LEVEL_FLOOR
from heatsim.studies.match.hypothesis import STEP_ERROR
from heatsim.studies.match.response_library import COARSE_PERIODS, free_responses, packed_of, step_error_of
from heatsim.studies.match.solver import COUNT, REFERENCE, Solution, Solver
from heatsim.waves import Array
from tests import test_kernels as kernels
from tests.support.captures import causes
from tests.support.captures.make import Made, make_capture

pytestmark = [pytest.mark.ngspice, pytest.mark.slow]

CHANNELS = (REFERENCE, "drain.left.voltage")
SAME_CIRCUIT = 0.4e-4
"""What two integrations of the very same circuit may leave of a line, as a share of the fundamental: measured 0.1 to 0.3e-4."""

SCENARIO = Path(__file__).resolve().parents[3] / "scenarios" / "bench-heater.toml"


def shares(packed: Array) -> Array:
    """Real and imaginary parts of the first 25 lines, in one."""
    lines = packed[2 : 2 + 2 * (COUNT + 1) * len(CHANNELS)].reshape(len(CHANNELS), 2, COUNT + 1)
    return np.asarray(lines[:, :, :26].ravel())


def integrated(made: Made) -> tuple[Array, Array]:
    """Log frequency and fundamental, and the shares, of the period that SciPy made."""
    time = np.linspace(0, 1 / made.truth["frequency"], made.period[REFERENCE].size)
    turn = float(np.angle(lines_of_period(time, made.period[REFERENCE], 1)[1]))
    lines = [lines_of_period(time, made.period[name], 25, turn) for name in CHANNELS]
    size = abs(lines[0][1])
    own = np.concatenate([part for c in lines for part in ((c / size).real, (c / size).imag)])
    return np.log([made.truth["frequency"], size]), own


Measured = tuple[Solver, Solution, Array, float]


def measured(session: Session) -> Measured:
    """A solver, the sound heater on it, its step error, and the standard error of the error's size that averaging leaves."""
    solver = Solver(session, CHANNELS)
    sound = Scenario.from_file(SCENARIO).heater("loaded")
    start = solver.start(sound)
    rows = np.array([shares(row) for row in free_responses(solver, sound, start, COARSE_PERIODS)])
    return solver, start, step_error_of(solver, sound, start), float(np.sqrt(np.sum(np.var(rows, axis=0, ddof=1)) / len(rows)))


@pytest.fixture(scope="module")
def here(session: Session) -> Measured:
    """Under this machine's own kernel."""
    return measured(session)


def test_without_the_error_of_the_steps_sound_heaters_are_those_of_another_integration(here: Measured) -> None:
    """Ordinary draws of sound parts. The difference of two integrations is mostly what finer steps change, as often as stated;
    what is left beside is not above the floor, and the corrected frequency and size are nearer."""
    solver, start, step_error, error = here
    steps = shares(step_error)
    assert 4 * error < np.linalg.norm(steps)
    for seed in range(3):
        made = make_capture(Scenario.from_file(SCENARIO), "loaded", causes.NOTHING, seed, CHANNELS)
        packed = packed_of(solver.solve(made.faulty.heater, start))
        level, true = integrated(made)
        better, off = packed + STEP_ERROR[0] * step_error, true - shares(packed)
        times = float(steps @ off / (steps @ steps))
        assert abs(times - STEP_ERROR[0]) < STEP_ERROR[1]
        assert float(np.sqrt(np.mean((off - times * steps) ** 2))) < SAME_CIRCUIT
        assert np.linalg.norm(true - shares(better)) < 0.8 * np.linalg.norm(off)  # the rest is one period's, at random
        assert np.all(np.abs(level - better[:2]) < 2 * np.array(LEVEL_FLOOR))


@pytest.mark.skipif(not kernels.kernel(), reason="the kernel of linear algebra cannot be asked")
def test_the_step_error_is_that_of_the_circuit_and_not_of_how_linear_algebra_rounds(here: Measured) -> None:
    """Under two kernels: the same within four standard errors of the difference. A single period's differed by thrice that."""
    there = json.loads(kernels.run(kernels.another(), __file__).stdout)
    one, other = shares(here[2]), np.array(there["steps"])
    error = float(np.hypot(here[3], there["error"]))
    assert np.linalg.norm(one - other) > 0, "the kernel makes no difference: nothing is tested"
    assert 0 < error < 2e-5
    assert np.linalg.norm(one - other) < 4 * error


if __name__ == "__main__":
    _, _, found, rest = measured(Session())
    sys.stdout.write(json.dumps({"steps": shares(found).tolist(), "error": rest}))
