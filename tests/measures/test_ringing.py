# SPDX-License-Identifier: GPL-3.0-or-later
"""Gate ringing: recovered from rings of known frequency and decay, and not seen where there is none.

The ring is the step response of a series RLC circuit (any circuits text), the gate loop's own equivalent.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.measures import ringing as rg
from heatsim.waves import Array
from tests.support.shapes import rlc_ring, uneven_time

PERIOD = 10e-6
CAPACITANCE = 4e-9


def circuit(frequency: float, damping: float) -> tuple[float, float, float]:
    """R, L, C of a gate loop with 4 nF that rings at `frequency` [Hz] with damping ratio `damping`."""
    natural = 2 * np.pi * frequency / np.sqrt(1 - damping**2)
    inductance = 1 / (natural**2 * CAPACITANCE)
    return 2 * damping * natural * inductance, inductance, CAPACITANCE


def ringing_gate(
    frequency: float, damping: float, periods: int = 10, points: int = 400, noise: float = 0.0, rising: float = 12.0, seed: int = 0
) -> tuple[Array, Array, float, float]:
    """A gate that is stepped up by `rising` V through the loop and let down along an exponential, each period."""
    time = uneven_time(periods * PERIOD, periods * points, seed)
    phase = (time + 0.3 * PERIOD) % PERIOD
    step, true_frequency, decay = rlc_ring(phase, *circuit(frequency, damping))
    fall = np.exp(-np.maximum(phase - 0.5 * PERIOD, 0.0) / 60e-9)
    gate = rising * step * fall
    return time, gate + noise * np.random.default_rng(seed).normal(size=time.size), true_frequency, decay


@pytest.mark.parametrize("frequency, damping", [(0.9e6, 0.05), (1.5e6, 0.02), (1.5e6, 0.15), (3e6, 0.05), (4e6, 0.1)])
def test_clean_ring(frequency: float, damping: float) -> None:
    time, gate, true_frequency, decay = ringing_gate(frequency, damping, points=1000)
    found, _ = rg.gate_ring(time, gate)
    assert found is not None and found.edge == "rising"
    assert found.frequency == pytest.approx(true_frequency, rel=2e-3)
    assert found.decay == pytest.approx(decay, rel=0.02)
    assert found.damping == pytest.approx(damping, rel=0.02)
    half_cycle = np.exp(-np.pi * damping / np.sqrt(1 - damping**2))  # overshoot of a second-order step, IEEE 181
    assert found.amplitude == pytest.approx(0.5 * 12.0 * half_cycle * (1 + half_cycle), rel=0.02)


@pytest.mark.parametrize("seed", range(8))
def test_ring_in_noise(seed: int) -> None:
    """0.2 V of noise on a 12 V gate, 200 samples a period."""
    time, gate, true_frequency, decay = ringing_gate(1.5e6, 0.06, 20, 200, noise=0.2, seed=seed)
    found, _ = rg.gate_ring(time, gate)
    assert found is not None
    assert found.frequency == pytest.approx(true_frequency, rel=0.01)
    assert found.decay == pytest.approx(decay, rel=0.1)


def test_ring_after_the_falling_edge() -> None:
    time, gate, true_frequency, decay = ringing_gate(1.5e6, 0.06, points=1000)
    found, _ = rg.gate_ring(time, 12.0 - gate)
    assert found is not None and found.edge == "falling"
    assert (found.frequency, found.decay) == (pytest.approx(true_frequency, rel=2e-3), pytest.approx(decay, rel=0.02))


def test_ring_on_a_gate_that_still_settles() -> None:
    """The gate creeps by 3 V with a time constant of 2 us below the ring: told apart by the parabola."""
    time, gate, true_frequency, decay = ringing_gate(1.5e6, 0.05, points=1000)
    phase = (time + 0.3 * PERIOD) % PERIOD
    creeping = gate - 3.0 * np.exp(-phase / 2e-6) * (phase < 0.5 * PERIOD)
    found, _ = rg.gate_ring(time, creeping)
    assert found is not None
    assert found.frequency == pytest.approx(true_frequency, rel=0.01)
    assert found.decay == pytest.approx(decay, rel=0.1)


def test_state_levels_are_not_moved_by_a_ring() -> None:
    """A 12 V step that overshoots by half: lowest and highest value are off, the states are not."""
    time, gate, *_ = ringing_gate(1.5e6, 0.2, points=1000)
    assert np.max(gate) > 18.0
    assert rg.state_levels(time, gate) == (pytest.approx(0.0, abs=0.05), pytest.approx(12.0, abs=0.05))


def test_violent_ring_makes_no_edges() -> None:
    """A ring that swings back to a tenth of the step crosses the middle four times; there are still ten edges."""
    time, gate, *_ = ringing_gate(1.5e6, 0.02, points=1000)
    up, down = rg.edges_of(time, gate, *rg.state_levels(time, gate))
    assert np.diff(up) == pytest.approx(PERIOD, rel=0.01) and np.diff(down) == pytest.approx(PERIOD, rel=0.01)
    assert (up.size, down.size) == (10, 10)


def plain(kind: str, time: Array) -> Array:
    phase = time % PERIOD
    return {
        "exponential": 12 * np.where(phase < 5e-6, 1 - np.exp(-phase / 6e-7), np.exp(-(phase - 5e-6) / 5e-8)),
        "trapezoid": np.interp(phase, [0, 1e-7, 5e-6, 5.2e-6, 1e-5], [0, 12, 12, 0, 0]),
        "half sine": np.maximum(12 * np.sin(2 * np.pi * phase / PERIOD), 0),
        "plateau": np.interp(phase, [0, 2e-7, 5e-7, 9e-7, 5e-6, 5.2e-6, 1e-5], [0, 5, 5, 12, 12, 0.5, 0]),
        "one overshoot": np.interp(phase, [0, 2e-7, 4e-7, 5e-6, 5.2e-6, 1e-5], [0, 14, 12, 12, 0, 0]),
        "heavily damped": 12 * rlc_ring(phase, *circuit(1.5e6, 0.6))[0] * (phase < 5e-6),
        "flat": np.full_like(time, 3.0),
    }[kind]


@pytest.mark.parametrize("noise", [0.0, 0.2])
@pytest.mark.parametrize("kind", ["exponential", "trapezoid", "half sine", "plateau", "one overshoot", "heavily damped", "flat"])
def test_no_ring_where_there_is_none(kind: str, noise: float) -> None:
    time = uneven_time(20 * PERIOD, 20 * 200, 3)
    samples = plain(kind, time) + noise * np.random.default_rng(5).normal(size=time.size)
    assert rg.gate_ring(time, samples)[0] is None


def test_floor() -> None:
    """A ring of 2 V peak to peak after the edge counts above a floor of 1 V and not above one of 4 V."""
    time, gate, *_ = ringing_gate(1.5e6, 0.3, points=1000)
    assert rg.gate_ring(time, gate, floor=6.0)[0] is None
    assert rg.gate_ring(time, gate, floor=0.05)[0] is not None


def test_turning_points() -> None:
    """A start that is not a turn, turns at 3, 1, 2.5 and an end that is none; a wiggle of 0.2 is passed over."""
    course = np.array([0.0, 2.0, 1.9, 3.0, 1.0, 1.2, 1.1, 2.5, 2.0])
    assert rg.turning_points(course, 0.5).tolist() == [3, 4, 7]
    assert rg.turning_points(course, 0.05).tolist() == [1, 2, 3, 4, 5, 6, 7]
    assert rg.turning_points(np.arange(5.0), 0.5).size == 0


def test_a_fits_slopes_are_those_of_its_residual() -> None:
    """Differences between residuals on both sides, of a course with a large residual and uneven weights."""
    time = uneven_time(4e-6, 120)
    course = 2 * np.exp(-8e5 * time) * np.cos(6e6 * time) + 5e5 * time + 0.3 * np.sin(1e7 * time)
    sought, x = rg._Projected(time, course, 1 + 0.3 * np.sin(1e6 * time), 5e6), np.array([0.2, 1.1])
    for slope, step in zip(sought.slopes(x), 1e-6 * np.eye(2), strict=True):
        assert slope == pytest.approx(
            (sought.residual(x + step) - sought.residual(x - step)) / 2e-6, abs=1e-8 * np.abs(slope).max()
        )


def test_products_of_equal_columns_have_a_pseudo_inverse() -> None:
    assert rg._inverse(np.array([[4.0, 2.0], [2.0, 1.0]])) == pytest.approx(np.array([[4.0, 2.0], [2.0, 1.0]]) / 25)
    assert rg._inverse(np.array([[4.0, 2.0], [2.0, 3.0]])) == pytest.approx(np.array([[3.0, -2.0], [-2.0, 4.0]]) / 8)


def test_fit_recovers_what_was_put_in() -> None:
    time = uneven_time(3e-6, 300)
    course = np.exp(-time / 7e-7) * np.cos(2 * np.pi * 2e6 * time + 1) + 5 + 1e5 * time - 2e10 * time**2
    found = rg.fit_damped_cosine(time, course, 0.7e6, 2 * np.pi * 1.8e6)
    assert 1 / found.rate == pytest.approx(7e-7, rel=1e-6)
    assert found.omega / (2 * np.pi) == pytest.approx(2e6, rel=1e-6)
    assert found.rate_error < 1e-6 * found.rate and found.omega_error < 1e-6 * found.omega


@given(volts=st.floats(0.5, 200.0), offset=st.floats(-20, 20), shift=st.floats(0, 1e-3), seed=st.integers(0, 100))
def test_scale_offset_clock_and_sampling_do_not_matter(volts: float, offset: float, shift: float, seed: int) -> None:
    time, gate, true_frequency, decay = ringing_gate(1.2e6, 0.05, 6, 1000, rising=volts, seed=seed)
    found, _ = rg.gate_ring(time + shift, gate + offset)
    assert found is not None
    assert found.frequency == pytest.approx(true_frequency, rel=3e-3)
    assert found.decay == pytest.approx(decay, rel=0.03)


@pytest.mark.parametrize("frequency, damping, points", [(1.5e6, 0.06, 200), (1.5e6, 0.15, 150), (2.5e6, 0.1, 300)])
def test_whatever_the_samples_the_numbers_move_within_their_errors(frequency: float, damping: float, points: int) -> None:
    """One edge, sampled at 40 different sets of uneven instants, 10 to 13 samples in a cycle: as under other rounding."""
    found = [rg.gate_ring(*ringing_gate(frequency, damping, 2, points, seed=seed)[:2])[0] for seed in range(40)]
    rings = [ring for ring in found if ring is not None]
    assert len(rings) > 30
    for place, name in enumerate(("frequency", "decay", "damping", "amplitude")):
        values = np.array([getattr(ring, name) for ring in rings])
        errors = np.array([ring.errors[place] for ring in rings])
        assert np.mean(np.abs(values - np.median(values)) < 3 * errors) > 0.95, name
        assert np.median(errors) < 0.3 * np.median(values), name


def test_more_edges_and_less_noise_make_smaller_errors() -> None:
    def errors(periods: int, noise: float) -> Array:
        found, _ = rg.gate_ring(*ringing_gate(1.5e6, 0.06, periods, 300, noise, seed=1)[:2])
        assert found is not None
        return np.array(found.errors[:3])

    assert np.all(errors(40, 0.3) < errors(4, 0.3)) and np.all(errors(4, 0.1) < errors(4, 0.3))


def test_what_cannot_be_told_is_said() -> None:
    """A ring a little below the floor, one of four samples in a cycle, and none."""
    time, gate, *_ = ringing_gate(1.5e6, 0.1, points=1000)
    swing = 12.0 * np.exp(-3 * np.pi * 0.1)  # the third one, about
    assert rg.gate_ring(time, gate, floor=0.7 * swing)[1] == "rings"
    assert rg.gate_ring(time, gate, floor=1.5 * swing) == (None, "too weak or uneven to tell")
    assert rg.gate_ring(time, gate, floor=4.0 * swing) == (None, "does not ring")
    coarse = np.arange(0.0, 10 * PERIOD, 1 / (4.3 * 1.5e6))
    assert rg.gate_ring(coarse, np.interp(coarse, time, gate)) == (None, "too few samples in a cycle to tell")
    assert rg.gate_ring(time, np.full_like(time, 3.0)) == (None, "does not ring")


def test_a_clamped_first_swing_does_not_matter() -> None:
    """A diode holds the gate at its first overshoot, wherever the samples fall on the flat top: the same ring, and known as one."""
    found = []
    for seed in range(20):
        time, gate, true_frequency, _ = ringing_gate(1.5e6, 0.06, 4, 400, seed=seed)
        ring, _ = rg.gate_ring(time, np.minimum(gate, 18.0))
        assert ring is not None
        found.append(ring)
    frequencies = np.array([ring.frequency for ring in found])
    assert np.ptp(frequencies) < 3 * np.hypot(*np.sort([ring.errors[0] for ring in found])[-2:])
    assert np.median(frequencies) == pytest.approx(true_frequency, rel=0.05)
