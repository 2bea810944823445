# SPDX-License-Identifier: GPL-3.0-or-later
"""Drain voltage at the instant a switch is turned on, how far a gate lags behind the drain that drives it, and how often an edge
of it passes the threshold.
"""

from __future__ import annotations

import numpy as np

from heatsim.measures.ringing import TwoLevels
from heatsim.waves import Array
from heatsim.waves.periods import crossings

RANGE = 0.1
"""Share of the gate's swing beyond the threshold that makes a passage of it; choice."""

STRONG = 0.25
"""Share of a drain's swing that it must cross, too, for a passage of the threshold to count: a spike while it conducts does not."""

EARLY = 0.1
"""Share of a period by which a gate may pass its threshold before the drain that drives it does."""


def turn_on_voltages(time: Array, gate: Array, drain: Array, threshold: float) -> Array:
    """Drain-source voltage [V] at each instant at which the gate rises through `threshold` [V], shape (turn-ons,).

    time [s], gate and drain [V], shape (n,). Nought at every turn-on is zero-voltage switching; the charge of the drain
    node at any other voltage is burnt in the switch. A gate that rings through the threshold again within a tenth
    of its swing counts once, at the first passage.
    """
    instants = crossings(time, gate, threshold, RANGE * float(np.ptp(gate)), first=True)
    return np.asarray(np.interp(instants, time, drain))


def turn_on_voltage(time: Array, gate: Array, drain: Array, threshold: float) -> float | None:
    """The largest, by size, of `turn_on_voltages` [V], with its sign; None for a gate that never gets there."""
    found = turn_on_voltages(time, gate, drain, threshold)
    return float(found[np.argmax(np.abs(found))]) if found.size else None


def gate_delay(time: Array, gate: Array, opposite: Array, threshold: float, rising: bool = True) -> float | None:
    """How long after the opposite drain the gate passes its threshold [s], the median over the record; None without a pair.

    time [s], gate and opposite drain [V], shape (n,). The opposite drain lets the gate rise and pulls it down through the
    coupling diode, at whose drop above the drain the gate may stand: so it can be ahead by EARLY of a period at most. A gate
    that rings through the threshold is up at the first passage and down at the last. To be compared with the half cycle: a
    gate that takes a good part of it is late.
    """
    leads = _swings(time, opposite, threshold, rising)
    if leads.size < 2:
        return None
    band = RANGE * float(np.ptp(gate))
    if rising:
        follows = crossings(time, gate, threshold, band, first=True)
    else:  # the last passage is the first one backwards
        follows = -crossings(-time[::-1], gate[::-1], threshold, band, first=True)[::-1]
    place = np.searchsorted(follows, leads - EARLY * float(np.median(np.diff(leads))))
    paired = place < follows.size
    return float(np.median(follows[place[paired]] - leads[paired])) if np.any(paired) else None


def crossings_an_edge(time: Array, gate: Array, threshold: float, levels: TwoLevels | None = None) -> tuple[float, float] | None:
    """Most passages of the threshold [V] that one rising and one falling edge of a gate make [1]; None without whole edges.

    time [s], gate [V], shape (n,); levels: of the gate, where known

    One is a clean edge; a gate that rings through its threshold passes it three times or more, and the switch is switched as often.
    A passage leads RANGE of the gate's swing beyond the threshold, as in `turn_on_voltages`: a ring of less moves the channel to
    and fro but does not shut it. It belongs to the edge (`edges_of`) next to it.
    """
    levels = TwoLevels.of(time, gate) if levels is None else levels
    if levels is None:
        return None
    marks = np.sort(np.concatenate((levels.rising, levels.falling)))
    if marks.size < 3:
        return None
    band = RANGE * float(np.ptp(gate))
    passages = np.concatenate([crossings(time, gate, threshold, band, rising=up, first=True) for up in (True, False)])
    bounds = 0.5 * (marks[1:] + marks[:-1])
    counts = np.histogram(passages, bounds)[0]
    rising = np.isin(marks[1:-1], levels.rising)
    if not np.any(rising) or np.all(rising):
        return None
    return float(np.max(counts[rising])), float(np.max(counts[~rising]))


def _swings(time: Array, drain: Array, threshold: float, rising: bool) -> Array:
    """Where a drain passes the threshold [s] on its way through a good part of its swing, once a swing."""
    passes = crossings(time, drain, threshold, 0.5 * threshold, rising=rising, first=True)
    strong = crossings(time, drain, threshold + STRONG * float(np.ptp(drain)), 0.5 * threshold, rising=rising)
    place = np.searchsorted(passes, strong) - rising
    return passes[place[(place >= 0) & (place < passes.size)]]
