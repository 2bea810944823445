# SPDX-License-Identifier: GPL-3.0-or-later
"""What switches, gates and supply go through when both banks stay on and the tank does not swing.

There are no periods to measure over, so peaks are those of the whole record, from the start to where it was given up. While the
currents still rise there, they are what was reached by then, no bound.
"""

from __future__ import annotations

import numpy as np

from heatsim.measures.fusing import integral_at, joule_integral, time_to_reach
from heatsim.measures.starting import device_peak, drain_peaks
from heatsim.waves import Waveforms

LATE = 0.2
"""Share of the record, at its end, over which the supply's current is taken."""


def latched_measures(waves: Waveforms, devices: int) -> dict[str, float]:
    """Peaks of drains [V], devices [A] and gates [V] over the record, and the supply's largest current [A] in its last part.

    devices: MOSFETs in each bank, between which the current is taken to be shared equally
    """
    found: dict[str, float] = {}
    drains = drain_peaks(waves)
    for side in drains:
        gate = waves[f"gate.{side}.voltage"]
        found |= {
            f"drain.{side}.peak_voltage_v": drains[side],
            f"switch.{side}.peak_current_a": device_peak(waves, side, devices),
            f"gate.{side}.max_voltage_v": float(np.max(gate)),
            f"gate.{side}.min_voltage_v": float(np.min(gate)),
        }
    late = waves.time >= waves.time[-1] - LATE * waves.duration
    return found | {"supply.mean_current_a": float(np.max(waves["supply.current"][late]))}


def fuse_measures(waves: Waveforms, devices: float, fuse_i2t: float | None, device_i2t: float | None) -> dict[str, float | None]:
    """What goes through the supply's lead and through a device while it is latched, from switch-on.

    devices: MOSFETs in each bank, less where one carries more than its share: current of the bank over that of the device;
    fuse_i2t: of the fuse in the supply's lead, device_i2t: of one device [A2s], None where not known

    latch.supply_i2t_a2s, latch.switch_i2t_a2s: over the record; latch.fuse_time_s, latch.switch_time_s: when each has reached its
    own; latch.saving_i2t_a2s: what has gone through the lead when the device's is reached, which a fuse must stay below;
    latch.cleared_current_a: of a device when the fuse has cleared, the largest until then. What comes after the record is reckoned
    with the current that it ends with, so that where it still rises both times come out too long.
    """
    time, lead = waves.time, waves["supply.current"]
    banks = [waves[f"switch.{side}.current"] / devices for side in ("left", "right")]
    device = max(banks, key=lambda current: float(joule_integral(time, current)[-1]))
    reached = None if device_i2t is None else time_to_reach(time, device, device_i2t)
    cleared = None if fuse_i2t is None else time_to_reach(time, lead, fuse_i2t)
    return {
        "latch.supply_i2t_a2s": float(joule_integral(time, lead)[-1]),
        "latch.switch_i2t_a2s": float(joule_integral(time, device)[-1]),
        "latch.fuse_i2t_a2s": fuse_i2t,
        "latch.fuse_time_s": _finite(cleared),
        "latch.switch_time_s": _finite(reached),
        "latch.saving_i2t_a2s": None if reached is None or not np.isfinite(reached) else integral_at(time, lead, reached),
        "latch.cleared_current_a": None if cleared is None else float(np.max(np.abs(device[time <= max(cleared, time[0])]))),
    }


def _finite(value: float | None) -> float | None:
    return value if value is not None and np.isfinite(value) else None
