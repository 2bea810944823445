# SPDX-License-Identifier: GPL-3.0-or-later
"""What a switch bank bears: current of each device, and drain voltage at the instant it is turned on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatsim.measures.basics import peak, rms
from heatsim.waves import Array
from heatsim.waves.periods import crossings


@dataclass(frozen=True)
class DeviceCurrent:
    """Current of one device [A]: largest absolute value and root mean square."""

    peak: float
    rms: float


def device_current(time: Array, bank_current: Array, devices: int) -> DeviceCurrent:
    """Current of one of `devices` equal devices that share a bank's current [A], shape (n,), over the record.

    Equal sharing is assumed. Devices with a lower threshold or closer to the busbar take more: leave a margin.
    Raises ValueError for less than one device.
    """
    if devices < 1:
        raise ValueError(f"a bank needs at least one device, got {devices}")
    return DeviceCurrent(peak(bank_current) / devices, rms(time, bank_current) / devices)


def turn_on_voltages(time: Array, gate: Array, drain: Array, threshold: float) -> Array:
    """Drain-source voltage [V] at each instant at which the gate rises through `threshold` [V], shape (turn-ons,).

    time [s], gate and drain [V], shape (n,). Nought at every turn-on is zero-voltage switching; the charge of the drain
    node at any other voltage is burnt in the switch. A gate that rings through the threshold again within a tenth
    of its swing counts once, at the first passage.
    """
    instants = crossings(time, gate, threshold, 0.1 * float(np.ptp(gate)), first=True)
    return np.asarray(np.interp(instants, time, drain))


def turn_on_voltage(time: Array, gate: Array, drain: Array, threshold: float) -> float | None:
    """The largest, by size, of `turn_on_voltages` [V], with its sign; None for a gate that never gets there."""
    found = turn_on_voltages(time, gate, drain, threshold)
    return float(found[np.argmax(np.abs(found))]) if found.size else None
