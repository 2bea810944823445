# SPDX-License-Identifier: GPL-3.0-or-later
"""A bridge rectifier on the mains with a reservoir behind it: ripple, mean voltage, currents of its transformer."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from functools import lru_cache

from heatsim.errors import InputError

STEPS = 4000
"""Steps in half a mains period: at twice as many, ripple, mean and currents change by less than 0.1 % (tested)."""

CLOSE = 1e-7
"""Change of the reservoir's voltage over half a mains period that counts as none, as a share of the peak [1]."""


@dataclass(frozen=True)
class Rectified:
    """The periodic state of a rectifier with a reservoir under a load.

    mean: of the voltage across the reservoir [V]; ripple: the same, peak to peak [V]; rms_current: of the transformer [A];
    peak_current: of a diode [A]; conduction: share of the time for which it charges [1]; resistance: fall of the mean from the
    peak without load, over the mean current [ohm]
    """

    mean: float
    ripple: float
    rms_current: float
    peak_current: float
    conduction: float
    resistance: float


@lru_cache(maxsize=256)
def full_wave(
    peak: float,
    mains_frequency: float,
    resistance: float,
    leakage: float,
    capacitance: float,
    series_resistance: float,
    conductance: float,
    steps: int = STEPS,
) -> Rectified:
    """The periodic state of a full-wave rectifier with a capacitor and a resistive load.

    peak: of the rectified voltage without load, the diodes' drop taken off [V]; mains_frequency: [Hz]
    resistance: of transformer, diodes and leads in series [ohm]; leakage: inductance in series [H]
    capacitance: of the reservoir [F]; series_resistance: of the reservoir [ohm]; conductance: of the load [S]
    steps: in half a mains period [1]

    Kirchhoff's laws with the diodes as switches that part where their current ends: L di/dt = e - R i - u and C dv/dt = i - G u,
    u = (v + r i)/(1 + r G), e = peak |sin wt|. O. H. Schade, Proc. IRE 31, 1943, p. 341, gives their solution as curves; here
    they are stepped through (backward Euler) and the voltage with which half a period begins is that with which it ends. Without R
    and L, the reservoir leaves the sine at tan(wt) = -w C/G and falls exponentially until it meets the next half sine.
    Raises InputError when the diodes conduct without a pause, for which the equations do not hold.
    """
    step = 0.5 / mains_frequency / steps
    share = 1 / (1 + series_resistance * conductance)
    held, given = share * conductance, 1 - share * conductance * series_resistance  # C dv/dt = given i - held v
    source = [peak * math.sin(math.pi * (k + 1) / steps) for k in range(steps)]
    decay = 1 + step * held / capacitance
    feed = step * given / capacitance / decay
    denominator = leakage / step + resistance + share * (series_resistance + feed)

    def half(start: float) -> tuple[float, list[tuple[float, float]]]:
        v, i, course = start, 0.0, []
        for e in source:
            fallen = v / decay
            i = max((leakage / step * i + e - share * fallen) / denominator, 0.0)
            v = fallen + feed * i
            course.append((share * (v + series_resistance * i), i))
        return v, course

    low, high = 0.0, peak
    while high - low > CLOSE * peak:  # what it ends with rises less than what it begins with
        middle = (low + high) / 2
        low, high = (middle, high) if half(middle)[0] > middle else (low, middle)
    _, course = half((low + high) / 2)
    volts, currents = [u for u, _ in course], [i for _, i in course]
    if course[-1][1] > 0:
        given_text = f"a reservoir of {1e6 * capacitance:.4g} uF at {conductance * peak:.3g} A"
        raise InputError.single(
            "rectifier", "would conduct without a pause", given_text, "a larger reservoir, or less leakage inductance"
        )
    mean, current = sum(volts) / steps, sum(currents) / steps
    return Rectified(
        mean,
        max(volts) - min(volts),
        math.sqrt(sum(i * i for i in currents) / steps),
        max(currents),
        sum(i > 0 for i in currents) / steps,
        (peak - mean) / current if current > 0 else resistance,
    )


def ripple_transfer(
    frequency: float, resistance: float, inductance: float, capacitance: float, series_resistance: float, conductance: float
) -> float:
    """Share [1] of a source's ripple that is left across a reservoir and its load.

    frequency: of the ripple [Hz]; resistance: between source and reservoir [ohm]; inductance: likewise [H]
    capacitance: of the reservoir [F]; series_resistance: of the reservoir [ohm]; conductance: of the load [S]

    The divider |Z/(Z + R + jwL)|, with Z of reservoir and load side by side; Kirchhoff's laws.
    """
    w = 2 * math.pi * frequency
    across = 1 / (conductance + 1 / (series_resistance + 1 / (1j * w * capacitance)))
    return abs(across / (across + resistance + 1j * w * inductance)) if cmath.isfinite(across) else 1.0
