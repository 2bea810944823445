# SPDX-License-Identifier: GPL-3.0-or-later
"""Periodic states of foreign heaters: energy, order, the ideal stage, and SciPy's integrator beside ours."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.foreign.test_laws import BENCH
from tests.support.foreign import laws, orbit, parts
from tests.support.foreign.circuit import AT, Circuit

SOUND = parts.sound(BENCH, parts.FAMILIES[5], np.random.default_rng(5))


def ideal() -> parts.Heater:
    """Chokes that are large and linear, quick gates, hardly any loss."""
    big = (2e-3, 2e-3)
    return replace(
        SOUND,
        supply=BENCH.supply_voltage,
        supply_ohms=1e-3,
        zero=big,
        air=big,
        copper=(1e-4, 1e-4),
        loss=(1e6, 1e6),
        cell_inductance=(1e-7, 1e-7),
        pull_up=(15.0, 15.0),
    )


@cache
def both() -> orbit.Orbit:
    """The sound heater and the ideal stage in one batch."""
    return orbit.settle(Circuit([SOUND, ideal()]), orbit.COARSE)


def tank(found: orbit.Orbit) -> np.ndarray:
    return found.table[:, :, AT["t"]] - found.table[:, :, AT["d_r"]]


def test_a_period_comes_back() -> None:
    assert both().misfit.max() < orbit.LEFT
    assert np.abs(both().table[0, :, orbit.PHASE]).max() < 1e-3


def test_power_given_is_power_lost() -> None:
    given, lost = orbit.powers(both())
    assert given[0] > 300
    assert lost == pytest.approx(given, rel=1e-3)


def test_the_ideal_stage_comes_out() -> None:
    """Reference: the chokes' volt-seconds make the drain's mean the supply's, a half sine of peak pi times it (textbook)."""
    found = both()
    drain = np.trapezoid(found.table[:, 1, AT["d_l"]], found.phases)
    assert drain == pytest.approx(BENCH.supply_voltage, rel=0.01)
    assert tank(found)[:, 1].max() == pytest.approx(np.pi * BENCH.supply_voltage, rel=0.03)


def ends(first: float, last: float, counts: tuple[int, ...]) -> list[np.ndarray]:
    """Tank voltage and coil current of the sound heater at a phase, from the orbit's state at another, by steps of several
    sizes."""
    found = both()
    k = int(np.searchsorted(found.phases, first))
    tables = [orbit.run(found.circuit, found.table[k], found.period, np.linspace(found.phases[k], last, n + 1))[0] for n in counts]
    return [table[-1, 0, [AT["vc"], AT["coil"]]] for table in tables]


def test_steps_of_half_the_size_err_a_quarter(monkeypatch: pytest.MonkeyPatch) -> None:
    """While the switches rest; a method of second order divides by four."""
    monkeypatch.setattr(orbit, "ENOUGH", 1e-8)
    one, two, three = ends(0.0, 0.22, (15, 30, 60))
    assert np.abs(one - two) / np.abs(two - three) == pytest.approx([4.0, 4.0], abs=0.6)


def test_change_over_is_told_within_a_ten_thousandth() -> None:
    """Diodes begin to conduct within a nanosecond, less than a step: there the error falls no longer by four, but it is small.
    The mesh of an orbit has some 200 steps in this span."""
    coarse, fine = ends(0.25, 0.32, (80, 160))
    assert np.abs(coarse - fine).max() < 1e-4 * np.pi * BENCH.supply_voltage


def test_sensitivity_is_what_a_nudge_does() -> None:
    start, circuit, period = both().table[0], both().circuit, both().period
    phases = np.linspace(0, 0.34, 61)
    end, sensitivity = orbit.run(circuit, start, period, phases, sensitive=True)
    assert sensitivity is not None
    for name in ("vc", "i_l", "store"):
        nudge = np.zeros(start.shape[1])
        nudge[AT[name]] = 0.01
        moved, _ = orbit.run(circuit, start + nudge, period, phases)
        assert (moved[-1] - end[-1])[0] / 0.01 == pytest.approx(sensitivity[0, :, AT[name]], abs=0.02)
    longer, _ = orbit.run(circuit, start, period * 1.0001, phases)
    assert (longer[-1] - end[-1])[0] == pytest.approx(sensitivity[0, :, -1] * period[0] * 1e-4, abs=2e-3)


@pytest.mark.slow
def test_scipy_agrees() -> None:
    """Radau's method over a third of a period with an edge, on stored = charges and fluxes: it is given d(stored)/dt by our
    equations and none of our steps. Rows without anything stored are solved for at each evaluation."""
    found = orbit.settle(Circuit([replace(SOUND, choke=laws.RATIONAL)]), 500)
    circuit, x0, period = found.circuit, found.table[0, 0], float(found.period[0])
    singular = np.abs(circuit.stored(x0[None])[1][0]).max(axis=1) < 1e-20

    def rates(_t: float, x: np.ndarray) -> np.ndarray:
        flow, flowing = (each[0] for each in circuit.flows(x[None]))
        storing = circuit.stored(x[None])[1][0].copy()
        storing[singular] = -flowing[singular]
        right = flow.copy()
        right[singular] = flow[singular] * 1e11
        return np.linalg.solve(storing, right)

    done = solve_ivp(rates, (0, 0.34 * period), x0, method="Radau", rtol=1e-7, atol=1e-7)
    assert done.success
    ours = [np.interp(0.34, found.phases, found.table[:, 0, k]) for k in range(x0.size)]
    for name in ("t", "d_l", "d_r", "i_l", "lead", "vc", "coil"):
        assert done.y[AT[name], -1] == pytest.approx(ours[AT[name]], abs=0.05), name
