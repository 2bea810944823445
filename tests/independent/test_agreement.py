# SPDX-License-Identifier: GPL-3.0-or-later
"""The equations by hand: against the integration of whole circuits, and against ngspice in its waves and in finer steps.

Whole circuits on ngspice are compared in test_whole_circuit.py. The equations by hand (`circuit`) are a second route to the plain
stage, and what captures of faulty heaters are made by.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest

from heatsim.engine import run_deck
from heatsim.netlist.generate import make_deck
from heatsim.parts.heater import Heater
from heatsim.waves import Waveforms
from tests.support.book import INDEPENDENT, known
from tests.support.independent.circuits import CIRCUITS
from tests.support.independent.measure import numbers, rising, shape
from tests.support.independent.one_thread import one_thread
from tests.support.independent.orbit import settle
from tests.support.independent.solve import Integrator, Period, periodic
from tests.support.independent.whole import whole

PERIODS = 10


@dataclass(frozen=True)
class Reading:
    """Numbers and one period of the tank voltage on an even grid of phase, from coil current zero to zero."""

    numbers: dict[str, float]
    tank: np.ndarray


def read_waves(waves: Waveforms) -> Reading:
    """The last PERIODS whole periods of a simulated record."""
    marks = rising(waves.time, waves["coil.current"])[-PERIODS - 1 :]
    part = waves.between(marks[0], marks[-1])
    return Reading(numbers(part.time, part.signals, PERIODS), shape(waves.time, waves["tank.voltage"], marks[-2], marks[-1]))


def read_period(settled: Period) -> Reading:
    """The settled period twice over, so that it can be cut at the coil current's zero."""
    time = np.concatenate([settled.time, settled.time[1:] + settled.time[-1]])
    double = {name: np.concatenate([x, x[1:]]) for name, x in settled.signals.items()}
    mark = rising(time, double["coil.current"])[0]
    return Reading(numbers(settled.time, settled.signals, 1), shape(time, double["tank.voltage"], mark, mark + settled.time[-1]))


def simulated(heater: Heater, steps_per_period: int = 200) -> Reading:
    """By ngspice, cold start until it settles."""
    run = run_deck(make_deck(heater, "second leg", steps_per_period))
    assert run.outcome == "settled", run.detail
    assert run.waveforms is not None
    return read_waves(run.waveforms)


@cache
def ngspice(name: str) -> Reading:
    """One of CIRCUITS by ngspice."""
    return simulated(CIRCUITS[name].heater)


@cache
def period(name: str) -> Period:
    """One of CIRCUITS by SciPy."""
    return periodic(Integrator(CIRCUITS[name].heater))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["soft", "one choke"])
def test_equations_by_hand_are_those_of_node_voltages(name: str) -> None:
    """Two routes apart from heatsim. What the equations by hand leave out, gate loops the largest part, is worth 0.01 % of
    frequency and 0.1 % of the other numbers; allowed is twice that."""
    drawn = CIRCUITS[name]
    with one_thread():
        settled = settle(whole(drawn.heater, drawn.scenario.tables.choke), drawn.heater.frequency, 3e-4)
    by_nodes, by_hand = numbers(settled.course.times, settled.signals, 1), numbers(period(name).time, period(name).signals, 1)
    assert set(by_nodes) == set(by_hand)
    for what, value in by_nodes.items():
        rel = 2e-4 if what == "frequency" else 2e-3
        assert by_hand[what] == pytest.approx(value, rel=rel), what


@pytest.mark.slow
@pytest.mark.parametrize("name", ["soft", "small rings"])
def test_tank_voltage_has_the_same_shape(name: str) -> None:
    """Rms of the difference over a period, as a share of the rms: seen 0.1 %, so a half per cent is not by chance."""
    tank, other = ngspice(name).tank, read_period(period(name)).tank
    difference = np.sqrt(np.mean((tank - other) ** 2) / np.mean(other**2))
    what = f"{name}: rms difference of the tank's wave over its rms"
    assert difference == known(0.0, what, "equations by hand, SciPy", INDEPENDENT, abs=5e-3)


@pytest.mark.slow
def test_scipy_has_converged() -> None:
    """A hundred times finer tolerances change nothing that matters."""
    fine = read_period(periodic(Integrator(CIRCUITS["soft"].heater, rtol=1e-7))).numbers
    coarse = read_period(period("soft")).numbers
    assert coarse["frequency"] == pytest.approx(fine["frequency"], rel=2e-5)
    for what, value in fine.items():
        assert coarse[what] == pytest.approx(value, rel=1e-3), what


@pytest.mark.slow
def test_finer_steps_bring_ngspice_nearer() -> None:
    """Gear's second order: half the step, a quarter of the error; more than half of it must go."""
    true = period("soft").frequency
    apart = abs(ngspice("soft").numbers["frequency"] / true - 1)
    finer = abs(simulated(CIRCUITS["soft"].heater, 400).numbers["frequency"] / true - 1)
    assert finer < 0.5 * apart
    assert finer < 3e-4


@pytest.mark.slow
def test_drain_leads_matter() -> None:
    """Five nanohenries in the drains lower the frequency by 0.1 % and draw 0.4 % more current: why they are kept."""
    heater = CIRCUITS["soft"].heater
    bare = read_period(periodic(Integrator(replace(heater, switch=replace(heater.switch, drain_inductance=1e-10)))))
    with_leads = read_period(period("soft")).numbers
    assert bare.numbers["frequency"] / with_leads["frequency"] - 1 == pytest.approx(1.2e-3, abs=3e-4)
    assert bare.numbers["supply mean"] / with_leads["supply mean"] - 1 == pytest.approx(-4.5e-3, abs=1e-3)


@pytest.mark.slow
def test_settled_period_is_stable() -> None:
    """Small disturbances shrink from period to period; the slowest is the chokes' sharing of the mean current."""
    slowest = np.abs(period("soft").multipliers).max()
    assert slowest < 1.0
    assert slowest == pytest.approx(0.997, abs=0.002)
