# SPDX-License-Identifier: GPL-3.0-or-later
"""What switches, gates and supply go through when both banks stay on and the tank does not swing.

There are no periods to measure over, so peaks are those of the whole record, from the start to where it was given up. While the
currents still rise there, they are what was reached by then, no bound.
"""

from __future__ import annotations

import numpy as np

from heatsim.waves import Waveforms

LATE = 0.2
"""Share of the record, at its end, over which the supply's current is taken."""


def latched_measures(waves: Waveforms, devices: int) -> dict[str, float]:
    """Peaks of drains [V], devices [A] and gates [V] over the record, and the supply's largest current [A] in its last part.

    devices: MOSFETs in each bank, between which the current is taken to be shared equally
    """
    found: dict[str, float] = {}
    for side in ("left", "right"):
        gate = waves[f"gate.{side}.voltage"]
        found |= {
            f"drain.{side}.peak_voltage_v": float(np.max(waves[f"drain.{side}.voltage"])),
            f"switch.{side}.peak_current_a": float(np.max(np.abs(waves[f"switch.{side}.current"]))) / devices,
            f"gate.{side}.max_voltage_v": float(np.max(gate)),
            f"gate.{side}.min_voltage_v": float(np.min(gate)),
        }
    late = waves.time >= waves.time[-1] - LATE * waves.duration
    return found | {"supply.mean_current_a": float(np.max(waves["supply.current"][late]))}
