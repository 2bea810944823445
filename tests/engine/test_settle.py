# SPDX-License-Identifier: GPL-3.0-or-later
"""Settling judged on waveforms whose envelopes are known in closed form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatsim.engine.settle import PERIOD, judge, rising_zeros, to_come
from heatsim.netlist.deck import SettleRule
from heatsim.waves import Array
from heatsim.waves.periods import per_period

F = 90e3
RULE = SettleRule(
    section="tank.voltage",
    watched=("tank.voltage", "supply.current"),
    tolerance=2e-3,
    periods=10,
    first=1e-3,
    again=3e-4,
    limit=10e-3,
    quiet=1.0,
    latch_current=30.0,
)


def uneven_time(stop: float, seed: int = 1, mean_step: float = 60e-9) -> Array:
    """Random steps between half and one and a half times the mean, as a simulator takes them."""
    steps = mean_step * np.random.default_rng(seed).uniform(0.5, 1.5, int(1.2 * stop / mean_step))
    time = np.cumsum(steps)
    return time[time < stop]


def run(envelope: object, current: object = None, stop: float = 2e-3, phase: float = 0.3) -> tuple[Array, dict[str, Array]]:
    """A tank voltage of 100 V times `envelope(t)` and a supply current `current(t)`, 10 A by default."""
    time = uneven_time(stop)
    tank = 100 * envelope(time) * np.sin(2 * np.pi * F * time + phase)  # type: ignore[operator]
    supply = np.full(time.size, 10.0) if current is None else current(time)  # type: ignore[operator]
    return time, {"tank.voltage": tank, "supply.current": supply}


def test_crossings_of_a_sine_are_where_they_are() -> None:
    time, signals = run(np.ones_like)
    marks = rising_zeros(time, signals["tank.voltage"])
    exact = (np.arange(1, marks.size + 1) - 0.3 / (2 * np.pi)) / F
    assert marks.size == int(2e-3 * F)
    assert np.abs(marks - exact).max() < 2e-4 / F  # straight lines over 1/180 of a period


def test_ringing_about_zero_is_no_period() -> None:
    time = uneven_time(1e-3)
    clean = np.sin(2 * np.pi * F * time)
    ringing = clean + 0.015 * np.sin(2 * np.pi * 40 * F * time)
    assert rising_zeros(time, ringing).size == pytest.approx(rising_zeros(time, clean).size, abs=1)


def test_steady_oscillation_is_settled() -> None:
    found = judge(*run(np.ones_like), RULE)
    assert found.state == "settled"
    assert found.worst is not None and found.worst < 0.3


@pytest.mark.parametrize("tau", [30e-6, 100e-6, 300e-6, 1e-3, 3e-3])
def test_exponential_settling_is_called_when_it_is_within_the_tolerance(tau: float) -> None:
    """Amplitude 1 - exp(-t/tau) of its final value: what is left in the middle of the last window is known exactly, and
    so is what was left where the three windows begin.
    """
    seen = set()
    for stop in np.geomspace(4e-4, 40e-3, 24):
        time, signals = run(lambda t: 1 - np.exp(-t / tau), stop=stop)
        left, before = (np.exp(-(stop - periods / F) / tau) / RULE.tolerance for periods in (5, 31))
        state = judge(time, signals, RULE).state
        seen.add(state)
        if left > 2:
            assert state == "moving", f"{stop:.3g} s, {left:.2g} tolerances left"
        if left < 0.3 and before < 0.9:
            assert state == "settled", f"{stop:.3g} s, {left:.2g} tolerances left"
    assert "settled" in seen


def test_slow_drift_that_neighbouring_windows_miss_is_caught() -> None:
    """0.15 % from window to window passes the first test, but 6 ms of time constant have 8 % still to go."""
    time, signals = run(np.ones_like, lambda t: 10 - 8 * np.exp(-t / 6e-3), stop=10e-3)
    found = judge(time, signals, RULE)
    assert found.state == "moving"
    assert "supply.current (mean) has an estimated" in found.why
    left = 8 * np.exp(-10 / 6) / 10
    assert found.worst is not None and found.worst * RULE.tolerance == pytest.approx(left, rel=0.35)


def test_the_window_before_the_last_two_counts() -> None:
    """2.9 tolerances are left where the three windows begin and decay over 8 periods: the last pair of windows agrees,
    nothing is left to come, no pair of periods is far off, but the first pair of windows differs by 1.2 tolerances.
    """
    stop = 1e-3
    start = stop - 30.5 / F
    time, signals = run(lambda t: 1 - 2.9 * RULE.tolerance * np.exp(np.minimum(start - t, 0) * F / 8), stop=stop)
    found = judge(time, signals, replace(RULE, watched=("tank.voltage",)))
    assert found.state == "moving"
    assert "from window to window" in found.why


def test_growing_oscillation_is_moving() -> None:
    found = judge(*run(lambda t: np.exp(t / 5e-3)), RULE)
    assert found.state == "moving"
    assert "tank.voltage (peak-to-peak)" in found.why


@pytest.mark.parametrize("periods", [8, 20, 27, 60, 150])
def test_beats_are_moving_however_the_windows_fall(periods: int) -> None:
    """An envelope that beats by 5 % over 8 to 150 periods: windows of ten periods may agree by chance, at the crest
    of a slow beat or when the window is a whole number of beats.
    """
    for phase in np.linspace(0, 2 * np.pi, 9):

        def envelope(t: Array, phase: float = phase) -> Array:
            return 1 + 0.025 * np.sin(2 * np.pi * F * t / periods + phase)

        found = judge(*run(envelope, stop=4e-3), RULE)
        assert found.state == "moving", f"phase {phase:.2f}: {found}"


def test_whole_beats_in_a_window_agree_from_window_to_window_and_are_caught_by_their_pairs() -> None:
    found = judge(*run(lambda t: 1 + 0.025 * np.sin(2 * np.pi * F * t / 10), stop=3e-3), RULE)
    assert found.state == "moving"
    assert "varies by" in found.why


@pytest.mark.parametrize("periods", [9, 10])
def test_steady_alternation_of_two_periods_is_settled(periods: int) -> None:
    """Every other period 6 % larger, for ever: a periodic state, of twice the period."""
    time, signals = run(lambda t: 1 + 0.03 * np.sign(np.sin(np.pi * F * t + 0.15)), stop=3e-3)
    marks = rising_zeros(time, signals["tank.voltage"])
    swing = np.sort(per_period(time, signals["tank.voltage"], marks).swing[-20:])
    assert swing[10:].mean() / swing[:10].mean() == pytest.approx(1.03 / 0.97, rel=2e-3)
    assert judge(time, signals, replace(RULE, periods=periods)).state == "settled"


def test_drifting_frequency_is_moving() -> None:
    time = uneven_time(4e-3)
    tank = 100 * np.sin(2 * np.pi * F * (time + 0.5 * 5 * time**2))  # 0.06 % per ten periods, for ever
    found = judge(time, {"tank.voltage": tank, "supply.current": np.full(time.size, 10.0)}, RULE)
    assert found.state == "moving"
    assert found.why.startswith(PERIOD)


def test_too_few_periods_are_moving_with_a_reason() -> None:
    found = judge(*run(np.ones_like, stop=30 / F), RULE)
    assert (found.state, found.worst) == ("moving", None)
    assert "only 30 periods" in found.why


def test_silence_is_quiet_and_still() -> None:
    found = judge(*run(lambda t: 1e-6 * np.ones_like(t), lambda t: 1e-3 * np.ones_like(t)), RULE)
    assert (found.state, found.still) == ("quiet", True)


def test_a_burst_that_died_is_quiet() -> None:
    assert judge(*run(lambda t: np.exp(-t / 1e-4)), RULE).state == "quiet"


def test_an_oscillation_that_grows_from_silence_is_not_still() -> None:
    found = judge(*run(lambda t: 1e-5 * np.exp(t / 3e-4)), RULE)
    assert (found.state, found.still) == ("quiet", False)


def test_silence_with_high_current_is_latched() -> None:
    found = judge(*run(np.zeros_like, lambda t: 400 * (1 - np.exp(-t / 1e-4))), RULE)
    assert (found.state, found.still) == ("latched", True)


def test_silence_with_rising_current_is_latched_and_moves() -> None:
    found = judge(*run(np.zeros_like, lambda t: 4e5 * t), RULE)
    assert (found.state, found.still) == ("latched", False)


def test_a_tank_held_to_one_side_with_rising_current_is_latched() -> None:
    """An overloaded tank: one swing, then a voltage of one sign while the chokes' currents rise."""
    found = judge(*run(lambda t: np.exp(-t / 2e-5), lambda t: 4e5 * t), replace(RULE, quiet=1e-9))
    assert found.state == "latched"
    time = uneven_time(2e-3)
    held = {"tank.voltage": 30 - 40 * np.exp(-time / 1e-4), "supply.current": 4e5 * time}
    assert judge(time, held, RULE).state == "latched"
    assert judge(time, {**held, "supply.current": 0 * time}, RULE).state == "quiet"


def test_half_a_period_is_no_end_of_the_oscillation() -> None:
    time = np.linspace(0, 1, 1000)
    assert (
        judge(time, {"tank.voltage": 100 * np.sin(2 * np.pi * 7 * time), "supply.current": 0 * time + 40}, RULE).state == "moving"
    )


def test_what_is_to_come_of_an_exponential_is_exact() -> None:
    """Aitken: for x = a + b*r^k the limit follows from three neighbours."""
    for ratio in (0.1, 0.5, 0.9):
        x = 7 - 3 * ratio ** np.arange(3)
        assert to_come(x, 0.0) == pytest.approx(7 - x[-1], rel=1e-9)


def test_what_is_to_come_without_decay_or_with_changing_sign() -> None:
    assert to_come(np.array([1.0, 2.0, 3.0]), 0.0) == pytest.approx(10.0)
    assert to_come(np.array([1.0, 2.0, 1.5]), 0.123) == 0.123
