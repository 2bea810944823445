# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether a record's frequency jumps along it: what a contact that comes and goes does, and a rippling supply does not.

A resistance in the tank moves its frequency and its amplitude by shares of the same size; the supply moves the amplitude alone. So
the phase p_k of the fundamental, period by period, is held against a straight line; noise s_k and what clock and trigger leave,
`PHASE_FLOOR`, allow

    chi2 = sum over k of (p_k - a - b t_k)^2/(s_k^2 + PHASE_FLOOR^2),

of which n - 2 is expected. The swing is the range of the frequency between neighbouring blocks, three of them averaged.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from heatsim.waves import Array

PHASE_FLOOR = 2e-3
"""Phase [rad] that a steady record may be off from block to block: 4 ns at 80 kHz."""

WANDERS = 50.0
"""Excess of chi-square from which the frequency counts as wandering; by chance it is 1 or 2 times sqrt(2 n), some 10."""

LEAST_SWING = 1e-3
"""Smallest swing of the frequency that counts, as a share."""

OF_AMPLITUDE = 0.1
"""Share of an amplitude modulation below which a swing of the frequency goes with that: measured up to 0.01 under a ripple and 0.3
to 2 with a bad contact in the tank."""


@dataclass(frozen=True)
class FrequencyWander:
    """swing: of the frequency along a record, as a share, peak to peak; gain: in chi-square over a steady frequency [1]."""

    swing: float
    gain: float


def frequency_wander(middle: Array, phase: Array, error: Array, frequency: float, amplitude: float) -> FrequencyWander | None:
    """None for a steady frequency, or one that only follows the amplitude.

    middle: of blocks along the record [s]; phase: of the fundamental in each, less the steady one [rad]; error: of it [rad]
    frequency: [Hz]
    amplitude: of a modulation of the amplitude, half of peak to peak, as a share
    """
    if middle.size < 5:
        return None
    rest = phase - np.polyval(np.polyfit(middle, phase, 1), middle)
    gain = float(np.sum(rest**2 / (error**2 + PHASE_FLOOR**2))) - (middle.size - 2)
    share = np.diff(rest) / (2 * math.pi * frequency * np.diff(middle))
    swing = float(np.ptp(np.convolve(share, np.full(3, 1 / 3), "valid")))
    if gain < WANDERS or swing < max(LEAST_SWING, 2 * OF_AMPLITUDE * amplitude):
        return None
    return FrequencyWander(swing, gain)
