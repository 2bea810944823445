# SPDX-License-Identifier: GPL-3.0-or-later
"""What the simulator's steps falsify, and what is left, against the independent integration of the same heaters."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from heatsim.engine.session import Session
from heatsim.measures.lines import lines_of_period
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.data import LEVEL_FLOOR, SHARE_FLOOR
from heatsim.studies.match.fit import STEPS
from heatsim.studies.match.response_library import View, finer_of, packed_of
from heatsim.studies.match.solver import REFERENCE, Solver
from heatsim.waves import Array
from tests.support.captures import causes
from tests.support.captures.make import Made, make_capture

pytestmark = [pytest.mark.ngspice, pytest.mark.slow]

CHANNELS = (REFERENCE, "drain.left.voltage")


def shares(view: View) -> Array:
    """Real and imaginary parts of the first 25 lines, in one."""
    lines = np.concatenate([view.shares[name][:26] for name in CHANNELS])
    return np.concatenate([lines.real, lines.imag])


def integrated(made: Made) -> tuple[Array, Array]:
    """Log frequency and fundamental, and the shares, of the period that SciPy made."""
    time = np.linspace(0, 1 / made.truth["frequency"], made.period[REFERENCE].size)
    turn = float(np.angle(lines_of_period(time, made.period[REFERENCE], 1)[1]))
    lines = {name: lines_of_period(time, made.period[name], 25, turn) for name in CHANNELS}
    size = abs(lines[REFERENCE][1])
    view = View(np.log([made.truth["frequency"], size]), {name: c / size for name, c in lines.items()}, {})
    return view.level, shares(view)


def test_without_the_error_of_the_steps_sound_heaters_are_those_of_another_integration(session: Session, checkout: Path) -> None:
    """Ordinary draws of sound parts. The difference of two integrations is mostly what finer steps change, as often as stated;
    what is left beside is not above the floor, and the corrected frequency and size are nearer."""
    scenario = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")
    solver, sound = Solver(session, CHANNELS), scenario.heater("loaded")
    start = solver.start(sound)
    finer = finer_of(solver, sound, start)
    way = View.unpacked(finer, CHANNELS)
    for seed in range(3):
        made = make_capture(scenario, "loaded", causes.NOTHING, seed, CHANNELS)
        packed = packed_of(solver.solve(made.faulty.heater, start))
        level, true = integrated(made)
        plain, better = View.unpacked(packed, CHANNELS), View.unpacked(packed + STEPS[0] * finer, CHANNELS)
        off, steps = true - shares(plain), shares(way)
        times = float(steps @ off / (steps @ steps))
        assert abs(times - STEPS[0]) < 2 * STEPS[1]
        assert float(np.sqrt(np.mean((off - times * steps) ** 2))) < SHARE_FLOOR
        assert np.linalg.norm(true - shares(better)) < 0.6 * np.linalg.norm(off)
        assert np.all(np.abs(level - better.level) < 2 * np.array(LEVEL_FLOOR))
