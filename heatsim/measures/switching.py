# SPDX-License-Identifier: GPL-3.0-or-later
"""Drain voltage at the instant a switch is turned on."""

from __future__ import annotations

import numpy as np

from heatsim.waves import Array
from heatsim.waves.periods import crossings


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
