# SPDX-License-Identifier: GPL-3.0-or-later
"""What a start does to supply and switches: when the oscillation begins, how far the drains go, whether a limit holds it down."""

from __future__ import annotations

import numpy as np

from heatsim.waves import Waveforms

LATE = 0.2
"""Share of the record, at its end, over which the supply's voltage is taken."""

SHUT_OFF = 0.5
"""Of a supply's shut-off signal, above which it counts as off [1]."""


def begins(waves: Waveforms, quiet: float) -> float | None:
    """Instant [s] from which the tank swings beyond `quiet` [V] both ways; None when it never does."""
    tank = waves["tank.voltage"]
    up, down = (np.flatnonzero(sign * tank > quiet) for sign in (1.0, -1.0))
    return float(waves.time[max(up[0], down[0])]) if up.size and down.size else None


def drain_peaks(waves: Waveforms) -> dict[str, float]:
    """Highest drain voltages [V] from switch-on to the end of the record, by side."""
    return {side: float(np.max(waves[f"drain.{side}.voltage"])) for side in ("left", "right")}


def device_peak(waves: Waveforms, side: str, devices: int) -> float:
    """Largest current [A] of a device of a bank, over the record; devices: between which it is taken to be shared equally."""
    return float(np.max(np.abs(waves[f"switch.{side}.current"]))) / devices


def limited_share(waves: Waveforms) -> float | None:
    """Mean voltage of a supply at the end of the record over the mean that it would have without its limit [1]; None without one,
    and while it is off."""
    if "supply.wanted_voltage" not in waves:
        return None
    late = waves.time >= waves.time[-1] - LATE * waves.duration
    wanted = float(np.trapezoid(waves["supply.wanted_voltage"][late], waves.time[late]))
    given = float(np.trapezoid(waves["supply.voltage"][late], waves.time[late]))
    off = "supply.shut_off" in waves and float(np.max(waves["supply.shut_off"][late])) > SHUT_OFF
    return None if off or wanted <= 0 else given / wanted


def trips(waves: Waveforms) -> int | None:
    """How many times a supply that hiccups has switched off; None for any other."""
    if "supply.shut_off" not in waves:
        return None
    off = waves["supply.shut_off"] > SHUT_OFF
    return int(np.count_nonzero(off[1:] & ~off[:-1]))
