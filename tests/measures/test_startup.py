# SPDX-License-Identifier: GPL-3.0-or-later
"""Start-up read from envelopes of known time constant and overshoot (tests/support/references.py, IEEE 181 terms)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatsim.measures import startup as su
from heatsim.waves import Array
from tests.support.book import INDEPENDENT, known, listed
from tests.support.references import WAVE_FACTORS
from tests.support.shapes import uneven_time

FACTORS = {name: value for name, value, _ in WAVE_FACTORS}
TAU = 100.0  # periods
SETTLE = FACTORS["settle 2 %/tau"]


def first_order(time: Array) -> Array:
    return np.asarray(1 - np.exp(-time / TAU))


def second_order(time: Array, damping: float = 0.5) -> Array:
    """Step response of a second-order system that rings with a period of 400 carrier periods."""
    natural = 2 * np.pi / 400 / np.sqrt(1 - damping**2)
    omega = 2 * np.pi / 400
    fading = np.exp(-damping * natural * time)
    return np.asarray(1 - fading * (np.cos(omega * time) + damping * natural / omega * np.sin(omega * time)))


def carrier(time: Array, size: Array, lopsided: float = 0.0) -> Array:
    wave = np.sin(2 * np.pi * time)
    return np.asarray(size * np.where(wave > 0, (1 + lopsided) * wave, (1 - lopsided) * wave))


@pytest.mark.parametrize("lopsided", [0.0, 0.2])
def test_settling_time_of_first_order(lopsided: float) -> None:
    """2 % after ln 50 time constants, to half a period; a lopsided carrier has the same envelope on each side."""
    time = uneven_time(1500.3, 120_000)
    found = su.envelope(time, carrier(time, first_order(time), lopsided))
    assert su.settling_time(found, 0.0, 40) / TAU == listed("WAVE_FACTORS", "value", "settle 2 %/tau", abs=0.6 / TAU)
    assert su.settling_time(found, -7.0, 40) == pytest.approx(SETTLE * TAU + 7.0, abs=0.6)
    assert su.overshoot_ratio(found, 40) == pytest.approx(0.0, abs=2e-3)


def test_overshoot_of_second_order() -> None:
    """exp(-pi z/sqrt(1-z^2)) at z = 0.5; and the last instant outside 2 %, from the formula on a fine grid."""
    time = uneven_time(3000.3, 240_000)
    found = su.envelope(time, carrier(time, second_order(time)))
    overshoot = su.overshoot_ratio(found, 40)
    assert overshoot is not None and 100 * overshoot == listed("WAVE_FACTORS", "value", "overshoot % z=0.5", rel=0.01)
    fine = np.linspace(0, 3000, 3_000_000)
    last = fine[np.flatnonzero(np.abs(second_order(fine) - 1) > 0.02)[-1]]
    assert su.settling_time(found, 0.0, 40) == known(
        last, "settling of a second-order envelope, periods", "formula on a fine grid", INDEPENDENT, abs=1.0
    )


def test_band_is_the_callers() -> None:
    time = uneven_time(1500.3, 120_000)
    found = su.envelope(time, carrier(time, first_order(time)))
    assert su.settling_time(found, 0.0, 40, band=0.1) == pytest.approx(np.log(10) * TAU, abs=0.6)


def test_envelope_that_leaves_again_is_not_settled() -> None:
    time = uneven_time(300.3, 30_000)
    found = su.envelope(time, carrier(time, np.where(time < 299, 1.0, 0.9)))
    assert su.settling_time(found, 0.0, 40) is None
    nothing = su.envelope(time, np.zeros_like(time))
    assert su.settling_time(nothing, 0.0, 40) is None and su.overshoot_ratio(nothing, 40) is None


def test_peak_between_the_samples() -> None:
    """20 samples a period miss the top by up to 1.2 %; the parabola through three leaves a fiftieth of that."""
    time = np.linspace(0.0, 30.2, 30 * 20)
    found = su.envelope(time, np.sin(2 * np.pi * time))
    assert found.size == pytest.approx(1.0, abs=3e-4)
    assert found.time == pytest.approx(found.time[0] + 0.5 * np.arange(found.time.size), abs=1e-3)


def test_envelope_by_construction() -> None:
    """Half cycle k of size k + 1, ten samples at least in each: peaks, signs and instants."""
    time = uneven_time(10.2, 20_000)
    found = su.envelope(time, np.ceil(2 * time) * np.sin(2 * np.pi * time))
    assert found.size == pytest.approx(np.arange(5, 21), rel=1e-3)  # smaller ones are below a fifth of the last
    assert found.positive.tolist() == [True, False] * 8
    assert found.time == pytest.approx(0.25 + 0.5 * np.arange(4, 20), abs=0.01)


@settings(max_examples=20)
@given(factor=st.floats(1e-3, 1e4), shift=st.floats(0.0, 1e4), seed=st.integers(0, 100))
def test_scale_clock_and_sampling_do_not_matter(factor: float, shift: float, seed: int) -> None:
    time = uneven_time(800.3, 48_000, seed)
    found = su.envelope(time + shift, factor * carrier(time, first_order(time)))
    settled = first_order(790.0)  # not quite 1: the middle of the 40 half cycles that define it
    assert su.settling_time(found, shift, 40) == pytest.approx(-TAU * np.log(1 - 0.98 * settled), abs=0.6)
