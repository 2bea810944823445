# SPDX-License-Identifier: GPL-3.0-or-later
"""Probe and record: steps, noise, ends of the converter, and the transfer functions against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from tests.support.captures.scope import (
    CODES_PER_DIVISION,
    DIVISIONS,
    PROBE_KINDS,
    Probe,
    Scope,
    digitise,
    faulty_probe,
    volts_per_division,
)

PHASE = np.linspace(0, 1, 4097)
SCOPE = Scope(20_000, 20, 0.5, 0.0, 0.0, 0.0)


def sine(peak: float = 100.0) -> np.ndarray:
    return peak * np.sin(2 * np.pi * np.linspace(0, 20, 20_000))


@pytest.mark.parametrize("span, expected", [(7.6, 1), (7.7, 2), (15.3, 5), (76, 10), (260, 50), (0.05, 0.01), (3040, 500)])
def test_ranges_are_one_two_five(span: float, expected: float) -> None:
    assert volts_per_division(span) == pytest.approx(expected)


def test_codes_are_whole_steps_within_eight_bits() -> None:
    channel = digitise(sine(), SCOPE, Probe(), np.random.default_rng(1))
    codes = channel.values / channel.step
    assert codes == pytest.approx(np.round(codes), abs=1e-9)
    assert channel.step == 50 / CODES_PER_DIVISION
    assert np.ptp(codes) <= CODES_PER_DIVISION * DIVISIONS < 256


def test_error_is_noise_and_half_a_step_at_most() -> None:
    """White noise and the even distribution within a step: variances add (step^2/12)."""
    channel = digitise(sine(), SCOPE, Probe(), np.random.default_rng(2))
    error = channel.values - channel.clean
    assert float(np.std(error)) == pytest.approx(np.hypot(channel.noise, channel.step / np.sqrt(12)), rel=0.03)
    quiet = digitise(sine(), Scope(20_000, 20, 0.0, 0.0, 0.0, 0.0), Probe(), np.random.default_rng(2))
    assert np.abs(quiet.values - quiet.clean).max() <= 0.5 * quiet.step * (1 + 1e-9)


def test_clipping_cuts_both_ends_at_the_converters_own() -> None:
    channel = digitise(sine(), SCOPE, Probe(clip=0.2), np.random.default_rng(3))
    assert channel.values.max() == pytest.approx(80, rel=0.01)
    assert channel.values.min() == pytest.approx(-80, rel=0.01)
    assert np.mean(channel.values == channel.values.max()) == pytest.approx(np.arccos(0.8) / np.pi, rel=0.05)


def test_slow_probe_weakens_and_delays_like_one_pole() -> None:
    seen = Probe(bandwidth=200e3).seen(np.sin(2 * np.pi * PHASE), 100e3)
    expected = np.sin(2 * np.pi * PHASE - np.arctan(0.5)) / np.sqrt(1.25)
    assert seen == pytest.approx(expected, abs=1e-4)


def test_wrong_compensation_keeps_the_mean_and_scales_the_rest() -> None:
    seen = Probe(zero=2e3, pole=1.5e3, bandwidth=1e12).seen(40 + 100 * np.sin(2 * np.pi * PHASE), 100e3)
    assert float(np.mean(seen[:-1])) == pytest.approx(40)
    assert np.ptp(seen) / 200 == pytest.approx(0.75, abs=1e-3)


def test_ground_lead_rings_at_its_frequency() -> None:
    """A step of 1: overshoot exp(-pi/sqrt(4Q^2-1)) of a second-order system."""
    square = np.where(PHASE % 1 < 0.5, 1.0, 0.0)
    seen = Probe(ring=5e6, ring_quality=3.0, bandwidth=1e12).seen(square, 100e3)
    assert float(seen.max()) - 1 == pytest.approx(np.exp(-np.pi / np.sqrt(35)), abs=0.04)


def test_alternating_coupling_takes_the_mean_away() -> None:
    seen = Probe(coupling=10.0).seen(40 + 100 * np.sin(2 * np.pi * PHASE), 100e3)
    assert float(np.mean(seen[:-1])) == pytest.approx(0, abs=1e-9)
    assert np.ptp(seen) == pytest.approx(200, rel=1e-4)


def test_every_kind_of_wrong_probe_is_drawn_and_differs() -> None:
    generator = np.random.default_rng(4)
    drawn = [faulty_probe(generator, Probe(), 100.0, unipolar=True) for _ in range(80)]
    assert {probe.kind for probe in drawn} == set(PROBE_KINDS)
    for probe in drawn:
        assert {key for key, value in vars(probe).items() if value != getattr(Probe(), key)} > {"kind"}
    assert "AC coupled" not in {faulty_probe(generator, Probe(), 100.0, unipolar=False).kind for _ in range(80)}
