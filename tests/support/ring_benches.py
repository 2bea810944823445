# SPDX-License-Identifier: GPL-3.0-or-later
"""Bench tests of the rings of synthetic_rings, as `identify` takes them."""

import numpy as np
import pytest

from heatsim.scenario.ringtest import RampCapture, RingTest
from tests.support.synthetic_rings import TrueRing, bench_text, captured

SOFT = TrueRing(26.9e-3, 14.7e-3, 11.2e-3, 26, 61.3, "soft", 18.1, 1.83, 0.02, 1.1)
GAPPED = TrueRing(30e-3, 18e-3, 10e-3, 20, 80.0, "gapped", 8.0, 0.1, 0.05, 1.0)
VOLTS = 12.0


def bench(ring, time, current, voltage=None, extra="", lines=""):
    """A test with a capture in hand."""
    tables = RingTest.from_text(bench_text(ring, None if voltage is not None else VOLTS, extra, lines)).tables
    return RingTest("made.toml", tables, RampCapture(time, current, voltage, "made.csv"))


def record(ring, seed=1, noise=0.004, bits=8, count=1200, reach=2.0, flat=0.15, uneven=False):
    """Time and current of a capture as an oscilloscope stores it."""
    return captured(ring, np.random.default_rng(seed), VOLTS, noise, bits, count, reach, flat, uneven)[:2]


def keys(result):
    return {key for key, _ in result.flags}


def assert_found(result, ring, permeability=0.02, half=0.03):
    """Bounds wanted of an 8-bit noisy capture: 2 % on permeability, 3 % on the 50 % point."""
    assert result.value("permeability") == pytest.approx(ring.permeability, rel=permeability)
    assert result.value("half_current_a") == pytest.approx(ring.half_current, rel=half)
