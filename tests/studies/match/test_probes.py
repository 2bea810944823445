# SPDX-License-Identifier: GPL-3.0-or-later
"""What probes do to lines, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatsim.measures.lines import BANDS
from heatsim.measures.solving import wave_of
from heatsim.studies.match.probes import good, probe_faults
from heatsim.studies.match.solver import COUNT

LINES = np.zeros(COUNT + 1, complex)
LINES[[0, 1, 2, 3]] = [40, 65, -27, 3j]
BAND = np.full(len(BANDS) - 1, 0.2)


def test_probes_do_what_closed_forms_say() -> None:
    """One pole: |R| = 1/sqrt(1+(f/fc)^2); a second-order resonance at its frequency: |R| = Q; compensation, far above: its gain."""
    faults = {fault.name: fault for fault in probe_faults("drain.left.voltage", (None, None))}
    slow, _ = faults["too slow"].effect(100e3, LINES, BAND, (100e3,))
    assert abs(slow[1] / LINES[1]) == pytest.approx(1 / math.sqrt(2))
    ringing, _ = faults["rings with its ground lead"].effect(100e3, LINES, BAND, (300e3, 4.0))
    assert abs(ringing[3] / LINES[3]) == pytest.approx(4.0)
    weak, bands = faults["compensated too weakly"].effect(1e6, LINES, BAND, (0.7, 1e3))
    assert abs(weak[1] / LINES[1]) == pytest.approx(0.7, rel=1e-3)
    assert bands == pytest.approx(0.7 * BAND, rel=1e-3)
    assert weak[0] == LINES[0]
    assert faults["AC coupled"].effect(1e5, LINES, BAND, ())[0][0] == 0
    late, _ = good(delay=1e-7)(1e6, LINES, BAND, ())
    assert np.angle(late[1] / LINES[1]) == pytest.approx(-2 * math.pi * 0.1)


def test_a_bowed_converter_bends_a_sine_into_its_second_harmonic() -> None:
    """b w (1 - 4 (a sin/w)^2), w = 2 a: b w (1 - sin^2) = a b (1 + cos 2x)."""
    lines = np.zeros(COUNT + 1, complex)
    lines[1] = 50 * np.exp(0.3j)
    seen, bands = good(bow=0.01)(1e5, lines, BAND, ())
    assert seen[:2] == pytest.approx([0.5, lines[1]], abs=1e-4)
    assert seen[2] == pytest.approx(-0.5 * np.exp(0.6j), abs=1e-4)
    assert np.max(np.abs(seen[3:])) < 1e-4 and np.all(bands == BAND)


def test_clipping_is_done_on_the_wave() -> None:
    cut = probe_faults("tank.voltage", (-50.0, 50.0))[-1]
    assert cut.name == "cut off"
    lines = np.zeros(COUNT + 1, complex)
    lines[1] = 100
    seen, _ = cut.effect(1e5, lines, BAND, ())
    wave = wave_of(seen, np.linspace(0, 2 * math.pi, 500))
    assert np.max(np.abs(wave)) == pytest.approx(50, rel=0.05)
