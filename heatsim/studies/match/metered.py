# SPDX-License-Identifier: GPL-3.0-or-later
"""What meters would show of one simulated period, kept with its lines, with the functions that measure everything else."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from heatsim.measures import basics
from heatsim.parts.heater import Heater
from heatsim.waves import Array, Waveforms

Row = tuple[str, str, Callable[[Array, Array], float]]
"""Key of a measure as in results.json, the signal it is of, and the measure of time [s] and samples."""

LEAST = 1e-9
"""Least number [its unit] whose logarithm is kept: what is below shows on no meter."""


def _peak(_: Array, samples: Array) -> float:
    return basics.peak(samples)


def _ripple(_: Array, samples: Array) -> float:
    return float(np.ptp(samples))


def _frequency(time: Array, _: Array) -> float:
    return 1 / float(time[-1] - time[0])


def _rows(heater: Heater) -> tuple[Row, ...]:
    return (
        ("supply.mean_current_a", "supply.current", basics.mean),
        ("tank.frequency_hz", "tank.voltage", _frequency),
        ("tank.peak_voltage_v", "tank.voltage", _peak),
        ("tank.rms_voltage_v", "tank.voltage", basics.rms),
        ("coil.rms_current_a", "coil.current", basics.rms),
        ("coil.peak_current_a", "coil.current", _peak),
        ("capacitor.rms_current_a", "capacitor.current", basics.rms),
        *((f"drain.{side}.peak_voltage_v", f"drain.{side}.voltage", _peak) for side in ("left", "right")),
        *(
            (f"choke.{choke.side}.{name}_current_a", f"choke.{choke.side}.current", measured)
            for choke in heater.chokes
            for name, measured in (("mean", basics.mean), ("rms", basics.rms), ("ripple", _ripple))
        ),
    )


def metered_keys(heater: Heater) -> tuple[str, ...]:
    """Keys of what `metered` tells, in its order."""
    return tuple(key for key, _, _ in _rows(heater))


def metered(heater: Heater, period: Waveforms) -> Array:
    """Natural logarithms of what meters show of a period [SI], in the order of `metered_keys`."""
    return np.array([math.log(max(measured(period.time, period[name]), LEAST)) for _, name, measured in _rows(heater)])
