# SPDX-License-Identifier: GPL-3.0-or-later
"""The widened equations against the plain ones, and each addition against a formula for it alone."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest

from tests.support.captures.circuit import NAMES, CoilTurn, Equations, Faulty, Foldback, Turn, coil_matrix
from tests.support.captures.features import harmonics
from tests.support.captures.orbit import SCALE, Flow, settle, waveforms
from tests.support.independent.circuit import mutual_inductance
from tests.support.independent.circuits import CIRCUITS, bench
from tests.support.independent.solve import Integrator, periodic


@pytest.mark.parametrize(
    "faulty",
    [
        Faulty(bench()),
        Faulty(bench(), turns={"right": Turn(2.0, 12e-6)}, coil_turn=CoilTurn(0.3, 5.0), foldback=Foldback(0.0, 2.0)),
    ],
    ids=["sound", "everything wrong"],
)
def test_jacobian_is_that_of_the_rates(faulty: Faulty) -> None:
    equations = Equations(faulty)
    state = Flow(faulty).start() + SCALE * np.random.default_rng(0).normal(0, 0.3, len(NAMES))
    slopes = equations.jacobian(0.0, state.tolist())
    for k in range(state.size):
        step = np.zeros(state.size)
        step[k] = 1e-6 * max(abs(state[k]), SCALE[k])
        ahead, behind = (np.array(equations.rates(0.0, (state + sign * step).tolist())) for sign in (1, -1))
        column = (ahead - behind) / (2 * step[k])
        assert slopes[:, k] == pytest.approx(column, abs=1e-3 * np.abs(column).max()), NAMES[k]


@pytest.mark.slow
def test_without_gate_inductance_it_is_the_plain_circuit() -> None:
    """Both by SciPy, equations written twice: the limit is the misfit either search allows itself."""
    heater = CIRCUITS["soft"].heater
    bare = Flow(Faulty(replace(heater, gate=replace(heater.gate, inductance=1e-10))))
    settled = settle(bare)
    plain = periodic(Integrator(heater))
    assert 1 / settled.period == pytest.approx(plain.frequency, rel=2e-5)
    mine, other = (harmonics(signals["tank.voltage"]) for signals in (waveforms(bare, settled), plain.signals))
    assert np.abs(mine) == pytest.approx(np.abs(other), abs=2e-3 * abs(other[1]))


def test_settled_period_repeats_itself() -> None:
    flow = Flow(Faulty(bench()))
    settled = settle(flow)
    later = flow(settled.state, 3 * settled.period)[-1]
    assert (later - settled.state) / SCALE == pytest.approx(np.zeros(len(NAMES)), abs=0.05)


def test_shorted_turn_of_the_coil_takes_inductance_and_gives_resistance() -> None:
    """Without workpiece: L (1 - k^2 x^2/(1+x^2)) and w L k^2 x/(1+x^2), the reflected impedance of a shorted secondary."""
    heater, turn = bench("idle"), CoilTurn(0.3, 4.0)
    inverse, _, resistance = coil_matrix(Faulty(heater, coil_turn=turn))
    w, coil, lead = 2 * math.pi * heater.frequency, heater.coil.inductance, heater.coil.lead_inductance
    impedance = 1j * w * np.linalg.inv(np.array(inverse)) + np.diag([0, 1e9, resistance])
    seen = 1 / np.linalg.inv(impedance)[0, 0]
    ratio = turn.ratio
    assert seen.imag / w - lead == pytest.approx(coil * (1 - turn.share * ratio**2 / (1 + ratio**2)), rel=1e-6)
    assert seen.real == pytest.approx(w * coil * turn.share * ratio / (1 + ratio**2), rel=1e-6)


def test_without_a_turn_the_coil_is_as_it_was() -> None:
    heater = bench()
    primary, mutual, secondary, _ = mutual_inductance(heater)
    own = primary + heater.coil.lead_inductance
    inverse = np.array(coil_matrix(Faulty(heater))[0])
    expected = np.linalg.inv(np.array([[own, mutual], [mutual, secondary]]))
    assert inverse[:2, :2] == pytest.approx(expected, rel=1e-9)
    assert not inverse[2, :2].any()


@pytest.mark.slow
def test_foldback_takes_the_voltage_its_slope_says() -> None:
    """sag = slope (I - limit), and the current is that of a lower supply voltage."""
    heater, fold = bench(), Foldback(18.0, 2.0)
    flow = Flow(Faulty(heater, foldback=fold))
    settled = settle(flow)
    lead, sag = (float(settled.state[NAMES.index(name)]) for name in ("lead", "sag"))
    assert sag == pytest.approx(fold.slope * (lead - fold.limit), abs=0.02)
    assert sag > 5
    lower = Flow(Faulty(replace(heater, supply=replace(heater.supply, voltage=heater.supply.voltage - sag))))
    assert float(settle(lower).state[NAMES.index("lead")]) == pytest.approx(lead, rel=5e-3)


@pytest.mark.slow
def test_shorted_turn_of_a_choke_carries_what_its_impedance_lets_through() -> None:
    """Turn's current against the choke's voltage at the fundamental: 1/(R + jwL)."""
    turn = Turn(2.0, 12e-6)
    flow = Flow(Faulty(bench(), turns={"left": turn}))
    settled = settle(flow)
    table = flow(settled.state, settled.period, 2049)
    current = harmonics(table[:, NAMES.index("turn_left")])[1]
    voltage = harmonics(np.gradient(table[:, NAMES.index("flux_left")], settled.period / 2048))[1]
    expected = 1 / (turn.resistance + 2j * math.pi / settled.period * turn.inductance)
    assert abs(current / voltage / expected) == pytest.approx(1, abs=0.01)
    assert cmath.phase(current / voltage / expected) == pytest.approx(0, abs=0.01)


def test_one_choke_circuit_is_turned_away() -> None:
    with pytest.raises(ValueError, match="two-choke"):
        Faulty(bench(heater__topology="one-choke"))
