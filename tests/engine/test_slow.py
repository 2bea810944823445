# SPDX-License-Identifier: GPL-3.0-or-later
"""What a supply does slowly, on waveforms known in closed form and against an independent integration of its circuit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from heatsim.engine.settle import judge
from heatsim.parts.switch import Supply
from heatsim.waves import Array
from tests.engine.test_settle import RULE, F, run

RIPPLE = 4e-3
RIPPLED = replace(RULE, ripple_period=RIPPLE, watch=1.25 * RIPPLE, limit=40e-3)
SWINGING = replace(RULE, swing_period=4e-3, slow_time=4e-3, watch=4e-3, limit=60e-3)


def supply(**changes: float) -> Supply:
    values = {
        "voltage": 42.0,
        "rise_time": 1e-3,
        "resistance": 20e-3,
        "inductance": 300e-6,
        "reservoir": 2e-3,
        "reservoir_resistance": 15e-3,
        "ripple": 0.0,
        "ripple_frequency": 100.0,
        "current_rating": None,
    }
    return Supply(**(values | changes))  # type: ignore[arg-type]


def rippled(depth: float, left: float = 0.0, tau: float = 3e-3) -> object:
    """An envelope under a ripple; `left` is what the start leaves at t = 0, decaying with `tau`."""
    return lambda t: 1 + depth * np.sin(2 * np.pi * t / RIPPLE) + left * np.exp(-t / tau)


@pytest.mark.parametrize("stop", [5.5e-3, 7.3e-3, 9e-3])
@pytest.mark.parametrize("depth", [0.002, 0.04, 0.2])
def test_a_steady_ripple_is_settled_when_a_period_of_it_was_watched(stop: float, depth: float) -> None:
    assert judge(*run(rippled(depth), stop=stop), RIPPLED).state == "settled"
    early = judge(*run(rippled(depth), stop=4.5e-3), RIPPLED)
    assert early.state == "moving" and "not yet watched" in early.why


@pytest.mark.parametrize("phase", np.linspace(0, 2 * np.pi, 7))
def test_at_crest_or_in_trough_a_ripple_is_not_taken_for_rest(phase: float) -> None:
    """The envelope is level there, which the judgement without a ripple takes for settled at some phases."""
    time, signals = run(lambda t: 1 + 0.03 * np.sin(2 * np.pi * t / RIPPLE + phase), stop=3e-3)
    assert judge(time, signals, RIPPLED).state == "moving"


def test_what_is_left_of_the_start_under_a_ripple_is_seen() -> None:
    """The difference to the period before is left*(exp(T/tau) - 1) at the end of the record."""
    states = {}
    for stop in (6e-3, 9e-3, 15e-3, 30e-3):
        remains = 0.3 * np.exp(-stop / 3e-3) * (np.exp(RIPPLE / 3e-3) - 1)
        found = judge(*run(rippled(0.04, 0.3), stop=stop), RIPPLED)
        states[stop] = found.state
        assert found.state == ("moving" if remains > RULE.tolerance else "settled"), (stop, remains)
        assert "of the supply's ripple" in found.why or found.state == "settled"
    assert set(states.values()) == {"moving", "settled"}


def test_a_slow_time_constant_magnifies_what_a_period_of_the_ripple_shows() -> None:
    """Of a decay with 10 periods of the ripple, nine times the change from period to period is still to come."""
    time, signals = run(rippled(0.04, 0.01, 10 * RIPPLE), stop=3 * RIPPLE)
    assert judge(time, signals, RIPPLED).state == "settled"
    known = judge(time, signals, replace(RIPPLED, slow_time=10 * RIPPLE))
    assert known.state == "moving"
    assert known.worst is not None and known.worst * RULE.tolerance == pytest.approx(0.01 * np.exp(-0.275), rel=0.1)


@pytest.mark.parametrize("periods", [1.37, 7.3, 23.0])
def test_a_fast_ripple_is_judged_by_its_extremes(periods: float) -> None:
    ripple = periods / F
    rule = replace(RULE, ripple_period=ripple, watch=2 * (ripple + 42 / F))

    def envelope(growth: float) -> object:
        return lambda t: 1 + 0.02 * np.exp(growth * t) * np.sin(2 * np.pi * t / ripple)

    assert judge(*run(envelope(0.0), stop=4e-3), rule).state == "settled"
    assert judge(*run(envelope(500.0), stop=4e-3), rule).state == "moving"


@pytest.mark.parametrize("phase", np.linspace(0, 2 * np.pi, 9))
def test_the_swing_of_a_supply_at_its_turning_point_is_not_taken_for_rest(phase: float) -> None:
    def current(t: Array) -> Array:
        return 26 + 1.2 * np.exp(-t / 40e-3) * np.sin(2 * np.pi * t / 4e-3 + phase)

    found = judge(*run(np.ones_like, current, stop=8e-3), SWINGING)
    assert found.state == "moving" and found.worst is not None and found.worst > 10


@pytest.mark.parametrize("tau", [2e-3, 5e-3])
def test_a_swing_is_settled_once_it_is_within_the_tolerance(tau: float) -> None:
    states = set()
    for stop in np.linspace(6e-3, 60e-3, 10):
        time, signals = run(np.ones_like, lambda t: 26 + 4 * np.exp(-t / tau) * np.sin(2 * np.pi * t / 4e-3), stop=stop)
        left = 4 / 26 * np.exp(-stop / tau)
        state = judge(time, signals, replace(SWINGING, slow_time=tau)).state
        states.add(state)
        if left > RULE.tolerance / 2:
            assert state == "moving", (stop, left)
        if left < RULE.tolerance / 40:
            assert state == "settled", (stop, left)
    assert states == {"moving", "settled"}


@pytest.mark.parametrize(
    "changes", [{}, {"inductance": 1e-6, "reservoir": 470e-6}, {"resistance": 0.5, "reservoir": 20e-3, "inductance": 1e-6}]
)
@pytest.mark.parametrize("conductance", [0.05, 0.65])
def test_slow_mode_of_the_supply_against_an_integration(changes: dict[str, float], conductance: float) -> None:
    """The bus after a step, by SciPy, from the circuit's own two equations: what decays and how fast it rings."""
    source = supply(**changes)
    decay, period = source.slow_mode(conductance)

    def slope(_: float, state: Array) -> list[float]:
        current, volts = state
        bus = (volts + source.reservoir_resistance * current) / (1 + source.reservoir_resistance * conductance)
        lead = (1 - source.resistance * current - bus) / source.inductance
        return [lead, (current - conductance * bus) / source.reservoir]

    time = np.linspace(0, 12 * decay, 6001)
    volts = solve_ivp(slope, (0, time[-1]), [0, 0], t_eval=time, rtol=1e-10, atol=1e-12, method="LSODA").y[1]
    final = 1 / (1 + source.resistance * conductance)
    off = volts - final
    late = (time > 2 * decay) & (time < 8 * decay)
    if period:
        marks = time[:-1][(off[:-1] < 0) & (off[1:] >= 0)]
        if marks.size > 2:
            assert np.diff(marks).mean() == pytest.approx(period, rel=0.02)
        rate = np.polyfit(time[late], np.log(np.hypot(off, np.gradient(off, time) * period / 2 / np.pi)[late] + 1e-300), 1)[0]
        assert -1 / rate == pytest.approx(decay, rel=0.1)
    else:
        assert -1 / np.polyfit(time[late], np.log(np.abs(off[late])), 1)[0] == pytest.approx(decay, rel=0.01)


def test_the_ringing_of_a_supply_with_long_leads() -> None:
    """1/(2 pi sqrt(L C)) without losses, and the sum of the two dampings R/2L and G/2C."""
    decay, period = supply(resistance=1e-4, reservoir_resistance=1e-4).slow_mode(0.6)
    assert period == pytest.approx(2 * np.pi * np.sqrt(300e-6 * 2e-3), rel=0.03)
    assert decay == pytest.approx(1 / (2e-4 / 600e-6 + 0.6 / 4e-3), rel=0.01)
