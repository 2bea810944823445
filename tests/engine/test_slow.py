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


def test_a_start_long_past_is_not_still_to_come_by_a_time_constant() -> None:
    """Known from the latest stretch: over the whole record the start would count for ever, as the inverse square of its length."""
    tau = 1e-3
    for stop, state in ((3e-3, "moving"), (20e-3, "settled")):
        time, signals = run(lambda t: 1 - np.exp(-t / tau), stop=stop)
        found = judge(time, signals, replace(RULE, slow_time=tau, limit=40e-3))
        assert found.state == state, (stop, found.why)


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


CHOKES = ("choke.left.current", "choke.right.current")
UNEVEN = replace(RULE, watched=("tank.voltage", *CHOKES), difference=CHOKES, difference_time=20e-3)


def uneven(left: float, tau: float = 20e-3, stop: float = 4e-3, depth: float = 0.0) -> tuple[Array, dict[str, Array]]:
    """Chokes of 9 and 11 A and a ripple of 4 A; `left` [A] is what their difference has still to go at t = 0."""
    time, signals = run(lambda t: 1 + depth * np.sin(2 * np.pi * t / RIPPLE), stop=stop)
    rest, ripple = left * np.exp(-time / tau) / 2, 2 * np.sin(2 * np.pi * F * time)
    wave = (1 + depth * np.sin(2 * np.pi * time / RIPPLE)) * ripple
    return time, signals | {CHOKES[0]: 9 + rest + wave, CHOKES[1]: 11 - rest - wave}


@pytest.mark.parametrize("tau", [5e-3, 20e-3, 100e-3])
@pytest.mark.parametrize("stop", [2e-3, 4e-3, 12e-3])
def test_what_chokes_still_drift_apart_is_told_from_the_circuits_time_constant(tau: float, stop: float) -> None:
    """Half of the difference that is left over the smaller choke's 13 A, by the closed form."""
    rule = replace(UNEVEN, difference_time=tau)
    time, signals = uneven(1.0, tau, stop)
    found, left = judge(time, signals, rule), np.exp(-stop / tau) / 2 / 13
    assert (found.state == "moving") == (left > rule.tolerance)
    if left > 2 * rule.tolerance:
        assert found.worst is not None and found.worst * rule.tolerance == pytest.approx(left, rel=0.15)
    assert judge(*uneven(0.2 * rule.tolerance * 13, tau, stop), rule).state == "settled"


def test_chokes_that_drift_apart_for_long_looked_settled_by_three_means_alone() -> None:
    time, signals = uneven(0.3, 100e-3, 4e-3)
    assert judge(time, signals, replace(UNEVEN, difference=())).state == "settled"
    assert judge(time, signals, replace(UNEVEN, difference_time=100e-3)).state == "moving"


@pytest.mark.parametrize(("left", "state"), [(0.0, "settled"), (0.02, "settled"), (0.4, "moving")])
def test_under_a_ripple_chokes_are_compared_with_a_period_of_it_before(left: float, state: str) -> None:
    rule = replace(UNEVEN, ripple_period=RIPPLE, watch=1.25 * RIPPLE, limit=40e-3)
    assert judge(*uneven(left, 20e-3, 9e-3, 0.05), rule).state == state


@pytest.mark.parametrize("phase", np.linspace(0, 2 * np.pi, 5))
def test_a_swing_that_dies_away_is_told_with_its_size(phase: float) -> None:
    """Alone what shrinks as the supply's time constant says; a swing that stays, grows, or hides a drift is none."""

    def current(decay: float, drift: float = 0.0) -> object:
        return lambda t: 26 + drift * t / 20e-3 + 2 * np.exp(-decay * t) * np.sin(2 * np.pi * t / 4e-3 + phase)

    rule = replace(SWINGING, slow_time=12e-3)
    found = judge(*run(np.ones_like, current(1 / 12e-3), stop=20e-3), rule)
    first, last = (2 * 2 * np.exp(-at / 12e-3) / 26 for at in (16e-3, 20e-3))
    assert found.state == "moving" and found.fading is not None and last < found.fading < first
    for steady in (0.0, 5.0, -20.0):
        assert judge(*run(np.ones_like, current(steady), stop=20e-3), rule).fading is None
    assert judge(*run(np.ones_like, current(1 / 12e-3, 5.0), stop=20e-3), rule).fading is None


@pytest.mark.parametrize("phase", np.linspace(0, 2 * np.pi, 5))
def test_a_swing_larger_than_the_mean_is_told_from_what_its_slope_adds_to_each_period(phase: float) -> None:
    """Idle, the leads' current swings by twice its mean: its slope within a tank period is no movement of its own."""
    time, signals = run(np.ones_like, lambda t: 4 + 12 * np.exp(-t / 12e-3) * np.sin(2 * np.pi * t / 5e-3 + phase), stop=36e-3)
    rule = replace(SWINGING, swing_period=5e-3, slow_time=12e-3)
    found = judge(time, signals, rule)
    first, last = (12 * np.exp(-at / 12e-3) for at in (31e-3, 36e-3))  # it is told relative to what flows at the end
    assert found.fading is not None and 2 * last / (4 + last) < found.fading < 2 * first / (4 - last)
    beside = signals["supply.current"] + 0.4 * np.exp(-time / 12e-3) * np.sin(2 * np.pi * F * time)
    assert judge(time, signals | {"supply.current": beside}, rule).fading is None
